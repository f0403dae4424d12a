"""What checklist and shopping list follow from: which driver ends up where with which stage, parts, stages, loads, and needs.

Needs are each place's, part's and cable's own, before they are merged into rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING, Any

from backwave.assess.part_release import part_digest
from backwave.assess.place_result import PlaceResult
from backwave.assess.power.as_built import grounds_of
from backwave.assess.result import Assessment
from backwave.finding import PRACTICE, words
from backwave.fit.screw import ChosenScrew
from backwave.job import Job, Place, places
from backwave.job.signal_chain import PathTable
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.notation.crossover import CrossoverPart as Passive
from backwave.notation.crossover import parts_of
from backwave.notation.measures import in_words
from backwave.part.order import PartOrder
from backwave.part.types import Printer, SheetStock
from backwave.plan import LoadFact, PartFact, PlaceFact, PlanInputs, StageFact, Want
from backwave.stock import Stock, with_rows
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess.power.results import Wires
    from backwave.assess.result import Assessment


@dataclass(frozen=True)
class InstalledDriver:
    """One driver that this job puts in, in one place on one side."""

    subject: str  # the place ("front-door.left") or the box
    speaker: SpeakerTable
    place: Place | None  # the opening on its side; None in a box
    path: PathTable | None  # its path in the last stage that uses it; None where no stage does
    stage: int | None  # position of the first stage that uses it


def fitted(job: Job) -> tuple[InstalledDriver, ...]:
    """What is fitted: what each place plays in its last stage, and what has an adapter. What an earlier stage plays at
    a place and its last one does not was there before, and is not bought."""
    speakers = {speaker.id: speaker for speaker in job.file.speaker}
    here = places(job)
    by_subject = {place.subject: place for place in here}
    first: dict[tuple[str, str], int] = {}
    last: dict[str, dict[str, PathTable]] = {}
    for number, stage in enumerate(job.file.stage):
        now: dict[str, dict[str, PathTable]] = {}
        for path in stage.path:
            for subject in _subjects(path, here):
                now.setdefault(subject, {})[path.speaker] = path
                first.setdefault((subject, path.speaker), number)
        last |= now
    found: dict[tuple[str, str], InstalledDriver] = {}
    for place in here:  # in the order of the job, openings first
        wanted = list(last.get(place.subject, {}))
        wanted += [a.speaker for a in job.file.adapter if a.opening == place.opening.id]
        for name in wanted:
            key = (place.subject, name)
            found[key] = InstalledDriver(
                place.subject, speakers[name], place, last.get(place.subject, {}).get(name), first.get(key)
            )
    for box in job.file.box:
        for name, path in last.get(box.id, {}).items():
            found[box.id, name] = InstalledDriver(box.id, speakers[name], None, path, first[box.id, name])
    came = {key for key, number in first.items() if number == 0 and _as_it_was(job, by_subject)}
    return tuple(one for key, one in found.items() if key not in came or _has_part(job, one))


def _subjects(path: PathTable, here: tuple[Place, ...]) -> list[str]:
    if path.box is not None:
        return [path.box]
    of = [place for place in here if place.opening.id == path.opening]
    return [place.subject for place in of if path.side is None or place.side in ("", path.side)]


def _as_it_was(job: Job, here: dict[str, Place]) -> bool:
    """Whether the first stage is the vehicle as it came: some place of it plays another driver later."""
    if len(job.file.stage) < 2:
        return False
    everywhere = tuple(here.values())
    at_first = {(s, p.speaker) for p in job.file.stage[0].path for s in _subjects(p, everywhere)}
    later: dict[str, set[str]] = {}
    for stage in job.file.stage[1:]:
        for path in stage.path:
            for subject in _subjects(path, everywhere):
                later.setdefault(subject, set()).add(path.speaker)
    return any(later.get(subject, {name}) - {name} and name not in later[subject] for subject, name in at_first)


def _has_part(job: Job, one: InstalledDriver) -> bool:
    return one.place is not None and any(
        a.opening == one.place.opening.id and a.speaker == one.speaker.id for a in job.file.adapter
    )


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
        name, result.names.get(one.subject, one.subject), "box" if opening is None else opening.zone,
        one.speaker.name or one.speaker.id, tuple(dict.fromkeys(again)), () if part is None else (part.id,),
        one.speaker.kind == "tweeter", bool(one.path is not None and one.path.network),
        None if opening is None or not opening.fixings else len(opening.fixings),
    )  # fmt: skip


def _part(part: PartOrder, gasket: bool, fumes: str, kept: Kept) -> PartFact:
    inserts = [t for t in part.spec.threads if t.kind == "insert"]
    return PartFact(
        part.id, part.label, "sheet" if isinstance(part.how, SheetStock) else "print", part.material.name, fumes,
        _print_min(part, kept), len(inserts), inserts[0].size if inserts else "", part.ring is not None, gasket,
        part.stand_in is not None, len(part.how.layers_mm) if isinstance(part.how, SheetStock) else 0, not part.final,
        part.mark,
    )  # fmt: skip


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
    from backwave.part.process_checks import print_estimate

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


_UNITS = {"R": ("resistor", 1.0, "Ω"), "L": ("coil", 1e3, "mH"), "C": ("capacitor", 1e6, "µF")}
_HEADS = {"button": "button head screw", "pan": "self-tapping screw, pan head", "socket": "socket head screw"}


def wants_of(job: Job, result: Assessment, mass_kg: Mapping[str, float]) -> tuple[Want, ...]:
    """Everything a job needs, each place's by itself."""
    stock, puts = with_rows(job.file.stock), fitted(job)
    found = [*_devices(job, result, puts)]
    adapters = {(a.opening, a.speaker): a for a in job.file.adapter}
    for place in result.places:
        adapter = adapters[place.opening_id, place.speaker_id]
        if place.part.final:  # nothing is bought for what may never be made
            found += _part_wants(job, stock, place, adapter, mass_kg[place.part.id])
    found += _networks(puts, result)
    if result.wires is not None:
        found += _supply(job, result.wires, result)
    return (*found, *_used_up(job, puts))


