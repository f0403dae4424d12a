"""One driver, its part and the metal as they would be put together: bodies, how near they come, and the trim's flat.

A body is an outline carried along an axis of its own.  Today every axis is the opening's (x right, y up as seen from
the cabin, z out of the metal, its face at z = 0); nothing here reads a height but along a body's own axis.  Distances
are exact for what is round, straight or conical.  Millimeters, degrees."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, inf, radians, sin

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict
from backwave.fit.bolt_pattern import Hole
from backwave.fit.types import DriverShape, Margins, Opening
from backwave.shape import Outline, circle, distance_mm, polygon
from backwave.stock import LapRow
from backwave.uncertainty import Reading

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
        Profile and wall are straight between their points and the swept radius is convex, so that the nearest place is
        at a point of one or the other."""
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
    For circles exact, else to the chord error of their points."""
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


def at_end(reading: Reading, side: int) -> float:
    """A reading as entered (0), or at the low (-1) or high (1) end of what it may plausibly be; in its own unit."""
    end = reading.value
    if side and reading.assumed and reading.plausible is not None:
        end = reading.plausible[side > 0]
    return end + side * reading.bound


@dataclass(frozen=True)
class Doubted:
    """A room or a lap: as entered, and its least and greatest plausible value."""

    value_mm: float
    low_mm: float
    high_mm: float

    def verdict(self, wanted_mm: float = 0.0) -> Verdict:
        """`stop` only where no plausible value leaves anything, `ok` only where all leave what is wanted."""
        if self.high_mm < -1e-9:
            return "stop"
        return "ok" if self.low_mm >= wanted_mm - 1e-9 else "caution"


def room_check(
    code: str, room: Doubted, wanted_mm: float, title: str, remedy: str, about: Quantities,
    working: tuple[CalculationLine, ...], sources: tuple[str, ...] = ("geometry",), key: str = "", part: str = "",
    tries: tuple[tuple[str, str], ...] = (),
) -> Check:  # fmt: skip
    """A room against what is wanted; remedy, key and what to try are said where it is not ok."""
    verdict = room.verdict(wanted_mm)
    ok = verdict == "ok"
    if verdict == "caution" and room.value_mm >= wanted_mm and " may " not in title:
        title += "; as it was read it may be {as_read}"
        about = (*about, ("as_read", room.low_mm, "mm"))
    return Check(
        code, verdict, Message(title, about), room.value_mm, wanted_mm, "mm", low=room.low_mm, high=room.high_mm,
        remedy=None if ok else Message(remedy, about), working=working, sources=sources, key="" if ok else key, part=part,
        tries=() if ok else tries,
    )  # fmt: skip


@dataclass(frozen=True)
class Lip:
    """Metal turned up round the edge of the hole."""

    height: Reading  # mm above the face
    width: Reading  # mm outward from the hole's edge


@dataclass(frozen=True)
class Mounting:
    """One driver, its part and the metal."""

    opening: Opening
    driver: DriverShape
    margins: Margins
    kind: str  # "woofer", "tweeter" ...
    frame: Reading  # mm, diameter
    cutout: Reading  # mm, diameter of the cutout the driver asks for
    holes: tuple[Hole, ...]  # of the driver, not turned; () where they are not known
    turn_deg: float
    seat_mm: float  # metal to the mounting side of the rim
    land_mm: float  # metal to the face of the part that the rim lies on
    flange: Body
    passages: tuple[Passage, ...]  # of the part, from the back to the front
    laps: tuple[LapRow, ...]  # what has to lie on what, by how much
    frame_edge: Outline | None = None  # of a frame that is not round, not turned; `frame` is its narrowest then
    cutout_edge: Outline | None = None  # likewise
    terminal_start: Reading | None = None  # mm from the mounting side to where the terminals begin
    spigot: Body | None = None
    collar: Body | None = None
    grooves: tuple[Body, ...] = ()  # for the back gasket
    strip_mm: Span | None = None  # of a flat back gasket: from the hole's edge to it, and its width
    heads: tuple[Body, ...] = ()  # counterbores in the front face
    pockets: tuple[Outline, ...] = ()  # for the driver's nuts, open at the back
    lip: Lip | None = None
    lip_room: Body | None = None  # relief in the back of the part, for the lip
    collar_meets: Reading | None = None  # mm from the metal to what stands before a collar without a foam ring
    trim_outer_mm: float | None = None  # diameter of the flat that the foam presses on
    wider_mm: float = 0.0  # how much farther out, all round, a flange may go that nobody entered
    mass_kg: float | None = None  # of the driver; None: not weighed
    held_by: str = ""  # "screws", "clips", "glue", "ring"; "": not entered
    tried: bool = False  # a dummy that reaches as far as the spigot stayed clear, a window's full travel included

    def lap(self, name: str) -> LapRow:
        """The row that says how far one thing has to lie on another."""
        return next(row for row in self.laps if row.name == name)

    @property
    def hole_edge(self) -> Outline | None:
        """The edge of the hole in the metal at the best estimate."""
        if self.opening.hole is not None:
            return circle(self.opening.hole.value / 2.0)
        points = self.opening.outline_mm
        return None if points is None else polygon([(float(x), float(y)) for x, y in points])

    @property
    def hole_doubt_mm(self) -> float:
        """How far that edge may be from where it was read, either way."""
        hole = self.opening.hole
        return hole.bound / 2.0 if hole is not None else self.opening.outline_error.bound


Span = tuple[float, float]


@dataclass(frozen=True)
class TrimFlat:
    """The ring of the trim that stands nearest to the metal beside the grille, at one height, pressed by foam or not.
    What hits it is in two parts: where a body and the flat surely share a radius, and where they may."""

    height: Reading  # mm from the metal
    sure: Span  # mm, radii where it surely is
    may: Span  # mm, radii where it may be
    ask: str = ""  # what of it nobody entered: "trim.inner"; "": nothing


@dataclass(frozen=True)
class Before:
    """A round body before the metal."""

    name: str  # behind "the": "rim", "cone at the limit of its travel"
    part: str  # of the finding's id
    heights: tuple[tuple[Reading, float], ...]  # what its top is the sum of, and how much of each
    sure: Span  # mm, radii where its top surely is
    may: Span  # mm, radii where its top may be
    margin_mm: float = 0.0  # what moves keeps some room


def flat_checks(flat: TrimFlat, bodies: Iterable[Before]) -> tuple[Check, ...]:
    """One check (`fit.flat`) for each body that may share a radius with the flat; ok only where its top is below."""
    return tuple(_check(flat, body) for body in bodies if _share(flat.may, body.may))


def edge_unread(found: Iterable[Check]) -> tuple[Check, ...]:
    """One question for all that may hit the flat, where nobody entered how far in it reaches."""
    checks = tuple(found)
    may = [check for check in checks if check.verdict == "caution"]
    if not may:
        return checks
    tightest = min(may, key=lambda check: (check.value or 0.0) - (check.limit or 0.0))
    title = "No inner edge of the trim's flat entered yet. "
    return (
        *(check for check in checks if check.verdict != "caution"),
        replace(
            tightest,
            title=Message(title + tightest.title.template, tightest.title.quantities),
            remedy=Message(
                "Measure the flat's inner diameter (trim: inner = ...), or the open grille's (grille = ...)"
            ),
            key="trim.inner",
            part="inner",
        ),
    )


def _share(a: Span, b: Span) -> bool:
    return max(a[0], b[0]) < min(a[1], b[1]) - 1e-9


def _at(reading: Reading, side: float) -> float:
    """As entered; what was not entered at the low or high end of what it may be."""
    if reading.assumed and reading.plausible is not None and side:
        return reading.plausible[side > 0.0]
    return reading.value


def _check(flat: TrimFlat, body: Before) -> Check:
    parts = ((flat.height, 1.0), *((reading, -share) for reading, share in body.heights))
    doubt = 2.0 * hypot(*(share * reading.u for reading, share in parts))  # 95 in 100, as every room of `fit`
    worst, value, best = (sum(share * _at(r, side * share) for r, share in parts) for side in (-1, 0, 1))
    room = Doubted(value, worst - doubt, best + doubt)
    verdict: Verdict = room.verdict(body.margin_mm)
    meets = _share(flat.sure, body.sure)
    if verdict == "stop" and not meets:
        verdict = "caution"
    about = (
        ("room", abs(room.value_mm), "mm"), ("margin", body.margin_mm, "mm"),
        ("need", max(body.margin_mm - room.low_mm, 0.0), "mm"), ("inner", 2.0 * flat.may[0], "mm"),
    )  # fmt: skip
    verb = "hits" if room.value_mm < 0.0 else "clears"
    if body.name.endswith("s"):
        verb = verb[:-1]
    title = f"The {body.name} {verb} the flat of the trim by {{room}}"
    title += "; needs {margin} of room" if body.margin_mm else ""
    remedy = "Lower the speaker by {need} (thinner adapter, deeper recess), or space the trim out by {need}"
    if verdict == "caution" and not meets:
        title += ", if the flat reaches there"
        remedy = "Measure the flat of the trim: inner and outer diameter (inner = ..., outer = ...)"
        if not flat.ask:
            remedy = "Push the cone out by hand with the trim held on and look, or lower the speaker by {need}"
    return Check(
        "fit.flat", verdict, Message(title, about), value=room.value_mm, limit=body.margin_mm, unit="mm",
        low=room.low_mm, high=room.high_mm, remedy=None if verdict == "ok" else Message(remedy, about),
        working=(
            CalculationLine("l", "metal to the flat of the trim", flat.height.value, "mm", "the job"),
            *(
                CalculationLine(f"{share:g} x", reading.name, reading.value, "mm", "assumed" if reading.assumed else "")
                for reading, share in body.heights if reading.value
            ),
            CalculationLine("x", "l less their sum", room.value_mm, "mm", "geometry"),
            CalculationLine("low", "the least it may be", room.low_mm, "mm", "two standard uncertainties"),
            CalculationLine(
                "ri", "radius from which the flat may begin", flat.may[0], "mm",
                "the job" if not flat.ask else PRACTICE,
            ),
            CalculationLine("r", "radius to which it may reach", body.may[1], "mm", "driver and part"),
        ),
        sources=("geometry", PRACTICE),
        key="" if verdict == "ok" else flat.ask if not meets and flat.ask else "trim.land", part=body.part,
    )  # fmt: skip
