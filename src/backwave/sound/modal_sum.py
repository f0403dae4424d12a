"""The cabin below its statistical range: modes of the air space, and the pressure at each seat for each opening.

Transfer pressure p/Q (Pa s/m3, complex, time factor e^{jwt}) of a volume velocity at an opening:

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
from numpy.typing import ArrayLike

from backwave.acoustics.air import Air
from backwave.errors import InputError
from backwave.network.acoustic_elements import slit
from backwave.network.element import Complex
from backwave.sound.cabin_modes import AirSpace, Point, Real, frequencies, positions, require_positive

# loss factor of a trimmed cabin nobody measured (from memory: 0.1 to 0.25); shown where it is used
CABIN_LOSS = 0.15
MODE_REACH = 2.5  # modes are carried to this many times the highest frequency asked, .
# .. and as far again, by this factor, as mere springs: what they add hardly turns with frequency.
STATIC_REACH = 2.0


class AirBranch(Protocol):
    """A way for air to yield other than by compression: a leak, a panel."""

    def admittance(self, f_hz: ArrayLike, air: Air) -> Complex:
        """Volume velocity that goes that way by the pressure in the cabin, m3/(Pa s)."""


@dataclass(frozen=True)
class Piston:
    """A round rigid piston that moves the air of the cabin: a cone, a port, an opening in a panel.

    InputError: A position or an axis that is none, or a radius below 0.
    """

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
    """A narrow leak to the outside, door seal or vent slot, as a slit with its viscous layers.

    InputError: A length or area that is not a finite number above 0.
    """

    area: float  # m2, open area, above 0
    gap: float  # m, its narrow height, above 0
    length: float  # m, along the flow, end corrections included, above 0

    def __post_init__(self) -> None:
        require_positive(area=self.area, gap=self.gap, length=self.length)

    def admittance(self, f_hz: ArrayLike, air: Air) -> Complex:
        """One over the impedance of the slit. Returns (n_freq,) m3/(Pa s)."""
        width = self.area / self.gap
        return np.asarray(1 / slit(f_hz, self.length, width, self.gap, air.density, air.viscosity))


@dataclass(frozen=True)
class Panel:
    """A wall that gives: one resonator with structural damping, Z = j w M + (1 + j eta)/(j w C).

    InputError: A value outside those.
    """

    compliance: float  # m3/Pa, volume it gives by the pressure in the cabin at rest, above 0
    mass: float = 0.0  # kg/m4, acoustical mass, moving mass over area squared, 0 or more
    loss: float = 0.1  # 1, loss factor, 0 or more

    def __post_init__(self) -> None:
        require_positive(compliance=self.compliance)
        for name, value in (("mass of the panel", self.mass), ("loss factor of the panel", self.loss)):
            if not (isfinite(value) and value >= 0):
                raise InputError(name, value, "a finite number, 0 or more")

    def admittance(self, f_hz: ArrayLike, air: Air) -> Complex:
        """One over its impedance; the air plays no part. Returns (n_freq,) m3/(Pa s)."""
        jw = 2j * pi * frequencies(f_hz)
        return np.asarray(jw / (jw**2 * self.mass + (1 + 1j * self.loss) / self.compliance))


def zeroth_transfer(
    f_hz: ArrayLike, volume: float, branches: Sequence[AirBranch] = (), air: Air | None = None
) -> Complex:
    """Pressure by volume velocity where the cabin is small against the wave: sealed volume, leaks and panels.

    With no branch p = rho c^2 dV/V, the most that a cabin gives; a real one leaks and flexes.

    `volume`, m3: of the air, above 0; returns (n_freq,) Pa s/m3.
    """
    air, f = air or Air(), frequencies(f_hz)
    require_positive(volume=volume)
    admittance = 2j * pi * f * volume / air.stiffness
    for branch in branches:
        admittance = admittance + branch.admittance(f, air)
    return np.asarray(1 / admittance)


def modal_transfer(
    f_hz: ArrayLike,
    space: AirSpace,
    pistons: Sequence[Piston],
    seats: ArrayLike,
    loss: float = CABIN_LOSS,
    branches: Sequence[AirBranch] = (),
    air: Air | None = None,
    reach: float = MODE_REACH,
) -> Complex:
    """Pressure at each seat by the volume velocity of each piston, with phase; the formula heads this file.

    `pistons`: where air is moved; the mode shapes are averaged over each; `seats`, (n_seat, 3) m; `loss`, 1: loss
    factor of the modes, above 0 to 1; the half-power bandwidth of a mode by its frequency; `branches`: leaks and
    panels; they act on the zeroth mode; `reach`, 1: modes are carried to this many times the highest frequency, 1
    or more, and on as springs (`STATIC_REACH`); returns (n_freq, n_seat, n_piston) Pa s/m3; InputError: A piston
    or a seat outside the cabin, or a number outside its range.
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
    """Say which loudspeaker or seat is not in the cabin. `seats`, (n_seat, 3) m; InputError: one is outside."""
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
