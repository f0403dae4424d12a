"""`backwave check` and `why`: every finding, worst first, and the working behind one of them."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.errors import InputError
from backwave.finding import Finding, in_a_word, percent, sentences, value_words
from backwave.notation.measures import in_words
from backwave.units import show as shown

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.job import Job


def run(
    job: output.JobFolder = Path(),
    as_json: output.AsJson = False,
    all_: Annotated[bool, typer.Option("--all", help="Show what is ok and every assumed value as well.")] = False,
) -> None:
    """Judge the job: every finding, worst first, with its value, its limit and its remedy."""
    from backwave.assess import check_json

    result = _judged(job)
    if as_json:
        output.document(check_json(result))
    else:
        show(result, all_=all_)
    raise typer.Exit(1 if result.verdict == "stop" else 0)


def heard(job: Job, result: Assessment, *, quiet: bool = False) -> Assessment:
    """An assessment with what the job's readings say."""
    from backwave.assess import proven
    from backwave.files.recordings import Takes

    if not job.file.reading or job.folder is None:
        return result
    with output.reading_bar(quiet=quiet) as tell:
        return proven(job, result, Takes(job.folder), tell)


def _judged(job: Path) -> Assessment:
    """A job's assessment, with what `make` measured on its solids and what its readings say."""
    from backwave.assess import assess, with_solids
    from backwave.files.manifest import read_kept
    from backwave.job import load

    loaded = load(job)
    return with_solids(heard(loaded, assess(loaded)), read_kept((loaded.folder or job) / "made"))


def show(result: Assessment, *, all_: bool) -> None:
    """Print an assessment for a person."""
    out = output.console()
    out.print(f"\n[bold]{escape(result.title)}[/]   {output.verdict_word(result.verdict)}\n")
    told = result.findings if all_ else result.open_findings
    found = output.findings(told, result.show, result.names, ok=True)
    waiting = 0 if all_ else len(result.waiting)
    if waiting:
        out.print(f"{waiting} more {'waits' if waiting == 1 else 'wait'} for these answers; see them with --all")
    fine = len(result.findings) - len(found) - waiting
    if fine:
        out.print(f"{fine} more {'is' if fine == 1 else 'are'} ok; see them with --all\n")
    if result.cautions:
        out.print("[bold]Before anything is taken apart or drilled[/]")
        for caution in result.cautions:
            out.print(f"  ▲ {escape(sentences(caution.check, result.show))}")
        out.print("  [dim]What the vehicle maker's service information says goes before this.[/]\n")
    if result.assumed and all_:
        out.print("[bold]Assumed, because nobody said otherwise[/]")
        for item in result.assumed:
            value, why = value_words(item, result.show), in_words(item.why, result.show)
            out.print(f"  {escape(item.key)} = {escape(value)}  [dim]{escape(why)}[/]")
        out.print()
    elif result.assumed:
        out.print(f"{len(result.assumed)} values are assumed; see them with --all\n")
    if found:
        out.print(f"[dim]The working behind one of them: backwave why JOB {escape(found[0].id)}[/]\n")


def why(
    job: Annotated[Path, typer.Argument(help="The job folder.")],
    name: Annotated[str, typer.Argument(metavar="ID", help="A finding's id, or its beginning, as check prints it.")],
    as_json: output.AsJson = False,
) -> None:
    """Show the working behind one finding: the formula, the numbers that went in, and where each is from."""
    from backwave.assess import finding_json

    result = _judged(job)
    found = _pick(result.findings, name)
    if as_json:
        output.document([finding_json(f) for f in found] if len(found) > 1 else finding_json(found[0]))
        return
    for finding in found:
        _working(finding, result.show, result.names)


def _pick(findings: tuple[Finding, ...], name: str) -> list[Finding]:
    """The finding of that id, or all whose id begins so."""
    exactly = [f for f in findings if f.id == name]
    found = exactly or [f for f in findings if f.id.startswith(name)]
    if not found:
        ids = [f.id for f in findings]
        near = ", ".join(difflib.get_close_matches(name, ids, n=4, cutoff=0.3) or ids[:4])
        raise InputError("no finding of that id", name, f"an id that `backwave check` prints, such as {near}")
    return found


def _working(finding: Finding, system: str, names: dict[str, str]) -> None:
    from rich.table import Table

    out, check = output.console(), finding.check
    out.print(f"\n{output.verdict_word(check.verdict)}  [bold]{escape(names.get(finding.subject, finding.subject))}[/]")
    out.print(escape(output.fill(check.title, system)))
    if check.value is not None:
        parts = [f"value {shown(check.value, check.unit, system)}"]
        if check.low is not None and check.high is not None:
            low, high = (shown(end, check.unit, system) for end in (check.low, check.high))
            parts.append(f"95 % between {low} and {high}")
        if check.limit is not None:
            parts.append(f"limit {shown(check.limit, check.unit, system)}")
        if check.chance is not None:
            parts.append(f"that it is kept: {in_a_word(check.chance)} ({percent(check.chance)})")
        out.print("; ".join(parts))
    if check.remedy is not None:
        out.print(f"→ {escape(output.fill(check.remedy, system))}")
    if check.working:
        table = Table(box=None, header_style="dim", padding=(0, 2, 0, 0))
        table.add_column("symbol", no_wrap=True)
        table.add_column("is")
        table.add_column("value", justify="right", no_wrap=True)
        table.add_column("from", style="dim")
        for step in check.working:
            # one digit more than a verdict shows, so that a person can follow the sum
            places = 2 if step.unit == "mm" else None
            value = "" if step.value is None else shown(step.value, step.unit, system, places=places)
            table.add_row(escape(step.symbol), escape(step.meaning), value, escape(in_words(step.source, system)))
        out.print()
        out.print(table)
    if check.sources:
        out.print("\n[dim]Sources[/]")
        for source in check.sources:
            out.print(f"  • {escape(in_words(source, system))}")
    if check.key:
        out.print(f"\n[dim]Answered in job.toml at {escape(check.key)}[/]")
    out.print()
