"""`backwave why`: the working behind one finding."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import output
from backwave.errors import InputError
from backwave.finding import in_a_word, percent
from backwave.notation.measures import in_words
from backwave.units import show

if TYPE_CHECKING:
    from backwave.finding import Finding


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")],
    name: Annotated[str, typer.Argument(metavar="ID", help="A finding's id, or its beginning, as check prints it.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Show the working behind one finding: the formula, the numbers that went in, and where each is from."""
    from backwave.assess import finding_json
    from backwave.cli.check import judged

    result = judged(job)
    found = pick(result.findings, name)
    if as_json:
        output.document([finding_json(f) for f in found] if len(found) > 1 else finding_json(found[0]))
        return
    for finding in found:
        _print(finding, result.show, result.names)


def pick(findings: tuple[Finding, ...], name: str) -> list[Finding]:
    """The finding of that id, or all whose id begins so."""
    exactly = [f for f in findings if f.id == name]
    found = exactly or [f for f in findings if f.id.startswith(name)]
    if not found:
        ids = [f.id for f in findings]
        near = difflib.get_close_matches(name, ids, n=4, cutoff=0.3) or ids[:4]
        raise InputError(
            "no finding of that id", name, "an id that `backwave check` prints, such as " + ", ".join(near)
        )
    return found


def _print(finding: Finding, system: str, names: dict[str, str]) -> None:
    from rich.markup import escape
    from rich.table import Table

    out, check = output.console(), finding.check
    out.print(f"\n{output.verdict_word(check.verdict)}  [bold]{escape(names.get(finding.subject, finding.subject))}[/]")
    out.print(escape(output.fill(check.title, system)))
    if check.value is not None:
        parts = [f"value {show(check.value, check.unit, system)}"]
        if check.low is not None and check.high is not None:
            parts.append(
                f"95 % between {show(check.low, check.unit, system)} and {show(check.high, check.unit, system)}"
            )
        if check.limit is not None:
            parts.append(f"limit {show(check.limit, check.unit, system)}")
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
            value = "" if step.value is None else show(step.value, step.unit, system, places=_places(step.unit))
            table.add_row(escape(step.symbol), escape(step.meaning), value, escape(in_words(step.source, system)))
        out.print()
        out.print(table)
    if check.sources:
        out.print("\n[dim]Sources[/]")
        output.bullet(out, [in_words(source, system) for source in check.sources])
    if check.key:
        out.print(f"\n[dim]Answered in job.toml at {escape(check.key)}[/]")
    out.print()


def _places(unit: str) -> int | None:
    # A working shows one digit more than a verdict, so that a person can follow the sum.
    return 2 if unit == "mm" else None
