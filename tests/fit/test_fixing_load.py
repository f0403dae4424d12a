"""Loads on fixings against statics, and screws against the lengths there are."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from backwave.errors import InputError
from backwave.fit.fixing_load import SAFETY, FixingPoint, fixing_checks, fixing_loads_n, metal_checks, screw_for
from backwave.fit.screw import driver_screw, metal_screw, read_threads
from backwave.shape import circle
from backwave.stock import shipped

STOCK = shipped()
G30 = 30 * 9.80665  # m/s2; standard gravity, CGPM 1901


def ring(count: int, radius: float, first: float = 0.0) -> list[tuple[float, float]]:
    angles = [first + 2 * pi * k / count for k in range(count)]
    return [(radius * cos(a), radius * sin(a)) for a in angles]


# ---- load


@pytest.mark.parametrize("depth_mm", [1e4, 1e6, 1e150])
def test_a_load_that_no_number_of_fixings_holds_is_said_so(depth_mm: float) -> None:
    held = [FixingPoint(x, y, STOCK.fixing("rivet nut", "M5")) for x, y in ring(4, 80.5)]
    check = fixing_checks(held, 1.0, (0.0, 0.0, depth_mm))[0]
    assert check.verdict == "stop"
    assert check.remedy is not None
    assert "No number of such fixings" in check.remedy.template
    few = fixing_checks(held, 3.0, (0.0, 0.0, 300.0))[0].remedy
    assert few is None or len({name: said for name, said, _ in few.quantities}["need"]) <= 2  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [3, 4, 6])
def test_a_mass_in_the_middle_of_the_plane_is_shared_alike(count: int) -> None:
    loads = fixing_loads_n(ring(count, 80.0), 1.2, (0.0, 0.0, 0.0))
    assert loads == pytest.approx([1.2 * G30 / count] * count)


@pytest.mark.parametrize("count", [3, 4, 6])
def test_a_mass_off_the_face_is_the_bolt_circles_closed_form(count: int) -> None:
    # Eccentric load on a bolt circle (machine-design textbooks, from memory): along the axis F/n, across it
    # M r cos / (n r^2 / 2), so at most 2 F z / (n r); the worst direction adds the two at right angles.
    r, z, m = 80.0, 30.0, 1.2
    loads = fixing_loads_n(ring(count, r, 0.3), m, (0.0, 0.0, z))
    assert loads == pytest.approx([m * G30 * np.hypot(1 / count, 2 * z / (count * r))] * count)


places = st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=3, max_size=8)


@given(places, st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(-60, 60)), st.integers(0, 2**32 - 1))
def test_loads_balance_the_pull_and_no_direction_beats_the_worst(
    xy: list[tuple[float, float]], center: tuple[float, float, float], seed: int
) -> None:
    p = np.array(xy)
    if np.linalg.svd(p - p.mean(axis=0))[1].min() < 5.0:
        return  # nearly in one line: the moment about it is left out by contract
    worst = np.array(fixing_loads_n(xy, 1.0, center))
    n = np.random.default_rng(seed).normal(size=(200, 3))
    n /= np.linalg.norm(n, axis=1)[:, None]
    # Statics, solved apart from the code: T = A + B x + C y with sum T = Fz, sum T p = Fz r - z Ft (moments about
    # the origin of the plane of the fixings; ISO 80000-4 for the moment of a force).
    design = np.column_stack([np.ones(len(p)), p])
    moments = np.column_stack([n[:, 2], n[:, 2:] * np.array(center[:2]) - center[2] * n[:, :2]]) * G30
    t = design @ np.linalg.solve(design.T @ design, moments.T)
    assert t.sum(axis=0) == pytest.approx(n[:, 2] * G30, abs=1e-6)
    assert (np.abs(t) <= worst[:, None] * (1 + 1e-9) + 1e-6).all()
    # and the bound is reached: 200 directions come close to the worst of them.
    assert np.abs(t).max() > 0.9 * worst.max()


def test_two_fixings_leave_out_the_moment_about_their_line_and_say_so() -> None:
    loads = fixing_loads_n([(-50.0, 0.0), (50.0, 0.0)], 1.0, (0.0, 40.0, 0.0))
    assert loads == pytest.approx([G30 / 2, G30 / 2])
    row = STOCK.fixing("rivet nut", "M5")
    check = fixing_checks([FixingPoint(-50, 0, row), FixingPoint(50, 0, row)], 0.5, (0, 0, 0))[0]
    assert check.verdict == "caution"
    assert check.remedy is not None
    assert "rocking" in check.remedy.template


@pytest.mark.parametrize("a", [20.0, 60.0, 87.0])
@pytest.mark.parametrize("z", [0.0, -30.0])
def test_one_fixing_pulls_against_the_edge_that_the_part_tips_about(a: float, z: float) -> None:
    """Equilibrium of a rigid body on one fixing and an edge that only presses, solved by linear programming: whatever the
    slam's direction, the least pull that balances it."""
    edge = circle(97.0)
    (load,) = fixing_loads_n([(0.0, a)], 1.0, (0.0, 0.0, z), edge=edge)
    if z == 0.0:
        assert load == pytest.approx(G30 * 97.0 / (97.0 - a), rel=0.002)  # a lever: moments about the edge beside it
    rim = edge.points()[::3]
    least, rng = [], np.random.default_rng(5)
    for n in rng.normal(size=(60, 3)):
        f = G30 * n / np.linalg.norm(n)
        # T at the fixing, c at each place of the edge: forces along the axis, then moments about the fixing
        off, arms = np.array([0.0, -a]), rim - np.array([0.0, a])
        balance = np.vstack([np.r_[1.0, -np.ones(len(rim))], np.column_stack([np.zeros(2), arms.T])])
        found = linprog(np.r_[1.0, np.zeros(len(rim))], A_eq=balance, b_eq=[f[2], *-(f[2] * off - z * f[:2])])
        if found.success:
            least.append(found.fun)
    assert 0.85 * load < max(least) <= 1.01 * load


