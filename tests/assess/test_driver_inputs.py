"""A driver's table in, its parameters, coil and corrections out; what is missing is asked for, what was taken noted."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from assess.tables import table_job

from backwave.assess.inputs.signal_path import unit_of
from backwave.assess.memo import Memo
from backwave.finding import Check, Ledger
from backwave.job.named_files import Columns
from backwave.sound.driver import Unit, free_air_impedance

F = 1000.0 * 10 ** (np.arange(-160, 105) / 80)
MOTOR: dict[str, Any] = {
    "Re": "3.6 ohm", "Le": "0.4 mH", "n": 0.8, "fs": "60 Hz", "Qms": 4.0, "Qes": 0.7, "Vas": "12 L", "Sd": "130 cm2",
    "Xmax": "5 mm", "power": "60 W",
}  # fmt: skip


def read(
    motor: dict[str, Any], ledger: Ledger | None = None, curves: dict[str, Columns] | None = None, **keys: Any
) -> tuple[Unit | None, tuple[Check, ...]]:
    job = table_job(speaker=[{"id": "it", "rated": "4 ohm", "motor": motor, **keys}])
    job = replace(job, columns=curves or {})
    return unit_of(job, job.file.speaker[0], F, ledger or Ledger(), Memo())


def unit(*args: Any, **more: Any) -> Unit:
    made, checks = read(*args, **more)
    assert made is not None, checks
    return made


def test_a_data_sheet_becomes_si_units() -> None:
    ledger = Ledger()
    made = unit(MOTOR, ledger)
    d = made.driver
    # Small 1972: Cms = Vas/(rho c^2 Sd^2), Mms = 1/((2 pi fs)^2 Cms), Bl = sqrt(2 pi fs Mms Re/Qes); air of 20 degC
    cms = 12e-3 / (1.2041 * 343.21**2 * 0.013**2)
    mms = 1 / ((2 * pi * 60) ** 2 * cms)
    assert (d.Re, d.fs, d.Sd) == (3.6, 60.0, pytest.approx(0.013))
    assert d.Cms == pytest.approx(cms, rel=2e-3)
    assert d.Mms == pytest.approx(mms, rel=2e-3)
    assert d.Bl == pytest.approx(sqrt(2 * pi * 60 * mms * 3.6 / 0.7), rel=2e-3)
    assert (made.le_henry, made.exponent, made.x_max, made.power_w) == (pytest.approx(4e-4), 0.8, 5e-3, 60.0)
    assert (made.kind, made.rated_ohm, made.nominal_ohm) == ("woofer", 4.0, 4.0)
    assert not ledger.assumed


def test_what_a_data_sheet_leaves_out_is_noted() -> None:
    ledger = Ledger()
    bare = {key: value for key, value in MOTOR.items() if key not in ("Le", "n")}
    assert unit(bare, ledger).le_henry == 0.0
    assert set(ledger.assumed) == {"speaker.it.motor.Le"}
    ledger = Ledger()
    assert unit({**bare, "Le": "0.4 mH"}, ledger).exponent == 0.7
    assert [(key, one.value) for key, one in ledger.assumed.items()] == [("speaker.it.motor.n", 0.7)]
    ledger = Ledger()
    job = table_job(speaker=[{"id": "it", "motor": MOTOR}])
    unrated, _ = unit_of(job, job.file.speaker[0], F, ledger, Memo())
    assert unrated is not None
    assert (unrated.rated_ohm, unrated.nominal_ohm) == (None, pytest.approx(1.2 * 3.6))
    assert [(key, one.unit) for key, one in ledger.assumed.items()] == [("speaker.it.rated", "ohm")]


@pytest.mark.parametrize("missing", ["Re", "fs", "Qes", "Vas"])
def test_what_is_missing_is_asked_for_by_name(missing: str) -> None:
    made, (check,) = read({key: value for key, value in MOTOR.items() if key != missing})
    assert made is None
    assert (check.code, check.key) == ("sound.data", "motor")
    assert check.remedy is not None
    assert missing in str(dict((n, v) for n, v, _ in check.remedy.quantities)["wanted"])  # noqa: C402 - three, not two


def test_no_motor_at_all_is_asked_for_too() -> None:
    job = table_job(speaker=[{"id": "it"}])
    made, (check,) = unit_of(job, job.file.speaker[0], F, Ledger(), Memo())
    assert made is None
    assert ("have", "nothing", "") in check.title.quantities


def test_a_parameter_that_disagrees_with_the_others_is_said_with_both() -> None:
    _, (check,) = read({**MOTOR, "Bl": "3 Tm"})
    assert (check.code, check.value, check.unit) == ("sound.parameters", 3.0, "Tm")
    assert check.limit == pytest.approx(unit(MOTOR).driver.Bl)
    assert read({**MOTOR, "Bl": f"{unit(MOTOR).driver.Bl * 1.05:.4f} Tm"})[1] == ()  # a tenth is let pass


def half_space_db(made: Unit, volts: float, meters: float) -> np.ndarray:
    """By hand: the cone's volume velocity as a point source before a wall, p = rho f U / r; its own arithmetic."""
    d, w = made.driver, 2 * pi * F
    force = d.Bl * volts / free_air_impedance(F, made)
    velocity = force / (1j * w * d.Mms + d.Rms + 1 / (1j * w * d.Cms))
    return np.asarray(20 * np.log10(np.abs(1.2041 * F * velocity * d.Sd / meters) / 20e-6))


def test_a_response_measured_otherwise_than_at_a_meter_corrects_by_the_same() -> None:
    plain = unit(MOTOR)
    for volts, meters in ((2.83, 1.0), (1.0, 0.5)):
        curve = Columns(F, half_space_db(plain, volts, meters) + 3.0, None)
        told = {"response": "r.txt", "distance": f"{meters} m", "volts": f"{volts} V", "above": "400 Hz"}
        made = unit(MOTOR, curves={"r.txt": curve}, measured=told)
        assert made.correction is not None
        gained = 20 * np.log10(np.abs(made.correction))
        assert gained[(F > 800) & (F < 15_000)] == pytest.approx(3.0, abs=0.05)
        assert made.measured_to_hz == pytest.approx(F[-1])


def test_a_measured_impedance_is_the_coils_where_the_cone_is_still() -> None:
    plain = unit(MOTOR)
    model = free_air_impedance(F, plain)
    louder = Columns(F, np.abs(model) * 1.2, np.degrees(np.angle(model)))
    made = unit(MOTOR, curves={"z.txt": louder}, measured={"impedance": "z.txt"})
    assert made.residual is not None
    high = (F > 1_000) & (F < 10_000)  # above, what was measured fades into the model
    assert np.abs(made.residual + model)[high] == pytest.approx(np.abs(model)[high] * 1.2, rel=0.01)
    assert np.abs(made.residual)[F < 100].max() < 0.1  # near its resonance it is what fs and Q say


def test_a_curve_that_cannot_be_used_leaves_the_model() -> None:
    short = Columns(np.array([20.0, 50.0]), np.array([80.0, 82.0]), None)
    made, checks = read(MOTOR, curves={"r.txt": short}, measured={"response": "r.txt"})
    assert made is not None
    assert made.correction is None
    assert [c.code for c in checks] == ["sound.measured"]
