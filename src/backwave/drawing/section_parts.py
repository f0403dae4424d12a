"""The solid things of the section: adapter, driver, gaskets, screws, trim.

The driver's back, rim and heights are drawn as given.  Cone, dust cap and surround are a sketch through the three
heights that are known (moving, crest, fixed): no data sheet gives more."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin
from typing import NamedTuple

from backwave.assess.place_result import PlaceResult
from backwave.drawing.callouts import Medium
from backwave.drawing.dimensions import Figures, fill_hatch
from backwave.drawing.sheet import Frame, Point, Sheet
from backwave.finding import VERDICTS, words
from backwave.fit import Clearance, Opening
from backwave.fit.plausible import ENTRIES
from backwave.part.types import AdapterSpec

ANGLES = {"up": 90.0, "down": 270.0}  # the two halves of the plane of the cut
SIGNS = {"up": 1.0, "down": -1.0}
INSERT_SCREW_MM = 4.0  # as drawn in an insert, whatever its size


class GapLine(NamedTuple):
    """A clearance to dimension, between two points (z, radius); a radius below 0 lies in the lower half."""

    clearance: Clearance
    name: str  # what it is room to: "glass", "grille", "hole edge"
    a: Point
    b: Point


class SectionCut:
    """One place as its section shows it, in mm: z out of the metal toward the listener, radius from the driver's axis.
    A phone shows the half with the worst clearance alone."""

    def __init__(self, place: PlaceResult, medium: Medium, fmt: Figures, heights_mm: Point) -> None:
        opening, driver, front = place.opening, place.driver, place.driver.front
        assert opening.skin is not None  # measured or a noted default
        self.place, self.opening, self.spec, self.fmt = place, opening, place.spec, fmt
        self.heights = heights_mm  # ends of the scale of stand-offs
        self.medium = medium
        self.seat, self.back = place.fit.seat_height_mm, place.back_closed_mm
        self.front = self.back + self.spec.thickness_mm
        self.skin = opening.skin.value
        self.hole = {half: _hole(opening, angle) for half, angle in ANGLES.items()}
        self.outer = {half: _edge(self.spec, angle) for half, angle in ANGLES.items()}
        self.frame_radius = place.frame_mm / 2.0
        self.profile = [(radius.value, depth.value) for radius, depth in driver.profile]
        self.rim = driver.rim.value if driver.rim else 3.0
        self.moving = next(
            (r.value for r in (front.moving, front.crest, front.fixed, driver.rim) if r is not None), 0.0
        )
        self.crest = front.crest.value if front.crest else self.rim
        self.fixed = front.fixed.value if front.fixed else 0.0
        self.xmech = driver.xmech.value
        self.terminals, self.terminals_deg = driver.terminals, 270.0
        if self.terminals is not None and self.terminals.angle_deg is not None:
            self.terminals_deg = (self.terminals.angle_deg + place.turn_deg) % 360.0
        self.groove = next((g for g in self.spec.grooves if g.face == "back"), None)
        screwed = [f for f in self.spec.fixings if f.hole_mm]
        self.fixing = max(screwed, key=lambda f: f.y_mm) if screwed else None  # turned into the upper half
        self.tail = next((t.length.value for t in place.screws.tails(place.opening_id)), 0.0) if screwed else 0.0
        # and turned into the lower half
        self.thread = min(self.spec.threads, key=lambda t: t.y_mm) if self.spec.threads else None
        self.trim = opening.trim_clear.value if opening.trim_clear else None
        self.land = self.trim if place.foam.land_mm is None else place.foam.land_mm
        ring = place.foam.front
        self.ring = None if ring is None or ring.closed_mm <= 0.0 else ring
        self.grille = self.frame_radius if self.ring is None else self.ring.inner_mm / 2.0
        found = sorted(place.fit.clearances, key=lambda c: c.estimate.low - c.margin_mm)
        self.gaps = [gap for gap in map(self._gap, found) if gap is not None]
        self.halves = _halves(self.gaps) if medium == "phone" else SIGNS
        self.z_low, self.z_high, self.reach = self._extent()

    @property
    def groove_radius(self) -> float:
        return 0.0 if self.groove is None else self.outer["up"] - self.groove.inset_mm

    def _gap(self, c: Clearance) -> GapLine | None:
        near, value = c.nearest, c.estimate.value
        if c.code in ("fit.glass", "fit.behind") and near.z_mm is not None and near.radius_mm is not None:
            at = near.radius_mm if half_of(near.angle_deg) != "down" else -near.radius_mm
            return GapLine(c, near.what, (near.z_mm - value, at), (near.z_mm, at))
        if c.code == "fit.grille" and self.trim is not None:
            at = 0.45 * self.profile[0][0] if near.of == "crest" else 0.0
            return GapLine(c, "grille", (self.trim - value, at), (self.trim, at))
        if c.code == "fit.hole":
            z, edge = -self.skin / 2.0, self.hole["up"]
            return GapLine(c, "hole edge", (z, edge - value), (z, edge))
        return None

    def _extent(self) -> tuple[float, float, float]:
        """Least and greatest z, and the radius at which the drawing ends."""
        low, top = (self.seat, self.seat) if self.medium == "paper" else self.heights  # on a screen it may be moved
        deep = [low - depth for _, depth in self.profile]
        deep += [low - self.terminals.depth.value] if self.terminals else []
        deep += [-spot.clear.value for o in self.opening.behind for spot in o.spots] + [-self.tail]
        high = [top + max(self.moving, self.crest, self.rim, self.fixed) + self.xmech]
        high += [self.heights[1], self.front + top - self.seat, *([self.land or 0.0] if self.ring else [])]
        high += [z + 3 for z in (self.trim, self.land) if z is not None]
        wide = max(*self.outer.values(), self.frame_radius, *self.hole.values())
        return min(deep) - 6.0, max(high) + 1.0, wide + max(6.0, 0.1 * wide)


def unknown(place: PlaceResult) -> tuple[str, ...]:
    """What was not measured, for the foot of a drawing."""
    missing = ", ".join(ENTRIES.get(part, part) for part in place.not_measured)
    said = (f"Not measured, assumed: {missing}.",) if missing else ()
    return (*said, *(f"{words(check.title)}." for check in place.unread))


def half_of(angle_deg: float | None) -> str:
    """The half of the cut that a direction falls into; "both" for all round."""
    if angle_deg is None:
        return "both"
    return "up" if sin(radians(angle_deg)) >= 0.0 else "down"


def _halves(gaps: list[GapLine]) -> dict[str, float]:
    judged = [gap for gap in gaps if gap.a[1] != 0]
    if not judged:
        return {"up": 1.0}
    worst = max(
        judged, key=lambda g: (VERDICTS.index(g.clearance.verdict), g.clearance.margin_mm - g.clearance.estimate.value)
    )
    return {"up": 1.0} if worst.a[1] > 0 else {"down": 1.0}  # alone, it stands upright


def _hole(opening: Opening, angle_deg: float) -> float:
    if opening.hole is not None:
        return opening.hole.value / 2.0
    if opening.outline_mm is None:
        return 0.0
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    _, x, y = max((x * c + y * s, x, y) for x, y in opening.outline_mm.tolist())
    return hypot(x, y)


def _edge(spec: AdapterSpec, angle_deg: float) -> float:
    """Radius of the flange's edge in one direction."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    along = [(abs(x * s - y * c), hypot(x, y)) for x, y in spec.outline.points(0.05) if x * c + y * s > 0.0]
    return float(min(along)[1]) if along else spec.bore_mm + 10.0


