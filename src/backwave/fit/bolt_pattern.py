"""A driver's holes as they turn, how far they are from what stays, and where the play of its bolts lets it end up.

Seen from its front a driver is seen from the cabin, so a turn is simply added to each of its angles.  Holes are
circles or slots that turn about the axis; fixings (or the counterbores over them) are circles that stay; the
flange's edge is an outline they stay within, judged exactly where it is a circle and otherwise by chords that lie
within 0.02 mm of it.  A gap is edge to edge, negative where two overlap.  Millimeters, degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, radians, sin, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Verdict, check_of
from backwave.shape import Outline
from backwave.uncertainty import Error, Reading, monte_carlo, quantile

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]  # points, x + iy
Point = tuple[float, float]

SAME_MM = 1e-9
_CHORD_MM = 0.02


@dataclass(frozen=True)
class Hole:
    """A hole of the driver's frame: round, or a slot."""

    x_mm: float  # its middle, the driver seen from its front and not turned
    y_mm: float
    diameter_mm: float  # diameter, or width of a slot
    length_mm: float = 0.0  # length of a slot over its round ends; 0 (or the diameter) for a round hole
    angle_deg: float = 0.0  # direction of a slot's length
    name: str = "hole"  # what to call it ("hole 2")

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
    """A circle the driver's holes keep off: a fixing's hole, its head, or the counterbore over it."""

    x_mm: float  # its middle, as seen from the cabin
    y_mm: float
    diameter_mm: float
    name: str = "fixing"  # what to call it ("fixing 1")


@dataclass(frozen=True)
class Bar:
    """A notch beside the bore: a rectangle that reaches outward along one direction."""

    angle_deg: float  # its direction, from +x toward +y; of the driver's own where it turns along
    from_mm: float  # radius at which it begins, from the axis
    to_mm: float
    width_mm: float
    turns: bool = False  # it follows the driver and keeps off the fixings; else it stays, and the holes keep off it

    def away_mm(self, at: Complex) -> Array:
        """Distance of points from it, negative inside."""
        seen = at * np.exp(-1j * radians(self.angle_deg))
        along = np.maximum(self.from_mm - seen.real, seen.real - self.to_mm)
        across = np.abs(seen.imag) - self.width_mm / 2.0
        beyond = np.hypot(np.maximum(along, 0.0), np.maximum(across, 0.0))
        return np.asarray(np.where(beyond > 0.0, beyond, np.maximum(along, across)))


def bolt_circle(count: int, circle_mm: float, diameter_mm: float, first_deg: float = 0.0) -> tuple[Hole, ...]:
    """Holes evenly on a circle. `first_deg`: angle of the first, from +x toward +y, the driver seen from its front."""
    angles = [radians(first_deg) + 2.0 * pi * k / count for k in range(count)]
    return tuple(
        Hole(circle_mm / 2.0 * cos(a), circle_mm / 2.0 * sin(a), diameter_mm, name=f"hole {k}")
        for k, a in enumerate(angles, 1)
    )


def period_deg(holes: Sequence[Hole]) -> float:
    """The least turn that carries a pattern into itself, 360 where there is none smaller. `holes`, mm."""
    ends = np.array([h.ends_mm for h in holes])
    sizes = np.array([h.diameter_mm for h in holes])
    for order in range(len(holes), 1, -1):
        turned = ends * np.exp(2j * pi / order)
        apart = np.abs(turned[:, None] - ends[None]).max(axis=2)
        swapped = np.abs(turned[:, None] - ends[None, :, ::-1]).max(axis=2)  # a slot has no direction
        same = (np.minimum(apart, swapped) < SAME_MM) & (np.abs(sizes[:, None] - sizes) < SAME_MM)
        if same.any(axis=1).all():
            return 360.0 / order
    return 360.0


@dataclass(frozen=True)
class NearestPair:
    """The least gap at one turn."""

    gap_mm: float  # edge to edge, negative where they overlap
    start_mm: Point  # (x, y), its two ends: on the driver's hole, and on what it is nearest to
    end_mm: Point  # (x, y)
    names: tuple[str, str]  # (hole, thing), what they are called


