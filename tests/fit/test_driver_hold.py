"""What holds the driver and the part under its heads: shear and pressure by hand, each case beside its sound twin."""

from __future__ import annotations

from math import cos, hypot, pi, sin

import pytest

from backwave.fit.fixing_load import FixingPoint, fixing_checks
from backwave.fit.screw import read_threads
from backwave.fit.screw_holes import (
    CLAMP_N,
    HOT_SAFETY,
    STRAIN,
    Support,
    bearing_check,
    driver_hold_check,
    head_support,
    thread_holds_n,
    tightening_check,
)
from backwave.stock import shipped

STOCK = shipped()
FOUR = [(78.0 * cos(k * pi / 2), 78.0 * sin(k * pi / 2)) for k in range(4)]
ASA = STOCK.creep("ASA")
BEARS = STRAIN * 0.6e9 * 1e-6  # ASA at 70 degC: creep modulus 0.6 GPa (the table's own row)


def hold(mass: float, threads: str = "insert M4", others: tuple[tuple[str, float], ...] = ()):  # type: ignore[no-untyped-def]
    assert ASA is not None
    cold, hot = (thread_holds_n(STOCK, read_threads(threads), 8.0, 8.0, pa) for pa in (6e6, 3e6))
    return driver_hold_check(FOUR, mass, -48.0, threads, (cold, hot), others, 70.0, ASA.cited)


def test_pull_out_is_shear_over_the_cylinder() -> None:
    # M4 insert: hole 5.6 by 8 mm (the table's row), 6 MPa: pi x 5.6 x 8 x 6 = 844 N, within the 0.5 to 1.5 kN that
    # pull-out tests in prints give (from memory).
    assert thread_holds_n(STOCK, read_threads("insert M4"), 0.0, 0.0, 6e6) == pytest.approx(844.5, abs=0.1)
    # A nut in its pocket pulls out the part above it, a screw what its thread is in.
    assert thread_holds_n(STOCK, read_threads("nut M4"), 0.0, 3.0, 6e6) == pytest.approx(pi * 7.0 * 3.0 * 6.0)
    assert thread_holds_n(STOCK, read_threads("screw ST4.2"), 8.44, 0.0, 6e6) == pytest.approx(pi * 4.22 * 8.44 * 6)
    assert thread_holds_n(STOCK, read_threads("nut M4"), 0.0, -1.0, 6e6) == 0.0


def test_the_drivers_threads_at_a_slam() -> None:
    # Statics by hand (bolt circle, machine-design textbooks, from memory): F/n along, 2 F z / (n r) across; 1.15 kg
    # at 30 g is 338.3 N: hypot(84.6, 104.1) = 134.1 N.  Half of 844 N is left at 70 degC, a third of that allowed.
    check = hold(1.15)
    force = 1.15 * 30 * 9.80665
    assert check.value == pytest.approx(hypot(force / 4, 2 * force * 48 / (4 * 78)))
    assert check.limit == pytest.approx(844.5 / 2 / HOT_SAFETY, abs=0.1)
    assert check.verdict == "ok"
    heavy = hold(5.0)
    assert heavy.value == pytest.approx(583.0, abs=1.0)  # 583 N at 30 g with 5 kg
    assert heavy.verdict == "caution"
    assert hold(8.0).verdict == "stop"  # past what holds cold


def test_a_thread_that_is_offered_holds() -> None:
    m5 = thread_holds_n(STOCK, read_threads("insert M5"), 0.0, 0.0, 3e6)
    check = hold(2.0, others=(('"insert M4 short"', 200.0), ('"insert M5"', m5)))
    assert check.verdict == "caution"
    assert check.remedy is not None
    assert {n: v for n, v, _ in check.remedy.quantities}["better"] == '"insert M5"'
    assert hold(1.6, "insert M5").verdict == "ok"
    none = hold(5.0, others=(('"insert M5"', m5),)).remedy
    assert none is not None
    assert "metal behind" in none.template


@pytest.mark.parametrize("size", ["M4", "M5", "M6"])
def test_a_bare_head_on_asa_at_70_degc_is_no_ok_and_a_large_washer_is(size: str) -> None:
    head, hole = STOCK.screw(size, "button").head_mm, STOCK.clearance_hole(size).medium_mm
    bare = Support(None, None, CLAMP_N, pi / 4 * (head**2 - hole**2))
    assert bearing_check("fixing 1", bare, "ASA", BEARS, 70.0, "row", ()).verdict == "caution"
    under = head_support(STOCK, size, head, hole, CLAMP_N, 0.0, BEARS, 30.0)
    assert under.washer is not None
    assert under.sleeve is None
    check = bearing_check("fixing 1", under, "ASA", BEARS, 70.0, "row", ())
    assert check.verdict == "ok"
    # By hand: what the washer covers less the hole (ISO 7093-1: 12, 15, 18 mm).
    outer = {"M4": 12.0, "M5": 15.0, "M6": 18.0}[size]
    assert check.value == pytest.approx(CLAMP_N / (pi / 4 * (outer**2 - hole**2)))


def test_aluminum_bears_a_bare_head_and_a_soft_plastic_wants_a_sleeve() -> None:
    assert head_support(STOCK, "M5", 9.5, 5.5, CLAMP_N, 60.0, 340.0, 30.0).washer is None
    # PETG at 60 degC, 0.3 GPa: 1.5 MPa, and 250 N on a washer of 15 are 1.63; with a sleeve only the gasket's 60 N
    # press on it, on what a washer of 10 covers beside a tube of 7 mm in its hole of 7.2.
    soft = head_support(STOCK, "M5", 9.5, 5.5, CLAMP_N, 60.0, 1.5, 30.0)
    assert soft.sleeve is not None
    assert soft.washer is not None
    hole = soft.sleeve.outer_mm + 0.2
    assert soft.pressure_mpa == pytest.approx(60.0 / (pi / 4 * (soft.washer.outer_mm**2 - hole**2)))
    assert soft.pressure_mpa <= 1.5
    # Where there is no room for the washer that would do, the best that there is room for, and it is said.
    tight = head_support(STOCK, "M5", 9.5, 5.5, CLAMP_N, 200.0, 1.5, 9.0)
    assert tight.washer is None
    check = bearing_check("fixing 1", tight, "PETG", 1.5, 60.0, "row", ("PC",))
    assert check.verdict == "caution"
    assert check.remedy is not None


def test_tightening_is_half_of_what_lets_go() -> None:
    # T = K d F, K = 0.2: 0.2 x 4 mm x 422 N = 0.338 N m.
    check = tightening_check("The driver's screws", "the frame is down", 4.0, 844.5, "driver")
    assert check.value == pytest.approx(0.2 * 0.004 * 844.5 / 2)
    assert "no impact driver" in check.title.template


def test_the_gasket_pulls_on_every_fixing_as_well() -> None:
    row = STOCK.fixing("rivet nut", "M5")
    three = [FixingPoint(80 * cos(a), 80 * sin(a), row) for a in (0.5, 0.5 + 2 * pi / 3, 0.5 + 4 * pi / 3)]
    alone = fixing_checks(three, 1.3, (0.0, 0.0, -25.0))[0]
    with_it = fixing_checks(three, 1.3, (0.0, 0.0, -25.0), steady_n=227.0)[0]
    assert alone.value is not None
    assert with_it.value == pytest.approx(alone.value + 227.0)
