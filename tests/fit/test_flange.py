"""The flange on its gasket against textbook beams, a ring of many straight elements, and figures worked out elsewhere."""

from __future__ import annotations

from math import cos, cosh, pi, sin, sinh

import numpy as np
import pytest

from backwave.finding import Message, words
from backwave.fit.gasket import FlangeRing, back_gasket, flange_lift, gasket_plan, held_deg, lift_of, ring_section_mm4
from backwave.stock import shipped
from benchmarks.reference_ring import lifts_mm

STOCK = shipped()
WEAK, STRONG = 13789.5 / 0.25, 34473.8 / 0.25  # 2A1: Pa at a compression of all its height


def even(count: int) -> tuple[float, ...]:
    return tuple(i * 360.0 / count for i in range(count))


# Worked out independently with beam elements (R 81, b 20, full-face 3 mm of 2A1 closed to 1.5): lift between fixings.
@pytest.mark.parametrize(
    ("thick", "fixings", "e_gpa", "least", "most"),
    [(12.6, 3, 1.9, 0.23, 0.48), (12.6, 3, 0.6, 0.57, 0.99), (9.4, 3, 1.9, 0.47, 0.85), (6.0, 3, 1.9, 1.05, 1.43),
     (12.6, 6, 0.6, 0.04, 0.09)],
)  # fmt: skip
def test_lift_is_what_beam_elements_gave(thick: float, fixings: int, e_gpa: float, least: float, most: float) -> None:
    ring = FlangeRing(81.0, 20.0, thick, even(fixings))
    for foam, lift in ((WEAK, least), (STRONG, most)):
        assert lift_of(ring, e_gpa * 1e9, foam, 20.0, 3.0, 1.5).most_mm == pytest.approx(lift, rel=0.05, abs=0.008)


def test_torsion_constant_is_that_of_the_series() -> None:
    """Saint-Venant's series for a rectangle (Timoshenko, Goodier, Theory of Elasticity, art. 109)."""
    a, b = 20.0, 12.6
    series = sum(np.tanh(n * pi * a / (2 * b)) / n**5 for n in range(1, 60, 2))
    exact = a * b**3 / 3.0 * (1.0 - 192.0 / pi**5 * b / a * series)
    bend, torsion = ring_section_mm4(a, b)
    assert torsion == pytest.approx(exact, rel=0.005)
    assert bend == pytest.approx(a * b**3 / 12.0)


def hetenyi_span(ei: float, k: float, gap: float, free: float) -> float:
    """Lift in the middle of an endless beam on a foundation, held down every `gap` to `free` below where it would lie.

    A span with no slope and no lift at both ends: w = free + A cosh cos + B sinh sin about its middle (Hetenyi 1946,
    Beams on Elastic Foundation, general solution), the two constants from the ends.
    """
    lam = (k / (4.0 * ei)) ** 0.25
    x = lam * gap / 2.0
    ends = np.array([
        [cosh(x) * cos(x), sinh(x) * sin(x)],
        [sinh(x) * cos(x) - cosh(x) * sin(x), cosh(x) * sin(x) + sinh(x) * cos(x)],
    ])  # fmt: skip
    return float(free + np.linalg.solve(ends, [-free, 0.0])[0])


@pytest.mark.parametrize("gap", [40.0, 80.0, 150.0])
def test_a_ring_of_large_radius_is_hetenyis_beam(gap: float) -> None:
    """Sixty fixings: between them the ring is all but straight, and as it does not roll, it does not twist."""
    radius = 60 * gap / (2.0 * pi)
    ring = FlangeRing(radius, 20.0, 9.0, even(60))
    k = STRONG * 1e-6 * 20.0 / 3.0
    expected = hetenyi_span(1900.0 * 20.0 * 9.0**3 / 12.0, k, gap, 1.5)
    found = lift_of(ring, 1.9e9, STRONG, 20.0, 3.0, 1.5)
    assert found.most_mm == pytest.approx(expected, rel=0.02, abs=1e-4)