class Pattern:
    """Distances of a turning pattern to what stays. `holes`, mm; `fixings`, mm; `edge`, mm; `bar`, mm: A notch. It
    limits the turns but is never said to be the nearest: its wall is judged with the part's.; `bar_less_mm`: how much
    less gap a notch wants than the rest; InputError: no holes, or none away from the axis."""

    def __init__(
        self, holes: Sequence[Hole], fixings: Sequence[KeepOff], edge: Outline | None, bar: Bar | None = None,
        bar_less_mm: float = 0.0,
    ) -> None:  # fmt: skip
        if not holes:
            raise InputError("holes of the driver", "none", "one or more")
        self.holes, self.fixings, self.edge = holes, fixings, edge
        self._bar, self._bar_less = bar if bar is None or not bar.turns or fixings else None, bar_less_mm
        ends = np.array([h.ends_mm for h in holes])
        self._a, self._along = ends[:, 0], ends[:, 1] - ends[:, 0]
        self._radius: Array = np.array([h.diameter_mm / 2.0 for h in holes])
        self._reach: Array = np.abs(ends).max(axis=1)
        self.reach_mm = float(self._reach.max())
        if self.reach_mm <= 0.0:
            raise InputError("holes of the driver", "all on its axis", "holes away from the axis")
        self._middles: Complex = np.array([complex(f.x_mm, f.y_mm) for f in fixings], dtype=np.complex128)
        self._radii: Array = np.array([f.diameter_mm / 2.0 for f in fixings])
        self._circle = None if edge is None else edge.circle
        self._edge_rate = 0.0 if self._circle is None else hypot(self._circle[0], self._circle[1])
        if edge is not None and self._circle is None:
            import shapely

            self._inside = edge.polygon(_CHORD_MM)
            self._ring = self._inside.exterior
            shapely.prepare((self._inside, self._ring))
            self._edge_rate = _rate(edge)
        self._edge_floor_mm = -float("inf")  # the edge is never closer: a circle about the axis fits within it
        if edge is not None:
            within = edge.inside_mm(0.0, 0.0) - (0.0 if self._circle else _CHORD_MM)
            self._edge_floor_mm = float((within - self._reach - self._radius).min())
        self.cap_mm = float("inf")  # what no turn can better
        self._edge_varies = edge is not None
        if self._circle is not None and hypot(self._circle[0], self._circle[1]) == 0.0:
            self._edge_varies = False  # a round edge about the axis
            self.cap_mm = float(self._to_edge_mm(np.zeros(1)).min())

    @property
    def varies(self) -> bool:
        """Whether there is anything that a turn changes."""
        return len(self.fixings) > 0 or self._edge_varies or self._bar is not None

    def gap_mm(self, turns_rad: Array) -> Array:
        """Least gap at each turn, but for what no turn changes (`cap_mm`). Returns (n,) mm."""
        return self.bounds_mm(turns_rad, 0.0)[0]

    def bounds_mm(self, turns_rad: Array, half_rad: float) -> tuple[Array, Array, Array]:
        """Least gap at each turn, and what it is at least and at most anywhere so near to it. A gap changes with the
        turn no faster than either of its two ends moves about the axis, whichever of the two is thought of as turning.
        Returns (n,) mm."""
        gap, low, high = (np.full(turns_rad.shape, np.inf) for _ in range(3))
        if len(self.fixings):
            gaps = self._to_fixings_mm(turns_rad)
            slack = half_rad * np.minimum(self._reach[:, None], np.abs(self._middles))
            gap, low, high = (np.asarray(g.min(axis=(1, 2))) for g in (gaps, gaps - slack, gaps + slack))
        if self._edge_varies:
            close = high > self._edge_floor_mm
            gaps = self._to_edge_mm(turns_rad[close])
            slack = half_rad * np.minimum(self._reach, self._edge_rate)
            for least, edge in ((gap, gaps), (low, gaps - slack), (high, gaps + slack)):
                least[close] = np.minimum(least[close], edge.min(axis=1))
        if self._bar is not None:
            bare = self._to_bar_mm(self._bar, turns_rad)
            rate = float((np.abs(self._middles) if self._bar.turns else self._reach).max())
            few = np.full(turns_rad.shape, half_rad * rate)
            gap, low, high = np.minimum(gap, bare), np.minimum(low, bare - few), np.minimum(high, bare + few)
        return gap, low, high

    def near(self, turn_deg: float) -> NearestPair | None:
        """The least gap of all at one turn, its ends, and between what; None where there is nothing."""
        turn = np.array([radians(turn_deg)])
        found = []
        if len(self.fixings):
            gaps = self._to_fixings_mm(turn)[0]
            i, j = divmod(int(gaps.argmin()), gaps.shape[1])
            to = complex(self._middles[j])
            gap, core = float(gaps[i, j]), to - self._core_to(i, to, turn_deg)
            end = to - float(self._radii[j]) * _unit(core, to)
            found.append(_near(gap, end, _unit(core, to), self.holes[i].name, self.fixings[j].name))
        if self.edge is not None:
            to_edge = self._to_edge_mm(turn)[0]
            i = int(to_edge.argmin())
            gap = float(to_edge[i])
            core, end = self._core_and_edge(i, turn_deg)
            within = 1.0 if gap + self._radius[i] >= 0.0 else -1.0
            found.append(_near(gap, end, within * _unit(core, end), self.holes[i].name, "the flange's edge"))
        return min(found, key=lambda near: near.gap_mm, default=None)

    def _to_fixings_mm(self, turns: Array) -> Array:
        """(n, holes, fixings): the fixings turned the other way round the holes."""
        seen = np.exp(-1j * turns)[:, None, None] * self._middles - self._a[:, None]
        away = np.abs(_off(seen, self._along[:, None])) if self._along.any() else np.abs(seen)
        return np.asarray(away - self._radius[:, None] - self._radii)

    def _to_bar_mm(self, bar: Bar, turns: Array) -> Array:
        """(n,): the holes to a notch that stays (slots by their ends and middle), or the fixings to one that turns."""
        if bar.turns:
            seen, radii = np.exp(-1j * turns)[:, None] * self._middles, self._radii
        else:
            points = np.concatenate([self._a + share * self._along for share in (0.0, 0.5, 1.0)])
            seen, radii = np.exp(1j * turns)[:, None] * points, np.tile(self._radius, 3)
        return np.asarray((bar.away_mm(seen) - radii).min(axis=1) + self._bar_less)

    def _to_edge_mm(self, turns: Array) -> Array:
        """(n, holes), negative beyond the edge."""
        turned = np.exp(1j * turns)[:, None]
        a, along = turned * self._a, turned * self._along
        if self._circle is not None:
            middle = complex(self._circle[0], self._circle[1])
            away = np.maximum(np.abs(a - middle), np.abs(a + along - middle))
            return np.asarray(self._circle[2] - away - self._radius)
        import shapely

        core = _cores(a, along)
        away = shapely.distance(core, self._ring)
        within = shapely.contains_xy(self._inside, a.real, a.imag)
        return np.asarray(np.where(within, away, -away) - self._radius)

    def _core_to(self, i: int, to: complex, turn_deg: float) -> complex:
        """From the nearest point of a hole's core to a point."""
        turned = complex(np.exp(1j * radians(turn_deg)))
        off = _off(np.array([to - turned * self._a[i]]), np.array([turned * self._along[i]]))
        return complex(off[0])

    def _core_and_edge(self, i: int, turn_deg: float) -> tuple[complex, complex]:
        """Nearest points of a hole's core and of the edge."""
        turned = complex(np.exp(1j * radians(turn_deg)))
        ends = [turned * complex(self._a[i]), turned * complex(self._a[i] + self._along[i])]
        if self._circle is not None:
            middle = complex(self._circle[0], self._circle[1])
            core = max(ends, key=lambda p: abs(p - middle))
            return core, middle + self._circle[2] * _unit(middle, core)
        import shapely

        line = shapely.shortest_line(_cores(np.array(ends[0]), np.array(ends[1] - ends[0])), self._ring)
        (x, y), (at_x, at_y) = shapely.get_coordinates(line)
        return complex(x, y), complex(at_x, at_y)


