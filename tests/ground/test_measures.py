"""Measures inside words, and cable sizes, in either system."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.notation.measures import amount, gauge, goods, in_words, wire_size
from backwave.stock import shipped


@pytest.mark.parametrize(
    ("words", "us"),
    [
        ("most have 1 to 2 mm, half of it closed", "most have 0.039 to 0.079 in, half of it closed"),
        ("220 mm x 220 mm x 250 mm", "8.661 in x 8.661 in x 9.843 in"),
        ("for a 0.4 mm nozzle; a common setting", "for a 0.4 mm nozzle; a common setting"),
        ("M4 × 8.0 mm", "M4 × 8.0 mm"),
        ("heat balance, 70 degC insulation", "heat balance, 158 °F insulation"),
        ("left out: 20 cm2", "left out: 3.10 in²"),
        ("25 of 50 m2m", "25 of 50 m2m"),
        ('such as "1.5 mm2" or "AWG 16"', 'such as "AWG 16"'),
        ("supply cable, copper, insulation 105 °C", "supply cable, copper, insulation 221 °F"),
    ],
)
def test_a_sentence_in_inches(words: str, us: str) -> None:
    assert in_words(words, "us") == us


def test_the_gauge_is_that_of_the_table_that_ships() -> None:
    """ASTM B258, table 1 (from memory): AWG 10 is 5.26 mm2, AWG 1/0 53.5, AWG 4/0 107; and every row of the stock."""
    assert [gauge(area) for area in (5.26, 53.5, 107.2)] == ["AWG 10", "AWG 1/0", "AWG 4/0"]
    rows = [r for r in shipped().rows("cable") if r.series == "awg"]
    assert len(rows) > 10
    for row in rows:
        assert gauge(row.area_mm2) == row.name
        assert wire_size(row.name, "us") == wire_size(row.name, "metric") == row.name


def test_a_metric_cable_is_about_a_gauge() -> None:
    """IEC 60228 sizes beside ASTM B258 areas: 0.75 mm2 lies between AWG 18 (0.823) and AWG 19 (0.653)."""
    assert wire_size("0.75 mm2", "us") in ("about AWG 18", "about AWG 19")
    assert wire_size("0.75 mm2", "metric") == "0.75 mm²"
    assert wire_size(33.6308, "metric") == "33.6 mm²"
    assert wire_size(None, "us") == wire_size("", "us") == ""


def test_what_is_bought_by_length_or_weight() -> None:
    assert amount(4.2, "m", "us") == "13.78 ft"
    assert amount(None, "m", "us") == "as needed"
    assert amount(8, "", "us") == "8 pcs"
    assert amount(272.5, "g", "metric") == "272.5 g"


def test_names_and_goods_sold_by_the_millimeter_stay() -> None:
    assert goods("Speakers and devices", "Demo 165 mm woofer", "166 mm", "us") == ("Demo 165 mm woofer", "6.535 in")
    assert goods("Parts", "ASA filament", "1.75 mm", "us") == ("ASA filament", "1.75 mm")
    assert goods("Foam", "foam 2A0", "10.0 mm thick, 166.0 mm square", "us")[1] == "0.394 in thick, 6.535 in square"


@given(st.text())
def test_words_without_a_measure_stay(text: str) -> None:
    if not any(c.isdigit() for c in text):
        assert in_words(text, "us") == text
