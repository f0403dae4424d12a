"""The dummy: what a driver puts behind the metal, plus margin, to try in the opening before any long print.

A plate lies on the metal; the dummy hangs from it as deep as the driver will, seated at the chosen height.  What
of the driver stands before the metal is not in it.  Depth is larger by the margin of what is behind in that direction;
radius only where it passes the metal, and by less than the hole's margin, so that it enters every hole that is ok.
As cards it is the cuts through the axis and the terminals, or a screw; as a solid it is turned about its axis, with the
terminals' block, screw tails and a hole to look through, printed plate down, hollow (two walls, no filling).
Millimeters; z = 0 is the metal, behind it is negative."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from hashlib import blake2b
from itertools import pairwise
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Any

from backwave.errors import BuildError
from backwave.part.engraving import Mark, inked, strokes_of
from backwave.part.flat_patterns import FlatPart
from backwave.part.solid import Built
from backwave.part.types import StandInSpec
from backwave.shape import Point, polygon

HANDLE = 30.0  # mm the card stands out of the opening, to hold it by
CARD = 2.0  # mm
CODE, WORD = 6.0, 4.0  # mm: height of the card's code, and of what lies to the right
LEAST = 16.0  # mm: half the width of the smallest card that has room for its code
LETTERS = "ACEFHJKLMNPRTUVWXY"  # none that is taken for another, or for a figure
_CODE = re.compile(rf"([{LETTERS}]{{4}})-?(\d{{1,3}}(?:\.\d)?|-\d{{1,2}}(?:\.\d)?)")


def coded(spec: StandInSpec) -> StandInSpec:
    """The same with its code: four letters for what it proves, then its stand-off in mm ("KXMT-17.4"). One of the same
    letters and a lower stand-off reaches deeper, so that it proves this one too."""
    proven = repr(replace(spec, seat_height_mm=0.0, name="", code="")).encode()
    number = int.from_bytes(blake2b(proven, digest_size=8).digest())
    letters = ""
    for _ in range(4):
        number, k = divmod(number, len(LETTERS))
        letters += LETTERS[k]
    return replace(spec, code=f"{letters}-{spec.seat_height_mm:.1f}")


def split_code(text: str) -> tuple[str, float] | None:
    """Letters and stand-off of a code as a person types it; None where it is none."""
    found = _CODE.fullmatch("".join(text.upper().replace(",", ".").split()))
    return (found[1], float(found[2])) if found else None


def margin_at_mm(spec: StandInSpec, angle_deg: float | None) -> float:
    """What is added to depth in a direction; None: the most anywhere."""
    margins = [m for a, b, m in spec.deeper if angle_deg is None or (angle_deg - a) % 360.0 <= (b - a) % 360.0]
    return max([spec.margin_mm, *margins])


def gauge_depth_mm(spec: StandInSpec) -> float:
    """How far the dummy reaches behind the metal."""
    depth = spec.profile_mm[-1][1]
    if spec.terminals_mm is not None:
        depth = max(depth, spec.terminals_mm[3])
    return depth + margin_at_mm(spec, None) - spec.seat_height_mm


def half_section(spec: StandInSpec, angle_deg: float | None = None) -> tuple[Point, ...]:
    """Half of the dummy in one direction, as (radius, z) round from the axis at the metal to the axis at its end.
    BuildError: the driver does not reach behind the metal at this seat height."""
    import shapely

    whole = _behind(spec, spec.margin_mm if angle_deg is None else margin_at_mm(spec, angle_deg))
    half = shapely.normalize(whole.intersection(shapely.box(0.0, -1e4, 1e4, 0.0)).simplify(1e-9))
    ring = [(float(x), float(z)) for x, z in half.exterior.coords[:-1]]
    start = max(range(len(ring)), key=lambda k: (-ring[k][0], ring[k][1]))  # highest on the axis
    return (*ring[start:], *ring[:start])  # a normal ring runs clockwise: outward along the metal first


def terminal_box(spec: StandInSpec) -> tuple[float, float, float, float] | None:
    """The terminal block with its margin: angle (deg), width, radius it reaches to, z of its end; None without.
    Terminals whose angle is not known are part of the turned section instead."""
    angle, width, radius, depth = spec.terminals_mm or (None, 0.0, 0.0, 0.0)
    if angle is None:
        return None
    low = spec.seat_height_mm - depth - margin_at_mm(spec, angle)
    grown = spec.growth_mm
    return (angle, width + 2.0 * grown, radius + grown, low) if low < 0.0 else None


def cards(spec: StandInSpec) -> tuple[FlatPart, ...]:
    """The dummy as cards to cut out at 1:1: through the terminals, then through each screw's end that needs another
    cut. Terminals or screw to the right, the handle with its code up. Raises `BuildError` as `half_section` does."""
    from shapely.affinity import scale

    block = terminal_box(spec)
    cuts: list[tuple[Any, float, str]] = []
    ways = [degrees(atan2(y, x)) % 360.0 for x, y, *_ in spec.tails_mm]
    planes = [*([(block[0], "terminals")] if block else []), *((way, "screw") for way in ways)]
    for angle, what in planes or [(0.0, "")]:
        cut = _cut(spec, angle)
        both = (cut, scale(cut, -1.0, origin=(0.0, 0.0)))  # as it is, and turned over
        if not any(way.symmetric_difference(c).area < 0.1 for c, *_ in cuts for way in both):
            cuts.append((cut, angle, what))
    return tuple(_card(spec, *one) for one in cuts)


def _cut(spec: StandInSpec, angle_deg: float) -> Any:
    """All of the dummy in the plane through its axis in a direction and the opposite one, with the handle."""
    import shapely

    block = terminal_box(spec)
    wide = max(spec.rim_mm, LEAST)
    bodies = [shapely.box(-wide, 0.0, wide, HANDLE)]
    for side, way in ((1.0, angle_deg), (-1.0, angle_deg + 180.0)):
        c, d = cos(radians(way)), sin(radians(way))
        half = shapely.box(min(0.0, side * 1e4), -1e4, max(0.0, side * 1e4), 0.0)
        bodies.append(_behind(spec, margin_at_mm(spec, way)).intersection(half))
        if block is not None and (along := cos(radians(way - block[0]))) > 1e-9:
            reach = min(block[2] / along, block[1] / 2.0 / max(abs(sin(radians(way - block[0]))), 1e-9))
            bodies.append(shapely.box(min(0.0, side * reach), block[3], max(0.0, side * reach), 0.0))
        for x, y, across, long in spec.tails_mm:
            out = side * (x * c + y * d)
            if side * out > 0.0 and abs(y * c - x * d) < across / 4.0:
                bodies.append(shapely.box(out - across / 2.0, -long, out + across / 2.0, 0.0))
    low, _, high, _ = shapely.union_all(bodies).bounds
    return shapely.union_all([*bodies, shapely.box(low, 0.0, high, HANDLE)])


def _card(spec: StandInSpec, cut: Any, angle_deg: float, what: str) -> FlatPart:
    low, depth, high, _ = cut.bounds
    right = f"{what} at {angle_deg:.0f}°" if what else ""
    engraved: list[tuple[Point, ...]] = []
    for text, tall, base in ((spec.code, CODE, 0.6 * HANDLE), (right, WORD, 0.25 * HANDLE)):
        strokes, long = strokes_of(text, 1.0)
        tall = min(tall, 0.9 * (high - low) / long) if long else tall
        start = (low + high - tall * long) / 2.0
        if text == right:
            start = high - min(WORD, 0.05 * (high - low)) - tall * long
        engraved += [tuple((start + tall * x, base + tall * y) for x, y in stroke) for stroke in strokes]
    words = "its shoulders lie on the metal, the rest hangs {size} behind it"
    notes = [(f"A cut through the speaker's axis: {words}", -depth)]
    if right:
        notes.append((f"To its right: {right}, as seen from the cabin (0° right, 90° up)", 0.0))
    name = " ".join(f"dummy card {spec.code or spec.name}".split())
    edge = polygon([(float(x), float(y)) for x, y in cut.exterior.simplify(0.001).coords])
    return FlatPart(name, CARD, (edge,), engrave=tuple(engraved), notes=tuple(notes), lies=False)


def _behind(spec: StandInSpec, margin: float) -> Any:
    """The driver's silhouette, deeper by a margin, as far as it is behind the metal; wider where it passes that."""
    import shapely

    h = spec.seat_height_mm
    edge = [(r, h - d) for r, d in spec.profile_mm]
    right = [(0.0, edge[0][1]), *edge, (0.0, edge[-1][1])]
    shape = shapely.union_all([_filled(right), _filled([(-r, z) for r, z in right])])
    if spec.terminals_mm is not None and spec.terminals_mm[0] is None:  # anywhere: so all round
        _, _, radius, depth = spec.terminals_mm
        shape = shape.union(shapely.box(-radius, h - depth, radius, max(0.0, h)))
    # What of it is before the metal stays there: moved down with the rest it would be wider than the hole.
    low = shape.intersection(shapely.box(-1e4, -1e4, 1e4, min(0.0, h)))
    behind = _swept(low, 0.0, margin) if margin else low
    if spec.growth_mm:
        wider = _swept(low, spec.growth_mm, margin)
        behind = behind.union(wider.intersection(shapely.box(-1e4, -spec.passage_mm, 1e4, 1e4)))
    if behind.is_empty or behind.area < 1.0:
        raise BuildError("dummy", f"the driver ends {-gauge_depth_mm(spec):.1f} mm before the metal")
    return max(shapely.get_parts(behind), key=lambda p: p.area)


