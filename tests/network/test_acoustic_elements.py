"""Voice coil, slit, hole and piston against printed values, limits, and mpmath at 30 digits."""

from __future__ import annotations

import subprocess
import sys

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.network.element import (
    END_FLANGED,
    END_FREE,
    END_PISTON,
    hole,
    piston_directivity,
    piston_radiation,
    semi_inductance,
    semi_inductance_factor,
    slit,
)

RHO, MU, C = 1.2041, 1.813e-5, 343.2


@pytest.mark.parametrize(
    ("x", "r", "i"),
    [  # R1, X1 by 2ka: tabulated in Kinsler, Frey, Coppens, Sanders, appendix (from memory); 8 digits derived
        (0.2, 0.00499167, 0.08465654), (0.5, 0.03092617, 0.20869498), (1, 0.11989883, 0.39691467),
        (2, 0.42327519, 0.64676373), (3, 0.77396069, 0.68007305), (4, 1.03302166, 0.53486333),
        (6, 1.09222795, 0.15939175), (8, 0.94134091, 0.12202901), (10, 0.99130546, 0.17836650),
        (12, 1.03724118, 0.09730955),
    ],
)  # fmt: skip
def test_piston_radiation(x: float, r: float, i: float) -> None:
    a = 0.065
    z = piston_radiation([x * C / (4 * np.pi * a)], a, RHO, C)[0] * np.pi * a**2 / (RHO * C)
    # The tabulated 8 digits are rounded (and R1 at 10 by one in the last place): 1.5e-8.
    assert z == pytest.approx(complex(r, i), abs=1.5e-8)


@given(st.floats(1e-8, 40.0))
def test_piston_radiation_against_bessel_and_struve_at_30_digits(x: float) -> None:
    with mpmath.workdps(30):
        y = mpmath.mpf(x)
        r = 1 - 2 * mpmath.besselj(1, y) / y
        i = 2 * mpmath.struveh(1, y) / y
    z = piston_radiation([x * C / (4 * np.pi)], 1.0, 1.0, C)[0] * np.pi / C
    assert z.real == pytest.approx(float(r), rel=1e-12)
    assert z.imag == pytest.approx(float(i), rel=1e-10)


def test_piston_mass_and_end_corrections() -> None:
    # Rayleigh: rho 8a/(3 pi) on one side at low frequency; pipes 0.8217 a (Nomura 1960, from memory) and 0.6133 a
    # (Levine and Schwinger 1948, Phys. Rev. 73:383).
    a, f = 0.065, 1.0
    mass = piston_radiation([f], a, RHO, C)[0].imag / (2 * np.pi * f)
    assert mass == pytest.approx(RHO * END_PISTON * a / (np.pi * a**2), rel=1e-5)
    assert pytest.approx([0.8488264, 0.8217, 0.6133], abs=1e-7) == [END_PISTON, END_FLANGED, END_FREE]


def test_semi_inductance() -> None:
    # Leach 2002, JAES 50(6):442-450, with K 0.0235, n 0.688 (the example from memory).
    expected = [0.931029 + 1.745129j, 4.539034 + 8.508002j, 22.12908 + 41.47893j]
    assert semi_inductance([100.0, 1000.0, 10000.0], 0.0235, 0.688) == pytest.approx(expected, rel=1e-5)
    assert semi_inductance([50.0], 1e-3, 1.0)[0] == pytest.approx(2j * np.pi * 50 * 1e-3, rel=1e-12)
    assert semi_inductance([50.0], 5.0, 0.0)[0] == pytest.approx(5.0)
    for n in (-0.1, 1.1):
        with pytest.raises(InputError, match="0 to 1"):
            semi_inductance([50.0], 1e-3, n)


@given(st.floats(1e-5, 1e-2), st.floats(0.05, 1.0))
def test_semi_inductance_has_the_reactance_of_the_data_sheet(le: float, n: float) -> None:
    z = semi_inductance([1000.0], semi_inductance_factor(le, n), n)[0]
    assert z.imag == pytest.approx(2 * np.pi * 1000 * le, rel=1e-12)
    assert z.real >= -1e-12


