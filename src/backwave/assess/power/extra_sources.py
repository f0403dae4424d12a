"""The supply of a job with more than one source: what hangs on each, what joins them, what a device stands of its own.

Each source with what hangs on it is worked out as a supply of its own; what it takes from the one before is a load there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, TypeVar

from backwave.finding import PRACTICE, Finding, Ledger, check_of
from backwave.job import Job
from backwave.job.supply import (
    AlternatorTable,
    BatteryTable,
    ConverterTable,
    DistributionTable,
    LoadTable,
    MoreBatteryTable,
    SupplyTable,
)
from backwave.power.extra_sources import (
    CHEMISTRIES,
    USUAL_SPAN_V,
    ExtraBattery,
    ExtraConverter,
    battery_checks,
    converter_checks,
    half_check,
    hinge_check,
    joined_check,
    voltage_check,
)
from backwave.power.fuse import fuses_of
from backwave.power.protection import FittedFuse, Installation, PowerSource, Protected
from backwave.units import Quantity, in_unit, parse

if TYPE_CHECKING:
    from backwave.job.supply import CableTable

CONVERTER_EFFICIENCY = 0.9  # power out over power in of a converter nobody gave one of (common trade practice)
Extra = MoreBatteryTable | ConverterTable
Fed = Extra | DistributionTable | LoadTable
Hung = TypeVar("Hung", DistributionTable, LoadTable)


def supplies(job: Job) -> tuple[Job, dict[str, Job]]:
    """The job as the starter battery sees it, and as each other source does, by its id: what hangs on it from it outward."""
    extras = _extras(job)
    if not extras:
        return job, {}
    root = _roots(job)
    own = {name: _seen_from(job, name, root) for name in extras if any(at == name for at in root.values())}
    return _seen_from(job, "", root), own


def _extras(job: Job) -> tuple[str, ...]:
    return (*(one.id for one in job.file.battery), *(one.id for one in job.file.converter))


def _joined(one: MoreBatteryTable) -> bool:
    """Whether a cable leads to it: also where one is entered and nobody said what it is joined through."""
    return one.charged_through != "own charger" and bool(one.charged_through or one.feed.model_fields_set)


def _roots(job: Job) -> dict[str, str]:
    """The source that each block, load and converter hangs on in the end, "" for the starter battery."""
    extras = _extras(job)
    above = {block.id: block.from_ for block in job.file.distribution}
    start = above | {load.id: load.from_ for load in job.file.load} | {c.id: c.from_ for c in job.file.converter}
    found = {}
    for name, at in start.items():
        while at and at not in extras:
            at = above.get(at, "")
        found[name] = at
    converters = {c.id for c in job.file.converter}
    for one in job.file.battery:
        found[one.id] = one.charged_through if one.charged_through in converters else ""
    return found


def _seen_from(job: Job, source: str, root: Mapping[str, str]) -> Job:
    file = job.file

    def own(one: Hung) -> Hung:
        return one.model_copy(update={"from_": "" if one.from_ == source else one.from_})

    loads = [own(one) for one in file.load if root[one.id] == source]
    loads += [_drawn(job, one) for one in file.converter if root[one.id] == source and one.id != source]
    loads += [_drawn(job, one) for one in file.battery if root[one.id] == source and _joined(one)]
    blocks = tuple(own(one) for one in file.distribution if root[one.id] == source)
    update: dict[str, object] = {"load": tuple(loads), "distribution": blocks, "battery": (), "converter": ()}
    if source:
        plain, pin = "battery.to ", f"{source}.to "
        update["wire"] = tuple(
            one.model_copy(update={k: plain + v.removeprefix(pin) for k, v in (("from_", one.from_), ("to", one.to)) if v.startswith(pin)})
            for one in file.wire
        )  # fmt: skip
        update["supply"] = _supply(job, source)
        update["supply_test"] = None  # of the starter battery
    return replace(job, file=file.model_copy(update=update))


def _supply(job: Job, source: str) -> SupplyTable:
    """A source as the supply of what hangs on it."""
    main = job.file.supply or SupplyTable()
    shared = {"body": main.body, "sensor": main.sensor, "grounds": main.grounds, "apart": main.apart}
    one = next((one for one in job.file.battery if one.id == source), None)
    if one is not None:
        made = CHEMISTRIES[one.kind]
        kind: Literal["lead-acid", "lithium"] = "lithium" if one.kind in ("lithium", "capacitors") else "lead-acid"
        volts, ohm = one.voltage or _quantity(made.rest_v, "V"), one.resistance or _quantity(made.ohm, "ohm")
        battery = BatteryTable(voltage=volts, resistance=ohm, capacity=one.capacity, kind=kind)
        return SupplyTable(battery=battery).model_copy(update=shared)
    charger = next(c for c in job.file.converter if c.id == source)
    # what it can drive into a short is its own limit: a resistance that lets no more through stands for it
    limit = charger.output.to("V") / charger.current.to("A")
    battery = BatteryTable(voltage=charger.output, resistance=_quantity(min(limit, 1.0), "ohm"))
    alternator = AlternatorTable(converter=True)
    return SupplyTable(running=charger.output, battery=battery, alternator=alternator).model_copy(update=shared)


def _rest(one: MoreBatteryTable) -> tuple[float, float]:
    """What a battery rests at, V, and its resistance, ohm: its own figures, else those of its kind."""
    made = CHEMISTRIES[one.kind]
    volts, ohm = in_unit(one.voltage, "V"), in_unit(one.resistance, "ohm")
    return made.rest_v if volts is None else volts, made.ohm if ohm is None else ohm


def _quantity(value: float, unit: str) -> Quantity:
    return parse(f"{value:g} {unit}", "voltage" if unit == "V" else "resistance" if unit == "ohm" else "current")


def _drawn(job: Job, one: Extra) -> LoadTable:
    """What a converter or a battery that is charged takes from the source before it."""
    start = ""
    if isinstance(one, ConverterTable):
        amps, start = _input_a(one), "" if one.from_ in {b.id for b in job.file.battery} else one.from_
    else:
        charger = next((c for c in job.file.converter if c.id == one.charged_through), None)
        fuse = one.feed.fuse or one.fuse
        # its cable carries what charges it, or what hangs on it: no more for long than its fuse
        amps = charger.current.to("A") if charger is not None else 30.0 if fuse is None else 0.8 * fuse.to("A")
    row = {"id": one.id, "from": start, "current": f"{amps:.4g} A", "feed": one.feed, "turn_on": "lead"}
    return LoadTable.model_validate(row)


def means(job: Job, direct: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """What each other source draws on average from the one before it, engine off and running, A. `direct`: what
    hangs on each, with no other source between, draws with music. An isolator is open with the engine off; a full
    battery or bank takes no more than its loads; a converter that charges a battery does so with the engine running,
    at its limit."""
    root = _roots(job)
    converters = {one.id: one for one in job.file.converter}
    through = {one.id: one.charged_through for one in job.file.battery if _joined(one)}

    def drawn(name: str) -> tuple[float, float]:
        below = [drawn(n) for n in (*through, *converters) if root[n] == name and n != name]
        off, running = (direct.get(name, 0.0) + sum(one[k] for one in below) for k in (0, 1))
        if name in through:
            return (off if through[name] in ("cable", "") else 0.0), running
        limit = converters[name].current.to("A")
        ratio = _input_a(converters[name]) / limit
        return min(off, limit) * ratio, (limit if name in through.values() else min(running, limit)) * ratio

    return {name: drawn(name) for name in (*through, *converters)}


def buffered(job: Job) -> frozenset[str]:
    """Sources whose peaks a battery gives: each battery, and a converter that charges one."""
    batteries = job.file.battery
    return frozenset((*(one.id for one in batteries), *(one.charged_through for one in batteries)))


def _input_a(one: ConverterTable) -> float:
    """What a converter takes at its limit, A."""
    share = CONVERTER_EFFICIENCY if one.efficiency is None else one.efficiency
    return one.output.to("V") * one.current.to("A") / (one.input.to("V") * share)


def united(job: Job, main: Installation | None, parts: Mapping[str, Installation]) -> Installation:
    """The conductors of all sources as one graph, so that what each drives into a fault is counted everywhere. A
    converter lets nothing through: its output is a node of its own, held by its limit."""
    sources = [] if main is None else list(main.sources)
    conductors = [] if main is None else list(main.conductors)
    outputs = {one.id: f"{one.id} output" for one in job.file.converter}
    for one in job.file.converter:
        sources.append(PowerSource(one.id, one.output.to("V"), None, one.current.to("A"), node=outputs[one.id]))
    sources += [PowerSource(b.id, *_rest(b)) for b in job.file.battery if b.id not in parts]
    for name, part in parts.items():
        plus = outputs.get(name, name)
        if name not in outputs:
            sources += [replace(one, id=name, node="") for one in part.sources if one.id == "battery"]
        conductors += [replace(c, start=plus) if c.start == "battery" else c for c in part.conductors]
    ends = {one.id: _own_fuse(one) for one in job.file.battery}
    # the negative lead of a battery brings back no load's current that a fuse could hold: it is as thick as its feed
    conductors = [c for c in conductors if c.returns not in ends]
    both = (c if c.returns or c.end not in ends else replace(c, end_fuse=ends[c.end]) for c in conductors)
    return Installation(tuple(sources), tuple(both))


def _own_fuse(one: MoreBatteryTable) -> FittedFuse | None:
    """The fuse at a battery's own end: of the kind that is there, else of the least that breaks its own short circuit."""
    if one.fuse is None:
        return None
    volts, ohm = _rest(one)
    rows = sorted(fuses_of(), key=lambda r: r.breaking_a)
    amps = one.fuse.to("A")
    fits = [
        r for r in rows if (r.name == one.style if one.style else r.breaking_a >= volts / ohm and amps in r.ratings_a)
    ]
    row = fits[0] if fits else rows[-1]
    return FittedFuse(amps, row.name, row.breaking_a, row.limit_v)


