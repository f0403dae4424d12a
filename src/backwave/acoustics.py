"""Air, filters as transfer functions, curves over frequency, and the bands people listen in.  SI units, frequencies in Hz.  Ground floor.

Each formula of air names its source; `Air` holds the four numbers that the rooms use.  Biquads are those of the Audio
EQ Cookbook (W3C Note, 2021), as the analog response and, where a sampling rate is given, as the digital coefficients.
Crossovers are Butterworth, Linkwitz-Riley and Bessel of orders 1 to 8; responses are without unit.  Bands for smoothing are those of
IEC 61260-1:2014 (base ten); levels are averaged as power, over the logarithm of frequency.  Numpy alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError, positive

Real = NDArray[np.float64]

G = 10**0.3  # octave ratio, IEC 61260-1:2014 equation 1


def log_frequencies(low_hz: float = 20.0, high_hz: float = 20000.0, per_octave: int = 24) -> Real:
    """Frequencies at even steps of log frequency, 1 kHz among them."""
    k = np.arange(np.ceil(np.log2(low_hz / 1000) * per_octave), np.floor(np.log2(high_hz / 1000) * per_octave) + 1)
    return np.asarray(1000.0 * 2 ** (k / per_octave))


def band_centers(fraction: int, low_hz: float = 20.0, high_hz: float = 20000.0) -> Real:
    """Exact centers of octave (1) or fractional-octave bands, equations 2 and 3 of IEC 61260-1:2014."""
    if fraction < 1:
        raise InputError("bands in an octave", fraction, "1 or more")
    x = np.arange(-8 * fraction, 8 * fraction)
    f = 1000 * G ** (x / fraction if fraction % 2 else (2 * x + 1) / (2 * fraction))
    half = G ** (1 / (2 * fraction))
    return np.asarray(f[(f * half > low_hz) & (f / half < high_hz)])


def smoothed(f_hz: ArrayLike, level_db: ArrayLike, fraction: float) -> Real:
    """A curve smoothed as power over a band round each frequency. `fraction`, 1: 1/3 of an octave is 3; returns
    (n_freq,) dB: at the ends over what there is of the band."""
    if not fraction > 0:
        raise InputError("smoothing", fraction, "bands in an octave, above 0")
    f = np.asarray(f_hz, dtype=float)
    half = 2 ** (1 / (2 * fraction))
    return band_levels(f, level_db, f / half, f * half)


def band_level(f_hz: ArrayLike, level_db: ArrayLike, low_hz: float, high_hz: float) -> float:
    """Mean level of a band, as power over log frequency. Returns dB."""
    return float(band_levels(f_hz, level_db, np.array([low_hz]), np.array([high_hz]))[0])


def band_levels(f_hz: ArrayLike, level_db: ArrayLike, low_hz: ArrayLike, high_hz: ArrayLike) -> Real:
    """Mean levels of many bands, as `band_level`. Returns (n,) dB."""
    f, level = np.asarray(f_hz, dtype=float), np.asarray(level_db, dtype=float)
    if f.ndim != 1 or f.shape != level.shape or f.size < 2 or not (np.diff(f) > 0).all() or f[0] <= 0:
        raise InputError("curve", f"{f.shape} and {level.shape}", "frequencies that rise, and a level for each")
    x, power = np.log(f), 10 ** (level / 10)
    low = np.clip(np.log(np.asarray(low_hz, dtype=float)), x[0], x[-1])
    high = np.clip(np.log(np.asarray(high_hz, dtype=float)), x[0], x[-1])
    if not (high > low).all():
        k = int(np.argmin(high - low))
        band = f"{np.exp(low[k]):.4g} to {np.exp(high[k]):.4g} Hz"
        raise InputError("band", band, f"part of {f[0]:.4g} to {f[-1]:.4g} Hz")
    total = np.concatenate([[0.0], np.cumsum(np.diff(x) * (power[1:] + power[:-1]) / 2)])

    def up_to(at: Real) -> Real:
        k = np.clip(np.searchsorted(x, at, side="right") - 1, 0, x.size - 2)
        here = power[k] + (at - x[k]) / (x[k + 1] - x[k]) * (power[k + 1] - power[k])
        return np.asarray(total[k] + (at - x[k]) * (power[k] + here) / 2)

    return np.asarray(10 * np.log10(np.maximum((up_to(high) - up_to(low)) / (high - low), 1e-30)))


def spatial_mean(levels_db: ArrayLike) -> tuple[Real, Real]:
    """Mean of several places as power, and how much they differ. Returns (n_freq,) dB: the spread is the standard
    deviation between places, 0 for one."""
    levels = np.atleast_2d(np.asarray(levels_db, dtype=float))
    mean = 10 * np.log10((10 ** (levels / 10)).mean(axis=0))
    return mean, levels.std(axis=0, ddof=1) if len(levels) > 1 else np.zeros(levels.shape[1])


def corrected(f_hz: ArrayLike, level_db: ArrayLike, mic_hz: ArrayLike, mic_db: ArrayLike) -> tuple[Real, Real]:
    """A curve less the microphone's own response. `mic_hz`, `mic_db` (n,): the microphone's response: what it reads too
    much; returns (n_freq,) dB: corrected; beyond the ends of the correction its end value holds."""
    f, mic = np.asarray(f_hz, dtype=float), np.asarray(mic_hz, dtype=float)
    if mic.size < 2 or not (np.diff(mic) > 0).all() or mic[0] <= 0:
        raise InputError("microphone correction", f"{mic.size} rows", "two or more, frequencies rising")
    off = np.interp(np.log(f), np.log(mic), np.asarray(mic_db, dtype=float))
    return np.asarray(level_db, dtype=float) - off, (f >= mic[0]) & (f <= mic[-1])


_ZERO_C = 273.15
_R_DRY, _R_VAPOR = 287.05, 461.5  # J/(kg K)
MAX_GAIN_DB, MAX_Q = 200.0, 1e4
Complex = NDArray[np.complex128]
Kind = Literal["peak", "low shelf", "high shelf", "low-pass", "high-pass", "all-pass"]
BIQUADS: tuple[Kind, ...] = ("peak", "low shelf", "high shelf", "low-pass", "high-pass", "all-pass")
# alignments by name: BW Butterworth, LR Linkwitz-Riley (even orders, the only ones there are), BE Bessel
CROSSOVERS: tuple[str, ...] = (
    *(f"BW{n}" for n in range(1, 9)), *(f"LR{n}" for n in (2, 4, 6, 8)), *(f"BE{n}" for n in range(1, 9)),
)  # fmt: skip
# ranges of hearing by the words fitters use, Hz (common trade practice)
BANDS: dict[str, tuple[float, float]] = {
    "deep bass": (20.0, 60.0), "mid-bass": (60.0, 250.0), "vocal": (250.0, 3000.0), "presence": (3000.0, 8000.0),
    "air": (8000.0, 16000.0),
}  # fmt: skip


@dataclass(frozen=True)
class Air:
    """Air at rest."""

    speed: float = 343.2  # m/s
    density: float = 1.2041  # kg/m3, mass by volume
    viscosity: float = 1.813e-5  # Pa s

    @property
    def stiffness(self) -> float:
        """Adiabatic bulk modulus rho c^2, Pa: volume over acoustical compliance."""
        return self.density * self.speed**2


def air(temperature_c: float = 20.0, pressure_pa: float = 101325.0, humidity: float = 0.0) -> Air:
    """Air of a given temperature, pressure and relative humidity. `temperature_c`, degree Celsius; `humidity`, 1:
    relative humidity, 0 to 1; it moves the density alone (what it does to the speed is left out)."""
    density = density_ideal_gas(temperature_c, pressure_pa, humidity)
    return Air(speed_of_sound_iso9613(temperature_c), density, viscosity_sutherland(temperature_c))


def speed_of_sound_iso9613(temperature_c: float) -> float:
    """Speed of sound, 343.2 sqrt(T/293.15) m/s (ISO 9613-1:1993). `temperature_c`, degree Celsius; returns m/s."""
    return 343.2 * sqrt(_kelvin(temperature_c) / 293.15)


def density_ideal_gas(temperature_c: float, pressure_pa: float = 101325.0, humidity: float = 0.0) -> float:
    """Density of dry or moist air as a mixture of ideal gases. `temperature_c`, degree Celsius; `humidity`, 1: relative
    humidity, 0 to 1; returns kg/m3."""
    if not 0 <= humidity <= 1:
        raise InputError("relative humidity", humidity, "0 to 1")
    vapor = humidity * saturation_pressure_iso9613(temperature_c)
    if not vapor < pressure_pa:
        raise InputError("static pressure", pressure_pa, f"pascal, above the vapor's {vapor:.0f}")
    return ((pressure_pa - vapor) / _R_DRY + vapor / _R_VAPOR) / _kelvin(temperature_c)


def saturation_pressure_iso9613(temperature_c: float) -> float:
    """Vapor pressure of water at saturation (ISO 9613-1:1993, annex B; from memory). `temperature_c`, degree Celsius;
    returns Pa."""
    return 101325.0 * 10 ** (-6.8346 * (273.16 / _kelvin(temperature_c)) ** 1.261 + 4.6151)


def viscosity_sutherland(temperature_c: float) -> float:
    """Dynamic viscosity, 1.458e-6 T^1.5/(T + 110.4) Pa s (Sutherland's formula). `temperature_c`, degree Celsius;
    returns Pa s."""
    t = _kelvin(temperature_c)
    return 1.458e-6 * t**1.5 / (t + 110.4)


def _kelvin(temperature_c: float) -> float:
    if not -50 <= temperature_c <= 100:
        raise InputError("air temperature", temperature_c, "-50 to 100 degree Celsius")
    return temperature_c + _ZERO_C


@dataclass(frozen=True)
class Biquad:
    """A second-order section in s/w0: (b0 s^2 + b1 s + b2) / (a0 s^2 + a1 s + a2)."""

    f0_hz: float  # its frequency
    b: tuple[float, float, float]  # 1, coefficients of s^2, s and 1, of numerator and denominator
    a: tuple[float, float, float]  # 1

    def response(self, f_hz: ArrayLike) -> Complex:
        """Analog response."""
        s = 1j * np.asarray(f_hz, dtype=float) / self.f0_hz
        return np.asarray(np.polyval(self.b, s) / np.polyval(self.a, s))

    def digital(self, rate_hz: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Coefficients at a sampling rate, by the bilinear transform that keeps f0 in its place. Returns (3,): of z^0,
        z^-1, z^-2; a[0] is 1."""
        if not rate_hz > 2 * self.f0_hz:
            raise InputError("sampling rate", rate_hz, f"above {2 * self.f0_hz:g} Hz, twice the filter's frequency")
        t = np.tan(pi * self.f0_hz / rate_hz)  # s = (1 - z^-1) / (1 + z^-1) / t
        square = np.array([[1.0, -2.0, 1.0], [t, 0.0, -t], [t * t, 2 * t * t, t * t]])
        b, a = np.asarray(self.b) @ square, np.asarray(self.a) @ square
        return b / a[0], a / a[0]


def biquad(kind: Kind, f0_hz: float, gain_db: float = 0.0, q: float = sqrt(0.5)) -> Biquad:
    """Any of the six kinds by name. `q`, 1: quality, above 0."""
    if kind not in BIQUADS:
        raise InputError("kind of filter", kind, ", ".join(BIQUADS))
    if kind in ("peak", "low shelf", "high shelf"):
        return {"peak": peak, "low shelf": low_shelf, "high shelf": high_shelf}[kind](f0_hz, gain_db, q)
    if gain_db:
        raise InputError(f"gain of a {kind}", gain_db, "no gain: use a gain of the path")
    return {"low-pass": low_pass, "high-pass": high_pass, "all-pass": all_pass}[kind](f0_hz, q)


def peak(f0_hz: float, gain_db: float, q: float) -> Biquad:
    """Peaking filter: (s^2 + s A/Q + 1)/(s^2 + s/(A Q) + 1), A = 10^(dB/40). `q`, 1: quality, above 0."""
    a = _amplitude(gain_db)
    q = _quality(q)
    return Biquad(positive("frequency", f0_hz), (1.0, a / q, 1.0), (1.0, 1 / (a * q), 1.0))


def low_shelf(f0_hz: float, gain_db: float, q: float = sqrt(0.5)) -> Biquad:
    """Low shelf: A (s^2 + s sqrt(A)/Q + A)/(A s^2 + s sqrt(A)/Q + 1). `f0_hz`: middle of the slope, where the gain is
    half (in dB); `q`, 1: quality; `shelf_q` gives it from the slope."""
    a = _amplitude(gain_db)
    middle = sqrt(a) / _quality(q)
    return Biquad(positive("frequency", f0_hz), (a, a * middle, a * a), (a, middle, 1.0))


def high_shelf(f0_hz: float, gain_db: float, q: float = sqrt(0.5)) -> Biquad:
    """High shelf: A (A s^2 + s sqrt(A)/Q + 1)/(s^2 + s sqrt(A)/Q + A). `f0_hz`: middle of the slope, where the gain is
    half (in dB); `q`, 1: quality; `shelf_q` gives it from the slope."""
    a = _amplitude(gain_db)
    middle = sqrt(a) / _quality(q)
    return Biquad(positive("frequency", f0_hz), (a * a, a * middle, a), (1.0, middle, a))


def shelf_q(slope: float, gain_db: float) -> float:
    """Quality of a shelf of a given slope S: 1/Q = sqrt((A + 1/A)(1/S - 1) + 2). `slope`, 1: 1 is the steepest that
    stays monotonic."""
    a = _amplitude(gain_db)
    square = (a + 1 / a) * (1 / positive("slope", slope) - 1) + 2
    if square <= 0:
        raise InputError("slope of a shelf", slope, f"below {1 / (1 - 2 / (a + 1 / a)):.3g} at this gain")
    return 1 / sqrt(square)


def low_pass(f0_hz: float, q: float = sqrt(0.5)) -> Biquad:
    """Second-order low-pass: 1/(s^2 + s/Q + 1). `q`, 1: quality, above 0; its square root of a half is Butterworth."""
    return Biquad(positive("frequency", f0_hz), (0.0, 0.0, 1.0), (1.0, 1 / _quality(q), 1.0))


def high_pass(f0_hz: float, q: float = sqrt(0.5)) -> Biquad:
    """Second-order high-pass: s^2/(s^2 + s/Q + 1). `q`, 1: quality, above 0."""
    return Biquad(positive("frequency", f0_hz), (1.0, 0.0, 0.0), (1.0, 1 / _quality(q), 1.0))


def all_pass(f0_hz: float, q: float = sqrt(0.5)) -> Biquad:
    """Second-order all-pass: (s^2 - s/Q + 1)/(s^2 + s/Q + 1). `f0_hz`: where the phase has turned by half a turn; `q`,
    1: quality, above 0."""
    d = 1 / _quality(q)
    return Biquad(positive("frequency", f0_hz), (1.0, -d, 1.0), (1.0, d, 1.0))


def crossover(f_hz: ArrayLike, side: Literal["low-pass", "high-pass"], alignment: str, f0_hz: float) -> Complex:
    """Analog response of a crossover filter. Butterworth and Bessel are -3.01 dB at f0, Linkwitz-Riley -6.02 dB. A
    Bessel high-pass is the low-pass with s and 1/s changed over; its delay is then no longer flat."""
    if side not in ("low-pass", "high-pass"):
        raise InputError("side of a crossover", side, "low-pass or high-pass")
    if alignment not in CROSSOVERS:
        raise InputError("alignment of a crossover", alignment, ", ".join(CROSSOVERS))
    s = 1j * np.asarray(f_hz, dtype=float) / positive("crossover frequency", f0_hz)
    if side == "high-pass":
        s = 1 / s
    h: Complex = np.ones_like(s)
    for section in _sections(alignment):
        h = h * section[-1] / np.polyval(section, s)
    return h


def delay(f_hz: ArrayLike, seconds: float) -> Complex:
    """Response of a pure delay, exp(-j w t). `seconds`, s: how much later."""
    return np.exp(-2j * pi * np.asarray(f_hz, dtype=float) * seconds)


@lru_cache(maxsize=64)
def _sections(alignment: str) -> tuple[tuple[float, ...], ...]:
    """Denominators of first and second order, by falling powers of s/w0."""
    family, order = alignment[:2], int(alignment[2:])
    if family == "LR":
        half = _sections(f"BW{order // 2}")
        return half + half
    poles = _butterworth_poles(order) if family == "BW" else _bessel_poles(order)
    pairs = [(1.0, -2 * p.real, abs(p) ** 2) for p in poles if p.imag > 1e-9]
    return (*pairs, *((1.0, -p.real) for p in poles if abs(p.imag) <= 1e-9))


def _butterworth_poles(order: int) -> Complex:
    return np.exp(1j * pi * (2 * np.arange(order) + order + 1) / (2 * order))


def _bessel_poles(order: int) -> Complex:
    """Roots of the reverse Bessel polynomial (Thomson 1949; from memory), moved so that |H| is -3.01 dB at 1."""
    last, before = np.array([1.0, 1.0]), np.array([1.0])  # theta_1 and theta_0, in rising powers
    for n in range(2, order + 1):  # theta_n = (2n-1) theta_(n-1) + s^2 theta_(n-2)
        new = np.concatenate([(2 * n - 1) * last, [0.0]])
        new[2 : 2 + before.size] += before
        last, before = new, last
    falling = last[::-1]

    def excess(w: float) -> float:
        return float(abs(np.polyval(falling, 1j * w)) ** 2 - 2 * falling[-1] ** 2)

    low, high = 0.1, 10.0
    while high - low > 1e-15 * high:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if excess(middle) < 0 else (low, middle)
    return np.asarray(np.roots(falling) / high, dtype=np.complex128)


def _amplitude(gain_db: float) -> float:
    if not abs(gain_db) <= MAX_GAIN_DB:
        raise InputError("gain", gain_db, f"-{MAX_GAIN_DB:g} to {MAX_GAIN_DB:g} dB")
    return float(10 ** (gain_db / 40))


def _quality(q: float) -> float:
    if not 1 / MAX_Q <= q <= MAX_Q:
        raise InputError("Q", q, f"{1 / MAX_Q:g} to {MAX_Q:g}")
    return float(q)
