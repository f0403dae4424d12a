"""Foam: forces against ASTM D1056, piles of strip against every pile there is, and what a fitter is told."""

from __future__ import annotations

from itertools import combinations_with_replacement
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.fit.foam import (
    FORCE_LIMIT_N,
    RING_BAND,
    SLENDER,
    back_gasket,
    force_n,
    front_ring,
    ring_diameters,
    total_height,
)
from backwave.fit.gasket import GasketPlan
from backwave.stock import shipped

STOCK = shipped()
STRIP = STOCK.foam_thicknesses_mm()
SOFT = STOCK.foam("2A0")


# ASTM D1056 bands (2 psi, 5 psi, 9 psi) on a bead 10 mm wide on a mean circle of 150 mm, at 25 %: area
# 4.712389e-3 m2, forces 64.98, 162.45, 292.42 N (derived, 1 psi = 6894.757 Pa).
@pytest.mark.parametrize(("grade", "force"), [("2A0", 64.98), ("2A1", 162.45), ("2A2", 292.42)])
def test_force_at_a_quarter_is_the_standards_band(grade: str, force: float) -> None:
    area = pi / 4 * (160.0**2 - 140.0**2)
    assert area == pytest.approx(4712.389, rel=1e-6)
    low, high = force_n(STOCK.foam(grade), area, 0.25)
    assert high == pytest.approx(force, rel=1e-4)
    assert low == pytest.approx({"2A0": 0.0, "2A1": 64.98, "2A2": 162.45}[grade], rel=1e-4, abs=1e-9)


def test_force_elsewhere_is_in_proportion_and_ends_where_the_line_does() -> None:
    assert force_n(SOFT, 1000.0, 0.10)[1] == pytest.approx(0.4 * force_n(SOFT, 1000.0, 0.25)[1])
    assert force_n(SOFT, 1000.0, 0.0) == (0.0, 0.0)
    with pytest.raises(InputError, match="compression"):
        force_n(SOFT, 1000.0, 0.61)


# ---- behind


def test_flat_gasket_closes_to_half_unless_told_and_says_it_is_extrapolated() -> None:
    gasket = back_gasket(STOCK.foam("2A1"), 3.0, plan=GasketPlan(70.0, 8.7, 4000.0))
    assert (gasket.closed_mm, gasket.seat_mm, gasket.compression) == (1.5, 1.5, 0.5)
    assert gasket.check.verdict == "ok"
    assert "25 %" in gasket.check.title.template
    assert any("extrapolated" in step.source for step in gasket.check.working)
    assert any("default" in step.source for step in gasket.check.working)


def test_grooved_gasket_adds_nothing_to_the_seat() -> None:
    gasket = back_gasket(SOFT, 5.0, grooved=True)
    assert (gasket.seat_mm, gasket.groove_mm, gasket.compression) == (0.0, 3.0, pytest.approx(0.4))
    assert back_gasket(SOFT, 5.0, 4.0, grooved=True).check.verdict == "caution"  # 20 % hardly seals


@pytest.mark.parametrize(
    ("closed", "verdict"), [(2.2, "caution"), (2.1, "ok"), (1.5, "ok"), (1.4, "caution")]
)  # 27, 30, 50, 53 % of 3 mm; band 30 to 50 %, common trade practice
def test_band_of_the_back_gasket(closed: float, verdict: str) -> None:
    check = back_gasket(SOFT, 3.0, closed).check
    assert check.verdict == verdict
    assert (check.remedy is None) == (verdict == "ok")


@pytest.mark.parametrize(("free", "closed"), [(0.0, None), (3.0, 0.0), (3.0, 3.5)])
def test_a_gasket_that_cannot_be_is_refused(free: float, closed: float | None) -> None:
    with pytest.raises(InputError):
        back_gasket(SOFT, free, closed)


# ---- in front


def test_a_ring_as_a_fitter_would_work_it_out() -> None:
    # Rim 25.2 mm off the metal, land 35: 9.8 mm to fill; 8 + 3 mm of strip closes by 10.9 %.  166 by 150 mm:
    # 3971 mm2; 13.7895 kPa x 3971 mm2 x 0.109 / 0.25 = 23.9 N (by hand).
    ring = front_ring(SOFT, STRIP, 25.2, 35.0, 150.0, 166.0)
    assert ring.layers_mm == (8.0, 3.0)
    assert (ring.free_mm, ring.closed_mm) == (11.0, pytest.approx(9.8))
    assert ring.compression == pytest.approx(0.10909, abs=1e-5)
    assert ring.force_n == (0.0, pytest.approx(23.89, abs=0.01))
    assert ring.check.verdict == "ok"
    assert ring.check.remedy is None


@given(
    closed=st.floats(3.0, 30.0),
    wanted=st.floats(0.10, 0.20),
    stock=st.lists(st.sampled_from(STRIP), min_size=1, max_size=5, unique=True),
    width=st.floats(4.0, 15.0),
)
def test_no_other_pile_is_better(closed: float, wanted: float, stock: list[float], width: float) -> None:
    ring = front_ring(SOFT, stock, 10.0, 10.0 + closed, 160.0 - 2 * width, 160.0, compression=wanted)
    assert sum(ring.layers_mm) == pytest.approx(ring.free_mm)
    assert set(ring.layers_mm) <= set(stock)
    area = pi / 4 * (160.0**2 - (160.0 - 2 * width) ** 2)
    within: list[tuple[int, float]] = []  # faults, free height
    for count in range(1, 5):
        for pile in combinations_with_replacement(stock, count):
            given_ = 1 - ring.closed_mm / sum(pile)
            if RING_BAND[0] - 1e-9 <= given_ <= RING_BAND[1] + 1e-9:
                hard = force_n(SOFT, area, given_)[1] > FORCE_LIMIT_N + 1e-9
                within.append((hard + (sum(pile) > SLENDER * width + 1e-9), sum(pile)))
    target = ring.closed_mm / (1 - wanted)
    if within:
        fewest = min(faults for faults, _ in within)
        assert abs(ring.free_mm - target) <= min(abs(p - target) for f, p in within if f == fewest) + 1e-6
        assert RING_BAND[0] - 1e-9 <= ring.compression <= RING_BAND[1] + 1e-9
    else:
        assert ring.check.verdict == "caution"
        assert ring.check.remedy is not None


