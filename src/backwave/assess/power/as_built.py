"""The installation of a job as built: conductors and fuses, grounds, the signal's way, and what was measured on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from backwave.finding import Check, Finding, check_of
from backwave.job import Job, Place
from backwave.job.signal_chain import PathTable
from backwave.job.supply import CableTable, DistributionTable, LoadTable
from backwave.job.wiring import WireTable
from backwave.power import CableRun, Node, Supply, SupplyBranch, SupplyLoad, SupplyTree, ground_check
from backwave.power.cable import GROUND_M, INSULATION_DEGC, filled, sizes_of
from backwave.power.current import sources_of
from backwave.power.fuse import fuses_of
from backwave.power.hand_over import CableReading, Sleep, judge_cable, sleep_checks, supply_checks, whine_check
from backwave.power.protection import Conductor, FittedFuse, Installation
from backwave.power.signal_way import SidePair, SignalWay, no_input_check, phase_check, way_checks
from backwave.stock import FuseRow, shipped
from backwave.units import in_unit

Fed = DistributionTable | LoadTable


@dataclass(frozen=True)
class GroundLead:
    """How the current of one load (with a plastic body, of a block too) comes back."""

    length_m: float
    size: str  # "" is that of the feed
    material: str
    insulation_degc: float | None
    ambient_degc: float | None
    bundle: int
    whole: bool  # a cable all the way, as the body is none


def branches_of(job: Job, loads: Sequence[SupplyLoad], planned: SupplyTree | None = None) -> tuple[SupplyBranch, ...]:
    """Every branch as planned; with the plan: as recorded and measured, sizes and lengths of [[wire]] in its place."""
    blocks = {table.id for table in job.file.distribution}
    fed: list[tuple[Fed, SupplyLoad | None]] = [(table, None) for table in job.file.distribution]
    fed += zip(job.file.load, loads, strict=True)
    sizes = {} if planned is None else {node.id: node.cable.size for node in planned.nodes}
    found = []
    for table, load in fed:
        name = f"{table.id}.feed" if load is not None and table.id in blocks else table.id
        feed = table.feed
        found.append(SupplyBranch(
            name, _run(job, table, planned is not None, sizes.get(name, "")), load, table.from_, feed.style,
            in_unit(feed.fuse, "A"),
        ))  # fmt: skip
    return tuple(found)


def _plastic(job: Job) -> bool:
    return job.file.supply is not None and job.file.supply.body == "plastic"


def _run(job: Job, table: Fed, recorded: bool, bought: str = "") -> CableRun:
    feed = table.feed
    wire = _wire(job, f"{table.from_ or 'battery'}.to {table.id}", f"{table.id}.supply") if recorded else None
    length, size, material = _outranked(feed, wire)
    if recorded and not size and any(row.run == table.id and row.part == "feed" for row in job.file.cable_test):
        size = bought  # what was measured is what the plan said to buy
    run = CableRun(
        length_m=length, material=material, insulation_degc=in_unit(feed.insulation, "degC"),
        ambient_degc=in_unit(feed.ambient, "degC"), bundle=feed.bundle, size=size, body=not _plastic(job),
    )  # fmt: skip
    if recorded:
        run = replace(run, measured_mohm_m=_measured(job, table.id, "feed", size, filled(run)[0], material))
    if isinstance(table, DistributionTable) and run.body:
        return run
    back = _ground(job, table, run, recorded)
    given = run.body and isinstance(table, LoadTable) and (table.ground is None or table.ground.length is None)
    known = not given or _ground_wire(job, table, recorded) is not None
    return replace(
        run, ground_m=back.length_m if known and not (back.whole and length is None) else None,
        ground_size=back.size, ground_material=back.material,
    )  # fmt: skip


def _outranked(table: CableTable | None, wire: WireTable | None) -> tuple[float | None, str, str]:
    """Length, size and conductor as recorded of the wire itself, else as its table says."""
    length, size, material = (
        (None, "", "") if table is None else (in_unit(table.length, "m"), table.size, table.material)
    )
    if wire is not None:
        length = in_unit(wire.length, "m") if wire.length is not None else length
        size, material = wire.size or size, wire.material or material
    return length, size, material


def _wire(job: Job, *pins: str) -> WireTable | None:
    return next((w for w in job.file.wire if {w.from_, w.to} == set(pins)), None)


def _ground_wire(job: Job, table: Fed, recorded: bool) -> WireTable | None:
    return _wire(job, f"{table.id}.ground", f"ground.{table.id}") if recorded else None


def _ground(job: Job, table: Fed, run: CableRun, recorded: bool) -> GroundLead:
    own = table.ground if isinstance(table, LoadTable) else None
    length, size, material = _outranked(own, _ground_wire(job, table, recorded))
    out = filled(run)[0]
    # a lead of half a meter ends on plastic: the way back is no shorter than the way out
    length = max(length or 0.0, out) if not run.body else GROUND_M if length is None else length
    insulation, ambient, bundle = (None, None, 1) if own is None else (in_unit(own.insulation, "degC"), in_unit(own.ambient, "degC"), own.bundle)  # fmt: skip
    return GroundLead(
        length, size, material or run.material, insulation or run.insulation_degc, ambient or run.ambient_degc, bundle, not run.body
    )  # fmt: skip


def grounds_of(job: Job) -> dict[str, GroundLead]:
    """The ground or return of every load (and, with a plastic body, of every block), by the id of its table."""
    tables: tuple[Fed, ...] = (*(job.file.distribution if _plastic(job) else ()), *job.file.load)
    return {table.id: _ground(job, table, _run(job, table, True), True) for table in tables}


def installation_of(job: Job, tree: SupplyTree, supply: Supply) -> Installation:
    """Every conductor of the tree, with its grounds and the fuses that are fitted; a branch of no size is a way all the same."""
    return Installation(sources_of(supply), tuple(_conductors(job, tree)))


def _conductors(job: Job, tree: SupplyTree) -> Iterator[Conductor]:
    grounds = grounds_of(job)
    runs = {branch.id: branch.run for branch in branches_of(job, [SupplyLoad(t.id) for t in job.file.load], tree)}
    at = None if job.file.supply is None else in_unit(job.file.supply.fuse_at, "m")
    sleeved = None if job.file.supply is None else job.file.supply.sleeved
    yield from _without_current(job, tree, runs)
    for node in tree.nodes:
        run = runs[node.id]
        _, _, insulation, ambient, _ = filled(run)
        main = not node.parent
        yield Conductor(
            node.id, node.parent or "battery", node.id, "feed", node.id, node.cable.size, node.cable.length_m, run.material,
            insulation, ambient, run.bundle, run.measured_mohm_m, _fitted(node), None, at if main else None, sleeved if main else None,
        )  # fmt: skip
        back = grounds.get(node.load or node.id)
        if back is not None and node.cable.size:
            yield Conductor(
                f"{node.id} ground", node.id, "ground", "return" if back.whole else "ground", node.id,
                back.size or node.cable.size, back.length_m, back.material,
                INSULATION_DEGC if back.insulation_degc is None else back.insulation_degc,
                ambient if back.ambient_degc is None else back.ambient_degc, back.bundle,
                _measured(job, node.load or node.id, "ground", back.size or node.cable.size, back.length_m, back.material),
                returns=node.id,
            )  # fmt: skip


def _without_current(job: Job, tree: SupplyTree, runs: Mapping[str, CableRun]) -> Iterator[Conductor]:
    """Feeds to what draws nothing that is known: no part of the plan, but their fuse may push its whole current through."""
    planned = {node.id for node in tree.nodes}
    for branch in branches_of(job, [SupplyLoad(t.id) for t in job.file.load]):
        run = runs[branch.id]
        if branch.id in planned or not run.size or branch.fuse_a is None:
            continue  # what is lacking is said of its load
        rows = [r for r in fuses_of() if (r.name == branch.style if branch.style else branch.fuse_a in r.ratings_a)]
        length, _, insulation, ambient, _ = filled(run)
        yield Conductor(
            branch.id, branch.parent or "battery", branch.id, "feed", branch.id, run.size, length, run.material, insulation, ambient,
            run.bundle, run.measured_mohm_m, FittedFuse(branch.fuse_a, rows[0].name, rows[0].breaking_a, rows[0].limit_v),
        )  # fmt: skip


def _fitted(node: Node) -> FittedFuse | None:
    fuse = node.fuse
    if not node.fitted or fuse.rating_a is None:
        return None
    row = shipped().named(FuseRow)[fuse.style]
    return FittedFuse(fuse.rating_a, fuse.style, fuse.breaking_a, row.limit_v)


def _readings(job: Job, id_: str, part: str, size: str, length_m: float, material: str) -> Iterator[CableReading]:
    for row in job.file.cable_test:
        if (row.run, row.part) == (id_, part) and size:
            yield CableReading(
                size, length_m, material, row.part, in_unit(row.strand_length, "m"), in_unit(row.strand_mass, "kg"), in_unit(row.current, "A"), in_unit(row.drop, "V")
            )  # fmt: skip


def _measured(job: Job, id_: str, part: str, size: str, length_m: float, material: str) -> float | None:
    """The worst resistance of a meter that was measured; None where that is no worse than the table's."""
    tests = (judge_cable(r).mohm_m for r in _readings(job, id_, part, size, length_m, material))
    return max((m for m in tests if m is not None), default=None)


