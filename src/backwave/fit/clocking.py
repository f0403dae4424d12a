"""How far to turn a driver so that its holes keep clear of the factory's fixings and of the flange's edge.

Seen from its front a driver is seen from the cabin, so a turn is simply added to each of its angles.  Its holes
are circles or slots that turn about the axis; fixings (or the counterbores over them) are circles that stay, the
flange's edge is an outline they stay within.  The gap at a turn is the least distance edge to edge, negative where
two overlap.  No point of the pattern moves farther than its radius times the turn, so a cell of turns whose
middle is too low by more than that cannot hold the best: such cells are dropped, the rest divided (the
Piyavskii-Shubert bound for a Lipschitz function), and the last brackets closed in on.  Millimeters, degrees.

Errors of the holes' positions are not carried here: the required gap has to allow for them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, cos, hypot, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import Check, Step, Text, Verdict
from backwave.shape import Outline

__all__ = ["DIRECTIONS", "Clocking", "Hole", "KeepOff", "bolt_circle", "clock", "clocking_checks", "period_deg"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Point = tuple[float, float]

DIRECTIONS = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}

_CELL_DEG = 0.5  # first cells
_SPLIT = 8  # each is divided into so many
_FINEST = 1e-5  # radians: half of the last cells
_SAME_MM = 1e-9  # gaps that differ less are equal
_NEAR_DEG = 45.0  # terminals count as "where you asked" within this


@dataclass(frozen=True)
class Hole:
    """A hole of the driver's frame: round, or a slot.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its middle, the driver seen from its front and not turned.
    diameter_mm : float, mm
        Diameter, or width of a slot.
    length_mm : float, mm
        Length of a slot over its round ends; 0 (or the diameter) for a round hole.
    angle_deg : float, deg
        Direction of a slot's length.
    name : str, no unit
        What to call it ("hole 2").
    """

    x_mm: float
    y_mm: float
    diameter_mm: float
    length_mm: float = 0.0
    angle_deg: float = 0.0
    name: str = "hole"

    def __post_init__(self) -> None:
        if self.diameter_mm <= 0.0:
            raise InputError(f"diameter of {self.name}", self.diameter_mm, "more than 0 mm")

    @property
    def ends_mm(self) -> tuple[complex, complex]:
        """Middles of its two round ends as x + iy; the same twice for a round hole."""
        half = max(0.0, self.length_mm - self.diameter_mm) / 2.0
        along = half * complex(cos(radians(self.angle_deg)), sin(radians(self.angle_deg)))
        middle = complex(self.x_mm, self.y_mm)
        return middle - along, middle + along


@dataclass(frozen=True)
class KeepOff:
    """A circle the driver's holes keep off: a fixing's hole, its head, or the counterbore over it.

    Parameters
    ----------
    x_mm, y_mm : float, mm
        Its middle, as seen from the cabin.
    diameter_mm : float, mm
        Its diameter.
    name : str, no unit
        What to call it ("fixing 1").
    """

    x_mm: float
    y_mm: float
    diameter_mm: float
    name: str = "fixing"


@dataclass(frozen=True)
class Clocking:
    """The turn taken, and what it leaves.

    Parameters
    ----------
    angle_deg : float, deg
        Added to every angle of the driver, 0 up to 360.
    gap_mm : float or None, mm
        Least distance edge to edge at that turn, negative where holes overlap; None where nothing limits it.
    best_deg : float or None, deg
        The turn with the greatest such distance, the smallest of equals; None where nothing limits it.
    best_gap_mm : float or None, mm
        The distance it leaves.
    period_deg : float, deg
        The pattern repeats after it.
    allowed_deg : tuple of (low, high), deg
        Every range of turns that keeps the required gap, `low` within 0 and the period; `high` may lie beyond
        the period where a range runs across it.
    required_mm : float, mm
        The gap asked for.
    gap_from_mm, gap_to_mm : (x, y) or None, mm
        The two ends of the least distance, on the driver's hole and on what it is nearest to.
    nearest : (hole, thing) or None, no unit
        Names of the two.
    terminals_deg : float or None, deg
        Where the terminals end up, as seen from the cabin; None where their angle is not known.
    toward_deg : float, deg
        Where they were asked for.
    asked_deg : float or None, deg
        The turn a person decided on; None where it was free.
    """

    angle_deg: float
    gap_mm: float | None
    best_deg: float | None
    best_gap_mm: float | None
    period_deg: float
    allowed_deg: tuple[Point, ...]
    required_mm: float
    gap_from_mm: Point | None = None
    gap_to_mm: Point | None = None
    nearest: tuple[str, str] | None = None
    terminals_deg: float | None = None
    toward_deg: float = DIRECTIONS["down"]
    asked_deg: float | None = None


def bolt_circle(count: int, circle_mm: float, diameter_mm: float, first_deg: float = 0.0) -> tuple[Hole, ...]:
    """Holes evenly on a circle.

    Parameters
    ----------
    count : int, no unit
        How many.
    circle_mm, diameter_mm : float, mm
        Diameter of the circle and of each hole.
    first_deg : float, deg
        Angle of the first, from +x toward +y, the driver seen from its front.
    """
    angles = [radians(first_deg) + 2.0 * pi * k / count for k in range(count)]
    return tuple(
        Hole(circle_mm / 2.0 * cos(a), circle_mm / 2.0 * sin(a), diameter_mm, name=f"hole {k}")
        for k, a in enumerate(angles, 1)
    )


def period_deg(holes: Sequence[Hole]) -> float:
    """The least turn that carries a pattern into itself, 360 where there is none smaller.

    Parameters
    ----------
    holes : sequence of Hole, mm
        The pattern.
    """
    ends = np.array([h.ends_mm for h in holes])
    sizes = np.array([h.diameter_mm for h in holes])
    for order in range(len(holes), 1, -1):
        turned = ends * np.exp(2j * pi / order)
        apart = np.abs(turned[:, None] - ends[None]).max(axis=2)
        swapped = np.abs(turned[:, None] - ends[None, :, ::-1]).max(axis=2)  # a slot has no direction
        same = (np.minimum(apart, swapped) < _SAME_MM) & (np.abs(sizes[:, None] - sizes) < _SAME_MM)
        if same.any(axis=1).all():
            return 360.0 / order
    return 360.0


def clock(
    holes: Sequence[Hole],
    fixings: Sequence[KeepOff] = (),
    edge: Outline | None = None,
    *,
    required_mm: float = 3.0,
    terminals_deg: float | None = None,
    toward_deg: float = DIRECTIONS["down"],
    turn_deg: float | None = None,
) -> Clocking:
    """Every turn that keeps the required gap, the best of all, and the one to take.

    Among turns that keep the gap, the one that brings the terminals nearest to where they were asked for; where
    none keeps it, or the terminals are all round, the best.

    Parameters
    ----------
    holes : sequence of Hole, mm
        The driver's.
    fixings : sequence of KeepOff, mm
        What they keep off.
    edge : Outline or None, mm
        The flange's edge, which they stay within.
    required_mm : float, mm
        Gap to keep.
    terminals_deg : float or None, deg
        The driver's own angle of its terminals; None: not known, or all round.
    toward_deg : float, deg
        Where they should end up; see `DIRECTIONS`.
    turn_deg : float or None, deg
        A turn that is decided already; it is judged, and the best is still found.

    Raises
    ------
    InputError
        No holes, or none away from the axis.
    """
    pattern = _Pattern(holes, fixings, edge)
    period = period_deg(holes)
    best: tuple[float, ...] = ()
    best_gap: float | None = None
    allowed: tuple[Point, ...] = ((0.0, period),)
    if pattern.varies:
        turns, gaps = _samples(pattern.varying_mm, radians(period), pattern.reach_mm, required_mm)
        best = _best(pattern.varying_mm, turns, gaps, radians(period))
        allowed = _ranges(pattern.varying_mm, turns, gaps, radians(period), required_mm)
        best_gap = min(float(pattern.varying_mm(np.radians(best[:1]))[0]), pattern.cap_mm)
    elif pattern.cap_mm < float("inf"):
        best, best_gap = (0.0,), pattern.cap_mm  # every turn is as good as another
    if pattern.cap_mm < required_mm:
        allowed = ()
    turn = turn_deg
    if turn is None:
        turn = _choose(best, allowed, period, terminals_deg, toward_deg)
    turn %= 360.0
    gap, start, end, nearest = pattern.nearest(turn)
    return Clocking(
        angle_deg=turn,
        gap_mm=gap,
        best_deg=best[0] if best else None,
        best_gap_mm=best_gap,
        period_deg=period,
        allowed_deg=allowed,
        required_mm=required_mm,
        gap_from_mm=start,
        gap_to_mm=end,
        nearest=nearest,
        terminals_deg=None if terminals_deg is None else (terminals_deg + turn) % 360.0,
        toward_deg=toward_deg % 360.0,
        asked_deg=turn_deg,
    )


class _Pattern:
    """Distances of a turning pattern to what stays; complex numbers are points."""

    def __init__(self, holes: Sequence[Hole], fixings: Sequence[KeepOff], edge: Outline | None) -> None:
        if not holes:
            raise InputError("holes of the driver", "none", "one or more")
        self.holes, self.fixings, self.edge = holes, fixings, edge
        ends = np.array([h.ends_mm for h in holes])
        self.a, self.along = ends[:, 0], ends[:, 1] - ends[:, 0]
        self.radius: Array = np.array([h.diameter_mm / 2.0 for h in holes])
        self.reach_mm = float(np.abs(ends).max())
        if self.reach_mm <= 0.0:
            raise InputError("holes of the driver", "all on its axis", "holes away from the axis")
        self.middles: Complex = np.array([complex(f.x_mm, f.y_mm) for f in fixings], dtype=np.complex128)
        self.radii: Array = np.array([f.diameter_mm / 2.0 for f in fixings])
        self.ring = None
        self.cap_mm = float("inf")  # what no turn can better: a round edge about the axis
        circle = edge.circle if edge is not None else None
        if circle is not None and hypot(circle[0], circle[1]) == 0.0:
            self.cap_mm = float(np.min(circle[2] - np.abs(ends).max(axis=1) - self.radius))
        elif circle is not None:
            self.ring = circle
        elif edge is not None:
            self._polygon(edge)
        self.outline = edge if edge is not None and circle is None else None
        self.varies = bool(len(fixings)) or self.ring is not None or self.outline is not None

    def _polygon(self, edge: Outline) -> None:
        points = edge.points(0.02)
        self.corners: Complex = points[:, 0] + 1j * points[:, 1]
        self.sides: Complex = np.roll(self.corners, -1) - self.corners

    def to_fixings_mm(self, turns: Array) -> Array:
        """(n, holes, fixings) gaps: the fixings turned the other way round the holes."""
        seen = np.exp(-1j * turns)[:, None, None] * self.middles - self.a[:, None]
        return np.abs(_off(seen, self.along[:, None])) - self.radius[:, None] - self.radii

    def to_edge_mm(self, turns: Array) -> Array:
        """(n, holes) gaps to the flange's edge, negative beyond it."""
        turn = np.exp(1j * turns)[:, None]
        a, along = turn * self.a, turn * self.along
        if self.ring is not None:
            x, y, radius = self.ring
            away = np.maximum(np.abs(a - complex(x, y)), np.abs(a + along - complex(x, y)))
            return np.asarray(radius - away - self.radius)
        inside = self._inside_mm(a)
        if self.along.any():
            inside = np.minimum(inside, self._inside_mm(a + along))
            # Both ends may be inside while a corner of the edge reaches in between them.
            to_core = np.abs(_off(self.corners - a[..., None], along[..., None])).min(axis=-1)
            inside = np.minimum(inside, np.where(self._crossed(a, along), 0.0, to_core))
        return np.asarray(inside - self.radius)

    def _inside_mm(self, p: Complex) -> Array:
        seen = p[..., None] - self.corners
        away = np.abs(_off(seen, self.sides)).min(axis=-1)
        # A ray to the right crosses the edge an odd number of times from within.
        below, after = seen.imag < 0.0, np.roll(seen.imag, -1, axis=-1) < 0.0
        left = (np.conj(self.sides) * seen).imag
        crossings = (below != after) & ((left > 0.0) == (self.sides.imag > 0.0))
        return np.where(crossings.sum(axis=-1) % 2 == 1, away, -away)

    def _crossed(self, a: Complex, along: Complex) -> NDArray[np.bool_]:
        seen, core = self.corners - a[..., None], np.conj(along)[..., None]
        side_of_core = (core * seen).imag
        straddles = side_of_core * np.roll(side_of_core, -1, axis=-1) < 0.0
        start = -(np.conj(self.sides) * seen).imag
        end = (np.conj(self.sides) * (along[..., None] - seen)).imag
        return np.asarray((straddles & (start * end < 0.0)).any(axis=-1))

    def varying_mm(self, turns: Array) -> Array:
        """(n,) least gap at each turn (radians), but for what no turn changes."""
        least = np.full(turns.shape, np.inf)
        if len(self.fixings):
            least = self.to_fixings_mm(turns).min(axis=(1, 2))
        if self.ring is not None or self.outline is not None:
            least = np.minimum(least, self.to_edge_mm(turns).min(axis=1))
        return least

    def nearest(self, turn_deg: float) -> tuple[float | None, Point | None, Point | None, tuple[str, str] | None]:
        """The gap at a turn, its two ends, and between what."""
        turn = np.array([radians(turn_deg)])
        gap, start, end, names = float("inf"), None, None, None
        turned = np.exp(1j * turn[0])
        if len(self.fixings):
            gaps = self.to_fixings_mm(turn)[0]
            i, j = np.unravel_index(int(gaps.argmin()), gaps.shape)
            gap, names = float(gaps[i, j]), (self.holes[i].name, self.fixings[j].name)
            middle = self.middles[j]
            away = turned * _off(middle / turned - self.a[i], self.along[i])  # from the hole's core to the fixing
            unit = away / abs(away) if abs(away) else turned
            start, end = middle - away + self.radius[i] * unit, middle - self.radii[j] * unit
        if self.edge is not None:
            if self.ring is None and self.outline is None:
                cores = np.abs(np.stack([self.a, self.a + self.along]))
                x, y, radius = self.edge.circle or (0.0, 0.0, 0.0)
                gaps = radius - cores.max(axis=0) - self.radius
            else:
                gaps = self.to_edge_mm(turn)[0]
            i = int(gaps.argmin())
            if gaps[i] < gap:
                gap, names = float(gaps[i]), (self.holes[i].name, "the flange's edge")
                start, end = self._ends_at_edge(i, turned)
        if names is None or start is None or end is None:
            return None, None, None, None
        return gap, (float(start.real), float(start.imag)), (float(end.real), float(end.imag)), names

    def _ends_at_edge(self, i: int, turned: complex) -> tuple[complex, complex]:
        a, b = turned * self.a[i], turned * (self.a[i] + self.along[i])
        circle = self.edge.circle if self.edge is not None else None
        if circle is not None:
            centre = complex(circle[0], circle[1])
            core = max(a, b, key=lambda p: abs(p - centre))
            at = centre + circle[2] * (core - centre) / abs(core - centre)
            unit = (core - centre) / abs(core - centre)
            return core + self.radius[i] * unit, at
        pairs = []
        for p in (a, b):
            to_edge = _off(p - self.corners, self.sides)
            k = int(np.abs(to_edge).argmin())
            pairs.append((p, p - to_edge[k]))
        to_core = _off(self.corners - a, np.full(self.corners.shape, b - a))
        k = int(np.abs(to_core).argmin())
        pairs.append((self.corners[k] - to_core[k], self.corners[k]))
        core, at = min(pairs, key=lambda pair: abs(pair[1] - pair[0]))
        apart = abs(at - core)
        return core + self.radius[i] * ((at - core) / apart if apart else 1.0), at


