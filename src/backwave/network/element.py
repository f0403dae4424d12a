"""What a network is made of: one frozen value for each element, and what its number is at each frequency.

Beside the elements of circuits stand impedances that no resistor, inductor or capacitor makes: voice coil, slit, round
hole, piston.  Acoustical ones are pressure over volume velocity (Pa s/m3).  The exact viscous forms are written so that
they neither overflow (a 25 mm gap at 20 kHz) nor cancel (a hair gap at 1 Hz): 1 - tanh(x)/x and its round counterpart
by continued fraction where x is small, by tanh and Hankel's expansion where it is large.  Bessel and Struve functions
are few lines here, tested against scipy's: to load its package takes longer than a whole prediction."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from math import pi, sin
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.budget import bounded
from backwave.errors import InputError, require_positive

Real: TypeAlias = NDArray[np.float64]
Complex: TypeAlias = NDArray[np.complex128]
Value: TypeAlias = complex | ArrayLike | Callable[[Real], ArrayLike]
Kind: TypeAlias = Literal[
    "resistor", "inductor", "capacitor", "impedance", "voltage", "current",
    "transformer", "gyrator", "controlled voltage", "controlled current",
]  # fmt: skip
REFERENCE = "0"  # the node that all voltages are measured from, in every domain
MAX_BLOCKS = 32  # of 32 points: a piston of 2 m radius up to 20 kHz
# end correction of a pipe in a flange by its radius (Nomura, Yamamura, Inawashiro 1960; from memory)
END_FLANGED = 0.8217
# End correction of a pipe without flange by its radius (Levine and Schwinger 1948, Phys. Rev. 73:383).
END_FREE = 0.6133
END_PISTON = 8 / (3 * pi)  # mass on one side of a rigid piston in a baffle, as a length by its radius (Rayleigh)


class NetworkError(InputError):
    """A network that has no answer, or not one answer: a floating part, a loop of sources, an unknown name."""


@dataclass(frozen=True, eq=False)
class Element:
    """One element between two nodes, or between two pairs of nodes."""

    kind: Kind
    name: str  # unique in its network
    nodes: tuple[str, ...]  # (a, b), or (a, b, c, d) for two ports
    # SI unit of the kind, ohm, henry, farad, ohm (impedance), volt, ampere, ratio, siemens (gyrator, controlled
    # current), ratio (controlled voltage).  An array has a number for each frequency; a callable is given f in Hz.
    value: Value
    ohm: float = 0.0  # ohm, series resistance of an inductor


@dataclass(frozen=True)
class Probe:
    """What is asked of a network: a voltage, a current, or the impedance that a source sees."""

    # voltage of node `of` from node `to` (V), current of element `of` (A), impedance seen by source `of` (ohm)
    kind: Literal["v", "i", "z"]
    of: str  # A node ("v") or an element ("i", "z")
    to: str = REFERENCE  # the other node of a voltage


def at(name: str, value: Value, f_hz: Real) -> Complex:
    """The number of an element at each frequency. `value`, unit of the element; returns (n_freq,) unit of the
    element."""
    found = np.asarray(value(f_hz) if callable(value) else value, dtype=np.complex128)
    accepted = f"one number, or one for each of {f_hz.size} frequencies"
    if found.shape not in ((), (1,), f_hz.shape):
        raise NetworkError(f"{name}: its values", f"shape {found.shape}", accepted)
    if not np.isfinite(found).all():
        bad = f_hz[~np.isfinite(np.broadcast_to(found, f_hz.shape))][0]
        raise NetworkError(f"{name}: its value", f"not finite at {bad:g} Hz", "a finite number at every frequency")
    return np.broadcast_to(found, f_hz.shape)


def named(what: str, name: str, known: Iterable[str]) -> str:
    """The name itself where it is known; otherwise an error that offers the nearest."""
    known = list(known)
    if name in known:
        return name
    near = get_close_matches(str(name), known, n=3) or known[:8]
    raise NetworkError(f"{what} of the network", name, " or ".join(near) or "nothing: the network is empty")


def semi_inductance(f_hz: ArrayLike, k: float, n: float) -> Complex:
    """Impedance of a lossy voice coil, K (j w)^n (Leach 2002, JAES 50(6):442-450). `k`, ohm s^n: its size, 0 or more;
    `n`, 1: 1 an inductor, 0.5 limited by eddy currents, 0 a resistor; outside 0 to 1 it would be active; returns
    (n_freq,) ohm."""
    if not 0 <= n <= 1:
        raise InputError("exponent of the semi-inductance", n, "0 to 1; outside it the coil would deliver power")
    if not (np.isfinite(k) and k >= 0):
        raise InputError("semi-inductance", k, "a finite number, 0 or more")
    return np.asarray(k * (2j * pi * np.asarray(f_hz, dtype=float)) ** n)


def semi_inductance_factor(le_henry: float, n: float, at_hz: float = 1000.0) -> float:
    """K of `semi_inductance` that has the reactance of a data sheet's Le at the frequency it was read. K = Le w^(1-n) /
    sin(n pi/2). `le_henry`, H: inductance of the data sheet; `n`, 1: exponent, above 0 to 1; `at_hz`: where the data
    sheet gives Le (1 kHz is the custom); returns ohm s^n."""
    if not 0 < n <= 1:
        raise InputError("exponent of the semi-inductance", n, "above 0, up to 1")
    return float(le_henry * (2 * pi * at_hz) ** (1 - n) / sin(n * pi / 2))


def slit(f_hz: ArrayLike, length: float, width: float, gap: float, density: float, viscosity: float) -> Complex:
    """Acoustical impedance of the air in a narrow slit, viscous layers and all; no end correction. Z = j w rho l/(w h)
    / (1 - tanh(x)/x), x = (h/2) sqrt(j w rho/mu) (Beranek and Mellow, Acoustics, 2012, ch. 4; from memory). Low: 12 mu
    l/(w h^3) and 6/5 of the mass. High: the mass alone. `length`, `width`, `gap`, m: along the flow, across it, and the
    narrow height; each above 0; `density`, kg/m3; `viscosity`, Pa s; returns (n_freq,) Pa s/m3."""
    require_positive(length=length, width=width, gap=gap, density=density, viscosity=viscosity)
    jw = 2j * pi * np.asarray(f_hz, dtype=float)
    x = gap / 2 * np.sqrt(jw * density / viscosity)
    q = _fraction(x, 3)
    large = np.maximum(np.abs(x), _LARGE) * np.exp(1j * pi / 4)
    factor = np.where(np.abs(x) > _LARGE, 1 / (1 - np.tanh(large) / large), (1 + q) / q)
    return np.asarray(jw * density * length / (width * gap) * factor)


def hole(f_hz: ArrayLike, length: float, radius: float, density: float, viscosity: float) -> Complex:
    """Acoustical impedance of the air in a round hole, viscous layer and all; no end correction. Z = j w rho l/(pi a^2)
    / (1 - 2 I1(x)/(x I0(x))), x = a sqrt(j w rho/mu) (as for `slit`). Low: 8 mu l/(pi a^4) and 4/3 of the mass. High:
    the mass alone. `length`, `radius`, m: of the hole, each above 0; `density`, kg/m3; `viscosity`, Pa s; returns
    (n_freq,) Pa s/m3."""
    require_positive(length=length, radius=radius, density=density, viscosity=viscosity)
    jw = 2j * pi * np.asarray(f_hz, dtype=float)
    x = radius * np.sqrt(jw * density / viscosity)
    q = _fraction(x, 4) / 2
    large = np.maximum(np.abs(x), _LARGE) * np.exp(1j * pi / 4)
    factor = np.where(np.abs(x) > _LARGE, 1 / (1 - 2 * _hankel(1, large) / (large * _hankel(0, large))), (1 + q) / q)
    return np.asarray(jw * density * length / (pi * radius**2) * factor)


def piston_radiation(f_hz: ArrayLike, radius: float, density: float, speed: float) -> Complex:
    """Acoustical radiation impedance of one side of a rigid round piston in an infinite baffle. Z = rho c/(pi a^2) (R1
    + j X1), R1 = 1 - 2 J1(2ka)/(2ka), X1 = 2 H1(2ka)/(2ka) with Struve's H1 (Kinsler, Frey, Coppens, Sanders,
    Fundamentals of Acoustics; from memory). `radius`, m; `density`, kg/m3; `speed`, m/s; returns (n_freq,) Pa s/m3."""
    require_positive(radius=radius, density=density, speed=speed)
    resistance, reactance = _kept((4 * pi * np.asarray(f_hz, dtype=float) * radius / speed).tobytes())
    return np.asarray(density * speed / (pi * radius**2) * (resistance + 1j * reactance))


def piston_directivity(f_hz: ArrayLike, radius: float, speed: float, angle_deg: float) -> NDArray[np.float64]:
    """Far pressure off the axis of a rigid round piston in a baffle, by that on it: 2 J1(u)/u, u = ka sin(angle).
    `radius`, m; `speed`, m/s."""
    require_positive(radius=radius, speed=speed)
    u = 2 * pi * np.asarray(f_hz, dtype=float) * radius / speed * abs(sin(np.radians(angle_deg)))
    return np.asarray(1 - _piston(u)[0])


_LARGE = 25.0  # below, 48 steps of the fraction are exact to rounding; above, nothing cancels


def _fraction(x: NDArray[Any], first: int) -> Complex:
    """q = x^2/(first + x^2/(first+2 + ..)): tanh(x)/x = 1/(1+q) from 3, 2 I1(x)/(x I0(x)) = 1/(1+q/2) from 4."""
    square = np.where(np.abs(x) > _LARGE, 1.0, np.square(x))
    q = np.zeros_like(square)
    for k in range(48, -1, -1):
        q = square / (first + 2 * k + q)
    return q


def _hankel(order: int, x: Complex) -> Complex:
    """I_order(x) sqrt(2 pi x) exp(-x) by Hankel's expansion (Abramowitz and Stegun 9.7.1), exact to rounding from 25."""
    total = term = np.ones_like(x)
    for k in range(1, 17):
        term = term * ((2 * k - 1) ** 2 - 4 * order**2) / (8 * k * x)
        total = total + term
    return total


def _piston(x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """1 - 2 J1(x)/x and 2 H1(x)/x by their integrals (Abramowitz and Stegun 9.1.20, 12.1.7), nothing taken from 1."""
    blocks = bounded("points of a piston's radiation", float(np.max(x, initial=0.0)) / 50 + 1, MAX_BLOCKS)
    cosine, weight = _gauss(32 * blocks)
    half = np.multiply.outer(x / 2, cosine)
    sine = np.sin(half)
    return 8 / pi * (np.square(sine) @ weight), 8 / pi * ((sine * np.cos(half)) @ weight)


@lru_cache(64)
def _kept(x: bytes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both for numbers by their bytes: a cone is asked for in every network that it stands in, and on both sides."""
    return _piston(np.frombuffer(x))


@lru_cache(8)
def _gauss(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """cos t and sin^2 t dt at Gauss and Legendre's points of a quarter turn."""
    at, weight = np.polynomial.legendre.leggauss(count)
    t = (at + 1) * pi / 4
    return np.cos(t), np.square(np.sin(t)) * weight * pi / 4
