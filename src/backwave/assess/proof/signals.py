"""What is played and what a recording of it says, for the faces: signals, readings and impedances, as JSON, keys and charts."""

from __future__ import annotations

from math import ceil, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np

from backwave.assess.sound.results import BANDS, listed
from backwave.errors import InputError
from backwave.finding import Check
from backwave.job.speaker import MotorTable
from backwave.measure.analysis import Response, TakeRead, check_overload
from backwave.measure.analysis import read_recording as read_recording
from backwave.measure.impedance import FIT_HZ, Fitted, Jig, model_impedance
from backwave.measure.impedance import gate as gate
from backwave.measure.impedance import jig_of as jig_of
from backwave.measure.rattle import Buzz
from backwave.measure.rattle import quieter as quieter
from backwave.measure.rattle import spots as spots
from backwave.measure.signals import signal_of as signal_of
from backwave.units import Quantity

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart

_FOLLOW = ("Qts", "Rms")  # what follows from the parameters that are kept: a data sheet's would contradict them
_MOVING = ("Mms", "Cms", "Bl")


def reading_json(
    made: TakeRead, channel: str = "", buzz: Buzz | None = None, periods: float | None = None
) -> dict[str, Any]:
    """The document of `read --json`: one output's keys at the top, all of them under `channels`. `periods`: also the
    level through a window so many periods long at each frequency; None: without."""
    named = {one.name: one for one in made.responses}
    if channel and channel not in named:
        raise InputError("output", channel, ", ".join(named))
    ppm = made.clock.ppm
    rows = {name: _response(one, ppm) for name, one in named.items()}
    if periods is not None:
        for name, one in named.items():
            rows[name]["windowed_db"] = listed(one.gated_db(periods))
    document = {**rows[channel or next(iter(rows))], "channels": rows}
    if buzz is not None:
        document["rattle"] = {
            "f_hz": listed(buzz.f_hz), "t_s": listed(buzz.t_s), "index_db": listed(buzz.index_db),
            "spots": [
                {
                    "from_hz": round(s.low_hz, 1), "to_hz": round(s.high_hz, 1), "worst_hz": round(s.worst_hz, 1),
                    "index_db": round(s.index_db, 1), "from_s": round(s.from_s, 2), "to_s": round(s.to_s, 2),
                }
                for s in spots(buzz)
            ],
        }  # fmt: skip
    return document


def _response(one: Response, ppm: float) -> dict[str, Any]:
    d = one.distortion
    order = {m: d.levels_db[k] for k, m in enumerate(d.orders)}
    return {
        "output": one.name, "f_hz": listed(one.f_hz, 3), "magnitude_db": listed(one.magnitude_db),
        "phase_deg": listed(one.phase_deg, 1), "delay_s": one.delay_s, "clock_ppm": round(ppm, 4),
        "polarity": one.polarity,
        "distortion": {
            "f_hz": listed(d.f_hz, 3), "h2_db": listed(order[2]), "h3_db": listed(order[3]), "thd_db": listed(d.thd_db),
        },
        "snr_db": listed(one.snr_db),
        "decay": [{"f_hz": round(f, 1), "t60_s": None if t is None else round(t, 3)} for f, t in one.decay],
    }  # fmt: skip


def band_means(made: TakeRead) -> tuple[tuple[str, ...], list[tuple[float | None, ...]]]:
    """Mean level of each output by band; None where the sweep did not reach. Returns (names of the bands, one row an
    output) dB."""

    def mean_db(one: Response, low: float, high: float) -> float | None:
        inside = (one.f_hz >= low) & (one.f_hz <= high)
        return float(one.magnitude_db[inside].mean()) if inside.sum() > 4 else None

    rows = [tuple(mean_db(one, low, high) for _, low, high in BANDS) for one in made.responses]
    return tuple(name for name, _, _ in BANDS), rows


def breaking(made: TakeRead) -> tuple[Check, ...]:
    """Where each output of a take breaks up."""
    return tuple(check for one in made.responses for check in check_overload(one.name, one.distortion))


def reading_chart(made: TakeRead, periods: float | None = None) -> Chart:
    """Responses of a take, smoothed to a sixth of an octave. `periods`: through a window so many periods long at each
    frequency instead: early sound without late reflections."""
    from backwave.drawing.chart import Chart, Series

    lines = tuple(
        Series(one.name, one.f_hz, one.smoothed_db(6) if periods is None else one.gated_db(periods), look=k)
        for k, one in enumerate(made.responses)
    )
    how = "a sixth of an octave" if periods is None else f"{periods:g} periods after the arrival"
    top = 10.0 * ceil(max(float(np.nanmax(np.asarray(line.value))) for line in lines) / 10)
    return Chart(
        "What was recorded", f"{how}; relative unless the microphone is calibrated", "dB", lines,
        low=top - 60.0, high=top,
    )  # fmt: skip


def fitted_quantity(quantity: Quantity, unit: str) -> Fitted:
    """A quantity as written, with its standard uncertainty: a half-width is rectangular (JCGM 100:2008, 4.3.7)."""
    u = quantity.u_to(unit)
    half = quantity.half_to(unit)
    return Fitted(quantity.to(unit), u if u is not None else (half or 0.0) / sqrt(3))


def kept_motor(made: Jig, table: MotorTable | None) -> dict[str, str | float | None]:
    """Keys of the speaker's `motor` and what goes there; None takes out what would contradict it."""
    m = made.motor
    kept: dict[str, str | float | None] = {
        "Re": _written(m.Re, "ohm"), "fs": _written(m.fs, "Hz"), "Qms": float(f"{m.Qms.value:.4g}"),
        "Qes": float(f"{m.Qes.value:.4g}"), "Le": f"{1e3 * m.inductance():.4g} mH", "n": float(f"{m.n.value:.3g}"),
    }  # fmt: skip
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
    columns = zip(made.curve.f_hz, np.abs(made.curve.z), np.degrees(np.angle(made.curve.z)), strict=True)
    rows = "".join(f"{f:.3f} {size:.4f} {turn:.3f}\n" for f, size, turn in columns)
    return "# impedance in free air, over a known resistor: Hz, ohm, degrees\n" + rows


def jig_json(made: Jig) -> dict[str, Any]:
    """What was measured, as JSON."""
    m, s = made.motor, made.suspension
    z = made.curve.z

    def one(x: Fitted) -> dict[str, float]:
        return {"value": x.value, "u": x.u}

    return {
        "f_hz": listed(made.curve.f_hz, 3), "impedance_ohm": listed(np.abs(z), 4),
        "phase_deg": listed(np.degrees(np.angle(z))),
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