def _swept(shape: Any, side: float, down: float) -> Any:
    """Everything that a shape covers as it moves to either side and down."""
    import shapely

    def moved(a: Sequence[float], b: Sequence[float]) -> Any:
        corners = [(x + dx, z + dz) for x, z in (a, b) for dx in (-side, side) for dz in (-down, 0.0)]
        return shapely.MultiPoint(corners).convex_hull

    edges = [moved(a, b) for part in shapely.get_parts(shape) for a, b in pairwise(part.exterior.coords)]
    return shapely.union_all([shape, *(e for e in edges if e.area > 0.0)])


def _filled(ring: list[Point]) -> Any:
    import shapely

    return shapely.make_valid(shapely.Polygon(ring))


SIGHT = 8.0  # mm: radius of the hole to look through, and to hold it by
ENGRAVED, LEAST_ENGRAVED = 7.0, 2.5  # mm: height of the code's letters, wished for and at least
DEEP = 0.6  # mm: how deep they are
PLATE = 16.0  # mm: least radius of a plate with a code


def build_standin(spec: StandInSpec) -> Built:
    """The dummy as a solid. BuildError: it does not reach behind the metal, or the kernel cannot make it."""
    from build123d import Axis, Face, Location, Plane, Solid, Wire

    section, block = half_section(spec), terminal_box(spec)
    sectors = [(a, (b - a) % 360.0 or 360.0, half_section(spec, a)) for a, b, _ in spec.deeper]
    low = min(z for points in (section, *(p for _, _, p in sectors)) for _, z in points)
    plate, tails = PLATE if spec.code else 0.0, [hypot(x, y) + d for x, y, d, _ in spec.tails_mm]
    wide = max(spec.rim_mm, plate, *(r for r, _ in section), *tails)
    sight = min(SIGHT, 0.4 * max(r for r, z in section if z < min(z for _, z in section) + 0.5))
    try:

        def turned(points: tuple[tuple[float, float], ...], sweep: float) -> Any:
            wire = Wire.make_polygon([(r, 0.0, z) for r, z in points], close=True)
            return Solid.revolve(Face(wire), sweep, Axis.Z)

        about = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)
        body = turned(section, 360.0)
        parts = [Solid.make_cylinder(wide, spec.plate_mm, Plane((0.0, 0.0, 0.0)))]
        parts += [turned(points, sweep).moved(Location(*about, start)) for start, sweep, points in sectors]
        if block is not None:
            angle, width, radius, end = block
            low = min(low, end)
            box = Solid.make_box(radius, width, -end, Plane((0.0, -width / 2.0, end)))
            parts.append(box.moved(Location(*about, angle)))
        parts += [Solid.make_cylinder(d / 2.0, long, Plane((x, y, -long))) for x, y, d, long in spec.tails_mm]
        low = min(low, *(-long for *_, long in spec.tails_mm)) if spec.tails_mm else low
        hole = Solid.make_cylinder(sight, spec.plate_mm - low + 2.0, Plane((0.0, 0.0, low - 1.0)))
        found = body.fuse(*parts).cut(hole, *_letters(spec, wide, sight)).solids()
    except Exception as fault:  # the kernel raises its own kinds for a shape it does not like
        raise BuildError("dummy", f"{len(section)} points down to {low:.1f} mm: {fault}") from fault
    if len(found) != 1 or not found[0].is_valid:
        raise BuildError("dummy", f"{len(found)} pieces where one is wanted")
    return Built(found[0], float(found[0].volume))


