"""Impedance over a known resistor and the parameters fitted to it: known drivers come back within what is stated."""

from __future__ import annotations

import numpy as np
import pytest
from measure.chain import Path, record

from backwave.acoustics import log_frequencies
from backwave.errors import InputError
from backwave.measure.impedance import (
    ImpedanceCurve,
    Motor,
    added_mass,
    channel_match,
    check_jig,
    check_motor,
    fit_motor,
    known_box,
    model_impedance,
    read_impedance,
)
from backwave.measure.sweep import Sweep, plan_take, take_signal

F = log_frequencies(10.0, 5000.0, 24)
# An invented driver: fs 60 Hz, Qes 0.60, Qms 3.5, Re 3.4 ohm, Sd 133 cm2, Vas 12 L.  By Small 1972 (JAES
# 20(5):383-395), worked out by hand: Mms 14.710144 g, Cms 4.783225e-4 m/N, Bl 5.605803 N/A.
TRUE = {"Re": 3.4, "fs": 60.0, "Qms": 3.5, "Qes": 0.60, "K": 0.012, "n": 0.72}
SD, MMS, CMS, BL, VAS = 133e-4, 14.710144e-3, 4.783225e-4, 5.605803, 12e-3


def noisy(seed: int, noise: float = 0.01, **change: float) -> ImpedanceCurve:
    rng = np.random.default_rng(seed)
    z = model_impedance(F, **(TRUE | change))
    z = z * (1 + noise * (rng.normal(size=F.size) + 1j * rng.normal(size=F.size)))
    return ImpedanceCurve(F, z, np.full(F.size, noise))


def test_model_at_resonance_and_far_above() -> None:
    """Re (1 + Qms/Qes) at fs (Small 1972); K w^n at angle n pi/2 far above (Leach 2002, JAES 50(6):442-450)."""
    assert model_impedance([60.0], 3.4, 60.0, 3.5, 0.6)[0] == pytest.approx(23.23333, rel=1e-6)
    far = model_impedance([1e7], **TRUE)[0] - 3.4
    assert np.angle(far) == pytest.approx(0.72 * np.pi / 2, abs=1e-3)
    assert abs(far) == pytest.approx(0.012 * (2 * np.pi * 1e7) ** 0.72, rel=1e-3)


def test_without_noise_the_driver_comes_back() -> None:
    got = fit_motor(noisy(0, 0.0), 0.0)
    for name, value in TRUE.items():
        assert getattr(got, name).value == pytest.approx(value, rel=1e-5)
    assert got.Qts.value == pytest.approx(0.512195, rel=1e-5)
    assert got.misfit < 1e-6
    # Le at 1 kHz is the imaginary part over w
    w = 2 * np.pi * 1000
    assert got.inductance() == pytest.approx((0.012 * (1j * w) ** 0.72).imag / w, rel=1e-4)


@pytest.mark.slow
def test_stated_uncertainty_covers() -> None:
    """Of 200 noisy curves, 95 % intervals hold the truth in 95 % of cases: binomial, within three standard errors."""
    inside = dict.fromkeys((*TRUE, "Qts"), 0)
    truth = TRUE | {"Qts": 3.5 * 0.6 / 4.1}
    for seed in range(200):
        got = fit_motor(noisy(seed), 0.0)
        for name, value in truth.items():
            x = getattr(got, name)
            inside[name] += abs(x.value - value) < 1.96 * x.u
    for name, count in inside.items():
        assert count / 200 >= 0.95 - 3 * 0.0154, (name, count)
        assert count < 200, name  # nor is it stated far too wide


def test_the_resistor_is_in_Re_and_not_in_the_qualities() -> None:
    with_it, without = fit_motor(noisy(1), 0.02), fit_motor(noisy(1), 0.0)
    assert with_it.Re.u == pytest.approx(np.hypot(without.Re.u, 0.02 * without.Re.value))
    assert (with_it.Qes, with_it.Qms, with_it.fs) == (without.Qes, without.Qms, without.fs)


def jig(z: np.ndarray | None, f: np.ndarray, ratio: complex) -> np.ndarray:
    """Second channel over first: the divider Z/(R + Z), times how the second input differs."""
    return np.full(f.size, ratio) if z is None else ratio * z / (10.0 + z)


