"""A chart that can be read off, with the numbers behind its lines."""

from __future__ import annotations

from typing import Any

import numpy as np

from backwave.bench.widgets import Picture
from backwave.drawing.chart import Chart, chart_svg

PLACES = {"dB": 1, "mm": 2, "ohm": 2}


class Plot(Picture, component="plot.js"):
    """A chart over frequency, read off by pointer, thumb or keyboard."""

    def __init__(self, pid: str) -> None:
        super().__init__()
        self._props.update({"pid": pid, "f": [100.0], "lines": [], "lowHz": 20.0, "highHz": 20000.0, "unit": ""})

    def chart(self, chart: Chart, compact: bool, notes: tuple[tuple[str, ...], ...] = ()) -> None:
        """Show a chart."""
        f = np.asarray(chart.series[0].f_hz, dtype=float)
        shown = (f >= chart.low_hz * 0.9999) & (f <= chart.high_hz * 1.0001)

        def column(values: Any) -> list[float | None] | None:
            if values is None:
                return None
            return [round(float(v), 3) if np.isfinite(v) else None for v in np.asarray(values, dtype=float)[shown]]

        lines = [
            {
                "name": one.name, "value": column(one.value), "low": column(one.low), "high": column(one.high),
                "note": [notes[k][i] for i in np.flatnonzero(shown)] if k < len(notes) else None,
            }
            for k, one in enumerate(chart.series)
        ]  # fmt: skip
        self.say(
            svg=chart_svg(chart, "auto", compact=compact), f=[round(float(v), 2) for v in f[shown]], lines=lines,
            lowHz=chart.low_hz, highHz=chart.high_hz, unit="Ω" if chart.unit == "ohm" else chart.unit,
            places=PLACES.get(chart.unit, 2),
        )  # fmt: skip
