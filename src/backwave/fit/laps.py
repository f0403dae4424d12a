"""What lies on what: the hole within the gasket within the flange, the lip, the collar, the spigot.  Millimeters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict
from backwave.fit.assembly import Body, Doubted, Mounting, lap_mm, room_check
from backwave.fit.coverage import coverage_checks
from backwave.fit.gasket import NARROW_MM
from backwave.fit.types import MOVES
from backwave.fit.window import MOST_SPACED_MM
from backwave.shape import Outline, Point, circle, offset

CARRIED = 0.9  # of a gasket's width that has to lie on the part; common trade practice
ALL_ROUND_DEG = 225.0  # where a lap that is alike all round is drawn


def lap_checks(m: Mounting) -> tuple[Check, ...]:
    """Flange on metal, gasket groove, lip, collar and spigot, as far as there are any."""
    return (*_flange(m), *_groove(m), *_strip(m), *_lip(m), *_collar(m), *_spigot(m))


def _check(
    code: str, found: Doubted, wanted_mm: float, titles: tuple[str, str], remedy: str, formula: str,
    sources: tuple[str, ...], key: str, part: str = "", **more: float | str,
) -> Check:  # fmt: skip
    """A lap, in words {lap} where there is one and {over} where there is none; `more` is in mm, or an angle in degrees."""
    about: Quantities = (
        ("lap", found.value_mm, "mm"), ("over", -found.value_mm, "mm"), ("wanted", wanted_mm, "mm"),
        *((name, v, "" if isinstance(v, str) else "deg" if name == "angle" else "mm") for name, v in more.items()),
    )  # fmt: skip
    working = (
        CalculationLine("x", formula, found.value_mm, "mm", "geometry"),
        CalculationLine("low", "the least it may be", found.low_mm, "mm", "bounds of the readings"),
        CalculationLine("wanted", "", wanted_mm, "mm", sources[0]),
    )
    title = titles[found.value_mm < 0.0]
    return room_check(code, found, wanted_mm, title, remedy, about, working, sources, key, part)


def _grown(outline: Outline, by_mm: float) -> Outline:
    try:
        return offset(outline, by_mm)
    except InputError:  # shrunk to nothing: as good as a point
        return outline


def _held_edge(m: Mounting) -> Outline | None:
    """What the gasket has to lie outside of: the edge of the hole, or the foot of its lip."""
    edge = m.hole_edge
    return edge if edge is None or m.lip is None else _grown(edge, m.lip.width.value)


def _doubt(m: Mounting) -> float:
    return m.hole_doubt_mm + (m.lip.width.bound if m.lip is not None else 0.0)


_BY_ITSELF = ", as far as the flange goes by itself: nobody entered its edge"
_FRAME = ", and measure the speaker's frame (frame = ...), which it is taken from"


def _wider(m: Mounting, lap: Doubted) -> Doubted:
    """A lap on a flange that may go farther out where nobody entered its edge."""
    return replace(lap, high_mm=lap.high_mm + m.wider_mm)


@dataclass(frozen=True)
class FlangeLap:
    """How far the flange lies on metal round the hole, or round its lip, where that is least."""

    lap: Doubted  # mm, negative where the hole stays open
    wanted_mm: float
    angle_deg: float | None  # where, from +x toward +y as seen from the cabin; None: alike all round
    ends_mm: tuple[Point, Point]  # (x, y) of its two ends: on the hole's edge and on the flange's

    @property
    def verdict(self) -> Verdict:
        """As of its check."""
        return self.lap.verdict(self.wanted_mm)


def flange_lap(m: Mounting) -> FlangeLap | None:
    """The least lap of the flange on metal; None where the hole was not measured."""
    import shapely
    from shapely.ops import nearest_points

    edge = _held_edge(m)
    if edge is None:
        return None
    lap, doubt, flange = lap_mm(edge, m.flange.outline), _doubt(m), m.flange.outline
    found, wanted = Doubted(lap, lap - doubt, lap + doubt), m.lap("flange on metal").lap_mm
    hole, around = edge.circle, flange.circle
    if hole is not None and around is not None and hypot(hole[0] - around[0], hole[1] - around[1]) < 1e-6:
        c, s = cos(radians(ALL_ROUND_DEG)), sin(radians(ALL_ROUND_DEG))
        start, end = ((x + r * c, y + r * s) for x, y, r in (hole, around))
        return FlangeLap(found, wanted, None, (start, end))
    inner, outer = edge.polygon().exterior, flange.polygon().exterior
    near, far = nearest_points(inner, outer)
    if lap < 0.0:  # where most of it stays open
        points = shapely.points(shapely.segmentize(inner, 1.0).coords)
        away = np.where(shapely.contains(flange.polygon(), points), -1.0, shapely.distance(outer, points))
        near, far = nearest_points(points[int(away.argmax())], outer)
    return FlangeLap(found, wanted, degrees(atan2(near.y, near.x)) % 360.0, ((near.x, near.y), (far.x, far.y)))


def _flange(m: Mounting) -> Iterator[Check]:
    least = flange_lap(m)
    if least is None:
        return
    row, lap, more = m.lap("flange on metal"), least.lap.value_mm, m.lap("flange on metal").lap_mm - least.lap.low_mm
    what = "hole" if m.lip is None else "lip round the hole"
    where = " where it is narrowest, at {angle} (0° right, 90° up)" if least.angle_deg is not None else ""
    titles = (
        f"The flange lies on {{lap}} of metal round the {what}{where}; needs {{wanted}}",
        f"The flange does not cover the {what}: {{over}} stay open{where.replace('it is narrowest', 'most does')}",
    )
    remedy = "Widen the flange by {more} where it is narrowest, or measure hole and flange again"
    if lap >= row.lap_mm:
        remedy = "Measure hole and flange again: as they were read it may be {more} too narrow"
    elif more > MOST_SPACED_MM:
        remedy = "Measure hole and flange again: {more} all round is another size of hole"
    if m.wider_mm > 0.0 and lap < row.lap_mm:
        titles = (titles[0] + _BY_ITSELF, titles[1] + _BY_ITSELF)
        remedy = f"Enter the flange: flange = {{{{ diameter = ... }}}}, {{more}} farther out all round{_FRAME * m.frame.assumed}"
    yield _check(
        "mount.flange", _wider(m, least.lap), row.lap_mm, titles, remedy,
        "least distance from the hole's edge to the flange's", (row.cited,), "flange", more=more, angle=least.angle_deg or 0.0,
    )  # fmt: skip


def _groove(m: Mounting) -> Iterator[Check]:
    edge, row, doubt = _held_edge(m), m.lap("gasket beside the hole"), _doubt(m)
    for groove in m.grooves:
        outward = lap_mm(groove.outline, m.flange.outline)
        if edge is not None and groove.inner:
            lap = lap_mm(edge, groove.inner[0])
            yield _check(
                "mount.gasket", _wider(m, Doubted(lap, lap - doubt, lap + doubt)), row.lap_mm,
                ("The gasket lies on metal, {lap} beside the hole; needs {wanted}",
                 "The gasket hangs {over} over the edge of the hole: it does not seal there"),
                "Lay the gasket flat instead of in a groove, or widen the flange and measure the hole again",
                "least distance from the hole's edge to the groove", (row.cited,), "foam.grooved", "hole",
            )  # fmt: skip
        beside = _notch_in_mm(m, groove.inner[0]) if groove.inner else None
        if beside is not None:
            check = _check(
                "mount.gasket", Doubted(beside, beside, max(beside, 0.0)), 0.0,
                ("The notch ends {lap} inside the gasket's groove",
                 "The notch cuts {over} into the gasket's groove: the air goes by it there"),
                "Lay the gasket flat, and lead it round the outside of the notch",
                "least distance from the notch to the groove", ("geometry",), "notch", "notch",
            )  # fmt: skip
            yield check if check.verdict == "ok" else replace(check, tries=(("notch", ""),))
        yield _check(
            "mount.gasket", _wider(m, Doubted(outward, outward, outward)), row.lap_mm,
            ("The gasket's groove keeps {lap} to the flange's edge; needs {wanted}",
             "The gasket's groove runs {over} out of the flange: it does not seal there"),
            "Widen the flange (flange = {{ diameter = ... }}), or lay the gasket flat: foam.grooved = false",
            "least distance from the groove to the flange's edge", (row.cited,), "foam.grooved", "edge",
        )  # fmt: skip


def _strip(m: Mounting) -> Iterator[Check]:
    """A flat strip is laid from the hole's edge outward: whether the part, and what its notches leave, reaches there."""
    edge = _held_edge(m)
    if edge is None or m.strip_mm is None or not m.passages:
        return
    inner, width, doubt = _grown(edge, m.strip_mm[0]), m.strip_mm[1], _doubt(m)
    begins, wanted = m.passages[0].low_radius_mm, CARRIED * width
    inside = lap_mm(circle(begins), inner)  # how far inside the strip the part begins
    if m.lip_room is not None:
        inside = min(inside, lap_mm(m.lip_room.outline, inner))
    bore = 2.0 * (begins - max(doubt - inside, 0.0)) - 2.0 * (begins - m.passages[-1].low_radius_mm)
    check = _check(
        "mount.gasket", _carried(inside, width, doubt), wanted,
        ("The gasket lies on the part with {lap} of its width of {width}; needs {wanted}",
         "The gasket does not touch the part: laid round the hole it ends {over} inside the part's edge, and the air goes by"),
        "Lay the gasket on the part's own back where metal is behind it; and measure hole and bore again",
        "how far the strip reaches over the part", (PRACTICE,), "bore", "part", width=width,
    )  # fmt: skip
    half_steps = f"{max(int(2.0 * bore) / 2.0, 1.0):g} mm"
    yield check if check.verdict == "ok" else replace(check, tries=(("bore", half_steps),))
    yield from _pockets(m, inner, width, doubt)
    beyond = _notch_in_mm(m, inner)
    if beyond is None or inside <= -width:
        return
    found = _carried(beyond, width, doubt)
    # a leak at one place is no reason not to make it
    check = _check(
        "mount.gasket", replace(found, high_mm=max(found.high_mm, 0.0)), wanted,
        ("The gasket lies on the part outside the notch with {lap} of its width; needs {wanted}",
         "The notch cuts through under all of the gasket's width of {width}: the air goes by it there"),
        "Lead the gasket round the outside of the notch, on the flange that is left there",
        "how far the strip reaches over the part beyond the notch", (PRACTICE,), "notch", "notch", width=width,
    )  # fmt: skip
    yield check if check.verdict == "ok" else replace(check, tries=(("notch", ""),))