@given(closed=st.floats(3.0, 30.0), more=st.floats(0.1, 5.0))
def test_more_foam_never_pushes_less(closed: float, more: float) -> None:
    a = front_ring(SOFT, STRIP, 10.0, 10.0 + closed, 140.0, 160.0, free_mm=closed * 1.1)
    b = front_ring(SOFT, STRIP, 10.0, 10.0 + closed, 140.0, 160.0, free_mm=closed * 1.1 + more)
    assert b.force_n[1] >= a.force_n[1]
    assert b.compression > a.compression


def test_a_tall_ring_is_told_to_stand_on_a_collar_that_is_enough() -> None:
    tall = front_ring(SOFT, STRIP, 15.0, 35.0, 154.0, 166.0)
    assert tall.check.verdict == "caution"
    assert tall.free_mm > SLENDER * tall.width_mm
    assert tall.check.remedy is not None
    collar = next(v for name, v, _ in tall.check.remedy.quantities if name.startswith("collar"))
    assert isinstance(collar, float)
    short = front_ring(SOFT, STRIP, 15.0 + collar, 35.0, 154.0, 166.0, free_mm=SLENDER * 6.0)
    assert short.compression == pytest.approx(tall.compression)
    assert "leans" not in (short.check.remedy.template if short.check.remedy else "")


def test_a_hard_ring_names_the_height_that_is_gentle_enough() -> None:
    hard = front_ring(SOFT, STRIP, 25.0, 35.0, 140.0, 166.0, free_mm=12.2)  # 18 %, 13 mm wide
    assert (hard.check.verdict, hard.check.limit, hard.check.unit) == ("caution", FORCE_LIMIT_N, "N")
    wide = front_ring(STOCK.foam("2A2"), STRIP, 25.0, 35.0, 140.0, 166.0)
    assert wide.check.remedy is not None
    assert "softer grade" in wide.check.remedy.template
    gentle = front_ring(SOFT, STRIP, 25.0, 35.0, 150.0, 166.0, free_mm=12.0)
    assert gentle.check.remedy is not None
    to = next(v for name, v, _ in gentle.check.remedy.quantities if name.startswith("free"))
    assert isinstance(to, float)
    again = front_ring(SOFT, STRIP, 25.0, 35.0, 150.0, 166.0, free_mm=to)
    assert again.force_n[1] == pytest.approx(FORCE_LIMIT_N)
    assert again.check.verdict == "ok"


def test_a_ring_that_may_not_reach_asks_for_the_reading_again() -> None:
    ring = front_ring(SOFT, STRIP, 30.0, 35.0, 150.0, 166.0, land_error_mm=1.0)  # 6 mm closes by 1 mm at most
    assert ring.free_mm - ring.closed_mm <= 1.0
    assert ring.check.verdict == "caution"
    assert ring.check.remedy is not None
    assert "again" in ring.check.remedy.template


def test_no_room_is_a_stop_and_a_ring_that_does_not_reach_a_caution() -> None:
    none = front_ring(SOFT, STRIP, 36.0, 35.0, 150.0, 166.0)
    assert (none.check.verdict, none.layers_mm, none.force_n) == ("stop", (), (0.0, 0.0))
    short = front_ring(SOFT, STRIP, 25.0, 35.0, 150.0, 166.0, free_mm=8.0)
    assert short.check.verdict == "caution"
    assert "does not reach" in short.check.title.template


@pytest.mark.parametrize(
    ("inner", "outer", "compression"),
    [(166.0, 150.0, 0.15), (0.0, 150.0, 0.15), (150.0, 166.0, 0.7), (150.0, 166.0, 0.0)],
)
def test_a_ring_that_cannot_be_is_refused(inner: float, outer: float, compression: float) -> None:
    with pytest.raises(InputError):
        front_ring(SOFT, STRIP, 25.0, 35.0, inner, outer, compression)


def test_where_a_ring_lies() -> None:
    assert ring_diameters(166.0, 130.0, 8.0) == (150.0, 166.0)
    assert ring_diameters(166.0, 130.0, tall_mm=12.0) == (150.0, 166.0)  # 1.5 widths tall
    assert ring_diameters(166.0, 130.0, tall_mm=11.53) == (150.0, 166.0)  # in whole millimeters
    assert ring_diameters(166.0, 158.0, 8.0) == (158.0, 166.0)  # no wider than there is room
    with pytest.raises(InputError, match="room for a foam ring"):
        ring_diameters(150.0, 166.0)


@pytest.mark.parametrize(("free", "verdict"), [(8.8, "ok"), (11.0, "ok"), (12.0, "caution"), (5.0, "caution")])
def test_height_over_all(free: float, verdict: str) -> None:
    check = total_height(25.2, free, 34.0)  # 34 mm, 3 mm either way (common trade practice)
    assert check.verdict == verdict
    assert check.value == pytest.approx(25.2 + free - 34.0)
