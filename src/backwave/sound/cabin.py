"""The cabin: its modes at low frequencies, direct and diffuse sound above, and half space in place of it.

An air space has rigid walls and no damping: a box here, or any other shape that answers what `AirSpace` asks.  The
transfer pressure p/Q (Pa s/m3, complex, time factor e^{jwt}) of a volume velocity at an opening is

    p/Q = 1/(j w V/(rho c^2) + sum Y) + (j w rho c^2/V) sum_n psi_n(seat) <psi_n>(opening) / (w_n^2 (1 + j eta) - w^2)

the sum over the modes above the zeroth, psi scaled to a mean square of 1, <> the mean over the piston (Morse and
Ingard, Theoretical Acoustics, 1968, ch. 9; from memory).  The damping is structural: it makes the density of the
air lossy and leaves its stiffness alone, so that the zeroth mode is the sealed volume exactly.  What limits that
one, leaks and panels that give, enters as admittances Y; the first term alone is right for them, so they hold
below the first mode.  Lengths in m; x back from the front end of the air space, y right from its left side, z up.

Above the changeover each loudspeaker is a piston in a baffle heard directly, plus a diffuse field that the walls'
absorption sets, and energies are added: phases there are finer than anyone knows the positions.  The changeover is
where three modes overlap (Schroeder 1962, JASA 34:1819: 2000 sqrt(T/V)); over the octave round it the two mean squares
are blended, a raised cosine in log frequency.  The modal sum contains the direct sound, so below the octave none is
added; it is no load on a cone, which piston radiation is.

Not covered: seats and people as obstacles, trim that resonates, a leak's effect on the modes, reflections one by one,
a source that is not in a wall.  Expect plus or minus 5 dB of any one seat above the changeover."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite, pi
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air
from backwave.budget import bounded
from backwave.errors import InputError, require_positive
from backwave.network.element import Complex, piston_directivity, piston_radiation, slit

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
        `speed`, m/s."""


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
        """Eigenfrequencies up to a frequency, (c/2) sqrt(sum (n/L)^2), rising, the first 0. `speed`, m/s; returns
        (n_mode,) Hz."""
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
        """Products of cosines, scaled to a mean square of 1; beyond a wall, what its mirror shows. `points`, (n_point,
        3) m; `speed`, m/s."""
        at, n = positions("points", points), self.orders(below_hz, speed)
        shape = np.sqrt(2.0 ** np.count_nonzero(n, axis=1)) * np.ones((len(at), 1))
        for axis, side in enumerate(self.sides):
            table = np.cos(pi / side * np.outer(at[:, axis], np.arange(n[:, axis].max() + 1)))
            shape *= table[:, n[:, axis]]
        return np.asarray(shape)


def mode_count(space: AirSpace, below_hz: float, speed: float) -> float:
    """About how many modes lie below a frequency, 4 pi V/3 (f/c)^3 + pi S/4 (f/c)^2 (Weyl; Kuttruff, Room Acoustics).
    The edges, which add a few percent, are left out: no other shape than a box has them to tell. `speed`, m/s."""
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
    """Pressure by volume velocity where the cabin is small against the wave: sealed volume, leaks and panels. With no
    branch p = rho c^2 dV/V, the most that a cabin gives; a real one leaks and flexes. `volume`, m3: of the air, above
    0; returns (n_freq,) Pa s/m3."""
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
    """Pressure at each seat by the volume velocity of each piston, with phase; the formula heads this file. `pistons`:
    where air is moved; the mode shapes are averaged over each; `seats`, (n_seat, 3) m; `loss`, 1: loss factor of the
    modes, above 0 to 1; the half-power bandwidth of a mode by its frequency; `branches`: they act on the zeroth mode;
    `reach`, 1: modes are carried to this many times the highest frequency, 1 or more, and on as springs
    (`STATIC_REACH`); returns (n_freq, n_seat, n_piston) Pa s/m3."""
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


OVERLAP = 3.0  # modes within one half-power bandwidth where the field counts as statistical (Schroeder 1962)
MAX_WAYS = 10_000  # 50 seats and 200 outlets: 50 MB an array
BLEND = 2.0  # ratio of the frequencies between which modes give way to the field