def _pockets(m: Mounting, inner: Outline, width: float, doubt: float) -> Iterator[Check]:
    """Of a flat strip, what the nuts' pockets leave whole of it: the wider of its two sides beside the worst of them."""

    def whole(near: float, far: float) -> float:
        return min(max(near, width - far), width)

    spans = [(min(out), max(out)) for p in m.pockets for out in [[-inner.inside_mm(x, y) for x, y in p.points()]]]
    if not spans:
        return
    left, least = (min(whole(a + d, b + e) for a, b in spans) for d, e in ((0.0, 0.0), (-doubt, doubt)))
    # a leak is no reason not to make it
    yield _check(
        "mount.gasket", Doubted(left, least, max(left, 0.0)), min(CARRIED * width, *NARROW_MM),
        ("The nut pockets in the back leave {lap} of the gasket's width of {width} whole; needs {wanted}",
         "The nut pockets in the back cut through under all of the gasket's width of {width}: the air goes by it there"),
        "Take inserts instead of nuts (threads), or lay all of the strip on one side of the pockets",
        "widest side of the strip beside a pocket", (PRACTICE,), "threads", "pockets", width=width,
    )  # fmt: skip


def _notch_in_mm(m: Mounting, edge: Outline) -> float | None:
    """How far the notches end inside an edge, at the least; negative where one cuts it; None without notches."""
    found = [
        min(edge.inside_mm(*(n.reach_mm * along + side * n.half_mm * across for along, across in axes)) for side in (-1, 0, 1))
        for p in m.passages[:1] for n in p.notches
        for c, s in [(cos(radians(n.angle_deg)), sin(radians(n.angle_deg)))]
        for axes in [((c, -s), (s, c))]
    ]  # fmt: skip
    return min(found, default=None)


