"""Measured impedance and response laid into the model: used where they were measured, the model elsewhere.

Where no phase was measured it is the least one that the magnitude allows, from Bode's relation (Bode, Network
Analysis and Feedback Amplifier Design, 1945, chapter XIV): the phase at f is (1/pi) times the integral over
u = ln(f'/f) of the slope of ln|H| times ln coth|u/2|.  That is the Hilbert transform written in log frequency.
An impedance has that phase always: a passive one-port has neither pole nor zero to the right (Brune 1931).
A driver's own response nearly has it; several drivers together, or a room in the reading, need not.

Frequencies in Hz, impedance in ohm, levels in dB, phases in degrees.  Numpy alone."""

from __future__ import annotations

from math import log, pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.network.element import Complex
from backwave.sound.cabin import frequencies

Real = NDArray[np.float64]

# width over which measured and modeled curves change over, octaves (common trade practice: a smoothing width)
FADE_OCTAVE = 1 / 3
STEP = log(2) / 96  # of the log-frequency grid on which slopes are taken
COARSE = 2 ** (1 / 3)  # ratio of neighboring model frequencies beyond which its curve is not known well enough


def blend_impedance(
    f_hz: ArrayLike, model_z: ArrayLike, measured_f: ArrayLike, ohm: ArrayLike, phase_deg: ArrayLike | None = None
) -> Complex:
    """Measured impedance inside its range, the model outside, changed over within a third of an octave of its ends. Log
    magnitude and phase are interpolated and blended over log frequency. Without a measured phase, that of the model is
    corrected by the least phase of measured over modeled magnitude. The real part cannot come out negative: both phases
    lie within 90 degrees and so does any mean of them. `f_hz` (n_freq,): where it is wanted, rising; without a measured
    phase no coarser than a third of an octave; `model_z`, (n_freq,) ohm: the model's impedance there, its real part 0
    or more; `measured_f` (n,): frequencies of the reading, rising, over an octave or more; `ohm`, (n,) ohm: magnitude
    read, above 0; returns (n_freq,) ohm."""
    f, model = _curve("model impedance", f_hz, model_z, complex)
    fm, size = _curve("measured impedance", measured_f, ohm, float)
    if not (size > 0).all():
        raise InputError("measured impedance", float(size.min()), "above 0 ohm")
    if (model.real < -1e-9 * np.abs(model)).any() or not (model != 0).all():
        raise InputError("model impedance", complex(model[np.argmin(model.real)]), "a real part of 0 ohm or more")
    if fm[-1] < 2 * fm[0]:
        raise InputError("range of the measured impedance", f"{fm[0]:g} to {fm[-1]:g} Hz", "an octave or more")
    share = np.minimum(_rise(f, fm[0]), 1 - _rise(f, fm[-1] / 2**FADE_OCTAVE))
    used = share > 0
    if not used.any():
        return np.array(model)
    phase_model = np.angle(model)
    nepers = _at(f, fm, np.log(size)) - np.log(np.abs(model))
    if phase_deg is not None:
        _, deg = _curve("measured phase", measured_f, phase_deg, float)
        deg = (deg + 180) % 360 - 180
        _passive(fm, deg, "the phase of a passive impedance, -90 to 90 degrees; are the leads of the jig swapped?")
        phase = _at(f, fm, np.radians(deg))
    else:
        grid = _grid(f, max(f[0], fm[0]), min(f[-1], fm[-1]))
        ratio = _at(grid, fm, np.log(size)) - _at(grid, f, np.log(np.abs(model)))
        phase = phase_model + _minimum_phase(f, grid, ratio)
        _passive(f[used], np.degrees(phase[used]), "a magnitude of a passive impedance; a measured phase settles it")
    return np.asarray(model * np.exp(share * (nepers + 1j * (phase - phase_model))))


def response_correction(
    f_hz: ArrayLike, model_db: ArrayLike, measured_f: ArrayLike, measured_db: ArrayLike, from_hz: float
) -> Complex:
    """What a model's response is multiplied with to become the measured one, from a frequency up. Both levels are of
    the same condition: half space, one distance, one voltage. Below `from_hz` the correction is 1, over the third of an
    octave above it comes in full. A reading whose window is cut off before the first reflection at a time t says
    nothing below 1/t: take that or more. Above the last frequency read the last correction holds: a model that is wrong
    there is not right again beyond. `f_hz` (n_freq,): where it is wanted, rising, no coarser than a third of an octave;
    `model_db` (n_freq,): the model's own half-space level there; `measured_db` (n,): level read, at the model's
    distance and voltage; `from_hz`: where the reading begins to hold; the first frequency read if that is higher."""
    f, model = _curve("model response", f_hz, model_db, float)
    fm, level = _curve("measured response", measured_f, measured_db, float)
    start = max(from_hz, float(fm[0]))
    if not (from_hz > 0 and start <= fm[-1] / 2**FADE_OCTAVE):
        raise InputError(
            "frequency from which a response holds", from_hz, f"a third of an octave below its end, {fm[-1]:g} Hz"
        )
    share = _rise(f, start)
    if not share.any():
        return np.ones(len(f), dtype=complex)
    grid = _grid(f, max(f[0], start), min(f[-1], fm[-1]))
    held = np.clip(f, grid[0], grid[-1])
    to_nepers = log(10) / 20
    nepers = share * to_nepers * (_at(held, fm, level) - _at(held, f, model))
    curve = _rise(grid, start) * to_nepers * (_at(grid, fm, level) - _at(grid, f, model))
    return np.asarray(np.exp(nepers + 1j * _minimum_phase(f, grid, curve)))