def _rect(f: Frame, z1: float, z2: float, r1: float, r2: float) -> list[Point]:
    return f.all(((z1, r1), (z2, r1), (z2, r2), (z1, r2)))


def skin(s: Sheet, f: Frame, cut: SectionCut) -> None:
    """The metal, thin and so drawn solid (ISO 128-3)."""
    for half, sign in cut.halves.items():
        s.line(_rect(f, -cut.skin, 0.0, sign * cut.hole[half], sign * cut.reach), "solid", True)


def adapter(s: Sheet, f: Frame, cut: SectionCut) -> None:
    """The adapter cut through, with what sits in it."""
    spec, back, front = cut.spec, cut.back, cut.front
    plan = cut.place.foam.back.plan if cut.place.foam.back is not None else None
    for half, sign in cut.halves.items():
        outer = cut.outer[half]
        outline = f.all((z, sign * r) for z, r in _cut_outline(cut, outer))
        fill_hatch(s, outline, "body-part", "hatch-part", 6.5)
        s.line(outline, "edge", True)
        if back > 0:
            inner, end = (spec.bore_mm, outer) if plan is None else (plan.inner_mm, plan.inner_mm + plan.width_mm)
            _foam(s, _rect(f, 0.0, back, sign * inner, sign * min(end, outer)))
        if cut.groove is not None:
            near, far = cut.groove_radius - cut.groove.width_mm / 2, cut.groove_radius + cut.groove.width_mm / 2
            _foam(s, _rect(f, back, back + cut.groove.depth_mm, sign * near, sign * far))

    def round_(z1: float, z2: float, r: float, diameter: float, look: str) -> None:
        s.line(_rect(f, z1, z2, r - diameter / 2, r + diameter / 2), look, True)

    if cut.fixing is not None and "up" in cut.halves:
        fix, r = cut.fixing, cut.halves["up"] * hypot(cut.fixing.x_mm, cut.fixing.y_mm)
        under, screw = front - fix.counterbore_depth_mm, max(fix.hole_mm - 0.5, 1.0)
        round_(under, front, r, fix.counterbore_mm, "hollow")
        round_(back, under, r, fix.hole_mm, "hollow")
        round_(-cut.tail, under, r, screw, "screw")
        round_(under, under + fix.head_height_mm, r, fix.head_mm, "screw")
        s.line(f.all(((-cut.tail - 2, r), (front + 2, r))), "center")
    if cut.thread is not None and "down" in cut.halves:
        r, seat = cut.halves["down"] * hypot(cut.thread.x_mm, cut.thread.y_mm), front - spec.recess_mm
        depth = min(cut.thread.depth_mm or spec.seat_z_mm, spec.seat_z_mm)
        round_(seat - depth, seat, r, cut.thread.hole_mm, "hollow")
        round_(seat - 0.85 * depth, cut.seat, r, INSERT_SCREW_MM, "screw")


