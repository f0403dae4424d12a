"""Turning a driver's holes clear of the fixings.

Oracles: the law of cosines and the chord of a bolt circle (plane geometry); shapely for whole figures; a scan.
"""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.fit.bolt_pattern import Hole, KeepOff, Pattern, bolt_circle, period_deg
from backwave.fit.clocking import DIRECTIONS, Clocking, clock, clocking_checks
from backwave.shape import Outline, circle, polygon, rounded_polygon, smooth

THREE = tuple(
    KeepOff(80.5 * cos(radians(a)), 80.5 * sin(radians(a)), 10.0, f"fixing {k}")
    for k, a in enumerate((90.0, 210.0, 330.0), 1)
)
FOUR = bolt_circle(4, 156.0, 5.0)


def figure(hole: Hole, turn_deg: float) -> shapely.Geometry:
    """A hole as shapely sees it: a disk, or the area round a segment."""
    a, b = hole.ends_mm
    core = shapely.Point(a.real, a.imag) if a == b else shapely.LineString([(a.real, a.imag), (b.real, b.imag)])
    return shapely.affinity.rotate(core, turn_deg, origin=(0, 0)).buffer(hole.diameter_mm / 2, quad_segs=100)


def test_bolt_circle_chords() -> None:
    # chord = PCD sin(pi/n); values for a circle of 150 mm as in common engineering tables, derived
    for n, chord in ((3, 129.90381), (4, 106.06602), (5, 88.167788), (6, 75.0), (8, 57.402515)):
        a, b = bolt_circle(n, 150.0, 5.0)[:2]
        assert hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) == pytest.approx(chord, abs=1e-5)


def test_four_holes_among_three_fixings() -> None:
    # 90 and 120 degrees leave 15 degrees at best; law of cosines between the two circles
    found = clock(FOUR, THREE)
    assert found.best_gap_mm == pytest.approx(
        sqrt(78.0**2 + 80.5**2 - 2 * 78.0 * 80.5 * cos(radians(15.0))) - 2.5 - 5.0, abs=1e-9
    )
    assert found.best_deg == pytest.approx(15.0, abs=1e-6)
    assert found.period_deg == 90.0
    assert [(low + high) / 2 for low, high in found.allowed_deg] == pytest.approx([15.0, 45.0, 75.0], abs=1e-6)
    # a range ends where the law of cosines gives the gap asked for
    reach = (78.0**2 + 80.5**2 - 10.5**2) / (2 * 78.0 * 80.5)
    assert found.allowed_deg[0][0] == pytest.approx(np.degrees(np.arccos(reach)), abs=1e-6)


def test_terminals_decide_among_turns_that_keep_the_gap() -> None:
    assert clock(FOUR, THREE, terminals_deg=225.0).angle_deg == pytest.approx(45.0)
    # 270 - 242 = 28 deg is not allowed: of the turns within 45 deg of it that are, the widest gap, the nearest of equals
    found = clock(FOUR, THREE, terminals_deg=242.0)
    assert found.angle_deg == pytest.approx(15.0, abs=1e-4)
    assert found.gap_mm == pytest.approx(found.best_gap_mm, abs=0.01)
    # a turn of a quarter is another place for terminals, though not for holes
    up = clock(FOUR, THREE, terminals_deg=225.0, toward_deg=DIRECTIONS["up"])
    assert up.angle_deg == pytest.approx(225.0)
    # none keeps it: still the best turn, with its terminals as low as that allows
    none = clock(FOUR, THREE, required_mm=20.0, terminals_deg=225.0)
    assert none.allowed_deg == ()
    assert none.angle_deg == pytest.approx(45.0, abs=1e-5)
    assert none.gap_mm == pytest.approx(none.best_gap_mm)


def test_a_decided_turn_is_judged_and_the_best_still_found() -> None:
    found = clock(FOUR, THREE, turn_deg=90.0)
    assert found.gap_mm == pytest.approx(2.5 - 7.5)
    assert found.nearest == ("hole 1", "fixing 1")
    (check,) = clocking_checks(found)
    assert check.verdict == "stop"
    assert check.remedy is not None
    assert "{best}" in check.remedy.template


