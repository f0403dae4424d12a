"""Paper templates at 1:1: lines to cut on, centers to drill at, a check bar both ways.

Sheet units are millimeters.  A part larger than the paper is spread over several sheets whose neighbors share a
seam with crosses on it.  The title block holds what ISO 7200 asks of one, in our words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot
from typing import Literal

from backwave.drawing.dimensions import arrow, center_cross
from backwave.drawing.sheet import BoxStroke, Point, Sheet, TextMark, circle_points, clip, to_svg
from backwave.drawing.styles import TEXTS, text_width, wrap
from backwave.errors import InputError
from backwave.units import show

PAPERS: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1
EDGE, STRIP, BLOCK, BAR = 7.0, 7.0, 21.0, 100.0  # margin, strip of the upright bar, title block, check bar
OVERLAP = 12.0
WARNING = 5.0  # a line that warns
MAX_SHEETS = 60  # a part of 1 m takes 20
BAR_WORDS = "measure this before you cut"


# directions in which a hole's letter is tried, y down
BESIDE = ((0.75, -0.75), (-0.75, -0.75), (0.75, 0.75), (-0.75, 0.75), (1, 0.05), (-1, 0.05), (0.2, -1), (0.2, 1))
HoleUse = Literal["drill", "cut", "hole"]


@dataclass(frozen=True)
class TemplateHole:
    """A circle to drill, to cut, or that is there in what is laid on."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    use: HoleUse = "drill"
    label: str = ""  # whose it is, or what for


@dataclass(frozen=True)
class TemplateView:
    job: str
    part: str
    side: str  # like the date, it may be ""
    revision: str
    date: str = ""
    cut_mm: tuple[tuple[Point, ...], ...] = ()  # closed outlines to cut on, y up; first points not repeated
    holes: tuple[TemplateHole, ...] = ()
    mark_mm: tuple[tuple[Point, ...], ...] = ()  # lines to scribe or fold on
    centers_mm: tuple[Point, ...] = ((0.0, 0.0),)  # further centers to mark
    seen_from: str = "seen from the cabin"  # which face is looked at
    notes: tuple[str, ...] = ()  # short lines above the title block
    warnings: tuple[str, ...] = ()  # lines across the top of every sheet, such as why it is stopped
    shown_mm: tuple[tuple[str, tuple[Point, ...]], ...] = ()  # closed outlines of what is there already, with its name
    engrave_mm: tuple[tuple[Point, ...], ...] = ()  # strokes of letters and arrows, as they are on the part


def template_svg(view: TemplateView, paper: str = "A4", *, system: str = "metric") -> tuple[str, ...]:
    """The template as SVG, a text for each sheet of paper, in millimeters. InputError: an unknown paper, or nothing to
    draw."""
    return tuple(to_svg(sheet, "paper") for sheet in template_sheets(view, paper, system=system))