def _cut_outline(cut: SectionCut, outer: float) -> list[Point]:
    """One half of the adapter's cut as (z, radius), from the front's outer edge round."""
    a, back, front = cut.spec, cut.back, cut.front
    points = [(front, outer)]
    if a.recess_mm > 0 and a.seat_mm > a.bore_mm:
        points += [(front, a.seat_mm), (front - a.recess_mm, a.seat_mm)]
    points.append((front - a.recess_mm, a.bore_mm))
    relief = min(a.relief_mm, 0.9 * (front - a.recess_mm - back))
    if a.spigot and a.keeps_spigot:
        end = back - a.spigot.length_mm
        points += [(end, a.bore_mm), (end, a.spigot.radius_mm), (back, a.spigot.radius_mm)]
    elif relief > 0:
        points += [(back + relief, a.bore_mm), (back, a.bore_mm + relief)]
    else:
        points.append((back, a.bore_mm))
    if cut.groove is not None:
        depth = back + cut.groove.depth_mm
        lo, hi = cut.groove_radius - cut.groove.width_mm / 2, cut.groove_radius + cut.groove.width_mm / 2
        points += [(back, lo), (depth, lo), (depth, hi), (back, hi)]
    points.append((back, outer))
    return points


def _foam(s: Sheet, corners: list[Point]) -> None:
    fill_hatch(s, corners, "body-foam", "dots", 5.0, 60.0)
    s.line(corners, "line", True)


def _magnet_front(profile: list[Point]) -> float:
    """Depth at which the straight cylinder at the driver's back begins."""
    last_r, last_depth = profile[-1]
    front = last_depth
    for r, depth in reversed(profile):
        if abs(r - last_r) > 0.02 * last_r + 0.05:
            break
        front = depth
    return front if front < last_depth else 0.62 * last_depth


def cone_points(cut: SectionCut, shift_mm: float) -> list[Point]:
    """Upper half of surround, cone and cap as (z, radius), from the outside in. `shift_mm`: excursion: the cone moves
    by all of it, the surround's crest by half."""
    outer = min(0.97 * cut.profile[0][0], 0.92 * cut.frame_radius)
    half = 0.085 * outer
    edge = min(0.5 * cut.rim, cut.moving, cut.crest)
    roll = [
        (cut.seat + edge + shift_mm * (1 - cos(t)) / 2 + (cut.crest - edge) * sin(t), outer - half + half * cos(t))
        for t in (pi * n / 12 for n in range(13))
    ]
    inner = outer - 2 * half
    neck_r, neck = 0.3 * outer, -min(0.7 * _magnet_front(cut.profile), 0.42 * outer)

    def cone(r: float) -> float:
        return edge + (neck - edge) * (inner - r) / (inner - neck_r)

    # Widened until it rises by three quarters of its radius or less, as caps do.
    cap_r = next(
        (r for r in (x * outer for x in (0.32, 0.4, 0.5, 0.6)) if cut.moving - cone(r) <= 0.75 * r), 0.7 * outer
    )
    dome = [
        (cut.seat + shift_mm + cut.moving + (cone(cap_r) - cut.moving) * (n / 10) ** 2, cap_r * n / 10)
        for n in range(10, -1, -1)
    ]
    return roll + dome


