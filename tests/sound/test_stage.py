"""Stages: levels against closed forms, bands, limits, differences that know what cancels."""

from __future__ import annotations

from math import log10, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sound.textbook import sensitivity_db

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.sound.cabin import BoxCabin, Piston, Transfer, cabin_transfer, free_transfer
from backwave.sound.driver import Unit, from_parameters
from backwave.sound.enclosures import Baffle, InBox
from backwave.sound.output_network import ChannelResponse, Load, channel_response
from backwave.sound.stage import (
    COVERAGE,
    REST_SD,
    StageLevels,
    StageLimits,
    Voice,
    band_difference,
    difference,
    level_db,
    loudest,
    model_sd_db,
    relief,
    stage_levels,
)

F = np.geomspace(20.0, 5_000.0, 60)
AIR = Air()
DRIVER = from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})
UNIT = Unit(DRIVER)
CABIN = BoxCabin(1.45, 1.70, 1.25)
AT = ((0.5, 0.06, 0.3), (0.5, 1.64, 0.3))
EARS = [(0.95, 0.42, 0.95)]
FAR = StageLimits(None, None, 1e6)
ONE = np.ones(len(F), dtype=complex)


def voice(
    k: int = 0, gain: complex = 1.0, limits: StageLimits = FAR, label: str = "door", limit_hz: float = 1e5
) -> Voice:
    return Voice(f"v{k}", label, k, 0, (k,), gain * ONE, limit_hz, limits)


def free(n: int = 1) -> Transfer:
    return free_transfer(F, [Piston((0, 0, 0), (1, 0, 0), DRIVER.radius)] * n)


def closed(volume: float = 8e-3) -> ChannelResponse:
    return channel_response(F, 0.1, (Load(UNIT, InBox(volume, leak_q=10.0)),))


def test_in_half_space_it_is_the_textbooks_level() -> None:
    # Small 1972: efficiency fixes the passband level; the worked driver of tests/sound/test_driver.py, 2.83 V, 1 m.
    found = stage_levels((channel_response(F, 0.0, (Load(UNIT, Baffle()),)),), (2.83 * ONE,), (voice(),), free(), (0,))
    s = 1j * F / DRIVER.fs
    rise = 20 * np.log10(np.abs(s**2 / (s**2 + s / DRIVER.Qts + 1)))
    below = F < 500
    np.testing.assert_allclose((found.level[0] - rise)[below], sensitivity_db(DRIVER, 2.83), atol=0.1)


def test_two_in_phase_are_six_decibels_and_turned_round_nothing() -> None:
    one = closed()
    alone = stage_levels((one,), (ONE,), (voice(),), free(), (0,), True)
    two = stage_levels((one, one), (ONE, ONE), (voice(0), voice(1)), free(2), (0, 1), True)
    np.testing.assert_allclose(two.level - alone.level, 20 * log10(2), atol=1e-9)
    apart = stage_levels((one, one), (ONE, ONE), (voice(0), voice(1)), free(2), (0, 1))
    np.testing.assert_allclose(apart.level - alone.level, 10 * log10(2), atol=1e-9)  # energies, above the modes
    against = stage_levels((one, one), (ONE, -ONE), (voice(0), voice(1)), free(2), (0, 1), True)
    assert (against.level < alone.level - 60).all()
    np.testing.assert_allclose(two.alone["v0"], alone.level, atol=1e-9)


def test_the_band_is_each_element_moved_and_added_in_quadrature() -> None:
    found = stage_levels((closed(),), (ONE,), (voice(),), free(), (0,))
    assert set(found.moved) == {"door.Re", "door.Bl", "door.cone", "door.Cms", "door.mount.air", "door.mount.leak"}
    up = sqrt(sum(float(np.maximum(pair[:, 0, 0].max(), 0)) ** 2 for pair in found.moved.values()) + 1.5**2)
    assert found.high[0, 0] - found.level[0, 0] == pytest.approx(COVERAGE * up)
    # Bl 5 % up is 0.42 dB more in the mass-controlled band (pressure goes with Bl), by Small's efficiency.
    middle = (F > 400) & (F < 1000)
    assert found.moved["door.Bl"][1, 0, middle].mean() == pytest.approx(20 * 0.05 / np.log(10), abs=0.05)


def test_what_both_doors_share_moves_both_at_once() -> None:
    one = closed()
    together = stage_levels((one, one), (ONE, ONE), (voice(0), voice(1)), free(2), (0, 1))
    single = stage_levels((one,), (ONE,), (voice(),), free(), (0,))
    np.testing.assert_allclose(together.moved["door.Bl"], single.moved["door.Bl"], atol=1e-9)
    apart = stage_levels((one, one), (ONE, ONE), (voice(0, label="a"), voice(1, label="b")), free(2), (0, 1))
    assert (np.abs(apart.moved["a.Bl"]) < np.abs(single.moved["door.Bl"]) + 1e-12).all()


