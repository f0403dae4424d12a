"""The air space of a cabin: its eigenfrequencies and mode shapes; a box, and the interface for other shapes.

Rigid walls, no damping: damping, leaks and loudspeakers are added in `cabin` and `field`, which ask a space for no
more than `AirSpace` names.  Lengths in m; x back from the front end of the air space, y right from its left side,
z up.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError

Real = NDArray[np.float64]
Point = tuple[float, float, float]

MAX_MODES = 20_000  # 3 m3 hold about 300 below 900 Hz; far more than this is a slip in a length


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

        `points`, (n_point, 3) m: positions; those a piston's radius behind a wall are answered too, as by a
        mirror; `speed`, m/s.
        """


@dataclass(frozen=True)
class BoxCabin:
    """A box-shaped air space with rigid walls, from 0 to each of its lengths.

    InputError: A length that is not a finite number above 0.
    """

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
        """Half waves along x, y and z of each mode, in the order of `eigenfrequencies`.

        `speed`, m/s; InputError: more modes than anything here can use.
        """
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

    The edges, which add a few percent, are left out: no other shape than a box has them to tell.

    `speed`, m/s.
    """
    x = below_hz / speed
    return float(4 * pi / 3 * space.volume * x**3 + pi / 4 * space.surface * x**2)


def frequencies(f_hz: ArrayLike) -> Real:
    """Frequencies as an array, each more than 0.

    Returns (n_freq,) Hz; InputError: one that is not a finite number above 0, or not a list of them.
    """
    f = np.asarray(f_hz, dtype=float)
    if f.ndim != 1 or not (np.isfinite(f) & (f > 0)).all():
        raise InputError("frequencies", f"{np.ndim(f)} dimensions" if f.ndim != 1 else f.min(), "a list above 0 Hz")
    return f


def require_positive(**values: float) -> None:
    """Say which value is not a finite number above 0. `values`, unit of each; InputError: one is not."""
    for name, value in values.items():
        if not (isfinite(value) and value > 0):
            raise InputError(name, value, "a finite number above 0")


def positions(what: str, points: ArrayLike) -> Real:
    """Positions as an array.

    `points`, (n, 3) m; returns (n, 3) m; InputError: another shape, or a number that is not finite.
    """
    at = np.asarray(points, dtype=float)
    if at.ndim != 2 or at.shape[1] != 3 or not np.isfinite(at).all():
        raise InputError(what, np.shape(at), "finite positions x, y, z: (n, 3)")
    return at