def test_slit_at_both_limits() -> None:
    # Beranek and Mellow, Acoustics (2012), ch. 4 (from memory): 12 mu l/(w h^3), 6/5 of the mass; then the mass.
    length, width, gap = 5e-3, 0.1, 0.5e-3
    low = slit([0.01], length, width, gap, RHO, MU)[0]
    assert low.real == pytest.approx(87024.0, rel=1e-6)
    assert low.imag / (2 * np.pi * 0.01) == pytest.approx(144.492, rel=1e-6)
    high = slit([1e7], length, width, gap, RHO, MU)[0]
    assert high.imag / (2 * np.pi * 1e7) == pytest.approx(120.410, rel=3e-3)
    f = (
        2 * np.pi * 1e7
    )  # next order: both sides' boundary layers add sqrt(2 mu/(rho w))/h to the mass, and as much loss
    assert high.imag / f == pytest.approx(120.410 * (1 + np.sqrt(2 * MU / (RHO * f)) / gap), rel=1e-5)


def test_hole_at_both_limits() -> None:
    # As above, round: 8 mu l/(pi a^4) and 4/3 of the mass; then the mass alone.
    low = hole([0.01], 2e-3, 1e-3, RHO, MU)[0]
    assert low.real == pytest.approx(92335.3, rel=1e-5)
    assert low.imag / (2 * np.pi * 0.01) == pytest.approx(1022.07, rel=1e-5)
    high = hole([1e7], 2e-3, 1e-3, RHO, MU)[0]
    assert high.imag / (2 * np.pi * 1e7) == pytest.approx(1022.07 * 0.75, rel=3e-3)


def test_leak_corner() -> None:
    # 10 L behind a slit 600 mm x 0.2 mm x 3 mm: 135975 Pa s/m3, corner 16.6004 Hz.
    r = slit([0.001], 3e-3, 0.6, 0.2e-3, RHO, MU)[0].real
    assert r == pytest.approx(135975, rel=1e-4)
    assert 1 / (2 * np.pi * r * 10e-3 / (RHO * C**2)) == pytest.approx(16.6004, rel=1e-4)


@given(st.floats(0.01, 1e5), st.floats(1e-5, 0.05))
def test_slit_and_hole_at_30_digits_never_overflow_or_cancel(f: float, size: float) -> None:
    """From a hair gap at 0.01 Hz to 25 mm at 20 kHz, where sinh and cosh are infinite."""
    with mpmath.workdps(40):
        k = mpmath.sqrt(2j * mpmath.pi * mpmath.mpf(f) * RHO / mpmath.mpf(MU))
        x, y = k * mpmath.mpf(size) / 2, k * mpmath.mpf(size)
        jw = 2j * mpmath.pi * mpmath.mpf(f) * RHO
        flat = jw / (mpmath.mpf(size)) / (1 - mpmath.tanh(x) / x)
        ratio = 1 - 2 / y if abs(y) > 1e3 else None
        if ratio is None:
            ratio = 1 - 2 * mpmath.besseli(1, y) / (y * mpmath.besseli(0, y))
            round_ = complex(jw / (mpmath.pi * mpmath.mpf(size) ** 2) / ratio)
            assert abs(hole([f], 1.0, size, RHO, MU)[0] / round_ - 1) < 1e-11
    found = slit([f], 1.0, 1.0, size, RHO, MU)[0]
    assert abs(found / complex(flat) - 1) < 1e-11
    assert found.real > 0
    assert np.isfinite(hole([f], 1.0, size, RHO, MU)).all()


def test_directivity() -> None:
    # First zero of J1 at 3.8317 (Abramowitz and Stegun, table 9.5; from memory).
    a = 0.065
    f = 3.8317060 * C / (2 * np.pi * a * np.sin(np.radians(60)))
    assert abs(piston_directivity([f], a, C, 60.0)[0]) < 1e-7
    assert piston_directivity([f, 20.0], a, C, 0.0) == pytest.approx([1.0, 1.0])


def test_what_cannot_be_is_refused() -> None:
    for bad in (0.0, -1e-3, float("nan")):
        with pytest.raises(InputError, match="gap"):
            slit([100.0], 1e-3, 1e-3, bad, RHO, MU)
        with pytest.raises(InputError, match="radius"):
            hole([100.0], 1e-3, bad, RHO, MU)


def test_the_rooms_at_rest_do_not_load_scipy() -> None:
    rooms = "backwave.acoustics, backwave.sound.stage, backwave.sound.enclosures, backwave.measure.impedance"
    code = f"import sys, {rooms}; print('scipy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


def test_a_piston_as_large_as_a_house_is_refused_before_its_points_are_made() -> None:
    with pytest.raises(InputError, match="too many points of a piston's radiation"):
        piston_radiation(np.array([20.0, 20e3]), 50.0, 1.2, 344.0)
