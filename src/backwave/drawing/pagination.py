"""A harness over as many sheets of paper as it takes to be read: first apart where no wire joins, then in windows.

A drawing is never set smaller than its capitals can be read (ISO 3098-1: 1.8 mm is the least nominal size).
What does not fit a page at that scale is laid over several, which overlap: every text stands whole on one of them.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, replace
from math import ceil

from backwave.drawing.harness import HarnessBox, HarnessLine, HarnessView, harness_sheet
from backwave.drawing.sheet import Sheet, TextMark, to_svg
from backwave.drawing.styles import LEAST_SCALE, Theme

LEAST = LEAST_SCALE  # mm a sheet unit
BEST = 0.22  # mm a sheet unit: a small harness is not blown up
LAP = 60.0  # sheet units that two windows share, at least


@dataclass(frozen=True)
class SpreadPage:
    """A piece of a drawing for one page."""

    svg: str
    width_mm: float  # as big as it is to be set
    height_mm: float
    caption: str = ""  # which piece of how many, or ""


def harness_pages(
    view: HarnessView, width_mm: float, height_mm: float, theme: Theme = "paper"
) -> tuple[SpreadPage, ...]:
    """The diagram as pieces that fit a page and can be read."""
    groups = _grouped(view, width_mm, height_mm)
    found: list[SpreadPage] = []
    for n, (boxes, lines) in enumerate(groups, 1):
        title = view.title if len(groups) == 1 else f"{view.title} ({n} of {len(groups)})"
        found += _windows(replace(view, title=title, boxes=boxes, lines=lines), width_mm, height_mm, theme)
    return tuple(found)


Group = tuple[tuple[HarnessBox, ...], tuple[HarnessLine, ...]]


def _grouped(view: HarnessView, width_mm: float, height_mm: float) -> list[Group]:
    """Devices that wires join stay together; as many such groups on a page as fit it."""
    whole: Group = (view.boxes, view.lines)
    if _fits(view, whole, width_mm, height_mm):
        return [whole]
    joined: dict[str, set[str]] = defaultdict(set)
    for line in view.lines:
        joined[line.from_pin[0]].add(line.to_pin[0])
        joined[line.to_pin[0]].add(line.from_pin[0])
    seen: set[str] = set()
    apart: list[set[str]] = []
    for box in view.boxes:
        if box.id in seen:
            continue
        group, left = set(), [box.id]
        while left:
            name = left.pop()
            if name not in group:
                group.add(name)
                left += joined[name]
        seen |= group
        apart.append(group)
    found: list[set[str]] = []
    for group in apart:
        if found and _fits(view, _of(view, found[-1] | group), width_mm, height_mm):
            found[-1] |= group
        else:
            found.append(set(group))
    return [_of(view, group) for group in found]


def _of(view: HarnessView, names: set[str]) -> Group:
    return (
        tuple(box for box in view.boxes if box.id in names),
        tuple(line for line in view.lines if line.from_pin[0] in names),
    )


def _fits(view: HarnessView, group: Group, width_mm: float, height_mm: float) -> bool:
    sheet = harness_sheet(replace(view, boxes=group[0], lines=group[1]))
    return sheet.width * LEAST <= width_mm and sheet.height * LEAST <= height_mm


_BOX = re.compile(r'viewBox="0 0 [0-9.]+ [0-9.]+"')


def _windows(view: HarnessView, width_mm: float, height_mm: float, theme: Theme) -> list[SpreadPage]:
    sheet = harness_sheet(view)
    scale = min(BEST, width_mm / sheet.width, height_mm / sheet.height)
    if scale >= LEAST:
        return [SpreadPage(to_svg(sheet, theme), sheet.width * scale, sheet.height * scale)]
    scale = LEAST
    across, lap_x = _steps(sheet.width, width_mm / scale, max(b.right - b.left for _, b in sheet.texts()))
    down, lap_y = _steps(sheet.height, height_mm / scale, 0.0)
    w = (sheet.width + (across - 1) * lap_x) / across
    h = (sheet.height + (down - 1) * lap_y) / down
    found = []
    for row in range(down):
        for column in range(across):
            piece = _window(sheet, column * (w - lap_x), row * (h - lap_y), w, h, theme)
            where = f"column {column + 1} of {across}, row {row + 1} of {down}; the edges overlap"
            found.append(SpreadPage(piece, w * scale, h * scale, where))
    return found


def _steps(length: float, room: float, widest: float) -> tuple[int, float]:
    """How many windows of equal length, and what two of them share: the widest text, where that leaves them longer."""
    lap = min(max(LAP, widest + 4.0), 0.5 * room)
    return (1 if length <= room else ceil((length - lap) / (room - lap))), lap


def _window(sheet: Sheet, x: float, y: float, width: float, height: float, theme: Theme) -> str:
    """A piece of a sheet: lines are cut by its edges, texts stand on it whole or not at all."""
    marks = []
    for mark in sheet.marks:
        if isinstance(mark, TextMark):
            box = sheet.room(mark)
            if box.left < x or box.right > x + width or box.top < y or box.bottom > y + height:
                continue
        marks.append(mark)
    svg = to_svg(replace(sheet, marks=marks), theme)
    return _BOX.sub(f'viewBox="{x:.3f} {y:.3f} {width:.3f} {height:.3f}"', svg, count=1)
