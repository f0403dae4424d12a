"""Textbook ladders, Zobel, L-pad and preferred values against printed tables and against the solver."""

from __future__ import annotations

from math import log10, pi, sqrt
from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.acoustics import crossover
from backwave.errors import InputError
from backwave.network import Network
from backwave.network.alignments import ALIGNMENTS, SERIES, LadderPart, around, l_pad, ladder, nearest, prototype, zobel

SIDES: tuple[Literal["low-pass", "high-pass"], ...] = ("low-pass", "high-pass")
# Singly terminated ladders, Zverev, Handbook of Filter Synthesis (1967), from memory; Linkwitz-Riley derived.
PRINTED = {
    "BW1": (1.0,),
    "BW2": (1.4142136, 0.7071068),
    "BW3": (1.5, 1.3333333, 0.5),
    "BW4": (1.5307337, 1.5771610, 1.0823922, 0.3826834),
    "LR2": (2.0, 0.5),
    "LR4": (1.8856181, 1.5909903, 0.9428090, 0.3535534),
}


@pytest.mark.parametrize("alignment", ALIGNMENTS)
def test_prototypes(alignment: str) -> None:
    assert prototype(alignment) == pytest.approx(PRINTED[alignment], abs=1e-7)


def in_network(parts: tuple[LadderPart, ...], ohm: float) -> Network:
    n, here = Network(), "in"
    n.voltage("source", "in", "0")
    for k, part in enumerate(parts):
        there = f"n{k}" if part.place == "series" else "0"
        (n.inductor if part.kind == "L" else n.capacitor)(f"{part.kind}{k}", here, there, part.value)
        here = there if part.place == "series" else here
    n.resistor("load", here, "0", ohm)
    return n


@pytest.mark.parametrize("alignment", ALIGNMENTS)
def test_ladder_in_the_network_is_the_filter(alignment: str) -> None:
    """Two roads: element values through the solver, and the poles of filters.py."""
    f = np.geomspace(30, 30000, 50)
    for side in SIDES:
        n = in_network(ladder(side, alignment, 3000.0, 4.0), 4.0)
        load = next(e for e in n.elements if e.name == "load").nodes[0]
        assert np.allclose(n.solve(f).v(load), crossover(f, side, alignment, 3000.0), rtol=1e-9, atol=0)


# 3000 Hz, 4 ohm: mH, uF, mH, uF and uF, mH, uF, mH (derived from the same table, 6 digits).
AT_3_KHZ = {
    "BW1": ((0.212207,), (13.2629,)),
    "BW2": ((0.300105, 9.37829), (9.37829, 0.300105)),
    "BW3": ((0.318310, 17.6839, 0.106103), (8.84194, 0.159155, 26.5258)),
    "BW4": ((0.324832, 20.9177, 0.229691, 5.07550), (8.66441, 0.134550, 12.2533, 0.554523)),
    "LR2": ((0.424413, 6.63146), (6.63146, 0.424413)),
    "LR4": ((0.400141, 21.1012, 0.200070, 4.68915), (7.03372, 0.133380, 14.0674, 0.600211)),
}


@pytest.mark.parametrize("alignment", ALIGNMENTS)
def test_values_at_three_kilohertz_into_four_ohm(alignment: str) -> None:
    for side, expected in zip(SIDES, AT_3_KHZ[alignment], strict=True):
        parts = ladder(side, alignment, 3000.0, 4.0)
        assert [p.value * (1e3 if p.kind == "L" else 1e6) for p in parts] == pytest.approx(expected, rel=1e-5)


def test_sums_of_low_and_high() -> None:
    # Linkwitz 1976, JAES 24(1):2-8 (from memory): sums at f0, dB, same polarity and one reversed; None cancels.
    expected = {
        "BW1": (0, 0),
        "BW2": (None, 3.0103),
        "BW3": (0, 0),
        "BW4": (3.0103, None),
        "LR2": (None, 0),
        "LR4": (0, None),
    }
    f = np.array([1000.0])
    for alignment, levels in expected.items():
        low, high = (crossover(f, side, alignment, 1000.0) for side in ("low-pass", "high-pass"))
        for total, level in zip((low + high, low - high), levels, strict=True):
            if level is None:
                assert abs(total[0]) < 1e-12
            else:
                assert 20 * log10(abs(total[0])) == pytest.approx(level, abs=1e-4)


