"""Supply, cable, fuse, ground and gain of a job: what is drawn, what carries it, what breaks it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from backwave.assess.memo import Memo
from backwave.assess.power.as_built import branches_of, ground_findings, installation_of, test_findings
from backwave.assess.power.extra_sources import (
    buffered,
    connected,
    every_battery_off,
    means,
    most_volts,
    supplies,
    united,
    with_stronger_fuses,
)
from backwave.assess.power.results import Channel, Wires
from backwave.finding import Check, Finding, Ledger
from backwave.job import Job
from backwave.job.signal_chain import SourceTable, StageTable
from backwave.job.speaker import SpeakerTable
from backwave.job.supply import LoadTable as LoadTable
from backwave.power import (
    CurrentBudget,
    Node,
    Peak,
    Supply,
    SupplyLoad,
    SupplyTree,
    cautions,
    channel_load,
    current_budget,
    gain_target,
    noise_check,
    peak_voltage,
    place_check,
    supply_tree,
)
from backwave.power.current import load_current, running_v
from backwave.power.gain import DriverOnChannel
from backwave.power.protection import judge
from backwave.units import in_unit


def wires_of(
    job: Job, ledger: Ledger, memo: Memo, limits: Mapping[str, tuple[DriverOnChannel, ...]] | None = None
) -> Wires | None:
    """What a job's loads ask of its supply; None where nothing draws current. InputError: branches that cannot be."""
    if not (job.file.load or job.file.distribution or _sources(job)):
        return None
    own = Ledger()
    made = _whole(job, own, memo, limits or {})
    better = with_stronger_fuses(job, made.protected)
    if better is not job:
        own = Ledger()
        made = _whole(better, own, memo, limits or {})
    ledger.take(own.assumed.values())
    return made


def _whole(job: Job, ledger: Ledger, memo: Memo, limits: Mapping[str, tuple[DriverOnChannel, ...]]) -> Wires:
    main, others = supplies(job)
    evened = buffered(job)
    drawn = means(job, {name: _music_a(job, one) for name, one in others.items()})
    made = _wires(main, ledger, memo, limits, drawn, evened) if main.file.load or main.file.distribution else None
    rest = {name: _wires(one, ledger, memo, {}, drawn, evened) for name, one in others.items()}
    whole = _joined(made, rest, frozenset(one.id for one in job.file.converter), frozenset(_sources(job)))
    parts = {name: installation_of(one, rest[name].tree, rest[name].supply) for name, one in others.items()}
    first = None if made is None else installation_of(main, made.tree, made.supply)
    most_v = max(most_volts(job), *(running_v(one.supply)[0] for one in (whole, *rest.values())))
    whole_way = first if first is not None and not _sources(job) else united(job, first, parts)
    protected = memo.call(judge, whole_way, most_v)
    off = every_battery_off(job)
    return replace(
        whole, protected=protected,
        findings=(
            *whole.findings, *(Finding(check, one.conductor.subject) for one in protected for check in one.checks),
            *connected(job, ledger),
        ),
        cautions=whole.cautions if off is None else (off, *whole.cautions),
    )  # fmt: skip


_OF_THE_VEHICLE = ("power.budget", "power.reserve", "power.noise", "power.fuse-place", "power.gain", "power.channel")


def _sources(job: Job) -> tuple[str, ...]:
    return (*(one.id for one in job.file.battery), *(one.id for one in job.file.converter))


def _joined(
    main: Wires | None, others: Mapping[str, Wires], converters: frozenset[str], sources: frozenset[str]
) -> Wires:
    """The supplies of all sources as one: what hangs on another source starts at its id. A converter holds its output
    up to its limit, and what charges a source is no load that loses output: neither sags."""
    rows = [(name, _without_sag(one, sources, name in converters)) for name, one in others.items()]
    rows = rows if main is None else [("", _without_sag(main, sources, False)), *rows]
    made = rows[0][1]
    for source, one in rows[1:]:
        nodes = tuple(replace(node, parent=node.parent or source) for node in one.tree.nodes)
        tree = replace(made.tree, nodes=(*made.tree.nodes, *nodes), assumed=(*made.tree.assumed, *one.tree.assumed))
        loads = {peak.engine: peak.loads for peak in one.peaks}
        findings = tuple(
            replace(finding, subject=source) if finding.subject == "vehicle" else finding
            for finding in one.findings
            if finding.check.code not in _OF_THE_VEHICLE
        )
        made = replace(
            made, tree=tree, design=replace(made.design, nodes=(*made.design.nodes, *one.design.nodes)),
            peaks=tuple(replace(peak, loads=(*peak.loads, *loads.get(peak.engine, ()))) for peak in made.peaks),
            findings=(*made.findings, *findings),
        )  # fmt: skip
    return made


