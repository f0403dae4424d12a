"""`backwave open`: the workbench in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer


def run(
    job: Annotated[Path, typer.Argument(help="The job folder; an empty one starts a new job.")] = Path(),
    port: Annotated[int, typer.Option(min=0, max=65535, help="Where it listens; 0 takes a free one.")] = 8137,
    lan: Annotated[bool, typer.Option("--lan", help="Open to the local network too, with a one-time key.")] = False,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Open the workbench in the browser; it listens on this machine alone unless told otherwise."""
    from backwave.bench import serve
    from backwave.cli import stop_signals
    from backwave.errors import MissingError
    from backwave.job import FILE

    folder = job.parent if job.name == FILE else job
    if not folder.is_dir():
        raise MissingError(f"There is no folder {folder}", "Make one, or write a job into it with: backwave new")
    stop_signals.give_back()  # the workbench saves what waits, and then ends by itself
    serve(folder, port=port, lan=lan, show=show, lists=_lists)


def _lists(job: Any, result: Any, made: Any, paper: str) -> bytes:
    """The lists of the place Work on paper, as of today."""
    from backwave.cli.plan import day
    from backwave.dossier.context import PageContext
    from backwave.dossier.work import lists_pdf

    return lists_pdf(PageContext(job, result, made, date=day(None), paper=paper))