@dataclass(frozen=True)
class Transfer:
    """From the volume velocity of each piston to the pressure at each seat, over the whole range."""

    f_hz: NDArray[np.float64]  # (n_freq,)
    modal: Complex  # (n_freq, n_seat, n_piston) Pa s/m3, modal sum; 0 where `share` is 1, which needs none
    direct: Complex  # (n_freq, n_seat, n_piston) Pa s/m3
    # (n_freq, n_piston) Pa s/m3, diffuse field, root of its mean square, the same at every seat
    diffuse: NDArray[np.float64]
    share: NDArray[np.float64]  # (n_freq,) 1, of the field above the changeover in the mean square, 0 to 1
    changeover_hz: float  # middle of the octave in which `share` goes from 0 to 1

    def mean_square(self, flow: ArrayLike, together: bool = False) -> NDArray[np.float64]:
        """Mean square pressure at each seat, all pistons at once. `flow`, (n_freq, n_piston) m3/s rms: volume velocity
        of each into the cabin; k sets of them at once; `together`: add the direct sounds with phase above the
        changeover: true at the one point that was measured and only there, but it is how a polarity at a crossover
        shows; returns (n_freq, n_seat) Pa^2."""
        q = np.asarray(flow, dtype=complex)
        if q.ndim not in (2, 3) or q.shape[-2:] != self.diffuse.shape:
            raise InputError("volume velocities", q.shape, f"frequencies by loudspeakers, {self.diffuse.shape}")
        row = q[..., None, :]  # against (n_freq, n_seat, n_piston)
        low = np.abs((self.modal * row).sum(axis=-1)) ** 2
        if together:
            high = np.abs((self.direct * row).sum(axis=-1)) ** 2
        else:
            high = (np.abs(self.direct) ** 2 * np.abs(row) ** 2).sum(axis=-1)
        high = high + (np.abs(self.diffuse * q) ** 2).sum(axis=-1)[..., None]
        share = self.share[:, None]
        return np.asarray((1 - share) * low + share * high)


def half_space(f_hz: ArrayLike, pistons: Sequence[Piston], seats: ArrayLike, air: Air | None = None) -> Complex:
    """Far pressure of pistons in infinite baffles in the open, j w rho D e^{-jkr}/(2 pi r): the textbook condition. D
    is the directivity of a rigid piston. Behind the plane of a baffle there is no sound. `seats`, (n_seat, 3) m: where
    it is heard, farther from each piston than its radius; returns (n_freq, n_seat, n_piston) Pa s/m3."""
    air, f = air or Air(), frequencies(f_hz)[:, None, None]
    center = np.array([p.at for p in pistons], dtype=float).reshape(-1, 3)
    axis = np.array([p.axis for p in pistons], dtype=float).reshape(-1, 3)
    radius = np.array([p.radius for p in pistons], dtype=float)
    way = positions("seats", seats)[:, None, :] - center
    r = np.linalg.norm(way, axis=-1)
    if (near := r <= radius).any():
        raise InputError("distance of a seat from a loudspeaker", float(r[near].min()), "more than its radius, m")
    cosine = (way * axis).sum(axis=-1) / np.linalg.norm(axis, axis=-1) / r
    sine = np.sqrt(np.clip(1 - cosine**2, 0, None))
    # Directivity hangs on k a sin(angle) alone, so one piston of 1 m at 90 degree answers for all of them.
    beam = piston_directivity(f * (radius * sine), 1.0, air.speed, 90.0) * (cosine >= 0)
    k = 2 * pi * f / air.speed
    return np.asarray(1j * k * air.speed * air.density * beam * np.exp(-1j * k * r) / (2 * pi * r))


def changeover_hz(space: AirSpace, loss: float = CABIN_LOSS, air: Air | None = None) -> float:
    """Where `OVERLAP` modes lie within the half-power bandwidth eta f of one. From the modal density 4 pi V f^2/c^3 +
    pi S f/(2 c^2) (Kuttruff, Room Acoustics); its first term alone, with T = 2.2/(eta f), is Schroeder's 2000
    sqrt(T/V). `loss`, 1: loss factor of its modes, above 0 to 1; returns Hz."""
    if not 0 < loss <= 1:
        raise InputError("loss factor of the cabin", loss, "above 0, up to 1")
    c = (air or Air()).speed
    cubic = [4 * pi * space.volume / c**3, pi * space.surface / (2 * c**2), 0.0, -OVERLAP / loss]
    roots = np.roots(cubic)
    return float(roots[np.argmin(np.abs(roots.imag))].real)  # one change of sign: one positive root


