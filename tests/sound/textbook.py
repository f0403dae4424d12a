"""Small's closed forms, the second road to what the networks say."""

from __future__ import annotations

from math import inf, log10, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air
from backwave.sound.driver import Driver


def efficiency(driver: Driver) -> float:
    """Reference efficiency into half space, (4 pi^2/c^3) fs^3 Vas/Qes (Small 1972, JAES 20(5):383-395)."""
    return float(4 * pi**2 / Air().speed ** 3 * driver.fs**3 * driver.Vas / driver.Qes)


def sensitivity_db(driver: Driver, volts: float | None = None) -> float:
    """Level at 1 m in half space in the passband, dB re 20 uPa, for 1 W into Re or for a voltage."""
    watts = 1.0 if volts is None else volts**2 / driver.Re
    return float(10 * log10(efficiency(driver) * watts * Air().density * Air().speed / (2 * pi) / (20e-6) ** 2))


def vented_response(
    f_hz: ArrayLike, fs: float, qts: float, alpha: float, h: float, ql: float = inf
) -> NDArray[np.complex128]:
    """Response of a driver in a vented box with leakage, relative to the passband, with h = fB/fs.

    s^4/(s^4 + a3 s^3 + a2 s^2 + a1 s + 1) with s by sqrt(ws wB) (Small 1973, JAES 21, part I).
    """
    s = 1j * np.asarray(f_hz, dtype=float) / (fs * sqrt(h))
    a3 = 1 / (sqrt(h) * qts) + sqrt(h) / ql
    a2 = h + (1 + alpha) / h + 1 / (qts * ql)
    a1 = sqrt(h) / qts + 1 / (sqrt(h) * ql)
    return np.asarray(s**4 / np.polyval([1, a3, a2, a1, 1], s))
