"""The cabin below its statistical range: modes of the air space, and the pressure at each seat for each opening.

An air space has rigid walls and no damping: a box here, or any other shape that answers what `AirSpace` asks.  The
transfer pressure p/Q (Pa s/m3, complex, time factor e^{jwt}) of a volume velocity at an opening is

    p/Q = 1/(j w V/(rho c^2) + sum Y) + (j w rho c^2/V) sum_n psi_n(seat) <psi_n>(opening) / (w_n^2 (1 + j eta) - w^2)

the sum over the modes above the zeroth, psi scaled to a mean square of 1, <> the mean over the piston (Morse and
Ingard, Theoretical Acoustics, 1968, ch. 9; from memory).  The damping is structural: it makes the density of the
air lossy and leaves its stiffness alone, so that the zeroth mode is the sealed volume exactly.  What limits that
one, leaks and panels that give, enters as admittances Y; the first term alone is right for them, so they hold
below the first mode.  Lengths in m; x back from the front end of the air space, y right from its left side, z up.

Not covered: seats and people as obstacles, trim that resonates, a leak's effect on the modes.  The sum contains
the direct field (do not add it) and is no load on a cone, which piston radiation is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite, pi
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air
from backwave.errors import InputError, require_positive
from backwave.network.element import Complex, slit

Real = NDArray[np.float64]
Point = tuple[float, float, float]
MAX_MODES = 20_000  # 3 m3 hold about 300 below 900 Hz; far more than this is a slip in a length
# loss factor of a trimmed cabin nobody measured (from memory: 0.1 to 0.25); shown where it is used
CABIN_LOSS = 0.15
MODE_REACH = 2.5  # modes are carried to this many times the highest frequency asked, .
# .. and as far again, by this factor, as mere springs: what they add hardly turns with frequency.
STATIC_REACH = 2.0


class AirSpace(Protocol):
    """What `modal_transfer` and the field above it need to know of a cabin, whatever its shape."""

    @property
    def volume(self) -> float:
        """Of the air, m3."""

    @property
    def surface(self) -> float:
        """Of its walls, m2."""

    def contains(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Which points lie in the air or on its walls. `points`, (n_point, 3) m."""

    def eigenfrequencies(self, below_hz: float, speed: float) -> Real:
        """Of the rigid-walled space without damping, rising, the first exactly 0. `speed`, m/s."""

    def shapes(self, points: ArrayLike, below_hz: float, speed: float) -> Real:
        """(n_point, n_mode) mode shapes in the order of `eigenfrequencies`, mean square 1, the first all 1.
        `points`, (n_point, 3) m: positions; those a piston's radius behind a wall are answered too, as by a mirror;
        `speed`, m/s.
        """


@dataclass(frozen=True)
class BoxCabin:
    """A box-shaped air space with rigid walls, from 0 to each of its lengths."""

    length: float  # m, along x, y and z, each above 0
    width: float  # m
    height: float  # m

    def __post_init__(self) -> None:
        require_positive(length=self.length, width=self.width, height=self.height)

    @property
    def sides(self) -> Point:
        """Length, width, height, m."""
        return self.length, self.width, self.height

    @property
    def volume(self) -> float:
        """Of the air, m3."""
        return self.length * self.width * self.height

    @property
    def surface(self) -> float:
        """Of its six walls, m2."""
        return 2 * (self.length * self.width + self.width * self.height + self.height * self.length)

    def contains(self, points: ArrayLike) -> NDArray[np.bool_]:
        """Which points lie in the box or on its walls. `points`, (n_point, 3) m."""
        at = positions("points", points)
        return np.asarray(((at >= 0) & (at <= np.array(self.sides))).all(axis=1))

    def inward(self, at: Point) -> Point:
        """The way a loudspeaker in the nearest wall faces: that wall's normal, into the air. `at`, (3,) m."""
        gaps = [*at, *(side - x for side, x in zip(self.sides, at, strict=True))]
        wall = int(np.argmin(np.abs(gaps)))
        x, y, z = ((1.0 if wall < 3 else -1.0) * (axis == wall % 3) for axis in range(3))
        return x, y, z

    def eigenfrequencies(self, below_hz: float, speed: float) -> Real:
        """Eigenfrequencies up to a frequency, (c/2) sqrt(sum (n/L)^2), rising, the first 0.
        `speed`, m/s; returns (n_mode,) Hz.
        """
        return np.asarray(speed / 2 * np.linalg.norm(self.orders(below_hz, speed) / np.array(self.sides), axis=1))

    def orders(self, below_hz: float, speed: float) -> NDArray[np.int_]:
        """Half waves along x, y and z of each mode, in the order of `eigenfrequencies`. `speed`, m/s."""
        require_positive(below_hz=below_hz, speed=speed)
        most = [int(2 * below_hz * side / speed) for side in self.sides]
        if (wanted := mode_count(self, below_hz, speed)) > MAX_MODES or max(most) > MAX_MODES:
            raise InputError("modes of the cabin", f"{wanted:.3g} below {below_hz:g} Hz", f"at most {MAX_MODES}")
        n = np.stack(np.meshgrid(*(np.arange(m + 1) for m in most), indexing="ij"), axis=-1).reshape(-1, 3)
        k = np.linalg.norm(n / np.array(self.sides), axis=1)
        order = np.argsort(k, kind="stable")
        return np.asarray(n[order[k[order] <= 2 * below_hz / speed]])

    def shapes(self, points: ArrayLike, below_hz: float, speed: float) -> Real:
        """Products of cosines, scaled to a mean square of 1; beyond a wall, what its mirror shows.
        `points`, (n_point, 3) m; `speed`, m/s.
        """
        at, n = positions("points", points), self.orders(below_hz, speed)
        shape = np.sqrt(2.0 ** np.count_nonzero(n, axis=1)) * np.ones((len(at), 1))
        for axis, side in enumerate(self.sides):
            table = np.cos(pi / side * np.outer(at[:, axis], np.arange(n[:, axis].max() + 1)))
            shape *= table[:, n[:, axis]]
        return np.asarray(shape)


