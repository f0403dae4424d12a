"""The door: its limits against closed forms, its signs, its power, what sealing does."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.circuit import Network, netlist
from backwave.network.element import END_FLANGED, END_PISTON
from backwave.sound.box import closed_box
from backwave.sound.driver import Unit, from_parameters, place_unit
from backwave.sound.enclosures import (
    DOOR_KINDS,
    GIVEN_SPREAD,
    HOLE_M2,
    Door,
    InDoor,
    counted_area,
    fok,
    grille_impedance,
    holes_impedance,
    slit_end,
)
from backwave.sound.output_network import ChannelResponse, Load, channel_network, channel_response
from tests.network.ngspice import analyse

AIR = Air()
F = np.geomspace(10.0, 20_000.0, 120)
DRIVER = from_parameters({"Re": 3.3, "fs": 58.0, "Qms": 6.1, "Qes": 0.68, "Vas": 13.5e-3, "Sd": 133e-4})
UNIT = Unit(DRIVER, le_henry=0.28e-3)
FACE = pi * 0.075**2
DOOR = Door(0.022, 0.022 * FACE, FACE, 0.45, cover_area=220e-4)
TIGHT = replace(DOOR, holes_area=0.0, cover_area=0.0, outside_area=0.0, trim_leak=0.0, trim_area=0.0, cavity_loss=0.0)


def solved(door: Door, f: np.ndarray = F, spread: bool = False) -> ChannelResponse:
    return channel_response(f, 0.2, (Load(UNIT, InDoor(door)),), AIR, spread)


def into_cabin(door: Door, f: np.ndarray = F) -> np.ndarray:
    """All that flows into the cabin: what a small cabin's pressure hangs on."""
    return np.asarray(solved(door, f).loads[0].flow.sum(axis=0))


def test_a_tight_door_is_a_closed_box_behind_a_grille() -> None:
    # Small 1972: fc = fs sqrt(1 + Vas/Vb); the impedance peak sits there.
    f = np.linspace(40, 120, 4001)
    peak = f[np.argmax(np.abs(solved(TIGHT, f).z))]
    # the air before and behind the cone is not quite that of a baffle, so Mms is not quite the data sheet's
    assert peak == pytest.approx(closed_box(DRIVER, TIGHT.cavity_volume).fc, rel=0.03)
    flow = solved(TIGHT).loads[0]
    assert len(flow.outlets) == 1
    # below the chamber's resonance all that the cone moves goes through the grille
    low = F < 200
    cone = 2 * pi * F * flow.excursion / sqrt(2) * DRIVER.Sd
    np.testing.assert_allclose(np.abs(flow.flow[0])[low], cone[low], rtol=0.02)


def test_chamber_and_grille_resonate_as_helmholtz_said() -> None:
    # (c/2 pi) sqrt(S/(V l')): a neck of one hole at the front of a chamber (Kinsler et al.); l' with both ends
    r = 0.02
    one = replace(
        TIGHT, chamber_volume=2e-3, grille_area=pi * r**2, grille_open=1.0, grille_hole=r, grille_thickness=5e-3
    )
    share = fok(1.0)
    radiation = 8 * r / (3 * pi)  # the outer end is the piston's own mass
    length = 5e-3 + 2 * END_FLANGED * r * share + radiation
    expected = AIR.speed / (2 * pi) * sqrt(pi * r**2 / (2e-3 * length))
    f = np.linspace(0.6 * expected, 1.5 * expected, 3001)
    flow = solved(one, f).loads[0]
    ratio = np.abs(flow.flow[0]) / (2 * pi * f * flow.excursion / sqrt(2) * DRIVER.Sd)
    assert f[np.argmax(ratio)] == pytest.approx(expected, rel=0.02)


def test_the_grille_and_the_holes_are_masses_where_the_layers_are_thin() -> None:
    f = np.array([5_000.0])
    mass = holes_impedance(f, 100e-4, 0.03, 0.8e-3, AIR).imag / (2 * pi * f)
    assert mass == pytest.approx(AIR.density * (0.8e-3 + 2 * END_FLANGED * 0.03) / 100e-4, rel=0.01)
    wide = replace(DOOR, grille_open=0.2)
    assert (np.abs(grille_impedance(F, wide, AIR)) > np.abs(grille_impedance(F, DOOR, AIR))).all()


def test_fok_at_its_ends() -> None:
    assert fok(0.0) == 1.0
    assert fok(1.0) == pytest.approx(0.0, abs=0.01)  # no wall left between the holes, no end correction
    # Fok's function as tabulated in Rschevkin, Theory of Sound, 1963 (from memory): 1.16 at 0.1, 1.38 at 0.2, 1.68 at 0.3
    for xi, psi in ((0.1, 1.16), (0.2, 1.38), (0.3, 1.68)):
        assert 1 / fok(xi) == pytest.approx(psi, rel=0.02)
    with pytest.raises(InputError):
        fok(1.1)


