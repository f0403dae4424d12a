"""A driver's impedance over a known resistor, from recordings to the keys of the job that hold it.

    gate         whether it may be measured so at all: nothing is read before
    jig_of       the curve, the parameters that fit it, and Vas where a second recording allows it
    kept_motor   what goes into the speaker's record

The jig: headphone output, resistor, driver, ground; the recorder's first channel before the resistor, its second
after it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError, MissingError
from backwave.finding import Check
from backwave.job.speaker import MotorTable as MotorTable
from backwave.measure.impedance import (
    FIT_HZ,
    Fitted,
    ImpedanceCurve,
    Motor,
    channel_match,
    check_jig,
    check_motor,
    fit_motor,
    model_impedance,
    read_impedance,
)
from backwave.measure.smoothing import log_frequencies
from backwave.measure.sweep import Take, take_from
from backwave.measure.vas import Suspension, added_mass, known_box
from backwave.units import Quantity

if TYPE_CHECKING:
    from backwave.drawing import Chart

__all__ = [
    "Fitted",
    "Jig",
    "Recorded",
    "Second",
    "columns_of",
    "gate",
    "jig_chart",
    "jig_json",
    "jig_of",
    "kept_motor",
    "of",
]

Real = NDArray[np.float64]
STEPS = 48  # points in an octave
Recorded = tuple[Real, float]
"""Samples (n, 2) and the recorder's nominal rate in Hz."""
_UNITS = {"Re": "ohm", "fs": "Hz", "Qms": "", "Qes": "", "Qts": ""}
_FOLLOW = ("Qts", "Rms")
"""What follows from the parameters that are kept: a data sheet's would contradict them."""
_MOVING = ("Mms", "Cms", "Bl")


@dataclass(frozen=True)
class Second:
    """What a second recording was made with: a mass on the cone, or a box.

    Parameters
    ----------
    kind : str, no unit
        "mass" or "box".
    amount : Fitted, kg or m3
        How much, with its standard uncertainty.
    area : Fitted, m2
        Effective area of the cone.
    """

    kind: str
    amount: Fitted
    area: Fitted


@dataclass(frozen=True, eq=False)
class Jig:
    """What the recordings of a jig say.

    Parameters
    ----------
    curve : ImpedanceCurve, ohm
        As measured.
    motor : Motor, no unit
        The parameters.
    second : Motor or None, no unit
        With the mass, or in the box.
    suspension : Suspension or None, no unit
        Vas and what follows from it.
    checks : tuple of Check, no unit
        The gate, and how well the model fits.
    """

    curve: ImpedanceCurve
    motor: Motor
    second: Motor | None
    suspension: Suspension | None
    checks: tuple[Check, ...]


def of(quantity: Quantity, unit: str) -> Fitted:
    """A quantity as written, with its standard uncertainty: a half-width is rectangular (JCGM 100:2008, 4.3.7).

    Parameters
    ----------
    quantity : Quantity, as written
        What a person measured.
    unit : str, no unit
        Wanted.
    """
    u = quantity.u_to(unit)
    half = quantity.half_to(unit)
    return Fitted(quantity.to(unit), u if u is not None else (half or 0.0) / sqrt(3))