def test_two_fixings_on_a_line_pull_against_the_edge_beside_it() -> None:
    # By hand: half of the pull each; along the line a couple z / 2a; across it the edge at R presses with z / R, half each.
    pair, z = [(-80.0, 0.0), (80.0, 0.0)], -30.0
    loads = fixing_loads_n(pair, 1.0, (0.0, 0.0, z), edge=circle(97.0))
    assert loads == pytest.approx([G30 * np.linalg.norm([0.5, z / 160.0, z / 194.0])] * 2, rel=1e-3)
    chord = [(-60.0, 60.0), (60.0, 60.0)]  # all on one side of the speaker: the near edge is 37 mm beyond their line
    (load, _) = fixing_loads_n(chord, 1.0, (0.0, 0.0, 0.0), edge=circle(97.0))
    assert load == pytest.approx(G30 / 2 * (1 + 60.0 / 37.0), rel=1e-3)
    row = STOCK.fixing("rivet nut", "M5")
    alone = fixing_checks([FixingPoint(0.0, 87.0, row)], 1.4, (0.0, 0.0, -20.0), edge=circle(97.0))[0]
    assert alone.verdict == "stop"
    both = [FixingPoint(x, y, row) for x, y in pair]
    assert fixing_checks(both, 1.4, (0.0, 0.0, -20.0), edge=circle(97.0))[0].verdict == "caution"


def points(holds: str, screw: str, metal: str = "steel", edge: float | None = None) -> list[FixingPoint]:
    row = STOCK.fixing(holds, screw, metal)
    return [FixingPoint(x, y, row, f"fixing {i}", edge) for i, (x, y) in enumerate(ring(3, 80.5, pi / 2), 1)]


@pytest.mark.parametrize(
    ("holds", "screw", "mass", "verdict"),
    [
        ("rivet nut", "M5", 1.3, "ok"),
        ("sheet nut", "ST4.2", 1.3, "caution"),  # about 140 N against 400 / 3
        ("expansion nut", "ST4.2", 1.3, "caution"),
        ("expansion nut", "ST3.5", 2.5, "stop"),  # past what pulls it out
    ],
)
def test_verdict_of_the_load(holds: str, screw: str, mass: float, verdict: str) -> None:
    check = fixing_checks(points(holds, screw), mass, (0.0, 0.0, 25.0), 0.8)[0]
    assert check.verdict == verdict
    assert check.value is not None
    assert check.limit == pytest.approx(STOCK.fixing(holds, screw).pull_out_n / SAFETY)
    assert (check.value <= check.limit) == (verdict == "ok")


def test_pins_hold_nothing_and_nothing_is_a_stop() -> None:
    pins = [FixingPoint(x, y, STOCK.fixing("pin")) for x, y in ring(3, 80.0)]
    assert fixing_checks(pins, 1.0, (0, 0, 0))[0].verdict == "stop"
    with_pin = [*points("rivet nut", "M5"), pins[0]]
    assert fixing_checks(with_pin, 1.0, (0, 0, 0))[0].value == pytest.approx(1.0 * G30 / 3)
    with pytest.raises(InputError):
        fixing_loads_n([], 1.0, (0, 0, 0))


def test_metal_too_thick_and_edge_too_near_are_said() -> None:
    nuts = points("sheet nut", "M5", edge=6.0)
    checks = fixing_checks(nuts, 0.3, (0, 0, 0), 2.5)
    assert [(c.part, c.verdict) for c in checks] == [("", "ok"), ("grip", "caution")]
    assert [(c.part, c.verdict) for c in metal_checks(nuts)] == [("edge", "caution")]