def test_the_model_is_less_sure_above_and_where_a_cone_is_no_piston() -> None:
    # 95 %: 3 dB below 200 Hz, 5 dB above 300 Hz (common trade practice, PRACTICE), more beyond the piston's range
    sd = model_sd_db(np.array([50.0, 1000.0, 8000.0]), np.ones((3, 1)), np.array([2000.0]))
    assert sd == pytest.approx([1.5, 2.5, 2.5 + 1.5 * 2])
    found = stage_levels((closed(),), (ONE,), (voice(limit_hz=1000.0),), free(), (0,))
    np.testing.assert_array_equal(found.beyond, F > 1000)


def test_the_loudest_is_the_first_limit_of_one_volume() -> None:
    one = channel_response(F, 0.0, (Load(UNIT, InBox(8e-3)),))
    x = one.loads[0].excursion
    limits = StageLimits(2e-3, 40.0, 12.0)
    found = loudest((one,), (2.0 * ONE,), (voice(limits=limits),))
    gains = {"clip": np.full(len(F), 6.0), "excursion": 1e-3 / x, "heat": np.sqrt(10.0 / one.loads[0].heat)}
    least = np.min(list(gains.values()), axis=0)
    np.testing.assert_allclose(found.gain_db, 20 * np.log10(least))
    for k, cause in enumerate(found.cause):
        assert gains[cause][k] == least[k]
    assert found.cause[0] == "excursion"
    # twice the drive leaves half the room, and the same limit
    again = loudest((one,), (4.0 * ONE,), (voice(limits=limits),))
    np.testing.assert_allclose(found.gain_db - again.gain_db, 20 * log10(2))
    assert again.cause == found.cause


def played(volume: float = 8e-3, drive: complex = 1.0, second: complex = 1.0) -> StageLevels:
    cabin = cabin_transfer(F, CABIN, [Piston(at, CABIN.inward(at), DRIVER.radius) for at in AT], EARS)
    one = closed(volume)
    return stage_levels((one, one), (drive * ONE, second * drive * ONE), (voice(0), voice(1)), cabin, (0, 1))


def test_a_difference_is_known_better_than_either() -> None:
    before, after = played(), played(drive=2.0)
    found = difference(before, after)
    np.testing.assert_allclose(found.delta, 20 * log10(2), atol=1e-9)
    # the same outlets carry the same shares and every element cancels: only the rest is left
    np.testing.assert_allclose(found.high - found.low, 2 * COVERAGE * REST_SD, rtol=1e-6)
    other = difference(before, played(volume=20e-3))
    assert ((other.high - other.low) < (before.high - before.low)).all()
    assert ((other.high - other.low) > 2 * COVERAGE * REST_SD - 1e-9).all()


def test_a_difference_between_other_outlets_keeps_what_the_model_is_out_by() -> None:
    left, right = played(second=0.0), played()
    found = difference(left, right)
    inside = F > 1000
    apart = np.abs(right.shares - left.shares).sum(axis=-1)[0, inside] / 2
    sd = np.hypot(sqrt(2) * right.model_sd[inside] * apart, REST_SD)
    np.testing.assert_allclose((found.high - found.delta)[0, inside], COVERAGE * sd, rtol=0.02)


def test_means_over_a_band() -> None:
    before, after = played(), played(volume=20e-3)
    found = band_difference(before, after, 50, 100)
    inside = (F >= 50) & (F <= 100)
    curve = difference(before, after)
    assert found.delta == pytest.approx(curve.delta[0, inside].mean())
    assert curve.low[0, inside].min() <= found.low <= found.delta <= found.high <= curve.high[0, inside].max()
    assert band_difference(before, played(drive=4.0), 50, 100).sure
    with pytest.raises(InputError):
        band_difference(before, after, 1e5, 2e5)
    with pytest.raises(InputError):
        difference(before, stage_levels((closed(),), (ONE,), (voice(),), free(), (0,)))


def test_relief() -> None:
    before = np.full(len(F), 4e-3)
    found = relief(F, before, before / 4)
    assert (found.before_mm, found.after_mm, found.db) == pytest.approx((4.0, 1.0, 20 * log10(4)))


def test_no_voice_or_other_frequencies() -> None:
    with pytest.raises(InputError, match="voices"):
        stage_levels((closed(),), (ONE,), (), free(), (0,))
    other = channel_response(F * 1.01, 0.1, (Load(UNIT, Baffle()),))
    with pytest.raises(InputError, match="frequencies"):
        stage_levels((other,), (ONE,), (voice(),), free(), (0,))


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 1.0), st.floats(-180, 180), st.floats(0.1, 10))
def test_bands_hold_the_line_and_shares_are_shares(size: float, turn: float, drive: float) -> None:
    found = played(drive=drive, second=size * np.exp(1j * np.radians(turn)))
    assert (found.low <= found.level).all()
    assert (found.level <= found.high).all()
    np.testing.assert_allclose(found.shares.sum(axis=-1), 1.0)
    unit = played(second=size * np.exp(1j * np.radians(turn)))
    np.testing.assert_allclose(found.level - unit.level, 20 * log10(drive), atol=1e-6)


def test_level_of_a_pascal() -> None:
    assert level_db(np.array(1.0)) == pytest.approx(93.9794, abs=1e-4)  # 20 log10(1/20e-6)