def _carried(inside_mm: float, width_mm: float, doubt_mm: float) -> Doubted:
    """How much of a strip's width lies on a part that begins so far inside of it; negative: it ends before the part."""
    return Doubted(*(min(inside_mm + width_mm + d, width_mm) for d in (0.0, -doubt_mm, doubt_mm)))


def _lip(m: Mounting) -> Iterator[Check]:
    if m.lip is None:
        return
    row, room, height = m.lap("play over a lip"), m.lip_room, m.lip.height
    free = (m.flange.low_mm if room is None else room.high_mm) - height.value
    yield _check(
        "mount.lip", Doubted(free, free - height.bound, free + height.bound), row.lap_mm,
        ("The back of the part clears the lip round the hole by {lap}; needs {wanted}",
         "The part does not lie down: the lip round the hole is {over} taller than the room for it"),
        "Measure the lip's height again, or make the part thicker so that the relief in its back is deep enough",
        "room behind the part less the height of the lip", (row.cited,), "lip.height",
    )  # fmt: skip
    edge = m.hole_edge
    if room is None or edge is None:
        return
    foot = _grown(edge, m.lip.width.value)
    beside, doubt = lap_mm(foot, room.outline), m.lip.width.bound + m.hole_doubt_mm
    yield _check(
        "mount.lip", Doubted(beside, beside - doubt, beside + doubt), 0.0,
        ("The relief for the lip is {lap} wider all round than the lip",
         "The relief for the lip is {over} narrower than the lip"),
        "Measure hole and lip again: lip = {{ height, width }}", "least distance from the lip's foot to the relief's edge",
        (row.cited,), "lip.width", "beside",
    )  # fmt: skip
    floor, least = m.land_mm - room.high_mm, m.lap("part over a lip")
    yield _check(
        "mount.lip", Doubted(floor, floor, floor), least.lap_mm,
        ("{lap} of the part are left over the lip, under the speaker; needs {wanted}",
         "Nothing of the part is left over the lip, under the speaker"),
        "Make the part {more} thicker", "seat of the speaker less the relief for the lip", (least.cited,), "thickness", "over",
        more=least.lap_mm - floor,
    )  # fmt: skip