def test_findings(job: Job, made: Installation, supply: Supply) -> list[Finding]:
    """What was measured on cables and on the finished supply."""
    found = []
    for c in made.conductors:
        id_ = c.id.removesuffix(" ground").removesuffix(".feed")
        for part in ("ground", "path") if c.returns else ("feed",):
            for reading in _readings(job, id_, part, c.size, c.length_m, c.material):
                found += [Finding(check, c.subject) for check in judge_cable(reading).checks]
    test = job.file.supply_test
    if test is not None:
        read = supply_checks(supply, in_unit(test.rest, "V"), in_unit(test.running, "V"), test.main_fuse_last)
        found += [Finding(check, "vehicle") for check in read]
    return found


def ground_findings(job: Job, tree: SupplyTree) -> list[Finding]:
    """Ground leads: where they are bolted, how long and thick they are, and that none has a fuse."""
    supply = job.file.supply
    areas = {row.name: row.area_mm2 for row in sizes_of()}
    grounds = grounds_of(job)
    found = []
    nodes: Mapping[str, Node] = {node.load: node for node in tree.nodes if node.load}
    for table in job.file.load:
        node = nodes.get(table.id)
        if table.ground is not None and table.ground.fuse is not None:
            found.append(Finding(_fused_ground(table), table.id))
        if node is None or node.cable.area_mm2 is None:
            continue
        back, feed = grounds[table.id], node.cable.area_mm2
        body = supply.body if supply is not None else "steel"
        sensor = supply.sensor if supply is not None else None
        length = back.length_m
        if back.whole and table.ground is not None and table.ground.length is not None:
            length = table.ground.length.to("m")
        short = back.whole and length < back.length_m
        found.append(Finding(ground_check(length, areas.get(back.size, feed), feed, body, sensor, short), table.id))
    return found


