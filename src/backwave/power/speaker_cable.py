"""From an amplifier's channel to its speakers: the load it sees, and what the run of cable does to it.

Rated loads are compared with rated loads.  Two channels bridged drive one load with opposite voltages, so each sees
half of it: a bridged pair needs twice the lowest load of a channel.

Of the cable, with Rc out and back: loss 20 lg Z/(Z + Rc), damping factor Z/(Rs + Rc), Qes' = Qes (Re + Rs + Rc)/Re (Small
1972, J. AES 20:383; from memory), a first-order corner before the cable moves by (Z + Rc)/Z (low-pass) or its inverse
(high-pass).  The least size is the thinnest whose loss passes and which stands the output's rated current.
Inductance of the cable is left out: about 0.6 uH/m (from memory), 0.04 dB at 20 kHz for 5 m into 4 ohm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log10

import numpy as np

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, CalculationLine, Check, Quantities, check_of
from backwave.power.cable import AMBIENT_DEGC, GUESS_M, INSULATION_DEGC, sizes_of
from backwave.power.heat import ampacity_a
from backwave.power.protection import SHORT_TIME_K
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped


@dataclass(frozen=True)
class ChannelLoad:
    """The load on a channel, or on a bridged pair."""

    load_ohm: float  # across the terminals
    seen_ohm: float  # what each channel sees
    bridged: bool  # two channels on one load
    checks: tuple[Check, ...]  # against the lowest load; empty where nobody gave it


def arrangements(coils: int, ohm: float) -> tuple[tuple[int, int, float], ...]:
    """Every way to wire equal coils as equal strings: coils in series, strings in parallel, what it makes. `ohm`, ohm;
    returns rising in ohm."""
    if coils < 1:
        raise InputError("coils", coils, "1 or more")
    return tuple((s, coils // s, ohm * s * s / coils) for s in range(1, coils + 1) if coils % s == 0)


def channel_load(
    strings: Sequence[Sequence[float]], lowest_ohm: float | None = None, bridged: bool = False
) -> ChannelLoad:
    """Load of coils wired as strings in parallel, against the lowest load of a channel. `strings`, ohm: each the coils
    in series; the strings are in parallel: `((4, 4), (4, 4))`; InputError: no coil, or one that is not a finite number
    above 0."""
    for ohm in (ohm for string in strings for ohm in string):
        check_number("coil, ohm", ohm)
    if not strings or not all(strings):
        raise InputError("coils on the channel", "none", "one or more in each string")
    load = 1 / sum(1 / sum(string) for string in strings)
    seen = load / 2 if bridged else load
    if lowest_ohm is None:
        return ChannelLoad(load, seen, bridged, ())
    return ChannelLoad(load, seen, bridged, (_check(strings, load, seen, lowest_ohm, bridged),))


def _check(strings: Sequence[Sequence[float]], load: float, seen: float, lowest: float, bridged: bool) -> Check:
    # Ratings are rounded numbers: 3.9 against 4 is the same.
    low = seen < 0.95 * lowest
    coils = [ohm for string in strings for ohm in string]
    limit = lowest * (2 if bridged else 1)
    remedy = (
        "Not bridged, or coils of a higher rating" if bridged else "Coils of a higher rating, or a channel for each"
    )
    numbers: Quantities = (("seen", seen, "ohm"), ("lowest", lowest, "ohm"))
    if len(set(coils)) == 1:
        better = next((a for a in arrangements(len(coils), coils[0]) if a[2] >= 0.95 * limit), None)
        if better is not None:
            numbers += (("s", str(better[0]), ""), ("p", str(better[1]), ""), ("ohm", better[2], "ohm"))
            remedy = (
                "{s} in series, {p} such strings in parallel: {ohm}" if better[1] > 1 else "All {s} in series: {ohm}"
            )
    said = "Bridged, each channel sees {seen}" if bridged else "The channel sees {seen}"
    said += "; it drives {lowest} at the least and may burn or shut down" if low else "; it drives {lowest} and more"
    return check_of(
        "power.channel", "stop" if low else "ok", said, remedy if low else "", numbers, (seen, lowest, "ohm"),
        (
            CalculationLine("R", "across the terminals: strings in parallel", load, "ohm", "Ohm's law"),
            CalculationLine("Rs", "seen by each channel" + (", half of it: bridged" if bridged else ""), seen, "ohm"),
            CalculationLine("R0", "lowest load of a channel", lowest, "ohm", "the amplifier's sheet"),
        ),
        ("Ohm's law", f"{PRACTICE}: ratings compare with ratings"),
    )  # fmt: skip


LOSS_DB = 0.3  # loss that is let pass (common trade practice: a fifth of a dB to half of one is not heard)
_SMALL = "Small 1972, J. AES 20:383 (from memory)"
_HEAT = "heat balance of an insulated cable, 70 degC insulation in 60 degC air, two that touch"


@dataclass(frozen=True)
class SpeakerTried:
    """A standard size on one run."""

    size: str  # its name
    area_mm2: float  # cross section
    loss_db: float  # in level, below 0
    ampacity_a: float
    fails: tuple[str, ...]  # why it will not do; empty where it will


@dataclass(frozen=True)
class SpeakerCable:
    """A pair from an output to a speaker."""

    size: str
    area_mm2: float  # cross section
    length_m: float  # one way, or what was taken for it
    guessed: bool  # nobody measured it
    loop_ohm: float  # out and back
    loss_db: float  # in level, below 0
    damping_factor: float | None  # 1, load by source and cable; None for a source and cable of no resistance
    qes_factor: float | None  # 1, by which Qes grows; None where Re is not known
    low_pass_factor: float  # 1, by which a first-order corner before the cable moves
    high_pass_factor: float  # 1
    least: str  # the thinnest size of the series that will do, "" where none does
    tried: tuple[SpeakerTried, ...]  # every size of the series, thinnest first, with why it fails
    checks: tuple[Check, ...]  # what was found


def speaker_cable(
    length_m: float | None,
    load_ohm: float,
    size: str = "",
    re_ohm: float | None = None,
    source_ohm: float = 0.0,
    material: str = "copper",
    loss_db: float = LOSS_DB,
    stock: Stock | None = None,
    current_a: float | None = None,
    series: str = "metric",
) -> SpeakerCable:
    """What a pair does; its resistance at 20 degC. `length_m`: one way, above 0; None is a guess of 5 m, with what it
    does; `size`: name of a size of the stock; "" takes the least of the series that will do; `current_a`: rated current
    of the output, which it has to stand; None where nobody rated it; InputError: A length, load or current that is not
    above 0, an unknown size or conductor."""
    check_number("length of the speaker cable, m", length_m)
    check_number("load, ohm", load_ohm)
    check_number("largest loss, dB", loss_db)
    check_number("current of the speaker cable, A", current_a)
    stock = stock or shipped()
    metals = stock.named(ConductorRow)
    if material not in metals:
        raise InputError("conductor", material, " or ".join(metals))
    metal = metals[material]
    by_copper = metal.resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m
    way = GUESS_M if length_m is None else length_m

    def loop(row: CableSizeRow) -> float:
        return 2 * way * row.mohm_m * 1e-3 * by_copper

    def tried(row: CableSizeRow) -> SpeakerTried:
        loss = 20 * log10(load_ohm / (load_ohm + loop(row)))
        amps = current_a or 0.0
        bad = (("loss", -loss > loss_db), ("heat", stands[row.name] < amps), ("burns", burns[row.name] < amps))
        return SpeakerTried(row.name, row.area_mm2, loss, stands[row.name], tuple(why for why, fails in bad if fails))

    rows = sizes_of(stock)
    cold, inner, outer = ([getattr(r, n) for r in rows] for n in ("mohm_m", "conductor_mm", "outer_mm"))
    limits = np.array([[INSULATION_DEGC], [INSULATION_DEGC + SHORT_TIME_K]])
    most = ampacity_a(limits, np.array(cold) * 1e-3 * by_copper, metal.rise_per_k, inner, outer, AMBIENT_DEGC, 2)
    stands, burns = ({row.name: float(a) for row, a in zip(rows, line, strict=True)} for line in most)
    mine = {row.name: tried(row) for row in rows if row.series == series}
    least = next((name for name, one in mine.items() if not one.fails), "")
    name = size or least or max(mine, key=lambda name: mine[name].area_mm2)
    row = next((row for row in rows if row.name == name), None)
    if row is None:
        raise InputError("cable size", name, ", ".join(r.name for r in rows))
    ohm, here = loop(row), tried(row)
    source = source_ohm + ohm
    facts = SpeakerCable(
        row.name, row.area_mm2, way, length_m is None, ohm, here.loss_db, load_ohm / source if source else None,
        None if re_ohm is None else (re_ohm + source) / re_ohm, (load_ohm + ohm) / load_ohm,
        load_ohm / (load_ohm + ohm), least, tuple(mine.values()), (),
    )  # fmt: skip
    checks = [_size_check(facts, here, load_ohm, current_a, loss_db, row)]
    if length_m is None:
        checks.append(_length_check(facts, load_ohm, loss_db))
    return replace(facts, checks=tuple(checks))


def _size_check(
    cable: SpeakerCable, here: SpeakerTried, load_ohm: float, current_a: float | None, loss_db: float, row: CableSizeRow
) -> Check:
    numbers = (
        ("size", cable.size, "size"), ("l", cable.length_m, "m"), ("z", load_ohm, "ohm"), ("loss", here.loss_db, "dB"),
        ("low", f"{100 * (cable.low_pass_factor - 1):.1f} %", ""), ("least", cable.least, "size"), ("stands", here.ampacity_a, "A"),
        ("damping", cable.damping_factor or 0.0, ""), ("i", current_a or 0.0, "A"),
    )  # fmt: skip
    said = "{size}, {l} one way, into {z}: {loss}; a crossover before it moves by {low}"
    if cable.damping_factor is not None:
        said += ", damping factor {damping}"
    remedy = ""
    if "heat" in here.fails and current_a is not None:
        said = "{size} is rated {stands}; the output's rated power into {z} is {i}"
        said += ": at that it would burn" if "burns" in here.fails else ""
    if here.fails:
        remedy = "Take {least}" if cable.least else "A shorter way, or two pairs side by side: no single size will do"
    steps = [
        CalculationLine("Rc", "out and back", cable.loop_ohm, "ohm", row.cited),
        CalculationLine("Z", "rated load", load_ohm, "ohm"),
        CalculationLine("20 lg Z/(Z + Rc)", "loss", here.loss_db, "dB", "Ohm's law"),
        CalculationLine("Z/(Rs + Rc)", "damping factor", cable.damping_factor, ""),
        CalculationLine("(Re + Rs + Rc)/Re", "Qes grows by", cable.qes_factor, "", _SMALL),
        CalculationLine("(Z + Rc)/Z", "a first-order low-pass before it moves by", cable.low_pass_factor, ""),
        CalculationLine("Z/(Z + Rc)", "a first-order high-pass before it moves by", cable.high_pass_factor, ""),
    ]
    least_mm2 = next((one.area_mm2 for one in cable.tried if one.size == cable.least), 0.0)
    steps += [
        CalculationLine(one.size, _why(one, loss_db, current_a), one.loss_db, "dB")
        for one in cable.tried
        if one.area_mm2 <= max(cable.area_mm2, least_mm2)
    ]
    return check_of(
        "power.speaker-cable", "stop" if "burns" in here.fails else "caution" if here.fails else "ok", said, remedy, numbers,
        (here.loss_db, -loss_db, "dB"), tuple(steps), ("Ohm's law", row.cited, _HEAT, PRACTICE), key="speaker_cable",
    )  # fmt: skip


def _why(one: SpeakerTried, loss_db: float, current_a: float | None) -> str:
    words = {
        "loss": f"loses more than {loss_db:g} dB",
        "burns": f"passes its insulation's class by more than {SHORT_TIME_K:g} K",
        "heat": f"is rated {one.ampacity_a:.1f} A of {current_a or 0:.1f} A",
    }
    return "; ".join(words[why] for why in one.fails) or "will do"


def _length_check(cable: SpeakerCable, load_ohm: float, loss_db: float) -> Check:
    """What the guess does: loss by the meter, and how long this size may get."""
    by_meter = cable.loop_ohm / cable.length_m
    reach = load_ohm * (10 ** (loss_db / 20) - 1) / by_meter
    more = 20 * log10((load_ohm + cable.loop_ohm) / (load_ohm + cable.loop_ohm + by_meter))
    numbers = (
        ("l", cable.length_m, "m"), ("one", 1.0, "m"), ("m", -more, "dB"), ("size", cable.size, "size"),
        ("reach", reach, "m"),
    )  # fmt: skip
    return check_of(
        "power.length", "caution", "Not measured yet: {l} is a guess. Another {one} loses {m}; {size} reaches {reach}",
        "Lay a string where the pair will go, and measure that", numbers, (cable.length_m, reach, "m"),
        (CalculationLine("r", "resistance of a meter of pair", by_meter, "ohm"),), key="speaker_cable", part="speaker",
    )  # fmt: skip
