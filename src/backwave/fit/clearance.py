"""The stack-up, and the clearances exactly, for any number of looks at the readings at once.  Millimeters.

Every clearance is the least of a handful of candidates.  Driver and obstacles are piecewise linear in radius, so
their nearest approach along the axis is at a point of one or the other:

    glass, behind    seat height + clear(r) - depth(r), at the union of both sets of radii
    grille           trim clear - (seat height + front + share of Xmech)
    hole             hole edge - largest radius of anything at or behind the metal
    terminals        as behind, over their own span of radius, against what lies in their direction
    screw tails      clear(r) - skin - length
    vent             as behind, over the vent

Points move with the radii: where radii are uncertain, the union is taken anew in every draw."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial, reduce
from itertools import combinations_with_replacement, pairwise
from math import atan2, ceil, cos, degrees, floor, inf, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.budget import bounded
from backwave.errors import InputError
from backwave.fit.coverage import Surface, surfaces_toward
from backwave.fit.types import MOVES, DriverShape, Margins, Nearest, Obstacle, Opening, ScrewTail, Stack, edge_mm
from backwave.uncertainty import Evaluator, Reading, at_estimates

MAX_SHEETS = 20  # different ones: sums of six of them are 177,100
MAX_LAYERS = 20_000  # of a print: 60 mm in layers of 3 um
_SLACK = 1e-9  # so that 3 x 0.2 counts as 0.6


def seat_height(stack: Stack, look: Evaluator) -> NDArray[np.float64]:
    """Metal to the mounting side of the driver's rim. h = back gasket closed + lift of the flange + thickness - recess
    + driver's gasket closed"""
    below = look(stack.gasket) + look(stack.lift)
    return below + look(stack.thickness) - look(stack.recess) + look(stack.driver_gasket)


def seat_height_mm(stack: Stack) -> float:
    """Seat height at the best estimates."""
    return float(seat_height(stack, at_estimates))


FrontPart = Literal["moving", "crest", "fixed", "rim"]
FRONT_WORDS: dict[FrontPart, str] = {
    "moving": "cone at the limit of its travel",
    "crest": "crest of the surround at half the travel",
    "fixed": "fixed part of the front",
    "rim": "rim",
}


def front_parts(driver: DriverShape) -> Iterator[tuple[FrontPart, Reading, float]]:
    """What of the driver stands before its mounting side: which part, its height, its share of the excursion. What
    moves takes all of it, the crest of the surround half (common trade practice), fixed parts none. `driver`, mm."""
    front = driver.front
    parts: tuple[tuple[FrontPart, Reading | None, float], ...] = (
        ("moving", front.moving, 1.0), ("crest", front.crest, 0.5), ("fixed", front.fixed, 0.0), ("rim", driver.rim, 0.0),
    )  # fmt: skip
    for part, height, share in parts:
        if height is not None:
            yield part, height, share


def layer_heights(least_mm: float, layer_mm: float, most_mm: float = 60.0) -> tuple[float, ...]:
    """Thicknesses of a print: whole layers, from the least that leaves enough material. InputError: no layer, or none
    between least and most."""
    if layer_mm <= 0.0:
        raise InputError("layer height", layer_mm, "more than 0 mm")
    first, last = ceil(max(least_mm, layer_mm) / layer_mm - _SLACK), floor(most_mm / layer_mm + _SLACK)
    if last < first:
        raise InputError("least thickness", least_mm, f"at most {most_mm:g} mm")
    bounded("layers", last - first + 1, MAX_LAYERS)
    return tuple(round(k * layer_mm, 6) for k in range(first, last + 1))


def sheet_sums(stock_mm: Sequence[float], least_mm: float, most_mm: float = 60.0, sheets: int = 6) -> tuple[float, ...]:
    """Thicknesses that layers of sheet stock add up to. InputError: no stock, or none of its sums lies between."""
    if not stock_mm or min(stock_mm) <= 0.0:
        raise InputError("sheet stock", list(stock_mm), "one or more thicknesses above 0 mm")
    bounded("different sheets", len(set(stock_mm)), MAX_SHEETS)
    sums = {
        round(sum(pile), 6)
        for count in range(1, sheets + 1)
        for pile in combinations_with_replacement(sorted(set(stock_mm)), count)
    }
    held = tuple(sorted(s for s in sums if least_mm - _SLACK <= s <= most_mm + _SLACK))
    if not held:
        raise InputError("sheet stock", list(stock_mm), f"layers adding up to {least_mm:g} to {most_mm:g} mm")
    return held