def driver(s: Sheet, f: Frame, cut: SectionCut) -> None:
    """The driver at rest, its cone at full excursion dashed."""
    signs, profile, seat = list(cut.halves.values()), cut.profile, cut.seat
    back_r, back = profile[-1]
    magnet, cone = _magnet_front(profile), cone_points(cut, 0.0)
    lower, top = (0.0, signs[0]) if len(signs) == 1 else (-1.0, 1.0)
    inner = cone[0][1]

    def run(sign: float, points: list[Point], look: str, closed: bool = False) -> None:
        s.line(f.all((z, sign * r) for z, r in points), look, closed)

    if not terminals_in_plane(cut):
        _terminals(s, f, cut)
    # The basket: its outline as measured, open toward the cone.
    outline = [(seat - depth, r) for r, depth in profile]
    for sign in signs:
        run(sign, [*outline, (seat - back, 0.0), *reversed(cone)], "body-driver", True)
        s.line(_rect(f, seat, seat + cut.rim, sign * inner, sign * cut.frame_radius), "screw", True)
    s.line(_rect(f, seat - back, seat - magnet, lower * back_r, top * back_r), "body-metal", True)
    vent, gasket = cut.place.driver.vent, cut.place.stack.driver_gasket.value
    cap_z, cap_r = cone[13]
    for sign in signs:
        run(sign, [(seat - back, 0.0), *reversed(outline), (seat, cut.frame_radius)], "edge")
        run(sign, [(seat, cut.frame_radius), (seat + cut.rim, cut.frame_radius), (seat + cut.rim, inner)], "edge")
        run(sign, [(seat - magnet, 0.0), (seat - magnet, back_r)], "line")
        if vent is not None and vent.radius.value > 0:
            run(sign, [(seat - back, vent.radius.value), (seat - magnet, vent.radius.value)], "hidden")
        run(sign, [(seat - magnet, 0.8 * cap_r), (cap_z, 0.8 * cap_r), (cap_z, cap_r)], "line")
        run(sign, cone, "edge")
        if gasket > 0:
            _foam(s, _rect(f, seat - gasket, seat, sign * profile[0][0], sign * cut.frame_radius))
        if cut.xmech > 0:
            run(sign, cone_points(cut, cut.xmech), "travel")
    if cut.fixed > 0:
        post = 0.07 * inner
        s.line(_rect(f, seat - magnet, seat + cut.fixed, lower * post, top * post), "screw", True)
    if terminals_in_plane(cut):
        _terminals(s, f, cut)


def terminals_in_plane(cut: SectionCut) -> bool:
    """Whether the terminals lie near the plane of the cut; else they are hidden lines."""
    return abs(sin(radians(cut.terminals_deg))) > 0.7


def terminals_half(cut: SectionCut) -> str:
    return "up" if sin(radians(cut.terminals_deg)) > 0 else "down"


def _terminals(s: Sheet, f: Frame, cut: SectionCut) -> None:
    if cut.terminals is None or (half := terminals_half(cut)) not in cut.halves:
        return
    far, depth, sign = cut.terminals.radius.value, cut.terminals.depth.value, cut.halves[half]
    root = max(min(r for r, _ in cut.profile), far - 12.0)
    corners = _rect(f, cut.seat - depth, cut.seat - 0.55 * depth, sign * root, sign * far)
    s.line(corners, "screw" if terminals_in_plane(cut) else "hidden", True)


def foam_and_trim(s: Sheet, f: Frame, cut: SectionCut) -> None:
    """The foam ring in front, the trim it presses on, and the grille."""
    signs, ring = list(cut.halves.values()), cut.ring
    if ring is not None:
        for sign in signs:
            _foam(s, _rect(f, ring.from_mm, cut.land or 0.0, sign * ring.inner_mm / 2, sign * ring.outer_mm / 2))
    if cut.trim is None or cut.land is None:
        return
    front = max(cut.land, cut.trim) + 3.0
    for sign in signs:
        body = _rect(f, cut.land, front, sign * cut.grille, sign * cut.reach)
        fill_hatch(s, body, "body-trim", "hatch-metal", 7.0, 135.0)
        s.line(body, "line", True)
    x = cut.trim + 1.5 / f.scale
    low = min(signs) * cut.grille if len(signs) > 1 else 0.0
    s.line(f.all(((x, low), (x, max(signs, key=abs) * cut.grille))), "grille")
