"""Faces of connectors, as seen from the side where the wires go in, with what each contact carries."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from backwave.drawing.callouts import MARGIN, foot
from backwave.drawing.sheet import Sheet, to_svg
from backwave.drawing.styles import Theme, text_width, wrap

if TYPE_CHECKING:
    from backwave.assess.power.results import PlugFace

CELL, LINE = 34.0, 17.0
NOTE = "Faces as seen from the side where the wires go in; the numbers molded on the plug outrank this order."


def faces_svg(faces: tuple[PlugFace, ...], title: str, theme: Theme = "light", compact: bool = False) -> str:
    """Faces of kept plugs as SVG."""
    return to_svg(faces_sheet(faces, title, compact), theme)


def faces_sheet(faces: tuple[PlugFace, ...], title: str, compact: bool = False) -> Sheet:
    """Faces of connectors as a display list, one below the other."""
    grid = CELL * max((_across(face) for face in faces), default=1)
    wide = max(390.0, 2 * MARGIN + grid) if compact else max(720.0, 2 * MARGIN + grid + 460.0)
    sheet = Sheet(wide, 100.0, title)
    y = MARGIN
    for line in wrap(title, "title", sheet.width - 2 * MARGIN):
        y += 27
        sheet.words(MARGIN, y - 4, line, "title")
    for face in faces:
        y += 30
        for line in wrap(face.name, "value", sheet.width - 2 * MARGIN):
            sheet.words(MARGIN, y, line, "value")
            y += 20
        below = _grid(sheet, face, y)
        x = MARGIN if compact else MARGIN + grid + 24
        y = below + 4 if compact else y
        for pin in face.in_order:
            top = y
            for look, left, words in (("letter", x, (pin.number,)), ("label", x + 40, (pin.words,))):
                at = top
                for line in (
                    part for text in words for part in wrap(text, look, sheet.width - MARGIN - left if left > x else 36)
                ):
                    at += LINE
                    sheet.words(left, at - 4, line, look)
                y = max(y, at)
        y = max(below, y) + 10
    foot(sheet, (NOTE,), y + 6, MARGIN)
    return sheet


def _across(face: PlugFace) -> int:
    return ceil(face.contacts / face.rows)


def _grid(sheet: Sheet, face: PlugFace, top: float) -> float:
    """The contacts in their rows; one whose number is a word takes the next free place.  Its bottom."""
    named = {pin.number for pin in face.pins}
    odd = iter(sorted(name for name in named if name not in {str(n + 1) for n in range(face.contacts)}))
    for n in range(face.contacts):
        left, upper = MARGIN + CELL * (n % _across(face)), top + CELL * (n // _across(face))
        number = str(n + 1) if str(n + 1) in named else next(odd, str(n + 1))
        used = number in named
        sheet.box(left, upper, left + CELL, upper + CELL, "band-edge" if used else "band-faint")
        short = number if text_width(number, "letter") < CELL - 4 else "\u2026"
        sheet.words(left + CELL / 2, upper + CELL / 2 + 4, short, "letter" if used else "tick", "middle")
    return top + CELL * ceil(face.contacts / _across(face))