@pytest.mark.parametrize(
    ("thick", "strip", "fixings"), [(12.6, 20.0, even(3)), (8.0, 12.0, even(4)), (10.0, 8.0, (0.0, 90.0, 225.0))]
)
def test_lift_is_that_of_a_ring_of_straight_elements(thick: float, strip: float, fixings: tuple[float, ...]) -> None:
    ring = FlangeRing(81.0, 20.0, thick, fixings)
    found = lift_of(ring, 0.6e9, STRONG, strip, 3.0, 1.5)
    lifts = lifts_mm(81.0, 20.0, thick, fixings, 600.0, STRONG * 1e-6, strip, 3.0, 1.5, 240)
    assert found.most_mm == pytest.approx(lifts.max(), rel=0.02)
    assert found.mean_mm == pytest.approx(lifts.mean(), rel=0.02)


def test_each_fixing_holds_and_pull_balances_the_foam() -> None:
    ring = FlangeRing(81.0, 20.0, 10.0, (0.0, 130.0, 260.0))
    lift = lift_of(ring, 1.0e9, STRONG, 20.0, 3.0, 1.5)
    push = STRONG * 1e-6 * 20.0 / 3.0 * (1.5 - lift.mean_mm) * 2.0 * pi * 81.0
    assert lift.force_n == pytest.approx(push, rel=1e-6)
    rigid = lift_of(ring, 1e15, STRONG, 20.0, 3.0, 1.5)
    assert rigid.most_mm < 1e-3
    assert rigid.force_n == pytest.approx(STRONG * 1e-6 * 0.5 * 2.0 * pi * 81.0 * 20.0, rel=1e-3)


def test_two_fixings_of_one_direction_hold_once_and_one_at_the_axis_nowhere() -> None:
    points = [(86.0, 0.0), (-86.0, 0.0), (90.0, 0.0), (86.0, -0.001), (0.0, 0.0), (0.0, 86.0)]
    held = held_deg(points)
    assert held == (0.0, 180.0, 90.0)
    assert lift_of(FlangeRing(81.0, 20.0, 10.0, held), 1.0e9, STRONG, 20.0, 3.0, 1.5).most_mm > 0.0
    assert held_deg([(0.0, 0.0)]) == ()


def found(grooved: bool = False, width: float | None = None, grade: str = "2A1", fixings: int = 3) -> object:
    plan = gasket_plan(pi * 91.0**2, 71.75, 3.0 if grooved else width)
    back = back_gasket(STOCK.foam(grade), 3.0, None, grooved, plan)
    ring = FlangeRing(81.0, 20.0, 12.6, even(fixings))
    return flange_lift(ring, back, STOCK.rows("foam"), 1.9e9, 0.6e9, 70.0, "a test")  # type: ignore[arg-type]


def test_gaskets_area_and_force_are_those_of_the_plan() -> None:
    plan = gasket_plan(pi * 91.0**2, 71.75)
    assert plan is not None
    assert plan.area_mm2 == pytest.approx(9842.0, abs=2.0)
    back = back_gasket(STOCK.foam("2A1"), 3.0, plan=plan)
    assert back.force_n == pytest.approx((271.0, 679.0), abs=1.0)
    assert back.doubt_mm == pytest.approx(0.3)  # a fifth of 1.5
    narrow = gasket_plan(pi * 91.0**2, 71.75, 8.0)
    assert narrow is not None
    assert (narrow.inner_mm, narrow.width_mm) == (73.25, 8.0)
    assert narrow.area_mm2 == pytest.approx(pi * (81.25**2 - 73.25**2))
    assert gasket_plan(pi * 70.0**2, 71.75) is None
    grooved = back_gasket(STOCK.foam("2A1"), 3.0, grooved=True, plan=narrow)
    assert (grooved.seat_mm, grooved.doubt_mm) == (0.0, 0.0)


def test_what_lifts_is_found_and_what_is_offered_keeps_it_down() -> None:
    lifted = found()
    assert lifted.check.verdict == "caution"
    assert lifted.mean_mm == pytest.approx((0.119, 0.526), abs=0.003)  # the hole is a little wider than the bore
    assert isinstance(lifted.check.remedy, Message)
    assert words(lifted.check.remedy).startswith("Add fixings between those there are, 6 in all")
    assert {("foam.grooved", "true"), ("foam.back_width", "8 mm"), ("foam.back_grade", "2A0")} <= set(
        lifted.check.tries
    )
    for sound in (found(grooved=True), found(fixings=6), found(width=8.0, grade="2A0")):
        assert sound.check.verdict == "ok", sound.check.title
        assert sound.check.remedy is None