def with_stronger_fuses(job: Job, protected: Sequence[Protected]) -> Job:
    """The job with a style that breaks what all sources drive, where nobody gave one and the one taken for it does not."""
    wanted: dict[tuple[str, bool], str] = {}
    for one in protected:
        for check in one.checks:
            fuse = one.conductor.end_fuse if check.part == "end" else one.conductor.fuse
            if check.code != "power.fuse-breaking" or check.verdict == "ok" or fuse is None:
                continue
            need = float({name: value for name, value, _ in check.title.quantities}["need"])
            rows = (r for r in fuses_of() if r.breaking_a >= need and fuse.rating_a in r.ratings_a)
            if (row := next(rows, None)) is not None:
                wanted[one.conductor.id.removesuffix(".feed"), check.part == "end"] = row.name
    update = {}
    for name in ("distribution", "load", "battery", "converter"):
        update[name] = tuple(_restyled(table, wanted) for table in getattr(job.file, name))
    if all(update[name] == getattr(job.file, name) for name in update):
        return job
    return replace(job, file=job.file.model_copy(update=update))


def _restyled(table: Fed, wanted: Mapping[tuple[str, bool], str]) -> Fed:
    update: dict[str, object] = {}
    if not table.feed.style and (table.id, False) in wanted:
        update["feed"] = table.feed.model_copy(update={"style": wanted[table.id, False]})
    if isinstance(table, MoreBatteryTable) and not table.style and (table.id, True) in wanted:
        update["style"] = wanted[table.id, True]
    return table.model_copy(update=update)