def _letters(spec: StandInSpec, wide: float, sight: float) -> list[Any]:
    """What is cut for the code: its letters above the hole to look through, its stand-off below, as large as goes."""
    from build123d import Face, Solid, Vector, Wire

    if not spec.code:
        return []
    top, cut = spec.plate_mm - DEEP, []
    for text, middle in zip(spec.code.partition("-")[::2], (0.5 * (wide + sight), -0.5 * (wide + sight))):
        _, long = strokes_of(text, 1.0)
        height = ENGRAVED
        while height > LEAST_ENGRAVED and (
            0.6 * (wide - sight) < height or hypot(0.5 * height * long, abs(middle) + 0.5 * height) > wide - 1.0
        ):
            height -= 0.1
        strokes, length = strokes_of(text, height)
        moved = tuple(tuple((x - length / 2.0, y + middle - height / 2.0) for x, y in s) for s in strokes)
        for shape in inked(Mark(text, moved, max(0.5, height / 7.0))):
            edges = [[(x, y, top) for x, y in ring.coords[:-1]] for ring in (shape.exterior, *shape.interiors)]
            outer, *inner = (Wire.make_polygon(edge, close=True) for edge in edges)
            cut.append(Solid.extrude(Face(outer, inner), Vector(0.0, 0.0, DEEP + 1.0)))
    return cut