def minimum_phase(at_hz: ArrayLike, f_hz: ArrayLike, magnitude: ArrayLike) -> Real:
    """Least phase that a magnitude allows; beyond the ends of the list the magnitude is taken as constant. `magnitude`,
    (n,) any unit; returns (n_at,) deg."""
    at = frequencies(at_hz)
    f, size = _curve("magnitude", f_hz, magnitude, float)
    if len(f) < 2 or not (size > 0).all():
        raise InputError("magnitude", float(size.min()), "two or more values above 0")
    grid = _log_grid(f[0], f[-1])
    return np.degrees(_minimum_phase(at, grid, _at(grid, f, np.log(size))))


def _minimum_phase(f: Real, grid: Real, nepers: Real) -> Real:
    """Bode's relation on an even log grid, rad: exact for a curve straight between its points, flat beyond them."""
    u = np.log(grid)
    step = (u[-1] - u[0]) / (len(u) - 1)
    # The phase does not end where the curve does: flat pieces carry the grid to all frequencies asked for.
    more = np.ceil(np.maximum([u[0] - log(f.min()), log(f.max()) - u[-1]], 0) / step).astype(int) + 1
    slope = np.concatenate([np.zeros(more[0]), np.diff(nepers) / step, np.zeros(more[1])])
    n = len(slope)
    weight = np.diff(_coth_integral(np.arange(-n, n + 1) * step))
    phase = np.convolve(slope, weight[::-1])[n - 1 :][: n + 1]
    nodes = u[0] + step * (np.arange(n + 1) - more[0])
    return np.asarray(np.interp(np.log(f), nodes, phase) / pi)


def _coth_integral(u: Real) -> Real:
    """Integral of ln coth|v/2| from 0 to u: odd, pi^2/4 at infinity. For u < 1/2 from the series of ln tanh (Abramowitz
    and Stegun 4.5.64 integrated), else from 2 sum over odd n of (1 - e^{-nu})/n^2 (ln coth(v/2) = 2 artanh e^{-v},
    4.6.22)."""
    x = np.abs(u)
    near = np.minimum(x, 0.5)
    with np.errstate(divide="ignore", invalid="ignore"):
        small = np.where(near > 0, near * (1 - np.log(near / 2)), 0.0)
    small += near**3 / 36 - 7 * near**5 / 7200 + 62 * near**7 / 1270080 - 127 * near**9 / 43545600
    odd = np.arange(1, 80, 2)
    far = np.maximum(x, 0.5)
    large = pi**2 / 4 - 2 * (np.exp(-np.multiply.outer(far, odd)) / odd**2).sum(axis=-1)
    return np.asarray(np.sign(u) * np.where(x < 0.5, small, large))


def _rise(f: Real, start: float) -> Real:
    """0 below `start`, 1 from `FADE_OCTAVE` above it, a raised cosine in log frequency between."""
    return np.asarray(np.sin(pi / 2 * np.clip(np.log2(f / start) / FADE_OCTAVE, 0, 1)) ** 2)


def _log_grid(low: float, high: float) -> Real:
    steps = max(2, int(np.ceil(log(high / low) / STEP)))
    return np.asarray(np.geomspace(low, high, steps + 1))


def _grid(f: Real, low: float, high: float) -> Real:
    """Where measured and modeled curve are compared; the model must be known there."""
    inside = f[np.searchsorted(f, low, "right") - 1 : np.searchsorted(f, high, "left") + 1]
    if len(inside) < 2 or (inside[1:] / inside[:-1] > COARSE * 1.0001).any():
        raise InputError(
            "frequencies of the model", f"{len(inside)} from {low:g} to {high:g} Hz", "three or more to an octave"
        )
    return _log_grid(low, high)


def _at(f: Real, known_f: Real, known: Real) -> Real:
    return np.asarray(np.interp(np.log(f), np.log(known_f), known))


def _passive(f: Real, deg: Real, accepted: str) -> None:
    at = int(np.argmax(np.abs(deg)))
    if abs(deg[at]) > 90:
        raise InputError(f"phase of the measured impedance at {f[at]:.4g} Hz", f"{deg[at]:.1f} degrees", accepted)


def _curve(what: str, f_hz: ArrayLike, values: ArrayLike, kind: type) -> tuple[Real, NDArray[Any]]:
    f = frequencies(f_hz)
    y: NDArray[Any] = np.asarray(values, dtype=kind)
    if y.shape != f.shape or len(f) < 1 or not np.isfinite(y).all():
        raise InputError(what, f"{y.shape} values, {f.shape} frequencies", "a finite value for each frequency")
    if (np.diff(f) <= 0).any():
        raise InputError(f"frequencies of the {what}", float(f[1:][np.diff(f) <= 0][0]), "a list that rises")
    return f, y
