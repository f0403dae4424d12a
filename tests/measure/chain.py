"""A made-up player, loudspeakers, room, microphone and recorder whose every property is known.

Independent of the room under test: it gets samples and gives samples.  All is done in one Fourier transform of the
whole signal, so filters, delays and the other clock are exact; the nonlinearity is applied at four times the rate,
as in the air, where nothing folds back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
Shape = Callable[[Real], NDArray[np.complex128]]


@dataclass(frozen=True)
class Path:
    """From one output to the microphone."""

    shape: Shape
    delay_s: float = 0.0
    gain: float = 1.0
    polynomial: tuple[float, ...] = (1.0,)  # of x, x^2, x^3


@dataclass(frozen=True)
class Recorded:
    """What the recorder has, and the truth about it."""

    samples: Real
    rate_hz: float
    ppm: float


def record(
    signal: Real, rate_hz: int, paths: Sequence[Path], *, ppm: float = 0.0, snr_db: float | None = None,
    offset_s: float = 0.7313, to_hz: int | None = None, bits: int | None = 16, seed: int = 1, over: int = 1,
) -> Recorded:  # fmt: skip
    """Play `signal` (n, outputs) through the paths and record their sum on another clock.

    `ppm` is met to 0.01 at best and told exactly; `snr_db` is signal power in the loud parts over white noise.
    """
    to_hz = to_hz or rate_hz
    lead, n0 = int(offset_s * rate_hz), signal.shape[0] + int((offset_s + 0.8) * rate_hz)
    ratio = to_hz / rate_hz * (1 + ppm * 1e-6)
    lengths = np.arange(n0, n0 + 4000) // 2 * 2  # even, and with ratio as near as may be
    n = int(lengths[np.argmin(np.abs(lengths * ratio / 2 - np.round(lengths * ratio / 2)))])
    m = round(n * ratio / 2) * 2
    f = np.fft.rfftfreq(over * n, 1 / (over * rate_hz))
    total = np.zeros(f.size, dtype=complex)
    for k, path in enumerate(paths):
        x = np.zeros(n)
        x[lead : lead + signal.shape[0]] = signal[:, k]
        fine = np.fft.irfft(np.fft.rfft(x), over * n) * over if over > 1 else x
        driven = sum(c * fine**p for p, c in enumerate(path.polynomial, start=1))
        total += np.fft.rfft(driven) / over * path.gain * path.shape(f) * np.exp(-2j * np.pi * f * path.delay_s)
    spectrum = np.zeros(m // 2 + 1, dtype=complex)
    keep = min(m // 2, n // 2)
    spectrum[:keep] = total[:keep]
    y = np.fft.irfft(spectrum, m) * m / n
    rng = np.random.default_rng(seed)
    if snr_db is not None:
        loud = np.abs(y) > 0.05 * np.abs(y).max()
        y = y + rng.normal(0, np.sqrt(np.mean(y[loud] ** 2)) * 10 ** (-snr_db / 20), m)
    if bits:
        y = np.round(y * 2 ** (bits - 1)) / 2 ** (bits - 1)
    return Recorded(y, to_hz, (m / n * rate_hz / to_hz - 1) * 1e6)


def butter(kind: str, order: int, f0: float) -> Shape:
    """Analog Butterworth response from its poles (Butterworth 1930)."""
    poles = np.exp(1j * np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order))

    def shape(f: Real) -> NDArray[np.complex128]:
        with np.errstate(divide="ignore", invalid="ignore"):
            s = 1j * f / f0 if kind == "low" else 1 / (1j * f / f0)
            h = 1 / np.prod(s[:, None] - poles, axis=1)
        return np.nan_to_num(h, nan=0.0, posinf=0.0, neginf=0.0)

    return shape


def product(*shapes: Shape) -> Shape:
    return lambda f: np.prod([s(f) for s in shapes], axis=0)


def resonance(f0: float, q: float, gain: float) -> Shape:
    """A peak or a dip that is least phase: (1 + gain x)/(1 + x) in the form of a ratio of second orders."""

    def shape(f: Real) -> NDArray[np.complex128]:
        s = 1j * f / f0
        return (1 + s * gain / q + s * s) / (1 + s / q + s * s)

    return shape


def echoes(*pairs: tuple[float, float]) -> Shape:
    """1 plus reflections of (delay s, gain)."""
    return lambda f: 1 + sum(g * np.exp(-2j * np.pi * f * t) for t, g in pairs)


def cabin_like() -> Shape:
    """A speaker with a bass corner, resonances and a treble corner: least phase."""
    return product(
        butter("high", 2, 55.0), resonance(130.0, 4.0, 2.0), resonance(900.0, 2.0, 0.5), resonance(3200.0, 3.0, 1.6),
        butter("low", 2, 15500.0),
    )  # fmt: skip
