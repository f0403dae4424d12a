"""The field above the modes and the whole transfer: textbook half space, energy balances, the changeover."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.element import piston_radiation
from backwave.sound.cabin import (
    BoxCabin,
    Piston,
    Transfer,
    cabin_transfer,
    changeover_hz,
    diffuse_field,
    half_space,
    mean_absorption,
    modal_transfer,
    mode_count,
    zeroth_transfer,
)
from backwave.sound.driver import from_parameters

AIR = Air()
RHO, C = AIR.density, AIR.speed
CABIN = BoxCabin(1.45, 1.70, 1.25)
LEFT, RIGHT = Piston((0.5, 0.06, 0.3), (0, 1, 0), 0.065), Piston((0.5, 1.64, 0.3), (0, -1, 0), 0.065)
EAR, MIDDLE = (0.95, 0.42, 0.95), (0.95, 0.85, 0.95)
ORIGIN, UP = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def test_half_space_gives_the_reference_level_of_the_worked_driver() -> None:
    """Small 1972, JAES 20(5):383-395: 88.41172 dB at 1 m for 1 W, where the cone is held by its mass alone."""
    d = from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})
    f = np.array([200.0, 400.0])
    flow = d.Sd * d.Bl / np.sqrt(d.Re) / (2j * np.pi * f * d.Mms)
    p = half_space(f, [Piston(ORIGIN, UP)], [(0, 0, 1.0)])[:, 0, 0] * flow
    assert 20 * np.log10(np.abs(p) / 20e-6) == pytest.approx(88.41172, abs=1e-4)
    # Mass-controlled, sound at 1 m is in step with the cone's acceleration but 2.913753 ms later (1 m, 343.2 m/s).
    assert p == pytest.approx(np.abs(p) * np.exp(-2j * np.pi * f * 2.913753e-3), rel=1e-5)


def test_sealed_volume_meets_half_space_where_the_text_says_and_gains_12_db_an_octave() -> None:
    """(c/2 pi) sqrt(2 pi r/V) = 79.0491 Hz at 1 m in 3 m3 (Beranek and Mellow, Acoustics, 2012: the two limits)."""
    f = 79.0491 / 2.0 ** np.arange(4)
    gain = np.abs(zeroth_transfer(f, 3.0) / half_space(f, [Piston(ORIGIN, UP)], [(0, 0, 1.0)])[:, 0, 0])
    assert 20 * np.log10(gain) == pytest.approx(12.0412 * np.arange(4), abs=1e-3)


def test_directivity_has_its_first_zero_where_j1_has() -> None:
    """j(1,1) = 3.83171 (Abramowitz and Stegun, table 9.5): ka sin(angle) of the first quiet direction."""
    radius, f = 0.065, 8000.0
    sine = 3.83171 / (2 * np.pi * f * radius / C)
    r, cosine = 2.0, np.sqrt(1 - sine**2)
    on, quiet, beside, behind = half_space(
        [f],
        [Piston(ORIGIN, (0, 0, 3.0), radius)],
        [(0, 0, r), (r * sine, 0, r * cosine), (0, r * 0.9 * sine, r * np.sqrt(1 - (0.9 * sine) ** 2)), (0, 0, -r)],
    )[0, :, 0]
    assert abs(quiet / on) < 1e-5
    assert abs(beside / on) > 0.03
    assert behind == 0


def test_power_through_the_half_sphere_is_that_of_the_radiation_resistance() -> None:
    """Rayleigh: the directivity integrated over all directions against the Bessel form of the resistance."""
    radius, f, r = 0.08, np.array([100.0, 1000.0, 2500.0, 6000.0]), 5.0
    node, weight = np.polynomial.legendre.leggauss(60)
    cosine = (node + 1) / 2
    seats = np.stack([r * np.sqrt(1 - cosine**2), 0 * cosine, r * cosine], axis=-1)
    p = half_space(f, [Piston(ORIGIN, UP, radius)], seats)[:, :, 0]
    power = 2 * np.pi * r**2 * (np.abs(p) ** 2 / (RHO * C)) @ (weight / 2)
    assert power == pytest.approx(piston_radiation(f, radius, RHO, C).real, rel=1e-6)


def test_changeover_of_a_reverberation_room_is_schroeders() -> None:
    """2000 sqrt(T/V), T 10 s, 200 m3 (Schroeder 1962, JASA 34:1819); his 2000 is 2094 by volume alone."""
    hall, seconds = BoxCabin(7.0, 5.7, 5.0), 10.0
    expected = 2000 * np.sqrt(seconds / hall.volume)
    found = changeover_hz(hall, 2.2 / (seconds * expected))
    assert found == pytest.approx(expected, rel=0.05)


def test_changeover_by_counting_the_modes() -> None:
    box, eta = CABIN, 0.15
    f = changeover_hz(box, eta)
    counted = len(box.eigenfrequencies(f * 1.3, C)) - len(box.eigenfrequencies(f / 1.3, C))
    assert counted / (f * 1.3 - f / 1.3) * eta * f == pytest.approx(3.0, rel=0.25)  # about 40 modes
    assert changeover_hz(box, 0.3) < f < changeover_hz(box, 0.05)


def test_modal_energy_is_power_over_loss() -> None:
    """Energy balance W = eta w E, E = p^2 V/(rho c^2), over a band and all places (Lyon, Statistical Energy Analysis).

    A source anywhere in the space feeds rho w^2/(4 pi c) by the ratio of the modes there are to the volume's own.
    """
    eta, f = 0.02, np.linspace(500, 600, 50)
    rng = np.random.default_rng(7)
    spots = [Piston(tuple(x), UP) for x in rng.uniform(size=(60, 3)) * CABIN.sides]
    seats = rng.uniform(size=(60, 3)) * CABIN.sides
    found = (np.abs(modal_transfer(f, CABIN, spots, seats, eta, reach=1.5)) ** 2).mean()
    w = 2 * np.pi * f
    modes = (mode_count(CABIN, 600.0, C) - mode_count(CABIN, 500.0, C)) / (
        4 * np.pi / 3 * CABIN.volume * (600**3 - 500**3) / C**3
    )
    expected = (RHO * w**2 / (4 * np.pi * C) * modes * RHO * C**2 / (eta * w * CABIN.volume)).mean()
    assert 10 * np.log10(found / expected) == pytest.approx(0, abs=1.0)  # 60 places


@pytest.mark.parametrize("box", [CABIN, BoxCabin(2.4, 1.4, 1.1)])
@pytest.mark.parametrize("eta", [0.05, 0.15])
def test_level_is_carried_over_the_changeover(box: BoxCabin, eta: float) -> None:
    """Two models that share no formula: mean over places within 3 dB, the spread of the band given."""
    rng = np.random.default_rng(3)
    spots = rng.uniform(size=(30, 3)) * box.sides
    wall = rng.integers(3, size=30)
    spots[np.arange(30), wall] = np.array(box.sides)[wall] * rng.integers(2, size=30)
    pistons = [Piston(tuple(x), box.inward(tuple(x))) for x in spots]
    seats = (0.2 + 0.6 * rng.uniform(size=(30, 3))) * box.sides
    change = changeover_hz(box, eta)
    f = np.linspace(change / 1.2, change * 1.2, 30)
    modal = (np.abs(modal_transfer(f, box, pistons, seats, eta)) ** 2).mean()
    field = (np.abs(half_space(f, pistons, seats)) ** 2).mean()
    field += (diffuse_field(f, box, pistons, mean_absorption(box, eta)) ** 2).mean()
    assert abs(10 * np.log10(field / modal)) < 3


def test_diffuse_field_at_its_limits() -> None:
    """A wall that takes all leaves none; one that takes next to nothing holds W/rate (Sabine)."""
    f = [1000.0]
    assert diffuse_field(f, CABIN, [LEFT], 1.0) == 0
    power = piston_radiation(f, LEFT.radius, RHO, C).real[0]
    area = 1e-4 * CABIN.surface
    assert diffuse_field(f, CABIN, [LEFT], 1e-4)[0, 0] ** 2 == pytest.approx(4 * RHO * C * power / area, rel=1e-3)
    small = diffuse_field(f, CABIN, [Piston(LEFT.at, LEFT.axis, 1e-4), Piston(LEFT.at, LEFT.axis)], 0.4)[0]
    assert small[0] == pytest.approx(small[1], rel=1e-5)
    assert 0 < mean_absorption(CABIN, 0.05) < mean_absorption(CABIN, 0.15) < mean_absorption(CABIN, 1.0) == 1


def both() -> Transfer:
    return cabin_transfer(np.geomspace(20, 20000, 120), CABIN, [LEFT, RIGHT], [EAR, MIDDLE])


def test_below_pressures_add_and_above_energies_do() -> None:
    t = both()
    alike = np.ones((120, 2)) * 1e-4
    low, high = t.f_hz < t.changeover_hz / np.sqrt(2), t.f_hz > t.changeover_hz * np.sqrt(2)
    assert low.sum() > 20
    assert high.sum() > 20
    one = [t.mean_square(alike * side) for side in ([1, 0], [0, 1])]
    sum_ = t.mean_square(alike)
    # A seat in the middle hears twice the pressure below, twice the energy above.
    assert sum_[low, 1] == pytest.approx(4 * one[0][low, 1], rel=1e-9)
    assert sum_[high] == pytest.approx((one[0] + one[1])[high], rel=1e-9)
    assert t.mean_square(alike, together=True)[low] == pytest.approx(sum_[low], rel=1e-12)
    # One side reversed: silence below, and no difference above, except for the direct sound at the one point.
    reversed_ = alike * [1, -1]
    assert t.mean_square(reversed_)[low, 1].max() < 1e-20 * sum_[low, 1].min()
    assert t.mean_square(reversed_)[high] == pytest.approx(sum_[high], rel=1e-9)
    direct = t.mean_square(reversed_, together=True)[high, 1] - 2 * (t.diffuse[high, 0] * 1e-4) ** 2
    assert direct == pytest.approx(0, abs=1e-9 * float(sum_[high, 1].max()))


def test_blend_is_an_octave_wide_and_leaves_the_ends_alone() -> None:
    t = both()
    assert (np.diff(t.share) >= 0).all()
    assert t.share[t.f_hz < t.changeover_hz / np.sqrt(2)].max() == 0
    assert t.share[t.f_hz > t.changeover_hz * np.sqrt(2)].min() == 1
    mid = cabin_transfer([t.changeover_hz], CABIN, [LEFT], [EAR])
    assert mid.share == pytest.approx(0.5)
    modal = modal_transfer(t.f_hz[:20], CABIN, [LEFT, RIGHT], [EAR, MIDDLE])
    # Fewer modes are carried for 20 frequencies than for all: the same within what the springs leave.
    assert t.modal[:20] == pytest.approx(modal, abs=0.02 * float(np.abs(modal).max()))
    assert (t.modal[t.share == 1] == 0).all()


def test_what_cannot_be_answered_is_refused() -> None:
    with pytest.raises(InputError, match="volume velocities"):
        both().mean_square(np.ones((120, 3)))
    with pytest.raises(InputError, match="distance of a seat"):
        half_space([100.0], [LEFT], [(0.5, 0.1, 0.3)])
    with pytest.raises(InputError, match="position of the seat"):
        cabin_transfer([5000.0], CABIN, [LEFT], [(5.0, 0.0, 0.0)])
    with pytest.raises(InputError, match="mean absorption"):
        diffuse_field([5000.0], CABIN, [LEFT], 1.5)
    with pytest.raises(InputError, match="loss factor"):
        changeover_hz(CABIN, 0.0)