def _fused_ground(table: LoadTable) -> Check:
    said = "{load} has a fuse in its ground lead: when that opens, its whole current returns through the shields of the signal leads"
    remedy = "Take the fuse out of the ground lead and join it through; the fuse belongs in the feed"
    return check_of("power.ground-fuse", "stop", said, remedy, (("load", table.id, ""),), key="ground.fuse")


def signal_findings(job: Job, here: dict[str, Place]) -> list[Finding]:
    """Everything about the way from an output to a driver that is no wire of the harness."""
    found = [Finding(check, way.into) for way in _ways(job) for check in way_checks(way)]
    found += [Finding(check, name) for name, check in _no_input(job)]
    begun = bool(job.file.factory_output or job.file.hand_over)  # nobody who has not begun is told what is well
    phases = [phase_check(pair) for pair in _pairs(job, here)]
    found += [Finding(check, "harness") for check in phases if begun or check.verdict != "ok"]
    return found + [Finding(check, "vehicle") for check in _hand_over(job)]


def _ways(job: Job) -> list[SignalWay]:
    sources = {one.id: one for one in job.file.source}
    made = []
    for row in job.file.signal:
        takes, gives = sources[row.into], sources[row.from_]
        span = None if takes.input is None else (takes.input[0].to("V"), takes.input[1].to("V"))
        isolated = takes.differential if row.isolated is None else row.isolated
        made.append(SignalWay(
            row.from_, row.output, gives.kind == "bridge", in_unit(row.loudest, "V"), row.through, isolated, row.into,
            row.input, span,
        ))  # fmt: skip
    return made