def test_an_open_ring_shorts_the_bass_and_sealing_it_brings_it_back() -> None:
    open_door = replace(DOOR, holes_area=250e-4, ring_gap=8.5e-3)
    bass = (F > 25) & (F < 45)
    level = [
        20 * np.log10(np.abs(into_cabin(door))[bass]).mean()
        for door in (open_door, replace(open_door, ring_gap=1e-3), replace(open_door, ring_gap=0.0))
    ]
    assert level[0] < level[1] < level[2]
    assert level[2] - level[0] > 3


@pytest.mark.parametrize("kind", DOOR_KINDS)
def test_in_every_kind_of_door_a_wider_ring_is_never_more_bass(kind: str) -> None:
    of = DOOR_KINDS[kind]
    door = replace(DOOR, holes_area=of.holes_area, cover_area=of.cover_area, cover_mass=of.cover_mass)
    # above, the air before and behind a sheet resonates with it, and either may be more
    f = np.linspace(20, 50, 40)
    flows = [np.abs(into_cabin(replace(door, ring_gap=gap), f)) for gap in (0.0, 0.3e-3, 1e-3, 3e-3, 10e-3)]
    for tighter, wider in pairwise(flows):
        assert (wider <= tighter * 1.002).all()


def test_front_and_rear_are_of_opposite_sign() -> None:
    # with holes and trim wide open and the cavity's stiffness gone, what comes out at the front goes in at the back
    loose = replace(
        DOOR, holes_area=0.2, trim_leak=0.2, trim_area=0.0, cover_area=0.0, cavity_volume=1e-3, outside_area=0.0
    )
    flow = solved(loose, np.array([15.0])).loads[0].flow
    assert abs(flow.sum()) < 0.05 * np.abs(flow[0])


def test_a_hole_to_the_outside_takes_the_cavitys_stiffness_away() -> None:
    f = np.linspace(35, 140, 3001)
    peaks = [f[np.argmax(np.abs(solved(replace(TIGHT, outside_area=a), f).z))] for a in (0.0, 0.5)]
    assert peaks[0] > peaks[1]
    assert peaks[1] == pytest.approx(DRIVER.fs, rel=0.06)


@pytest.mark.parametrize("side", ["bore_length", "front_bore_length"])
def test_a_longer_bore_is_more_mass_on_either_side_of_the_cone(side: str) -> None:
    f = np.linspace(35, 140, 3001)
    short, long = (
        f[np.argmax(np.abs(solved(replace(TIGHT, **{side: n}, bore_radius=0.03), f).z))] for n in (0.0, 0.06)
    )
    extra = AIR.density * 0.06 / (pi * 0.03**2) * DRIVER.Sd**2
    assert long / short == pytest.approx(sqrt(1 / (1 + extra / DRIVER.Mms)), abs=0.01)


def test_the_end_of_a_slit_is_rayleighs_integral_over_a_rectangle() -> None:
    # mass of a rectangular piston in a baffle: rho/(2 pi S^2) times the integral of 1/r over it twice (Rayleigh), here
    # by quadrature of 4 (a-u)(b-v)/r with the inner integral in closed form
    for w, h, rel in ((1.5, 2e-3, 1e-4), (20e-3, 2e-3, 2e-3), (2e-3, 20e-3, 2e-3), (10e-3, 10e-3, 0.03)):

        def inner(v: float, a: float = w, b: float = h) -> float:
            return float((b - v) * (a * np.arcsinh(a / v) - np.hypot(a, v) + v))

        twice = 4 * quad(inner, 0, h, epsabs=0, epsrel=1e-9, limit=200)[0]
        assert slit_end(w, h) == pytest.approx(twice / (2 * pi * w * h), rel=rel)


def test_a_heavy_trim_on_no_spring_is_its_mass_and_that_of_the_air_before_it() -> None:
    # Rayleigh: the air before a piston in a baffle weighs as a slug 8 a/(3 pi) deep
    trim = replace(DOOR, trim_hz=1e-3)
    n = Network()
    InDoor(trim).place(n, "m", DRIVER, "0", "rear", AIR)
    n.current("cone", "0", "rear")
    mass = n.solve([20.0]).z("m.trim").imag / (2 * pi * 20.0)
    a = sqrt(DOOR.trim_area / pi)
    assert mass == pytest.approx(DOOR.trim_mass / DOOR.trim_area + AIR.density * END_PISTON / (pi * a), rel=1e-3)


