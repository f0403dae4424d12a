"""Charts over frequency."""

from __future__ import annotations

from math import log10

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.drawing.chart import Chart, Series, chart_sheet, chart_svg
from backwave.drawing.sheet import Poly, overlaps
from backwave.errors import InputError
from tests.drawing.reading import faults
from tests.drawing.strategies import prose

F = np.geomspace(20, 20000, 120)
LEVEL = 80 - 10 * np.log10(1 + (70 / F) ** 4)
CHART = Chart(
    "Front door, left: response at the seat",
    "2.83 V at the channel",
    "dB",
    (Series("new speakers", F, LEVEL, LEVEL - 3, LEVEL + 3, 1), Series("factory", F, LEVEL - 4)),
    marks=(("crossover 80 Hz", 80.0),),
)


def named(compact: bool = False) -> dict[str, tuple[float, float]]:
    return {mark.text: (mark.x, mark.y) for mark, _ in chart_sheet(CHART, compact=compact).texts()}


@pytest.mark.parametrize("compact", [False, True])
def test_a_decade_is_as_wide_as_25_db_are_high(compact: bool) -> None:
    at = named(compact)  # IEC 60263: scales and sizes for plotting frequency characteristics
    decade = at["1k"][0] - at["100"][0]
    assert at["10k"][0] - at["1k"][0] == pytest.approx(decade)
    assert at["10k"][0] - at["2k"][0] == pytest.approx(decade * log10(5))
    assert at["60"][1] - at["80"][1] == pytest.approx(decade * 20 / 25)


def test_frequencies_are_labeled_twenty_fifty_hundred() -> None:
    assert {"20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k"} <= set(named())
    assert {"20", "100", "1k", "10k"} <= set(named(compact=True))


def test_a_line_goes_where_its_values_are() -> None:
    flat = Chart("", "", "dB", (Series("x", [20.0, 20000.0], [70.0, 80.0]),), low=60, high=90, step=10)
    sheet = chart_sheet(flat)
    at = {mark.text: (mark.x, mark.y) for mark, _ in sheet.texts()}
    line = next(m for m in sheet.marks if isinstance(m, Poly) and m.look == "series-0")
    assert line.points[0] == pytest.approx((at["20"][0], at["70"][1] - 5.3))
    assert line.points[-1] == pytest.approx((at["20k"][0], at["80"][1] - 5.3))


def test_gaps_and_the_edge_of_the_chart_cut_lines() -> None:
    value = np.where((F > 100) & (F < 200), np.nan, LEVEL)
    sheet = chart_sheet(Chart("", "", "dB", (Series("x", F, value),), low_hz=50, high_hz=5000))
    lines = [m for m in sheet.marks if isinstance(m, Poly) and m.look == "series-0"]
    assert len(lines) == 3  # two pieces and the leader to the name
    frame = next(m for m in sheet.marks if isinstance(m, Poly) and m.look == "plate").points
    for line in lines[:2]:
        assert all(frame[0][0] - 1e-6 <= x <= frame[1][0] + 1e-6 for x, _ in line.points)


@given(
    st.lists(
        st.tuples(prose, st.lists(st.floats(-1e4, 1e4) | st.just(float("nan")), min_size=5, max_size=5)), max_size=6
    ),
    st.sampled_from(["dB", "mm", "ohm"]),
    prose,
)
@settings(max_examples=60, deadline=None)
def test_no_text_touches_another(series: list[tuple[str, list[float]]], unit: str, title: str) -> None:
    f = np.geomspace(30, 3000, 5)
    many = tuple(Series(n, f, v, np.asarray(v) - 1, np.asarray(v) + 1, k) for k, (n, v) in enumerate(series))
    if unit == "dB":
        many = tuple(Series(s.name, f, np.asarray(s.value) / 100, look=s.look) for s in many)
    for compact in (False, True):
        assert (
            overlaps(
                chart_sheet(Chart(title, title, unit, many, marks=((title, 100.0), ("b", 110.0))), compact=compact)
            )
            == []
        )


def test_read_back_with_the_fonts_own_widths() -> None:
    assert faults(chart_svg(CHART)) == []
    assert faults(chart_svg(CHART, compact=True)) == []


def test_an_axis_without_length_is_refused() -> None:
    with pytest.raises(InputError, match="frequency axis"):
        chart_sheet(Chart("", "", "dB", (), low_hz=100, high_hz=100))
