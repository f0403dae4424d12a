"""Flat patterns: the layers of a part cut from sheet, rings of foam, the test ring.

From the same features as the solid.  Circles, lines and arcs stay what they are wherever a cut stands alone; where
cuts run into each other their common edge is a polygon with a chord error of 0.005 mm.  Millimeters."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from math import hypot, pi
from typing import Any, Literal

from backwave.errors import BuildError, InputError
from backwave.part.features import Cone, Feature, Prism, features, marks
from backwave.part.types import AdapterSpec, RingSpec, SheetStock
from backwave.shape import Outline, Point, circle, polygon

DRILL = 13.0  # mm: the largest hole that is drilled rather than cut; a common chuck
CHECK_RING = 0.6  # mm: three layers of 0.2


@dataclass(frozen=True)
class Pocket:
    """Material taken away to a depth."""

    outline: Outline  # mm, its edge
    depth_mm: float  # how deep, from its face
    face: Literal["front", "back"] = "front"
    islands: tuple[Outline, ...] = ()  # mm, what stays standing in it
    name: str = ""


@dataclass(frozen=True)
class FlatPart:
    """What is done to one flat piece."""

    name: str  # what it is ("layer 2 of 3")
    thickness_mm: float  # of the stock it is cut from
    cut: tuple[Outline, ...]  # edges to cut, the outer one first
    drill: tuple[tuple[float, float, float], ...] = ()  # x, y, diameter of round holes
    engrave: tuple[tuple[Point, ...], ...] = ()  # lines to engrave along
    pockets: tuple[Pocket, ...] = ()  # what is taken away to a depth
    notes: tuple[tuple[str, float], ...] = ()  # what is done by hand: words with {size} in them, and the size
    whose: tuple[tuple[float, float, str], ...] = ()  # x, y of a hole's middle, and what it is for
    # what is there already and not to be cut, such as the hole in the metal
    shown: tuple[tuple[str, Outline], ...] = ()
    made: bool = True  # of this stock by hand; False: a pattern to lay on, nothing is drilled
    lies: bool = True  # flat on the metal, seen from the cabin; False: a cut along the speaker's axis

    @property
    def area_mm2(self) -> float:
        """Area of the piece, mm2, drilled holes taken off."""
        outer, *inner = (o.area_mm2 for o in self.cut)
        return outer - sum(inner) - sum(pi * d * d / 4.0 for _, _, d in self.drill)


def sheet_layers(spec: AdapterSpec, sheet: SheetStock) -> tuple[FlatPart, ...]:
    """The part as layers of sheet, from the back to the front; a spigot and a collar are layers of their own. The
    relief is a chamfer cut by hand on each layer's back edge, and said in the layer's notes. `spec`, mm; `sheet`, mm;
    InputError: the layers do not add up to the thickness, or a cut lies inside a layer and reaches neither of its
    faces."""
    if abs(sum(sheet.layers_mm) - spec.thickness_mm) > 1e-6:
        raise InputError("layers of sheet", list(sheet.layers_mm), f"layers adding up to {spec.thickness_mm:g} mm")
    made = features(spec, lettering=False)
    heights = accumulate(sheet.layers_mm, initial=0.0)
    slabs = [(f"layer {k + 1} of {len(sheet.layers_mm)}", a, b) for k, (a, b) in enumerate(pairwise(heights))]
    slabs += [(f.name, f.z0_mm, f.z1_mm) for f in made if f.add and f.name in ("spigot", "collar")]
    found = [_layer(made, name, a, b) for name, a, b in sorted(slabs, key=lambda s: s[1])]
    lines = tuple(stroke for mark in marks(spec).placed for stroke in mark.strokes_mm)
    front = next(k for k, part in enumerate(found) if part.name == slabs[len(sheet.layers_mm) - 1][0])
    found[front] = replace(found[front], engrave=lines)
    return tuple(found)


def flat_ring(ring: RingSpec) -> FlatPart:
    """A ring as a flat pattern; a hole that reaches an edge becomes a notch of that edge."""
    inside = ring.outer.polygon().difference(ring.inner.polygon())
    if all(inside.contains(circle(d / 2.0, x, y).polygon()) for x, y, d in ring.holes_mm):
        return FlatPart(ring.name, ring.thickness_mm, (ring.outer, ring.inner), ring.holes_mm)
    cuts = [ring.inner, *(circle(d / 2.0, x, y) for x, y, d in ring.holes_mm)]
    cut, drill = _edges(ring.outer.polygon(), [ring.outer], cuts)
    return FlatPart(ring.name, ring.thickness_mm, cut, drill)


def check_ring(spec: AdapterSpec) -> RingSpec:
    """A thin ring to lay on the metal before anything long is printed: outline with bosses, bore with notches, and holes.
    `spec`, mm."""
    holes = [(f.x_mm, f.y_mm, f.hole_mm) for f in spec.fixings if f.hole_mm]
    # The driver's own holes too, so that the driver can be laid on it; where they end blind they do not matter.
    holes += [(x.x_mm, x.y_mm, x.hole_mm) for x in spec.threads]
    outer, inner = spec.outline, circle(spec.bore_mm)
    if spec.notches or any(x.boss_mm for x in spec.threads):
        with suppress(BuildError, InputError):  # the part's own finding says what cannot be laid out
            made = [f for f in features(spec, lettering=False) if isinstance(f, Prism)]
            body = [f.outer for f in made if f.add and (f.name == "flange" or f.name.startswith("boss"))]
            through = [f.outer for f in made if f.name.startswith(("bore", "notch"))]
            cut, _ = _edges(_union(body), body, through)
            outer, inner = cut[0], cut[1] if len(cut) > 1 else inner  # a notch may go out through the edge
    return RingSpec(outer, inner, CHECK_RING, tuple(holes), "test ring")


def _layer(made: Sequence[Feature], name: str, z0: float, z1: float) -> FlatPart:
    import shapely

    body = shapely.union_all([p for f in made if f.add and _spans(f, z0, z1) and (p := f.at((z0 + z1) / 2.0))])
    for f in made:
        if f.add and not _spans(f, z0, z1) and min(f.z1_mm, z1) - max(f.z0_mm, z0) > 1e-9:
            raise InputError(f.name, f"ending inside {name}", "sheets that meet where it ends")
    edges = [o for f in made if isinstance(f, Prism) and f.add and _spans(f, z0, z1) for o in (f.outer, *f.inner)]
    through: list[Outline] = []
    pockets: list[Pocket] = []
    notes: list[tuple[str, float]] = []
    for f in made:
        if f.add or f.z1_mm <= z0 + 1e-9 or f.z0_mm >= z1 - 1e-9:
            continue
        if isinstance(f, Cone):
            low, high = max(z0, f.z0_mm), min(z1, f.z1_mm)
            slope = (f.r1_mm - f.r0_mm) / (f.z1_mm - f.z0_mm)
            if high >= z1 - 1e-9:
                through.append(circle(f.r0_mm + slope * (high - f.z0_mm)))
            notes.append(("chamfer the bore's back edge at 45 degrees by {size}", abs(slope) * (high - low)))
        elif _spans(f, z0, z1):
            if f.inner:
                raise InputError(f.name, "through a whole layer", "a groove less deep than its layer")
            through.append(f.outer)
        elif f.z1_mm >= z1 - 1e-9:
            pockets.append(Pocket(f.outer, z1 - f.z0_mm, "front", f.inner, f.name))
        elif f.z0_mm <= z0 + 1e-9:
            pockets.append(Pocket(f.outer, f.z1_mm - z0, "back", f.inner, f.name))
        else:
            raise InputError(f.name, f"inside {name}", "a cut that reaches one of the layer's faces")
    cut, drill = _edges(body, edges, through)
    return FlatPart(name, round(z1 - z0, 9), cut, drill, (), tuple(pockets), tuple(notes))


def _union(outlines: Sequence[Outline]) -> Any:
    import shapely

    return shapely.union_all([o.polygon() for o in outlines])


def _spans(f: Feature, z0: float, z1: float) -> bool:
    return f.z0_mm <= z0 + 1e-9 and f.z1_mm >= z1 - 1e-9


def _edges(
    body: Any, edges: list[Outline], through: list[Outline]
) -> tuple[tuple[Outline, ...], tuple[tuple[float, float, float], ...]]:
    """Edges to cut and holes to drill: true outlines where one stands alone, else the rings of what is left."""
    import shapely

    left = body.difference(_union(through))
    pieces = [p for p in shapely.get_parts(left) if p.area > 1.0]
    if len(pieces) != 1:
        raise InputError("layer of sheet", f"{len(pieces)} pieces", "one piece")
    cut: list[Outline] = []
    drill: list[tuple[float, float, float]] = []
    known = [(o, o.polygon()) for o in (*edges, *through)]
    for ring in (pieces[0].exterior, *pieces[0].interiors):
        filled = shapely.Polygon(ring)
        same = [o for o, p in known if p.symmetric_difference(filled).area < 1e-3 * max(1.0, ring.length) * 0.01]
        outline = same[0] if same else polygon([(x, y) for x, y in ring.simplify(0.005).coords])
        found = outline.circle
        if found is not None and ring is not pieces[0].exterior and 2.0 * found[2] <= DRILL and hypot(*found[:2]) > 1.0:
            drill.append((found[0], found[1], 2.0 * found[2]))
        else:
            cut.append(outline)
    return tuple(cut), tuple(drill)