def _no_input(job: Job) -> list[tuple[str, Check]]:
    """Amplifiers of the last stage that nothing leads into."""
    if not job.file.stage or not (job.file.load or job.file.factory_output or job.file.signal):
        return []
    amplifiers = {one.id for one in job.file.source if one.kind == "amplifier"}
    used = dict.fromkeys(path.source for path in job.file.stage[-1].path if path.source in amplifiers)
    fed = {row.into for row in job.file.factory_output} | {row.into for row in job.file.signal}
    known = bool(job.file.signal) or any(row.into for row in job.file.factory_output)
    return [(name, no_input_check(name, known)) for name in used if name not in fed]


def _pairs(job: Job, here: dict[str, Place]) -> list[SidePair]:
    """Openings of the last stage that have both sides, each followed from its output to its driver."""
    if not job.file.stage:
        return []
    heard = () if job.file.hand_over is None else job.file.hand_over.in_phase
    sides = {(p.opening.id, p.side) for p in here.values()}
    both = {opening for opening, side in sides if side == "left" and (opening, "right") in sides}
    found = []
    paths = [path for path in job.file.stage[-1].path if path.opening in both]
    for opening, speaker in dict.fromkeys((path.opening or "", path.speaker) for path in paths):
        ways = {}
        for side in ("left", "right"):
            mine = [p for p in paths if (p.opening, p.speaker) == (opening, speaker) and p.side in (None, side)]
            if mine:
                ways[side] = _way(job, mine[0], side)
        if len(ways) == 2:
            (left, left_words), (right, right_words) = ways["left"], ways["right"]
            found.append(SidePair(opening, speaker, left, right, left_words, right_words, opening in heard))
    # one finding an opening: the driver whose sides differ, else the first
    once: dict[str, SidePair] = {}
    for pair in found:
        if pair.opening not in once or pair.left != pair.right:
            once[pair.opening] = pair
    return list(once.values())


def _way(job: Job, path: PathTable, side: str) -> tuple[int | None, str]:
    """The sign of one side from its factory output to the driver, and what turns it; None where an output was not read."""
    kinds = {one.id: one.kind for one in job.file.source}
    amplified = kinds.get(path.source) == "amplifier"
    rows = (row for row in map(job.gates.counted, job.file.factory_output) if row.side == side)
    outputs = [
        r for r in rows if (r.into == path.source if amplified else r.into is None and r.opening == path.opening)
    ]
    signs = {row.polarity for row in outputs}
    if None in signs or len(signs) > 1:
        return None, ""
    sign = path.polarity
    words = [f"polarity = {path.polarity} of its path"] if path.polarity < 0 else []
    if signs == {-1}:
        sign = -sign
        words.append("factory output " + ", ".join(row.id for row in outputs))
    return sign, " and ".join(words)


def _hand_over(job: Job) -> tuple[Check, ...]:
    table = job.file.hand_over
    if table is None:
        return ()
    read = Sleep(
        in_unit(table.asleep_before, "A"), in_unit(table.asleep_after, "A"),
        None if table.waited is None else table.waited.to("s") / 60, table.latched, table.turn_on_off,
    )  # fmt: skip
    return (*sleep_checks(read), whine_check(table.whine))
