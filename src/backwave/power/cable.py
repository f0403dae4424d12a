"""The least standard size of cable that keeps drop, temperature and fuse together, and why each smaller one fails.

    drop = I (L + G) r20 (1 + a (Tc - 20)) + I R_body

with the conductor's temperature Tc by the heat balance of `heat`, at the current it is laid out for.  A fuse protects
a cable where its rating is no more than the current that heats the cable to its insulation's limit in its place
(IEC 60364-4-43: rated current of the fuse at most that of the cable; from memory).  All sizes at once, all runs at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, Assumed, CalculationLine, Check, Quantities, Verdict, check_of
from backwave.power.heat import ampacity_a, conductor_degc
from backwave.power.types import CableChoice, CableRun, SizeTried
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped

Real = NDArray[np.float64]
# drop out and back by the supply (common trade practice; 3 % is what marine charts after ABYC E-11 take for what
# must not fail)
DROP_LIMIT = 0.03
BODY_OHM = 1e-3  # of a sound steel body between two bare-metal points (common trade practice)
OVERLOAD = 1.35  # of its rating that a fuse may carry for half an hour (ISO 8820-3; from memory)
GUESS_M, GROUND_M, INSULATION_DEGC, AMBIENT_DEGC = 5.0, 0.5, 70.0, 60.0


def lengths_m(run: CableRun) -> tuple[float, float]:
    """Length and return length of a run, given or taken, m."""
    out = GUESS_M if run.length_m is None else run.length_m
    return out, run.ground_m if run.ground_m is not None else GROUND_M if run.body else out


def filled(run: CableRun) -> tuple[float, float, float, float, tuple[Assumed, ...]]:
    """Length, return length (m), insulation, ambient (degC) of a run; and what was taken for what nobody gave."""
    length, ground = lengths_m(run)
    insulation = INSULATION_DEGC if run.insulation_degc is None else run.insulation_degc
    ambient = AMBIENT_DEGC if run.ambient_degc is None else run.ambient_degc
    back = "a short lead to the body" if run.body else "a pair: back is as long as out"
    rows = (
        (run.length_m is None, "length", length, "m", "a guess: measure along the way the cable goes"),
        (run.ground_m is None, "ground.length", ground, "m", back),
        (run.insulation_degc is None, "insulation", insulation, "degC", "plain PVC; better says so on its jacket"),
        (run.ambient_degc is None, "ambient", ambient, "degC", f"floor of a parked vehicle in the sun ({PRACTICE})"),
        (run.body, "body", BODY_OHM, "ohm", f"a sound steel body between bare-metal points ({PRACTICE})"),
        (run.bundle == 1, "bundle", 1.0, "", "alone in free air; under carpet or in a loom it gets hotter"),
    )
    assumed = [Assumed(key, value, unit, why) for taken, key, value, unit, why in rows if taken]
    return length, ground, insulation, ambient, tuple(assumed)


def sizes_of(stock: Stock | None = None, series: str = "") -> tuple[CableSizeRow, ...]:
    """Sizes, rising: of "metric" or "awg" those that are chosen from; of "" those only sold as well. InputError: no
    size of that series."""
    rows = [r for r in (stock or shipped()).of(CableSizeRow) if series in ("", r.series)]
    if not rows:
        raise InputError("series of cable sizes", series, "metric or awg")
    return tuple(sorted(rows, key=lambda r: (r.series == "awg", r.area_mm2)))


def choose_cable(
    run: CableRun,
    current_a: float,
    fuse_a: float | None = None,
    supply_v: float = 12.6,
    drop_limit: float = DROP_LIMIT,
    series: str = "metric",
    stock: Stock | None = None,
) -> CableChoice:
    """The least size for one run; `drop_limit`, 1, and all else as `choose_cables`."""
    return choose_cables((run,), (current_a,), (fuse_a,), supply_v, drop_limit, series, stock)[0]


@dataclass(frozen=True)
class _Judged:
    """All runs (rows) in all sizes (columns)."""

    out_m: Real
    hot_m: Real  # ohm/m
    cold: Real  # ohm, out alone at 20 degC and of the nominal section
    loop: Real
    drop: Real
    degc: Real
    stands: Real


def choose_cables(
    runs: Sequence[CableRun],
    current_a: Sequence[float],
    fuse_a: Sequence[float | None],
    supply_v: float = 12.6,
    drop_limit: float | Sequence[float] = DROP_LIMIT,
    series: str = "metric",
    stock: Stock | None = None,
) -> tuple[CableChoice, ...]:
    """The least size for each of many runs, in one go. `fuse_a`: at their heads, None where what feeds a run cannot
    deliver more than its current; `drop_limit`, 1: of `supply_v`; `series`: "metric" or "awg", which is chosen from.
    InputError: a number outside its range, an unknown size."""
    for current in (*current_a, *fuse_a):
        check_number("current of a cable, A", current)
    check_number("supply, V", supply_v)
    share = np.broadcast_to(np.asarray(drop_limit, dtype=float), (len(runs),))
    if not ((share > 0) & (share < 1)).all():
        raise InputError("largest drop", drop_limit, "a share above 0 and below 1")
    sizes_of(stock, series)
    sizes = sizes_of(stock)
    names = {"", *(s.name for s in sizes)}
    for size in (size for run in runs for size in (run.size, run.ground_size)):
        if size not in names:
            raise InputError("cable size", size, ", ".join(sorted(names - {""})))
    given = [filled(run) for run in runs]
    judged = _judge(runs, given, np.array(current_a, dtype=float), sizes, stock or shipped())
    fuses = np.array([0.0 if f is None else f for f in fuse_a])[:, None]
    limit = np.array([g[2] for g in given])[:, None]
    drops, heats = judged.drop > share[:, None] * supply_v, ~(judged.degc <= limit)
    fails = np.stack([drops, heats, judged.stands < fuses, judged.stands < OVERLOAD * fuses], axis=-1)
    return tuple(
        _choice(run, given[k], current_a[k], fuse_a[k], supply_v, float(share[k]), series, sizes, judged, fails, k)
        for k, run in enumerate(runs)
    )


def _judge(
    runs: Sequence[CableRun],
    given: Sequence[tuple[float, float, float, float, tuple[Assumed, ...]]],
    current: Real,
    sizes: Sequence[CableSizeRow],
    stock: Stock,
) -> _Judged:
    metals = stock.named(ConductorRow)
    metal = [metals[run.material] for run in runs]
    column = np.array([[g[0], g[1], g[2], g[3]] for g in given]).reshape(len(runs), 4, 1)
    out, back, limit, air = column[:, 0], column[:, 1], column[:, 2], column[:, 3]
    copper = metals["copper"].resistivity_ohm_mm2_m
    rho = np.array([m.resistivity_ohm_mm2_m for m in metal])[:, None]
    rise = np.array([m.rise_per_k for m in metal])[:, None]
    cold = np.array([s.mohm_m for s in sizes]) * 1e-3 * rho / copper
    for k, run in enumerate(runs):
        if run.measured_mohm_m is not None:
            cold[k] = run.measured_mohm_m * 1e-3
    inner, outer = np.array([s.conductor_mm for s in sizes]), np.array([s.outer_mm for s in sizes])
    bundle = np.array([run.bundle for run in runs])[:, None]
    amps = current[:, None]
    degc = conductor_degc(amps, cold, rise, inner, outer, air, bundle)
    stands = ampacity_a(limit, cold, rise, inner, outer, air, bundle)
    body = np.array([BODY_OHM if run.body else 0.0 for run in runs])[:, None]
    hot = cold * (1 + rise * (np.where(np.isnan(degc), limit, degc) - 20))
    loop = out * hot + back * _ground_ohm_m(runs, amps, hot, limit, air, sizes, metals) + body
    nominal = rho / np.array([s.area_mm2 for s in sizes])
    return _Judged(out, hot, out * nominal, loop, amps * loop, degc, stands)


def _ground_ohm_m(
    runs: Sequence[CableRun],
    amps: Real,
    feed_ohm_m: Real,
    limit: Real,
    air: Real,
    sizes: Sequence[CableSizeRow],
    metals: dict[str, ConductorRow],
) -> Real:
    """Of the return that is cable, hot: that of the feed where it is of the same size and metal."""
    found = np.array(np.broadcast_to(feed_ohm_m, (len(runs), len(sizes))))
    by_name = {s.name: s for s in sizes}
    for k, run in enumerate(runs):
        metal = metals[run.ground_material or run.material]
        if not run.ground_size and metal.name == run.material and run.measured_mohm_m is None:
            continue
        rows = [by_name[run.ground_size]] * len(sizes) if run.ground_size else sizes
        cold = np.array([r.mohm_m for r in rows]) * 1e-3
        cold *= metal.resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m
        inner, outer = np.array([r.conductor_mm for r in rows]), np.array([r.outer_mm for r in rows])
        degc = conductor_degc(amps[k], cold, metal.rise_per_k, inner, outer, air[k])
        found[k] = cold * (1 + metal.rise_per_k * (np.where(np.isnan(degc), limit[k], degc) - 20))
    return found


def _choice(
    run: CableRun,
    given: tuple[float, float, float, float, tuple[Assumed, ...]],
    current: float,
    fuse: float | None,
    supply_v: float,
    drop_limit: float,
    series: str,
    sizes: Sequence[CableSizeRow],
    judged: _Judged,
    fails: NDArray[np.bool_],
    k: int,
) -> CableChoice:
    length, _, insulation, ambient, assumed = given
    tried = [
        SizeTried(
            s.name, s.area_mm2, s.name.removeprefix("AWG ") if s.series == "awg" else "", float(judged.loop[k, j]),
            float(judged.drop[k, j]), None if np.isnan(judged.degc[k, j]) else float(judged.degc[k, j]),
            float(judged.stands[k, j]),
            tuple(why for why, bad in zip(("drop", "heat", "fuse", "overload"), fails[k, j]) if bad),
        )
        for j, s in enumerate(sizes)
    ]  # fmt: skip
    mine = [j for j, s in enumerate(sizes) if s.series == series]
    # Where nothing keeps the drop, the thickest that is safe; where nothing is safe, none.
    good = next((j for j in mine if not tried[j].fails), None)
    pick = good
    if good is None:
        pick = next((j for j in reversed(mine) if not set(tried[j].fails) & {"heat", "fuse"}), None)
    better = ""
    if run.size:
        there = next(j for j, t in enumerate(tried) if t.name == run.size)
        better = tried[pick].name if pick is not None and tried[there].fails and pick != there else ""
        kin = series if sizes[there].series == "sold" else sizes[there].series
        pick, mine = there, [j for j, s in enumerate(sizes) if s.series == kin or j == there]
    best = None if pick is None else tried[pick]
    gauge = best.awg if best is not None and best.awg else next((t.awg for t in tried if t.awg and not t.fails), "")
    series_tried = tuple(tried[j] for j in mine)
    limit_v = drop_limit * supply_v
    checks = [size_check(best, series_tried, current, fuse, limit_v, insulation, ambient, better)]
    if run.length_m is None and best is not None:
        both_ways = 2 if run.ground_m is None and not run.body else 1
        by_meter = both_ways * current * float(judged.hot_m[k, pick])
        checks.append(length_check(best.name, length, best.drop_v, by_meter, limit_v))
    if run.material != "copper":
        checks.append(clad_check())
    return CableChoice(
        size="" if best is None else best.name, current_a=current, length_m=length,
        area_mm2=None if best is None else best.area_mm2, awg=gauge, drop_v=None if best is None else best.drop_v,
        drop_fraction=None if best is None else best.drop_v / supply_v,
        conductor_degc=None if best is None else best.conductor_degc,
        ampacity_a=None if best is None else best.ampacity_a, fuse_a=fuse,
        loop_ohm=None if best is None else best.loop_ohm,
        feed_ohm=None if pick is None else float(judged.out_m[k, 0] * judged.hot_m[k, pick]),
        cold_ohm=None if pick is None else float(judged.cold[k, pick]), tried=series_tried, assumed=assumed,
        checks=tuple(checks), given=bool(run.size), fails=() if best is None else best.fails,
    )  # fmt: skip


_HEAT = "Churchill and Chu 1975, convection; radiation; IEC 60028 resistance"


def size_check(
    best: SizeTried | None,
    tried: Sequence[SizeTried],
    current_a: float,
    fuse_a: float | None,
    limit_v: float,
    insulation_degc: float,
    ambient_degc: float,
    better: str = "",
) -> Check:
    """The size of one run, with why each smaller one fails. `best` is None where no size will do; `better`: the least
    that will, where `best` is one already there that will not."""
    smaller = [t for t in tried if best is None or t.area_mm2 < best.area_mm2]
    working = (
        CalculationLine("I", "current it is sized for", current_a, "A"),
        CalculationLine("dU", "drop allowed", limit_v, "V", PRACTICE),
        CalculationLine("Ta", "air around it", ambient_degc, "degC"),
        CalculationLine("T", "what the insulation stands", insulation_degc, "degC"),
        *(() if fuse_a is None else (CalculationLine("F", "fuse at its head", fuse_a, "A"),)),
        *(CalculationLine(t.name, _why(t), t.drop_v, "V", _HEAT) for t in (*smaller, *((best,) if best else ()))),
    )
    if insulation_degc <= ambient_degc:
        verdict: Verdict = "stop"
        said = "The insulation is rated {t}; the air there reaches {air}"
        remedy = "Cable whose insulation stands {better} or more, or a cooler way for it"
        numbers: Quantities = (("t", insulation_degc, "degC"), ("air", ambient_degc, "degC"), ("better", 105.0, "degC"))
    elif best is None or set(best.fails) & {"heat", "fuse"}:
        verdict = "stop"
        said = "No single cable carries {i} here: the thickest is rated {most}"
        if best is not None:
            said = "{size} is rated {most} here; its load and fuse ask for {i}"
        most = max((t.ampacity_a for t in tried), default=0.0) if best is None else best.ampacity_a
        remedy = "Two runs with a fuse each, insulation that stands more heat, or a smaller load"
        size = "" if best is None else best.name
        numbers = (("size", size, "size"), ("i", max(current_a, fuse_a or 0.0), "A"), ("most", most, "A"))
    else:
        assert best.conductor_degc is not None  # else it would fail by heat
        verdict = "caution" if "drop" in best.fails else "ok"
        said = "{size} drops {drop}; {limit} is allowed. Its conductor settles at {t}"
        remedy = "A shorter way, or two runs with a fuse each: the loss costs power, it is no danger"
        numbers = (
            ("size", best.name, "size"), ("drop", best.drop_v, "V"), ("limit", limit_v, "V"), ("t", best.conductor_degc, "degC"),
        )  # fmt: skip
    if better and insulation_degc > ambient_degc:
        remedy, numbers = "Take {better}", (*numbers, ("better", better, "size"))
    return check_of(
        "power.cable", verdict, said, "" if verdict == "ok" else remedy, numbers,
        (None if best is None else best.drop_v, limit_v, "V"), working,
        ("IEC 60228 class 5", "IEC 60028", _HEAT, PRACTICE),
    )  # fmt: skip


def length_check(size: str, length_m: float, drop_v: float, by_meter_v: float, limit_v: float) -> Check:
    """What a guessed length does: drop by the meter, and how long this size may get."""
    reach = length_m + max(0.0, limit_v - drop_v) / by_meter_v
    numbers = (
        ("l", length_m, "m"), ("one", 1.0, "m"), ("m", by_meter_v, "V"), ("size", size, "size"), ("reach", reach, "m"),
    )  # fmt: skip
    return check_of(
        "power.length", "caution", "Not measured yet: {l} is a guess. Another {one} drops {m}; {size} reaches {reach}",
        "Lay a string where the cable will go, and measure that", numbers, (length_m, reach, "m"),
        (
            CalculationLine("I r", "drop per meter", by_meter_v, "V"),
            CalculationLine("L", "longest that keeps the drop", reach, "m"),
        ),
        key="length",
    )  # fmt: skip


def clad_check() -> Check:
    """What copper-clad aluminum asks for."""
    said = "Copper-clad aluminum: it carries less than copper of its size, and its ends creep and corrode"
    remedy = "Take copper, or crimp with lugs made for aluminum and check them after a month"
    sources = ("ASTM B566 class 10A (from memory)", PRACTICE)
    return check_of("power.clad", "caution", said, remedy, sources=sources, key="material")


def _why(tried: SizeTried) -> str:
    words = {
        "drop": "drops too much",
        "heat": "gets too hot",
        "fuse": f"is rated {tried.ampacity_a:.1f} A, less than its fuse",
        "overload": f"is rated {tried.ampacity_a:.1f} A, less than 1.35 times its fuse",
    }
    return "; ".join(words[f] for f in tried.fails) or "will do"
