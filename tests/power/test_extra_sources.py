"""More than one source, each case with its sound twin; precharge against the circuit integrated in time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from backwave.power.extra_sources import (
    ExtraBattery,
    ExtraConverter,
    battery_checks,
    converter_checks,
    half_check,
    hinge_check,
    joined_check,
    precharge,
    voltage_check,
)

AGM = ExtraBattery("second", "AGM", 12.8, 4e-3, "cargo", "isolator", 80.0, 80.0, vented=True, strapped=True, boxed=True)
LITHIUM = ExtraBattery(
    "second", "lithium", 13.3, 2e-3, "cabin", "converter", 60.0, 60.0, strapped=True, cold_stop=True, lithium_charger=True
)  # fmt: skip
BANK = ExtraBattery("bank", "capacitors", 14.4, 1e-3, "cargo", "cable", 80.0, 80.0, 2.0, 10.0)
CONVERTER = ExtraConverter("charger", 12.6, 12.0, 14.4, 30.0, 25.0, 40.0, 40.0, ("second",))


def worst(battery: ExtraBattery) -> dict[str, str]:
    return {c.part: c.verdict for c in battery_checks(battery) if c.verdict != "ok"}


@pytest.mark.parametrize(
    "sound", [AGM, LITHIUM, BANK, replace(LITHIUM, place="hood", hood_allowed=True), replace(AGM, asked_a=500.0)]
)
def test_a_sound_source_raises_no_alarm(sound: ExtraBattery) -> None:
    assert worst(sound) == {}


@pytest.mark.parametrize(
    ("battery", "part", "verdict"),
    [
        (replace(AGM, far_a=None), "second-fuses", "stop"),
        (replace(AGM, joined=""), "second-charge", "caution"), (replace(AGM, joined="cable"), "second-charge", "caution"),
        (replace(AGM, vented=False), "second-place", "stop"), (replace(AGM, boxed=None), "second-place", "caution"),
        (replace(AGM, kind="lead-acid", sealed=False), "second-place", "stop"),
        (replace(LITHIUM, joined="isolator", lithium_charger=None), "second-charge", "stop"),
        (replace(LITHIUM, cold_stop=False), "second-charge", "stop"),
        (replace(LITHIUM, cold_stop=None), "second-charge", "caution"),
        (replace(LITHIUM, lithium_charger=False), "second-charge", "stop"),
        (replace(LITHIUM, place="hood"), "second-place", "stop"),
        (replace(LITHIUM, strapped=False), "second-place", "stop"),
        (replace(LITHIUM, most_a=100.0, asked_a=120.0), "second-cut-out", "caution"),
        (replace(AGM, asked_a=600.0), "second-cut-out", "caution"),  # 12.8 V - 600 A * 4 mohm = 10.4 V, below 10.5 V
        (replace(BANK, far_a=None), "bank-fuses", "stop"),
        (replace(BANK, precharge_ohm=None), "bank", "caution"), (replace(BANK, precharge_ohm=1.0), "bank", "caution"),
        (replace(BANK, capacitance_f=None), "bank", "caution"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_source_is_said(battery: ExtraBattery, part: str, verdict: str) -> None:
    assert worst(battery) == {part: verdict}
    assert all(c.remedy is not None for c in battery_checks(battery) if c.verdict != "ok")


def test_a_precharge_is_the_circuit_in_time() -> None:
    found = precharge(2.0, 14.4, 10.0)
    t = np.linspace(0, found.seconds, 200_001)
    volts = np.empty_like(t)
    volts[0] = 0.0
    step = float(t[1])
    for k in range(1, 2001):  # backward Euler over the first hundredth, then as it settles
        volts[k] = (volts[k - 1] + step / 20 * 14.4) / (1 + step / 20)
    assert (14.4 - volts[0]) / 10 == pytest.approx(found.peak_a)
    heat = float(np.sum((14.4 - volts[:2000]) ** 2 / 10) * step)
    assert heat == pytest.approx(found.energy_j * (1 - np.exp(-2 * t[2000] / 20)), rel=1e-3)
    assert found.energy_j == pytest.approx(2.0 * 14.4**2 / 2)
    assert 1 - np.exp(-found.seconds / (10.0 * 2.0)) == pytest.approx(0.993, abs=1e-3)
    assert precharge(2.0, 14.4).ohm == 10.0  # 14.4 V squared by 25 W is 8.3 ohm: the next of E6


@pytest.mark.parametrize(
    ("most", "rest", "span", "verdict"),
    [
        (14.4, 12.6, None, "ok"), (28.8, 25.2, None, "stop"), (28.8, 25.2, (20.0, 32.0), "ok"), (14.4, 12.6, (20.0, 32.0), "caution"),
        (15.0, 12.6, (10.5, 14.6), "stop"), (14.4, 12.6, (10.5, 16.0), "ok"),
    ],
)  # fmt: skip
def test_what_a_device_stands(most: float, rest: float, span: Any, verdict: str) -> None:
    check = voltage_check("amp", most, rest, span)
    assert check.verdict == verdict
    if verdict == "stop":
        assert check.remedy is not None
        assert "fused at its input and at its output" in check.remedy.template
    assert half_check("amp").verdict == "stop"
    odd = joined_check("second", 12.8, 25.2)
    assert odd is not None
    assert odd.verdict == "stop"
    assert joined_check("second", 13.3, 12.6) is None


def test_converters() -> None:
    def verdicts(one: ExtraConverter) -> list[str]:
        return [c.verdict for c in converter_checks(one)]

    assert verdicts(CONVERTER) == ["ok"]
    assert verdicts(replace(CONVERTER, fed_v=25.2)) == ["stop"]
    assert verdicts(replace(CONVERTER, asked_a=50.0)) == ["caution"]
    assert verdicts(replace(CONVERTER, output_fuse_a=None)) == ["stop"]  # the battery behind it feeds a short
    assert verdicts(replace(CONVERTER, output_fuse_a=None, charges=())) == ["caution"]


def test_hinges() -> None:
    assert hinge_check("amp", "door", True, True, True).verdict == "stop"
    assert hinge_check("amp", "tailgate", True, True, True).verdict == "ok"
    assert hinge_check("amp", "tailgate", None, True, True).verdict == "caution"
    assert hinge_check("amp", "tailgate", True, True, False).verdict == "stop"
    assert hinge_check("amp", "tailgate", False, True, True).verdict == "stop"
