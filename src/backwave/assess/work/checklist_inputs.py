"""The plain facts that the checklist follows from: places, parts, stages and loads of a job and its assessment."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Any

from backwave.assess.result import Assessment
from backwave.assess.solid_findings import part_digest
from backwave.assess.work.installed_drivers import InstalledDriver, fitted
from backwave.finding import words
from backwave.job import Job
from backwave.notation.measures import in_words
from backwave.part.order import PartOrder
from backwave.part.process import Printer, SheetStock
from backwave.plan import LoadFact, PartFact, PlaceFact, PlanInputs, StageFact
from backwave.stock import with_rows

_AGAIN = ("fit.read-once", "fit.read-again", "job.missing")
Kept = Mapping[str, Mapping[str, Any]]


def facts_of(job: Job, result: Assessment, kept: Kept | None = None) -> PlanInputs:
    """The plain facts that the checklist follows from."""
    puts, stock = fitted(job), with_rows(job.file.stock)
    parts = {(place.subject, place.speaker_id): place.part for place in result.places}
    seen: dict[str, int] = {}
    for one in puts:
        seen[one.subject] = seen.get(one.subject, 0) + 1
    names = {id(one): one.subject if seen[one.subject] == 1 else f"{one.subject}.{one.speaker.id}" for one in puts}
    facts = tuple(_place(result, one, names[id(one)], parts) for one in puts)
    loads = _loads(job, result)
    return PlanInputs(
        facts,
        tuple(
            _part(place.part, place.foam.back is not None, stock.material(place.part.material.name).fumes, kept or {})
            for place in result.places
        ),
        _stages(job, result, [(one, names[id(one)]) for one in puts]),
        loads,
        job.file.crew.people[:2] if job.file.crew is not None else (),
        battery=bool(loads),
    )


def _place(
    result: Assessment, one: InstalledDriver, name: str, parts: Mapping[tuple[str, str], PartOrder]
) -> PlaceFact:
    again = [
        f"{words(f.check.title, result.show)}. {words(f.check.remedy, result.show) or ''}".strip()
        for f in result.findings
        if f.subject == one.subject and f.check.code in _AGAIN and f.check.verdict != "ok"
    ]
    part = parts.get((one.subject, one.speaker.id))
    opening = None if one.place is None else one.place.opening
    return PlaceFact(
        name,
        result.names.get(one.subject, one.subject),
        "box" if opening is None else opening.zone,
        one.speaker.name or one.speaker.id,
        tuple(dict.fromkeys(again)),
        () if part is None else (part.id,),
        one.speaker.kind == "tweeter",
        bool(one.path is not None and one.path.network),
        None if opening is None or not opening.fixings else len(opening.fixings),
    )


def _part(part: PartOrder, gasket: bool, fumes: str, kept: Kept) -> PartFact:
    inserts = [t for t in part.spec.threads if t.kind == "insert"]
    return PartFact(
        part.id,
        part.label,
        "sheet" if isinstance(part.how, SheetStock) else "print",
        part.material.name,
        fumes,
        _print_min(part, kept),
        len(inserts),
        inserts[0].size if inserts else "",
        part.ring is not None,
        gasket,
        part.stand_in is not None,
        len(part.how.layers_mm) if isinstance(part.how, SheetStock) else 0,
        not part.final,
        part.mark,
    )


def _entry(part: PartOrder, kept: Kept) -> Mapping[str, Any]:
    """What was measured on this very part, or nothing."""
    held = kept.get(part.id, {})
    entry: Mapping[str, Any] = held.get("entry", {}) if held.get("digest") == part_digest(part) else {}
    return entry


def mass_kg(part: PartOrder, kept: Kept) -> float:
    """Mass of a part: as it was made, else estimated from its plan."""
    made = _entry(part, kept).get("mass_kg")
    return float(made) if made else _volume_mm3(part) * 1e-9 * part.material.density_kg_m3


def _volume_mm3(part: PartOrder) -> float:
    """The flange less the bore: near enough for a spool."""
    return max(part.spec.outline.area_mm2 - pi * part.spec.bore_mm**2, 0.0) * part.spec.thickness_mm


def _print_min(part: PartOrder, kept: Kept) -> float | None:
    from backwave.part.print_estimate import print_estimate

    if not isinstance(part.how, Printer):
        return None
    made = (_entry(part, kept).get("print") or {}).get("estimated_time_s")
    if made:
        return float(made) / 60.0
    volume = _volume_mm3(part)
    if not volume > 0.0:
        return None
    return print_estimate(volume, part.spec.thickness_mm, part.material, part.how).time_s / 60.0


def _loads(job: Job, result: Assessment) -> tuple[LoadFact, ...]:
    nodes = {} if result.wires is None else {n.load: n for n in result.wires.tree.nodes if n.load}
    found = []
    for table in job.file.load:
        node = nodes.get(table.id)
        fuse = ""
        if node is not None and node.fitted and node.fuse.rating_a is not None:
            fuse = f"{node.fuse.rating_a:g} A {node.fuse.style}".strip()
        channels = () if result.wires is None else result.wires.channels
        own = tuple(c.id for c in channels if c.id.rpartition(".")[0] == table.id)
        found.append(LoadFact(table.id, result.names.get(table.id, table.id), fuse, own))
    return tuple(found)


def _stages(job: Job, result: Assessment, puts: list[tuple[InstalledDriver, str]]) -> tuple[StageFact, ...]:
    """Every stage with what is new in it; what no stage uses comes with the first that brings something."""
    stages = job.file.stage
    if not stages:
        return ()
    first = min((one.stage for one, _ in puts if one.stage is not None), default=0)
    loads: dict[str, int] = {}
    boxes: dict[str, int] = {}
    known = {table.id for table in job.file.load}
    for number, stage in enumerate(stages):
        for path in stage.path:
            if path.source in known:
                loads.setdefault(path.source, number)
            if path.box is not None:
                boxes.setdefault(path.box, number)
    early = min(loads.values(), default=first)
    loads |= dict.fromkeys(known - loads.keys(), early)
    return tuple(
        StageFact(
            stage.id,
            stage.title or stage.id,
            tuple(name for one, name in puts if (first if one.stage is None else one.stage) == number),
            tuple(table.id for table in job.file.load if loads[table.id] == number),
            tuple(
                f"{result.names.get(box.id, box.id)}, {box.kind}, {in_words(box.volume.text, result.show)}"
                for box in job.file.box
                if boxes.get(box.id) == number
            ),
        )
        for number, stage in enumerate(stages)
    )
