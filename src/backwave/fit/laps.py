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
from backwave.fit.types import MOVES
from backwave.fit.window import MOST_SPACED_MM
from backwave.shape import Outline, Point, circle, offset

CARRIED = 0.9  # of a gasket's width that has to lie on the part; common trade practice
ALL_ROUND_DEG = 225.0  # where a lap that is alike all round is drawn


def lap_checks(m: Mounting) -> tuple[Check, ...]:
    """Flange on metal, gasket groove, lip, collar and spigot, as far as there are any."""
    return (*_flange(m), *_groove(m), *_strip(m), *_lip(m), *_collar(m), *_spigot(m))


def _check(
    code: str, found: Doubted, wanted_mm: float, title: str, remedy: str, about: Quantities, formula: str,
    sources: tuple[str, ...], key: str, part: str = "",
) -> Check:  # fmt: skip
    working = (
        CalculationLine("x", formula, found.value_mm, "mm", "geometry"),
        CalculationLine("low", "the least it may be", found.low_mm, "mm", "bounds of the readings"),
        CalculationLine("wanted", "", wanted_mm, "mm", sources[0]),
    )
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
    row, lap = m.lap("flange on metal"), least.lap.value_mm
    about: Quantities = (
        ("lap", lap, "mm"), ("open", -lap, "mm"), ("wanted", row.lap_mm, "mm"),
        ("more", row.lap_mm - least.lap.low_mm, "mm"),
        ("angle", least.angle_deg or 0.0, "deg"),
    )  # fmt: skip
    what = "hole" if m.lip is None else "lip round the hole"
    where = " where it is narrowest, at {angle} (0° right, 90° up)" if least.angle_deg is not None else ""
    title = f"The flange lies on {{lap}} of metal round the {what}{where}; needs {{wanted}}"
    if lap < 0.0:
        title = (
            f"The flange does not cover the {what}: {{open}} stay open{where.replace('it is narrowest', 'most does')}"
        )
    remedy = "Widen the flange by {more} where it is narrowest, or measure hole and flange again"
    if lap >= row.lap_mm:
        remedy = "Measure hole and flange again: as they were read it may be {more} too narrow"
    elif row.lap_mm - least.lap.low_mm > MOST_SPACED_MM:
        remedy = "Measure hole and flange again: {more} all round is another size of hole"
    if m.wider_mm > 0.0 and lap < row.lap_mm:
        title += ", as far as the flange goes by itself: nobody entered its edge"
        remedy = f"Enter the flange: flange = {{{{ diameter = ... }}}}, {{more}} farther out all round{_FRAME * m.frame.assumed}"
    yield _check(
        "mount.flange", _wider(m, least.lap), row.lap_mm, title, remedy, about,
        "least distance from the hole's edge to the flange's", (row.cited,), "flange",
    )  # fmt: skip


