"""What a run of speaker cable does: loss, damping, and where a crossover on the other side of it lands.

With Rc out and back: loss 20 lg Z/(Z + Rc), damping factor Z/(Rs + Rc), Qes' = Qes (Re + Rs + Rc)/Re (Small 1972,
J. AES 20:383; from memory), a first-order corner before the cable moves by (Z + Rc)/Z (low-pass) or its inverse
(high-pass).  The least size is the thinnest whose loss passes and which stands the output's rated current.
Inductance of the cable is left out: about 0.6 uH/m (from memory), 0.04 dB at 20 kHz for 5 m into 4 ohm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, log10

import numpy as np

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.power.cable import AMBIENT_DEGC, GUESS_M, INSULATION_DEGC, sizes_of
from backwave.power.heat import ampacity_a
from backwave.power.protection import SHORT_TIME_K
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped

LOSS_DB = 0.3  # loss that is let pass (common trade practice: a fifth of a dB to half of one is not heard)
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
    """What a pair does; its resistance at 20 degC.

    `length_m`: one way, above 0; None is a guess of 5 m, with what it does; `size`: name of a size of the stock;
    "" takes the least of the series that will do; `current_a`: rated current of the output, which it has to stand;
    None where nobody rated it; InputError: A length, load or current that is not above 0, an unknown size or
    conductor.
    """
    for what, value in (
        ("length of the speaker cable, m", length_m),
        ("load, ohm", load_ohm),
        ("largest loss, dB", loss_db),
        ("current of the speaker cable, A", current_a),
    ):
        if value is not None and not (value > 0 and isfinite(value)):
            raise InputError(what, value, "a finite number above 0")
    stock = stock or shipped()
    metals = {r.name: r for r in stock.rows("conductor") if isinstance(r, ConductorRow)}
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
    row = _pick(rows, size or least or max(mine, key=lambda name: mine[name].area_mm2))
    ohm, here = loop(row), tried(row)
    source = source_ohm + ohm
    facts = SpeakerCable(
        row.name, row.area_mm2, way, length_m is None, ohm, here.loss_db,
        load_ohm / source if source else None,
        None if re_ohm is None else (re_ohm + source) / re_ohm,
        (load_ohm + ohm) / load_ohm,
        load_ohm / (load_ohm + ohm),
        least, tuple(mine.values()), (),
    )  # fmt: skip
    checks = [_size_check(facts, here, load_ohm, current_a, loss_db, row)]
    if length_m is None:
        checks.append(_length_check(facts, load_ohm, loss_db))
    return replace(facts, checks=tuple(checks))


def _size_check(
    cable: SpeakerCable, here: SpeakerTried, load_ohm: float, current_a: float | None, loss_db: float, row: CableSizeRow
) -> Check:
    numbers: list[tuple[str, float | str, str]] = [
        ("size", cable.size, "size"), ("l", cable.length_m, "m"), ("z", load_ohm, "ohm"), ("loss", here.loss_db, "dB"),
        ("low", f"{100 * (cable.low_pass_factor - 1):.1f} %", ""), ("least", cable.least, "size"), ("stands", here.ampacity_a, "A"),
    ]  # fmt: skip
    said = "{size}, {l} one way, into {z}: {loss}; a crossover before it moves by {low}"
    if cable.damping_factor is not None:
        said += ", damping factor {damping}"
        numbers.append(("damping", cable.damping_factor, ""))
    remedy = ""
    if "heat" in here.fails and current_a is not None:
        said = "{size} is rated {stands}; the output's rated power into {z} is {i}"
        said += ": at that it would burn" if "burns" in here.fails else ""
        numbers.append(("i", current_a, "A"))
    if here.fails:
        remedy = "Take {least}" if cable.least else "A shorter way, or two pairs side by side: no single size will do"
    steps = [
        CalculationLine("Rc", "out and back", cable.loop_ohm, "ohm", row.cited),
        CalculationLine("Z", "rated load", load_ohm, "ohm"),
        CalculationLine("20 lg Z/(Z + Rc)", "loss", here.loss_db, "dB", "Ohm's law"),
        CalculationLine("Z/(Rs + Rc)", "damping factor", cable.damping_factor, ""),
        CalculationLine(
            "(Re + Rs + Rc)/Re", "Qes grows by", cable.qes_factor, "", "Small 1972, J. AES 20:383 (from memory)"
        ),
        CalculationLine("(Z + Rc)/Z", "a first-order low-pass before it moves by", cable.low_pass_factor, ""),
        CalculationLine("Z/(Z + Rc)", "a first-order high-pass before it moves by", cable.high_pass_factor, ""),
    ]
    steps += [
        CalculationLine(one.size, _why(one, loss_db, current_a), one.loss_db, "dB")
        for one in cable.tried
        if one.area_mm2 <= max(cable.area_mm2, _area(cable, cable.least))
    ]
    quantities = tuple(numbers)
    return Check(
        "power.speaker-cable",
        "stop" if "burns" in here.fails else "caution" if here.fails else "ok",
        Message(said, quantities),
        here.loss_db,
        -loss_db,
        "dB",
        remedy=Message(remedy, quantities) if remedy else None,
        working=tuple(steps),
        sources=("Ohm's law", row.cited, _HEAT, PRACTICE),
        key="speaker_cable",
    )


def _area(cable: SpeakerCable, name: str) -> float:
    return next((one.area_mm2 for one in cable.tried if one.size == name), 0.0)


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
        ("l", cable.length_m, "m"),
        ("one", 1.0, "m"),
        ("m", -more, "dB"),
        ("size", cable.size, "size"),
        ("reach", reach, "m"),
    )
    return Check(
        "power.length",
        "caution",
        Message("Nobody measured this run: {l} is a guess. Another {one} loses {m}; {size} reaches {reach}", numbers),
        cable.length_m,
        reach,
        "m",
        remedy=Message("Lay a string where the pair will go, and measure that"),
        working=(CalculationLine("r", "resistance of a meter of pair", by_meter, "ohm"),),
        sources=(PRACTICE,),
        key="speaker_cable",
        part="speaker",
    )


def _pick(rows: Sequence[CableSizeRow], size: str) -> CableSizeRow:
    for row in rows:
        if row.name == size:
            return row
    raise InputError("cable size", size, ", ".join(r.name for r in rows))