def mean_absorption(space: AirSpace, loss: float = CABIN_LOSS, air: Air | None = None) -> float:
    """Mean absorption of the walls for which direct and diffuse sound hold as much energy as the modes there do. A
    source of W keeps W/(eta w) in the modes and 4 V W/(c S a) in the field (Kuttruff, Room Acoustics), so that a = 4 V
    eta w/(c S) at the changeover, at most 1. It is kept for all frequencies above: with a constant loss factor the
    walls would in the end swallow more than meets them. `loss`, 1: loss factor of its modes, above 0 to 1."""
    air = air or Air()
    rate = 2 * pi * changeover_hz(space, loss, air) * loss
    return min(1.0, 4 * space.volume * rate / (air.speed * space.surface))


def diffuse_field(
    f_hz: ArrayLike, space: AirSpace, pistons: Sequence[Piston], absorption: float, air: Air | None = None
) -> NDArray[np.float64]:
    """Root of the mean square pressure of the diffuse field, p^2 = 4 rho c W (1 - a)/(S a). W is what each piston
    radiates from an infinite baffle, so the resistance of `piston_radiation` times the square of its volume velocity;
    (1 - a) takes off what the first wall keeps (Kuttruff, Room Acoustics; Beranek and Mellow, Acoustics, 2012; from
    memory). `absorption`, 1: mean absorption of the walls, above 0 to 1; returns (n_freq, n_piston) Pa s/m3."""
    if not 0 < absorption <= 1:
        raise InputError("mean absorption of the cabin", absorption, "above 0, up to 1")
    air, f = air or Air(), frequencies(f_hz)
    resistance = np.empty((len(f), len(pistons)))
    for i, piston in enumerate(pistons):
        if piston.radius:
            resistance[:, i] = piston_radiation(f, piston.radius, air.density, air.speed).real
        else:
            resistance[:, i] = 2 * pi * f**2 * air.density / air.speed
    gain = 4 * air.density * air.speed * (1 - absorption) / (space.surface * absorption)
    return np.asarray(np.sqrt(gain * resistance))


def cabin_transfer(
    f_hz: ArrayLike, space: AirSpace, pistons: Sequence[Piston], seats: ArrayLike, loss: float = CABIN_LOSS,
    branches: Sequence[Leak] = (), air: Air | None = None,
) -> Transfer:  # fmt: skip
    """The cabin from every piston to every seat. `pistons`: loudspeakers, ports and openings that move its air;
    `seats`, (n_seat, 3) m; `loss`, 1: loss factor of its modes, above 0 to 1."""
    air, f = air or Air(), frequencies(f_hz)
    ears = positions("seats", seats)
    require_inside(space, pistons, ears)
    bounded("ways from a loudspeaker to a seat", len(pistons) * len(ears), MAX_WAYS)
    change = changeover_hz(space, loss, air)
    octave = np.log(f / change) / np.log(BLEND)  # -1/2 to 1/2 over the blend
    share = np.sin(pi / 2 * np.clip(octave + 0.5, 0, 1)) ** 2
    below = share < 1
    modal = np.zeros((len(f), len(ears), len(pistons)), dtype=complex)
    modal[below] = modal_transfer(f[below], space, pistons, ears, loss, branches, air)
    return Transfer(
        f, modal, half_space(f, pistons, ears, air),
        diffuse_field(f, space, pistons, mean_absorption(space, loss, air), air), share, change,
    )  # fmt: skip


def free_transfer(
    f_hz: ArrayLike, pistons: Sequence[Piston], distance: float = 1.0, air: Air | None = None
) -> Transfer:
    """Half space in place of a cabin: every piston in its own baffle, heard on its axis at one distance. `distance`, m:
    of the one seat from each."""
    f = frequencies(f_hz)
    ahead = [Piston((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), p.radius) for p in pistons]
    direct = np.concatenate([half_space(f, [p], [(distance, 0.0, 0.0)], air) for p in ahead], axis=2)
    return Transfer(f, np.zeros_like(direct), direct, np.zeros((len(f), len(pistons))), np.ones(len(f)), 0.0)
