"""From the tables of drivers and sources to what the predictions need of them; what is missing is asked for by name."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from backwave.acoustics import Air
from backwave.assess.memo import Memo
from backwave.assess.sound.results import Outputs
from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Ledger, check_of
from backwave.job import Job
from backwave.job.named_files import Columns
from backwave.job.signal_chain import SourceTable
from backwave.job.speaker import SpeakerTable
from backwave.network.element import Complex, Real
from backwave.sound.driver import (
    RATED_PER_RE,
    SEMI_INDUCTANCE_N,
    DriverError,
    Unit,
    free_air_impedance,
    from_parameters,
)
from backwave.sound.measured_curves import blend_impedance, response_correction
from backwave.sound.output_network import (
    AMPLIFIER_RESISTANCE,
    BRIDGE_LOSS,
    BRIDGE_RESISTANCE,
    Output,
    amplifier,
    bridge,
)
from backwave.units import Quantity, in_unit, show

# parameters that are over are said where they disagree by more than this share (common trade practice)
DOUBTED = 0.1
# times its resonance, above which the impedance of a driver is its coil's (common trade practice)
COIL_FROM = 3.0
_SI = {
    "Re": "ohm", "fs": "Hz", "Qms": "1", "Qes": "1", "Qts": "1", "Vas": "m3", "Sd": "m2", "Mms": "kg", "Bl": "Tm",
    "Rms": "kg/s", "Cms": "m/N",
}  # fmt: skip


def unit_of(
    job: Job, speaker: SpeakerTable, f_hz: Real, ledger: Ledger, memo: Memo
) -> tuple[Unit | None, tuple[Check, ...]]:
    """A driver for the predictions, or what it lacks."""
    motor, key = speaker.motor, f"speaker.{speaker.id}"
    written = {name: getattr(motor, name, None) for name in _SI}
    given = {n: q if isinstance(q, float) else q.to(_SI[n]) for n, q in written.items() if q is not None}
    try:
        driver = memo.call(from_parameters, given)
    except DriverError as error:
        return None, (_lacking(error, given),)
    assert motor is not None
    checks = [_disagreement(d.name, d.given, d.derived) for d in driver.disagreements if abs(d.ratio - 1) > DOUBTED]
    le = 0.0 if motor.Le is None else motor.Le.to("H")
    if motor.Le is None:
        why = "no inductance was given: the treble of this driver comes out too loud"
        ledger.note(f"{key}.motor.Le", 0.0, "mH", why)
    n = motor.n
    if n is None and le:
        ledger.note(f"{key}.motor.n", SEMI_INDUCTANCE_N, "", "a usual coil, 0.6 to 0.8; " + PRACTICE)
    if speaker.rated is None:
        ledger.note(f"{key}.rated", RATED_PER_RE * driver.Re, "ohm", f"{RATED_PER_RE:g} times its Re; {PRACTICE}")
    made = Unit(
        driver, speaker.kind, in_unit(speaker.rated, "ohm"), le, SEMI_INDUCTANCE_N if n is None else n,
        in_unit(motor.Xmax, "m"), in_unit(motor.power, "W"),
    )  # fmt: skip
    measured = speaker.measured
    if measured is None:
        return made, tuple(checks)
    try:
        if measured.impedance is not None:
            made = replace(made, residual=_residual(f_hz, made, job.columns[measured.impedance]))
        if measured.response is not None:
            curve = job.columns[measured.response]
            volts, meters = measured.volts.to("V") / 2.83, measured.distance.to("m")
            level = curve.value - 20 * np.log10(volts) + 20 * np.log10(meters)
            own, above = _half_space_db(f_hz, made), measured.above.to("Hz")
            # its phase carries a delay nobody knows: the least phase stands in
            correction = response_correction(f_hz, own, curve.f_hz, level, above)
            made = replace(made, correction=correction, measured_to_hz=float(curve.f_hz[-1]))
    except InputError as error:
        said, names = "What was measured of it cannot be used: {why}", (("why", str(error), ""),)
        remedy = "Measure again, or leave the file out: the model stands in for it"
        checks.append(check_of("sound.measured", "caution", said, remedy, names, sources=(), key="measured"))
    return made, tuple(checks)


def _residual(f_hz: Real, unit: Unit, curve: Columns) -> Complex:
    """What the coil has beyond its model, from well above resonance up. Nearer to it the difference is the cone's,
    which moves otherwise in a door than in free air: what was measured there belongs into fs, Qms and Qes."""
    coil = curve.f_hz >= COIL_FROM * unit.driver.fs
    model = free_air_impedance(f_hz, unit)
    phase = None if curve.phase_deg is None else curve.phase_deg[coil]
    return np.asarray(blend_impedance(f_hz, model, curve.f_hz[coil], curve.value[coil], phase) - model)


def _half_space_db(f_hz: Real, unit: Unit) -> Real:
    """The model's own level at 1 m on the axis in half space at 2.83 V, in free air (no box), dB."""
    driver, air = unit.driver, Air()
    jw = 2j * pi * f_hz
    zm = jw * driver.Mms + driver.Rms + 1 / (jw * driver.Cms)
    current = 2.83 / free_air_impedance(f_hz, unit)
    flow = driver.Bl * current / zm * driver.Sd
    return np.asarray(20 * np.log10(np.abs(jw * air.density * flow / (2 * pi)) / 20e-6))