# ---- which screw


# ISO 273 medium: 5.5 for M5, 6.6 for M6.  Bare holes of rivet nuts (7 for M5, 9 for M6) are common trade practice.
@pytest.mark.parametrize(
    ("holds", "hole", "screw"),
    [("rivet nut", 5.5, "M5"), ("rivet nut", 5.0, "M5"), ("bolt", 6.6, "M6"), ("rivet nut", 7.0, "M5"),
     ("rivet nut", 9.0, "M6"), ("self-tap", 3.3, "ST4.2"), ("sheet nut", 3.3, "ST3.5"), ("hook", 4.0, ""),
     ("pin", 4.0, "")],
)  # fmt: skip
def test_the_screw_that_a_fixing_takes(holds: str, hole: float, screw: str) -> None:
    assert screw_for(STOCK, holds, hole) == screw


def test_a_hole_for_no_screw_is_refused() -> None:
    with pytest.raises(InputError, match="rivet nut"):
        screw_for(STOCK, "rivet nut", 2.0)


def test_threads_are_read() -> None:
    assert (read_threads("insert M4 short").name, read_threads("insert M4 short").size) == ("M4 short", "M4")
    for wrong in ("M4", "glue M4", "screw M4", "insert ST4.2", "insert"):
        with pytest.raises(InputError, match="threads"):
            read_threads(wrong)


# Lengths step as ISO 888: ... 10, 12, 16, 20, 25 ...  Rim 5.2, gasket 0.5, insert 8: 13.7 liked, so 16, whose tip
# is 10.3 below the seat and wants 11.3 of room.
def test_driver_screw_into_an_insert() -> None:
    screw = driver_screw(STOCK, read_threads("insert M4"), 5.2, 0.5, 11.3)
    assert (screw.length_mm, screw.engagement_mm, screw.tail_mm) == (16.0, 8.0, pytest.approx(2.3))
    assert screw.check.verdict == "ok"
    # Where 16 would come nearer the floor than a millimeter, 12 reaches 6.3 mm: more than 1 d.
    shorter = driver_screw(STOCK, read_threads("insert M4"), 5.2, 0.5, 11.0)
    assert (shorter.length_mm, shorter.check.verdict, shorter.check.limit) == (12.0, "ok", 4.0)


# 2 to 2.5 d of ST4.2 (4.22 mm): 8.44 to 10.55; rim 5.7: 16 gives 10.3, 19 gives 13.3 and wants 14.3 of room.
def test_driver_screw_into_plastic_takes_what_lies_between_2_and_2_5_d() -> None:
    tight = driver_screw(STOCK, read_threads("screw ST4.2"), 5.2, 0.5, 11.5)
    assert (tight.length_mm, tight.engagement_mm) == (16.0, pytest.approx(10.3))
    roomy = driver_screw(STOCK, read_threads("screw ST4.2"), 5.2, 0.5, 14.5)
    assert roomy.length_mm == 19.0
    none = driver_screw(STOCK, read_threads("screw ST4.2"), 5.2, 0.5, 7.0)
    assert (none.length_mm, none.check.verdict) == (None, "stop")  # 8.44 of thread in 7 mm of part


# M4 nut 3.2 (ISO 4032) and two turns of 0.7 below 6 mm of part: 5.7 + 6 + 4.6 = 16.3, so 20 if there is room.
def test_driver_screw_into_a_nut() -> None:
    screw = driver_screw(STOCK, read_threads("nut M4"), 5.2, 0.5, 15.5, thread_at_mm=6.0)
    assert (screw.length_mm, screw.engagement_mm) == (20.0, pytest.approx(3.2))
    # With 12 mm of room 16 still fills the nut (4.3 of 3.2); with 10 mm nothing between 14.9 and 14.7 does.
    cramped = driver_screw(STOCK, read_threads("nut M4"), 5.2, 0.5, 12.0, thread_at_mm=6.0)
    assert (cramped.length_mm, cramped.engagement_mm, cramped.check.verdict) == (16.0, pytest.approx(3.2), "ok")
    closed = driver_screw(STOCK, read_threads("nut M4"), 5.2, 0.5, 10.0, thread_at_mm=6.0)
    assert (closed.length_mm, closed.check.verdict) == (None, "stop")
    # The remedy is enough, and no more than that: 16 then fits with its millimeter.
    assert closed.check.remedy is not None
    more = {n: v for n, v, _ in closed.check.remedy.quantities}["more"]
    assert isinstance(more, float)
    opened = driver_screw(STOCK, read_threads("nut M4"), 5.2, 0.5, 10.0 + more, thread_at_mm=6.0)
    assert (opened.length_mm, opened.check.verdict) == (16.0, "ok")


