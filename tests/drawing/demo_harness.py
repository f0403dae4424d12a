"""Harnesses to draw in tests, from devices and wires alone."""

from __future__ import annotations

from collections.abc import Iterable

from backwave.assess.power.results import Harnessed
from backwave.finding import Check, Finding, Message
from backwave.power.harness import Device, Harness, ScheduleRow, Wire


def harness(devices: Iterable[Device], wires: Iterable[tuple[str, str, str]], wrong: Iterable[int] = ()) -> Harnessed:
    """Wires as (pin, pin, what stands on it); those to look at by their number."""
    rows = list(wires)
    made = Harness(tuple(devices), tuple(Wire(f"w{n}", a, b) for n, (a, b, _) in enumerate(rows)), ())
    schedule = tuple(
        ScheduleRow(f"w{n}", a, b, words, "", 1.0, False, None, None, False) for n, (a, b, words) in enumerate(rows)
    )
    found = tuple(Finding(Check("wire.polarity", "caution", Message("Test"), part=f"w{n}"), "harness") for n in wrong)
    return Harnessed(made, schedule, (), (), (), (), found, True)