def _lacking(error: DriverError, given: dict[str, float]) -> Check:
    wanted = "; ".join(" or ".join(group) for group in error.ask)
    names = (("have", ", ".join(given) or "nothing", ""), ("wanted", wanted, ""), ("why", str(error), ""))
    said, remedy = "A parameter is doubted: {why}", "Look at its value and unit again"
    if error.ask:
        said = (
            "Its sound cannot be predicted yet: {have} "
            + ("is" if len(given) < 2 else "are")
            + " given, {wanted} still wanted"
        )
        remedy = "Add {wanted} to its motor, from the data sheet or by measuring"
    return check_of("sound.data", "caution", said, remedy, names, sources=(), key="motor")


def _disagreement(name: str, given: float, derived: float) -> Check:
    unit = _SI[name] if _SI[name] != "1" else ""
    return check_of(
        "sound.parameters", "caution", "Its {name} is given as {given}, but the other parameters make it {derived}",
        "One of them is wrong: compare the data sheet; the ones believed are listed with the working",
        (("name", name, ""), ("given", _shown(given, unit), ""), ("derived", _shown(derived, unit), "")), (given, derived, unit),
        (
            CalculationLine(name, "as given", given, unit, "the job"),
            CalculationLine(name, "as it follows from the parameters believed before it", derived, unit, "Small 1972"),
        ),
        ("Small 1972, JAES 20(5):383-395",), f"motor.{name}", name,
    )  # fmt: skip


def _shown(value: float, unit: str) -> str:
    return show(value, unit) if unit else f"{value:.3g}"


ENGINE_ON_V, ENGINE_OFF_V = 14.4, 12.4


def resistance_of(source: SourceTable, ledger: Ledger) -> float:
    """Resistance of one output of a source, ohm."""
    default, why = AMPLIFIER_RESISTANCE, "output and speaker cable"
    if source.kind == "bridge":
        default, why = BRIDGE_RESISTANCE, "output and loom"
    return _given(source.resistance, source, ledger, "resistance", default, "ohm", why)


def rated_v(source: SourceTable, ledger: Ledger) -> float | None:
    """The largest sine an output is rated or measured at, V rms; None where nobody said or it cannot be."""
    if source.rated is not None:
        return source.rated.volts
    if source.clip is not None:
        return source.clip.to("V")
    if source.kind != "bridge":
        return None
    supply, loss = _supply_v(source, ledger), _loss_v(source, ledger)
    return bridge(supply, loss_v=loss).clip_v if supply > loss else None


def _supply_v(source: SourceTable, ledger: Ledger) -> float:
    return _given(source.supply, source, ledger, "supply", ENGINE_ON_V, "V", "engine on")


def _loss_v(source: SourceTable, ledger: Ledger) -> float:
    return _given(source.loss, source, ledger, "loss", BRIDGE_LOSS, "V", "0.5 to 2 V")


def _given(
    value: Quantity | None, source: SourceTable, ledger: Ledger, name: str, default: float, unit: str, why: str
) -> float:
    """What the job says, or what is assumed, which is noted."""
    if value is not None:
        return value.to(unit)
    ledger.note(f"source.{source.id}.{name}", default, unit, f"{why}; {PRACTICE}")
    return default


def outputs_of(source: SourceTable, ledger: Ledger) -> Outputs | Check:
    """The outputs of a source, or what it lacks."""
    lowest = in_unit(source.lowest_load, "ohm")
    try:
        if source.kind == "bridge":
            on = _supply_v(source, ledger)
            rest = min(ENGINE_OFF_V, on)
            why = "a battery at rest, 12.2 to 12.6 V"
            off = _given(source.engine_off, source, ledger, "engine_off", rest, "V", why)
            loss, own = _loss_v(source, ledger), resistance_of(source, ledger)
            return Outputs(bridge(on, own, lowest, loss), bridge(off, own, lowest, loss))
        own = resistance_of(source, ledger)
        if source.kind == "amplifier":
            rated = source.power
            if rated is None:
                return _wanted("what this amplifier is rated at", 'power, such as "4 x 75 W into 4 ohm"', "power")
            made = amplifier(rated.watts, rated.ohm, own, lowest)
            if source.bridged:  # twice the voltage from twice the resistance, and each channel sees half the load
                least = None if lowest is None else 2 * lowest
                made = replace(made, clip_v=2 * made.clip_v, resistance=2 * made.resistance, lowest_load=least)
            return Outputs(made, made)
        if source.clip is None:
            return _wanted("how far this factory output goes", "clip, its greatest clean sine in volts rms", "clip")
        made = Output(source.clip.to("V"), own, lowest, source.levels)
        return Outputs(made, made)
    except InputError as error:
        cause, again = (("why", str(error), ""),), "Look at its numbers again"
        return check_of("sound.data", "caution", "This source cannot be: {why}", again, cause, sources=(), key="supply")


def _wanted(what: str, remedy: str, key: str) -> Check:
    names = (("what", what, ""), ("remedy", remedy, ""))
    said = "Not entered yet: {what}, so nothing on it is predicted"
    return check_of("sound.data", "caution", said, "Add {remedy}", names, sources=(), key=key)
