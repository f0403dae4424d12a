"""Currents, budget and reserve against worked values and a simulation of music."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.power import Supply, SupplyLoad, current_budget, load_current
from backwave.power.current import engine_off_min

VAN = Supply(12.6, 60, 0.008, 90, 45, 32)
AMP = SupplyLoad("amp", 75, 4, 4, 0.80, fuses_a=(25, 25))


@pytest.mark.parametrize(("efficiency", "amps"), [(0.5, 28.986), (0.6, 24.155), (0.85, 17.050)])
def test_rated_current_is_the_worked_value(efficiency: float, amps: float) -> None:
    # 4 x 50 W at 13.8 V: 200/(e 13.8).
    found = load_current(SupplyLoad("a", 50, 4, 4, efficiency), Supply(running_v=13.8))
    assert found is not None
    assert found.rated_a == pytest.approx(amps, abs=1e-3)


def test_a_regulated_load_draws_its_power_at_rest() -> None:
    found = load_current(replace(AMP, regulated=True), VAN)
    assert found is not None
    assert found.rated_a == pytest.approx(300 / 0.8 / 12.6)


def test_24_volts_halve_the_current() -> None:
    twelve, twentyfour = load_current(AMP, Supply()), load_current(AMP, Supply(system=24))
    assert twelve is not None
    assert twentyfour is not None
    assert twelve.rated_a == pytest.approx(2 * twentyfour.rated_a)


def test_music_at_12_db_is_an_eighth_of_rated_power() -> None:
    # One-eighth of rated power is what IEC 62368-1 annex E tests amplifiers at (from memory).
    found = load_current(AMP, VAN)
    assert found is not None
    assert found.musical_a / found.rated_a == pytest.approx(1 / 8, rel=0.02)


@pytest.mark.parametrize("crest", [9.0, 12.0, 15.0])
def test_musical_current_is_that_of_noise_through_each_class(crest: float) -> None:
    # Two roads: noise of that crest factor, sample by sample.  Class D draws its output power; class AB the magnitude
    # of its output current from the rail, whichever half conducts.
    u = np.random.default_rng(1).standard_normal(400_000)
    u *= 10 ** (-crest / 20) / np.sqrt(np.mean(u**2))  # peaks of the rated sine are 1
    sine = np.sin(2 * np.pi * np.arange(10_000) / 10_000)
    expected = {"D": np.mean(u**2) / np.mean(sine**2), "AB": np.mean(np.abs(u)) / np.mean(np.abs(sine))}
    for klass, share in expected.items():
        found = load_current(replace(AMP, klass=klass, crest_db=crest), VAN)  # type: ignore[arg-type]
        assert found is not None
        assert found.musical_a / found.rated_a == pytest.approx(share, rel=0.01), klass


def test_a_sine_draws_the_rated_current() -> None:
    found = load_current(replace(AMP, crest_db=3.0103), VAN)
    assert found is not None
    assert found.musical_a == pytest.approx(found.rated_a, rel=1e-5)


def test_own_fuses_count_where_the_rating_says_less() -> None:
    found, lying = load_current(AMP, VAN), load_current(replace(AMP, power_w=5), VAN)
    assert found is not None
    assert lying is not None
    assert found.design_a == lying.design_a == 50
    alone = load_current(SupplyLoad("old", fuses_a=(20,)), VAN)
    assert alone is not None
    assert alone.rated_a == 20
    assert "power" in {a.key for a in alone.assumed}


def test_the_budget_is_what_is_left() -> None:
    found = current_budget([AMP], VAN)
    assert found.rated_a == pytest.approx(300 / 0.8 / 14.4)
    assert found.idle_spare_a == pytest.approx(45 - 32 - found.musical_a)
    assert found.speed_spare_a == pytest.approx(90 - 32 - found.musical_a)
    assert [c.verdict for c in found.checks] == ["ok", "ok"]
    loud = current_budget([replace(AMP, power_w=600)], VAN)
    assert loud.idle_spare_a is not None
    assert loud.idle_spare_a < 0
    assert loud.checks[0].verdict == "caution"
    assert "idle" in loud.checks[0].title.template


def test_what_nobody_gave_is_asked_for() -> None:
    found = current_budget([AMP, SupplyLoad("mystery")], Supply())
    codes = {c.code: c for c in found.checks}
    assert codes["power.load"].part == "mystery"
    budget = codes["power.budget"]
    assert budget.verdict == "caution"
    assert budget.remedy is not None
    assert "vehicle" in budget.remedy.template
    assert (found.idle_spare_a, found.off_min) == (None, None)
    assert {a.key for a in found.assumed} == {"battery.voltage", "running voltage", "battery.resistance"}


def test_the_battery_lasts_as_peukert_says() -> None:
    # Peukert 1897: at the 20 hour rate the whole capacity lasts 20 hours; at twice that, 20/2^1.15.
    assert engine_off_min(60, 3, 1.0) == pytest.approx(20 * 60)
    assert engine_off_min(60, 6, 1.0) == pytest.approx(20 * 60 / 2**1.15)
    assert engine_off_min(60, 6, 0.3) == pytest.approx(0.3 * 20 * 60 / 2**1.15)
    # Never more than the battery holds.
    assert engine_off_min(60, 0.5, 1.0) == pytest.approx(60 * 60 / 0.5)
    with pytest.raises(InputError, match="share"):
        current_budget([AMP], VAN, depth=0)


@pytest.mark.parametrize(
    "bad", [{"power_w": -1}, {"efficiency": 1.2}, {"crest_db": 1}, {"channels": 0}, {"klass": "X"}, {"fuses_a": (0,)}]
)
def test_a_load_that_cannot_be_is_refused(bad: dict[str, object]) -> None:
    with pytest.raises(InputError):
        SupplyLoad("amp", **bad)  # type: ignore[arg-type]


@pytest.mark.parametrize("bad", [{"battery_v": 0}, {"resistance_ohm": float("nan")}, {"vehicle_a": -1}, {"system": 48}])
def test_a_supply_that_cannot_be_is_refused(bad: dict[str, object]) -> None:
    with pytest.raises(InputError):
        Supply(**bad)  # type: ignore[arg-type]