def _devices(job: Job, result: Assessment, puts: tuple[InstalledDriver, ...]) -> Iterator[Want]:
    def name(one: str) -> str:
        return result.names.get(one, one)

    for one in puts:
        size = one.speaker.frame.text if one.speaker.frame is not None and not isinstance(one.speaker.frame, tuple) \
            else ""  # fmt: skip
        yield Want(
            "Speakers and devices", one.speaker.name or one.speaker.id, size, 1, "", name(one.subject), "the job"
        )
    used = {path.source for stage in job.file.stage for path in stage.path}
    for source in job.file.source:
        if source.kind == "amplifier" and source.id in used:
            yield Want("Speakers and devices", "amplifier", str(source.power or ""), 1, "", name(source.id), "the job")
    for box in job.file.box:
        if any(one.subject == box.id for one in puts):
            yield Want(
                "Speakers and devices", f"panels for a {box.kind} box", f"{box.volume.text} net", 1, "set",
                name(box.id), "the job; sizes: backwave design",
            )  # fmt: skip


def _part_wants(job: Job, stock: Stock, place: PlaceResult, adapter: AdapterTable, mass_kg: float) -> Iterator[Want]:
    part, spec, where, ring = place.part, place.spec, place.part.label, place.foam.front
    left, bottom, right, top = spec.outline.bounds_mm
    across = f"{show(right - left, 'mm')} × {show(top - bottom, 'mm')}"
    if isinstance(part.how, SheetStock):
        for layer in part.how.layers_mm:
            thick = show(layer, "mm")
            yield Want("Parts", f"{adapter.material} sheet", f"{thick} thick, {across}", 1, "", where, "the part")
    else:
        size = show(job.file.printer.filament.to("mm"), "mm", "metric", 2)
        yield Want("Parts", f"{adapter.material} filament", size, round(1000 * mass_kg, 1), "g", where, "the part")
    inserts = [t for t in spec.threads if t.kind == "insert"]
    if inserts:
        row = stock.insert(place.taken.threads.partition(" ")[2])
        length = show(row.length_mm, "mm", "metric")
        yield Want("Fasteners", "heat-set insert", f"{row.size} × {length}", len(inserts), "", where, row.cited)
    nuts = Counter(t.size for t in spec.threads if t.kind == "nut")
    for name, count in nuts.items():
        yield Want("Fasteners", "hexagon nut", name, count, "", where, stock.nut(name).cited)
    for screw, count in screws_to_buy(place):
        yield _screw(stock, screw, count, where)
    yield from _under_heads(place, where)
    if ring is not None:
        outer = show(ring.outer_mm, "mm")
        for layer, count in Counter(ring.layers_mm).items():
            thick = show(layer, "mm")
            yield Want(
                "Foam", f"closed-cell foam {adapter.foam.grade}", f"{thick} thick, {outer} square", count, "",
                f"{where}, front ring", "ASTM D1056 grade",
            )  # fmt: skip
    back = place.foam.back
    if back is not None:
        grade, thick, plan = back.grade, show(back.free_mm, "mm"), back.plan
        if plan is not None:
            around = 2.0 * pi * (plan.inner_mm + plan.width_mm)
            across = f"strip {show(plan.width_mm, 'mm')} wide, {show(around, 'mm')} long"
        yield Want(
            "Foam", f"closed-cell foam {grade}", f"{thick} thick, {across}", 1, "", f"{where}, back gasket",
            "ASTM D1056 grade",
        )  # fmt: skip