def gate(volts: float | None, unplugged: bool) -> Check:
    """Whether an impedance may be measured so.

    Parameters
    ----------
    volts : float or None, V
        Most that the output gives, rms, as a meter reads it; its peak counts.  None: nobody measured it.
    unplugged : bool, no unit
        Whether the person confirmed that the driver is unplugged from the vehicle.

    Raises
    ------
    MissingError
        One of the two has not been confirmed.
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

    Parameters
    ----------
    record : dict, no unit
        What was written beside the sweep.
    driver : (samples, rate), no unit and Hz
        Before the resistor and after it.
    resistor : Fitted, ohm
        The known resistor.
    passed : Check, no unit
        From `gate`.
    match : (samples, rate) or None, no unit and Hz
        Both channels at one point; None takes them for equal.
    second : ((samples, rate), Second) or None, no unit
        With a mass on the cone, or in a box.
    progress : function or None, no unit
        Told the share that is done.

    Raises
    ------
    InputError
        A gate that was not passed, a recording that cannot be used, a curve without a resonance.
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


def kept_motor(made: Jig, table: MotorTable | None) -> dict[str, str | float | None]:
    """Keys of the speaker's `motor` and what goes there; None takes out what would contradict it.

    Parameters
    ----------
    made : Jig, no unit
        What was measured.
    table : Motor of the job or None, no unit
        What the record has so far.
    """
    m, found = made.motor, {}
    for name, unit in (("Re", "ohm"), ("fs", "Hz")):
        found[name] = _written(getattr(m, name), unit)
    kept: dict[str, str | float | None] = dict(found)
    kept["Qms"], kept["Qes"] = float(f"{m.Qms.value:.4g}"), float(f"{m.Qes.value:.4g}")
    kept["Le"], kept["n"] = f"{1e3 * m.inductance():.4g} mH", float(f"{m.n.value:.3g}")
    gone = list(_FOLLOW)
    if made.suspension is not None:
        s = made.suspension.Vas
        kept["Vas"] = _written(Fitted(1e3 * s.value, 1e3 * s.u), "L")
        gone += _MOVING
    for name in gone:
        if table is not None and getattr(table, name) is not None:
            kept[name] = None
    return kept


def _written(x: Fitted, unit: str) -> str:
    return f"{x.value:.4g} {unit} u {max(x.u, 1e-6 * x.value):.2g} {unit}"


def columns_of(made: Jig) -> str:
    """The curve as plain columns: Hz, ohm, degrees.

    Parameters
    ----------
    made : Jig, no unit
        What was measured.
    """
    rows = ["# impedance in free air, over a known resistor: Hz, ohm, degrees"]
    z = made.curve.z
    rows += [
        f"{f:.3f} {size:.4f} {turn:.3f}"
        for f, size, turn in zip(made.curve.f_hz, np.abs(z), np.degrees(np.angle(z)), strict=True)
    ]
    return "\n".join(rows) + "\n"


def jig_json(made: Jig) -> dict[str, Any]:
    """What was measured, as JSON.

    Parameters
    ----------
    made : Jig, no unit
        What was measured.
    """
    m, s = made.motor, made.suspension
    z = made.curve.z

    def one(x: Fitted) -> dict[str, float]:
        return {"value": x.value, "u": x.u}

    return {
        "f_hz": [round(float(f), 3) for f in made.curve.f_hz],
        "impedance_ohm": [round(float(v), 4) for v in np.abs(z)],
        "phase_deg": [round(float(v), 2) for v in np.degrees(np.angle(z))],
        "motor": {
            "Re_ohm": one(m.Re), "fs_hz": one(m.fs), "Qms": one(m.Qms), "Qes": one(m.Qes), "Qts": one(m.Qts),
            "Le_h": m.inductance(), "n": one(m.n), "misfit": m.misfit,
        },
        "suspension": None if s is None
        else {"Vas_m3": one(s.Vas), "Mms_kg": one(s.Mms), "Cms_m_n": one(s.Cms), "Bl_n_a": one(s.Bl)},
    }  # fmt: skip


def jig_chart(made: Jig) -> Chart:
    """The curve and the model that was fitted to it.

    Parameters
    ----------
    made : Jig, no unit
        What was measured.
    """
    from backwave.drawing import Chart, Series

    f, m = made.curve.f_hz, made.motor
    model = np.abs(model_impedance(f, m.Re.value, m.fs.value, m.Qms.value, m.Qes.value, m.K.value, m.n.value))
    model[(f < FIT_HZ[0]) | (f > FIT_HZ[1])] = np.nan
    lines = (Series("measured", f, np.abs(made.curve.z), look=0), Series("fitted", f, model, look=2))
    high = next(v for v in (200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 20000.0) if v >= 0.9 * f[-1])
    return Chart(
        "Impedance in free air", f"over a known resistor; fitted from {FIT_HZ[0]:g} to {FIT_HZ[1]:g} Hz", "ohm", lines,
        low_hz=10.0, high_hz=high, low=0.0,
    )  # fmt: skip