@pytest.mark.parametrize("hertz", [30.0, 63.0, 200.0, 1000.0])
def test_the_whole_door_against_ngspice(hertz: float, tmp_path: Path) -> None:
    # ngspice, an independent program; each impedance as the resistor and coil or capacitor it is at that frequency
    door = replace(DOOR, ring_gap=2e-3, front_bore_length=5e-3, bore_length=12e-3)
    n = Network()
    n.voltage("source", "in", "0", 1.0)
    place_unit(n, "d", UNIT, "in", "0", "before", "behind", InDoor(door).mass_kg(DRIVER, AIR))
    InDoor(door).place(n, "m", DRIVER, "before", "behind", AIR)
    nodes = list(dict.fromkeys(m for e in n.elements for m in e.nodes if m != "0"))
    text = netlist(n, hertz)
    number = {line.split(" is ", 1)[1]: line.split()[2] for line in text.splitlines() if line.startswith("* node ")}
    _, found, _ = analyse(text, [f"v({number[m]})" for m in nodes], f"lin 1 {hertz} {hertz}", tmp_path)
    solution = n.solve([hertz])
    for m in nodes:
        assert solution.v(m)[0] == pytest.approx(found[f"v({number[m]})"][0], rel=1e-6)


lengths = st.one_of(st.just(0.0), st.floats(1e-4, 20e-3))
areas = st.one_of(st.just(0.0), st.floats(1e-5, 400e-4))


@st.composite
def doors(draw: st.DrawFn) -> Door:
    return replace(
        DOOR, ring_gap=draw(lengths), holes_area=draw(areas), cover_area=draw(areas), outside_area=draw(areas),
        trim_leak=draw(areas), bore_length=draw(lengths), front_bore_length=draw(lengths), grille_open=draw(st.floats(0.05, 1.0)),
        cavity_volume=draw(st.floats(5e-3, 80e-3)), gap_volume=draw(st.floats(1e-3, 20e-3)),
    )  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(doors())
def test_any_door_is_finite_passive_and_balances_its_power(door: Door) -> None:
    found = solved(door)
    assert np.isfinite(found.loads[0].flow).all()
    assert (found.z.real > 0).all()
    solution = channel_network(0.2, (Load(UNIT, InDoor(door)),), AIR)[0].solve(F)
    spent = {name: solution.power(name) for name in solution.system.parts if name != "source"}
    assert all((p > -1e-12).all() for p in spent.values())
    np.testing.assert_allclose(sum(spent.values()), -solution.power("source"), rtol=1e-7)


@settings(max_examples=25, deadline=None)
@given(doors(), st.floats(1.2, 4.0))
def test_below_every_resonance_a_tighter_ring_is_never_less_bass(door: Door, more: float) -> None:
    f = np.array([1e-3])  # a sheet on the air of two spaces resonates at a few hertz, a small one in a slit at 0.06
    tight = abs(into_cabin(replace(door, ring_gap=0.0), f)[0])
    wide = abs(into_cabin(replace(door, ring_gap=max(door.ring_gap, 1e-3) * more), f)[0])
    assert wide <= tight * 1.02


def test_every_uncertain_element_is_there_and_moves_something() -> None:
    full = replace(DOOR, ring_gap=3e-3)
    mount = InDoor(full, (("cavity", 0.25),))
    assert mount.spread()["cavity"] == 0.25
    found = channel_response(F, 0.2, (Load(UNIT, mount),), AIR)
    assert {m.element for m in found.moved} >= {f"mount.{name}" for name in GIVEN_SPREAD}
    for moved in found.moved:
        assert not np.allclose(moved.less[0], moved.more[0], rtol=1e-9)
    assert set(InDoor(TIGHT).spread()) == {"chamber", "grille", "gap", "cavity"}


def test_kinds_and_holes_counted() -> None:
    assert list(DOOR_KINDS) == ["open", "sheet", "carrier", "sealed"]
    assert DOOR_KINDS["open"].holes_area > DOOR_KINDS["sheet"].holes_area > DOOR_KINDS["sealed"].holes_area
    assert counted_area(finger=2, hand=1) == pytest.approx(2 * HOLE_M2["finger"] + HOLE_M2["hand"])
    with pytest.raises(InputError):
        counted_area(fist=-1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"grille_open": 1.2},
        {"grille_open": 0.0},
        {"cavity_volume": 0.0},
        {"ring_gap": -1e-3},
        {"skin": float("nan")},
        {"front_bore_length": -0.01},
    ],
)
def test_doors_that_cannot_be(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        replace(DOOR, **wrong)