def test_verdicts() -> None:
    assert [c.verdict for c in clocking_checks(clock(FOUR, THREE, terminals_deg=225.0))] == ["ok", "ok"]
    tight = clocking_checks(clock(FOUR, THREE, required_mm=20.0))[0]
    assert tight.verdict == "caution"
    assert "No turn keeps {required}" in str(tight.remedy)
    far = clocking_checks(clock(bolt_circle(2, 156.0, 5.0), THREE, terminals_deg=0.0, turn_deg=90.0))
    assert [c.code for c in far] == ["fit.clocking", "fit.terminals-side"]
    assert far[1].value == pytest.approx(180.0)
    assert far[1].verdict == "caution"


def test_nothing_limits_a_turn() -> None:
    found = clock(FOUR, terminals_deg=100.0)
    assert (found.gap_mm, found.best_deg, found.allowed_deg) == (None, None, ((0.0, 90.0),))
    assert found.terminals_deg == pytest.approx(270.0)
    assert [c.code for c in clocking_checks(found)] == ["fit.terminals-side"]


def test_a_round_edge_caps_the_gap_and_leaves_the_choice() -> None:
    found = clock(FOUR, THREE, circle(91.0))
    assert found.best_gap_mm == pytest.approx(91.0 - 78.0 - 2.5)
    assert found.best_deg == pytest.approx(15.0, abs=1e-6)
    assert found.nearest is not None
    assert found.nearest[1] == "the flange's edge"
    assert clock(FOUR, THREE, circle(91.0), required_mm=11.0).allowed_deg == ()
    alone = clock(FOUR, (), circle(91.0))
    assert (alone.best_deg, alone.gap_mm) == (None, pytest.approx(10.5))


@pytest.mark.parametrize(
    ("holes", "period"),
    [
        (bolt_circle(3, 100.0, 5.0, 17.0), 120.0),
        (bolt_circle(8, 156.0, 5.0), 45.0),
        ((*bolt_circle(4, 156.0, 5.0), *bolt_circle(2, 120.0, 4.0)), 180.0),
        ((*bolt_circle(3, 156.0, 5.0), *bolt_circle(1, 156.0, 6.0, 60.0)), 360.0),
        ((Hole(70.0, 0.0, 5.0, 9.0, 20.0), Hole(-70.0, 0.0, 5.0, 9.0, 20.0)), 180.0),  # a slot has no direction
        ((Hole(70.0, 0.0, 5.0, 9.0, 20.0), Hole(-70.0, 0.0, 5.0, 9.0, 70.0)), 360.0),
    ],
)
def test_period(holes: tuple[Hole, ...], period: float) -> None:
    assert period_deg(holes) == pytest.approx(period)


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError):
        clock(())
    with pytest.raises(InputError):
        clock((Hole(0.0, 0.0, 5.0),), THREE)
    with pytest.raises(InputError):
        Hole(1.0, 0.0, 0.0)


coordinate = st.floats(-85.0, 85.0)
hole = st.builds(
    Hole, coordinate, coordinate, st.floats(3.0, 8.0), st.sampled_from([0.0, 0.0, 12.0]), st.floats(0.0, 180.0)
).filter(lambda h: hypot(h.x_mm, h.y_mm) > 20.0)
circles = st.builds(bolt_circle, st.integers(2, 8), st.floats(80.0, 170.0), st.just(5.0), st.floats(0.0, 90.0))
patterns = st.one_of(circles, st.lists(hole, min_size=2, max_size=6).map(tuple))
fixings = st.lists(st.builds(KeepOff, coordinate, coordinate, st.floats(4.0, 14.0)), min_size=1, max_size=5)
edges = st.one_of(
    st.none(),
    st.builds(circle, st.floats(88.0, 130.0), st.floats(-6.0, 6.0), st.floats(-6.0, 6.0)),
    st.just(rounded_polygon([(-92, -88), (92, -88), (92, 88), (-92, 88)], 30.0)),
    st.just(polygon([(-95, -90), (95, -90), (95, 90), (4, 92), (0, 55), (-4, 92), (-95, 90)])),  # a notch
    st.just(smooth([(95 * cos(a), (80 + 6 * sin(3 * a)) * sin(a)) for a in np.arange(0.0, 2 * pi, 0.3)])),
)


