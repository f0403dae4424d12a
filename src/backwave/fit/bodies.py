"""Bodies of a mounting, and how near they come: exact for what is round, straight or conical.  Millimeters, degrees.

A body is an outline carried along an axis of its own.  Today every axis is the opening's (x right, y up as seen from
the cabin, z out of the metal, its face at z = 0); nothing here reads a height but along a body's own axis.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, inf, radians, sin

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.shape import Outline, distance_mm

Array = NDArray[np.float64]
_EDGE = np.linspace(-1.0, 1.0, 41)  # places along each side of a block of terminals


@dataclass(frozen=True)
class Axis:
    """A place and a direction: (0, 0, 1) points out of the metal."""

    origin_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    direction: tuple[float, float, float] = (0.0, 0.0, 1.0)  # no unit: of length 1


UPRIGHT = Axis()


@dataclass(frozen=True)
class Body:
    """Material between two heights of an axis, within an outline and outside others."""

    name: str
    outline: Outline
    low_mm: float
    high_mm: float
    inner: tuple[Outline, ...] = ()
    axis: Axis = UPRIGHT


@dataclass(frozen=True)
class Notched:
    """A notch in the wall of a passage, straight outward from its axis."""

    angle_deg: float
    half_mm: float  # half of its width
    reach_mm: float  # from the axis


@dataclass(frozen=True)
class Passage:
    """Free room about an axis between two heights: a cylinder or a cone, with notches."""

    name: str
    low_mm: float
    high_mm: float
    low_radius_mm: float
    high_radius_mm: float
    notches: tuple[Notched, ...] = ()
    axis: Axis = UPRIGHT

    def radius_mm(self, z_mm: float) -> float:
        """Its radius at a height of its axis."""
        if self.high_radius_mm == self.low_radius_mm:
            return self.low_radius_mm
        share = (z_mm - self.low_mm) / (self.high_mm - self.low_mm)
        return self.low_radius_mm + share * (self.high_radius_mm - self.low_radius_mm)


@dataclass(frozen=True)
class Meeting:
    """How near a driver comes to a passage: negative where both want the same room."""

    gap_mm: float
    passage: str
    depth_mm: float  # of the place on the driver, from its rim's mounting side
    z_mm: float  # height of the place in the opening


@dataclass(frozen=True)
class Revolved:
    """The back of a driver: radii by depth from its mounting side, round about an axis, flat to it at its end."""

    profile_mm: tuple[tuple[float, float], ...]  # (radius, depth); depth never falls
    seat_mm: float  # height of the mounting side along the axis
    axis: Axis = UPRIGHT

    def radius_mm(self, depth_mm: float, swept: bool) -> float:
        """Its radius at a depth, or swept of all that has passed there on its way in; -inf beyond its end."""
        found = [r for r, d in self.profile_mm if d == depth_mm or (swept and d > depth_mm)]
        for (r0, d0), (r1, d1) in pairwise(self.profile_mm):
            if d0 < depth_mm < d1:
                found.append(r0 + (depth_mm - d0) / (d1 - d0) * (r1 - r0))
        return max(found, default=-inf)

    def widest_mm(self, depth_mm: float) -> float:
        """The depth at which it is widest, at or behind a depth."""
        behind = [(r, -d) for r, d in self.profile_mm if d >= depth_mm]
        return max(depth_mm, -max(behind)[1]) if behind else depth_mm

    def contact(self, passage: Passage, swept: bool) -> Meeting | None:
        """Where it comes nearest to a passage, in place or swept in along its axis; None where it never is in it.

        Profile and wall are straight between their points and the swept radius is convex, so that the nearest place
        is at a point of one or the other.
        """
        _coaxial(self.axis, passage.axis)
        low, high = self.seat_mm - passage.high_mm, self.seat_mm - passage.low_mm
        deepest = self.profile_mm[-1][1]
        depths = {min(max(d, 0.0), deepest) for d in (low, high)} | {d for _, d in self.profile_mm}
        best: Meeting | None = None
        for depth in sorted(d for d in depths if low - 1e-9 <= d <= high + 1e-9 and d >= 0.0):
            z = self.seat_mm - depth
            gap = passage.radius_mm(z) - self.radius_mm(depth, swept)
            if best is None or gap < best.gap_mm - 1e-9:
                best = Meeting(gap, passage.name, self.widest_mm(depth) if swept else depth, z)
        return best


@dataclass(frozen=True)
class Block:
    """Terminals: a box across a direction, from the basket out to a radius, between two depths."""

    radius_mm: float  # axis to the middle of its outer face
    width_mm: float
    start_mm: float  # its nearest point from the rim's mounting side
    depth_mm: float  # its farthest
    angle_deg: float | None  # in the opening; None: anywhere, so no notch helps it

    @property
    def corner_mm(self) -> float:
        """Its farthest point from the axis."""
        return hypot(self.radius_mm, self.width_mm / 2.0)

    def contact(self, passage: Passage, seat_mm: float, swept: bool) -> Meeting | None:
        """As `Revolved.contact`; swept, it passes everything before its farthest depth."""
        low, high = seat_mm - self.depth_mm, seat_mm - self.start_mm
        if swept:
            high = inf
        z0, z1 = max(low, passage.low_mm), min(high, passage.high_mm)
        if z0 > z1 - 1e-9:
            return None
        ends = [(float(self._free_mm(passage, z)), z) for z in (z0, z1)]
        gap, z = min(ends)
        return Meeting(gap, passage.name, self.depth_mm, z)

    def _free_mm(self, passage: Passage, z_mm: float) -> float:
        """Room between its edges and the wall at a height: the wall is the circle or, where it is farther, a notch."""
        radius, half = passage.radius_mm(z_mm), self.width_mm / 2.0
        if self.angle_deg is None:
            return radius - self.corner_mm
        across = half * _EDGE
        out = self.radius_mm * (1.0 + _EDGE) / 2.0
        u = np.concatenate([np.full_like(across, self.radius_mm), out, out])
        v = np.concatenate([across, np.full_like(out, half), np.full_like(out, -half)])
        room = radius - np.hypot(u, v)
        for notch in passage.notches:
            a = radians(self.angle_deg - notch.angle_deg)
            along, aside = u * cos(a) - v * sin(a), u * sin(a) + v * cos(a)
            within = np.minimum(notch.reach_mm - along, notch.half_mm - np.abs(aside))
            room = np.maximum(room, np.where(along > 0.0, within, -np.inf))
        return float(room.min())


def lap_mm(inside: Outline, outside: Outline) -> float:
    """How far an outline reaches beyond another that should lie within it, at the least; negative where it does not.

    For circles exact, else to the chord error of their points.
    """
    a, b = inside.circle, outside.circle
    if a is not None:
        if b is not None:
            return b[2] - a[2] - hypot(a[0] - b[0], a[1] - b[1])
        return outside.inside_mm(a[0], a[1]) - a[2]
    import shapely

    within, around = inside.polygon(), outside.polygon()
    if around.contains(within):
        return distance_mm(inside, outside)
    out = shapely.distance(around, shapely.points(inside.points()))
    bays = shapely.points(outside.points())
    held = bays[shapely.contains(within, bays)]
    cut = shapely.distance(within.exterior, held) if len(held) else np.zeros(1)
    return -float(max(out.max(), cut.max()))


def nearest(contacts: Iterator[Meeting | None]) -> Meeting | None:
    """The one with least room; None where there is none."""
    return min((c for c in contacts if c is not None), key=lambda c: c.gap_mm, default=None)


def _coaxial(a: Axis, b: Axis) -> None:
    if a.direction != b.direction or a.origin_mm[:2] != b.origin_mm[:2]:
        raise InputError("two axes", "a seat that leans or is offset", "one axis: what leans is not worked out yet")