def _off(seen: Complex, along: Complex) -> Complex:
    """From the nearest point of a segment (from 0 to `along`) to a point."""
    square = np.abs(along) ** 2
    share = np.where(square > 0.0, (seen * np.conj(along)).real / np.where(square > 0.0, square, 1.0), 0.0)
    return np.asarray(seen - np.clip(share, 0.0, 1.0) * along)


def _samples(gap: Callable[[Array], Array], period: float, reach: float, required: float) -> tuple[Array, Array]:
    """Turns and gaps over one period, dense wherever the best or an end of a range may lie."""
    count = ceil(period / radians(_CELL_DEG))
    half = period / count / 2.0
    middles = (np.arange(count) + 0.5) * 2.0 * half
    values = gap(middles)
    turns, gaps, best = [middles], [values], float(values.max())
    steps = (np.arange(_SPLIT) + 0.5) * 2.0 / _SPLIT - 1.0
    while half > _FINEST:
        slack = reach * half
        open_ = (values + slack >= best) | (np.abs(values - required) <= slack)
        middles = (middles[open_, None] + steps * half).ravel()
        half /= _SPLIT
        values = gap(middles)
        best = max(best, float(values.max(initial=-np.inf)))
        turns.append(middles)
        gaps.append(values)
    turn, value = np.concatenate(turns), np.concatenate(gaps)
    order = np.argsort(turn)
    return turn[order], value[order]


