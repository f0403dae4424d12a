"""What a measured impedance becomes: keys of the job, columns, JSON, a chart; `measure.impedance_jig` measures it."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Any

import numpy as np

from backwave.job.speaker import MotorTable
from backwave.measure.impedance import FIT_HZ, Fitted, model_impedance
from backwave.measure.impedance_jig import Jig
from backwave.measure.impedance_jig import gate as gate
from backwave.measure.impedance_jig import jig_of as jig_of
from backwave.units import Quantity

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart

_FOLLOW = ("Qts", "Rms")  # what follows from the parameters that are kept: a data sheet's would contradict them
_MOVING = ("Mms", "Cms", "Bl")


def fitted_quantity(quantity: Quantity, unit: str) -> Fitted:
    """A quantity as written, with its standard uncertainty: a half-width is rectangular (JCGM 100:2008, 4.3.7)."""
    u = quantity.u_to(unit)
    half = quantity.half_to(unit)
    return Fitted(quantity.to(unit), u if u is not None else (half or 0.0) / sqrt(3))


def kept_motor(made: Jig, table: MotorTable | None) -> dict[str, str | float | None]:
    """Keys of the speaker's `motor` and what goes there; None takes out what would contradict it."""
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
    """The curve as plain columns: Hz, ohm, degrees."""
    rows = ["# impedance in free air, over a known resistor: Hz, ohm, degrees"]
    z = made.curve.z
    rows += [
        f"{f:.3f} {size:.4f} {turn:.3f}"
        for f, size, turn in zip(made.curve.f_hz, np.abs(z), np.degrees(np.angle(z)), strict=True)
    ]
    return "\n".join(rows) + "\n"


def jig_json(made: Jig) -> dict[str, Any]:
    """What was measured, as JSON."""
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
    """The curve and the model that was fitted to it."""
    from backwave.drawing.chart import Chart, Series

    f, m = made.curve.f_hz, made.motor
    model = np.abs(model_impedance(f, m.Re.value, m.fs.value, m.Qms.value, m.Qes.value, m.K.value, m.n.value))
    model[(f < FIT_HZ[0]) | (f > FIT_HZ[1])] = np.nan
    lines = (Series("measured", f, np.abs(made.curve.z), look=0), Series("fitted", f, model, look=2))
    high = next(v for v in (200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0, 20000.0) if v >= 0.9 * f[-1])
    return Chart(
        "Impedance in free air", f"over a known resistor; fitted from {FIT_HZ[0]:g} to {FIT_HZ[1]:g} Hz", "ohm", lines,
        low_hz=10.0, high_hz=high, low=0.0,
    )  # fmt: skip