def test_zobel() -> None:
    # Circuit algebra: Re 3.4 ohm, Le 0.35 mH -> 30.27682 uF, and the pair is 3.4 ohm from 20 Hz to 20 kHz.
    r, c = zobel(3.4, 0.35e-3)
    assert (r, c) == pytest.approx((3.4, 30.27682e-6), rel=1e-6)
    n = Network()
    n.voltage("source", "a", "0")
    n.inductor("coil", "a", "0", 0.35e-3, 3.4)
    n.resistor("Rz", "a", "b", r)
    n.capacitor("Cz", "b", "0", c)
    assert np.allclose(n.solve(np.geomspace(20, 20000, 30)).z("source"), 3.4, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("loss", "series", "across"),
    [
        (1, 0.434996, 32.78193), (2, 0.822687, 15.44846), (3, 1.168217, 9.696087), (6, 1.995251, 4.019041),
        (10, 2.735089, 1.849901),
    ],
)  # fmt: skip
def test_l_pad(loss: float, series: float, across: float) -> None:
    # Attenuator algebra, 4 ohm.
    pad = l_pad(loss, 4.0)
    assert pad == pytest.approx((series, across), rel=1e-5)
    n = Network()
    n.voltage("source", "a", "0")
    n.resistor("Rs", "a", "b", pad[0])
    n.resistor("Rp", "b", "0", pad[1])
    n.resistor("load", "b", "0", 4.0)
    s = n.solve(1000.0)
    assert s.z("source") == pytest.approx(4.0, rel=1e-12)
    assert 20 * log10(abs(s.v("b")[0])) == pytest.approx(-loss, abs=1e-9)


def test_ladder_refuses() -> None:
    refusals = [
        (lambda: prototype("BW5"), "BW4, LR2"),
        (lambda: ladder("low-pass", "LR2", 0.0, 4.0), "crossover frequency"),
        (lambda: ladder("high-pass", "LR2", 100.0, -4.0), "load resistance"),
        (lambda: l_pad(0.0, 4.0), "attenuation"),
        (lambda: zobel(3.0, float("nan")), "inductance"),
    ]
    for call, what in refusals:
        with pytest.raises(InputError, match=what):
            call()


def test_preferred_series() -> None:
    # IEC 60063:2015; each coarser series is in the finer one.
    assert SERIES["E12"] == (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    assert set(SERIES["E6"]) < set(SERIES["E12"]) < set(SERIES["E24"])
    assert [len(SERIES[s]) for s in ("E6", "E12", "E24")] == [6, 12, 24]
    rounded = {round(10 ** (k / 24), 1) for k in range(24)}
    assert {2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2} == set(SERIES["E24"]) - rounded


def test_nearest_by_ratio() -> None:
    assert nearest(0.318310e-3, "E12") == 0.33e-3
    assert nearest(17.6839e-6, "E12") == 18e-6
    assert nearest(9.6, "E6") == 10.0
    assert around(5.0e-6, "E6") == (4.7e-6, 6.8e-6)
    assert around(4.7e-6, "E6") == (4.7e-6, 4.7e-6)
    assert nearest(sqrt(3.3 * 4.7) * 1.0001, "E6") == 4.7
    for bad in (0.0, -1.0, float("inf")):
        with pytest.raises(InputError, match="above 0"):
            nearest(bad)
    with pytest.raises(InputError, match="E24"):
        nearest(1.0, "E48")


@given(st.floats(1e-12, 1e9), st.sampled_from(sorted(SERIES)))
def test_no_preferred_value_is_nearer(value: float, series: str) -> None:
    found = nearest(value, series)
    distance = abs(log10(found / value))
    assert distance <= {"E6": 0.105, "E12": 0.06, "E24": 0.031}[series]
    for mantissa in SERIES[series]:
        for decade in range(-13, 11):
            assert abs(log10(mantissa * 10.0**decade / value)) >= distance - 1e-9


def test_corner_of_a_first_order() -> None:
    assert ladder("low-pass", "BW1", 1000.0, 8.0)[0].value == pytest.approx(8.0 / (2 * pi * 1000.0), rel=1e-15)