def test_through_the_whole_jig() -> None:
    """Two channels, 60 dB signal over noise, another clock, inputs 0.5 dB and 2 degrees apart and matched."""
    take = plan_take(outputs=("jig",), sweep=Sweep(8.0, 8000.0, 4.0))
    signal = take_signal(take)
    ratio = 10 ** (-0.5 / 20) * np.exp(-1j * np.radians(2.0))

    def channels(loaded: bool) -> np.ndarray:
        def second(f: np.ndarray) -> np.ndarray:
            safe = np.maximum(f, 0.5)
            return jig(model_impedance(safe, **TRUE) if loaded else None, f, ratio)

        rows = [record(signal, 48000, [Path(s)], ppm=35, snr_db=60, seed=k)
                for k, s in enumerate((lambda f: np.ones(f.size, dtype=complex), second))]  # fmt: skip
        return np.stack([r.samples for r in rows], axis=1)

    match = channel_match(channels(False), 48000.0, take, F)
    curve = read_impedance(channels(True), 48000.0, take, 10.0, F, match)
    assert np.abs(curve.z) == pytest.approx(np.abs(model_impedance(F, **TRUE)), rel=0.02)
    got = fit_motor(curve, 0.001)
    for name in ("Re", "fs", "Qms", "Qes"):
        assert getattr(got, name).value == pytest.approx(TRUE[name], rel=0.015)
    assert check_motor(got).verdict == "ok"
    loaded = channels(True)
    swapped = loaded[:, ::-1]
    with pytest.raises(InputError, match="the other way round"):
        read_impedance(swapped, 48000.0, take, 10.0, F)
    same = loaded[:, [0, 0]]
    with pytest.raises(InputError, match="same voltage"):
        read_impedance(same, 48000.0, take, 10.0, F)
    with pytest.raises(InputError, match="two channels"):
        read_impedance(same[:, 0], 48000.0, take, 10.0, F)


def shifted(mass: float) -> dict[str, float]:
    """With mass on the cone: fs falls and both qualities rise by sqrt((M + m)/M) (Small 1972)."""
    r = np.sqrt((MMS + mass) / MMS)
    return {"fs": 60.0 / r, "Qms": 3.5 * r, "Qes": 0.6 * r}


def test_added_mass() -> None:
    got = added_mass(fit_motor(noisy(0, 0.0), 0.0), fit_motor(noisy(0, 0.0, **shifted(0.010)), 0.0), 0.010, SD)
    assert got.Mms.value == pytest.approx(MMS, rel=1e-4)
    assert got.Cms.value == pytest.approx(CMS, rel=1e-4)
    assert got.Vas.value == pytest.approx(VAS, rel=2e-4)
    assert got.Bl.value == pytest.approx(BL, rel=1e-4)


def test_known_box() -> None:
    """In 8 L: fc = fs sqrt(1 + Vas/Vb) and both qualities by the same factor (Small 1972): 94.86833 Hz."""
    r = np.sqrt(1 + VAS / 8e-3)
    boxed = fit_motor(noisy(0, 0.0, fs=60.0 * r, Qms=3.5 * r, Qes=0.6 * r), 0.0)
    assert boxed.fs.value == pytest.approx(94.86833, rel=1e-5)
    got = known_box(fit_motor(noisy(0, 0.0), 0.0), boxed, 8e-3, SD)
    assert got.Vas.value == pytest.approx(VAS, rel=1e-4)
    assert got.Mms.value == pytest.approx(MMS, rel=2e-4)
    assert got.Bl.value == pytest.approx(BL, rel=2e-4)


@pytest.mark.slow
def test_uncertainty_of_mass_and_box_covers() -> None:
    """60 draws of both curves, and of the mass and the volume as read."""
    rng = np.random.default_rng(9)
    r = np.sqrt(1 + VAS / 8e-3)
    hits = {"mass": 0, "box": 0}
    for seed in range(60):
        free = fit_motor(noisy(seed), 0.0)
        loaded = fit_motor(noisy(1000 + seed, **shifted(0.010)), 0.0)
        boxed = fit_motor(noisy(2000 + seed, fs=60.0 * r, Qms=3.5 * r, Qes=0.6 * r), 0.0)
        by_mass = added_mass(free, loaded, 0.010 + rng.normal(0, 1e-4), SD, 1e-4)
        by_box = known_box(free, boxed, 8e-3 + rng.normal(0, 8e-5), SD, 8e-5)
        hits["mass"] += abs(by_mass.Vas.value - VAS) < 1.96 * by_mass.Vas.u
        hits["box"] += abs(by_box.Vas.value - VAS) < 1.96 * by_box.Vas.u
    for name, count in hits.items():
        assert count >= 51, (name, count)  # 57 expected, standard error 1.7


def test_what_cannot_be_fitted_is_refused() -> None:
    flat = ImpedanceCurve(F, np.full(F.size, 4.0 + 0j), np.full(F.size, 0.01))
    with pytest.raises(InputError, match="no resonance"):
        fit_motor(flat)
    with pytest.raises(InputError, match="points"):
        fit_motor(ImpedanceCurve(F[:9], flat.z[:9], flat.u_relative[:9]))
    free: Motor = fit_motor(noisy(0, 0.0), 0.0)
    assert check_motor(fit_motor(noisy(0, 0.2))).verdict == "caution"
    with pytest.raises(InputError, match="more mass"):
        added_mass(free, fit_motor(noisy(0, 0.0, **shifted(0.001)), 0.0), 0.001, SD)
    with pytest.raises(InputError, match="tighter box"):
        known_box(free, free, 8e-3, SD)
    with pytest.raises(InputError):
        added_mass(free, free, -1.0, SD)


def test_the_gate() -> None:
    assert check_jig(0.8, True).verdict == "ok"
    for volts, unplugged in ((0.8, False), (4.0, True), (float("nan"), True)):
        check = check_jig(volts, unplugged)
        assert check.verdict == "stop"
        assert check.remedy is not None
