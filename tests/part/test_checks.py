"""Findings before anything is built: each says what is wrong, by how much, and what to change."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pytest
import shapely
from part.specs import PLAIN, around, full, random_spec

from backwave.finding import Check
from backwave.part import (
    AdapterSpec,
    Fixing,
    Groove,
    Material,
    Notch,
    Printer,
    Spigot,
    Thread,
    Zone,
    gaps,
    least_thickness,
    plan_checks,
    shape_checks,
)
from backwave.part.checks import FLOOR, HEAD_FLOOR
from backwave.part.features import Prism, features
from backwave.part.flat_patterns import check_ring
from backwave.shape import circle, ellipse

ASA = Material("ASA", 1070.0, 90.0, source="SOURCES 3.2")
DOOR = Zone("door", 70.0, wet=True)


def of(checks: tuple[Check, ...], code: str) -> list[Check]:
    return [c for c in checks if c.code == code]


def only(checks: tuple[Check, ...], code: str) -> Check:
    (found,) = of(checks, code)
    return found


def test_a_sound_part_has_no_complaint() -> None:
    for spec in (full(), full(ellipse(100.0, 94.0))):
        assert {c.verdict for c in plan_checks(spec, ASA, Printer(), DOOR)} == {"ok"}


def test_an_insert_too_near_the_bore() -> None:
    def at(radius: float) -> Check:
        return only(
            shape_checks(replace(PLAIN, threads=(Thread(radius, 0.0, "insert", "M4", 5.6, 9.0, 1.6, 8.1),))),
            "part.insert-wall",
        )

    # Wall to the bore of radius 70: radius - 2.8 - 70.
    for radius, verdict in ((76.0, "ok"), (74.4, "ok"), (74.3, "caution"), (73.6, "stop"), (72.0, "stop")):
        check = at(radius)
        assert check.value == pytest.approx(radius - 72.8)
        assert check.verdict == verdict, radius


def test_the_relief_eats_into_the_wall_only_as_high_as_it_reaches() -> None:
    thread = Thread(74.6, 0.0, "insert", "M4", 5.6, 9.0, 1.6, 8.1)
    # The hole ends at 18 - 9 = 9 mm above the back face; a relief of 6 mm ends below that, one of 12 does not.
    assert only(
        shape_checks(replace(PLAIN, threads=(thread,), relief_mm=6.0)), "part.insert-wall"
    ).value == pytest.approx(1.8)
    deep = only(shape_checks(replace(PLAIN, threads=(thread,), relief_mm=12.0)), "part.insert-wall")
    assert deep.value == pytest.approx(1.8 - 3.0)
    assert deep.verdict == "stop"


def test_a_boss_gives_a_thread_its_wall() -> None:
    thread = Thread(80.5, 0.0, "insert", "M4", 5.6, 9.0, 1.6, 8.1)
    assert only(shape_checks(replace(PLAIN, threads=(thread,))), "part.insert-wall").verdict == "stop"
    bossed = replace(thread, boss_mm=11.0)
    check = only(shape_checks(replace(PLAIN, threads=(bossed,))), "part.insert-wall")
    assert check.verdict == "ok"
    assert check.value == pytest.approx(5.5 - 2.8, abs=0.01)


def test_a_counterbore_at_the_rim_breaks_out() -> None:
    def at(radius: float) -> list[Check]:
        return of(
            shape_checks(replace(PLAIN, fixings=(Fixing(radius, 0.0, 5.5, 10.0, 6.0, 8.5, 5.0),))), "part.ligament"
        )

    assert [c.verdict for c in at(76.5)] == ["ok"]
    # 82.5 - 79 - 5 = -1.5: the counterbore is open at the rim, the hole (0.75 left) is thin; a stop only without a hole.
    assert {c.verdict for c in at(79.0)} == {"caution"}
    assert "stop" in {c.verdict for c in at(81.0)}


def test_holes_that_run_into_each_other() -> None:
    spec = replace(PLAIN, fixings=(Fixing(76.0, 0.0, 5.5), Fixing(76.0, 4.0, 5.5, name="second")))
    check = of(shape_checks(spec), "part.ligament")[0]
    assert check.value == pytest.approx(4.0 - 5.5)
    assert check.verdict == "stop"
    notch = replace(full(), notches=(Notch(20.0, 20.0, 6.0),))  # where driver hole 1 is
    assert "stop" in {c.verdict for c in of(shape_checks(notch), "part.insert-wall")}


def test_engagement_and_nuts() -> None:
    def check(thread: Thread, thickness: float) -> Check:
        return only(shape_checks(replace(PLAIN, thickness_mm=thickness, threads=(thread,))), "part.engagement")

    insert = Thread(76.0, 0.0, "insert", "M4", 5.6, 9.0, 1.6, 8.1)
    assert check(insert, 10.2).verdict == "ok"
    thin = check(insert, 8.0)
    assert thin.verdict == "stop"
    assert thin.value == pytest.approx(8.0 - FLOOR)
    nut = Thread(76.0, 0.0, "nut", "M4", 4.5, nut_flats_mm=7.3, nut_height_mm=3.4)
    assert check(nut, 3.4 + HEAD_FLOOR + 0.1).verdict == "ok"
    assert check(nut, 3.4 + HEAD_FLOOR - 0.1).verdict == "stop"


def test_the_least_thickness_is_where_the_checks_begin_to_hold() -> None:
    for seed in range(20):
        spec = replace(random_spec(np.random.default_rng(seed)), collar=None)
        least = least_thickness(spec.recess_mm, spec.threads, spec.fixings, spec.grooves)
        at = replace(spec, thickness_mm=least + 1e-6)
        assert all(c.verdict == "ok" for c in of(shape_checks(at), "part.engagement")), seed


def test_heads() -> None:
    def head(frame: float = 0.0, **change: float) -> Check:
        fixing = replace(Fixing(76.0, 0.0, 5.5, 10.0, 6.0, 8.5, 5.0), **change)
        return only(shape_checks(replace(PLAIN, fixings=(fixing,), frame_radius_mm=frame)), "part.head")

    assert head().verdict == "ok"
    assert head().value == pytest.approx(1.0)
    assert head(counterbore_depth_mm=4.0).verdict == "caution"
    assert head(frame=80.0, counterbore_depth_mm=4.0).verdict == "stop"
    assert head(head_mm=11.0).verdict == "stop"


def test_a_head_under_a_sunk_driver_is_judged_against_the_seat() -> None:
    # Recess of 5: a counterbore of 3.25 ends above the seat, the head of 2.75 stands 4.5 over it.
    fixing = Fixing(76.0, 0.0, 5.5, 10.5, 3.25, 9.5, 2.75)
    sunk = replace(PLAIN, fixings=(fixing,), frame_radius_mm=80.0, recess_mm=5.0, seat_mm=80.5)
    check = only(shape_checks(sunk), "part.head")
    assert (check.verdict, check.value) == ("stop", pytest.approx(-4.5))
    deep = replace(sunk, fixings=(replace(fixing, counterbore_depth_mm=8.25),))
    assert only(shape_checks(deep), "part.head").value == pytest.approx(0.5)
    assert only(shape_checks(replace(sunk, recess_mm=0.0, seat_mm=0.0)), "part.head").verdict == "ok"


def test_a_pocket_in_the_back_takes_from_what_a_head_presses_on() -> None:
    fixing = Fixing(78.0, 0.0, 5.5, 10.5, 3.25, 9.5, 2.75, pocket_mm=11.0, pocket_depth_mm=1.3)

    def floor(thickness: float) -> float:
        spec = replace(PLAIN, thickness_mm=thickness, fixings=(fixing,))
        return next(g.gap_mm for g in gaps(spec) if g.floor and g.a.startswith("counterbore"))

    assert floor(10.0) == pytest.approx(10.0 - 3.25 - 1.3)
    least = least_thickness(0.0, (), (fixing,))
    assert floor(least) == pytest.approx(HEAD_FLOOR)
    # Nothing goes through where there is only a pocket, and a hole is not drilled there in a test ring.
    blind = Fixing(78.0, 0.0, 0.0, pocket_mm=6.5, pocket_depth_mm=4.8)
    made = features(replace(PLAIN, fixings=(blind,)), lettering=False)
    (cut,) = [f for f in made if f.name.startswith(("hole of", "pocket of"))]
    assert (cut.z0_mm, cut.z1_mm) == (0.0, 4.8)
    assert check_ring(replace(PLAIN, fixings=(blind,))).holes_mm == ()


def test_a_dropped_spigot_is_said() -> None:
    check = only(shape_checks(replace(PLAIN, spigot=Spigot(70.5, 3.0))), "part.spigot")
    assert check.verdict == "caution"
    assert check.value == pytest.approx(0.5)


def test_a_tilt_is_refused_in_words() -> None:
    check = only(shape_checks(replace(PLAIN, tilt_deg=7.0)), "part.build")
    assert check.verdict == "stop"
    assert check.remedy is not None


def test_a_groove_that_meets_a_hole_is_a_caution() -> None:
    spec = replace(PLAIN, fixings=(Fixing(76.0, 0.0, 5.5),), grooves=(Groove("back", "flange", 5.0, 3.0, 2.0),))
    found = [c for c in of(shape_checks(spec), "part.ligament") if "groove" in c.part]
    assert found[0].verdict == "caution"


def test_gaps_are_what_shapely_measures() -> None:
    """Each gap in plan again, from sampled edges at many heights: none found is smaller than the least reported."""
    for seed in range(12):
        spec = replace(random_spec(np.random.default_rng(seed)), grooves=(), relief_mm=0.0, collar=None, notches=())
        reported = {frozenset((g.a, g.b)): g.gap_mm for g in gaps(spec) if not g.floor}
        cuts = [f for f in features(spec, lettering=False) if isinstance(f, Prism) and not f.add]
        for pair, gap in reported.items():
            if "the edge" in pair or gap <= 0.0:
                continue
            a, b = (next(f for f in cuts if f.name == n) for n in pair)
            pa, pb = (shapely.LinearRing(f.outer.points()) for f in (a, b))
            assert gap == pytest.approx(pa.distance(pb), abs=0.01), (seed, pair)


def test_turning_the_whole_part_changes_no_finding() -> None:
    spec = full()

    def turned(angle: float) -> AdapterSpec:
        c, s = cos(radians(angle)), sin(radians(angle))
        return replace(
            spec,
            outline=spec.outline.turned(angle),
            fixings=tuple(replace(f, x_mm=f.x_mm * c - f.y_mm * s, y_mm=f.x_mm * s + f.y_mm * c) for f in spec.fixings),
            threads=tuple(replace(t, x_mm=t.x_mm * c - t.y_mm * s, y_mm=t.x_mm * s + t.y_mm * c) for t in spec.threads),
            notches=tuple(replace(n, angle_deg=n.angle_deg + angle) for n in spec.notches),
        )

    base = {g.a + g.b: g.gap_mm for g in gaps(spec)}
    for angle in (13.0, 90.0, 211.0):
        for (name, gap), other in zip(base.items(), gaps(turned(angle))):
            assert other.gap_mm == pytest.approx(gap, abs=0.01), name


def test_every_stop_says_what_to_change() -> None:
    seen = set()
    for seed in range(24):
        for check in plan_checks(random_spec(np.random.default_rng(seed)), ASA, Printer(), DOOR):
            if check.verdict != "ok":
                assert check.remedy is not None, check.code
                seen.add(check.code)
    assert {"part.insert-wall", "part.ligament"} <= seen


def test_points_on_a_circle() -> None:
    assert [hypot(x, y) for x, y in around(50.0, 10.0, 200.0)] == pytest.approx([50.0, 50.0])
    assert circle(50.0).contains(*around(49.0, 33.0)[0])


@pytest.mark.parametrize("bolt_circle_mm", [312.0, 1e5])
def test_a_boss_beside_the_flange_is_held_by_nothing_and_says_so(bolt_circle_mm: float) -> None:
    """A diameter typed for a radius: the boss would be a piece of its own."""
    threads = tuple(
        Thread(x, y, "insert", "M4", 5.6, 9.0, 1.6, 8.1, boss_mm=12.0, name=f"driver hole {k + 1}")
        for k, (x, y) in enumerate(around(bolt_circle_mm / 2.0, 45.0, 135.0, 225.0, 315.0))
    )
    spec = replace(full(), threads=threads)
    to_edge = [g for g in gaps(spec) if g.b == "the edge" and g.a.startswith("hole of driver hole")]
    assert len(to_edge) == 4
    assert all(g.gap_mm < 0.0 for g in to_edge)
    assert [c.verdict for c in of(plan_checks(spec, ASA, Printer(), DOOR), "part.insert-wall")] == ["stop"] * 4