def _cores(a: Complex, along: Complex) -> Any:
    """Points, or lines where there are slots, as shapely has them."""
    import shapely

    if not along.any():
        return shapely.points(a.real, a.imag)
    b = a + along
    return shapely.linestrings(np.stack([np.stack([a.real, a.imag], -1), np.stack([b.real, b.imag], -1)], -2))


def _off(seen: Complex, along: Complex) -> Complex:
    """From the nearest point of a segment (from 0 to `along`) to a point."""
    square = np.abs(along) ** 2
    share = np.where(square > 0.0, (seen * np.conj(along)).real / np.where(square > 0.0, square, 1.0), 0.0)
    return np.asarray(seen - np.clip(share, 0.0, 1.0) * along)


def _rate(edge: Outline) -> float:
    """How fast the distance to an edge can change with the turn, mm per radian: its nearest point moves about the axis,
    and only what of that goes along the line between the two counts. Next to nothing where it is nearly round."""
    points = edge.points(_CHORD_MM)
    corner: Complex = points[:, 0] + 1j * points[:, 1]
    side = np.roll(corner, -1) - corner
    after = np.conj(side / np.abs(side)) * corner  # along the side that follows, and across it
    before = np.conj(np.roll(side / np.abs(side), 1)) * corner
    # At a corner the line may have any direction between the two sides' normals.
    sharp = before.imag * after.imag <= 0.0
    rates = np.where(sharp, np.abs(corner), np.maximum(np.abs(before.real), np.abs(after.real)))
    return float(rates.max())


