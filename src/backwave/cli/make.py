"""`backwave make`: the parts and their files, each side in a worker process of its own."""

from __future__ import annotations

import re
import sys
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output as say
from backwave.errors import InputError
from backwave.plain_text import file_stem
from backwave.units import show as shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backwave.assess import Assessment, PartOrder
    from backwave.finding import Finding
    from backwave.job import Job

__all__ = ["Made", "build", "run", "show"]


PART_S, PART_BYTES, DRAWINGS_S = 300.0, 3_000_000_000, 120.0  # a part takes some 5 s and 0.2 GB, a drawing 20 ms


@dataclass(frozen=True)
class Made:
    """What was made: the parts' entries, findings of their solids, and which were as before."""

    entries: tuple[dict[str, Any], ...]
    findings: tuple[Finding, ...]
    as_before: frozenset[str]


_KINDS = {
    "step": "STEP", "stl": "STL", "3mf": "3MF", "dxf": "DXF", "template": "paper template", "check_ring": "check ring",
    "foam": "foam", "stand_in": "stand-in", "dxf_layer": "a DXF for each sheet",
}  # fmt: skip


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    part: Annotated[list[str] | None, typer.Option(help="Only this part; may be given several times.")] = None,
    paper: Annotated[str, typer.Option(help="Paper of the 1:1 templates: A4 or Letter.")] = "A4",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Make the parts: STEP, STL, 3MF, DXF, 1:1 paper template, stand-in, drawings, manifest."""
    from backwave.assess import assess, finding_json
    from backwave.finding import worst
    from backwave.job import load

    loaded = load(job)
    result = assess(loaded)
    folder = (job.parent if job.name == "job.toml" else job) / "made"
    made = build(loaded, result, folder, only=part or [], paper=paper)
    if as_json:
        parts = [
            {**e, "files": {k: str((folder / n).resolve()) for k, n in e["files"].items()}} for e in made.entries
        ]
        say.document({"parts": parts, "findings": [finding_json(f) for f in made.findings]})
    else:
        show(made, result, folder)
    raise typer.Exit(1 if worst([f.check.verdict for f in (*made.findings, *result.findings)]) == "stop" else 0)


def build(job: Job, result: Assessment, folder: Path, only: Sequence[str] = (), paper: str = "A4") -> Made:
    """Make what is not there yet; a part whose numbers have not changed is left as it is."""
    from backwave.assess import from_plain, part_digest, to_plain
    from backwave.atomic_write import write_whole
    from backwave.files.build_cache import read_kept, write_kept
    from backwave.files.manifest import document_bytes
    from backwave.files.part_files import SideOrder, make_side
    from backwave.finding import Finding
    from backwave.workers import Workers, report

    if paper not in ("A4", "Letter"):
        raise InputError("paper", paper, "A4 or Letter")
    parts = _chosen(result.parts, only)
    kept = read_kept(folder)
    wanted = {part.id: f"{part_digest(part)} {paper} {result.title} {result.show}" for part in parts}
    ids = [part.id for part in result.parts]
    stems = {part.id: file_stem(part.id, ids) for part in result.parts}
    stale = [part for part in parts if not _there(kept.get(part.id, {}), wanted[part.id], folder)]
    orders = [
        SideOrder(
            id=part.id,
            side=part.side,
            label=part.label,
            spec=part.spec,
            material=part.material,
            how=part.how,
            folder=folder / stems[part.id],
            check_ring=part.check_ring,
            ring=part.ring,
            stand_in=part.stand_in,
            title=result.title,
            revision=part_digest(part)[:12],
            paper=paper,
            system=result.show,
        )
        for part in stale
    ]
    with Workers(
        count=min(2, len(orders)) or 1, load=("backwave.part.solid", "build123d"),
        most_bytes=PART_BYTES, most_s=PART_S, what="the solid of a part",
    ) as workers:  # fmt: skip
        tickets = [workers.submit(order.id, make_side, order, report) for order in orders]
        with _progress(tickets):
            for part, ticket in zip(stale, tickets):
                side = ticket.result()
                kept[part.id] = {
                    "digest": part_digest(part),
                    "wanted": wanted[part.id],
                    "entry": {
                        **side.manifest,
                        "files": {k: f"{stems[part.id]}/{n}" for k, n in side.files.items()},
                    },
                    "checks": [to_plain(check) for check in side.checks],
                }
                write_kept(folder, kept)
    write_kept(
        folder, {id_: kept[id_] for id_ in ids if id_ in kept}
    )  # in the order of the job, whatever came first
    _drawings(result, folder / "drawings")
    entries = tuple(kept[part.id]["entry"] for part in parts)
    entries_kept = [kept[p.id]["entry"] for p in result.parts if p.id in kept]
    write_whole(folder / "manifest.json", document_bytes(entries_kept, result.title, job.digest))
    findings = tuple(
        Finding(from_plain(check), part.subject) for part in parts for check in kept[part.id]["checks"]
    )
    return Made(entries, findings, frozenset(part.id for part in parts) - {part.id for part in stale})


def _chosen(parts: tuple[PartOrder, ...], only: Sequence[str]) -> list[PartOrder]:
    ids = [part.id for part in parts]
    unknown = [name for name in only if name not in ids]
    if unknown:
        raise InputError("no such part", ", ".join(unknown), ", ".join(ids) or "this job has no part yet")
    return [part for part in parts if not only or part.id in only]


def _there(held: dict[str, Any], wanted: str, folder: Path) -> bool:
    """Whether a part was made from the same numbers and its files are still there."""
    if held.get("wanted") != wanted:
        return False
    return all((folder / name).is_file() for name in held["entry"]["files"].values())


def _progress(tickets: list[Any]) -> Any:
    """A bar a part, on a terminal only."""
    if not sys.stderr.isatty() or not tickets:
        return nullcontext()
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    bars = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(), TextColumn("{task.fields[words]}", markup=False),
        TimeElapsedColumn(),
        console=say.messages(), transient=True,
    )  # fmt: skip
    for ticket in tickets:
        task = bars.add_task(ticket.key, total=1.0, words="waits")
        ticket.on_progress(lambda share, words, task=task: bars.update(task, completed=share, words=words))
        ticket.when_done(lambda _, task=task: bars.update(task, completed=1.0, words="done"))
    return bars


def _drawings(result: Assessment, folder: Path) -> None:
    from backwave.assess.place_views import face_view, section_view
    from backwave.atomic_write import write_whole
    from backwave.budget import Budget, checkpoint, within
    from backwave.drawing import face_svg, section_svg

    with within(Budget("the drawings", DRAWINGS_S)):
        for place in result.places:
            checkpoint()
            name = file_stem(place.subject.replace(".", "-"))
            section = section_svg(section_view(place, result.show), "light", system=result.show)
            write_whole(folder / f"section-{name}.svg", section.encode())
            face = face_svg(face_view(place, result.show), "light", system=result.show)
            write_whole(folder / f"face-{name}.svg", face.encode())


def show(made: Made, result: Assessment, folder: Path) -> None:
    """Print what was made for a person."""
    from rich.markup import escape

    out = say.console()
    system = result.show
    out.print("[bold]Parts[/]")
    if not made.entries:
        out.print("  None: the job names no adapter yet, or what it needs is not measured.\n")
    ids = [part.id for part in result.parts]
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
        out.print(f"  [bold]{escape(entry['id'])}[/]{state}  {'; '.join(facts)}")
        kinds = ", ".join(dict.fromkeys(_KINDS.get(re.sub(r"_\d+$", "", k), k) for k in entry["files"]))
        out.print(
            f"    [dim]{say.relative(folder / file_stem(entry['id'], ids))}/  {escape(kinds)}[/]",
            soft_wrap=True,
        )
    out.print()
    shown_findings = [f for f in made.findings if f.check.verdict != "ok"]
    if shown_findings:
        say.findings(out, shown_findings, system, names=result.names)
