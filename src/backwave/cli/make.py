"""`backwave make`: the parts and their files, each side in a worker process of its own."""

from __future__ import annotations

import re
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.cli.plan import day, folder_of
from backwave.errors import InputError
from backwave.finding import verdict_line
from backwave.units import show as shown

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.make import MadeParts

_KINDS = {
    "step": "STEP", "stl": "STL", "3mf": "3MF", "dxf": "DXF", "template": "paper template", "check_ring": "test ring",
    "foam": "foam", "stand_in": "dummy", "dxf_layer": "a DXF for each sheet",
}  # fmt: skip


def run(
    job: output.JobFolder = Path(),
    part: Annotated[list[str] | None, typer.Option(help="Only this part; may be given several times.")] = None,
    paper: Annotated[str, typer.Option(help="Paper of the 1:1 templates: A4 or Letter.")] = "A4",
    anyway: Annotated[
        str | None,
        typer.Option(metavar="REASON", help="Make stopped parts too; the reason is kept and printed on them."),
    ] = None,
    as_json: output.AsJson = False,
) -> None:
    """Make the parts: STEP, STL, 3MF, DXF, 1:1 paper template, dummy, test ring, drawings, manifest. Of a part that is
    stopped only the dummy, the test ring and the paper template are made: they settle the stop."""
    from backwave.assess import assess, finding_json, with_reasons
    from backwave.assess.part_release import ROW, reason_row
    from backwave.files.manifest import read_kept
    from backwave.job import load, log
    from backwave.make import chosen, make

    home, loaded = folder_of(job), load(job)
    folder = home / "made"
    kept = read_kept(folder)
    result = with_reasons(assess(loaded), log.read(home), kept)
    if anyway is not None:
        stopped = [p for p in chosen(result.parts, part or []) if p.stopped]
        if not stopped:
            raise InputError("--anyway where nothing is stopped", anyway, "make without it")
        stopped = [p for p in stopped if not p.refused] or stopped  # one that cannot be built holds up no other
        rows = [(ROW, reason_row(p, anyway, day(None))) for p in stopped]
        log.add(home, lambda _: rows)
        result = with_reasons(result, log.read(home), kept)
    made = make(loaded, result, folder, only=part or [], paper=paper, watch=progress)
    if as_json:
        parts = [{**e, "files": {k: str((folder / n).resolve()) for k, n in e["files"].items()}} for e in made.entries]
        output.document({"parts": parts, "findings": [finding_json(f) for f in made.findings], "old": list(made.old)})
    else:
        show(made, result, folder)
    raise output.verdict_exit(f.check for f in (*made.findings, *result.findings))


def progress(tickets: list[Any]) -> Any:
    """A bar a part, on a terminal only."""
    if not sys.stderr.isatty() or not tickets:
        return nullcontext()
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    bars = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(), TextColumn("{task.fields[words]}", markup=False),
        TimeElapsedColumn(),
        console=output.messages(), transient=True,
    )  # fmt: skip
    for ticket in tickets:
        task = bars.add_task(ticket.key, total=1.0, words="waits")
        ticket.on_progress(lambda share, words, task=task: bars.update(task, completed=share, words=words))
        ticket.when_done(lambda _, task=task: bars.update(task, completed=1.0, words="done"))
    return bars


def show(made: MadeParts, result: Assessment, folder: Path) -> None:
    """Print what was made for a person."""
    from backwave.files.manifest import part_folders

    out, system = output.console(), result.show
    out.print("[bold]Parts[/]")
    if not made.entries:
        out.print("  None: the job names no adapter yet, or what it needs is not measured.\n")
    folders = part_folders([part.id for part in result.parts])
    for entry in made.entries:
        facts = []
        if entry["mass_kg"] is not None:
            facts.append(shown(1000.0 * entry["mass_kg"], "g", system))
        if entry["print"] is not None:
            hours = entry["print"]["estimated_time_s"] / 3600.0
            facts.append(f"{entry['print']['layers']} layers, {entry['print']['filament_m']:.0f} m of filament")
            facts.append(f"about {hours:.1f} h, an estimate")
        if entry["least_wall_mm"] is not None:
            facts.append(f"least wall {shown(entry['least_wall_mm'], 'mm', system)}")
        state = "  [dim](as before)[/]" if entry["id"] in made.as_before else ""
        if entry["made_anyway"]:
            state += f"  [bold red]STOPPED, made anyway: {escape(entry['made_anyway'])}[/]"
        elif entry["stopped_by"]:
            state += "  [bold red]STOPPED: not made[/]; what is tried first is here"
        out.print(f"  [bold]{escape(entry['id'])}[/]{state}  {'; '.join(facts)}")
        kinds = ", ".join(dict.fromkeys(_KINDS.get(re.sub(r"_\d+$", "", k), k) for k in entry["files"]))
        there = output.relative(folder / folders[entry["id"]])
        out.print(f"    [dim]{there}/  {escape(kinds)}[/]", soft_wrap=True)
    files = {entry["id"]: entry["files"] for entry in made.entries}
    for part in result.parts:
        if not part.final and part.id in files:
            why = " ".join(f"{verdict_line(check, system)}." for check in part.stopped)
            then = "and change the job" if part.refused else "or give a reason with --anyway"
            out.print(f"\n  {escape(part.label)} is stopped. {escape(why)}", soft_wrap=True)
            first = "the dummy and the test ring" if "stand_in" in files[part.id] else "the test ring"
            out.print(f"    Try {first}, enter what came of it, {then}.", soft_wrap=True)
    if made.old:
        out.print(
            f"\n  No longer in the job, moved to {output.relative(folder)}/old: {escape(', '.join(made.old))}.",
            soft_wrap=True,
        )
        out.print("    Delete them when nobody needs them; nothing there belongs to this job any more.")
    out.print()
    output.findings(made.findings, system, result.names)
