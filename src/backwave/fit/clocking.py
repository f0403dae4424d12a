"""How far to turn a driver so that its holes keep clear of the factory's fixings and of the flange's edge.

A gap cannot change faster with the turn than its ends move about the axis, so a cell of turns whose middle is too
low by more than that cannot hold the best: such cells are dropped, the rest divided (the Piyavskii-Shubert bound
for a Lipschitz function), and the last brackets closed in on.  A round edge about the axis limits every turn alike;
it bounds the gap and leaves the choice to the rest.  Millimeters, degrees.

Errors of the holes' positions are not carried here: the required gap has to allow for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, radians

import numpy as np
from numpy.typing import NDArray

from backwave.budget import checkpoint
from backwave.finding import CalculationLine, Check, Quantities, Verdict, check_of
from backwave.fit.bolt_pattern import SAME_MM, Bar, Hole, KeepOff, Pattern, period_deg
from backwave.shape import Outline

Array = NDArray[np.float64]
Point = tuple[float, float]

DIRECTIONS = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}

_CELL_DEG = 0.5  # first cells
_SPLIT = 8  # each is divided into so many
_TOPS = 60  # brackets closed in on
_FINEST = 1e-5  # radians: half of the last cells
_MOST = 1000  # cells divided at once, the most promising; more only where all turns are alike to some 0.04 mm
_ALIKE_MM = 0.01  # nobody can tell these apart: terminals decide
_NEAR_DEG = 45.0  # terminals count as "where you asked" within this


@dataclass(frozen=True)
class Clocking:
    """The turn taken, and what it leaves."""

    angle_deg: float  # added to every angle of the driver, 0 up to 360
    # least distance edge to edge at that turn, negative where holes overlap; None where nothing limits it
    gap_mm: float | None
    # the turn with the greatest such distance, the smallest of equals; None where all turns are alike
    best_deg: float | None
    best_gap_mm: float | None  # the greatest distance any turn leaves; None where nothing limits it
    period_deg: float  # the pattern repeats after it
    # every range of turns that keeps the required gap, `low` within 0 and the period; `high` may lie beyond the
    # period where a range runs across it
    allowed_deg: tuple[Point, ...]
    required_mm: float  # the gap asked for
    # (x, y), the two ends of the least distance, on the driver's hole and on what it is nearest to
    gap_from_mm: Point | None = None
    gap_to_mm: Point | None = None  # (x, y)
    nearest: tuple[str, str] | None = None  # (hole, thing), names of the two
    # where the terminals end up, as seen from the cabin; None where their angle is not known
    terminals_deg: float | None = None
    toward_deg: float = DIRECTIONS["down"]  # where they were asked for


def clock(
    holes: Sequence[Hole], fixings: Sequence[KeepOff] = (), edge: Outline | None = None, *, required_mm: float = 3.0,
    terminals_deg: float | None = None, toward_deg: float = DIRECTIONS["down"], turn_deg: float | None = None,
    bar: Bar | None = None, bar_wall_mm: float = 0.0,
) -> Clocking:  # fmt: skip
    """Every turn that keeps the required gap, the best of all, and the one to take. Among turns that keep the gap and
    bring the terminals to within 45 degrees of where they were asked for, the one with the widest gap (holes are never
    quite where they were measured); where there is none such, the one that brings them nearest; where none keeps the
    gap, or the terminals are all round, the best. `holes`, mm; `fixings`, mm; `edge`, mm; `terminals_deg`: the driver's
    own angle of its terminals; None: not known, or all round; `toward_deg`: where they should end up; see `DIRECTIONS`;
    `turn_deg`: A turn that is decided already; it is judged, and the best is still found; `bar`, `bar_wall_mm`, mm: A
    notch, and the wall it keeps instead of the required gap; InputError: no holes, or none away from the axis."""
    pattern = Pattern(holes, fixings, edge, bar, required_mm - bar_wall_mm)
    period_in_deg = period_deg(holes) if bar is None or not bar.turns else 360.0
    period = radians(period_in_deg)
    best: float | None = None
    alike: tuple[float, ...] = ()
    best_gap = None if pattern.cap_mm == float("inf") else pattern.cap_mm
    allowed: tuple[Point, ...] = ((0.0, period_in_deg),)
    if pattern.varies:
        turns, gaps = _samples(pattern, period, required_mm)
        best, top, alike = _best(pattern, turns, gaps, period)
        near = pattern.near(best)
        best_gap = min(top, pattern.cap_mm) if bar is None or near is None else near.gap_mm
        allowed = _ranges(pattern.gap_mm, turns, gaps, period, required_mm)
    if pattern.cap_mm < required_mm:
        allowed = ()
    if turn_deg is not None:
        turn = turn_deg % 360.0
    else:
        roomy = _roomy(pattern, alike, required_mm, period_in_deg, terminals_deg, toward_deg)
        turn = roomy if roomy is not None else _choose(best, alike, allowed, period_in_deg, terminals_deg, toward_deg)
    found = Clocking(
        angle_deg=0.0, gap_mm=None, best_deg=best, best_gap_mm=best_gap, period_deg=period_in_deg, allowed_deg=allowed,
        required_mm=required_mm, terminals_deg=terminals_deg, toward_deg=toward_deg % 360.0,
    )  # fmt: skip
    return _turned(found, turn, pattern)


def at_turn(
    clocking: Clocking, turn_deg: float, holes: Sequence[Hole], fixings: Sequence[KeepOff], edge: Outline | None
) -> Clocking:
    """The same driver at another turn, among the same fixings and within the same edge."""
    turn = turn_deg % 360.0
    return clocking if turn == clocking.angle_deg else _turned(clocking, turn, Pattern(holes, fixings, edge))


def _turned(clocking: Clocking, turn: float, pattern: Pattern) -> Clocking:
    near, at = pattern.near(turn), clocking.terminals_deg
    return replace(
        clocking, angle_deg=turn, gap_mm=None if near is None else near.gap_mm,
        gap_from_mm=None if near is None else near.start_mm, gap_to_mm=None if near is None else near.end_mm,
        nearest=None if near is None else near.names,
        terminals_deg=None if at is None else (at - clocking.angle_deg + turn) % 360.0,
    )  # fmt: skip


def _samples(pattern: Pattern, period: float, required: float) -> tuple[Array, Array]:
    """Turns and gaps over one period, dense wherever the best or an end of a range may lie."""
    count = ceil(period / radians(_CELL_DEG))
    half = period / count / 2.0
    middles: Array = np.linspace(half, period - half, count)
    steps = (np.arange(_SPLIT) + 0.5) * 2.0 / _SPLIT - 1.0
    turns, gaps, best = [], [], -float("inf")
    while True:
        checkpoint()
        gap, low, high = pattern.bounds_mm(middles, half)
        turns.append(middles)
        gaps.append(gap)
        best = max(best, float(gap.max(initial=best)))
        open_ = np.flatnonzero((high >= best) | ((low <= required) & (required <= high)))
        if half <= _FINEST or not len(open_):
            break
        if len(open_) > _MOST:
            open_ = open_[np.argpartition(-high[open_], _MOST)[:_MOST]]
        middles = (middles[open_, None] + steps * half).ravel()
        half /= _SPLIT
    turn, value = np.concatenate(turns), np.concatenate(gaps)
    order = np.argsort(turn)
    return turn[order], value[order]


def _best(pattern: Pattern, turns: Array, gaps: Array, period: float) -> tuple[float, float, tuple[float, ...]]:
    """The best turn in degrees, its gap, and the turns that leave no less to speak of."""
    around = np.concatenate([turns[-1:] - period, turns, turns[:1] + period])
    value = np.concatenate([gaps[-1:], gaps, gaps[:1]])
    tops = np.flatnonzero((value[1:-1] >= value[:-2]) & (value[1:-1] >= value[2:])) + 1
    # A top lower than this cannot rise above the highest within its bracket of the finest cells.
    tops = tops[value[tops] >= value.max() - 2.0 * _ALIKE_MM]
    tops = tops[np.argsort(-value[tops], kind="stable")[:_TOPS]]
    low, high, peak, height = around[tops - 1], around[tops + 1], around[tops], value[tops]
    live = np.arange(len(tops))
    for _ in range(12):
        grid = low[live, None] + (high - low)[live, None] * np.linspace(0.0, 1.0, 17)
        found = pattern.gap_mm(grid.ravel()).reshape(grid.shape)
        at, rows = found.argmax(axis=1), np.arange(len(live))
        peak[live], height[live] = grid[rows, at], found[rows, at]
        low[live], high[live] = grid[rows, np.maximum(at - 1, 0)], grid[rows, np.minimum(at + 1, 16)]
        live = live[height[live] + pattern.reach_mm * (high - low)[live] >= height.max()]
    peak = np.rad2deg(peak)
    top = float(height.max())
    tidy = np.round(peak, 6)  # 45 rather than 44.99999998, where that costs nothing
    peak = np.where(pattern.gap_mm(np.radians(tidy)) >= height - SAME_MM / 10.0, tidy, peak) % np.rad2deg(period)
    equal = peak[height >= top - SAME_MM]
    return float(equal.min()), top, tuple(sorted({float(p) for p in peak[height >= top - _ALIKE_MM]}))


def _ranges(
    gap: Callable[[Array], Array], turns: Array, gaps: Array, period: float, required: float
) -> tuple[Point, ...]:
    """Ranges in degrees where the gap is kept; their ends lie on the side that keeps it."""
    kept = gaps >= required
    if kept.all():
        return ((0.0, float(np.degrees(period))),)
    if not kept.any():
        return ()
    after = np.append(turns[1:], turns[0] + period)
    change = np.flatnonzero(kept != np.roll(kept, -1))
    inside = np.where(kept[change], turns[change], after[change])
    outside = np.where(kept[change], after[change], turns[change])
    for _ in range(40):
        middle = (inside + outside) / 2.0
        keeps = gap(middle) >= required
        inside, outside = np.where(keeps, middle, inside), np.where(keeps, outside, middle)
    rising = ~kept[change]
    lows, highs = np.sort(inside[rising] % period), inside[~rising] % period
    found = []
    for low in lows:
        width = float(((highs - low) % period).min())
        found.append((float(np.degrees(low)), float(np.degrees(low + width))))
    return tuple(found)


def _roomy(
    pattern: Pattern, alike: Sequence[float], required: float, period: float, terminals: float | None, toward: float
) -> float | None:
    """The turn with the widest gap among those that point the terminals about where they were asked for."""
    if terminals is None or pattern.cap_mm < required:
        return None
    wanted = (toward - terminals) % 360.0
    copies = [turn + k * period for turn in alike for k in range(round(360.0 / period))]
    near = [(turn - wanted + 180.0) % 360.0 - 180.0 for turn in copies]
    offs = np.array([*np.linspace(-_NEAR_DEG, _NEAR_DEG, 721), *(off for off in near if abs(off) <= _NEAR_DEG)])
    gaps = pattern.gap_mm(np.radians(wanted + offs))
    kept = gaps >= required
    if not kept.any():
        return None
    offs, gaps = offs[kept], gaps[kept]
    roomiest = offs[gaps >= gaps.max() - _ALIKE_MM]
    off = float(roomiest[np.abs(roomiest).argmin()])
    return (wanted + off) % 360.0


def _choose(
    best: float | None, alike: Sequence[float], allowed: Sequence[Point], period: float, terminals: float | None,
    toward: float,
) -> float:  # fmt: skip
    """The turn to take."""
    if terminals is None:
        return best or 0.0
    wanted = (toward - terminals) % 360.0
    ranges = allowed or [(turn, turn) for turn in alike]
    tried: list[tuple[float, float]] = []
    for low, high in ranges:
        for k in range(round(360.0 / period)):
            past = (wanted - low - k * period) % 360.0
            if past <= high - low or high - low >= 360.0:
                return wanted
            short = 360.0 - past  # from the target on to the range's low end
            over = past - (high - low)  # from its high end on to the target
            tried.append((short, low + k * period) if short <= over else (over, high + k * period))
    return min(tried, key=lambda t: (round(t[0], 6), t[1]))[1] if tried else wanted


def clocking_checks(clocking: Clocking) -> tuple[Check, ...]:
    """What to tell a person: the gap at the turn taken, and where the terminals end up. `clocking`, deg and mm."""
    checks = []
    if clocking.gap_mm is not None and clocking.nearest is not None:
        checks.append(_gap_check(clocking, clocking.gap_mm, clocking.nearest))
    if clocking.terminals_deg is not None:
        checks.append(_terminals_check(clocking, clocking.terminals_deg))
    return tuple(checks)


def _gap_check(clocking: Clocking, gap: float, nearest: tuple[str, str]) -> Check:
    required, best, best_gap = clocking.required_mm, clocking.best_deg, clocking.best_gap_mm
    kept = gap >= required - SAME_MM
    verdict: Verdict = "ok" if kept else "caution" if gap >= 0.0 else "stop"
    shown: Quantities = (
        ("gap", abs(gap), "mm"), ("turn", clocking.angle_deg, "deg"), ("hole", nearest[0], ""), ("thing", nearest[1], ""),
        ("required", required, "mm"),
    )  # fmt: skip
    working = [
        CalculationLine("turn", "added to every angle of the driver", clocking.angle_deg, "deg"),
        CalculationLine("gap", f"least distance edge to edge, {nearest[0]} to {nearest[1]}", gap, "mm"),
        CalculationLine("required", "gap asked for", required, "mm", "the job; its default is common trade practice"),
        CalculationLine("period", "turn after which the driver's holes repeat", clocking.period_deg, "deg"),
    ]
    if best is not None and best_gap is not None:
        shown += (("best", best, "deg"), ("best_gap", best_gap, "mm"))
        working += [
            CalculationLine("best", "turn that leaves the most of all", best, "deg"),
            CalculationLine("best gap", "what it leaves", best_gap, "mm"),
        ]
    for low, high in clocking.allowed_deg:
        working.append(CalculationLine("from", "turns that keep the gap begin here", low, "deg"))
        working.append(CalculationLine("to", "and end here", high, "deg"))
    remedy = ""
    if not kept and best_gap is not None and (best_gap >= required - SAME_MM or gap < 0.0 <= best_gap):
        remedy = "Turn the driver to {best} instead: that leaves {best_gap}."
    elif not kept:
        remedy = (
            "No turn keeps {required}. Take screws with smaller heads, a driver with another bolt circle, or fasten "
            "the part at other points."
        )
    meets = "clears" if gap >= 0.0 else "runs into"
    return check_of(
        "fit.clocking", verdict, f"Turned {{turn}}, {{hole}} {meets} {{thing}} by {{gap}}", remedy, shown,
        (gap, required, "mm"), tuple(working), ("plane geometry", "common trade practice (the gap asked for)"), "turn",
    )  # fmt: skip


def _terminals_check(clocking: Clocking, at: float) -> Check:
    off = abs((at - clocking.toward_deg + 180.0) % 360.0 - 180.0)
    near = off <= _NEAR_DEG
    shown = (("at", at, "deg"), ("asked", clocking.toward_deg, "deg"), ("off", off, "deg"))
    title = "Terminals end up at {at}" if near else "Terminals end up at {at}, {off} from where you asked"
    remedy = (
        "The turn taken leaves them there. Keep them off the drip line, or put a hood over them "
        "and lead the wire away in a drip loop."
    )
    return check_of(
        "fit.terminals-side", "ok" if near else "caution", title, "" if near else remedy, shown, (off, _NEAR_DEG, "deg"),
        (
            CalculationLine("at", "direction of the terminals as seen from the cabin, from +x toward +y", at, "deg"),
            CalculationLine("asked", "where they were asked for (270 deg is down)", clocking.toward_deg, "deg"),
            CalculationLine("off", "between the two", off, "deg"),
        ),
        key="terminals_to",
    )  # fmt: skip