def _unit(start: complex, end: complex) -> complex:
    apart = abs(end - start)
    return (end - start) / apart if apart else 1.0 + 0.0j


def _near(gap: float, end: complex, outward: complex, hole: str, thing: str) -> NearestPair:
    start = end - gap * outward
    return NearestPair(gap, (start.real, start.imag), (end.real, end.imag), (hole, thing))


MODEL = "JCGM 101:2008: bolts anywhere in their holes with equal chance"
_DRAWS = 12_500
IN_METAL = "bolts in the metal's own holes"  # before their nuts behind it; other fixings sit tight in theirs
LOOSE_MM = 2.0  # of play there, in diameter, that nobody finds the middle of; common trade practice


@dataclass(frozen=True)
class BoltedJoint:
    """One thing bolted to another."""

    name: str  # "part on the metal"
    play_mm: float  # hole less bolt, in diameter
    pattern_mm: float = 0.0  # how far each hole of the pattern may be off, either way, in each coordinate
    count: int = 1  # how many holes


def off_axis(owner: str, joints: Sequence[BoltedJoint]) -> tuple[Reading, Reading]:
    """How far the driver is off the axis, to the right and up, as two readings of 0 with their errors. A bolt lies
    anywhere in its hole with equal chance: nobody centers it, and it slides until the screw is tight. So each joint
    puts the part anywhere in a circle of half the hole's play (`disc` of JCGM 101:2008, 6.4: one draw a coordinate).
    Where the fixings were read wrongly the part follows their mean: a fixing's half-width over the root of their
    number."""

    def along(axis: str) -> Reading:
        errors = []
        for joint in joints:
            name = f"{owner}.{joint.name}, {axis}"
            if joint.play_mm > 0.0:
                errors.append(Error(f"{name}: play", "disc", joint.play_mm / 2.0))
            if joint.pattern_mm > 0.0:
                errors.append(Error(f"{name}: pattern", "normal", joint.pattern_mm / sqrt(3.0 * joint.count)))
        return Reading(f"{owner}.off the axis, {axis}", 0.0, tuple(errors))

    return along("across"), along("up")


def play_check(joints: Sequence[BoltedJoint], off: tuple[Reading, Reading], margin_mm: float) -> Check:
    """How far off the axis the driver may end up, against the margin it has in the hole."""
    drawn = monte_carlo(lambda look: np.atleast_2d(np.hypot(look(off[0]), look(off[1]))), _DRAWS)
    most, mean = float(quantile(drawn, 0.95)[0]), float(drawn.mean())
    loose = max((joint.play_mm for joint in joints if joint.name == IN_METAL), default=0.0)
    verdict: Verdict = "ok" if most <= margin_mm and loose < LOOSE_MM else "caution"
    said = "With the play of its bolts the driver ends up off the axis by {mean} as a rule, {most} at most in 19 of 20"
    center, judged = (
        "Center the part by a spigot in the hole, or shim the driver's bolts as it is screwed down",
        (most, margin_mm),
    )
    if loose >= LOOSE_MM:
        said = (
            "The bolts have {loose} of play in the metal's holes: the driver ends up off the axis by {mean} as a rule, "
            "{most} at most in 19 of 20"
        )
        center = (
            "Center the part by a spigot in the hole (spigot = {{ length = ... }}), or put a sleeve on each bolt "
            "that fills the metal's hole"
        )
        judged = judged if most > margin_mm else (loose, LOOSE_MM)
    return check_of(
        "fit.play", verdict, said, "" if verdict == "ok" else center,
        (("mean", mean, "mm"), ("most", most, "mm"), ("loose", loose, "mm")), (*judged, "mm"),
        (
            *(
                CalculationLine("d", f"{joint.name}: hole less bolt", joint.play_mm, "mm", "holes of the part and the driver")
                for joint in joints
            ),
            *(
                CalculationLine("p", f"each of {joint.count} holes may be off, either way", joint.pattern_mm, "mm", PRACTICE)
                for joint in joints
                if joint.pattern_mm
            ),
            CalculationLine("e", "off the axis, mean", mean, "mm", MODEL),
            CalculationLine("e95", "off the axis, 95 % point", most, "mm", MODEL),
            CalculationLine("m", "margin to the hole's edge", margin_mm, "mm", PRACTICE),
        ),
        (MODEL, PRACTICE), "fixings",
    )  # fmt: skip
