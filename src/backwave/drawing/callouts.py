"""What stands round a drawing: its heading with the verdict, the lines at its foot, and names joined to their places.

On a wide sheet they stand in two columns, sorted so that leaders seldom cross and spread so that none overlap;
on a narrow one each has a letter in a ring at its place, and the words stand in a list below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.drawing.dimensions import Figures, arrow, verdict_mark
from backwave.drawing.sheet import BoxStroke, Point, Poly, Sheet
from backwave.drawing.styles import TEXTS, wrap
from backwave.finding import Verdict

MARGIN = 24.0
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


def column(
    sheet: Sheet, callouts: Sequence[Callout], side: Literal["left", "right"], outer: float, width: float, top: float
) -> float:
    """Write callouts in a column and draw their leaders. Returns sheet units: the bottom of the lowest block, or
    `top`."""
    unit = sheet.text_unit
    mark = 20 * unit
    away = -1.0 if side == "left" else 1.0
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
            sheet.words(inset, y - 0.32 * TEXTS[look].size * unit, text, look, "end" if side == "left" else "start")
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


def letters(sheet: Sheet, callouts: Sequence[Callout], area: BoxStroke, left: float, width: float, top: float) -> float:
    """Mark each callout's place with a letter in a ring, and list the words below. Returns sheet units."""
    unit = sheet.text_unit
    radius = 11 * unit
    taken = [room for _, room in sheet.texts()]
    edges = _edges(sheet)
    y = top
    n = 0
    for c in callouts:
        letter = chr(ord("A") + n % 26) + (str(n // 26) if n >= 26 else "")
        spot = _spot(c.target, radius, area, taken, edges) if c.target else None
        if spot and c.target:
            n += 1
            _ring_leader(sheet, c, spot, radius)
            sheet.circle(*spot, radius, "hollow")
            sheet.words(spot[0], spot[1] + 5.3 * unit, letter, "letter", "middle")
            taken.append(BoxStroke(spot[0] - radius, spot[1] - radius, spot[0] + radius, spot[1] + radius))
            edges = np.vstack([edges, [[*spot, *c.target]]])
        lines = _wrapped(c, width - 52 * unit, unit)
        if not lines:
            continue
        first = y + 0.62 * LEADING * TEXTS[lines[0][1]].size * unit
        if spot:
            sheet.circle(left + radius, first, radius, "hollow")
            sheet.words(left + radius, first + 5.3 * unit, letter, "letter", "middle")
        if c.verdict:
            verdict_mark(sheet, left + 37 * unit, first, 15 * unit, c.verdict)
        for text, look in lines:
            y += TEXTS[look].size * LEADING * unit
            sheet.words(left + 52 * unit, y - 0.26 * TEXTS[look].size * unit, text, look)
        y += 9 * unit
    return y


def _ring_leader(sheet: Sheet, c: Callout, spot: Point, radius: float) -> None:
    assert c.target is not None
    dx, dy = c.target[0] - spot[0], c.target[1] - spot[1]
    reach = hypot(dx, dy)
    if reach > radius:
        start = (spot[0] + dx / reach * radius, spot[1] + dy / reach * radius)
        _leader(sheet, start, start, c)


def _edges(sheet: Sheet) -> NDArray[np.float64]:
    """Wide and dimension lines as (n, 4) segments: what a ring should not stand on."""
    heavy = {"edge", "solid", "arrow", "dimension", "gap", "change", "wrong", "travel", "grille", "hollow"}
    runs = [m.points + m.points[: m.closed] for m in sheet.marks if isinstance(m, Poly) and m.look in heavy]
    found = [(*a, *b) for run in runs for a, b in pairwise(run)]
    return np.array(found, dtype=float).reshape(-1, 4)


def _spot(
    target: Point, radius: float, area: BoxStroke, taken: Sequence[BoxStroke], edges: NDArray[np.float64]
) -> Point | None:
    """The nearest free place for a ring that stands on few lines; None where the area is full."""
    best: tuple[float, Point] | None = None
    mids = edges.reshape(-1, 2, 2)
    for reach in (2.2, 3.2, 4.5, 6.5, 9.0, 13.0, 18.0, 25.0):
        for turn in range(0, 360, 20):
            x = target[0] + reach * radius * cos(radians(turn))
            y = target[1] + reach * radius * sin(radians(turn))
            room = BoxStroke(x - radius, y - radius, x + radius, y + radius)
            if not area.holds(room) or any(room.meets(box, 2.0) for box in taken):
                continue
            p, d = mids[:, 0], mids[:, 1] - mids[:, 0]
            size = np.maximum((d * d).sum(axis=1), 1e-9)
            t = np.clip(((np.array([x, y]) - p) * d).sum(axis=1) / size, 0, 1)
            near = np.hypot(*(p + d * t[:, None] - [x, y]).T)
            cost = reach + 4.0 * float(np.count_nonzero(near < radius + 1.5))
            if best is None or cost < best[0]:
                best = (cost, (x, y))
        if best and best[0] <= reach:
            break
    return best[1] if best else None


def gap_words(
    fmt: Figures, name: str, value: float, verdict: Verdict, margin: float, ends: tuple[float, float] | None = None
) -> tuple[tuple[str, str], ...]:
    """Value, interval and margin, and what is wrong, as lines with their looks."""
    lines = [(f"{name} {fmt.full(value)}", "value-wrong" if verdict == "stop" else "value")]
    spread = "" if ends is None else f"{fmt.bare(ends[0])} \u2026 {fmt.bare(ends[1])}, "
    lines.append((f"{spread}margin {fmt.bare(margin)}", "note"))
    lines += [(verdict, "note-wrong")] if verdict != "ok" else []
    return tuple(lines)


def columns(sheet: Sheet, callouts: Sequence[Callout], width: float, top: float, middle: float) -> float:
    """Callouts in a column at either side, those that point left of `middle` at the left; the bottom of the longer."""
    west = [c for c in callouts if c.side == "left" or (not c.side and c.target and c.target[0] < middle)]
    east = [c for c in callouts if c not in west]
    bottom = column(sheet, west, "left", MARGIN, width, top)
    return max(bottom, column(sheet, east, "right", sheet.width - MARGIN, width, top))


def heading(
    sheet: Sheet,
    title: str,
    subtitle: str,
    verdict: Verdict | None,
    verdict_text: str,
    verdict_note: str,
    compact: bool,
) -> float:
    """Title and subtitle at the left, the verdict plate at the right (below them on a narrow sheet). `verdict`: None
    while it is being checked. Returns sheet units."""
    edge = 14.0 if compact else MARGIN
    plate = sheet.width - 2 * edge if compact else 384.0
    room = sheet.width - 2 * edge - (0 if compact else plate + 24)
    y = edge
    for text, look in ((title, "title"), (subtitle, "subtitle")):
        for line in wrap(text, look, room):
            y += TEXTS[look].size * 1.28
            sheet.words(edge, y - 0.2 * TEXTS[look].size, line, look)
    look = "verdict-wrong" if verdict in ("caution", "stop") else "verdict"
    whole = "Checking …" if verdict is None else f"{WORD[verdict]}: {verdict_text}" if verdict_text else WORD[verdict]
    words = [(line, look) for line in wrap(whole, look, plate - 66)]
    words += [(line, "note") for line in wrap(verdict_note, "note", plate - 66)]
    tall = max(52.0, sum(TEXTS[kind].size for _, kind in words) * 1.3 + 20)
    top = y + 10 if compact else edge
    left = edge if compact else sheet.width - edge - plate
    sheet.box(left, top, left + plate, top + tall, "plate")
    if verdict is not None:
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
