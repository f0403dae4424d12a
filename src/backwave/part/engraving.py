"""What is engraved: single-stroke letters, an arrow that points up, and where on the front face they find room.

Letters are strokes on a grid of 4 by 6, upright, in the manner of ISO 3098-1 (capitals, figures; least height
3.5 mm for what is read at arm's length, a stroke about a seventh of the height).  No font is asked of the machine,
so a part is the same everywhere.  Millimeters."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from backwave.budget import checkpoint
from backwave.part.types import Lettering

if TYPE_CHECKING:
    from shapely import Polygon

Point = tuple[float, float]
Stroke = tuple[Point, ...]
LEAST, STEP = 3.5, 0.5  # mm: least height of capitals, and how fast they shrink
NEAR = 31  # tries within 60 degrees of the best place
KEEP = 1.0  # mm kept free round every mark
RASTER = 0.5  # mm: how far one spot that is tried lies from the next, outward
MAX_RADII, MAX_HEIGHTS = 400, 40  # beyond 200 mm from bore to edge the raster is coarser

# Columns 0..4, rows 0..6; strokes apart by spaces, two figures a point.
_GLYPHS = {
    "A": "00-03-26-43-40 02-42", "B": "00-06-36-45-44-33-03 33-42-41-30-00", "C": "45-36-16-05-01-10-30-41",
    "D": "00-06-26-44-42-20-00", "E": "46-06-00-40 03-33", "F": "46-06-00 03-33",
    "G": "45-36-16-05-01-10-30-41-43-23", "H": "00-06 40-46 03-43", "I": "10-30 16-36 20-26",
    "J": "46-41-30-10-01",
    "K": "00-06 46-03-40", "L": "06-00-40", "M": "00-06-23-46-40", "N": "00-06-40-46",
    "O": "10-01-05-16-36-45-41-30-10", "P": "00-06-36-45-44-33-03", "Q": "10-01-05-16-36-45-41-30-10 22-40",
    "R": "00-06-36-45-44-33-03 23-40", "S": "45-36-16-05-04-13-33-42-41-30-10-01", "T": "06-46 20-26",
    "U": "06-01-10-30-41-46", "V": "06-20-46", "W": "06-10-23-30-46", "X": "00-46 06-40", "Y": "06-23-46 23-20",
    "Z": "06-46-00-40", "0": "10-01-05-16-36-45-41-30-10 12-34", "1": "15-26-20 10-30",
    "2": "05-16-36-45-44-00-40", "3": "06-46-23-33-42-41-30-10-01", "4": "30-36-02-42",
    "5": "46-06-03-33-42-41-30-00",
    "6": "46-16-05-01-10-30-41-42-33-03", "7": "06-46-10", "8": "13-04-05-16-36-45-44-33-13-02-01-10-30-41-42-33",
    "9": "00-30-41-45-36-16-05-04-13-43", "-": "13-33", ".": "20-21", "/": "00-46", "+": "13-33 22-24",
}  # fmt: skip
_ARROW = "20-26 04-26-44"


@dataclass(frozen=True)
class Mark:
    """One thing engraved."""

    text: str  # what it says; "up" for the arrow
    strokes_mm: tuple[Stroke, ...]  # center lines
    width_mm: float


@dataclass(frozen=True)
class Marks:
    """All that is engraved on one part."""

    placed: tuple[Mark, ...] = ()  # mm, what found room
    left_out: tuple[str, ...] = ()  # what did not
    depth_mm: float = 0.0


def strokes_of(text: str, height_mm: float) -> tuple[tuple[Stroke, ...], float]:
    """Center lines of a line of capitals, its lower left corner at the origin, and how long it is. `text`: what to
    write; small letters become capitals, a space is kept, what has no strokes is left out; both in mm."""
    unit, at, found = height_mm / 6.0, 0.0, []
    for letter in text.upper():
        glyph = _GLYPHS.get(letter)
        if glyph is not None:
            found += _drawn(glyph, unit, at)
        if glyph is not None or letter == " ":
            at += 6.0 * unit
    return tuple(found), max(0.0, at - 2.0 * unit)


def inked(mark: Mark) -> tuple[Polygon, ...]:
    """A mark's strokes as flat areas, none touching another. `mark`, mm."""
    import shapely

    lines = shapely.union_all([shapely.LineString(s) for s in mark.strokes_mm])
    whole = lines.buffer(mark.width_mm / 2.0, cap_style="square", join_style="mitre", mitre_limit=2.0).simplify(0.01)
    return tuple(shapely.get_parts(whole))


