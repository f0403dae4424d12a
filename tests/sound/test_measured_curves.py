"""Measured curves in the model: least phase against closed forms, blending at its limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.network.element import semi_inductance
from backwave.sound.measured_curves import (
    FADE_OCTAVE,
    _coth_integral,
    blend_impedance,
    minimum_phase,
    response_correction,
)

F = np.geomspace(10.0, 40e3, 1200)


def driver(f: np.ndarray, k: float = 0.03, n: float = 0.7, q: float = 6.1) -> np.ndarray:
    """Coil, semi-inductance, motional peak at 58 Hz: Small 1972, JAES 20(5), fig. 6, with Leach's coil."""
    s = 1j * f / 58.0
    return 3.3 + semi_inductance(f, k, n) + 29.6 * (s / q) / (1 + s / q + s * s)


def db(x: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(x))


def test_kernel_of_bodes_relation() -> None:
    """Its integral from 0 to infinity is pi^2/4: twice the sum of 1/n^2 over odd n (Abramowitz and Stegun 23.2.20);
    between, against Gauss-Legendre quadrature with the logarithm taken off."""
    assert _coth_integral(np.array([60.0, -60.0])) == pytest.approx([np.pi**2 / 4, -(np.pi**2) / 4])
    node, weight = np.polynomial.legendre.leggauss(40)
    for u in (0.01, 0.3, 0.4999, 0.5001, 1.0, 4.0):
        v = u * (node + 1) / 2
        smooth = np.log(v / 2) - np.log(np.tanh(v / 2))
        assert _coth_integral(np.array([u]))[0] == pytest.approx(
            u / 2 * (weight @ smooth) + u * (1 - np.log(u / 2)), abs=1e-9
        )


@pytest.mark.parametrize("order", [1, 2, 3, 4])
def test_butterworth_magnitude_gives_butterworth_phase(order: int) -> None:
    """Poles at e^{j pi (2k + n - 1)/(2n)} (Butterworth 1930; Zverev, Handbook of Filter Synthesis, 1967).

    The list ends six decades from the corner, beyond it the slope counts as 0: at most n (2/pi) 1e-4 rad two
    decades inside the end."""
    f = np.geomspace(1e-3, 1e9, 6000)
    magnitude = 1 / np.sqrt(1 + (f / 1e3) ** (2 * order))
    at = np.geomspace(10.0, 1e5, 60)
    poles = np.exp(1j * np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order))
    exact = np.degrees(-np.angle(1j * at[:, None] / 1e3 - poles).sum(axis=1))
    exact += 360 * np.round((minimum_phase(at, f, magnitude)[0] - exact[0]) / 360)
    assert minimum_phase(at, f, magnitude) == pytest.approx(np.degrees(np.unwrap(np.radians(exact))), abs=0.03)


def shelf(f: np.ndarray) -> np.ndarray:
    return np.asarray((1 + 1j * f / 300) / (1 + 1j * f / 3000))


def test_error_of_the_least_phase_falls_with_the_square_of_the_spacing() -> None:
    at = np.geomspace(100.0, 1e4, 40)
    worst = []
    for spacing in (12, 24, 48):  # points to an octave, all coarser than the grid inside
        f = 1e-2 * 2 ** (np.arange(36 * spacing) / spacing)
        off = minimum_phase(at, f, np.abs(shelf(f))) - np.degrees(np.angle(shelf(at)))
        worst.append(np.sqrt(np.mean(off**2)))
    assert worst[0] / worst[1] == pytest.approx(4, rel=0.25)
    assert worst[1] / worst[2] == pytest.approx(4, rel=0.25)


@pytest.mark.parametrize("with_phase", [True, False])
def test_the_model_measured_is_the_model(with_phase: bool) -> None:
    z = driver(F)
    phase = np.degrees(np.angle(z)) if with_phase else None
    assert blend_impedance(F, z, F, np.abs(z), phase) == pytest.approx(z, rel=1e-9)
    level = db(z)
    assert response_correction(F, level, F, level, 300.0) == pytest.approx(np.ones(len(F)), abs=1e-9)


@pytest.mark.parametrize("with_phase", [True, False])
def test_another_coil_and_another_peak_are_recovered(with_phase: bool) -> None:
    """The model has a plainer coil and another Q; the reading, 20 Hz to 20 kHz at 48 to an octave, is the truth."""
    truth, model = driver(F), driver(F, 0.011, 0.8, 4.0)
    fm = 20.0 * 2 ** (np.arange(480) / 48)
    phase = np.degrees(np.angle(driver(fm))) if with_phase else None
    z = blend_impedance(F, model, fm, np.abs(driver(fm)), phase)
    inside = (F > 30) & (F < 13e3)
    assert db(z)[inside] == pytest.approx(db(truth)[inside], abs=0.04)  # straight lines across a steep peak
    # Without its phase, what lies beyond 20 kHz is known from the model's coil alone: some degrees at the top.
    close = inside & ((13e3 if with_phase else 5e3) > F)
    assert np.degrees(np.angle(z))[close] == pytest.approx(
        np.degrees(np.angle(truth))[close], abs=0.6 if with_phase else 2.0
    )
    outside = (fm[0] > F) | (fm[-1] < F)
    assert np.array_equal(z[outside], model[outside])