def _under_heads(place: PlaceResult, where: str) -> Iterator[Want]:
    screws, threads = place.screws, place.spec.threads
    washers = Counter({screws.washer: len(threads)} if screws.washer is not None and threads else {})
    washers.update(m.washer for m in screws.metal if m.washer is not None)
    for washer, count in washers.items():
        size, _, large = washer.name.partition(" ")
        what = "large washer" if large else "washer"
        across = f"{size}, ⌀ {show(washer.outer_mm, 'mm')}"
        yield Want("Fasteners", what, across, count, "", f"{where}, under screw heads", washer.cited)
    for m in screws.metal:
        if m.sleeve is not None:
            long = show(place.spec.thickness_mm - m.depth_mm, "mm")
            tube = f"⌀ {show(m.sleeve.outer_mm, 'mm')} × {long}, for {m.sleeve.name}"
            yield Want("Fasteners", "metal sleeve", tube, 1, "", f"{where}, round the screw", m.sleeve.cited)


def screws_to_buy(place: PlaceResult) -> list[tuple[ChosenScrew, int]]:
    """The screws of a part with how many of each: the driver's, and those into the metal."""
    screws, threads = place.screws, place.spec.threads
    found = [(screws.driver, len(threads))] if threads and screws.driver is not None else []
    alike: dict[tuple[str, str, float | None], tuple[ChosenScrew, int]] = {}
    for metal in screws.metal:
        if metal.screw is not None:
            key = (metal.screw.size, metal.screw.head, metal.screw.length_mm)
            alike[key] = (metal.screw, alike.get(key, (metal.screw, 0))[1] + 1)
    return [*found, *alike.values()]


def _screw(stock: Stock, screw: ChosenScrew, count: int, where: str) -> Want:
    why = f"{where}, {screw.what}"
    if screw.head == "nut":
        return Want("Fasteners", "hexagon nut", screw.size, count, "", why, stock.nut(screw.size).cited)
    if screw.length_mm is None:
        return Want("Fasteners", "no standard screw does", screw.size, 0, "", why)
    what = _HEADS.get(screw.head, f"screw, {screw.head} head")
    size = f"{screw.size} × {screw.length_mm:g}" + ("" if screw.size.startswith("M") else " mm")
    source = next((s.source for s in screw.check.working if s.symbol == "L" and s.source), PRACTICE)
    return Want("Fasteners", what, size, count, "", why, source)


