"""A driver's impedance over a known resistor, from recordings of the jig to its parameters.

The jig: headphone output, resistor, driver, ground; the recorder's first channel before the resistor, its second
after it.  Nothing is read before its gate is passed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError, MissingError
from backwave.finding import Check
from backwave.measure.impedance import (
    FIT_HZ,
    Fitted,
    ImpedanceCurve,
    Motor,
    channel_match,
    check_jig,
    check_motor,
    fit_motor,
    read_impedance,
)
from backwave.measure.smoothing import log_frequencies
from backwave.measure.sweep import Take, take_from
from backwave.measure.vas import Suspension, added_mass, known_box

Real = NDArray[np.float64]
STEPS = 48  # points in an octave
Recorded = tuple[Real, float]  # samples (n, 2) and the recorder's nominal rate in Hz


@dataclass(frozen=True)
class Second:
    """What a second recording was made with: a mass on the cone, or a box."""

    kind: str  # "mass" or "box"
    amount: Fitted  # kg or m3, how much, with its standard uncertainty
    area: Fitted  # m2, effective area of the cone


@dataclass(frozen=True, eq=False)
class Jig:
    """What the recordings of a jig say."""

    curve: ImpedanceCurve  # ohm
    motor: Motor
    second: Motor | None  # with the mass, or in the box
    suspension: Suspension | None  # Vas and what follows from it
    checks: tuple[Check, ...]  # the gate, and how well the model fits


def gate(volts: float | None, unplugged: bool) -> Check:
    """Whether an impedance may be measured so.

    `volts`, V: most that the output gives, rms, as a meter reads it; its peak counts.  None: nobody measured it.;
    MissingError: one of the two has not been confirmed.
    """
    if volts is None or not unplugged:
        raise MissingError(
            "The jig is not confirmed, so nothing is read",
            "Unplug the driver from the vehicle, drive the jig from a headphone output, measure its voltage on a tone at the "
            "loudest (0.7 V on a meter or less), and say both: --unplugged --volts \"0.5 V\". Never on a "
            "vehicle's own outputs: they sit at half the supply, and a grounded input would short them",
        )  # fmt: skip
    return check_jig(sqrt(2) * volts, unplugged)


def jig_of(
    record: dict[str, Any], driver: Recorded, resistor: Fitted, passed: Check, match: Recorded | None = None,
    second: tuple[Recorded, Second] | None = None, progress: Callable[[float], None] | None = None,
) -> Jig:  # fmt: skip
    """Impedance and parameters from recordings of one sweep.

    `driver`, (samples, rate) no unit and Hz: before the resistor and after it; `resistor`, ohm; `match`, (samples,
    rate) no unit and Hz: both channels at one point; None takes them for equal; `second`, ((samples, rate) 1: with
    a mass on the cone, or in a box; InputError: A gate that was not passed, a recording that cannot be used, a
    curve without a resonance.
    `progress`, 1 of 1.
    """
    if passed.verdict != "ok":
        raise InputError("jig", f"{passed.value:g} V", f"{passed.limit:g} V or less from a headphone output")
    take, tell = take_from(record), progress or (lambda _: None)
    if take.sweep.f1_hz > 2 * FIT_HZ[0] or take.sweep.f2_hz < FIT_HZ[1]:
        raise InputError(
            "sweep of the jig", f"{take.sweep.f1_hz:g} to {take.sweep.f2_hz:g} Hz",
            f"from {2 * FIT_HZ[0]:g} Hz or lower to {FIT_HZ[1]:g} Hz or higher: `backwave sweep jig.wav --kind jig`",
        )  # fmt: skip
    f = log_frequencies(take.sweep.f1_hz, min(take.sweep.f2_hz, 0.47 * driver[1]), STEPS)
    ratio = None if match is None else channel_match(*match, take, f)
    tell(0.3)
    u_resistor = resistor.u / resistor.value
    curve, motor = _fitted(driver, take, resistor.value, u_resistor, f, ratio)
    tell(0.7)
    checks = [passed, check_motor(motor)]
    if second is None:
        return Jig(curve, motor, None, None, tuple(checks))
    recorded, what = second
    _, other = _fitted(recorded, take, resistor.value, u_resistor, f, ratio)
    if what.kind not in ("mass", "box"):
        raise InputError("second recording", what.kind, "mass or box")
    way = added_mass if what.kind == "mass" else known_box
    suspension = way(motor, other, what.amount.value, what.area.value, what.amount.u, what.area.u)
    tell(1.0)
    return Jig(curve, motor, other, suspension, tuple(checks))


def _fitted(
    recorded: Recorded, take: Take, resistor: float, u_resistor: float, f: Real, ratio: Any
) -> tuple[ImpedanceCurve, Motor]:
    curve = read_impedance(*recorded, take, resistor, f, ratio)
    return curve, fit_motor(curve, u_resistor)