def _groove(m: Mounting) -> Iterator[Check]:
    edge, row, doubt = _held_edge(m), m.lap("gasket beside the hole"), _doubt(m)
    for groove in m.grooves:
        outward = lap_mm(groove.outline, m.flange.outline)
        about: Quantities
        if edge is not None and groove.inner:
            lap = lap_mm(edge, groove.inner[0])
            about = (("lap", lap, "mm"), ("open", -lap, "mm"), ("wanted", row.lap_mm, "mm"))
            title = "The gasket lies on metal, {lap} beside the hole; needs {wanted}"
            if lap < 0.0:
                title = "The gasket hangs {open} over the edge of the hole: it does not seal there"
            yield _check(
                "mount.gasket", _wider(m, Doubted(lap, lap - doubt, lap + doubt)), row.lap_mm, title,
                "Lay the gasket flat instead of in a groove, or widen the flange and measure the hole again", about,
                "least distance from the hole's edge to the groove", (row.cited,), "foam.grooved", "hole",
            )  # fmt: skip
        beside = _notch_in_mm(m, groove.inner[0]) if groove.inner else None
        if beside is not None:
            about = (("left", beside, "mm"), ("over", -beside, "mm"))
            title = "The notch ends {left} inside the gasket's groove"
            if beside < 0.0:
                title = "The notch cuts {over} into the gasket's groove: the air goes by it there"
            check = _check(
                "mount.gasket", Doubted(beside, beside, max(beside, 0.0)), 0.0, title,
                "Lay the gasket flat, and lead it round the outside of the notch", about,
                "least distance from the notch to the groove", ("geometry",), "notch", "notch",
            )  # fmt: skip
            yield check if check.verdict == "ok" else replace(check, tries=(("notch", ""),))
        about = (("lap", outward, "mm"), ("open", -outward, "mm"), ("wanted", row.lap_mm, "mm"))
        title = "The gasket's groove keeps {lap} to the flange's edge; needs {wanted}"
        if outward < 0.0:
            title = "The gasket's groove runs {open} out of the flange: it does not seal there"
        yield _check(
            "mount.gasket", _wider(m, Doubted(outward, outward, outward)), row.lap_mm, title,
            "Widen the flange (flange = {{ diameter = ... }}), or lay the gasket flat: foam.grooved = false", about,
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
    title = "The gasket lies on the part with {lap} of its width of {width}; needs {wanted}"
    if inside <= -width:
        title = "The gasket does not touch the part: laid round the hole it ends {beside} inside the part's edge, and the air goes by"
    found = _carried(inside, width, doubt)
    about: Quantities = (
        ("lap", found.value_mm, "mm"), ("width", width, "mm"), ("wanted", wanted, "mm"), ("beside", -inside - width, "mm"),
    )  # fmt: skip
    check = _check(
        "mount.gasket", found, wanted, title,
        "Lay the gasket on the part's own back where metal is behind it; and measure hole and bore again", about,
        "how far the strip reaches over the part", (PRACTICE,), "bore", "part",
    )  # fmt: skip
    half_steps = f"{max(int(2.0 * bore) / 2.0, 1.0):g} mm"
    yield check if check.verdict == "ok" else replace(check, tries=(("bore", half_steps),))
    beyond = _notch_in_mm(m, inner)
    if beyond is None or inside <= -width:
        return
    found = _carried(beyond, width, doubt)
    about = (("lap", found.value_mm, "mm"), ("width", width, "mm"), ("wanted", wanted, "mm"))
    title = "The gasket lies on the part outside the notch with {lap} of its width; needs {wanted}"
    if found.value_mm <= 0.0:
        title = "The notch cuts through under all of the gasket's width of {width}: the air goes by it there"
    # a leak at one place is no reason not to make it
    check = _check(
        "mount.gasket", replace(found, high_mm=max(found.high_mm, 0.0)), wanted, title,
        "Lead the gasket round the outside of the notch, on the flange that is left there", about,
        "how far the strip reaches over the part beyond the notch", (PRACTICE,), "notch", "notch",
    )  # fmt: skip
    yield check if check.verdict == "ok" else replace(check, tries=(("notch", ""),))


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
    row, back = m.lap("play over a lip"), m.flange.low_mm
    room = m.lip_room
    ceiling = back if room is None else room.high_mm
    height = m.lip.height
    free = ceiling - height.value
    about: Quantities = (("free", free, "mm"), ("over", -free, "mm"), ("wanted", row.lap_mm, "mm"))
    title = "The back of the part clears the lip round the hole by {free}; needs {wanted}"
    if free < 0.0:
        title = "The part does not lie down: the lip round the hole is {over} taller than the room for it"
    yield _check(
        "mount.lip", Doubted(free, free - height.bound, free + height.bound), row.lap_mm, title,
        "Measure the lip's height again, or make the part thicker so that the relief in its back is deep enough", about,
        "room behind the part less the height of the lip", (row.cited,), "lip.height",
    )  # fmt: skip
    edge = m.hole_edge
    if room is None or edge is None:
        return
    foot = _grown(edge, m.lip.width.value)
    beside, doubt = lap_mm(foot, room.outline), m.lip.width.bound + m.hole_doubt_mm
    about = (("free", beside, "mm"), ("over", -beside, "mm"), ("wanted", 0.0, "mm"))
    title = "The relief for the lip is {free} wider all round than the lip"
    if beside < 0.0:
        title = "The relief for the lip is {over} narrower than the lip"
    yield _check(
        "mount.lip", Doubted(beside, beside - doubt, beside + doubt), 0.0, title,
        "Measure hole and lip again: lip = {{ height, width }}", about,
        "least distance from the lip's foot to the relief's edge", (row.cited,), "lip.width", "beside",
    )  # fmt: skip
    floor, least = m.land_mm - room.high_mm, m.lap("part over a lip").lap_mm
    about = (("left", floor, "mm"), ("wanted", least, "mm"), ("more", least - floor, "mm"))
    title = "{left} of the part are left over the lip, under the speaker; needs {wanted}"
    if floor <= 0.0:
        title = "Nothing of the part is left over the lip, under the speaker"
    yield _check(
        "mount.lip", Doubted(floor, floor, floor), least, title, "Make the part {more} thicker", about,
        "seat of the speaker less the relief for the lip", (m.lap("part over a lip").cited,), "thickness", "over",
    )  # fmt: skip


def _collar(m: Mounting) -> Iterator[Check]:
    if m.collar is None:
        return
    outer = m.collar.outline.circle
    inner = m.collar.inner[0].circle
    assert outer is not None
    assert inner is not None
    lap = lap_mm(m.collar.outline, m.flange.outline)
    about: Quantities = (("lap", lap, "mm"), ("open", -lap, "mm"), ("width", max(outer[2] - inner[2] + lap, 0.0), "mm"))
    title = "The collar for the foam stands on the flange, {lap} inside its edge"
    if lap < 0.0:
        title = "The collar for the foam hangs in the air: it reaches {open} beyond the flange"
    remedy = "Make the collar {width} wide or narrower, or the flange {open} wider all round"
    if outer[2] - inner[2] + lap <= 0.0:
        remedy = "Make the flange {open} wider all round, or leave the collar out"
    yield _check(
        "mount.collar", _wider(m, Doubted(lap, lap, lap)), 0.0, title, remedy, about,
        "least distance from the collar's edge to the flange's", ("geometry",), "collar.width",
    )  # fmt: skip
    gaps = [(_beside(head, outer[2], inner[2]), head) for head in m.heads]
    if gaps:
        gap, head = min(gaps, key=lambda pair: pair[0])
        found = head.outline.circle
        assert found is not None
        width = hypot(found[0], found[1]) - found[2] - inner[2]
        about = (("what", head.name, ""), ("gap", gap, "mm"), ("over", -gap, "mm"), ("width", max(width, 0.0), "mm"))
        title = "The collar for the foam is whole: {gap} to the {what}"
        remedy = "Make the collar {width} wide or narrower, so that it ends before the {what}"
        if gap < 0.0:
            title = "The {what} cuts {over} into the collar: the foam does not seal there"
        if width <= 0.0:
            remedy = "Cover the {what} with tape before the foam goes on, or leave the collar out"
        # a leak is no reason not to make it
        yield _check(
            "mount.collar", Doubted(gap, gap, max(gap, 0.0)), 0.0, title, remedy, about,
            "least distance from a counterbore to the collar", ("geometry",), "collar.width", "heads",
        )  # fmt: skip
    if (ahead := m.collar_meets) is not None:
        room = ahead.value - m.collar.high_mm
        about = (("room", room, "mm"), ("over", -room, "mm"))
        title = "The collar stands {room} clear of the trim"
        if room < 0.0:
            title = "The collar is {over} too tall: the trim does not go on"
        # a trim that as read does not go on is a stop, even where the reading may be out by more
        yield _check(
            "mount.collar", Doubted(room, room - ahead.bound, room + (ahead.bound if room >= 0.0 else 0.0)), 0.0, title,
            "Make the collar lower, or measure the trim again", about,
            "metal to the trim less the top of the collar", ("geometry",), "collar.height", "top",
        )  # fmt: skip
    if m.trim_outer_mm is not None:
        room = m.trim_outer_mm / 2.0 - outer[2]
        about = (("room", room, "mm"), ("over", -room, "mm"))
        title = "The collar stays {room} within the flat of the trim"
        if room < 0.0:
            title = "The collar reaches {over} beyond the flat of the trim: it may hit what stands there"
        yield _check(
            "mount.collar", Doubted(room, room, max(room, 0.0)), 0.0, title,
            "Make the collar {over} narrower, or look at what the trim has there", about,
            "radius of the trim's flat less the collar's", ("geometry",), "collar.width", "trim",
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
    outer = m.spigot.outline.circle
    inner = m.spigot.inner[0].circle
    assert outer is not None
    assert inner is not None
    edge, doubt = m.hole_edge, m.hole_doubt_mm
    about: Quantities
    if edge is not None:
        gap = lap_mm(m.spigot.outline, edge)
        about = (("gap", gap, "mm"), ("over", -gap, "mm"), ("play", doubt, "mm"))
        title = "The spigot goes into the hole with {gap} all round"
        if gap < 0.0:
            title = "The spigot does not go into the hole: it is {over} too wide"
        yield _check(
            "mount.spigot", Doubted(gap, gap - doubt, gap + doubt), 0.0, title,
            "Measure the hole again, or give the spigot {play} of play: spigot = {{ gap = ... }}", about,
            "least distance from the spigot to the hole's edge", ("geometry",), "spigot.gap", "hole",
        )  # fmt: skip
    if m.spigot.low_mm >= 0.0:
        return  # it ends before the metal
    nearest: tuple[float, float, float, str, float] | None = None
    for obstacle in m.opening.behind:
        spots = [(s.radius.value, s.clear.value, s.clear.bound) for s in obstacle.spots]
        radii, clear, doubts = (np.array(column) for column in zip(*spots))
        at = np.array([inner[2], outer[2], *(r for r in radii if inner[2] < r < outer[2])])
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
    about = (
        ("free", free, "mm"), ("over", -free, "mm"), ("what", name, ""), ("wanted", margin, "mm"),
        ("shorter", max(-spare, 0.0), "mm"), ("length", m.flange.low_mm + shorter, "mm"),
    )  # fmt: skip
    title = "{free} between the end of the spigot and the {what}; needs {wanted}"
    if free < 0.0:
        title = "The spigot hits the {what}: it is {over} too long"
    # what was read there may break: as with the speaker's own back, room that may be gone is a stop
    high = free if least >= 0.0 else -1.0
    found = _check(
        "mount.spigot", Doubted(free, least, high), margin, title,
        "Make the spigot {shorter} shorter: {length} or less", about,
        "free depth behind the face less the spigot's, least over its wall", (f"margin: {PRACTICE}",),
        "spigot.length", "behind",
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