def mode_count(space: AirSpace, below_hz: float, speed: float) -> float:
    """About how many modes lie below a frequency, 4 pi V/3 (f/c)^3 + pi S/4 (f/c)^2 (Weyl; Kuttruff, Room Acoustics).
    The edges, which add a few percent, are left out: no other shape than a box has them to tell. `speed`, m/s.
    """
    x = below_hz / speed
    return float(4 * pi / 3 * space.volume * x**3 + pi / 4 * space.surface * x**2)


def frequencies(f_hz: ArrayLike) -> Real:
    """Frequencies as an array, each more than 0. Returns (n_freq,) Hz."""
    f = np.asarray(f_hz, dtype=float)
    if f.ndim != 1 or not (np.isfinite(f) & (f > 0)).all():
        raise InputError("frequencies", f"{np.ndim(f)} dimensions" if f.ndim != 1 else f.min(), "a list above 0 Hz")
    return f


def positions(what: str, points: ArrayLike) -> Real:
    """Positions as an array. `points`, (n, 3) m; returns (n, 3) m."""
    at = np.asarray(points, dtype=float)
    if at.ndim != 2 or at.shape[1] != 3 or not np.isfinite(at).all():
        raise InputError(what, np.shape(at), "finite positions x, y, z: (n, 3)")
    return at


@dataclass(frozen=True)
class Piston:
    """A round rigid piston that moves the air of the cabin: a cone, a port, an opening in a panel."""

    at: Point  # (3,) m, its center
    axis: Point  # (3,), the way it faces, of any length above 0 (`BoxCabin.inward` where nobody measured it)
    radius: float = 0.0  # m, 0 is a point

    def __post_init__(self) -> None:
        positions("position of the loudspeaker", (self.at,))
        if not positions("axis of the loudspeaker", (self.axis,)).any():
            raise InputError("axis of the loudspeaker", self.axis, "a direction, not 0 0 0")
        if not (isfinite(self.radius) and self.radius >= 0):
            raise InputError("radius of the loudspeaker", self.radius, "a finite number, 0 or more")


@dataclass(frozen=True)
class Leak:
    """A narrow leak to the outside, door seal or vent slot, as a slit with its viscous layers."""

    area: float  # m2, open area, above 0
    gap: float  # m, its narrow height, above 0
    length: float  # m, along the flow, end corrections included, above 0

    def __post_init__(self) -> None:
        require_positive(area=self.area, gap=self.gap, length=self.length)

    def admittance(self, f_hz: ArrayLike, air: Air) -> Complex:
        """One over the impedance of the slit. Returns (n_freq,) m3/(Pa s)."""
        width = self.area / self.gap
        return np.asarray(1 / slit(f_hz, self.length, width, self.gap, air.density, air.viscosity))


