"""Driver, part and metal going together: each case that cannot be mounted, its sound twin, and an independent search."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin

import numpy as np
import pytest
import shapely

from backwave.finding import Check
from backwave.fit.assembly import Block, Body, Lip, Mounting, Notched, Passage, Revolved, lap_mm, nearest
from backwave.fit.bolt_pattern import Hole, bolt_circle
from backwave.fit.laps import flange_lap
from backwave.fit.mounting import mounting_checks
from backwave.fit.types import DepthReading, DriverShape, FrontHeights, Margins, Obstacle, Opening, Terminals
from backwave.shape import Outline, circle, ellipse, polygon
from backwave.stock import LapRow, shipped
from backwave.uncertainty import Error, Reading, exact

BACK, THICK = 1.5, 12.6  # mm: closed gasket, part


def read(value: float, half: float = 0.5, name: str = "r") -> Reading:
    return Reading(name, value, (Error(f"{name} {value}", "rectangular", half),) if half else ())


def driver(*points: tuple[float, float], terminals: Terminals | None = None) -> DriverShape:
    profile = tuple((read(r, name=f"r{i}"), read(d, name=f"d{i}")) for i, (r, d) in enumerate(points))
    return DriverShape(profile, FrontHeights(moving=read(9.0)), read(9.0), read(5.0), terminals)


def block(radius: float, width: float = 34.0, depth: float = 26.0, angle: float | None = 225.0) -> Terminals:
    return Terminals(read(radius), read(width), read(depth), angle)


WOOFER = driver((70, 0), (66, 14), (46, 38), (46, 64))
GLASS = Obstacle("glass", (DepthReading(exact("g0", 0.0), read(73.0, 1.0, "g")),), "down")


def walls(bore: float = 71.0, relief: float = 0.75, recess: float = 0.0, top: float = THICK) -> tuple[Passage, ...]:
    seat = BACK + THICK - recess
    found = [
        Passage("relief", BACK, BACK + relief, bore + relief, bore),
        Passage("bore", BACK + relief, seat, bore, bore),
    ]
    return (*found, Passage("recess", seat, BACK + top, 83.5, 83.5)) if recess else tuple(found)


def place(**changes: object) -> Mounting:
    made = Mounting(
        opening=Opening(hole=read(143.5, 0.05), behind=(GLASS,)),
        driver=WOOFER,
        margins=Margins(),
        kind="woofer",
        frame=read(166.0),
        cutout=read(141.0),
        holes=bolt_circle(4, 156.0, 5.0, 0.0),
        turn_deg=45.0,
        seat_mm=BACK + THICK,
        land_mm=BACK + THICK,
        flange=Body("flange", circle(91.0), BACK, BACK + THICK),
        passages=walls(),
        laps=shipped().of(LapRow),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def found(m: Mounting, code: str, part: str = "") -> Check:
    return next(c for c in mounting_checks(m) if (c.code, c.part) == (code, part))


def verdicts(m: Mounting) -> dict[str, str]:
    return {f"{c.code}.{c.part}".rstrip("."): c.verdict for c in mounting_checks(m)}


def with_spigot(length: float, radius: float = 71.25) -> Body:
    return Body("spigot", circle(radius), BACK - length, BACK, (circle(69.5),))


def with_collar(outer: float, inner: float = 83.5) -> Body:
    return Body("collar", circle(outer), BACK + THICK, BACK + THICK + 4.0, (circle(inner),))


SQUARE = np.array([(72.0, 72.0), (-72.0, 72.0), (-72.0, -72.0), (72.0, -72.0)])  # a hole 144 mm square

# what cannot be mounted, the code that says so and with how much; its sound twin
CASES: dict[str, tuple[Mounting, str, str, float, Mounting]] = {
    "bore narrower than the basket": (place(passages=walls(60.0)), "mount.bore", "", -10.0, place()),
    "cutout below the profile": (
        place(driver=driver((73, 0), (66, 14), (46, 38), (46, 64))), "mount.bore", "", -2.0, place(),
    ),
    "magnet wider than the bore": (
        place(driver=driver((70, 0), (66, 14), (66, 30), (76, 40), (76, 64))), "mount.way-in", "", -5.0,
        place(driver=driver((70, 0), (66, 14), (66, 30), (70, 40), (70, 64))),
    ),
    "terminals in the wall": (
        place(driver=replace(WOOFER, terminals=block(76.0, depth=12.0)), terminal_start=read(2.0)),
        "mount.terminals", "", 71.0 - hypot(76.0, 17.0),
        place(driver=replace(WOOFER, terminals=block(62.0, depth=12.0)), terminal_start=read(2.0)),
    ),
    "bore wider than the frame": (place(passages=walls(84.0)), "mount.seat", "", -1.0, place()),
    "frame wider than its recess": (
        place(passages=walls(recess=5.0), land_mm=BACK + THICK - 5.0, seat_mm=BACK + THICK - 5.0, frame=read(170.0)),
        "mount.seat", "recess", -1.5,
        place(passages=walls(recess=5.0), land_mm=BACK + THICK - 5.0, seat_mm=BACK + THICK - 5.0),
    ),
    "holes outside the frame": (place(holes=bolt_circle(4, 175.4, 5.0, 0.0)), "mount.frame", "", -7.2, place()),
    "holes in the cutout": (place(holes=bolt_circle(4, 130.0, 5.0, 0.0)), "mount.frame", "", -8.0, place()),
    "flange does not cover the hole": (
        place(flange=Body("flange", polygon([(95, 0), (0, 95), (-95, 0), (0, -95)]), BACK, BACK + THICK)),
        "mount.flange", "", 95.0 / 2**0.5 - 71.75,
        place(flange=Body("flange", polygon([(135, 0), (0, 135), (-135, 0), (0, -135)]), BACK, BACK + THICK)),
    ),
    "groove over a square hole's corner": (
        place(opening=Opening(outline_mm=SQUARE), flange=Body("flange", circle(120.0), BACK, BACK + THICK),
              grooves=(Body("back gasket groove", circle(82.0), BACK, BACK + 2.0, (circle(78.0),)),)),
        "mount.gasket", "hole", 78.0 - 72.0 * 2**0.5,
        place(opening=Opening(outline_mm=SQUARE), flange=Body("flange", circle(120.0), BACK, BACK + THICK),
              grooves=(Body("back gasket groove", circle(108.0), BACK, BACK + 2.0, (circle(104.0),)),)),
    ),
    "collar in the air": (place(collar=with_collar(95.5)), "mount.collar", "", -4.5, place(collar=with_collar(90.0))),
    "collar into the trim": (
        place(collar=with_collar(90.0), collar_meets=read(15.0, 1.0)), "mount.collar", "top", 15.0 - (BACK + THICK + 4.0),
        place(collar=with_collar(90.0), collar_meets=read(20.0, 1.0)),
    ),
    "spigot into the glass": (
        place(spigot=with_spigot(90.0)), "mount.spigot", "behind", 73.0 - 88.5, place(spigot=with_spigot(20.0), tried=True),
    ),
    "round spigot as wide as a square hole's corner": (
        place(opening=Opening(outline_mm=SQUARE), spigot=with_spigot(8.0, 101.3),
              flange=Body("flange", circle(120.0), BACK, BACK + THICK)),
        "mount.spigot", "hole", 72.0 - 101.3,
        place(opening=Opening(outline_mm=SQUARE), spigot=with_spigot(8.0, 71.5),
              flange=Body("flange", circle(120.0), BACK, BACK + THICK)),
    ),
    "lip without a relief": (
        place(lip=Lip(read(3.0, 0.3), read(4.0, 0.3))), "mount.lip", "", -1.5,
        place(lip=Lip(read(3.0, 0.3), read(4.0, 0.3)), lip_room=Body("relief", circle(77.0), BACK, BACK + 2.5)),
    ),
    "relief narrower than the lip": (
        place(lip=Lip(read(3.0, 0.3), read(4.0, 0.3)), lip_room=Body("relief", circle(74.0), BACK, BACK + 2.5)),
        "mount.lip", "beside", -1.75,
        place(lip=Lip(read(3.0, 0.3), read(4.0, 0.3)), lip_room=Body("relief", circle(77.0), BACK, BACK + 2.5)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_what_cannot_be_mounted_is_a_stop_and_its_sound_twin_is_not(name: str) -> None:
    wrong, code, part, value, sound = CASES[name]
    check = found(wrong, code, part)
    assert check.verdict == "stop"
    assert check.value == pytest.approx(value, abs=5e-3)
    assert check.remedy is not None
    assert set(verdicts(sound).values()) == {"ok"}, verdicts(sound)


def test_terminals_that_only_hit_on_the_way_in_are_tilted_in() -> None:
    held = replace(WOOFER, terminals=block(76.0, depth=40.0))
    check = found(place(driver=held, terminal_start=read(20.0)), "mount.terminals")
    assert (check.verdict, check.remedy is not None and "dummy" in check.remedy.template) == ("caution", True)
    assert check.value == pytest.approx(71.0 - hypot(76.0, 17.0))
    far = replace(WOOFER, terminals=block(95.0, depth=40.0))  # close behind the part: no room to turn
    wrong = found(place(driver=far, terminal_start=read(13.0, 0.1)), "mount.terminals")
    assert wrong.verdict == "stop"
    assert "does not go in tilted either" in wrong.title.template
    # in a square hole its corners may let it by: of such a hole only the round part about the axis is looked at
    square = place(driver=far, terminal_start=read(13.0, 0.1), opening=Opening(outline_mm=SQUARE))
    unsure = found(square, "mount.terminals")
    assert (unsure.verdict, "not certain" in unsure.title.template) == ("caution", True)
    # where they begin was not read: they may be beside the part or behind it
    assert (
        found(place(driver=replace(WOOFER, terminals=block(76.0, depth=24.0))), "mount.terminals").verdict == "caution"
    )


def test_terminals_nobody_measured_are_asked_for_and_never_a_stop() -> None:
    guess = Terminals(replace(read(80.0), assumed=True), exact("w", 35.0), read(10.0), None)
    check = found(place(driver=replace(WOOFER, terminals=guess)), "mount.terminals")
    assert check.verdict == "caution"
    assert check.key == "terminals"


def test_a_notch_lets_terminals_through_and_a_narrow_one_does_not() -> None:
    turned = replace(WOOFER, terminals=block(74.0, width=10.0, depth=12.0, angle=225.0))
    for half, verdict in ((8.0, "ok"), (3.0, "stop")):
        notched = tuple(replace(w, notches=(Notched(270.0, half, 76.0),)) for w in walls())
        place_ = place(driver=turned, terminal_start=read(2.0), passages=notched)
        assert found(place_, "mount.terminals").verdict == verdict
        # turned elsewhere the notch is no use
        assert found(replace(place_, turn_deg=0.0), "mount.terminals").verdict == "stop"


def test_doubt_decides_between_caution_and_stop() -> None:
    """71 mm of bore: 71.3 ± 0.5 may go in, 72 ± 0.5 never does, 70.7 ± 0.5 may not."""
    for radius, verdict in ((71.3, "caution"), (72.0, "stop"), (70.7, "caution"), (70.4, "ok")):
        m = place(driver=driver((radius, 0), (46, 38), (46, 64)))
        checks = [c for c in mounting_checks(m) if c.code in ("mount.bore", "mount.way-in")]
        assert [c.verdict for c in checks] == [verdict]


def test_a_lap_below_its_row_is_a_caution() -> None:
    check = found(place(flange=Body("flange", circle(73.75), BACK, BACK + THICK)), "mount.flange")
    assert (check.verdict, check.value, check.limit) == ("caution", pytest.approx(2.0), 5.0)


@pytest.mark.parametrize("flange", [circle(91.0, 6.0, -4.0), ellipse(100.0, 84.0, 30.0), polygon([(97, 97), (-77, 97), (-97, -97), (97, -97)]), circle(78.0, -9.0, 0.0)])  # fmt: skip
def test_the_least_lap_is_where_a_search_over_directions_finds_it(flange: Outline) -> None:
    least = flange_lap(place(flange=Body("flange", flange, BACK, BACK + THICK)))
    assert least is not None
    assert least.angle_deg is not None
    turns = np.radians(np.arange(0.0, 360.0, 0.1))
    points = shapely.points(71.75 * np.cos(turns), 71.75 * np.sin(turns))
    inside = np.where(shapely.contains(flange.polygon(), points), 1.0, -1.0)
    laps = inside * shapely.distance(flange.polygon().exterior, points)
    k = int(laps.argmin())
    assert least.lap.value_mm == pytest.approx(laps[k], abs=0.05)
    assert (least.angle_deg - 0.1 * k + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1.0)
    (x0, y0), (x1, y1) = least.ends_mm
    assert hypot(x0, y0) == pytest.approx(71.75, abs=0.05)
    assert hypot(x1 - x0, y1 - y0) == pytest.approx(abs(least.lap.value_mm), abs=0.1)
    said = found(place(flange=Body("flange", flange, BACK, BACK + THICK)), "mount.flange")
    assert "{angle}" in said.title.template
    assert said.verdict == least.verdict


def test_a_lap_that_is_alike_all_round_names_no_direction() -> None:
    least = flange_lap(place(flange=Body("flange", circle(91.0), BACK, BACK + THICK)))
    assert least is not None
    assert (least.angle_deg, least.lap.value_mm) == (None, pytest.approx(91.0 - 71.75))
    assert flange_lap(place(opening=Opening())) is None


def test_a_counterbore_in_the_collar_is_said_and_no_reason_not_to_make_it() -> None:
    head = Body("counterbore of fixing 1", circle(5.5, 0.0, 90.0), BACK + 9.0, BACK + THICK)
    check = found(place(collar=with_collar(88.0), heads=(head,)), "mount.collar", "heads")
    assert (check.verdict, check.value) == ("caution", pytest.approx(90.0 - 5.5 - 88.0))
    assert found(place(collar=with_collar(84.4), heads=(head,)), "mount.collar", "heads").verdict == "ok"


@pytest.mark.parametrize(
    ("length", "verdict", "room"), [(20.0, "ok", 36.5), (50.4, "ok", 6.1), (51.5, "caution", 5.0), (57.0, "stop", -0.5)]
)
def test_a_spigots_end_keeps_the_glass_margin(length: float, verdict: str, room: float) -> None:
    """Glass at 57.5 mm on the axis and 55 mm from 60 mm out, each within 1 mm; the spigot begins 1.5 mm before the metal."""
    spots = ((0.0, 57.5), (60.0, 55.0))
    pane = Obstacle("glass", tuple(DepthReading(exact(f"at {r}", r), read(clear, 1.0)) for r, clear in spots), "down")
    spigot = Body("spigot", circle(71.25), 1.5 - length, 1.5, (circle(69.5),))
    tried = place(opening=replace(place().opening, behind=(pane,)), spigot=spigot, tried=True)
    check = found(tried, "mount.spigot", "behind")
    assert (check.verdict, check.limit) == (verdict, 5.0)
    assert (check.value, check.low, check.high) == pytest.approx((room, room - 1.0, room + 1.0))


def test_a_tweeter_without_holes_is_asked_what_holds_it() -> None:
    tweeter = place(kind="tweeter", holes=())
    assert found(tweeter, "mount.held").verdict == "caution"
    assert found(replace(tweeter, held_by="glue"), "mount.held").verdict == "ok"
    assert found(replace(tweeter, held_by="screws"), "mount.held").verdict == "caution"
    assert not [
        c for c in mounting_checks(place(holes=())) if c.code == "mount.held"
    ]  # a woofer's are asked for elsewhere


def test_slots_and_single_holes_count_too() -> None:
    lone = (*bolt_circle(3, 156.0, 5.0, 0.0), Hole(0.0, -88.0, 5.0, name="driver hole 4"))
    check = found(place(holes=lone), "mount.frame")
    assert check.verdict == "stop"
    assert {n: v for n, v, _ in check.title.quantities}["far"] == "driver hole 4"


@pytest.mark.parametrize("seed", range(12))
def test_the_way_in_against_a_search_over_every_height(seed: int) -> None:
    """The driver moved in by 0.1 mm steps, every 0.1 mm of its back against the wall beside it."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 6))
    depths = np.sort(np.round(rng.uniform(0.0, 60.0, count), 1))
    depths[0] = 0.0
    radii = np.round(rng.uniform(40.0, 80.0, count), 1)
    heights = np.sort(np.round(rng.uniform(-20.0, 12.0, 4), 1))
    r = np.round(rng.uniform(60.0, 75.0, 4), 1)
    passages = tuple(
        Passage(f"wall {k}", heights[k], heights[k + 1], r[k], r[k + 1])
        for k in range(3)
        if heights[k + 1] > heights[k]
    )
    back = Revolved(tuple(zip(radii.tolist(), depths.tolist())), 12.0)
    z = np.arange(heights[0], heights[-1] + 1e-9, 0.1)
    wall = np.interp(z, heights, r)

    def radius(depth: np.ndarray) -> np.ndarray:
        inside = (depth >= 0.0) & (depth <= depths[-1] + 1e-9)
        return np.where(inside, np.interp(depth, depths, radii), -np.inf)

    for swept in (False, True):
        steps = np.arange(0.0, 100.0, 0.1) if swept else np.zeros(1)
        slow = min(float((wall - radius(12.0 + s - z)).min()) for s in steps)
        quick = nearest(back.contact(p, swept) for p in passages)
        steepest = float(np.abs(np.diff(radii) / np.maximum(np.diff(depths), 0.1)).max()) + 3.0
        if quick is None:
            assert slow == np.inf
        else:
            assert slow - 0.11 * steepest <= quick.gap_mm <= slow + 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_terminals_against_points_of_their_plan(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    notch = Notched(float(rng.uniform(0, 360)), float(rng.uniform(5, 25)), float(rng.uniform(70, 85)))
    held = Block(
        float(rng.uniform(60, 80)), float(rng.uniform(8, 40)), 2.0, 10.0, notch.angle_deg + float(rng.normal(0, 6))
    )
    quick = held.contact(Passage("bore", 0.0, 12.0, 71.0, 71.0, (notch,)), 12.0, False)
    assert quick is not None
    assert held.angle_deg is not None
    u, v = np.meshgrid(np.linspace(0.0, held.radius_mm, 400), np.linspace(-0.5, 0.5, 400) * held.width_mm)
    a = radians(held.angle_deg)
    x, y = u * cos(a) - v * sin(a), u * sin(a) + v * cos(a)
    b = radians(notch.angle_deg)
    along, aside = x * cos(b) + y * sin(b), -x * sin(b) + y * cos(b)
    free = (np.hypot(x, y) <= 71.0) | ((along >= 0) & (along <= notch.reach_mm) & (np.abs(aside) <= notch.half_mm))
    assert (quick.gap_mm >= 0.0) == bool(free.all()) or abs(quick.gap_mm) < 0.1


def test_a_lap_is_the_least_distance_between_two_edges() -> None:
    rng = np.random.default_rng(7)
    for _ in range(20):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        inner = rng.uniform(40, 60, 9)[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
        outer = rng.uniform(55, 95, 9)[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
        if np.diff(angle, append=angle[0] + 2 * np.pi).max() > 2.5:
            continue
        a, b = polygon([tuple(p) for p in inner.tolist()]), polygon([tuple(p) for p in outer.tolist()])
        lap = lap_mm(a, b)
        away = min(b.inside_mm(x, y) for x, y in a.points())
        near = min(-a.inside_mm(x, y) for x, y in b.points())
        assert lap <= min(away, near) + 1e-9  # corners alone see no edge that runs through an edge
        assert (lap >= 0.0) == (a.polygon().difference(b.polygon()).area < 1e-9)
        if lap >= 0.0:  # of two convex-enough rings the least distance is at a corner of one of them
            assert lap == pytest.approx(min(away, near), abs=1e-6)


ROUND_CORNERED = polygon([(80, 80), (-80, 80), (-80, -80), (80, -80)])  # a square frame over a round basket
CORNERS = tuple(Hole(x, y, 5.0, name=f"driver hole {i}") for i, (x, y) in enumerate(
    ((72.0, 72.0), (-72.0, 72.0), (-72.0, -72.0), (72.0, -72.0)), 1))  # fmt: skip


def test_a_square_frame_is_judged_by_its_edge() -> None:
    assert found(place(frame=read(160.0), holes=CORNERS), "mount.frame").verdict == "stop"  # as if it were round
    square = place(frame=read(160.0), holes=CORNERS, frame_edge=ROUND_CORNERED)
    check = found(square, "mount.frame")
    assert (check.verdict, check.value) == ("ok", pytest.approx(80.0 - 72.0 - 2.5))
    assert found(square, "mount.seat").value == pytest.approx(80.0 - 71.0)
    # its corners do not go into a round recess
    sunk = replace(square, passages=walls(recess=5.0), land_mm=BACK + THICK - 5.0, seat_mm=BACK + THICK - 5.0)
    assert found(sunk, "mount.seat", "recess").value == pytest.approx(83.5 - 80.0 * 2**0.5)
    assert found(sunk, "mount.seat", "recess").verdict == "stop"


def test_an_oval_driver_has_no_round_part() -> None:
    """228 x 155 mm over a cutout of 208 x 134 mm: a bore for the one leaves nothing for the other to lie on."""
    frame, cutout = ellipse(114.0, 77.5), ellipse(104.0, 67.0)
    oval = place(frame=read(155.0), frame_edge=frame, cutout=read(208.0), cutout_edge=cutout, holes=())
    check = found(replace(oval, passages=walls(104.5)), "mount.seat")
    assert (check.verdict, check.value) == ("stop", pytest.approx(77.5 - 104.5))
    assert check.remedy is not None
    assert "nothing can be made" in check.remedy.template
    assert found(oval, "mount.bore", "cutout").value == pytest.approx(71.0 - 104.0, abs=0.01)
    assert found(oval, "mount.bore", "cutout").verdict == "stop"


def test_the_underside_of_the_rim_lies_on_the_seat_and_is_not_in_the_bore() -> None:
    """A profile that begins with the rim's own edge says no more than one that begins at the basket."""
    rimmed = driver((83, 0), (70, 0), (66, 14), (46, 38), (46, 64))
    assert found(place(driver=rimmed), "mount.way-in").value == found(place(), "mount.way-in").value


@pytest.mark.parametrize(
    ("hole", "verdict", "lap"),
    [(143.5, "ok", 6.0), (142.0, "ok", 6.0), (138.0, "caution", 70.5 + 6.0 - 71.75), (120.0, "stop", 61.5 + 6.0 - 71.75)],
)  # fmt: skip
def test_a_strip_laid_round_the_hole_has_to_reach_the_part(hole: float, verdict: str, lap: float) -> None:
    one = found(place(opening=Opening(hole=read(hole, 0.05)), strip_mm=(1.5, 6.0)), "mount.gasket", "part")
    assert (one.verdict, one.value) == (verdict, pytest.approx(lap))


@pytest.mark.parametrize(("reach", "verdict"), [(72.0, "ok"), (76.0, "caution"), (83.5, "caution")])
def test_a_notch_through_the_strip_is_a_leak(reach: float, verdict: str) -> None:
    notched = tuple(replace(p, notches=(Notched(20.0, 5.0, reach),)) for p in walls())
    one = found(place(passages=notched, strip_mm=(1.5, 6.0)), "mount.gasket", "notch")
    assert one.verdict == verdict
    corner = hypot(reach, 5.0)  # the strip lies from 73.25 to 79.25
    assert one.value == pytest.approx(min(79.25 - corner, 6.0))
    assert ("cuts through" in one.title.template) == (corner > 79.25)


@pytest.mark.parametrize(
    ("at", "verdict", "left"), [(78.0, "caution", 1.25), (86.0, "ok", 6.0), (70.0, "ok", 5.75), (74.75, "caution", 1.0)]
)
def test_nut_pockets_through_the_strip_are_a_leak(at: float, verdict: str, left: float) -> None:
    """A strip from 73.25 to 79.25, and a round pocket 7 mm wide: what is left beside it on its wider side."""
    pockets = (circle(3.5, 0.0, -at), circle(3.5, 200.0, 0.0))  # and one far outside of it
    one = found(place(pockets=pockets, strip_mm=(1.5, 6.0)), "mount.gasket", "pockets")
    assert one.verdict == verdict
    assert one.value == pytest.approx(left, abs=0.01)


@pytest.mark.parametrize(("ahead", "verdict"), [(-1.5, "stop"), (0.5, "caution"), (3.0, "ok")])
def test_a_collar_too_tall_as_read_is_a_stop_though_the_reading_has_more_doubt(ahead: float, verdict: str) -> None:
    collar = with_collar(90.0)
    meets = read(collar.high_mm + ahead, 2.5)
    assert found(place(collar=collar, collar_meets=meets), "mount.collar", "top").verdict == verdict


def test_a_remedy_never_says_to_widen_by_less_than_nothing_and_a_lap_that_may_be_short_says_so() -> None:
    """A hole of 135 mm read within 45 mm: the flange of 182 mm laps 23.5 mm, which may be 1 mm."""
    wide = found(place(opening=Opening(hole=read(135.0, 45.0), behind=(GLASS,))), "mount.flange")
    assert wide.verdict == "caution"
    assert wide.remedy is not None
    assert "Widen" not in wide.remedy.template
    assert "as it was read it may be {as_read}" in wide.title.template
    about = {name: value for name, value, _ in (*wide.title.quantities, *wide.remedy.quantities)}
    assert (about["as_read"], about["more"]) == (pytest.approx(1.0), pytest.approx((wide.limit or 0.0) - 1.0))
    narrow = found(place(opening=Opening(hole=read(176.0, 0.1), behind=(GLASS,))), "mount.flange")
    assert narrow.remedy is not None
    assert "Widen the flange by {more}" in narrow.remedy.template


def test_a_notch_that_cuts_into_the_gaskets_groove_leaks() -> None:
    groove = (Body("back gasket groove", circle(82.0), BACK, BACK + 2.0, (circle(78.0),)),)
    for reach, verdict in ((79.0, "caution"), (76.0, "ok")):
        cut = tuple(replace(p, notches=(Notched(90.0, 8.0, reach),)) for p in walls())
        check = found(place(passages=cut, grooves=groove), "mount.gasket", "notch")
        assert check.verdict == verdict
        assert check.value == pytest.approx(78.0 - hypot(reach, 8.0))  # its far corners against the groove's inner edge
        assert ("the air goes by it" in check.title.template) == (verdict == "caution")