@pytest.mark.parametrize("with_phase", [True, False])
def test_coil_read_with_phase_or_without_gives_its_exponent(with_phase: bool) -> None:
    """K (j w)^n has phase n 90 degrees wherever it is read (Leach 2002, JAES 50(6):442): 63 for n = 0.7."""
    model, z = semi_inductance(F, 0.02, 0.7), semi_inductance(F, 0.03, 0.7)
    phase = np.full(len(F), 63.0) if with_phase else None
    got = blend_impedance(F, model, F, np.abs(z), phase)
    middle = (F > 20) & (F < 20e3)
    assert np.degrees(np.angle(got)) == pytest.approx(np.full(len(F), 63.0), abs=1e-6)
    assert np.abs(got)[middle] == pytest.approx(np.abs(z)[middle])


@given(
    st.lists(st.tuples(st.floats(0.5, 200), st.floats(-90, 90), st.floats(0.01, 1.0)), min_size=12, max_size=40),
    st.floats(5, 2000),
    st.booleans(),
)
@settings(max_examples=50, deadline=None)
def test_no_blend_of_passive_impedances_is_active(
    points: list[tuple[float, float, float]], start: float, around: bool
) -> None:
    fm = start * 2 ** np.cumsum([0.1 + step for *_, step in points])
    phase = np.array([deg for _, deg, _ in points]) + (360 if around else 0)  # 359 degrees is -1 degree
    z = blend_impedance(F, driver(F), fm, np.array([ohm for ohm, *_ in points]), phase)
    assert (z.real >= -1e-9 * np.abs(z)).all()


def test_response_takes_a_measured_bump_from_its_frequency_up_and_is_one_below() -> None:
    """A peaking section has least phase (all its poles and zeros are to the left); W3C Audio EQ Cookbook."""
    s = 1j * F / 2000.0
    bump = (1 + s * 2**0.5 / 1.4 + s * s) / (1 + s / 2**0.5 / 1.4 + s * s)
    model = np.full(len(F), 88.0)
    got = response_correction(F, model, F, model + db(bump), 60.0)
    assert got[F > 60 * 2**FADE_OCTAVE * 1.01] == pytest.approx(bump[F > 60 * 2**FADE_OCTAVE * 1.01], rel=2e-3)
    got = response_correction(F, model, F, model + 3.0, 400.0)
    assert db(got)[F < 400] == pytest.approx(np.zeros((F < 400).sum()), abs=1e-12)
    assert db(got)[F > 400 * 2**FADE_OCTAVE] == pytest.approx(np.full((F > 400 * 2**FADE_OCTAVE).sum(), 3.0))
    assert abs(np.degrees(np.angle(got[0]))) < 1.0  # far below, neither level nor phase
    assert np.degrees(np.angle(got))[np.argmin(np.abs(F - 450))] > 10  # a rise of level leads


def test_last_correction_holds_beyond_the_reading() -> None:
    fm = np.geomspace(100, 5e3, 200)
    model = np.full(len(F), 88.0)
    got = response_correction(F, model, fm, np.where(fm > 4.9e3, 76.0, 86.0), 50.0)
    assert db(got)[F > 5e3] == pytest.approx(np.full((F > 5e3).sum(), -12.0))
    assert db(got)[F < 100] == pytest.approx(np.zeros((F < 100).sum()), abs=1e-12)  # nothing read below 100 Hz


Z = np.abs(driver(F))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: blend_impedance(F, driver(F), F, Z, np.full(len(F), 150.0)), "leads of the jig"),
        (lambda: blend_impedance(F, driver(F), F, -Z), "above 0 ohm"),
        (lambda: blend_impedance(F, -driver(F), F, Z), "real part"),
        (lambda: blend_impedance(F, driver(F), F[::-1], Z), "rises"),
        (lambda: blend_impedance(F, driver(F), F, Z[1:]), "for each frequency"),
        (lambda: blend_impedance(F, driver(F), F[:20], Z[:20]), "octave or more"),
        (lambda: blend_impedance(F[::200], driver(F[::200]), F, Z), "three or more to an octave"),
        (lambda: blend_impedance(F, driver(F), F, 3.3 * (1 + (F / 1e3) ** 4)), "a measured phase settles it"),
        (lambda: response_correction(F, Z, F, Z, 39e3), "below its end"),
        (lambda: response_correction(F, Z, F, np.where(F > 1e3, np.nan, Z), 300.0), "finite"),
        (lambda: minimum_phase(F, F, -Z), "above 0"),
    ],
)
def test_refused(call: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        call()  # type: ignore[operator]
