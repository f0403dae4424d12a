"""What stands round every drawing: its heading, the plate with the verdict, the lines at its foot."""

from __future__ import annotations

from collections.abc import Sequence

from backwave.drawing.dimensions import verdict_mark
from backwave.drawing.sheet import Sheet
from backwave.drawing.styles import TEXTS, wrap
from backwave.finding import Verdict

MARGIN = 24.0
WORD = {"ok": "OK", "caution": "Caution", "stop": "Stop"}


def heading(
    sheet: Sheet, title: str, subtitle: str, verdict: Verdict, verdict_text: str, verdict_note: str, compact: bool
) -> float:
    """Title and subtitle at the left, the verdict plate at the right (below them on a narrow sheet).

    Returns sheet units.
    """
    edge = 14.0 if compact else MARGIN
    plate = sheet.width - 2 * edge if compact else 384.0
    room = sheet.width - 2 * edge - (0 if compact else plate + 24)
    y = edge
    for text, look in ((title, "title"), (subtitle, "subtitle")):
        for line in wrap(text, look, room):
            y += TEXTS[look].size * 1.28
            sheet.words(edge, y - 0.2 * TEXTS[look].size, line, look)
    look = "verdict" if verdict == "ok" else "verdict-wrong"
    words = [
        (line, look)
        for line in wrap(f"{WORD[verdict]}: {verdict_text}" if verdict_text else WORD[verdict], look, plate - 66)
    ]
    words += [(line, "note") for line in wrap(verdict_note, "note", plate - 66)]
    tall = max(52.0, sum(TEXTS[kind].size for _, kind in words) * 1.3 + 20)
    top = y + 10 if compact else edge
    left = edge if compact else sheet.width - edge - plate
    sheet.box(left, top, left + plate, top + tall, "plate")
    verdict_mark(sheet, left + 30, top + tall / 2, 30, verdict)
    at = top + (tall - sum(TEXTS[kind].size for _, kind in words) * 1.3) / 2
    for text, kind in words:
        at += TEXTS[kind].size * 1.3
        sheet.words(left + 58, at - 0.34 * TEXTS[kind].size, text, kind)
    return max(y, top + tall)


def foot(sheet: Sheet, notes: Sequence[str], top: float, edge: float) -> None:
    """Lines at the foot; the sheet grows to hold them."""
    y = top
    for note in notes:
        for n, line in enumerate(wrap(note, "note", sheet.width - 2 * edge - 14)):
            y += TEXTS["note"].size * 1.4
            if n == 0:
                sheet.line(((edge, y - 4.5), (edge + 7, y - 4.5)), "fine")
            sheet.words(edge + 14, y, line, "note")
    sheet.height = max(y + edge * 0.8, top)