def zeroth_transfer(f_hz: ArrayLike, volume: float, branches: Sequence[Leak] = (), air: Air | None = None) -> Complex:
    """Pressure by volume velocity where the cabin is small against the wave: sealed volume, leaks and panels.
    With no branch p = rho c^2 dV/V, the most that a cabin gives; a real one leaks and flexes. `volume`, m3: of the air,
    above 0; returns (n_freq,) Pa s/m3.
    """
    air, f = air or Air(), frequencies(f_hz)
    require_positive(volume=volume)
    admittance = 2j * pi * f * volume / air.stiffness
    for branch in branches:
        admittance = admittance + branch.admittance(f, air)
    return np.asarray(1 / admittance)


def modal_transfer(
    f_hz: ArrayLike, space: AirSpace, pistons: Sequence[Piston], seats: ArrayLike, loss: float = CABIN_LOSS,
    branches: Sequence[Leak] = (), air: Air | None = None, reach: float = MODE_REACH,
) -> Complex:  # fmt: skip
    """Pressure at each seat by the volume velocity of each piston, with phase; the formula heads this file.
    `pistons`: where air is moved; the mode shapes are averaged over each; `seats`, (n_seat, 3) m; `loss`, 1: loss
    factor of the modes, above 0 to 1; the half-power bandwidth of a mode by its frequency; `branches`: they act on
    the zeroth mode; `reach`, 1: modes are carried to this many times the highest frequency, 1 or
    more, and on as springs (`STATIC_REACH`); returns (n_freq, n_seat, n_piston) Pa s/m3.
    """
    air, f, ears = air or Air(), frequencies(f_hz), positions("seats", seats)
    if not 0 < loss <= 1:
        raise InputError("loss factor of the cabin", loss, "above 0, up to 1")
    if not (isfinite(reach) and reach >= 1):
        raise InputError("reach of the modes", reach, "a finite number, 1 or more")
    require_inside(space, pistons, ears)
    if not f.size:
        return np.empty((0, len(ears), len(pistons)), dtype=complex)
    top = reach * float(f.max())
    below = STATIC_REACH * top
    own = 2 * pi * space.eigenfrequencies(below, air.speed)[1:]
    heard = space.shapes(ears, below, air.speed)[:, 1:]
    driven = _over_pistons(space, pistons, below, air.speed)[:, 1:]
    couple = (heard[:, None] * driven).reshape(len(ears) * len(pistons), len(own)).T
    near = own <= 2 * pi * top
    jw = 2j * pi * f[:, None]
    moving = (1 / (own[near] ** 2 * (1 + 1j * loss) + jw**2)) @ couple[near]
    springs = (1 / own[~near] ** 2 / (1 + 1j * loss)) @ couple[~near]
    modes = jw * air.stiffness / space.volume * (moving + springs)
    zeroth = zeroth_transfer(f, space.volume, branches, air)
    return np.asarray(zeroth[:, None, None] + modes.reshape(len(f), len(ears), len(pistons)))


def require_inside(space: AirSpace, pistons: Sequence[Piston], seats: Real) -> None:
    """Say which loudspeaker or seat is not in the cabin. `seats`, (n_seat, 3) m."""
    for what, points in (("loudspeaker", np.array([p.at for p in pistons]).reshape(-1, 3)), ("seat", seats)):
        for point, inside in zip(points, space.contains(points), strict=True):
            if not inside:
                raise InputError(f"position of the {what}", tuple(map(float, point)), "a point inside the cabin")


def _over_pistons(space: AirSpace, pistons: Sequence[Piston], below_hz: float, speed: float) -> Real:
    """(n_piston, n_mode) mode shapes averaged over each piston."""
    flat, weight = _disc()
    spots = np.concatenate([p.at + p.radius * flat @ _across(p.axis) for p in pistons] or [np.empty((0, 3))])
    shapes = space.shapes(spots, below_hz, speed)
    return np.asarray(np.einsum("pqm,q->pm", shapes.reshape(len(pistons), len(weight), shapes.shape[1]), weight))


def _across(axis: Point) -> Real:
    """(2, 3) unit vectors at right angles to an axis and each other."""
    unit = np.array(axis) / np.linalg.norm(axis)
    first = np.cross(unit, np.eye(3)[int(np.argmin(np.abs(unit)))])
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(unit, first)])


@cache
def _disc() -> tuple[Real, Real]:
    """Points in the unit disc and weights whose sum is the mean, exact for polynomials of degree 11."""
    node, weight = np.polynomial.legendre.leggauss(3)  # in the square of the radius, whose density is even
    angle = 2 * pi * np.arange(12) / 12
    flat = np.sqrt((node + 1) / 2)[:, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    return flat.reshape(-1, 2), np.repeat(weight / 2, 12) / 12