@given(
    st.sampled_from(["insert M3", "insert M4", "insert M5 short", "screw ST4.2", "nut M5"]),
    st.floats(2.0, 10.0), st.floats(0.0, 2.0), st.floats(3.0, 30.0), st.floats(0.0, 5.0), st.floats(0.0, 1.0),
    st.floats(0.0, 6.0),
)  # fmt: skip
def test_a_driver_screw_keeps_off_the_floor_for_every_rim_it_may_be(
    threads: str, rim: float, gasket: float, room: float, above: float, error: float, deeper: float
) -> None:
    deepest = room + deeper
    screw = driver_screw(STOCK, read_threads(threads), rim, gasket, room, above, rim_error_mm=error, deepest_mm=deepest)
    lengths = STOCK.lengths_mm(screw.size)
    least = {"insert M3": 3.0, "insert M4": 4.0, "insert M5 short": 5.0, "screw ST4.2": 2 * 4.22, "nut M5": 4.7}
    if screw.check.verdict == "ok":
        assert screw.length_mm in lengths
        assert room - 1e-9 <= screw.depth_mm <= max(room, deepest) + 1e-9
        for off in (-error, error):
            into = screw.length_mm - rim - gasket - off  # tip below the seat
            assert into <= screw.depth_mm - 1.0 + 1e-5
            assert into - above >= least[threads] - 1e-5
        return
    # Nothing standard does: no length is long enough with the rim at its thickest and short enough at its thinnest.
    fits = [
        x
        for x in lengths
        if x - rim - gasket - error - above >= least[threads] + 1e-5
        and x - rim - gasket + error <= deepest - 1.0 - 1e-5
    ]
    assert not fits
    assert screw.check.remedy is not None


# 13 mm of part with a counterbore of 6, 1.5 of gasket, 1 d of M5: 13.5, so 16; 0.8 of skin: the screw ends 6.7
# behind, the nut 9.
def test_metal_screw_into_a_rivet_nut() -> None:
    screw = metal_screw(STOCK, STOCK.fixing("rivet nut", "M5"), 13.0, 1.5, 0.8, 6.0)
    assert (screw.length_mm, screw.engagement_mm, screw.tail_mm) == (16.0, 7.5, 9.0)
    assert screw.head_below_mm == pytest.approx(1.0)  # ISO 4762 M5 head 5.0 in a counterbore of 6
    assert screw.check.verdict == "ok"
    longer = metal_screw(STOCK, STOCK.fixing("rivet nut", "M5"), 18.0, 1.5, 0.8, 6.0)
    assert (longer.length_mm, longer.tail_mm) == (20.0, 9.0)


def test_metal_screw_into_a_tapped_sheet_and_onto_a_bolts_nut() -> None:
    tap = metal_screw(STOCK, STOCK.fixing("self-tap", "ST4.2"), 7.0, 1.5, 0.8)
    assert (tap.head, tap.length_mm, tap.tail_mm) == ("pan", 13.0, pytest.approx(3.7))
    bolt = metal_screw(STOCK, STOCK.fixing("bolt", "M5"), 7.0, 1.5, 0.8)  # washer, nut, two turns: 7.3
    assert bolt.length_mm == 20.0
    assert bolt.tail_mm == pytest.approx(10.7)


@pytest.mark.parametrize(("counterbore", "verdict"), [(6.0, "ok"), (5.5, "ok"), (5.2, "caution"), (4.0, "stop")])
def test_a_head_above_the_face_over_it_stops(counterbore: float, verdict: str) -> None:
    nut = STOCK.fixing("rivet nut", "M5")
    assert metal_screw(STOCK, nut, 13.0, 1.5, 0.8, counterbore).check.verdict == verdict
    # Under a seat that is sunk by 5 mm the same head wants 5 mm more.
    sunk = metal_screw(STOCK, nut, 18.0, 1.5, 0.8, counterbore, over_mm=5.0)
    assert sunk.check.verdict == "stop"
    assert metal_screw(STOCK, nut, 18.0, 1.5, 0.8, counterbore + 5.0, over_mm=5.0).check.verdict == verdict


def test_a_fixing_short_by_less_than_its_place_may_be_out_says_so() -> None:
    """0.2 mm less to the hole's edge than a rivet nut wants is ok only by the 0.3 mm that a place may be out by."""
    row = STOCK.fixing("rivet nut", "M5")
    wants = row.edge_mm
    said = [metal_checks([FixingPoint(84, 0, row, "one", wants - off)])[0] for off in (0.4, 0.2, 0.0)]
    assert [check.verdict for check in said] == ["caution", "ok", "ok"]
    assert ["may be out by" in check.title.template for check in said] == [False, True, False]
