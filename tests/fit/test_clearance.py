"""Clearances: worked by hand, by exact geometry, by brute force."""

from __future__ import annotations

import pickle
from dataclasses import replace
from itertools import product
from math import hypot

import numpy as np
import pytest
from fit.shop import POINTS, dense_glass, driver, obstacle, opening, rd, stack, terminals, touching
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, Point, Polygon

from backwave.errors import InputError
from backwave.finding import Message
from backwave.fit import DriverShape, FrontHeights, GaugeTrial, Margins, Opening, ScrewTail, Vent, judge, seat_height_mm
from backwave.uncertainty import Reading

FEW = 2000


def value(name: str, *args: object, **kwargs: object) -> float:
    found = judge(*args, draws=FEW, **kwargs).clearance(name)  # type: ignore[arg-type]
    assert found is not None
    return found.estimate.value


def test_plain_case_by_hand() -> None:
    # Seat height 1.5 + 13 = 14.5.  The magnet's edge (46, 64) meets glass at 58 - 3 * 46/60 = 55.7.
    fit = judge(opening(), driver(), stack(13.0), draws=FEW)
    assert fit.seat_height_mm == 14.5
    assert value("glass", opening(), driver(), stack(13.0)) == pytest.approx(14.5 + 55.7 - 64)
    # Grille 37 - (14.5 + 9 + 9).
    assert value("grille", opening(), driver(), stack(13.0)) == pytest.approx(4.5)
    # At depth 14.5 the cone has drawn in from 66 by 20 * 0.5/24; the hole is 143.5 / 2.
    assert value("hole", opening(), driver(), stack(13.0)) == pytest.approx(71.75 - (66 - 20 * 0.5 / 24))


def test_every_part_of_the_stack_counts() -> None:
    s = replace(stack(13.0), recess=rd("recess", 4.0), driver_gasket=rd("own gasket", 0.75))
    assert seat_height_mm(s) == pytest.approx(1.5 + 13.0 - 4.0 + 0.75)


@pytest.mark.parametrize(
    ("front", "least"),
    [
        (FrontHeights(moving=rd("f", 9.0)), 37 - (14.5 + 9 + 9)),
        (FrontHeights(moving=rd("f", 2.0), crest=rd("c", 8.0)), 37 - (14.5 + 8 + 4.5)),
        (FrontHeights(moving=rd("f", 2.0), fixed=rd("p", 14.0)), 37 - (14.5 + 14)),
    ],
)
def test_front_moves_wholly_half_or_not(front: FrontHeights, least: float) -> None:
    assert value("grille", opening(), driver(front=front), stack(13.0)) == pytest.approx(least)


def test_a_rim_higher_than_what_moves_meets_the_grille_first() -> None:
    d = driver(front=FrontHeights(moving=rd("f", 1.0)), xmech=rd("Xmech", 2.0))
    assert value("grille", opening(), d, stack(13.0)) == pytest.approx(37 - (14.5 + 5.2))


rising = st.lists(st.tuples(st.floats(1, 90), st.floats(0.5, 30)), min_size=1, max_size=6)
surfaces = st.lists(st.tuples(st.floats(0, 100), st.floats(20, 90)), min_size=1, max_size=6, unique_by=lambda s: s[0])