def _without_sag(made: Wires, sources: frozenset[str], held: bool) -> Wires:
    """Without what sags of feeds to other sources; `held`: of all, as a converter feeds it."""
    gone = {load.name for peak in made.peaks for load in peak.loads if held or load.name in sources}
    if not gone:
        return made
    peaks = tuple(replace(peak, loads=tuple(one for one in peak.loads if one.name not in gone)) for peak in made.peaks)
    parts = {part for name in gone for e in ("off", "running") for part in (f"{name}-{e}", f"{e}-{name}-{e}")}
    kept = tuple(f for f in made.findings if f.check.code != "power.sag" or f.check.part not in parts)
    return replace(made, peaks=peaks, findings=kept)


def _music_a(whole: Job, job: Job) -> float:
    """What hangs on one source draws with music, other sources aside, A."""
    supply, sources, others = _supply(job), {one.id: one for one in job.file.source}, _sources(whole)
    loads = (_load(table, sources.get(table.id)) for table in job.file.load if table.id not in others)
    return sum(found.musical_a for load in loads if (found := load_current(load, supply)) is not None)


def _wires(
    job: Job, ledger: Ledger, memo: Memo, limits: Mapping[str, tuple[DriverOnChannel, ...]],
    drawn: Mapping[str, tuple[float, float]], evened: frozenset[str],
) -> Wires:  # fmt: skip
    """Of one source and what hangs on it; its conductors are judged with all others."""
    supply = _supply(job)
    sources = {source.id: source for source in job.file.source}
    loads = tuple(
        replace(_load(table, sources.get(table.id)), mean_a=drawn.get(table.id), buffered=table.id in evened)
        for table in job.file.load
    )
    series = "awg" if job.file.show == "us" else "metric"
    budget = memo.call(current_budget, loads, supply)
    planned = branches_of(job, loads)
    design = memo.call(supply_tree, planned, supply, series=series)
    branches = branches_of(job, loads, design)
    tree = design if planned == branches else memo.call(supply_tree, branches, supply, series=series)
    # to look a tree up takes longer than to solve it; without an alternator's current nothing is known of the engine running
    engines = ("off",) if None in (supply.alternator_a, supply.vehicle_a) else ("off", "running")
    peaks = tuple(peak_voltage(tree, branches, supply, engine) for engine in engines)
    channels = gains(job, sources, limits)
    findings = [
        *(Finding(check, "vehicle") for check in (*budget.checks, *tree.checks)),
        *(Finding(check, node.id) for node in tree.nodes for check in (*node.cable.checks, *_fuse_checks(node))),
        *(Finding(check, "vehicle") for peak in peaks for check in _engine(peak)),
        *ground_findings(job, tree),
        *test_findings(job, installation_of(job, tree, supply), supply),
        *_vehicle(job),
        *(Finding(check, channel.id) for channel in channels for check in channel.target.checks),
    ]
    hurts = [f.check for f in findings if f.check.code.startswith("safe.")]
    findings = [f for f in findings if not f.check.code.startswith("safe.")]
    _note(ledger, budget, tree)
    return Wires(
        supply, budget, tree, design, (), peaks, channels, tuple(findings),
        tuple(Finding(check, "vehicle") for check in dict.fromkeys((*cautions(supply), *hurts))),
    )  # fmt: skip


def _fuse_checks(node: Node) -> tuple[Check, ...]:
    """Of a fuse that is fitted; what it has to break is judged with every source at once."""
    if not node.fitted or node.fuse.rating_a is None:
        return node.fuse.checks if node.fitted else ()
    return tuple(c for c in node.fuse.checks if c.code != "power.fuse-breaking")


def _engine(peak: Peak) -> tuple[Check, ...]:
    return tuple(replace(check, part=f"{check.part}-{peak.engine}".strip("-")) for check in peak.checks)


def _supply(job: Job) -> Supply:
    table = job.file.supply
    if table is None:
        return Supply()
    battery, alternator = table.battery, table.alternator
    return Supply(
        battery_v=in_unit(battery.voltage, "V"), capacity_ah=in_unit(battery.capacity, "Ah"),
        resistance_ohm=in_unit(battery.resistance, "ohm"), alternator_a=in_unit(alternator.current, "A"),
        idle_a=in_unit(alternator.idle, "A"), vehicle_a=in_unit(table.vehicle, "A"), off_a=in_unit(table.off, "A"),
        running_v=in_unit(table.running, "V"), system=24 if table.system == "24 V" else 12, battery=battery.kind,
        source="converter" if alternator.converter else "alternator",
    )  # fmt: skip