def connected(job: Job, ledger: Ledger) -> list[Finding]:
    """What is found of sources, of what joins them, of what each device stands, and of hinges."""
    root = _roots(job)
    found = [Finding(check, one.id) for one in job.file.battery for check in battery_checks(_battery(job, one, ledger))]
    for battery in job.file.battery:
        if battery.charged_through in ("cable", "isolator"):
            odd = joined_check(battery.id, _volts(job, battery.id)[1], _volts(job, "")[1])
            found += [] if odd is None else [Finding(odd, battery.id)]
    for one in job.file.converter:
        found += [Finding(check, one.id) for check in converter_checks(_converter(job, one, root))]
    for load in job.file.load:
        span = None if load.voltage is None else (load.voltage.low_v, load.voltage.high_v)
        if span is None:
            usual, why = f"{USUAL_SPAN_V[0]:g} to {USUAL_SPAN_V[1]:g} V", f"what 12 V devices usually stand; {PRACTICE}"
            ledger.note(f"load.{load.id}.voltage", usual, "", why)
        most, rest = _volts(job, root[load.id])
        check = half_check(load.id) if load.half else voltage_check(load.id, most, rest, span)
        found.append(Finding(check, load.id))
    return [*found, *_hinges(job)]


def most_volts(job: Job) -> float:
    """The most that any source of the job brings, as entered or as measured, V."""
    return max(_volts(job, source)[0] for source in ("", *_extras(job)))