def template_sheets(view: TemplateView, paper: str = "A4", *, system: str = "metric") -> list[Sheet]:
    """The template as display lists in millimeters, one for each sheet of paper. InputError: an unknown paper, or
    nothing to draw."""
    if paper not in PAPERS:
        raise InputError("paper", paper, " or ".join(PAPERS))
    whole = _bounds(view)
    upright = PAPERS[paper]
    legend = _legend(view, system)
    plans = []
    for width, height in (upright, upright[::-1]):
        lines = _foot_lines(view, legend, width)
        top = EDGE + len(_warning_lines(view, width)) * WARNING
        area = BoxStroke(EDGE + STRIP, top, width - EDGE, height - EDGE - BLOCK - _foot_height(lines) - 8.5)
        if area.bottom - area.top < BAR + 6:
            continue
        room_w, room_h = area.right - area.left, area.bottom - area.top
        wide, tall = whole.right - whole.left, whole.bottom - whole.top
        columns = 1 if wide <= room_w else ceil(wide / (room_w - OVERLAP))
        rows = 1 if tall <= room_h else ceil(tall / (room_h - OVERLAP))
        plans.append((columns * rows, columns, rows, (width, height), area, lines))
    if not plans:
        raise InputError("template", f"{len(legend)} kinds of hole and {len(view.notes)} notes", "fewer of both")
    count, columns, rows, size, area, lines = min(plans, key=lambda plan: plan[0])
    if count > MAX_SHEETS:
        most = f"what fits on {MAX_SHEETS} sheets: look for a length that is far too large"
        raise InputError("template", f"{count} sheets of {paper}", most)
    sheets = []
    for n in range(count):
        tile = (n % columns, n // columns)
        sheets.append(_sheet(view, whole, size, area, (columns, rows), tile, lines, legend, n + 1, count))
        _bars(sheets[-1], size, lines, show(BAR, "mm", system, 0))
    return sheets


def _bounds(view: TemplateView) -> BoxStroke:
    """Bounds of all there is, y down as on the sheet."""
    runs = (*view.cut_mm, *view.mark_mm, *view.engrave_mm, *(points for _, points in view.shown_mm))
    xs, ys = [x for run in runs for x, _ in run], [-y for run in runs for _, y in run]
    for hole in view.holes:
        xs += [hole.x_mm - hole.diameter_mm / 2, hole.x_mm + hole.diameter_mm / 2]
        ys += [-hole.y_mm - hole.diameter_mm / 2, -hole.y_mm + hole.diameter_mm / 2]
    if not xs:
        raise InputError("template", "no outline and no hole", "something to cut or drill")
    return BoxStroke(min(xs), min(ys), max(xs), max(ys))


def _legend(view: TemplateView, system: str) -> list[tuple[str, str, tuple[TemplateHole, ...]]]:
    """Letter, words and holes of each kind of circle."""
    kinds: dict[tuple[float, str, str], list[TemplateHole]] = {}
    for hole in view.holes:
        kinds.setdefault((round(hole.diameter_mm, 3), hole.use, hole.label), []).append(hole)
    found = []
    for n, ((diameter, use, label), holes) in enumerate(kinds.items()):
        letter = chr(ord("a") + n % 26) + (str(n // 26) if n >= 26 else "")
        size = show(diameter, "mm", system).replace(" ", "\u00a0")
        said = [] if use == "hole" and label else [use]
        words = f"{letter}: {len(holes)} \u00d7 \u2300\u00a0{size}, {', '.join([*said, *([label] if label else [])])}"
        found.append((letter, words, tuple(holes)))
    return found


def _foot_lines(
    view: TemplateView, legend: Sequence[tuple[str, str, tuple[TemplateHole, ...]]], width: float
) -> list[str]:
    room = (width - 2 * EDGE - STRIP) / UNIT
    kinds = [words for _, words, _ in legend]
    joined = ";  ".join(w.replace(" ", "\u00a0") if text_width(w, "note") < room else w for w in kinds)
    shown = [f"dashes and dots: {name}" for name, _ in view.shown_mm]
    own = [line for note in (*shown, *view.notes) for line in wrap(note, "note", room)]
    return [*wrap(joined, "note", room), *own]


def _warning_lines(view: TemplateView, width: float) -> list[str]:
    return [line for text in view.warnings for line in wrap(text, "value", (width - 2 * EDGE) / UNIT)]


UNIT = 0.2  # mm per text unit: figures are 2.1 mm tall, the least ISO 3098 size being 1.8


def _foot_height(lines: Sequence[str]) -> float:
    return len(lines) * TEXTS["note"].size * 1.35 * UNIT


def _sheet(
    view: TemplateView, whole: BoxStroke, size: tuple[float, float], area: BoxStroke, tiles: tuple[int, int],
    tile: tuple[int, int], lines: Sequence[str], legend: Sequence[tuple[str, str, tuple[TemplateHole, ...]]],
    number: int, count: int,
) -> Sheet:  # fmt: skip
    s = Sheet(*size, f"{view.part} {view.side} 1:1".replace("  ", " "), narrow=0.18, text_unit=UNIT, real_mm=True)
    pitch = (area.right - area.left - OVERLAP, area.bottom - area.top - OVERLAP)

    def start(axis: int, low: float, high: float, page_low: float, page_high: float) -> float:
        if tiles[axis] == 1:
            return (page_low + page_high) / 2 - (low + high) / 2
        slack = tiles[axis] * pitch[axis] - (high - low)
        return page_low + OVERLAP / 2 + slack / 2 - low - tile[axis] * pitch[axis]

    ox = start(0, whole.left, whole.right, area.left, area.right)
    oy = start(1, whole.top, whole.bottom, area.top, area.bottom)

    def run(points: Sequence[Point], look: str, closed: bool) -> None:
        placed = [(ox + x, oy - y) for x, y in points]
        for part in clip([*placed, placed[0]] if closed else placed, area):
            s.line(part, look)

    for loop in view.cut_mm:
        run(loop, "cut", True)
    for marked in view.mark_mm:
        run(marked, "hidden", False)
    for stroke in view.engrave_mm:
        run(stroke, "edge", False)
    for _, points in view.shown_mm:
        run(points, "travel", True)
    for hole in view.holes:
        x, y, r = ox + hole.x_mm, oy - hole.y_mm, hole.diameter_mm / 2
        if area.left <= x - r and x + r <= area.right and area.top <= y - r and y + r <= area.bottom:
            s.circle(x, y, r, "cut")
        else:
            for part in clip(circle_points(x, y, r), area):
                s.line(part, "cut")
    centers = {(round(h.x_mm, 4), round(h.y_mm, 4)) for h in view.holes} | set(view.centers_mm)
    for x, y in sorted(centers):
        px, py = ox + x, oy - y
        if area.left <= px <= area.right and area.top <= py <= area.bottom:
            small = min((h.diameter_mm for h in view.holes if (h.x_mm, h.y_mm) == (x, y)), default=20.0)
            reach = min(8.0, small / 2 + 2.5)
            for a, b in (((px - reach, py), (px + reach, py)), ((px, py - reach), (px, py + reach))):
                for part in clip((a, b), BoxStroke(2.0, 2.0, size[0] - 2.0, size[1] - 2.0)):
                    s.line(part, "line")
    for n, line in enumerate(_warning_lines(view, size[0]), 1):
        s.words(EDGE, EDGE + n * WARNING - 1.5, line, "value")
    _block(s, view, size, number, count)
    _seams(s, area, tiles, tile)
    if view.seen_from != "either face":
        _up(s, area)
    _letters(s, area, legend, ox, oy)
    return s


def _block(s: Sheet, view: TemplateView, size: tuple[float, float], number: int, count: int) -> None:
    width, height = size
    left, top, right, bottom = EDGE, height - EDGE - BLOCK, width - EDGE, height - EDGE
    s.box(left, top, right, bottom, "plate")
    middle = top + BLOCK / 2
    s.line(((left, middle), (right, middle)), "line")
    cells = (
        ((("job", view.job), 0.46), (("part", view.part), 0.40), (("side", view.side or "\u2013"), 0.14)),
        (
            (("revision", view.revision or "\u2013"), 0.23), (("date", view.date or "\u2013"), 0.23),
            (("seen from", view.seen_from.removeprefix("seen from ")), 0.24), (("scale", "1:1"), 0.14),
            (("sheet", f"{number} of {count}"), 0.16),
        ),
    )  # fmt: skip
    for row, y in zip(cells, (top, middle), strict=True):
        x = left
        for (name, value), share in row:
            end = x + share * (right - left)
            if x > left:
                s.line(((x, y), (x, y + BLOCK / 2)), "line")
            s.words(x + 1.5, y + 3.7, name, "tick")
            lines = wrap(value, "label", (end - x - 3) / UNIT)
            text = lines[0] if lines else ""
            if len(lines) > 1:  # a field is one line: what does not fit is cut, and shown as cut
                text = wrap(value, "label", (end - x - 3) / UNIT - 14)[0] + "\u2026"
            s.words(x + 1.5, y + 8.4, text, "label")
            x = end


def _bars(s: Sheet, size: tuple[float, float], lines: Sequence[str], length: str) -> None:
    """The 100 mm check bars and what stands beside them."""
    height = size[1]
    y = height - EDGE - BLOCK - 1.2
    for line in reversed(lines):
        s.words(EDGE + STRIP, y - 0.6, line, "note")
        y -= TEXTS["note"].size * 1.35 * UNIT
    bar = y - 2.6
    x = EDGE + STRIP
    for n in range(11):
        tall = 2.4 if n % 5 == 0 else 1.4
        at = min(max(10.0 * n, 0.5 * s.narrow), BAR - 0.5 * s.narrow)  # the end strokes end where the bar does
        s.line(((x + at, bar - tall), (x + at, bar)), "line")
        s.line(((EDGE + tall, bar - at), (EDGE, bar - at)), "line")
    s.line(((x, bar), (x + BAR, bar)), "edge")
    s.line(((EDGE, bar), (EDGE, bar - BAR)), "edge")
    room = size[0] - x - BAR - EDGE - 3
    for words in (f"{length} both ways: {BAR_WORDS}", f"{length}: {BAR_WORDS}", f"{length} both ways"):
        if text_width(words, "label") * UNIT < room:
            break
    s.words(x + BAR + 2.5, bar, words, "label")


def _seams(s: Sheet, area: BoxStroke, tiles: tuple[int, int], tile: tuple[int, int]) -> None:
    """Lines shared with the neighbors, crosses on them to lay over one another."""
    spans = ((area.left, area.right), (area.top, area.bottom))
    for axis, (low, high) in enumerate(spans):
        first, last = spans[1 - axis]
        along = [first + share * (last - first) for share in (0.0, 1.0, 0.25, 0.75)]
        before, after = tile[axis] > 0, tile[axis] < tiles[axis] - 1
        for at in [low + OVERLAP / 2] * before + [high - OVERLAP / 2] * after:
            start, end, *crosses = [(at, t) if axis == 0 else (t, at) for t in along]
            s.line((start, end), "faint")
            for x, y in crosses:
                center_cross(s, x, y, 5.0, "line")
                s.circle(x, y, 2.5, "line")


def _up(s: Sheet, area: BoxStroke) -> None:
    x, y = area.left + 5.0, area.top + 2.0
    s.line(((x, y + 2), (x, y + 9)), "edge")
    arrow(s, (x, y), 90, "gap-arrow")
    s.words(x, y + 12.6, "up", "label", "middle")


def _letters(
    s: Sheet, area: BoxStroke, legend: Sequence[tuple[str, str, tuple[TemplateHole, ...]]], ox: float, oy: float
) -> None:
    """The letter of its kind beside each hole, where there is room."""
    taken = [room for _, room in s.texts()]
    for letter, _, holes in legend:
        for hole in holes:
            x, y = ox + hole.x_mm, oy - hole.y_mm
            reach = hole.diameter_mm / 2 + 2.4
            for dx, dy in BESIDE:
                scale = reach / hypot(dx, dy)
                room = s.room(TextMark(x + dx * scale, y + dy * scale + 1.1, letter, "label", "middle"))
                if area.holds(room) and not any(room.meets(other, 0.3) for other in taken):
                    s.words(x + dx * scale, y + dy * scale + 1.1, letter, "label", "middle")
                    taken.append(room)
                    break