def _best(gap: Callable[[Array], Array], turns: Array, gaps: Array, period: float) -> tuple[float, ...]:
    """Turns in degrees with the greatest gap, rising; several where they are equal."""
    around = np.concatenate([turns[-1:] - period, turns, turns[:1] + period])
    value = np.concatenate([gaps[-1:], gaps, gaps[:1]])
    tops = np.flatnonzero((value[1:-1] >= value[:-2]) & (value[1:-1] >= value[2:])) + 1
    # A top this far below the highest cannot rise above it within its bracket of the finest cells.
    tops = tops[value[tops] >= value.max() - 1e-2]
    low, high = around[tops - 1], around[tops + 1]
    for _ in range(12):
        grid = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, 17)
        found = gap(grid.ravel()).reshape(grid.shape)
        at = found.argmax(axis=1)
        rows = np.arange(len(at))
        low, high = grid[rows, np.maximum(at - 1, 0)], grid[rows, np.minimum(at + 1, 16)]
    peak, height = grid[rows, at], found[rows, at]
    equal = np.degrees(peak[height >= height.max() - _SAME_MM])
    tidy = np.round(equal, 6)  # 45 rather than 44.99999998, where that costs nothing
    equal = np.where(gap(np.radians(tidy)) >= height.max() - _SAME_MM / 10.0, tidy, equal) % np.degrees(period)
    equal.sort()
    distinct = np.concatenate([[True], np.diff(equal) > 1e-4])
    return tuple(float(d) for d in equal[distinct])


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


