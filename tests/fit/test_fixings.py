"""Fixings in real metal, studs, pins, and screws against the holes they go through: each case beside its sound twin."""

from __future__ import annotations

from math import hypot

import pytest

from backwave.fit.bolt_pattern import Hole, bolt_circle
from backwave.fit.fixing_load import FixingPoint, fixing_checks, metal_checks, missing_checks
from backwave.fit.screw import driver_screw, metal_screw, read_threads
from backwave.fit.screw_holes import driver_hole_checks, metal_hole_checks, washer_over
from backwave.stock import shipped

STOCK = shipped()


def point(x: float, y: float, hole_radius: float, holds: str = "rivet nut", screw: str = "M5") -> FixingPoint:
    return FixingPoint(x, y, STOCK.fixing(holds, screw), "fixing 1", hypot(x, y) - hole_radius)


# ---- in metal


@pytest.mark.parametrize(
    ("radius", "verdict"),
    [
        (88.0, "stop"),  # 88 mm out, hole of 93 mm radius: in the air
        (95.0, "stop"),  # 2 mm of metal for a bare hole of 3.5 mm radius
        (97.0, "caution"),  # 4 mm of 9 (common trade practice)
        (102.0, "ok"),
        (101.8, "ok"),  # 0.2 mm short, less than a place is read to
    ],
)
def test_a_fixing_sits_in_metal_its_rows_distance_from_the_hole(radius: float, verdict: str) -> None:
    (check,) = metal_checks([point(0.0, radius, 93.0)])
    assert check.verdict == verdict
    assert check.value == pytest.approx(radius - 93.0)
    assert (check.remedy is None) == (verdict == "ok")


def test_where_the_hole_was_not_read_nothing_is_said_of_the_metal() -> None:
    assert metal_checks([FixingPoint(0.0, 80.0, STOCK.fixing("rivet nut", "M5"))]) == ()


# ---- asked for


def test_no_fixings_and_no_mass_are_asked_for() -> None:
    (placeless,) = missing_checks([], 0.2, 6.0, -30.0, unplaced=True)
    assert placeless.title.template.startswith("The fixings entered have no place yet")
    (none,) = missing_checks([], 0.2, 6.0, -30.0)
    assert (none.verdict, none.key) == ("caution", "fixings")
    three = [point(x, y, 70.0) for x, y in ((0.0, 80.0), (-69.3, -40.0), (69.3, -40.0))]
    (check,) = missing_checks(three, 0.2, 6.0, -30.0)
    assert (check.verdict, check.key) == ("caution", "mass")
    most = check.working[0].value
    assert most is not None

    def load(kg: float) -> str:
        z = (kg * -30.0 + 0.2 * 6.0) / (kg + 0.2)
        return fixing_checks(three, kg + 0.2, (0.0, 0.0, z))[0].verdict

    # What it says they hold is held, and a little more is not.
    assert (load(most - 0.001), load(most + 0.01)) == ("ok", "caution")


def test_a_hook_and_a_pin_hold_nothing_because_the_part_has_none() -> None:
    hooks = [FixingPoint(0.0, 80.0, STOCK.fixing("hook")), FixingPoint(0.0, -80.0, STOCK.fixing("pin"))]
    assert fixing_checks(hooks, 1.0, (0.0, 0.0, 0.0))[0].verdict == "stop"
    screw = metal_screw(STOCK, STOCK.fixing("hook"), 13.0, 1.5, 0.8)
    assert (screw.length_mm, screw.size, screw.head_below_mm, screw.tail_mm) == (None, "", None, 0.0)


# ---- studs: M5 nut 4.7 high, one turn of 0.8 past it (ISO 4032, ISO 261)


def stud(stands: float | None, thickness: float = 13.0, over: float = 0.0):  # type: ignore[no-untyped-def]
    return metal_screw(
        STOCK, STOCK.fixing("stud", "M5"), thickness, 1.5, 0.8, over + 4.7 + 0.5, over_mm=over, stands_mm=stands
    )


def test_a_stud_takes_a_nut_in_a_counterbore_as_deep_as_its_length_wants() -> None:
    # 13 mm of part, 1.5 of gasket: with 5.2 sunk the nut and a turn end 7.8 + 1.5 + 5.5 = 14.8 off the metal, above
    # the face (14.5); a stud of 14 wants the nut 0.8 deeper.
    assert stud(14.0).check.verdict == "ok"
    assert stud(14.0).depth_mm == pytest.approx(6.0)
    assert stud(14.0).head_below_mm == pytest.approx(6.0 - 4.7)
    # 10 is the shortest: 3 mm of part under the nut, the gasket and the nut with its turn.
    assert stud(10.0).check.verdict == "ok"
    assert 13.0 - stud(10.0).depth_mm == pytest.approx(3.0)
    assert stud(9.9).check.verdict == "stop"
    assert stud(14.6).check.verdict == "stop"  # sticks out of the face
    asked = stud(None)
    assert asked.check.verdict == "caution"
    assert asked.check.remedy is not None
    assert {n: v for n, v, _ in asked.check.remedy.quantities} == {"low": 10.0, "high": 14.5}


