"""DXF R2010 of flat parts in millimeters, for routers and lasers: what to cut, to drill and to engrave.

Circles stay circles and lines and arcs stay lines and arcs.  A smooth outline becomes a polyline with a chord
error of 0.01 mm, because many cutters' programs do not read splines.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from backwave.shape import Outline, Point

__all__ = ["DxfSheet", "dxf_text"]

_CHORD = 0.01  # mm
_COLORS = {"CUT": 7, "DRILL": 1, "ENGRAVE": 5}  # DXF color index: black or white, red, blue


@dataclass(frozen=True)
class DxfSheet:
    """What is done to one sheet; several sheets lie beside each other with their names in their layers.

    Parameters
    ----------
    cut : tuple of Outline, mm
        Edges to cut, the outer one first.
    drill : tuple of (x, y, diameter) float, mm
        Round holes.
    engrave : tuple of runs of (x, y) float, mm
        Open lines to engrave along.
    pocket : tuple of (Outline, depth), mm
        Edges inside which material is taken away from the front to a depth.
    name : str, no unit
        Put after the layers' names ("CUT-2 18 mm"), or "".
    """

    cut: tuple[Outline, ...] = ()
    drill: tuple[tuple[float, float, float], ...] = ()
    engrave: tuple[tuple[Point, ...], ...] = ()
    pocket: tuple[tuple[Outline, float], ...] = field(default=())
    name: str = ""


def dxf_text(sheets: Sequence[DxfSheet], title: str = "") -> str:
    """A DXF drawing; the same input gives the same text.

    Parameters
    ----------
    sheets : sequence of DxfSheet, mm
        Laid out to the right of each other, the first where it is.
    title : str, no unit
        The drawing's title.

    Raises
    ------
    ValueError
        The drawing does not pass ezdxf's own audit.
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
            drawing.header.custom_vars.append("Title", title)
        place = 0.0
        for k, sheet in enumerate(sheets):
            low, high = _span(sheet)
            shift = 0.0 if k == 0 else place - low
            place = high + shift + 20.0
            _lay(drawing, sheet, shift)
        faults = drawing.audit()
        if faults.has_errors or faults.has_fixes:
            raise ValueError(f"the drawing is not sound: {[e.message for e in (*faults.errors, *faults.fixes)]}")
        sink = io.StringIO()
        drawing.write(sink)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = kept
    return sink.getvalue()


def _span(sheet: DxfSheet) -> tuple[float, float]:
    bounds = [o.bounds_mm for o in (*sheet.cut, *(o for o, _ in sheet.pocket))]
    xs = [x for b in bounds for x in (b[0], b[2])] + [x for run in sheet.engrave for x, _ in run]
    xs += [x + s * d / 2.0 for x, _, d in sheet.drill for s in (-1.0, 1.0)]
    return (min(xs), max(xs)) if xs else (0.0, 0.0)


def _lay(drawing: Any, sheet: DxfSheet, shift: float) -> None:
    space, tail = drawing.modelspace(), f"-{sheet.name}" if sheet.name else ""

    def layer(kind: str, after: str = "") -> dict[str, Any]:
        name = f"{kind}{tail}{after}"
        if name not in drawing.layers:
            drawing.layers.add(name, color=_COLORS.get(kind, 3))
        return {"layer": name}

    for outline in sheet.cut:
        _draw(space, outline, shift, layer("CUT"))
    for outline, depth in sheet.pocket:
        _draw(space, outline, shift, layer("POCKET", f"-{depth:g}mm"))
    for x, y, diameter in sheet.drill:
        space.add_circle((x + shift, y), diameter / 2.0, layer("DRILL"))
    for run in sheet.engrave:
        space.add_lwpolyline([(x + shift, y) for x, y in run], dxfattribs=layer("ENGRAVE"))


def _draw(space: Any, outline: Outline, shift: float, attributes: dict[str, Any]) -> None:
    found = outline.circle
    if found is not None:
        space.add_circle((found[0] + shift, found[1]), found[2], attributes)
        return
    ring = [(x, y, 0.0) for x, y in outline.points(_CHORD).tolist()] if outline.smooth else outline.vertices_mm
    space.add_lwpolyline([(x + shift, y, b) for x, y, b in ring], "xyb", close=True, dxfattribs=attributes)