def deepening(steps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    depths = np.cumsum([d for _, d in steps])
    return [(r, float(d)) for (r, _), d in zip(steps, depths)]


@settings(deadline=None)
@given(rising, surfaces, st.floats(0, 40))
def test_glass_is_exact_at_the_union_of_breakpoints(
    steps: list[tuple[float, float]], spots: list[tuple[float, float]], thickness: float
) -> None:
    """Exact geometry (shapely) as the judge: pushed back a hair less it is free, a hair more it touches."""
    points = deepening(steps)
    room = value("glass", opening(obstacle(spots)), driver(points), stack(thickness, 0.0))
    assert not touching(thickness, points, spots, room - 1e-6)
    assert touching(thickness, points, spots, room + 1e-6)
    scanned = dense_glass(thickness, points, spots, step=0.5)
    assert scanned >= room - 1e-9


@settings(deadline=None)
@given(rising, surfaces, st.floats(0.1, 20), st.integers(0, 5))
def test_more_depth_never_lowers_glass_clearance(
    steps: list[tuple[float, float]], spots: list[tuple[float, float]], more: float, which: int
) -> None:
    points, k = deepening(steps), which % len(spots)
    deeper = [(r, c + more if i == k else c) for i, (r, c) in enumerate(spots)]
    before = judge(opening(obstacle(spots, 1.0)), driver(points, 0.5), stack(), draws=FEW).clearance("glass")
    after = judge(opening(obstacle(deeper, 1.0)), driver(points, 0.5), stack(), draws=FEW).clearance("glass")
    assert before is not None
    assert after is not None
    assert after.estimate.value >= before.estimate.value - 1e-9
    assert after.estimate.low >= before.estimate.low - 1e-9
    assert after.chance_margin >= before.chance_margin


def test_uncertain_radii_move_the_breakpoints_in_every_draw() -> None:
    """Each draw against numpy's interpolation of that very draw."""
    from backwave.fit.clearance import Model
    from backwave.uncertainty import drawn

    glass = obstacle([(0.0, 58.0), (40.0, 57.0), (47.0, 51.0)], 1.0, radius_half=2.0)
    model = Model(opening(glass), driver(half=1.0), stack(half=0.3), Margins())
    look = drawn(200, 5)
    rooms = model(look)[0]
    for i in range(200):

        def at(r: Reading, i: int = i) -> float:
            return float(np.broadcast_to(look(r), 200)[i])

        s = model.stack
        seat = at(s.gasket) + at(s.thickness)
        points = [(at(r), at(d)) for r, d in model.driver.profile]
        spots = [(at(x.radius), at(x.clear)) for x in glass.spots]
        assert rooms[i] == pytest.approx(dense_glass(seat, points, spots), abs=0.02)


def test_every_window_state_and_every_thing_behind_is_judged() -> None:
    carriage = obstacle([(0.0, 54.0)], what="carriage", window="half")
    rail = obstacle([(0.0, 90.0), (60.0, 40.0)], what="rail", window="")
    fit = judge(opening(obstacle([(0.0, 58.0)]), carriage, rail), driver(), stack(13.0), draws=FEW)
    glass, behind = fit.clearance("glass"), fit.clearance("behind")
    assert glass is not None
    assert behind is not None
    assert glass.estimate.value == pytest.approx(14.5 + 54 - 64)
    assert glass.nearest.name == "carriage, window half"
    assert behind.estimate.value == pytest.approx(dense_glass(14.5, POINTS, [(0.0, 90.0), (60.0, 40.0)]), abs=0.02)
    assert behind.margin_mm == 3.0


def test_where_it_is_nearest_is_kept_as_numbers() -> None:
    far, close = obstacle([(0.0, 70.0)], angle=90.0), obstacle([(20.0, 60.0)], angle=270.0, window="up")
    fit = judge(opening(far, close), driver(terminals=terminals(angle=10.0)), stack(13.0), turn_deg=260.0, draws=FEW)
    glass, grille, held = (fit.clearance(name) for name in ("glass", "grille", "terminals.glass"))
    assert glass is not None
    assert grille is not None
    assert held is not None
    at = glass.nearest
    assert (at.what, at.of, at.detail, at.angle_deg, at.radius_mm) == ("glass", "back", ("window up",), 270.0, 46.0)
    # The driver's back is 64 mm behind a rim that stands 14.5 mm off; the glass lies the clearance behind that.
    assert at.z_mm == pytest.approx(14.5 - 64.0)
    assert at.z_mm - glass.estimate.value == pytest.approx(-60.0)
    assert at.words() == Message(
        "{what}, {radius} from the axis", (("what", "glass, window up", ""), ("radius", 46.0, "mm"))
    )
    # The cone at the end of its travel: 14.5 + 9 + 9 in front of the metal, whatever the radius.
    assert (grille.nearest.of, grille.nearest.radius_mm) == ("moving", None)
    assert grille.nearest.z_mm == pytest.approx(32.5)
    assert (held.nearest.of, held.nearest.angle_deg) == ("terminals", 270.0)
    assert pickle.loads(pickle.dumps(fit.clearances)) == fit.clearances


def test_terminals_meet_only_what_lies_their_way() -> None:
    beam = obstacle([(50.0, 90.0), (58.0, 20.0)], what="beam", window="", angle=200.0)
    d = driver(terminals=terminals(angle=225.0))
    # 225 deg less its half width is within 30 deg of 200: seat 14.5 + 20 - 26.
    assert value("terminals.metal", opening(beam), d, stack(13.0)) == pytest.approx(8.5)
    assert judge(opening(beam), d, stack(13.0), turn_deg=180.0, draws=FEW).clearance("terminals.metal") is None
    undecided = judge(opening(beam), d, stack(13.0), turn_deg=None, draws=FEW)
    assert undecided.clearance("terminals.metal") is not None
    check = next(c for c in undecided.checks if c.code == "fit.terminals")
    assert ("sector", 30.0, "assumed") in [(s.symbol, s.value, s.source) for s in check.working]


def test_terminals_are_judged_over_their_own_radii_alone() -> None:
    # A bump under the middle is the magnet's business, not the terminals'.
    bump = obstacle([(0.0, 52.0), (20.0, 58.0)], what="metal", window="")
    d = driver(terminals=terminals())
    assert value("terminals.metal", opening(bump), d, stack(13.0)) == pytest.approx(14.5 + 58 - 26)


def test_hole_counts_all_that_passes_the_metal() -> None:
    wide = replace(terminals(), radius=rd("terminals.radius", 70.0))
    assert value("hole", opening(), driver(terminals=wide), stack(13.0)) == pytest.approx(71.75 - hypot(70, 17))
    # Lifted until its terminals stay before the metal, only the cone passes: at depth 27, 66 - 20 * 13/24.
    assert value("hole", opening(), driver(terminals=wide), stack(25.5)) == pytest.approx(71.75 - (66 - 20 * 13 / 24))


OVAL = np.array([(80 * np.cos(a), 68 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 240, endpoint=False)])


def test_shoulder_just_before_the_metal_may_be_behind_it() -> None:
    # A shoulder of 71 mm ends at depth 14.4, the metal is at 14.5: at the estimate 50 mm pass the hole, and no
    # slope says that 71 may.  The draws do.
    shoulder = driver([(71.0, 0.0), (71.0, 14.4), (50.0, 14.4), (46.0, 64.0)], 0.5)
    found = judge(opening(), shoulder, stack(13.0), draws=FEW)
    hole = found.clearance("hole")
    assert hole is not None
    assert hole.estimate.value > 20.0
    assert hole.estimate.low < 1.5
    assert next(c for c in found.checks if c.code == "fit.hole").verdict != "ok"


def test_hole_that_is_not_round() -> None:
    o = Opening(outline_mm=OVAL, outline_error=rd("outline", 0.0, 0.5), behind=opening().behind)
    edge = Polygon(OVAL).exterior.distance(Point(0, 0))  # shapely
    widest = 66 - 20 * 0.5 / 24
    found = judge(o, driver(), stack(13.0), draws=20_000).clearance("hole")
    assert found is not None
    assert found.estimate.value == pytest.approx(edge - widest, abs=1e-9)
    assert found.first_order_u_mm == pytest.approx(0.5 / 3**0.5, abs=1e-6)  # JCGM 100, 4.3.7


@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0, 225.0])
def test_terminals_in_a_hole_that_is_not_round(angle: float) -> None:
    wide = replace(terminals(angle=angle), radius=rd("terminals.radius", 66.5))
    o = Opening(outline_mm=OVAL, behind=opening().behind)
    half = np.degrees(np.arctan2(17.0, 66.5))
    rays = np.radians(np.linspace(angle - half, angle + half, 400))
    edge = Polygon(OVAL).exterior
    nearest = min(
        edge.intersection(Polygon([(0, 0), (200 * np.cos(t), 200 * np.sin(t)), (200 * np.cos(t), 200 * np.sin(t)
                          + 1e-9)]).exterior).distance(Point(0, 0)) for t in rays
    )  # fmt: skip
    body = Polygon(OVAL).exterior.distance(Point(0, 0)) - (66 - 20 * 0.5 / 24)
    expected = min(body, nearest - hypot(66.5, 17.0))
    assert value("hole", o, driver(terminals=wide), stack(13.0)) == pytest.approx(expected, abs=2e-3)