def test_no_standard_screw_is_too_short_for_a_thick_part_its_head_is_sunk() -> None:
    # M4 ends at 40 mm: under its head 40 - 1 d - 1.5 = 34.5 of 70 mm.
    nut = STOCK.fixing("rivet nut", "M4")
    screw = metal_screw(STOCK, nut, 70.0, 1.5, 0.8, 2.7, head="button")
    assert (screw.length_mm, screw.check.verdict, screw.engagement_mm) == (40.0, "ok", pytest.approx(4.0))
    assert screw.depth_mm == pytest.approx(70.0 - 34.5)
    plain = metal_screw(STOCK, nut, 70.0, 1.5, 0.8, head="button")  # no counterbore to sink it in
    assert (plain.length_mm, plain.check.verdict) == (None, "stop")
    assert metal_screw(STOCK, nut, 30.0, 1.5, 0.8, 2.7, head="button").depth_mm == 2.7


# ---- the driver's screw


def test_the_tip_keeps_off_the_floor_with_the_rims_doubt() -> None:
    m4 = read_threads("insert M4")
    # Rim 5.2 ± 0.5, hole 11 deep: 16 mm would leave 0.2 mm; 12 mm gives 6.8 of thread, 6.3 at the thickest rim.
    screw = driver_screw(STOCK, m4, 5.2, 0.0, 11.0, rim_error_mm=0.5, deepest_mm=11.4)
    assert (screw.length_mm, screw.check.verdict, screw.depth_mm) == (12.0, "ok", 11.0)
    # Where there is plastic the hole is made deeper and the insert is used to its length: 10.8 + 0.5 + 1.
    deep = driver_screw(STOCK, m4, 5.2, 0.0, 11.0, rim_error_mm=0.5, deepest_mm=20.0)
    assert (deep.length_mm, deep.depth_mm) == (16.0, pytest.approx(12.3))
    # A rim known to ± 2 mm in a shallow hole: one reading makes it good.
    vague = driver_screw(STOCK, read_threads("insert M4 short"), 5.2, 0.0, 8.0, rim_error_mm=2.5)
    assert vague.check.verdict == "caution"
    assert vague.check.remedy is not None
    spare = {n: v for n, v, _ in vague.check.remedy.quantities}["spare"]
    assert isinstance(spare, float)
    read = driver_screw(STOCK, read_threads("insert M4 short"), 5.2, 0.0, 8.0, rim_error_mm=spare)
    assert read.check.verdict == "ok"


@pytest.mark.parametrize(
    ("threads", "hole", "passes", "rests"),
    [
        ("insert M5", 4.5, "stop", "ok"),
        ("insert M5", 5.1, "caution", "ok"),
        ("insert M4", 4.5, "ok", "ok"),  # ISO 273 fine: 4.3
        ("insert M3", 8.0, "ok", "stop"),  # head 5.7 (ISO 7380-1), and no washer of M3 bridges it
        ("insert M3", 4.0, "ok", "ok"),
        ("screw ST4.8", 8.4, "ok", "ok"),  # pan head 9.5; a large M5 washer of 15
    ],
)
def test_screws_against_the_drivers_holes_both_ways(threads: str, hole: float, passes: str, rests: str) -> None:
    of = read_threads(threads)
    d = STOCK.clearance_hole(of.size).d_mm
    head = STOCK.tapping_screw(of.size).head_mm if of.kind == "screw" else STOCK.screw(of.size, "button").head_mm
    washer = washer_over(STOCK, d, head, hole)
    under = {} if washer is None else {"washer": washer.name, "washer_mm": washer.height_mm}
    screw = driver_screw(STOCK, of, 5.2, 0.0, 25.0, **under)  # type: ignore[arg-type]
    found = driver_hole_checks(STOCK, screw, bolt_circle(4, 156.0, hole))
    assert [c.verdict for c in found] == [passes, rests]
    assert all((c.remedy is None) == (c.verdict == "ok") for c in found)


def test_a_thread_that_is_offered_goes_through_and_holds() -> None:
    screw = driver_screw(STOCK, read_threads("insert M3"), 5.2, 0.0, 25.0)
    stop = driver_hole_checks(STOCK, screw, [Hole(78.0, 0.0, 8.0)])[1]
    assert stop.remedy is not None
    other = {n: v for n, v, _ in stop.remedy.quantities}["other"]
    taken = driver_screw(STOCK, read_threads(f"nut {other}"), 5.2, 0.0, 25.0)
    washer = washer_over(STOCK, 6.0, taken.head_mm, 8.0)
    assert washer is None or washer.outer_mm >= 9.6
    with_it = driver_screw(STOCK, read_threads(f"nut {other}"), 5.2, 0.0, 25.0, washer=washer.name if washer else "")
    assert [c.verdict for c in driver_hole_checks(STOCK, with_it, [Hole(78.0, 0.0, 8.0)])] == ["ok", "ok"]


# ---- holes in the metal


@pytest.mark.parametrize(
    ("holds", "screw", "hole", "verdict"),
    [
        ("self-tap", "ST4.8", 5.5, "stop"),  # 4.8 of thread in 5.5 of hole
        ("self-tap", "ST4.8", 4.4, "caution"),
        ("self-tap", "ST4.8", 3.0, "caution"),
        ("self-tap", "ST4.8", 3.8, None),
        ("bolt", "M6", 5.5, "stop"),
        ("bolt", "M5", 5.5, None),
        ("rivet nut", "M5", 5.5, None),
    ],
)
def test_the_hole_in_the_metal_is_the_one_that_its_screw_wants(
    holds: str, screw: str, hole: float, verdict: str | None
) -> None:
    found = metal_hole_checks(STOCK, [("fixing 1", STOCK.fixing(holds, screw), hole)])
    assert [c.verdict for c in found] == ([] if verdict is None else [verdict])
    assert all(c.remedy is not None for c in found)
