"""Flat parts: DXF R2010 in millimeters for routers and lasers, and paper at 1:1, one PDF for all of a side's.

Circles stay circles and lines and arcs stay lines and arcs.  A smooth outline becomes a polyline, because many cutters'
programs do not read splines."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from math import hypot
from typing import Any

from backwave.drawing.template import HoleUse, TemplateHole, TemplateView, template_svg
from backwave.files.pdf import svg_pages_to_pdf
from backwave.part.flat_patterns import FlatPart
from backwave.plain_text import plain_text
from backwave.shape import Outline, Point
from backwave.units import show

_CHORD = 0.01  # mm
_NOT_IN_NAMES = re.compile(r'[<>/\\":;?*=`|,]')  # DXF reference: what the name of a layer must not hold
_COLORS = {"CUT": 7, "DRILL": 1, "ENGRAVE": 5}  # DXF color index: black or white, red, blue


def dxf_text(parts: Sequence[FlatPart], title: str = "") -> str:
    """A DXF drawing; the same input gives the same text. `parts`: laid out to the right of each other, the first where
    it is. One part is drawn on the layers CUT, DRILL, ENGRAVE and POCKET-depth (from the front; BACK-POCKET-depth from
    the back); several have their names and thicknesses in their layers' names as well.; ValueError: the drawing does
    not pass ezdxf's own audit."""
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
            xs = [x for outline in part.cut for x in outline.bounds_mm[::2]]
            low, high = min(xs), max(xs)
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


_PAPER_CHORD = 0.02  # mm
_LAY = "Lay it on the metal: the line of dashes and dots has to lie on the edge of the hole; nothing is cut there."


def template_pdf(
    parts: Sequence[FlatPart], job: str, label: str, side: str, revision: str, paper: str = "A4",
    system: str = "metric", words: Sequence[str] = (),
) -> bytes:  # fmt: skip
    """Templates of several flat parts, each on sheets of its own."""
    pages: list[str] = []
    for part in parts:
        title = label if len(parts) == 1 else f"{label}: {part.name}"
        view = template_view(part, job, title, side, revision, system)
        pages += template_svg(replace(view, warnings=tuple(words)), paper, system=system)
    return svg_pages_to_pdf(pages, title=f"{job}: {label}" if job else label)


def template_view(
    part: FlatPart, job: str, label: str, side: str, revision: str, system: str = "metric"
) -> TemplateView:
    """One flat part as a template, its notes with "metric" or "us" figures."""
    kind: HoleUse = "drill" if part.made else "hole"
    circles = [(o, o.circle) for o in part.cut[1:]]
    holes = [_hole(part, c[0], c[1], 2.0 * c[2], "cut" if part.made else "hole") for _, c in circles if c is not None]
    holes += [_hole(part, x, y, d, kind) for x, y, d in part.drill]
    cuts = (part.cut[0], *(o for o, c in circles if c is None))
    edges = [_points(o) for p in part.pockets for o in (p.outline, *p.islands)]
    marks = [(*run, run[0]) for run in edges]
    depths = {(p.name, p.face, round(p.depth_mm, 3)) for p in part.pockets}
    notes = [f"{name}: {show(depth, 'mm', system)} deep from the {face}" for name, face, depth in sorted(depths)]
    notes += [words.format(size=show(size, "mm", system)) for words, size in part.notes]
    if part.shown:
        notes.append(_LAY)
    return TemplateView(
        job, label, side, revision[:8], cut_mm=tuple(_points(o) for o in cuts), holes=tuple(holes),
        mark_mm=tuple(marks), engrave_mm=part.engrave,
        seen_from="seen from the cabin" if part.lies else "either face",
        notes=(f"{part.name}: {show(part.thickness_mm, 'mm', system)} thick", *notes),
        shown_mm=tuple((name, _points(o)) for name, o in part.shown),
    )  # fmt: skip


def _hole(part: FlatPart, x: float, y: float, diameter: float, use: HoleUse) -> TemplateHole:
    whose = next((words for a, b, words in part.whose if hypot(a - x, b - y) < 0.01), "")
    return TemplateHole(x, y, diameter, use, whose)


def _points(outline: Outline) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in outline.points(_PAPER_CHORD))