def test_screw_tails_and_vent() -> None:
    tail = ScrewTail(rd("tail.radius", 80.0), rd("tail.length", 9.0), angle_deg=90.0)
    rail = obstacle([(70.0, 12.0)], what="rail", window="", angle=100.0)
    o = opening(obstacle([(0.0, 58.0), (60.0, 55.0)]), rail)
    d = driver(vent=Vent(rd("vent", 10.0)))
    fit = judge(o, d, stack(13.0), tails=[tail], draws=FEW)
    metal, vent = fit.clearance("screw-tails.metal"), fit.clearance("vent")
    assert metal is not None
    assert vent is not None
    assert metal.estimate.value == pytest.approx(12 - 0.8 - 9)
    assert vent.estimate.value == pytest.approx(14.5 + 12 - 64)  # the rail's one reading is taken to hold inward
    assert vent.margin_mm == 8.0
    other_way = judge(o, d, stack(13.0), tails=[replace(tail, angle_deg=270.0)], draws=FEW)
    assert other_way.clearance("screw-tails.metal") is None
    assert other_way.clearance("screw-tails.glass") is not None


def test_depth_stack_with_all_three_ways_to_add() -> None:
    """62 - 48.5 - 6 - 3 = 4.5 with half-widths 0.5, 0.3, 0.3, 0.2: worst case 3.2, u 0.395811.

    Sums by hand; u = a/sqrt(3) (JCGM 100:2008, 4.3.7), worst case (Drake, Dimensioning and Tolerancing Handbook,
    1999, ch. 9, from memory).
    """
    o = replace(opening(), trim_clear=rd("trim.clear", 62.0, 0.5))
    d = driver(front=FrontHeights(moving=rd("front", 6.0, 0.3)), xmech=rd("Xmech", 3.0, 0.2))
    found = judge(o, d, replace(stack(48.5, 0.0), thickness=rd("thickness", 48.5, 0.3))).clearance("grille")
    assert found is not None
    assert found.estimate.value == pytest.approx(4.5)
    assert found.worst_mm == pytest.approx(3.2)
    assert found.first_order_u_mm == pytest.approx(0.395811, abs=1e-6)
    assert found.estimate.u == pytest.approx(0.395811, rel=0.015)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.1, 3.0), min_size=3, max_size=3), st.floats(40, 47), st.floats(50, 57))
