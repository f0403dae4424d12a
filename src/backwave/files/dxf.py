"""DXF R2010 of flat parts in millimeters, for routers and lasers: what to cut, to drill and to engrave.

Circles stay circles and lines and arcs stay lines and arcs.  A smooth outline becomes a polyline with a chord
error of 0.01 mm, because many cutters' programs do not read splines.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import Any

from backwave.part.flat_patterns import FlatPart
from backwave.plain_text import plain_text
from backwave.shape import Outline

_CHORD = 0.01  # mm
_NOT_IN_NAMES = re.compile(r'[<>/\\":;?*=`|,]')  # DXF reference: what the name of a layer must not hold
_COLORS = {"CUT": 7, "DRILL": 1, "ENGRAVE": 5}  # DXF color index: black or white, red, blue


def dxf_text(parts: Sequence[FlatPart], title: str = "") -> str:
    """A DXF drawing; the same input gives the same text.

    `parts`: laid out to the right of each other, the first where it is.  One part is drawn on the layers CUT,
    DRILL, ENGRAVE and POCKET-depth (from the front; BACK-POCKET-depth from the back); several have their names and
    thicknesses in their layers' names as well.; ValueError: the drawing does not pass ezdxf's own audit.
    """
    import ezdxf
    from ezdxf import units

    kept = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # or the time and a new identifier go in
    try:
        drawing = ezdxf.new("R2010")
        drawing.units = units.MM  # $INSUNITS = 4
        drawing.header["$MEASUREMENT"] = 1
        drawing.header["$LASTSAVEDBY"] = "backwave"
        if title:
            drawing.header.custom_vars.append("Title", plain_text(title))
        place = 0.0
        for k, part in enumerate(parts):
            low, high = _span(part)
            shift = 0.0 if k == 0 else place - low
            place = high + shift + 20.0
            _lay(drawing, part, shift, f"-{part.name} {part.thickness_mm:g} mm" if len(parts) > 1 else "")
        faults = drawing.audit()
        if faults.has_errors or faults.has_fixes:
            raise ValueError(f"the drawing is not sound: {[e.message for e in (*faults.errors, *faults.fixes)]}")
        # the library adds these while it walks a set, whose order is another in each process
        drawing.classes.add_required_classes(drawing.dxfversion)
        drawing.classes.classes = dict(sorted(drawing.classes.classes.items()))
        sink = io.StringIO()
        drawing.write(sink)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = kept
    return sink.getvalue()


def _span(part: FlatPart) -> tuple[float, float]:
    xs = [x for o in part.cut for x in (o.bounds_mm[0], o.bounds_mm[2])]
    return min(xs), max(xs)


def _lay(drawing: Any, part: FlatPart, shift: float, tail: str) -> None:
    space = drawing.modelspace()

    def layer(kind: str, after: str = "") -> dict[str, Any]:
        name = _NOT_IN_NAMES.sub("-", plain_text(f"{kind}{after}{tail}"))
        if name not in drawing.layers:
            drawing.layers.add(name, color=_COLORS.get(kind, 3))
        return {"layer": name}

    for outline in part.cut:
        _draw(space, outline, shift, layer("CUT"))
    for pocket in part.pockets:
        kind = "POCKET" if pocket.face == "front" else "BACK-POCKET"
        for outline in (pocket.outline, *pocket.islands):
            _draw(space, outline, shift, layer(kind, f"-{round(pocket.depth_mm, 3):g} mm"))
    for x, y, diameter in part.drill:
        space.add_circle((x + shift, y), diameter / 2.0, layer("DRILL"))
    for run in part.engrave:
        space.add_lwpolyline([(x + shift, y) for x, y in run], dxfattribs=layer("ENGRAVE"))


def _draw(space: Any, outline: Outline, shift: float, attributes: dict[str, Any]) -> None:
    found = outline.circle
    if found is not None:
        space.add_circle((found[0] + shift, found[1]), found[2], attributes)
        return
    ring = [(x, y, 0.0) for x, y in outline.points(_CHORD).tolist()] if outline.smooth else outline.vertices_mm
    space.add_lwpolyline([(x + shift, y, b) for x, y, b in ring], "xyb", close=True, dxfattribs=attributes)
