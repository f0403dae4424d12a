"""Impedance of a driver from two channels over a known resistor, and the parameters that fit it.

Source, resistor, driver, ground in a row; the first channel reads across both, the second across the driver:
Z = R V2/(V1 - V2).  The driver is unplugged from the vehicle and driven from a headphone output at 1 V or less
(`check_jig`): a bridge-tied output sits at half the supply, and a grounded input would short it.

The model is Re + K (jw)^n + Res/(1 + j Qms (f/fs - fs/f)), Res = Re Qms/Qes (Small 1972, JAES 20(5):383-395; the
semi-inductance of Leach 2002, JAES 50(6):442-450).  It does not know of creep, of heating, or of a suspension that
stiffens with level.  Vas and moving mass take a second impedance, with a mass on the cone or in a box of known volume;
their uncertainty is first-order, from both fits and from what was weighed and measured (JCGM 100:2008, 5.1).  SI units.
Numpy, and `scipy.optimize` inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, isfinite, log, pi, sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air, log_frequencies
from backwave.errors import InputError, MissingError, require_positive
from backwave.finding import PRACTICE, Check, Message
from backwave.measure.response import deconvolve, signal_to_noise
from backwave.measure.sweep import Take, take_from
from backwave.measure.synchronize import find_take

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
JIG_VOLTS = 1.0
MISFIT = 0.05  # of the magnitude (common trade practice)
FIT_HZ = (8.0, 2000.0)  # range of the fit: above it voice coils leave the model (common trade practice)
STEPS = 48  # points in an octave
Recorded = tuple[Real, float]  # samples (n, 2) and the recorder's nominal rate in Hz


@dataclass(frozen=True)
class Fitted:
    """A fitted parameter."""

    value: float  # SI unit of the parameter, best estimate and standard uncertainty
    u: float  # SI unit of the parameter


@dataclass(frozen=True)
class ImpedanceCurve:
    """An impedance as measured."""

    f_hz: Real  # (n_freq,)
    z: Complex  # (n_freq,) ohm
    u_relative: Real  # (n_freq,) 1, standard uncertainty from noise, against the magnitude


@dataclass(frozen=True)
class Motor:
    """Parameters fitted to an impedance."""

    Re: Fitted  # ohm, voice-coil resistance
    fs: Fitted  # Hz
    Qms: Fitted  # mechanical, electrical, total quality
    Qes: Fitted
    Qts: Fitted
    K: Fitted  # ohm s^n, semi-inductance
    n: Fitted  # its exponent: 1 is an inductance, 0.5 an ideal lossy coil
    misfit: float  # 1, root mean square of what the model leaves, against the magnitude

    def inductance(self, f_hz: float = 1000.0) -> float:
        """Series inductance at a frequency, H, as data sheets give it at 1 kHz: K w^(n-1) sin(n pi/2)."""
        return self.K.value * (2 * pi * f_hz) ** (self.n.value - 1) * float(np.sin(self.n.value * pi / 2))


def check_jig(peak_volts: float, unplugged: bool) -> Check:
    """Whether an impedance may be measured so: driver unplugged from the vehicle, 1 V or less. `peak_volts`, V: largest
    voltage that the output gives."""
    held = unplugged and isfinite(peak_volts) and 0 < peak_volts <= JIG_VOLTS
    return Check(
        "safe.jig", "ok" if held else "stop", Message("jig at {v} peak", (("v", peak_volts, "V"),)),
        value=peak_volts, limit=JIG_VOLTS, unit="V", sources=(PRACTICE,),
        remedy=None if held else Message(
            "unplug the driver from the vehicle and drive the jig from a headphone output at {limit} or less; a "
            "vehicle's own outputs sit at half the supply and a grounded input would short them",
            (("limit", JIG_VOLTS, "V"),)),
    )  # fmt: skip


def check_motor(motor: Motor) -> Check:
    """Whether the model fits the curve well enough for its parameters to be used."""
    fits = motor.misfit <= MISFIT
    return Check(
        "measure.impedance", "ok" if fits else "caution",
        Message("the model is {misfit} from the curve", (("misfit", 100 * motor.misfit, "%"),)),
        value=100 * motor.misfit, limit=100 * MISFIT, unit="%",
        sources=("Small 1972, JAES 20(5):383-395", PRACTICE),
        remedy=None if fits else Message("quiet place, driver held firmly in free air, nothing rattling; less voltage"),
    )  # fmt: skip


def read_impedance(
    samples: ArrayLike, rate_hz: float, take: Take, resistor: float, f_hz: ArrayLike, match: ArrayLike | None = None
) -> ImpedanceCurve:
    """An impedance from a two-channel recording of a take through the jig. `samples`, (n, 2) 1: across resistor and
    driver, and across the driver; `take`: what was played; its first sweep is read; `resistor`, ohm; `match`, (n_freq,)
    1: second channel over first with both at one point (`channel_match`); None takes them for equal."""
    if not (isfinite(resistor) and resistor > 0):
        raise InputError("resistor", resistor, "above 0 ohm, as measured")
    f = np.asarray(f_hz, dtype=float)
    both, noise = _voltages(samples, rate_hz, take, f)
    first, second = both[0], both[1] / (1.0 if match is None else np.asarray(match, dtype=complex))
    across = first - second
    if np.median(np.abs(across)) < 1e-3 * np.median(np.abs(first)):
        raise InputError("the two channels", "the same voltage on both", "one before the resistor, one after it")
    z = resistor * second / across
    if np.median(z.real) < 0:
        raise InputError(
            "the two channels", "more voltage across the driver than before the resistor", "them the other way round"
        )
    # both channels' noise, as they enter Z: dZ/Z = d2 (1/V2 + 1/V12) - d1/V12
    size = np.abs(both[0]) * noise[0], np.abs(both[1]) * noise[1]
    u = np.hypot(size[1] * np.abs(1 / second + 1 / across), size[0] / np.abs(across))
    return ImpedanceCurve(f, z, u)


def channel_match(samples: ArrayLike, rate_hz: float, take: Take, f_hz: ArrayLike) -> Complex:
    """Second channel over first, from a recording with both at one point. `samples`, (n, 2) 1."""
    both, _ = _voltages(samples, rate_hz, take, np.asarray(f_hz, dtype=float))
    ratio = both[1] / both[0]
    if not (np.abs(ratio) > 0.25).all() or not (np.abs(ratio) < 4).all():
        raise InputError("match of the channels", "more than 12 dB apart", "both inputs at one point, at like gain")
    return np.asarray(ratio)


def model_impedance(
    f_hz: ArrayLike, Re: float, fs: float, Qms: float, Qes: float, K: float = 0.0, n: float = 0.7
) -> Complex:
    """The model's impedance. `Re`, ohm: voice-coil resistance; `fs`, Hz; `Qms`, `Qes`, 1; `K`, ohm s^n; `n`, 1: its
    exponent, 0 to 1; returns (n_freq,) ohm."""
    f = np.asarray(f_hz, dtype=float)
    motion = Re * Qms / Qes / (1 + 1j * Qms * (f / fs - fs / f))
    return np.asarray(Re + motion + K * (2j * pi * f) ** n)


def fit_motor(curve: ImpedanceCurve, u_resistor: float = 0.01, fit_hz: tuple[float, float] = FIT_HZ) -> Motor:
    """Parameters that fit an impedance, with their uncertainty. Weighted least squares of (model - Z)/|Z|; covariance
    s^2 (J'J)^-1 with s from what is left, widened where what is left is not independent from point to point. `curve`:
    as measured, from below half the resonance to above four times it; `u_resistor`, 1: standard uncertainty of the
    known resistor, against its value; it enters Re and K alone."""
    from scipy.optimize import least_squares

    inside = (curve.f_hz >= fit_hz[0]) & (curve.f_hz <= fit_hz[1])
    f, z, u = curve.f_hz[inside], curve.z[inside], np.maximum(curve.u_relative[inside], 1e-6)
    if f.size < 30:
        raise InputError(
            "impedance curve", f"{f.size} points", f"30 or more between {fit_hz[0]:g} and {fit_hz[1]:g} Hz"
        )
    size = np.abs(z)
    top = int(np.argmax(np.where(f < 500, z.real, 0)))
    least = float(size[top:].min())
    if not 2 < top < f.size - 10 or z.real[top] < 1.15 * least:
        raise InputError("impedance curve", "no resonance in it", "one from below half to four times the resonance")
    fs, peak = float(f[top]), float(z.real[top])
    wide = f[z.real > (peak + least) / 2]
    wide = wide[(wide > fs / 2) & (wide < 2 * fs)]
    q = float(np.clip(fs / max(float(np.ptp(wide)), fs / 50), 0.3, 30))
    weight = np.median(u) / u
    start = np.array([log(0.95 * least), log(fs), log(q), log(peak - least), log(0.02), 0.7])

    def left(p: Real) -> Real:
        Re, Res = exp(p[0]), exp(p[3])
        model = model_impedance(f, Re, exp(p[1]), exp(p[2]), exp(p[2]) * Re / Res, exp(p[4]), p[5])
        off = (model - z) / size * weight
        return np.concatenate([off.real, off.imag])

    low = np.array([log(0.05), log(f[0]), log(0.1), log(1e-3), log(1e-8), 0.3])
    high = np.array([log(1e3), log(f[-1]), log(100.0), log(1e4), log(10.0), 1.0])
    found = least_squares(left, np.clip(start, low + 1e-6, high - 1e-6), bounds=(low, high), x_scale="jac")
    p, off = found.x, found.fun
    # neighbors that err alike are worth fewer points: (1 + r)/(1 - r) for a first-order process (Bartlett 1935)
    halves = off[: f.size], off[f.size :]
    r = float(np.clip(np.mean([np.corrcoef(h[:-1], h[1:])[0, 1] for h in halves]), 0.0, 0.95))
    square = float(off @ off) / (off.size - p.size) * (1 + r) / (1 - r)
    cov = square * np.linalg.pinv(found.jac.T @ found.jac)
    Re, fs, Qms, Res, K = (exp(v) for v in p[:5])
    Qes = Qms * Re / Res

    def u_of(*row: float) -> float:
        g = np.zeros(6)
        g[: len(row)] = row
        return sqrt(max(float(g @ cov @ g), 0.0))

    share = Qes / (Qms + Qes)  # d ln Qts = share d ln Qms + (1 - share) d ln Qes
    return Motor(
        Fitted(Re, Re * sqrt(u_of(1) ** 2 + u_resistor**2)),
        Fitted(fs, fs * u_of(0, 1)),
        Fitted(Qms, Qms * u_of(0, 0, 1)),
        Fitted(Qes, Qes * u_of(1, 0, 1, -1)),
        Fitted(Qms * Qes / (Qms + Qes), Qms * Qes / (Qms + Qes) * u_of(1 - share, 0, 1, -(1 - share))),
        Fitted(K, K * sqrt(u_of(0, 0, 0, 0, 1) ** 2 + u_resistor**2)),
        Fitted(float(p[5]), u_of(0, 0, 0, 0, 0, 1)),
        float(np.sqrt(np.mean((off[: f.size] ** 2 + off[f.size :] ** 2) / weight**2))),
    )


def _voltages(samples: ArrayLike, rate_hz: float, take: Take, f: Real) -> tuple[Complex, Real]:
    sound = np.asarray(samples, dtype=float)
    if sound.ndim != 2 or sound.shape[1] != 2 or not np.isfinite(sound).all():
        raise InputError("recording of the jig", f"{sound.shape}", "two channels: before the resistor and after it")
    clock = find_take(np.ascontiguousarray(sound[:, 0]), rate_hz, take)
    event = take.sweeps[0]
    read = [deconvolve(np.ascontiguousarray(sound[:, k]), clock, take, event) for k in (0, 1)]
    both = np.stack([r.linear.spectrum(f, 0.0) for r in read])
    return both, np.stack([10 ** (-signal_to_noise(r, f) / 20) for r in read])


@dataclass(frozen=True)
class Suspension:
    """What a second measurement adds."""

    Vas: Fitted  # m3, volume of air as compliant as the suspension
    Mms: Fitted  # kg, moving mass with its air load
    Cms: Fitted  # m/N
    Bl: Fitted  # N/A, force factor


def added_mass(
    free: Motor, loaded: Motor, mass: float, Sd: float, u_mass: float = 0.0, u_Sd: float = 0.0, air: Air | None = None
) -> Suspension:
    """Moving mass and compliance from how far an added mass lowers the resonance: Mms = m/((fs/fs')^2 - 1). `mass`, kg;
    `Sd`, m2: effective cone area; `u_mass`, `u_Sd`, kg and m2: their standard uncertainties."""
    require_positive(mass=mass, Sd=Sd)
    ratio = free.fs.value / loaded.fs.value
    if ratio < 1.1:
        raise InputError(
            "resonance with the added mass", f"{loaded.fs.value:.4g} Hz", f"below {free.fs.value / 1.1:.4g} Hz: more mass",
        )  # fmt: skip
    mms = mass / (ratio**2 - 1)
    gain = 2 * ratio**2 / (ratio**2 - 1)  # d ln Mms by d ln fs', and by -d ln fs
    uf, ul = free.fs.u / free.fs.value, loaded.fs.u / loaded.fs.value
    u_m = sqrt((u_mass / mass) ** 2 + (gain * uf) ** 2 + (gain * ul) ** 2)
    # Cms = 1/(ws^2 Mms): the free resonance enters by gain - 2
    u_c = sqrt((u_mass / mass) ** 2 + ((gain - 2) * uf) ** 2 + (gain * ul) ** 2)
    return _suspension(free, mms, u_m, u_c, Sd, u_Sd, air)


def known_box(
    free: Motor, boxed: Motor, volume: float, Sd: float, u_volume: float = 0.0, u_Sd: float = 0.0,
    air: Air | None = None,
) -> Suspension:  # fmt: skip
    """Vas from a tight box of known volume: Vas = Vb (fc Qec/(fs Qes) - 1) (Small 1972, JAES 20(10):798-808). Written
    with the qualities it does not mind that the air's load differs between free air and box. `volume`, m3: net volume,
    with what the driver's own body leaves of it; `Sd`, m2: effective cone area; `u_volume`, `u_Sd`, m3 and m2: their
    standard uncertainties."""
    require_positive(volume=volume, Sd=Sd)
    product = boxed.fs.value * boxed.Qes.value / (free.fs.value * free.Qes.value)
    if product < 1.2:
        raise InputError(
            "resonance in the box", f"{boxed.fs.value:.4g} Hz", "a good deal higher: a smaller, tighter box"
        )
    vas = volume * (product - 1)
    u_product = sqrt(sum((x.u / x.value) ** 2 for x in (free.fs, free.Qes, boxed.fs, boxed.Qes)))
    u_v = sqrt((u_volume / volume) ** 2 + (product / (product - 1) * u_product) ** 2)
    stiffness = (air or Air()).stiffness
    cms = vas / (stiffness * Sd**2)
    u_c = sqrt(u_v**2 + (2 * u_Sd / Sd) ** 2)
    mms = 1 / ((2 * pi * free.fs.value) ** 2 * cms)
    u_m = sqrt(u_c**2 + (2 * free.fs.u / free.fs.value) ** 2)
    made = _suspension(free, mms, u_m, u_c, Sd, 0.0, air)
    return Suspension(Fitted(vas, vas * u_v), made.Mms, made.Cms, made.Bl)


def _suspension(free: Motor, mms: float, u_m: float, u_c: float, Sd: float, u_Sd: float, air: Air | None) -> Suspension:
    cms = 1 / ((2 * pi * free.fs.value) ** 2 * mms)
    vas = (air or Air()).stiffness * Sd**2 * cms
    bl = sqrt(2 * pi * free.fs.value * mms * free.Re.value / free.Qes.value)
    u_bl = 0.5 * sqrt(u_m**2 + sum((x.u / x.value) ** 2 for x in (free.fs, free.Re, free.Qes)))
    return Suspension(
        Fitted(vas, vas * sqrt(u_c**2 + (2 * u_Sd / Sd) ** 2)), Fitted(mms, mms * u_m), Fitted(cms, cms * u_c),
        Fitted(bl, bl * u_bl),
    )  # fmt: skip


@dataclass(frozen=True)
class Second:
    """What a second recording was made with: a mass on the cone, or a box."""

    kind: str  # "mass" or "box"
    amount: Fitted  # kg or m3, how much, with its standard uncertainty
    area: Fitted  # m2, effective area of the cone


@dataclass(frozen=True, eq=False)
class Jig:
    """What the recordings of a jig say."""

    curve: ImpedanceCurve  # ohm
    motor: Motor
    second: Motor | None  # with the mass, or in the box
    suspension: Suspension | None  # Vas and what follows from it
    checks: tuple[Check, ...]  # the gate, and how well the model fits


def gate(volts: float | None, unplugged: bool) -> Check:
    """Whether an impedance may be measured so; nothing is read before it is passed. `volts`, V: most that the output
    gives, rms, as a meter reads it; its peak counts. None: nobody measured it."""
    if volts is None or not unplugged:
        raise MissingError(
            "The jig is not confirmed, so nothing is read",
            "Unplug the driver from the vehicle, drive the jig from a headphone output, measure its voltage on a tone at the "
            "loudest (0.7 V on a meter or less), and say both: --unplugged --volts \"0.5 V\". Never on a "
            "vehicle's own outputs: they sit at half the supply, and a grounded input would short them",
        )  # fmt: skip
    return check_jig(sqrt(2) * volts, unplugged)


def jig_of(
    record: dict[str, Any], driver: Recorded, resistor: Fitted, passed: Check, match: Recorded | None = None,
    second: tuple[Recorded, Second] | None = None, progress: Callable[[float], None] | None = None,
) -> Jig:  # fmt: skip
    """Impedance and parameters from recordings of one sweep. `driver`, samples and their rate in Hz: before the
    resistor and after it; `resistor`, ohm; `match`, the same: both channels at one point; None takes them for equal;
    `second`, the same: with a mass on the cone, or in a box; `progress`, 1: called with
    the share that is done."""
    if passed.verdict != "ok":
        raise InputError("jig", f"{passed.value:g} V", f"{passed.limit:g} V or less from a headphone output")
    take, tell = take_from(record), progress or (lambda _: None)
    if take.sweep.f1_hz > 2 * FIT_HZ[0] or take.sweep.f2_hz < FIT_HZ[1]:
        raise InputError(
            "sweep of the jig", f"{take.sweep.f1_hz:g} to {take.sweep.f2_hz:g} Hz",
            f"from {2 * FIT_HZ[0]:g} Hz or lower to {FIT_HZ[1]:g} Hz or higher: `backwave sweep jig.wav --kind jig`",
        )  # fmt: skip
    f = log_frequencies(take.sweep.f1_hz, min(take.sweep.f2_hz, 0.47 * driver[1]), STEPS)
    ratio = None if match is None else channel_match(*match, take, f)
    tell(0.3)

    def fitted(recorded: Recorded) -> tuple[ImpedanceCurve, Motor]:
        curve = read_impedance(*recorded, take, resistor.value, f, ratio)
        return curve, fit_motor(curve, resistor.u / resistor.value)

    curve, motor = fitted(driver)
    tell(0.7)
    checks = [passed, check_motor(motor)]
    if second is None:
        return Jig(curve, motor, None, None, tuple(checks))
    recorded, what = second
    _, other = fitted(recorded)
    if what.kind not in ("mass", "box"):
        raise InputError("second recording", what.kind, "mass or box")
    way = added_mass if what.kind == "mass" else known_box
    suspension = way(motor, other, what.amount.value, what.area.value, what.amount.u, what.area.u)
    tell(1.0)
    return Jig(curve, motor, other, suspension, tuple(checks))