Array = NDArray[np.float64]


Candidates = Iterator[tuple[Nearest, Array]]
Part = Literal["back", "terminals", "tail", "vent"]
Beyond = Literal["inside", "outside", ""]


@dataclass(frozen=True)
class Term:
    """One clearance of a model."""

    name: str
    code: str
    part: str
    rises: int
    margin_mm: float  # what should be kept
    # mm, the candidates; the clearance is the least of them, NaN not counted; with `least` only those that may be it
    candidates: Callable[..., Candidates]


Span = tuple[float, float]


def _span(x: Array) -> Span:
    return (float(x), float(x)) if x.ndim == 0 else (float(x.min()), float(x.max()))


def _meets(x: Span, x0: Span, x1: Span) -> Literal["never", "always", "maybe"]:
    """Whether x lies between two others: in no draw, in every draw, or in some.  Spares most of the work."""
    if x[1] < min(x0[0], x1[0]) or x[0] > max(x0[1], x1[1]):
        return "never"
    if (x0[1] < x1[0] and x0[1] <= x[0] and x[1] <= x1[0]) or (x1[1] < x0[0] and x1[1] <= x[0] and x[1] <= x0[0]):
        return "always"
    return "maybe"


def on_segment(x: Array, x0: Array, y0: Array, x1: Array, y1: Array, always: bool = False) -> Array:
    """y at x on the segment from (x0, y0) to (x1, y1); NaN where the segment does not reach. A segment without span is
    left out: its ends are looked at anyway. `x`, `x0`, `x1`, mm: where to look, and the segment's ends; `y0`, `y1`, mm:
    values at its ends; `always`: known to reach in every draw: nothing is left out."""
    if always:
        return y0 + (x - x0) / (x1 - x0) * (y1 - y0)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (x - x0) / (x1 - x0)
        y: Array = np.where((t >= 0.0) & (t <= 1.0), y0 + t * (y1 - y0), np.nan)
    return y


Line = list[tuple[Array, Array]]  # (radius, depth) of the driver's points


def driver_line(driver: DriverShape, look: Evaluator) -> Line:
    """The driver's points from the rim back, and the middle of its flat back. `driver`, mm; `look`, mm."""
    line = [(look(radius), look(depth)) for radius, depth in driver.profile]
    return [*line, (np.asarray(0.0), line[-1][1])]


def widest(line: Line, at: Array) -> Iterator[Array]:
    """Radii of the driver at or behind a depth, NaN where there is none: the largest is what has to go through. `line`,
    mm; `at`, mm; returns mm."""
    here, spans = _span(at), [_span(depth) for _, depth in line]
    for (radius, depth), span in zip(line, spans):
        if span[0] >= here[1]:
            yield radius
        elif span[1] >= here[0]:
            yield np.where(depth >= at, radius, np.nan)
    for ((r0, d0), (r1, d1)), (s0, s1) in zip(pairwise(line), pairwise(spans)):
        if (meets := _meets(here, s0, s1)) != "never":
            yield on_segment(at, d0, r0, d1, r1, meets == "always")


def _first(values: Array) -> float:
    """The first of a look's values: the best estimate, where estimates and steps are looked at."""
    return float(values.flat[0])


Spots = list[tuple[Array, Array]]  # (radius, clear) of a surface behind


def _spots(look: Evaluator, surface: Surface) -> Spots:
    """The points between which a surface is straight: an obstacle's own, or those of two neighbors together."""
    first = [(look(spot.radius), look(spot.clear)) for spot in surface.obstacle.spots]
    if surface.other is None:
        return first
    second = [(look(spot.radius), look(spot.clear)) for spot in surface.other.spots]
    radii = sorted({float(_first(r)): r for r, _ in (*first, *second)}.items())
    return [(r, (1.0 - surface.share) * _clear_at(first, r) + surface.share * _clear_at(second, r)) for _, r in radii]


