"""`backwave check`: every finding, worst first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.assumptions import value_words
from backwave.cli import output
from backwave.notation.measures import in_words

if TYPE_CHECKING:
    from backwave.assess import Assessment


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
    all_: Annotated[bool, typer.Option("--all", help="Show what is ok and every assumed value as well.")] = False,
) -> None:
    """Judge the job: every finding, worst first, with its value, its limit and its remedy."""
    from backwave.assess import check_json

    result = judged(job)
    if as_json:
        output.document(check_json(result))
    else:
        show(result, all_=all_)
    raise typer.Exit(1 if result.verdict == "stop" else 0)


def judged(job: Path) -> Assessment:
    """A job's assessment, with what `make` measured on its solids and what its readings output."""
    from backwave.assess import assess, with_solids
    from backwave.cli.proof import heard
    from backwave.files.manifest import read_kept
    from backwave.job import load

    loaded = load(job)
    return with_solids(heard(loaded, assess(loaded)), read_kept((loaded.folder or job) / "made"))


def show(result: Assessment, *, all_: bool) -> None:
    """Print an assessment for a person."""
    from rich.markup import escape

    out = output.console()
    out.print(f"\n[bold]{escape(result.title)}[/]   {output.verdict_word(result.verdict)}\n")
    shown = list(result.findings if all_ else result.open_findings)
    if shown:
        output.findings(out, shown, result.show, names=result.names)
    waiting = 0 if all_ else len(result.waiting)
    if waiting:
        out.print(f"{waiting} more {'waits' if waiting == 1 else 'wait'} for these answers; see them with --all")
    fine = len(result.findings) - len(shown) - waiting
    if fine:
        out.print(f"{fine} more {'is' if fine == 1 else 'are'} ok; see them with --all\n")
    if result.cautions:
        out.print("[bold]Before anything is taken apart or drilled[/]")
        for caution in result.cautions:
            texts = (output.fill(caution.check.title, result.show), output.fill(caution.check.remedy, result.show))
            out.print("  ▲ " + " ".join(f"{escape(text.rstrip('.'))}." for text in texts if text))
        out.print("  [dim]What the vehicle maker's service information says goes before this.[/]\n")
    if result.assumed and all_:
        out.print("[bold]Assumed, because nobody said otherwise[/]")
        for item in result.assumed:
            out.print(
                f"  {escape(item.key)} = {escape(value_words(item, result.show))}  [dim]{escape(in_words(item.why, result.show))}[/]"
            )
        out.print()
    elif result.assumed:
        out.print(f"{len(result.assumed)} values are assumed; see them with --all\n")
    if shown:
        out.print(f"[dim]The working behind one of them: backwave why JOB {escape(shown[0].id)}[/]\n")
