"""The signal's way, polarity of the sides, sleep and whine: each fault with its sound twin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from backwave.finding import words
from backwave.power.hand_over import Sleep, sleep_checks, whine_check
from backwave.power.signal_way import SidePair, SignalWay, no_input_check, phase_check, way_checks

WAY = SignalWay("head-unit", "pre-out", True, 2.5, "", None, "amp", "pre-in", (0.2, 5.0))
SIDES = SidePair("front-door", "woofer", 1, 1, "", "", False)
ASLEEP = Sleep(0.018, 0.019, 40, True, True)


@pytest.mark.parametrize(
    ("change", "verdicts"),
    [
        ({}, ["ok"]), ({"loudest_v": 8.2}, ["caution"]), ({"loudest_v": 0.1}, ["caution"]), ({"loudest_v": None}, ["caution"]),
        ({"input_v": None}, ["caution"]), ({"output": "digital"}, ["stop"]), ({"output": "digital", "input": "digital"}, ["ok"]),
        ({"output": "speaker wires", "isolated": False}, ["stop", "ok"]), ({"output": "speaker wires"}, ["caution", "ok"]),
        ({"output": "speaker wires", "isolated": True}, ["ok"]),
        ({"output": "speaker wires", "input": "speaker-level", "input_v": (1.0, 12.0)}, ["caution", "ok"]),
        ({"output": "speaker wires", "input": "speaker-level", "input_v": (1.0, 12.0), "isolated": True}, ["ok"]),
        ({"output": "speaker wires", "input": "speaker-level", "input_v": (1.0, 12.0), "isolated": False}, ["stop", "ok"]),
        ({"output": "speaker wires", "input": "speaker-level", "input_v": (1.0, 12.0), "isolated": False, "bridge": False}, ["ok"]),
    ],
)  # fmt: skip
def test_an_output_has_to_suit_its_input(change: dict[str, Any], verdicts: list[str]) -> None:
    checks = way_checks(replace(WAY, **change))
    assert [c.verdict for c in checks] == verdicts
    assert all((c.remedy is None) == (c.verdict == "ok") for c in checks)


def test_how_much_too_loud_is_said() -> None:
    (check,) = way_checks(replace(WAY, loudest_v=10.0))
    assert check.remedy is not None
    assert {n: v for n, v, _ in check.remedy.quantities}["db"] == pytest.approx(6.0206, abs=1e-4)  # twice the volts


def test_an_amplifier_without_an_input() -> None:
    assert no_input_check("amp", True).verdict == "stop"
    assert no_input_check("amp", False).verdict == "caution"  # nobody entered any way: a question


@pytest.mark.parametrize(
    ("left", "right", "heard", "verdict"),
    [
        (1, 1, False, "ok"), (-1, -1, False, "ok"), (-1, 1, False, "caution"), (1, -1, False, "caution"), (None, 1, False, "caution"), (None, None, False, "caution"),
        (-1, 1, True, "ok"), (None, None, True, "ok"),
    ],
)  # fmt: skip
def test_one_side_turned_is_a_caution_until_heard(
    left: int | None, right: int | None, heard: bool, verdict: str
) -> None:
    check = phase_check(replace(SIDES, left=left, right=right, heard=heard))
    assert check.verdict == verdict
    if verdict == "caution":
        assert "mono" in words(check.remedy or check.title)
        assert ("left" in check.title.template) == (left in (None, -1) and right is not None)


@pytest.mark.parametrize(
    ("read", "verdict"),
    [
        (ASLEEP, "ok"), (replace(ASLEEP, after_a=0.032), "caution"), (replace(ASLEEP, before_a=0.049, after_a=0.058), "caution"),
        (replace(ASLEEP, waited_min=5), "caution"), (replace(ASLEEP, latched=None), "caution"), (replace(ASLEEP, before_a=None), "caution"),
        (replace(ASLEEP, after_a=None), "caution"),
    ],
)  # fmt: skip
def test_a_vehicle_that_sleeps_as_before(read: Sleep, verdict: str) -> None:
    lead, current = sleep_checks(read)
    assert (lead.verdict, current.verdict) == ("ok", verdict)
    assert (current.remedy is None) == (verdict == "ok")


def test_the_turn_on_lead_and_the_engine() -> None:
    assert [sleep_checks(replace(ASLEEP, turn_on_off=off))[0].verdict for off in (True, False, None)] == ["ok", "caution", "caution"]  # fmt: skip
    assert [whine_check(heard).verdict for heard in (False, True, None)] == ["ok", "caution", "caution"]