def _ring(body: Body) -> tuple[float, float]:
    """Radii of a round body's inside and outside."""
    inner, outer = body.inner[0].circle, body.outline.circle
    assert inner is not None
    assert outer is not None
    return inner[2], outer[2]


def _collar(m: Mounting) -> Iterator[Check]:
    if m.collar is None:
        return
    inner, outer = _ring(m.collar)
    lap = lap_mm(m.collar.outline, m.flange.outline)
    remedy = "Make the collar {width} wide or narrower, or the flange {over} wider all round"
    if outer - inner + lap <= 0.0:
        remedy = "Make the flange {over} wider all round, or leave the collar out"
    yield _check(
        "mount.collar", _wider(m, Doubted(lap, lap, lap)), 0.0,
        ("The collar for the foam stands on the flange, {lap} inside its edge",
         "The collar for the foam hangs in the air: it reaches {over} beyond the flange"),
        remedy, "least distance from the collar's edge to the flange's", ("geometry",), "collar.width",
        width=max(outer - inner + lap, 0.0),
    )  # fmt: skip
    if m.heads:
        gap, head = min(((_beside(head, outer, inner), head) for head in m.heads), key=lambda pair: pair[0])
        found = head.outline.circle
        assert found is not None
        width = hypot(found[0], found[1]) - found[2] - inner
        remedy = "Make the collar {width} wide or narrower, so that it ends before the {what}"
        if width <= 0.0:
            remedy = "Cover the {what} with tape before the foam goes on, or leave the collar out"
        # a leak is no reason not to make it
        yield _check(
            "mount.collar", Doubted(gap, gap, max(gap, 0.0)), 0.0,
            ("The collar for the foam is whole: {lap} to the {what}",
             "The {what} cuts {over} into the collar: the foam does not seal there"),
            remedy, "least distance from a counterbore to the collar", ("geometry",), "collar.width", "heads",
            what=head.name, width=max(width, 0.0),
        )  # fmt: skip
    if (ahead := m.collar_meets) is not None:
        room = ahead.value - m.collar.high_mm
        # a trim that as read does not go on is a stop, even where the reading may be out by more
        yield _check(
            "mount.collar", Doubted(room, room - ahead.bound, room + (ahead.bound if room >= 0.0 else 0.0)), 0.0,
            ("The collar stands {lap} clear of the trim", "The collar is {over} too tall: the trim does not go on"),
            "Make the collar lower, or measure the trim again", "metal to the trim less the top of the collar",
            ("geometry",), "collar.height", "top",
        )  # fmt: skip
    if m.trim_outer_mm is not None:
        room = m.trim_outer_mm / 2.0 - outer
        yield _check(
            "mount.collar", Doubted(room, room, max(room, 0.0)), 0.0,
            ("The collar stays {lap} within the flat of the trim",
             "The collar reaches {over} beyond the flat of the trim: it may hit what stands there"),
            "Make the collar {over} narrower, or look at what the trim has there", "radius of the trim's flat less the collar's",
            ("geometry",), "collar.width", "trim",
        )  # fmt: skip