def passive_parts(puts: tuple[InstalledDriver, ...]) -> list[tuple[InstalledDriver, Passive]]:
    """Every resistor, coil and capacitor of the networks that stay, once for each side."""
    return [
        (one, part)
        for one in puts
        if one.path is not None
        for branch in one.path.network
        for part in parts_of(branch.what)
    ]


def _networks(puts: tuple[InstalledDriver, ...], result: Assessment) -> Iterator[Want]:
    for one, part in passive_parts(puts):
        what, scale, unit = _UNITS[part.kind]
        size = f"{part.value * scale:.10g} {unit}" + (f", at most {part.ohm:.6g} Ω" if part.ohm else "")
        yield Want(
            "Network parts", what, size, 1, "", result.names.get(one.subject, one.subject),
            "the job's network; IEC 60063 where it is a preferred value",
        )  # fmt: skip


def _supply(job: Job, wires: Wires, result: Assessment) -> Iterator[Want]:
    tables = {table.id: table for table in job.file.load}
    runs = {d.id: d.feed for d in job.file.distribution} | {f"{t.id}.feed": t.feed for t in job.file.load}
    grounds = grounds_of(job)
    for node in wires.tree.nodes:
        feed = runs.get(node.id) or tables[node.load].feed
        size, why = node.cable.size or "no size does", result.names.get(node.id, node.id)
        heat = "" if feed.insulation is None else f", insulation {show(feed.insulation.to('degC'), 'degC')}"
        what = f"supply cable, {feed.material}{heat}"
        yield Want("Supply", what, size, round(node.cable.length_m, 3), "m", why, "the supply's working")
        yield Want("Supply", "ring terminal", f"for {size}", 2, "", f"{why}, both ends", PRACTICE)
        if node.fitted and node.fuse.rating_a is not None:
            fuse = node.fuse
            yield Want(
                "Supply", f"fuse, {fuse.style}", f"{fuse.rating_a:g} A", 1, "", f"{why}, at its head", fuse.standard
            )
            yield Want("Supply", f"fuse holder, {fuse.style}", f"for {size}", 1, "", why, PRACTICE)
        back = grounds.get(node.load or node.id)
        if back is not None:
            own = back.size or size
            given = node.load and tables[node.load].ground is not None
            yield Want(
                "Supply", f"{'return' if back.whole else 'ground'} cable, {back.material}", own, round(back.length_m, 3), "m",
                f"{why}, back to the maker's ground point" if back.whole else f"{why}, to the body",
                "the job" if given else f"as long as the feed; {PRACTICE}" if back.whole else f"assumed 0.5 m; {PRACTICE}",
            )  # fmt: skip
            yield Want("Supply", "ring terminal", f"for {own}", 2, "", f"{why}, ground", PRACTICE)
    for wire in job.file.wire:
        if wire.length is not None:
            size = str(wire.color or "any color")
            yield Want("Harness", "wire", size, round(wire.length.to("m"), 3), "m", wire.id, "the job")


def _used_up(job: Job, puts: tuple[InstalledDriver, ...]) -> Iterator[Want]:
    """What is used up on the way, by experience: as much as it takes."""
    if not puts:
        return
    doors = any(one.place is not None and one.place.opening.zone == "door" for one in puts)
    common = ["spare trim clips", "loom tape and cable ties", "heat-shrink", "crimp terminals", "degreaser and wipes"]
    if doors:
        common = ["damping sheet for the metal around the hole", "butyl tape for the vapor barrier", *common]
    for what in common:
        yield Want("Used up on the way", what, "", None, "", "", PRACTICE)