def _clear_at(spots: Spots, radius: Array) -> Array:
    """Free depth of an obstacle at a radius: straight between its spots, constant beyond them."""
    found = np.where(radius >= spots[-1][0], spots[-1][1], spots[0][1])
    for (r0, c0), (r1, c1) in pairwise(spots):
        inside = on_segment(radius, r0, c0, r1, c1)
        found = np.where(np.isnan(inside), found, inside)
    return found


_NOWHERE = Nearest("", "back")  # of a draw nobody asks where it was nearest


def _over(
    look: Evaluator, height: Array, line: Line, surfaces: Iterable[Surface], of: Part = "back", least: bool = False
) -> Candidates:
    """height + clear(r) - depth(r) at the union of both sets of points. `least`: only where it may be the least of all:
    most of a driver is far from most of a door, whatever its readings are out by."""
    met = [(surface.obstacle, [(r, c, _span(r), _span(c)) for r, c in _spots(look, surface)]) for surface in surfaces]
    points = [(r, d, _span(r), _span(d)) for r, d in line]
    deepest = max(deep[0] for *_, deep in points)
    most = min((max(clear[1] for *_, clear in spots) for _, spots in met), default=0.0) - deepest if least else inf
    for obstacle, spots in met:
        low = min(clear[0] for *_, clear in spots)
        if low - max(deep[1] for *_, deep in points) > most:
            continue
        detail = (f"window {obstacle.window}",) if obstacle.window else ()

        def nearest(
            radius: Array, depth: Array, beyond: Beyond = "", by: Obstacle = obstacle, words: tuple[str, ...] = detail
        ) -> Nearest:
            if least:
                return _NOWHERE
            z = _first(height) - _first(depth)
            return Nearest(by.what, of, words, _first(radius), by.angle_deg, z, beyond)

        (first, c_first, s_first, _), (last, c_last, s_last, _) = spots[0], spots[-1]
        for radius, depth, span, deep in points:
            if low - deep[1] > most:
                continue
            room = height - depth
            for (r0, c0, s0, _), (r1, c1, s1, _) in pairwise(spots):
                if (meets := _meets(span, s0, s1)) != "never":
                    yield nearest(radius, depth), room + on_segment(radius, r0, c0, r1, c1, meets == "always")
            if span[0] <= s_first[1]:
                beyond: Beyond = "inside" if _first(radius) < _first(first) else ""
                yield nearest(radius, depth, beyond), np.where(radius <= first, room + c_first, np.nan)
            if span[1] >= s_last[0]:
                beyond = "outside" if _first(radius) > _first(last) else ""
                yield nearest(radius, depth, beyond), np.where(radius >= last, room + c_last, np.nan)
        for radius, clear, span, free in spots:
            for (r0, d0, s0, deep0), (r1, d1, s1, deep1) in pairwise(points):
                if free[0] - max(deep0[1], deep1[1]) > most:
                    continue
                if (meets := _meets(span, s0, s1)) != "never":
                    depth = on_segment(radius, r0, d0, r1, d1, meets == "always")
                    yield nearest(radius, depth), height + clear - depth