def _load(table: LoadTable, source: SourceTable | None) -> SupplyLoad:
    rated = table.power or (source.power if source is not None else None)
    return SupplyLoad(
        table.id, power_w=None if rated is None else rated.watts, channels=1 if rated is None else rated.channels,
        into_ohm=None if rated is None else rated.ohm, efficiency=table.efficiency, klass=table.amplifier_class,
        crest_db=in_unit(table.crest, "dB"), fuses_a=tuple(q.to("A") for q in table.fuses), regulated=table.regulated,
        current_a=in_unit(table.current, "A"),
    )  # fmt: skip


def _vehicle(job: Job) -> list[Finding]:
    """Noise, and where the main fuse sits."""
    supply = job.file.supply
    turn_on = {table.turn_on for table in job.file.load}
    grounds, apart = (None, None) if supply is None else (supply.grounds, supply.apart)
    word = "" if "none" in turn_on else "signal" if "signal" in turn_on else "lead"
    noise = noise_check(grounds, apart, word)  # type: ignore[arg-type]  # one of three words
    at = None if supply is None or supply.fuse_at is None else supply.fuse_at.to("m")
    place = place_check(at, None if supply is None else supply.sleeved)
    return [Finding(noise, "vehicle"), Finding(place, "vehicle")]


def _note(ledger: Ledger, budget: CurrentBudget, tree: SupplyTree) -> None:
    ledger.take((*budget.assumed, *tree.assumed))
    for load in budget.loads:
        ledger.take(load.assumed, f"load.{load.name}.")
    for node in tree.nodes:
        ledger.take((*node.cable.assumed, *node.fuse.assumed), f"{node.id}: ")


def gains(
    job: Job, sources: dict[str, SourceTable], limits: Mapping[str, tuple[DriverOnChannel, ...]]
) -> tuple[Channel, ...]:
    """Outputs of amplifiers, by the last stage that uses each; `limits` has their drivers as the solved network sees them."""
    rows = {speaker.id: speaker for speaker in job.file.speaker}
    last: dict[str, tuple[SourceTable, list[str]]] = {}
    for stage in job.file.stage:
        last |= _outputs(stage, sources)
    found = []
    for name, (source, speakers) in last.items():
        assert source.rated is not None
        watts, into = source.rated.watts, source.rated.ohm
        tweeters = all(rows[s].kind == "tweeter" for s in speakers)
        bass = all(rows[s].kind == "subwoofer" for s in speakers)
        # a tweeter behind its capacitor is no load for the tone
        rated = [_ohm(rows[s]) for s in speakers if tweeters or rows[s].kind != "tweeter"]
        load = into if not rated or None in rated else 1 / sum(1 / r for r in rated if r is not None)
        bridge: tuple[Check, ...] = ()
        if source.bridged:
            least = in_unit(source.lowest_load, "ohm")
            bridge = channel_load(((load,),), least, True).checks
        # the same volts as rated, or fewer: an amplifier's rating is for its own load
        power = watts * into / load if load > into else watts
        feeds = [job.gates.counted(o) for o in job.file.factory_output if o.into == source.id]
        given = [o.loudest for o in feeds] + [way.loudest for way in job.file.signal if way.into == source.id]
        volts = [one.to("V") for one in given if one is not None]
        loudest = min(volts) if volts and len(volts) == len(given) else None
        kind: Literal["tweeter", "bass", "full"] = "tweeter" if tweeters else "bass" if bass else "full"
        known = {one.name: one for one in limits.get(name, ())}
        drivers = tuple(known.get(s) or _by_sheet(rows[s], load) for s in dict.fromkeys(speakers))
        mutes = tuple(o.id for o in feeds if o.detects_load is not False)
        target = gain_target(power, load, kind, source_v=loudest, drivers=drivers, mutes=mutes)
        target = replace(target, checks=(*target.checks, *bridge))
        span = None if source.input is None else (source.input[0].to("V"), source.input[1].to("V"))
        noted = ", ".join(dict.fromkeys(o.loud_at for o in feeds if o.loud_at))
        found.append(Channel(name, tuple(speakers), target, span, loudest, noted))
    return tuple(found)


def _ohm(speaker: SpeakerTable) -> float | None:
    return in_unit(speaker.rated, "ohm")


def _by_sheet(speaker: SpeakerTable, load_ohm: float) -> DriverOnChannel:
    """A driver whose network cannot be solved: its rated power, and all of the output's volts."""
    power = None if speaker.motor is None or speaker.motor.power is None else speaker.motor.power.to("W")
    return DriverOnChannel(speaker.id, _ohm(speaker) or load_ohm, power)


def _outputs(stage: StageTable, sources: dict[str, SourceTable]) -> dict[str, tuple[SourceTable, list[str]]]:
    found: dict[str, tuple[SourceTable, list[str]]] = {}
    for path in stage.path:
        source = sources.get(path.source)
        if source is not None and source.kind == "amplifier" and source.power is not None:
            found.setdefault(f"{path.source}.{path.channel}", (source, []))[1].append(path.speaker)
    return found
