"""What stands round a drawing: its heading with the verdict, the lines at its foot, and names joined to their places.

They stand in two columns, sorted so that leaders seldom cross and spread so that none overlap, or on the drawing itself,
where it leaves room (`labels`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.drawing.dimensions import Figures, arrow, verdict_mark
from backwave.drawing.sheet import BoxStroke, Circle, Point, Poly, Sheet, circle_points
from backwave.drawing.styles import TEXTS, text_width, wrap
from backwave.finding import Verdict

Medium = Literal["paper", "screen", "phone"]  # on a screen the heading and the notes stand beside a sheet of one size
MARGIN = 24.0
CELL = 3.0  # sheet units, of the raster in which `labels` look for room
MOST = 22.0  # cells that a name may be away and cover, together: else it stands in the notes
BARE = ("body-", "hatch-", "dots", "band", "ground", "faint")  # looks that a label may lie on
WORD = {"ok": "OK", "caution": "Caution", "stop": "Stop"}
_HEADS = {"wrong": "wrong-arrow", "gap": "gap-arrow", "change": "change-arrow"}
LEADING = 1.3  # line pitch of text, in its size


@dataclass(frozen=True)
class Callout:
    """Words about a place of the drawing."""

    target: Point | None  # (x, y) sheet units, the place; None lists the words without one
    lines: tuple[tuple[str, str], ...]  # the words, line by line, with their keys of `ink.TEXTS`
    # how the leader ends: inside an outline, on an outline, on a dimension line (ISO 128-2)
    end: Literal["dot", "arrow", "none"] = "dot"
    verdict: Verdict | None = None  # its mark stands before the words
    look: str = "dimension"  # key of `ink.LINES` of the leader
    side: Literal["", "left", "right"] = ""  # column it belongs to; "" leaves it to where its place lies


def _wrapped(callout: Callout, width: float, unit: float) -> list[tuple[str, str]]:
    return [(part, look) for text, look in callout.lines for part in wrap(text, look, width / unit)]


def _height(lines: Sequence[tuple[str, str]], unit: float) -> float:
    return sum(TEXTS[look].size for _, look in lines) * LEADING * unit


def spread(wanted: Sequence[float], heights: Sequence[float], top: float, gap: float) -> list[float]:
    """Tops of blocks, each as near to where it wants to be as the others allow (pooled neighbors, least squares).
    `wanted`, `heights`: where each top would like to be, rising, and how tall each block is."""
    groups: list[tuple[float, float, list[int]]] = []  # sum of wanted tops brought to the first block, height, members
    for n, (want, height) in enumerate(zip(wanted, heights, strict=True)):
        total, tall, members = want, height + gap, [n]
        while groups and _start(groups[-1], top) + groups[-1][1] > _start((total, tall, members), top):
            before, its, others = groups.pop()
            total = before + total - its * len(members)
            tall += its
            members = others + members
        groups.append((total, tall, members))
    tops = [0.0] * len(wanted)
    for group in groups:
        at = _start(group, top)
        for n in group[2]:
            tops[n] = at
            at += heights[n] + gap
    return tops


def _start(group: tuple[float, float, list[int]], top: float) -> float:
    return max(top, group[0] / len(group[2]))


def _column(sheet: Sheet, callouts: Sequence[Callout], away: float, outer: float, width: float, top: float) -> float:
    """Words in a column, their leaders running off from `outer` the other way; the bottom of the lowest block, or `top`."""
    unit = sheet.text_unit
    mark = 20 * unit
    placed = sorted((c for c in callouts if c.target), key=lambda c: (c.target or (0, 0))[1])
    blocks = [_wrapped(c, width - (mark if c.verdict else 0) - 8 * unit, unit) for c in placed]
    heights = [_height(lines, unit) for lines in blocks]
    wanted = [
        (c.target or (0, 0))[1] - 0.55 * LEADING * TEXTS[lines[0][1]].size * unit if lines else top
        for c, lines in zip(placed, blocks, strict=True)
    ]
    bottom = top
    for c, lines, at, height in zip(placed, blocks, spread(wanted, heights, top, 11 * unit), heights, strict=True):
        if not lines or c.target is None:
            continue
        edge = outer - away * width  # the column's inner edge; words run up to it
        middle = at + 0.55 * LEADING * TEXTS[lines[0][1]].size * unit
        y = at
        inset = edge + away * 6 * unit
        if c.verdict:
            verdict_mark(sheet, inset + away * 7.5 * unit, middle, 15 * unit, c.verdict)
            inset += away * mark
        for text, look in lines:
            y += TEXTS[look].size * LEADING * unit
            sheet.words(inset, y - 0.32 * TEXTS[look].size * unit, text, look, "end" if away < 0 else "start")
        _leader(sheet, (edge, middle), (edge - away * 14 * unit, middle), c)
        bottom = max(bottom, at + height)
    return bottom


def _leader(sheet: Sheet, start: Point, elbow: Point, callout: Callout) -> None:
    assert callout.target is not None
    x, y = callout.target
    sheet.line((start, elbow, (x, y)), callout.look)
    if callout.end == "dot":
        sheet.circle(x, y, 2.0 * sheet.narrow, _HEADS.get(callout.look, "arrow"))
    elif callout.end == "arrow":
        dx, dy = x - elbow[0], y - elbow[1]
        arrow(sheet, (x, y), float(np.degrees(np.arctan2(-dy, dx))), _HEADS.get(callout.look, "arrow"))


def labels(sheet: Sheet, callouts: Sequence[Callout], area: BoxStroke, *, brief: bool = True) -> None:
    """Words on the drawing, each where most room is nearest to its place, measures and what can be changed first. What
    finds no room goes to the sheet's notes; where `brief`, so do the words after the names of the others."""
    room = _Room(sheet, area)
    for c in sorted(callouts, key=lambda c: (c.end != "none", not _changes(c))):
        whole = not brief or c.end == "none"
        lines = [(part, look) for text, look in c.lines[: None if whole else 1] for part in wrap(text, look, 260.0)]
        mark = 20 * sheet.text_unit if c.end == "none" and not _changes(c) else 0.0  # also while it is checked
        wide = max((text_width(text, look) for text, look in lines), default=0.0) * sheet.text_unit + mark
        most = np.inf if whole or _changes(c) else MOST
        spot = c.target and lines and room.spot(c.target, wide + 6, _height(lines, sheet.text_unit) + 4, most)
        if not (whole and spot) and (len(c.lines) > 1 or not spot):
            sheet.notes.append(": ".join(filter(None, (c.lines[0][0], ", ".join(text for text, _ in c.lines[1:])))))
        if not spot or not c.target:
            continue
        right, y = c.target[0] > (spot.left + spot.right) / 2, spot.top + 2
        x, away = (spot.right - 3 - mark, 1.0) if right else (spot.left + 3 + mark, -1.0)
        near = (min(max(c.target[0], spot.left), spot.right), min(max(c.target[1], spot.top), spot.bottom))
        _leader(sheet, near, near, c)
        room.take(spot, near, c.target)
        if c.verdict:
            verdict_mark(sheet, x + away * (mark - 7), y + 9 * sheet.text_unit, 15 * sheet.text_unit, c.verdict)
        for text, look in lines:
            y += TEXTS[look].size * LEADING * sheet.text_unit
            sheet.words(x, y - 0.32 * TEXTS[look].size * sheet.text_unit, text, look, "end" if right else "start")