def place_marks(wanted: Lettering, free: Polygon) -> Marks:
    """Find room on the front face for the arrow, the side's letter and the job's name. Each is tried from its best
    place outward, at the wanted height and then smaller ones. `wanted`, mm; `free`, mm: flat material at the front
    face, without what is cut or lies there."""
    placed: list[Mark] = []
    left_out: list[str] = []
    tasks = [("up", 90.0, True)] * wanted.up + [(wanted.side, 90.0, True)] * bool(wanted.side)
    for text, near, upright in [*tasks, *[(wanted.text, 270.0, False)] * bool(wanted.text.strip())]:
        mark, taken = _find(free, text, wanted.height_mm, near, upright)
        if mark is None or taken is None:
            left_out.append(text)
            continue
        placed.append(mark)
        free = free.difference(taken.buffer(KEEP))
    return Marks(tuple(placed), tuple(left_out), wanted.depth_mm)


def _drawn(glyph: str, unit: float, at: float) -> list[Stroke]:
    return [tuple((at + int(p[0]) * unit, int(p[1]) * unit) for p in stroke.split("-")) for stroke in glyph.split(" ")]


def _find(
    free: Polygon, text: str, height: float, near_deg: float, upright: bool
) -> tuple[Mark | None, Polygon | None]:
    """The best place for a mark: nearest its direction, as large as fits within 60 degrees, else anywhere."""
    import shapely

    if free.is_empty:
        return None, None
    x0, y0, x1, y1 = free.bounds
    near, far = free.distance(shapely.Point(0.0, 0.0)), max(hypot(x0, y0), hypot(x1, y1))
    radii = np.arange(near, far, max(RASTER, (far - near) / MAX_RADII))
    angles = np.radians(near_deg + np.array([0.0, *(s * k for k in range(4, 181, 4) for s in (1.0, -1.0))]))
    tilts = np.zeros(len(angles)) if upright else angles - np.where(np.sin(angles) >= 0.0, 0.5, -0.5) * pi
    spots = radii[None, :, None] * np.column_stack((np.cos(angles), np.sin(angles)))[:, None, :]
    shapely.prepare(free)
    for part in (slice(0, NEAR), slice(NEAR, None)):
        for h in np.arange(max(min(height, far), LEAST), LEAST - 1e-9, -max(STEP, min(height, far) / MAX_HEIGHTS)):
            checkpoint()
            strokes, length = _strokes(text, float(h))
            if not strokes:
                return None, None
            size = np.array([length + h / 7.0, h * 8.0 / 7.0])
            heart = free.buffer(-0.49 * size.min())  # a spot outside this cannot be the middle of the box
            shapely.prepare(heart)
            turn, radius = np.nonzero(shapely.contains_xy(heart, spots[part, :, 0], spots[part, :, 1]))
            c, s = np.cos(tilts[part][turn]), np.sin(tilts[part][turn])
            corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * size
            ring = np.stack((np.outer(c, corners[:, 0]) - np.outer(s, corners[:, 1]),
                             np.outer(s, corners[:, 0]) + np.outer(c, corners[:, 1])), axis=-1)  # fmt: skip
            middles = spots[part][turn, radius]
            boxes = shapely.polygons(ring + middles[:, None, :])
            fits = np.flatnonzero(shapely.contains(free, boxes))
            if fits.size:
                best = fits[turn[fits] == turn[fits[0]]]
                k = best[best.size // 2]
                moved = _moved(strokes, middles[k], float(c[k]), float(s[k]), length, float(h))
                return Mark(text, moved, max(0.8, float(h) / 7.0)), boxes[k]
    return None, None


def _strokes(text: str, height: float) -> tuple[tuple[Stroke, ...], float]:
    if text == "up":
        return tuple(_drawn(_ARROW, height / 6.0, 0.0)), 4.0 * height / 6.0
    return strokes_of(text, height)


def _moved(
    strokes: tuple[Stroke, ...], to: NDArray[np.float64], c: float, s: float, length: float, height: float
) -> tuple[Stroke, ...]:
    """Strokes turned about the middle of their line and moved so that it lies at `to`."""
    found = []
    for stroke in strokes:
        x, y = np.array(stroke).T - np.array([[length / 2.0], [height / 2.0]])
        found.append(tuple(zip((to[0] + x * c - y * s).tolist(), (to[1] + x * s + y * c).tolist())))
    return tuple(found)