def _volts(job: Job, source: str) -> tuple[float, float]:
    """The most that a source brings, and what it rests at, V."""
    for c in job.file.converter:
        if c.id == source:
            return c.output.to("V"), c.output.to("V")
    main = job.file.supply or SupplyTable()
    double = 2.0 if main.system == "24 V" else 1.0
    running = 14.4 * double if main.running is None else main.running.to("V")
    if (test := job.file.supply_test) is not None:
        running = max([running, *(one.to("V") for one in (test.rest, test.running) if one is not None)])
    battery = next((b for b in job.file.battery if b.id == source), None)
    if battery is not None:
        rest = _rest(battery)[0]
        through = next((c for c in job.file.converter if c.id == battery.charged_through), None)
        charged = running if battery.charged_through in ("cable", "isolator") else rest * 14.4 / 12.6
        return max(charged if through is None else through.output.to("V"), rest), rest
    rest = 12.6 * double if main.battery.voltage is None else main.battery.voltage.to("V")
    return max(running, rest), rest


def _battery(job: Job, one: MoreBatteryTable, ledger: Ledger) -> ExtraBattery:
    volts, ohm = _rest(one)
    for key, value, unit, given in (("voltage", volts, "V", one.voltage), ("resistance", ohm, "ohm", one.resistance)):
        if given is None:
            ledger.note(f"battery.{one.id}.{key}", value, unit, f"{one.kind}; {PRACTICE}")
    charger = next((c for c in job.file.converter if c.id == one.charged_through), None)
    return ExtraBattery(
        one.id, one.kind, volts, ohm, one.place, "converter" if charger is not None else one.charged_through,
        in_unit(one.feed.fuse, "A"), in_unit(one.fuse, "A"), in_unit(one.capacitance, "F"), in_unit(one.precharge, "ohm"),
        in_unit(one.cut_out, "V"), in_unit(one.most, "A"), _asked(job, one.id, _roots(job)), one.sealed, one.vented,
        one.strapped, one.boxed, one.hood_allowed, one.cold_stop, None if charger is None else charger.lithium,
    )  # fmt: skip


def _asked(job: Job, source: str, root: Mapping[str, str]) -> float:
    """What hangs on a source draws, A: by its current, else by its own fuses."""
    mine = [load for load in job.file.load if root[load.id] == source]
    return sum(
        load.current.to("A") if load.current is not None else sum(fuse.to("A") for fuse in load.fuses) for load in mine
    )


def _converter(job: Job, one: ConverterTable, root: Mapping[str, str]) -> ExtraConverter:
    asked = _asked(job, one.id, root)
    charges = tuple(b.id for b in job.file.battery if b.charged_through == one.id)
    most, rest = _volts(job, root[one.id])
    return ExtraConverter(
        one.id, most if most > 1.4 * one.input.to("V") else rest, one.input.to("V"), one.output.to("V"), one.current.to("A"), asked or None,
        in_unit(one.feed.fuse, "A"), in_unit(one.fuse, "A"), charges,
    )  # fmt: skip


def extra_feeds(job: Job) -> list[tuple[str, str, CableTable]]:
    """The cable to each converter and second battery: its id, what it starts at ("" the starter battery), its table."""
    converters = {one.id for one in job.file.converter}
    joined = [one for one in job.file.battery if _joined(one)]
    return [
        *((one.id, one.from_, one.feed) for one in job.file.converter),
        *((one.id, one.charged_through if one.charged_through in converters else "", one.feed) for one in joined),
    ]


def _hinges(job: Job) -> Iterator[Finding]:
    file = job.file
    tables: tuple[Fed, ...] = (*file.distribution, *file.load, *file.battery, *file.converter)
    for feed, name in ((table.feed, table.id) for table in tables):
        if feed.hinge != "none":
            yield Finding(hinge_check(name, feed.hinge, feed.fine_strand, feed.guarded, feed.fuse is not None), name)


def every_battery_off(job: Job) -> Finding | None:
    """What else is live once the starter battery is off; None where there is no more."""
    batteries = [one.id for one in job.file.battery if one.kind != "capacitors"]
    banks = [one.id for one in job.file.battery if one.kind == "capacitors"]
    live = [*batteries, *(one.id for one in job.file.converter), *banks]
    main = job.file.supply
    if main is not None and main.alternator.converter:
        live.append("the vehicle's own converter, until it sleeps")
    if not live:
        return None
    names = (("live", ", ".join(live), ""), ("banks", ", ".join(banks), ""))
    do = "Every battery off, negative first, and every converter's input open, before anything is touched; the maker's power-down first"
    do += "; {banks} discharged through a resistor and measured at its posts" if banks else ""
    said = "With the starter battery off these stay live: {live}"
    return Finding(check_of("safe.battery", "caution", said, do, names, part="every"), "vehicle")