def _changes(c: Callout) -> bool:
    return c.lines[0][1].endswith("change")  # what a person can change


class _Room:
    """Where a sheet has room for words: lines and texts as counts in cells."""

    def __init__(self, sheet: Sheet, area: BoxStroke) -> None:
        self.area = area
        shape = int((area.bottom - area.top) / CELL), int((area.right - area.left) / CELL)
        self.ink, self.full = np.zeros(shape), np.zeros(shape)
        for mark in sheet.marks:
            if isinstance(mark, Poly) and not mark.look.startswith(BARE):
                for a, b in pairwise(mark.points + mark.points[: mark.closed]):
                    self._draw(a, b, 1.0)
            elif isinstance(mark, Circle) and not mark.look.startswith(BARE):
                for a, b in pairwise(circle_points(mark.x, mark.y, mark.radius, 1.0)):
                    self._draw(a, b, 1.0)
        for _, box in sheet.texts():
            self._fill(box)

    def _cells(self, points: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        found = np.floor((points - [self.area.left, self.area.top]) / CELL).astype(np.int64)
        inside = ((found >= 0) & (found < self.ink.shape[::-1])).all(axis=1)
        return found[inside, 1], found[inside, 0]

    def _line(self, a: Point, b: Point) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        steps = max(2, ceil(hypot(b[0] - a[0], b[1] - a[1]) / CELL))
        return self._cells(np.linspace(a, b, steps))

    def _draw(self, a: Point, b: Point, weight: float) -> None:
        self.ink[self._line(a, b)] = weight

    def _fill(self, box: BoxStroke) -> None:
        (x1, x2), (y1, y2) = (
            (max(0, int((v - of - 2) / CELL)), max(0, ceil((w - of + 2) / CELL)))
            for v, w, of in ((box.left, box.right, self.area.left), (box.top, box.bottom, self.area.top))
        )
        self.full[y1:y2, x1:x2] = 1.0

    def take(self, box: BoxStroke, start: Point, end: Point) -> None:
        """A label stands here now, with a leader from it."""
        self._fill(box)
        self._draw(start, end, 4.0)

    def spot(self, target: Point, width: float, height: float, most: float) -> BoxStroke | None:
        """The box that is nearest to a place and covers least; None where that costs more than `most` cells."""
        tall, wide = ceil(height / CELL), ceil(width / CELL)
        rows, columns = self.ink.shape[0] - tall, self.ink.shape[1] - wide
        inside = self.area.holds(BoxStroke(*target, *target))
        if rows < 1 or columns < 1 or not inside:
            return None

        def within(cells: NDArray[np.float64]) -> NDArray[np.float64]:
            total = np.pad(cells, ((1, 0), (1, 0))).cumsum(0).cumsum(1)
            return (total[tall:, wide:] - total[:-tall, wide:] - total[tall:, :-wide] + total[:-tall, :-wide])[
                :rows, :columns
            ]

        x, y = (target[0] - self.area.left) / CELL, (target[1] - self.area.top) / CELL
        left, top = np.arange(columns)[None, :], np.arange(rows)[:, None]
        far = np.hypot(
            np.maximum(0, np.maximum(left - x, x - left - wide)), np.maximum(0, np.maximum(top - y, y - top - tall))
        )
        cost = np.where((within(self.full) > 0) | (far < 2.5), np.inf, far + 1.2 * within(self.ink))
        for at in np.argsort(cost, axis=None)[:400:2]:
            row, column = divmod(int(at), columns)
            if not cost[row, column] < most:
                return None
            x1, y1 = self.area.left + column * CELL, self.area.top + row * CELL
            box = BoxStroke(x1, y1, x1 + width, y1 + height)
            near = (min(max(target[0], box.left), box.right), min(max(target[1], box.top), box.bottom))
            if not self.full[self._line(near, target)].any():
                return box
        return None


def gap_words(
    fmt: Figures, name: str, value: float, verdict: Verdict, margin: float, ends: tuple[float, float] | None = None, *,
    brief: bool = False,
) -> tuple[tuple[str, str], ...]:  # fmt: skip
    """Value, interval and margin, and what is wrong, as lines with their looks; where brief, value and interval."""
    lines = [(f"{name} {fmt.full(value)}", "value-wrong" if verdict == "stop" else "value")]
    spread = "" if ends is None else f"{fmt.bare(ends[0])} \u2026 {fmt.bare(ends[1])}, "
    if brief:
        return (*lines, *([(spread[:-2], "note")] if spread else []))
    lines.append((f"{spread}margin {fmt.bare(margin)}", "note"))
    lines += [(verdict, "note-wrong")] if verdict != "ok" else []
    return tuple(lines)


def columns(sheet: Sheet, callouts: Sequence[Callout], width: float, top: float, middle: float) -> float:
    """Callouts in a column at either side, those that point left of `middle` at the left; the bottom of the longer."""
    west = [c for c in callouts if c.side == "left" or (not c.side and c.target and c.target[0] < middle)]
    east = [c for c in callouts if c not in west]
    bottom = _column(sheet, west, -1.0, MARGIN, width, top)
    return max(bottom, _column(sheet, east, 1.0, sheet.width - MARGIN, width, top))


def heading(
    sheet: Sheet, title: str, subtitle: str, verdict: Verdict, verdict_text: str, verdict_note: str, compact: bool
) -> float:
    """Title and subtitle at the left, the verdict plate at the right (below them on a narrow sheet); how far down it
    reaches."""
    edge = 14.0 if compact else MARGIN
    plate = sheet.width - 2 * edge if compact else 384.0
    room = sheet.width - 2 * edge - (0 if compact else plate + 24)
    y = edge
    for text, look in ((title, "title"), (subtitle, "subtitle")):
        for line in wrap(text, look, room):
            y += TEXTS[look].size * 1.28
            sheet.words(edge, y - 0.2 * TEXTS[look].size, line, look)
    look = "verdict" if verdict == "ok" else "verdict-wrong"
    whole = f"{WORD[verdict]}: {verdict_text}" if verdict_text else WORD[verdict]
    words = [(line, look) for line in wrap(whole, look, plate - 66)]
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


def finish(sheet: Sheet, medium: Medium, notes: Sequence[str], end: float) -> None:
    """The notes, at the foot on paper, else beside the sheet, which keeps its size where it can."""
    if medium == "paper":
        foot(sheet, notes, end + 14, MARGIN)
    else:
        sheet.notes += notes
        sheet.height = max(sheet.height, end + 6)


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