def test_worst_case_is_the_worst_of_all_corners(halves: list[float], radius: float, clear: float) -> None:
    def built(signs: tuple[float, ...]) -> tuple[Opening, DriverShape]:
        a, b, c = (s * h for s, h in zip(signs, halves))
        live = signs == (0.0, 0.0, 0.0)
        glass = obstacle([(0.0, 58.0 + a), (radius, clear + b)])
        spots = tuple(
            replace(s, clear=rd(f"c{i}", s.clear.value, h if live else 0.0))
            for i, (s, h) in enumerate(zip(glass.spots, halves))
        )
        points = driver().profile
        moved = (rd("magnet.radius", 46.0 + c, halves[2] if live else 0.0), points[3][1])
        return opening(replace(glass, spots=spots)), replace(driver(), profile=(*points[:3], moved))

    found = judge(*built((0.0, 0.0, 0.0)), stack(13.0), draws=FEW).clearance("glass")
    assert found is not None
    corners = [value("glass", *built(signs), stack(13.0)) for signs in product((-1.0, 1.0), repeat=3)]
    assert found.worst_mm == pytest.approx(min(corners), abs=1e-6)


def test_shared_gauge_is_one_error() -> None:
    """Glass and grille read with one gauge: 0.5 mm too deep on both moves nothing of their sum."""
    glass = obstacle([(0.0, 58.0)])
    own = replace(glass, spots=(replace(glass.spots[0], clear=rd("glass", 58.0, 1.0, "gauge")),))
    o = replace(opening(own), trim_clear=rd("trim.clear", 37.0, 1.0, "gauge"))
    fit = judge(o, driver(), stack(13.0))
    g, t = fit.clearance("glass"), fit.clearance("grille")
    assert g is not None
    assert t is not None
    # One error, so the joint chance is the smaller of the two and not their product.
    assert fit.chance_margin == pytest.approx(min(g.chance_margin, t.chance_margin), abs=1e-9)


def test_bad_input_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="never decrease"):
        driver([(70.0, 0.0), (60.0, 20.0), (50.0, 10.0)])
    with pytest.raises(InputError, match="no readings"):
        obstacle([])
    with pytest.raises(InputError, match="outline"):
        Opening(outline_mm=np.zeros((2, 2)))
    with pytest.raises(InputError, match="moving, crest or fixed"):
        FrontHeights()


def test_tilted_seat_is_not_worked_out() -> None:
    fit = judge(opening(), driver(), stack(), tilt_deg=15.0)
    assert fit.clearances == ()
    assert [(c.code, c.verdict) for c in fit.checks] == [("fit.seat", "stop")]
    assert judge(opening(), driver(), stack(), offset_mm=3.0).verdict == "stop"


def test_nothing_read_is_asked_for() -> None:
    fit = judge(Opening(), driver(), stack())
    assert {c.key for c in fit.checks} == {"behind", "trim.clear", "hole"}
    assert fit.chance_clear is None


def test_stand_in_that_touched_outranks_readings() -> None:
    roomy = opening(obstacle([(0.0, 90.0)], 0.1, taken=2), half=0.1, trim=60.0, taken=2)
    touched = GaugeTrial("touched", "half window, 4 o'clock")
    assert judge(roomy, driver(), stack(), draws=FEW).verdict == "caution"  # read to the axis only
    fit = judge(roomy, driver(), stack(), stand_in=touched, draws=FEW)
    assert fit.verdict == "stop"
    assert [c.code for c in fit.checks if c.verdict == "stop"] == ["fit.stand-in"]


def test_the_hole_has_one_radius_for_all() -> None:
    """Of a traced edge: how near it comes to the axis anywhere, between its points too (shapely measures it)."""
    edge = [(70.0, 0.0), (20.0, 68.0), (-66.0, 30.0), (-60.0, -44.0), (10.0, -72.0)]
    traced = Opening(outline_mm=np.array(edge))
    assert traced.hole_radius_mm == pytest.approx(LinearRing(edge).distance(Point(0.0, 0.0)))
    assert opening().hole_radius_mm == 143.5 / 2
    assert Opening().hole_radius_mm is None