def _beside(head: Body, outer: float, inner: float) -> float:
    """Distance between a round counterbore and the collar's ring; negative where it cuts into it."""
    found = head.outline.circle
    assert found is not None
    away = hypot(found[0], found[1])
    return max(away - found[2] - outer, inner - away - found[2])


def _spigot(m: Mounting) -> Iterator[Check]:
    if m.spigot is None:
        return
    inner, outer = _ring(m.spigot)
    edge, doubt = m.hole_edge, m.hole_doubt_mm
    if edge is not None:
        gap = lap_mm(m.spigot.outline, edge)
        yield _check(
            "mount.spigot", Doubted(gap, gap - doubt, gap + doubt), 0.0,
            ("The spigot goes into the hole with {lap} all round", "The spigot does not go into the hole: it is {over} too wide"),
            "Measure the hole again, or give the spigot {play} of play: spigot = {{ gap = ... }}",
            "least distance from the spigot to the hole's edge", ("geometry",), "spigot.gap", "hole", play=doubt,
        )  # fmt: skip
    if m.spigot.low_mm >= 0.0:
        return  # it ends before the metal
    nearest: tuple[float, float, float, str, float] | None = None
    for obstacle in m.opening.behind:
        spots = [(s.radius.value, s.clear.value, s.clear.bound) for s in obstacle.spots]
        radii, clear, doubts = (np.array(column) for column in zip(*spots))
        at = np.array([inner, outer, *(r for r in radii if inner < r < outer)])
        room = np.interp(at, radii, clear) + m.spigot.low_mm
        low = room - np.interp(at, radii, doubts)
        k = int(low.argmin())
        margin = m.margins.glass_mm if obstacle.what in MOVES else m.margins.metal_mm
        name = obstacle.what + (f", window {obstacle.window}" if obstacle.window else "")
        here = (float(low[k] - margin), float(room[k]), float(low[k]), name, margin)
        nearest = here if nearest is None else min(nearest, here)
    if nearest is None:
        return
    spare, free, least, name, margin = nearest
    shorter = max(-m.spigot.low_mm + spare, 0.0)
    # what was read there may break: as with the speaker's own back, room that may be gone is a stop
    high = free if least >= 0.0 else -1.0
    found = _check(
        "mount.spigot", Doubted(free, least, high), margin,
        ("{lap} between the end of the spigot and the {what}; needs {wanted}", "The spigot hits the {what}: it is {over} too long"),
        "Make the spigot {shorter} shorter: {length} or less",
        "free depth behind the face less the spigot's, least over its wall", (f"margin: {PRACTICE}",), "spigot.length", "behind",
        what=name, shorter=max(-spare, 0.0), length=m.flange.low_mm + shorter,
    )  # fmt: skip
    found = replace(found, high=2.0 * free - least)
    unread = () if m.tried else tuple(c for c in coverage_checks(m.opening, None) if c.verdict != "ok")
    if found.verdict == "ok" and unread and (measure := unread[0].remedy) is not None:
        said = Message(found.title.template + " (where it was measured)", found.title.quantities)
        ask = measure.template.format(**{name: value for name, value, _ in measure.quantities})
        do = Message("{ask}", (("ask", ask.split("; or ")[0] + ": the dummy has no spigot", ""),))
        waits = tuple(check.name for check in unread)
        found = replace(found, verdict="caution", title=said, remedy=do, key="behind", waits=waits)
    yield found