@settings(max_examples=40, deadline=None)
@given(patterns, fixings, edges, st.floats(-3.0, 12.0))
def test_no_turn_of_a_fine_scan_beats_the_best_and_ranges_are_all_there_are(
    holes: tuple[Hole, ...], fixings: list[KeepOff], edge: Outline | None, required: float
) -> None:
    found = clock(holes, fixings, edge, required_mm=required)
    pattern = Pattern(holes, fixings, edge)
    step = 0.01 if edge is None or edge.circle else 0.25  # whole outlines take longer
    turns = np.arange(0.0, 360.0, step)
    gaps = pattern.gap_mm(np.radians(turns))
    assert found.best_gap_mm is not None
    assert gaps.max() <= found.best_gap_mm + 1e-9
    inside = np.zeros(len(turns), dtype=bool)
    for low, high in found.allowed_deg:
        inside |= (turns - low) % found.period_deg <= high - low
    assert (inside == (gaps >= required))[np.abs(gaps - required) > 1e-6].all()
    assert found.gap_mm == pytest.approx(found.best_gap_mm, abs=1e-9)
    assert found.best_deg is not None
    assert 0.0 <= found.best_deg < found.period_deg


@settings(max_examples=40, deadline=None)
@given(patterns, fixings)
def test_both_sides_of_the_best_are_worse_and_the_pattern_repeats(
    holes: tuple[Hole, ...], fixings: list[KeepOff]
) -> None:
    found = clock(holes, fixings)
    pattern = Pattern(holes, fixings, None)
    assert found.best_deg is not None
    assert found.best_gap_mm is not None
    beside = pattern.gap_mm(np.radians(found.best_deg + np.array([-0.3, 0.3])))
    assert (beside <= found.best_gap_mm + 1e-9).all()
    if min(abs(complex(f.x_mm, f.y_mm)) for f in fixings) > 5.0:  # one on the axis limits every turn alike
        assert beside.min() < found.best_gap_mm  # not flat: it is a peak
    again = pattern.gap_mm(np.radians(np.array([found.best_deg + found.period_deg])))
    assert again[0] == pytest.approx(found.best_gap_mm, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(patterns, fixings, edges, st.floats(0.0, 360.0))
def test_gap_is_what_whole_figures_have(
    holes: tuple[Hole, ...], fixings: list[KeepOff], edge: Outline | None, turn: float
) -> None:
    found = clock(holes, fixings, edge, turn_deg=turn)
    shapes = [figure(h, turn) for h in holes]
    disks = [shapely.Point(f.x_mm, f.y_mm).buffer(f.diameter_mm / 2, quad_segs=100) for f in fixings]
    apart = min(float(s.distance(d)) for s in shapes for d in disks)
    if edge is not None:
        flange = edge.polygon(0.002)
        within = all(flange.contains(s) for s in shapes)
        apart = min(apart, *(float(s.distance(flange.exterior)) for s in shapes)) if within else 0.0
    assert found.gap_mm is not None
    # chords of the disks and of the edge lie within 0.03 mm
    assert max(found.gap_mm, 0.0) == pytest.approx(apart, abs=0.03)
    # the ends that are drawn are as far apart as is said
    assert found.gap_from_mm is not None
    assert found.gap_to_mm is not None
    assert hypot(*np.subtract(found.gap_from_mm, found.gap_to_mm)) == pytest.approx(abs(found.gap_mm), abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(patterns, fixings, st.floats(0.0, 360.0), st.floats(0.0, 6.0))
def test_the_turn_taken_keeps_the_gap_where_any_does(
    holes: tuple[Hole, ...], fixings: list[KeepOff], terminals: float, required: float
) -> None:
    found: Clocking = clock(holes, fixings, required_mm=required, terminals_deg=terminals)
    assert found.gap_mm is not None
    assert found.best_gap_mm is not None
    if found.best_gap_mm >= required:
        assert found.gap_mm >= required - 1e-9
    else:
        assert found.gap_mm == pytest.approx(found.best_gap_mm, abs=0.011)


@settings(max_examples=20, deadline=None)
@given(patterns, fixings)
def test_mirroring_the_opening_mirrors_the_best_turn_of_a_mirrored_driver(
    holes: tuple[Hole, ...], fixings: list[KeepOff]
) -> None:
    mirrored = [KeepOff(-f.x_mm, f.y_mm, f.diameter_mm) for f in fixings]
    flipped = tuple(Hole(-h.x_mm, h.y_mm, h.diameter_mm, h.length_mm, -h.angle_deg) for h in holes)
    a, b = clock(holes, fixings), clock(flipped, mirrored)
    assert a.best_gap_mm == pytest.approx(b.best_gap_mm, abs=1e-8)
