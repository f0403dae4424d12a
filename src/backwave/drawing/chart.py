"""Charts over frequency: a logarithmic axis, even steps, names at the ends of the lines.

Level charts keep the aspect of IEC 60263: a decade of frequency is as wide as 25 dB are high."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor, inf, isfinite, log10

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.drawing.callouts import spread
from backwave.drawing.sheet import BoxStroke, Point, Sheet, clip, to_svg
from backwave.drawing.styles import TEXTS, Theme, text_width, wrap
from backwave.errors import InputError

Place = Callable[[float, float], Point]
DB_PER_DECADE = 25.0
LOOKS = 5
NARROW = 600.0  # sheet units: narrower sheets have less room for names


@dataclass(frozen=True, eq=False)
class Series:
    """One line, with a band where it is uncertain."""

    name: str  # written at the line's end
    f_hz: ArrayLike  # (n,)
    value: ArrayLike | None  # (n,) unit of the chart, the line; None draws the band alone. NaN leaves a gap.
    low: ArrayLike | None = None  # (n,) unit of the chart
    high: ArrayLike | None = None  # (n,) unit of the chart
    look: int = 0  # 0 to 4: its kind of line, the same for the same thing in every chart


@dataclass(frozen=True, eq=False)
class Chart:
    """Several lines over frequency."""

    title: str  # heading and one line under it
    subtitle: str
    unit: str  # unit of the values, written at the axis: "dB", "mm", "ohm"
    series: tuple[Series, ...]
    low_hz: float = 20.0  # ends of the frequency axis
    high_hz: float = 20000.0
    low: float | None = None  # `unit`, ends of the other axis; None takes what the lines need, in whole steps
    high: float | None = None  # `unit`
    # `unit`, between two figures of that axis; None takes 5 or 10 dB, or 1, 2 or 5 times a power of ten
    step: float | None = None
    marks: tuple[tuple[str, float], ...] = ()  # Hz, upright lines to point out frequencies


def chart_svg(chart: Chart, theme: Theme = "light", *, compact: bool = False, width: float | None = None) -> str:
    return to_svg(chart_sheet(chart, compact=compact, width=width), theme)


def chart_sheet(chart: Chart, *, compact: bool = False, width: float | None = None) -> Sheet:
    """A chart as a display list; raises `InputError` for an axis without length. `width`: how wide the sheet is; None
    takes 390 where compact (a narrow screen), else 1000."""
    if not 0 < chart.low_hz < chart.high_hz:
        raise InputError("frequency axis", (chart.low_hz, chart.high_hz), "0 < low < high")
    s = Sheet(width or (390.0 if compact else 1000.0), 100.0, chart.title)
    compact = s.width < NARROW
    edge = 8.0 if compact else 24.0
    names, sample = (92.0, 24.0) if compact else (184.0, 36.0)  # before each name stands a sample of its line
    longest = max((text_width(word, "label") for series in chart.series for word in series.name.split()), default=0.0)
    names = min(max(names, longest + sample + 11), 184.0)  # no word is broken
    y = edge
    for text, look in ((chart.title, "title"), (chart.subtitle, "subtitle")):
        for line in wrap(text, look, s.width - 2 * edge):
            y += TEXTS[look].size * 1.28
            s.words(edge, y - 4, line, look)
    low, high, step = _scale(chart)
    left, right, top = edge + 44, s.width - edge - names, y + 46
    decades = log10(chart.high_hz / chart.low_hz)
    tall = min(240.0, 0.6 * (right - left) + 60) if compact else 420.0
    if chart.unit == "dB":  # IEC 60263: 25 dB as long as a decade
        tall = (right - left) / decades * (high - low) / DB_PER_DECADE
    area = BoxStroke(left, top, right, top + tall)

    def at(f: float, value: float) -> Point:
        along = (right - left) * log10(f / chart.low_hz) / decades
        return left + along, area.bottom - tall * (value - low) / (high - low)

    _grid(s, chart, area, low, high, step, at)
    bands = [_band(s, series, area, at) for series in chart.series]
    found = [(_line(s, series, area, at) or end, series) for end, series in zip(bands, chart.series)]
    ends = sorted([(end, series) for end, series in found if end is not None], key=lambda item: item[0][1])
    blocks = [wrap(series.name, "label", names - sample - 10) for _, series in ends]
    pitch = TEXTS["label"].size * 1.25
    heights = [len(lines) * pitch for lines in blocks]
    tops = spread([end[1] - pitch * 0.6 for end, _ in ends], heights, top - 8, 3.0)
    # clear of the figures below the axis
    limit = area.bottom + 3.0 if sum(heights) + 3.0 * len(heights) < tall else inf
    for n in reversed(range(len(tops))):
        tops[n] = min(tops[n], limit - heights[n])
        limit = tops[n] - 3.0
    bottom = area.bottom
    for (end, series), lines, at_y in zip(ends, blocks, tops, strict=True):
        look, turn = f"series-{series.look % LOOKS}", (right + 8, at_y + pitch * 0.6)
        whole = end[0] > right - 8
        if not whole:  # one that ends before the axis does is led to its name by what nobody takes for it
            s.line((end, turn), "hatch-unknown")
        s.line((end if whole else turn, turn, (right + sample, at_y + pitch * 0.6)), look)
        for n, line in enumerate(lines):
            s.words(right + sample + 4, at_y + pitch * (n + 0.85), line, "label")
        bottom = max(bottom, at_y + len(lines) * pitch)
    s.height = max(area.bottom + 52, bottom + edge)
    return s


def _scale(chart: Chart) -> tuple[float, float, float]:
    columns = [column for series in chart.series for column in (series.value, series.low, series.high)]
    flat = np.concatenate([np.ravel(np.asarray(c, dtype=float)) for c in columns if c is not None] or [np.zeros(0)])
    flat = flat[np.isfinite(flat)]
    low = float(flat.min()) if flat.size else 0.0
    high = float(flat.max()) if flat.size else 1.0
    low, high = (chart.low if chart.low is not None else low), (chart.high if chart.high is not None else high)
    if not (isfinite(low) and isfinite(high)) or high < low:
        raise InputError("value axis", (low, high), "low < high")
    span = (high - low) or max(abs(high), 1.0)
    step = chart.step
    if step is None:
        if chart.unit == "dB":
            step = 5.0 if span <= 40 else 10.0
        else:
            power = 10.0 ** floor(log10(span / 5))
            step = next(k * power for k in (1.0, 2.0, 5.0, 10.0) if span / (k * power) <= 7)
    if chart.low is None:
        low = step * floor(low / step + 1e-9)
    if chart.high is None:
        high = step * ceil(high / step - 1e-9)
    if high <= low:
        high = low + step
    return low, high, step


def _grid(s: Sheet, chart: Chart, area: BoxStroke, low: float, high: float, step: float, at: Place) -> None:
    s.box(area.left, area.top, area.right, area.bottom, "plate")
    powers = range(floor(log10(chart.low_hz)), ceil(log10(chart.high_hz)) + 1)
    below: list[BoxStroke] = []
    for k in (1, 2, 5, 3, 4, 6, 7, 8, 9):  # where figures crowd, those of the decades stay
        for f in (k * 10.0**power for power in powers):
            if not chart.low_hz * 0.9999 <= f <= chart.high_hz * 1.0001:
                continue
            x = at(f, low)[0]
            s.line(((x, area.top), (x, area.bottom)), "faint-wide" if k == 1 else "faint")
            if k in (1, 2, 5):
                text = f"{f / 1000:g}k" if f >= 1000 else f"{f:g}"
                room = s.words(x, area.bottom + 21, text, "tick", "middle")
                if any(room.meets(box, 4) for box in below) or room.right > s.width:
                    s.marks.pop()
                else:
                    below.append(room)
    last_y = 1e9
    for n in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
        y = at(chart.low_hz, n * step)[1]
        s.line(((area.left, y), (area.right, y)), "faint")
        room = s.words(area.left - 7, y + 5.3, f"{n * step:g}".replace("-", "\u2212"), "tick", "end")
        if room.bottom > last_y - 2 or room.left < 0:
            s.marks.pop()
        else:
            last_y = room.top
    s.words(area.left - 7, area.top - 12, chart.unit, "tick", "end")
    s.words((area.left + area.right) / 2, area.bottom + 41, "frequency in Hz", "tick", "middle")
    taken: list[BoxStroke] = []
    for name, f in chart.marks:
        if not chart.low_hz <= f <= chart.high_hz:
            continue
        x = at(f, low)[0]
        s.line(((x, area.top - 4), (x, area.bottom)), "center")
        half = text_width(name, "note") / 2
        room = s.words(min(max(x, area.left + half + 1), s.width - half - 1), area.top - 9, name, "note", "middle")
        if any(room.meets(box, 4) for box in taken) or room.left < area.left or room.right > s.width:
            s.marks.pop()
        else:
            taken.append(room)


def _band(s: Sheet, series: Series, area: BoxStroke, at: Place) -> Point | None:
    """The band; the middle of its right end, or None if nothing of it can be seen."""
    if series.low is None or series.high is None:
        return None
    f = np.asarray(series.f_hz, dtype=float)
    end: Point | None = None
    both = np.isfinite(np.asarray(series.low, dtype=float)) & np.isfinite(np.asarray(series.high, dtype=float))
    lows, highs = (_points(f, np.where(both, v, np.nan), at) for v in (series.low, series.high))
    for below, above in zip(lows, highs, strict=True):
        seen = [(x, min(max(y, area.top), area.bottom)) for x, y in (*above, *reversed(below))]
        seen = [(x, y) for x, y in seen if area.left - 0.01 <= x <= area.right + 0.01]
        if len(seen) > 2:
            s.line(seen, f"spread-{series.look % LOOKS}", True)
            right = max(x for x, _ in seen)
            ys = [y for x, y in seen if x == right]
            end = (right, sum(ys) / len(ys))
    return end


def _line(s: Sheet, series: Series, area: BoxStroke, at: Place) -> Point | None:
    """The line; its right end, or None if nothing of it can be seen."""
    end: Point | None = None
    if series.value is not None:
        for run in _points(np.asarray(series.f_hz, dtype=float), series.value, at):
            for part in clip(run, area):
                s.line(part, f"series-{series.look % LOOKS}")
                end = part[-1]
    return end


def _points(f: NDArray[np.float64], value: ArrayLike, at: Place) -> list[list[Point]]:
    runs: list[list[Point]] = [[]]
    for hz, v in zip(f, np.asarray(value, dtype=float), strict=True):
        if hz > 0 and isfinite(v):
            runs[-1].append(at(float(hz), float(v)))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]
