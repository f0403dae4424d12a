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

from backwave.assumptions import Assumed
from backwave.errors import InputError
from backwave.power.cable_checks import clad_check, length_check, size_check
from backwave.power.heat import ampacity_a, conductor_degc
from backwave.power.inputs import CableRun
from backwave.power.results import CableChoice, SizeTried
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped

__all__ = [
    "BODY_OHM",
    "DROP_LIMIT",
    "GROUND_M",
    "GUESS_M",
    "choose_cable",
    "choose_cables",
    "filled",
    "lengths_m",
    "sizes_of",
]

Real = NDArray[np.float64]
DROP_LIMIT = 0.03
"""Drop out and back by the supply (common trade practice; 3 % is what marine charts after ABYC E-11 take for what must not fail)."""
BODY_OHM = 1e-3
"""Of a sound steel body between two bare-metal points (common trade practice)."""
GUESS_M, GROUND_M, INSULATION_DEGC, AMBIENT_DEGC = 5.0, 0.5, 70.0, 60.0


def lengths_m(run: CableRun) -> tuple[float, float]:
    """Length and return length of a run, given or taken.

    Parameters
    ----------
    run : CableRun, no unit
        The run.

    Returns
    -------
    (float, float), m
    """
    out = GUESS_M if run.length_m is None else run.length_m
    return out, run.ground_m if run.ground_m is not None else GROUND_M if run.body else out


def filled(run: CableRun) -> tuple[float, float, float, float, tuple[Assumed, ...]]:
    """Length, return length, insulation and ambient of a run, with what was taken for what nobody gave.

    Parameters
    ----------
    run : CableRun, no unit
        The run.

    Returns
    -------
    (m, m, degC, degC, tuple of Assumed)
    """
    assumed = []

    def take(key: str, given: float | None, default: float, unit: str, why: str) -> float:
        if given is not None:
            return given
        assumed.append(Assumed(key, default, unit, why))
        return default

    length, ground = lengths_m(run)
    take("length", run.length_m, length, "m", "a guess: measure along the way the cable goes")
    why = "a short lead to the body" if run.body else "a pair: back is as long as out"
    take("ground.length", run.ground_m, ground, "m", why)
    insulation = take(
        "insulation", run.insulation_degc, INSULATION_DEGC, "degC", "plain PVC; better says so on its jacket"
    )
    ambient = take(
        "ambient",
        run.ambient_degc,
        AMBIENT_DEGC,
        "degC",
        "floor of a parked vehicle in the sun (common trade practice)",
    )
    if run.body:
        assumed.append(
            Assumed(
                "body", BODY_OHM, "ohm", "a sound steel body between bare-metal points (common trade practice)"
            )
        )
    if run.bundle == 1:
        assumed.append(Assumed("bundle", 1.0, "", "alone in free air; under carpet or in a loom it gets hotter"))
    return length, ground, insulation, ambient, tuple(assumed)


def sizes_of(stock: Stock | None = None, series: str = "") -> tuple[CableSizeRow, ...]:
    """Standard sizes, rising.

    Parameters
    ----------
    stock : Stock or None, no unit
        Tables; None is those that ship.
    series : str, no unit
        "metric", "awg" or "" for both.

    Raises
    ------
    InputError
        No size of that series.
    """
    rows = [
        r for r in (stock or shipped()).rows("cable") if isinstance(r, CableSizeRow) and series in ("", r.series)
    ]
    if not rows:
        raise InputError("series of cable sizes", series, "metric or awg")
    return tuple(sorted(rows, key=lambda r: (r.series != "metric", r.area_mm2)))


def choose_cable(
    run: CableRun,
    current_a: float,
    fuse_a: float | None = None,
    supply_v: float = 12.6,
    drop_limit: float = DROP_LIMIT,
    series: str = "metric",
    stock: Stock | None = None,
) -> CableChoice:
    """The least size for one run.

    Parameters
    ----------
    run : CableRun, no unit
        Where it goes.
    current_a : float, A
        Steady current it is laid out for, above 0.
    fuse_a : float or None, A
        Fuse at its head; None where what feeds it cannot deliver more than `current_a`.
    supply_v : float, V
        Drop is a share of this.
    drop_limit : float, no unit
        Largest share, above 0 and below 1.
    series : str, no unit
        "metric" or "awg".
    stock : Stock or None, no unit
        Tables; None is those that ship.

    Raises
    ------
    InputError
        A current, voltage or limit outside its range, or a size that the stock does not have.
    """
    return choose_cables((run,), (current_a,), (fuse_a,), supply_v, drop_limit, series, stock)[0]


