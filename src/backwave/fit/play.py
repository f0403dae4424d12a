"""Where a driver can end up across the axis: bolts have play in their holes, and patterns are never quite right.

A bolt lies anywhere in its hole with equal chance: nobody centers it, and it slides until the screw is tight.  So each
joint puts the part anywhere in a circle of half the hole's play (`disc` of JCGM 101:2008, 6.4: one draw a coordinate).
Where the fixings were read wrongly the part follows their mean: a fixing's half-width over the root of their number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.uncertainty import Error, Reading, monte_carlo

MODEL = "JCGM 101:2008: bolts anywhere in their holes with equal chance"
_DRAWS = 12_500


@dataclass(frozen=True)
class BoltedJoint:
    """One thing bolted to another."""

    name: str  # "part on the metal"
    play_mm: float  # hole less bolt, in diameter
    pattern_mm: float = 0.0  # how far each hole of the pattern may be off, either way, in each coordinate
    count: int = 1  # how many holes


def off_axis(owner: str, joints: Sequence[BoltedJoint]) -> tuple[Reading, Reading]:
    """How far the driver is off the axis, to the right and up, as two readings of 0 with their errors."""

    def along(axis: str) -> Reading:
        errors = []
        for joint in joints:
            name = f"{owner}.{joint.name}, {axis}"
            if joint.play_mm > 0.0:
                errors.append(Error(f"{name}: play", "disc", joint.play_mm / 2.0))
            if joint.pattern_mm > 0.0:
                errors.append(Error(f"{name}: pattern", "normal", joint.pattern_mm / sqrt(3.0 * joint.count)))
        return Reading(f"{owner}.off the axis, {axis}", 0.0, tuple(errors))

    return along("across"), along("up")


def play_check(joints: Sequence[BoltedJoint], off: tuple[Reading, Reading], margin_mm: float) -> Check:
    """How far off the axis the driver may end up, against the margin it has in the hole."""
    drawn = monte_carlo(lambda look: np.atleast_2d(np.hypot(look(off[0]), look(off[1]))), _DRAWS)[0]
    most, mean = float(np.quantile(drawn, 0.95)), float(drawn.mean())
    verdict: Verdict = "ok" if most <= margin_mm else "caution"
    return Check(
        "fit.play",
        verdict,
        Message(
            "With the play of its bolts the driver ends up off the axis by {mean} as a rule, {most} at most in 19 of 20",
            (("mean", mean, "mm"), ("most", most, "mm")),
        ),
        value=most,
        limit=margin_mm,
        unit="mm",
        remedy=None
        if verdict == "ok"
        else Message("Center the part by a spigot in the hole, or shim the driver's bolts as it is screwed down"),
        working=(
            *(
                CalculationLine("d", f"{joint.name}: hole less bolt", joint.play_mm, "mm", "holes of the part and the driver")
                for joint in joints
            ),
            *(
                CalculationLine("p", f"each of {joint.count} holes may be off, either way", joint.pattern_mm, "mm", PRACTICE)
                for joint in joints
                if joint.pattern_mm
            ),
            CalculationLine("e", "off the axis, mean", mean, "mm", MODEL),
            CalculationLine("e95", "off the axis, 95 % point", most, "mm", MODEL),
            CalculationLine("m", "margin to the hole's edge", margin_mm, "mm", PRACTICE),
        ),
        sources=(MODEL, PRACTICE),
        key="fixings",
    )  # fmt: skip