def _choose(
    best: Sequence[float], allowed: Sequence[Point], period: float, terminals: float | None, toward: float
) -> float:
    """The turn to take."""
    if terminals is None:
        return best[0] if best else 0.0
    wanted = (toward - terminals) % 360.0
    ranges = allowed or [(b, b) for b in best]
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
    """What to tell a person: the gap at the turn taken, and where the terminals end up.

    Parameters
    ----------
    clocking : Clocking, deg and mm
        As solved.
    """
    checks = []
    if clocking.gap_mm is not None and clocking.nearest is not None:
        checks.append(_gap_check(clocking, clocking.gap_mm, clocking.nearest))
    if clocking.terminals_deg is not None:
        checks.append(_terminals_check(clocking, clocking.terminals_deg))
    return tuple(checks)


def _gap_check(clocking: Clocking, gap: float, nearest: tuple[str, str]) -> Check:
    required, best_gap, best = clocking.required_mm, clocking.best_gap_mm or 0.0, clocking.best_deg or 0.0
    kept = gap >= required - _SAME_MM
    verdict: Verdict = "ok" if kept else "caution" if gap >= 0.0 else "stop"
    shown = (
        ("gap", abs(gap), "mm"), ("turn", clocking.angle_deg, "deg"), ("hole", nearest[0], ""),
        ("thing", nearest[1], ""), ("required", required, "mm"), ("best", best, "deg"), ("best_gap", best_gap, "mm"),
    )  # fmt: skip
    remedy = None
    if not kept and best_gap > gap + 1e-6:
        remedy = Text("Turn the driver to {best} instead: that leaves {best_gap}.", shown)
    elif not kept:
        remedy = Text(
            "No turn leaves more. Use screws with smaller heads, a driver with another bolt circle, or a wider "
            "flange; or fasten the part through other points.",
            shown,
        )
    title = (
        "{hole} clears {thing} by {gap}, turned {turn}"
        if gap >= 0.0
        else "{hole} runs into {thing} by {gap}, turned {turn}"
    )  # noqa: E501
    working = (
        Step("turn", "added to every angle of the driver", clocking.angle_deg, "deg"),
        Step("gap", f"least distance edge to edge, {nearest[0]} to {nearest[1]}", gap, "mm"),
        Step("required", "gap asked for", required, "mm", "margin of the job, or common trade practice"),
        Step("period", "turn after which the driver's holes repeat", clocking.period_deg, "deg"),
        Step("best", "turn that leaves the most of all", best, "deg"),
        Step("best gap", "what it leaves", best_gap, "mm"),
        *(Step("range", f"turns that keep the gap, up to {high:.2f} deg", low, "deg")
          for low, high in clocking.allowed_deg),
    )  # fmt: skip
    return Check(
        "fit.clocking", verdict, Text(title, shown), gap, required, "mm",
        remedy=remedy, working=working, sources=("plane geometry; the gap asked for is common trade practice",),
        key="turn",
    )  # fmt: skip


def _terminals_check(clocking: Clocking, at: float) -> Check:
    off = abs((at - clocking.toward_deg + 180.0) % 360.0 - 180.0)
    near = off <= _NEAR_DEG
    shown = (("at", at, "deg"), ("asked", clocking.toward_deg, "deg"), ("off", off, "deg"))
    title = "Terminals end up at {at}" if near else "Terminals end up at {at}, {off} from where you asked"
    remedy = Text(
        "The holes leave no turn closer to {asked}. Keep the terminals out of the drip line, or cover them with a hood "
        "and lead the wire away in a drip loop.",
        shown,
    )
    return Check(
        "fit.terminals-side",
        "ok" if near else "caution",
        Text(title, shown),
        off,
        _NEAR_DEG,
        "deg",
        remedy=None if near else remedy,
        working=(
            Step("at", "direction of the terminals as seen from the cabin, from +x toward +y", at, "deg"),
            Step("asked", "where they were asked for (270 deg is down)", clocking.toward_deg, "deg"),
            Step("off", "between the two", off, "deg"),
        ),
        sources=("common trade practice",),
        key="terminals_to",
    )
