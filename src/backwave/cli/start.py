"""`backwave new`, `open`, `schema`: a job folder begun, its workbench in the browser, what an editor checks it by."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from backwave.cli import output, process
from backwave.errors import MissingError


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make.")],
    title: Annotated[str, typer.Option(help="What the job is called.")] = "",
    hole: Annotated[str, typer.Option(help='Diameter of the hole in the metal, such as "143.5 mm".')] = "",
    behind: Annotated[str, typer.Option(help="Free depth behind the metal, to the glass with the window down.")] = "",
    trim: Annotated[str, typer.Option(help="Metal to the back of the grille.")] = "",
    cutout: Annotated[str, typer.Option(help="The driver: diameter of the cutout it asks for.")] = "",
    magnet: Annotated[str, typer.Option(help="The driver: diameter of its magnet.")] = "",
    depth: Annotated[str, typer.Option(help="The driver: mounting depth, rim to the back of the magnet.")] = "",
) -> None:
    """Start a job: six readings give a first verdict; everything else has a stated default."""
    from backwave.job import starter

    path = starter.write(
        folder, title=title, hole=hole, behind=behind, trim=trim, cutout=cutout, magnet=magnet, depth=depth
    )
    out = output.messages()
    out.print(f"Wrote {output.relative(path)}. Open it in any text editor: each line says what it is.")
    out.print(f"Then: backwave check {output.relative(path.parent)}")


def open_(
    job: Annotated[Path, typer.Argument(help="The job folder; an empty one starts a new job.")] = Path(),
    port: Annotated[int, typer.Option(min=0, max=65535, help="Where it listens; 0 takes a free one.")] = 8137,
    lan: Annotated[bool, typer.Option("--lan", help="Open to the local network too, with a one-time key.")] = False,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Open the workbench in the browser; it listens on this machine alone unless told otherwise."""
    from backwave.bench import serve
    from backwave.job import FILE

    folder = job.parent if job.name == FILE else job
    if not folder.is_dir():
        raise MissingError(f"There is no folder {folder}", "Make one, or write a job into it with: backwave new")
    process.give_back()  # the workbench saves what waits, and then ends by itself
    serve(folder, port=port, lan=lan, show=show, lists=_lists)


def _lists(job: Any, result: Any, made: Any, paper: str) -> bytes:
    """The lists of the place Work on paper, as of today."""
    from backwave.cli.plan import day
    from backwave.dossier.context import PageContext
    from backwave.dossier.work import lists_pdf

    return lists_pdf(PageContext(job, result, made, date=day(None), paper=paper))


def schema() -> None:
    """The JSON Schema of job.toml, for an editor that checks as you type."""
    from backwave.job import schema as schemas

    print(json.dumps(schemas.json_schema(), indent=2, ensure_ascii=False))