def _edge_toward(outline: Array, angle_deg: float, half_deg: float) -> float:
    """Least distance from the axis to the edge of a hole within a sector."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    a = outline @ np.array([[c, -s], [s, c]])  # the sector's middle turned to +x
    along = np.roll(a, -1, axis=0) - a
    half = radians(min(half_deg, 89.0))
    t = [np.clip(-np.sum(a * along, axis=1) / np.maximum(np.sum(along**2, axis=1), 1e-12), 0.0, 1.0)]  # feet
    for normal in ((-sin(half), cos(half)), (sin(half), cos(half))):  # where the sector's two sides cross the edge
        with np.errstate(divide="ignore", invalid="ignore"):
            t.append(-(a @ normal) / (along @ normal))
    points = np.concatenate([a + share[:, None] * along for share in t if len(share)])
    inside = np.concatenate([(share >= 0.0) & (share <= 1.0) for share in t])
    points = points[inside]
    within = (points[:, 0] > 0.0) & (np.abs(np.arctan2(points[:, 1], points[:, 0])) <= half + 1e-9)
    return float(np.hypot(*points[within].T).min()) if within.any() else edge_mm(outline)


@dataclass(frozen=True)
class Model:
    """All clearances of one driver in one opening at one turn."""

    opening: Opening  # mm, the opening and its surroundings
    driver: DriverShape  # mm
    stack: Stack  # mm, what lifts it off the metal
    margins: Margins  # mm, what should be kept
    # added to the driver's own angles; None: not decided, its terminals may be anywhere
    turn_deg: float | None = 0.0
    tails: tuple[ScrewTail, ...] = ()  # mm, screw ends behind the metal

    def terms(self) -> tuple[Term, ...]:
        """The clearances that the readings allow to judge."""
        return self._terms

    @cached_property
    def _terms(self) -> tuple[Term, ...]:
        opening, driver, margins = self.opening, self.driver, self.margins
        moves = tuple(o for o in opening.behind if o.what in MOVES)
        fixed = tuple(o for o in opening.behind if o.what not in MOVES)
        groups = (("glass", moves, margins.glass_mm), ("metal", fixed, margins.metal_mm))
        terms: list[Term] = []
        if moves:
            behind = partial(self._behind, surfaces=tuple(map(Surface, moves)))
            terms.append(Term("glass", "fit.glass", "", 1, margins.glass_mm, behind))
        if fixed:
            behind = partial(self._behind, surfaces=tuple(map(Surface, fixed)))
            terms.append(Term("behind", "fit.behind", "", 1, margins.metal_mm, behind))
        if opening.trim_clear is not None:
            terms.append(Term("grille", "fit.grille", "", -1, margins.grille_mm, self._grille))
        if self.hole_margin_mm() is not None:
            terms.append(Term("hole", "fit.hole", "", 0, margins.hole_mm, self._hole))
        for part, group, margin in groups:
            met = surfaces_toward(group, *self.terminal_sector())
            if driver.terminals is not None and met:
                here = partial(self._terminals, surfaces=met)
                terms.append(Term(f"terminals.{part}", "fit.terminals", part, 1, margin, here))
        for part, group, margin in groups:
            toward = [(tail, surfaces_toward(group, tail.angle_deg, 0.0)) for tail in self.tails]
            if any(surfaces for _, surfaces in toward):
                here = partial(self._tails, toward=toward)
                terms.append(Term(f"screw-tails.{part}", "fit.screw-tails", part, 0, margin, here))
        if driver.vent is not None and opening.behind:
            terms.append(Term("vent", "fit.vent", "", 1, driver.vent.wanted_mm, self._vent))
        return tuple(terms)

    def hole_margin_mm(self) -> float | None:
        """The margin to the hole's edge, mm; None where the hole was not read."""
        opening = self.opening
        return None if opening.hole is None and opening.outline_mm is None else self.margins.hole_mm

    def __call__(self, look: Evaluator) -> Array:
        """(m, n) clearances, mm, in the order of `terms`. `look`, mm."""
        rows = [reduce(np.fmin, (v for _, v in term.candidates(look, least=True))) for term in self.terms()]
        return np.stack(np.broadcast_arrays(*(np.atleast_1d(row) for row in rows))) if rows else np.empty((0, 1))

    def readings(self) -> tuple[Reading, ...]:
        """Every reading that the clearances look at, in the order met."""
        seen: dict[str, Reading] = {}

        def look(reading: Reading) -> Array:
            seen.setdefault(reading.name, reading)
            return at_estimates(reading)

        self(look)
        return tuple(seen.values())

    def _behind(self, look: Evaluator, surfaces: tuple[Surface, ...], least: bool = False) -> Candidates:
        height, line = seat_height(self.stack, look), driver_line(self.driver, look)
        return _over(look, height, line, surfaces, least=least)

    def _grille(self, look: Evaluator, least: bool = False) -> Candidates:
        del least
        assert self.opening.trim_clear is not None
        height = seat_height(self.stack, look)
        room = look(self.opening.trim_clear) - height
        for part, front, share in front_parts(self.driver):
            ahead, travel = look(front), share * look(self.driver.xmech) if share else np.asarray(0.0)
            z = _first(height) + _first(ahead) + _first(travel)
            yield Nearest(FRONT_WORDS[part], part, z_mm=z), room - ahead - travel

    def _hole(self, look: Evaluator, least: bool = False) -> Candidates:
        del least
        height, line = seat_height(self.stack, look), driver_line(self.driver, look)
        around = self.edge(look, None, 0.0)
        for radius in widest(line, height):
            yield Nearest("edge of the hole", "edge"), around - radius
        terminals = self.driver.terminals
        if terminals is not None:
            corner = np.hypot(look(terminals.radius), look(terminals.width) / 2.0)
            behind = np.where(look(terminals.depth) >= height, corner, np.nan)
            angle, half = self.terminal_sector()
            at = Nearest("edge of the hole", "terminals", ("at the terminals",), angle_deg=angle)
            yield at, self.edge(look, angle, half) - behind
        yield Nearest("edge of the hole", "edge"), around  # all of the driver stands before the metal

    def edge(self, look: Evaluator, angle_deg: float | None, half_deg: float) -> Array:
        """Distance from the axis to the hole's edge in a sector, or the least of all. `look`, mm."""
        if self.opening.hole is not None:
            edge = look(self.opening.hole) / 2.0
        else:
            outline = self.opening.outline_mm
            assert outline is not None
            nearest = edge_mm(outline) if angle_deg is None else _edge_toward(outline, angle_deg, half_deg)
            edge = nearest + look(self.opening.outline_error)
        if not self.stack.off_x.errors:
            return edge
        # The play of its bolts takes the driver toward the edge somewhere, or toward the sector in question.
        x, y = look(self.stack.off_x), look(self.stack.off_y)
        if angle_deg is None:
            return edge - np.hypot(x, y)
        return edge - x * cos(radians(angle_deg)) - y * sin(radians(angle_deg))

    def terminal_sector(self) -> tuple[float | None, float]:
        """Where the terminals are in the opening: their middle and half of their width, in degrees."""
        terminals = self.driver.terminals
        if terminals is None or terminals.angle_deg is None or self.turn_deg is None:
            return None, 180.0
        half = degrees(atan2(terminals.width.value / 2.0, terminals.radius.value))
        return terminals.angle_deg + self.turn_deg, half

    def _terminals(self, look: Evaluator, surfaces: tuple[Surface, ...], least: bool = False) -> Candidates:
        terminals = self.driver.terminals
        assert terminals is not None
        depth, outer = look(terminals.depth), np.hypot(look(terminals.radius), look(terminals.width) / 2.0)
        inner = np.fmin(reduce(np.fmax, widest(driver_line(self.driver, look), depth), np.asarray(0.0)), outer)
        angle, line = self.terminal_sector()[0], [(outer, depth), (inner, depth)]
        for at, values in _over(look, seat_height(self.stack, look), line, surfaces, "terminals", least):
            yield at if angle is None or least else replace(at, angle_deg=angle), values

    def _tails(
        self, look: Evaluator, toward: Sequence[tuple[ScrewTail, tuple[Surface, ...]]], least: bool = False
    ) -> Candidates:
        skin = np.asarray(0.0) if self.opening.skin is None else look(self.opening.skin)
        for tail, surfaces in toward:
            line = [(look(tail.radius), skin + look(tail.length))]
            for at, values in _over(look, np.asarray(0.0), line, surfaces, "tail", least):
                yield at if least else replace(at, detail=(*at.detail, tail.name), angle_deg=tail.angle_deg), values

    def _vent(self, look: Evaluator, least: bool = False) -> Candidates:
        assert self.driver.vent is not None
        back = look(self.driver.profile[-1][1])
        line = [(look(self.driver.vent.radius), back), (np.asarray(0.0), back)]
        return _over(look, seat_height(self.stack, look), line, map(Surface, self.opening.behind), "vent", least)