@dataclass(frozen=True)
class _Judged:
    """All runs (rows) in all sizes (columns)."""

    out_m: Real
    hot_m: Real  # ohm/m
    cold: Real  # ohm, out alone at 20 degC
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
    """The least size for each of many runs, in one go.

    Parameters
    ----------
    runs : (n_run,) sequence of CableRun, no unit
        Where they go.
    current_a : (n_run,) sequence of float, A
        Steady currents they are laid out for, above 0.
    fuse_a : (n_run,) sequence of float or None, A
        Fuses at their heads.
    supply_v : float, V
        Drop is a share of this.
    drop_limit : float or (n_run,) sequence of float, no unit
        Largest share, above 0 and below 1.
    series : str, no unit
        "metric" or "awg": the series chosen from; the other is named beside it.
    stock : Stock or None, no unit
        Tables; None is those that ship.

    Raises
    ------
    InputError
        A current, voltage or limit outside its range, or a size that the stock does not have.
    """
    for current in (*current_a, *(f for f in fuse_a if f is not None)):
        if not (np.isfinite(current) and current > 0):
            raise InputError("current of a cable, A", current, "a finite number above 0")
    share = np.broadcast_to(np.asarray(drop_limit, dtype=float), (len(runs),))
    if not ((share > 0) & (share < 1)).all():
        raise InputError("largest drop", drop_limit, "a share above 0 and below 1")
    if not (np.isfinite(supply_v) and supply_v > 0):
        raise InputError("supply, V", supply_v, "a finite number above 0")
    sizes_of(stock, series)
    sizes = sizes_of(stock)
    names = {"", *(s.name for s in sizes)}
    for run in runs:
        if run.size not in names:
            raise InputError("cable size", run.size, ", ".join(sorted(names - {""})))
    given = [filled(run) for run in runs]
    judged = _judge(runs, given, np.array(current_a, dtype=float), sizes, stock or shipped())
    fuses = np.array([0.0 if f is None else f for f in fuse_a])[:, None]
    limit = np.array([g[2] for g in given])[:, None]
    fails = np.stack(
        [judged.drop > share[:, None] * supply_v, ~(judged.degc <= limit), judged.stands < fuses], axis=-1
    )
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
    metals = {r.name: r for r in stock.rows("conductor") if isinstance(r, ConductorRow)}
    metal = [metals[run.material] for run in runs]
    column = np.array([[g[0], g[0] + g[1], g[2], g[3]] for g in given]).reshape(len(runs), 4, 1)
    out, path, limit, air = column[:, 0], column[:, 1], column[:, 2], column[:, 3]
    against_copper = np.array([m.resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m for m in metal])[
        :, None
    ]
    rise = np.array([m.rise_per_k for m in metal])[:, None]
    cold = np.array([s.mohm_m for s in sizes]) * 1e-3 * against_copper
    inner, outer = np.array([s.conductor_mm for s in sizes]), np.array([s.outer_mm for s in sizes])
    bundle = np.array([run.bundle for run in runs])[:, None]
    degc = conductor_degc(current[:, None], cold, rise, inner, outer, air, bundle)
    stands = ampacity_a(limit, cold, rise, inner, outer, air, bundle)
    body = np.array([BODY_OHM if run.body else 0.0 for run in runs])[:, None]
    hot = cold * (1 + rise * (np.where(np.isnan(degc), limit, degc) - 20))
    loop = path * hot + body
    return _Judged(out, hot, out * cold, loop, current[:, None] * loop, degc, stands)


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
            s.name,
            s.area_mm2,
            s.name.removeprefix("AWG ") if s.series == "awg" else "",
            float(judged.loop[k, j]),
            float(judged.drop[k, j]),
            None if np.isnan(judged.degc[k, j]) else float(judged.degc[k, j]),
            float(judged.stands[k, j]),
            tuple(why for why, bad in zip(("drop", "heat", "fuse"), fails[k, j]) if bad),
        )
        for j, s in enumerate(sizes)
    ]
    mine = [j for j, s in enumerate(sizes) if s.series == series]
    # Where nothing keeps the drop, the thickest that is safe; where nothing is safe, none.
    good = next((j for j in mine if not tried[j].fails), None)
    pick = good if good is not None else next((j for j in reversed(mine) if tried[j].fails == ("drop",)), None)
    better = ""
    if run.size:
        there = next(j for j, t in enumerate(tried) if t.name == run.size)
        better = tried[pick].name if pick is not None and tried[there].fails and pick != there else ""
        pick, mine = there, [j for j, s in enumerate(sizes) if s.series == sizes[there].series]
    best = None if pick is None else tried[pick]
    gauge = (
        best.awg if best is not None and best.awg else next((t.awg for t in tried if t.awg and not t.fails), "")
    )
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
        size="" if best is None else best.name,
        current_a=current,
        length_m=length,
        area_mm2=None if best is None else best.area_mm2,
        awg=gauge,
        drop_v=None if best is None else best.drop_v,
        drop_fraction=None if best is None else best.drop_v / supply_v,
        conductor_degc=None if best is None else best.conductor_degc,
        ampacity_a=None if best is None else best.ampacity_a,
        fuse_a=fuse,
        loop_ohm=None if best is None else best.loop_ohm,
        feed_ohm=None if pick is None else float(judged.out_m[k, 0] * judged.hot_m[k, pick]),
        cold_ohm=None if pick is None else float(judged.cold[k, pick]),
        tried=series_tried,
        assumed=assumed,
        checks=tuple(checks),
    )
