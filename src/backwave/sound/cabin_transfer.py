"""The sound field at each seat over the whole range: modes below, direct and diffuse sound above, half space.

Below the changeover the cabin is its modes (`cabin_modes`), pressures added with phase.  Above it each loudspeaker is a
piston in a baffle heard directly, plus a diffuse field that the walls' absorption sets, and energies are added:
phases there are finer than anyone knows the positions.  The changeover is where three modes overlap (Schroeder
1962, JASA 34:1819: 2000 sqrt(T/V)); over the octave round it the two mean squares are blended, a raised cosine
in log frequency.  The modal sum contains the direct sound, so below the octave none is added.

Pressures by volume velocity, Pa s/m3; lengths in m.  Not covered: reflections one by one, shadows of seats and
people, a source that is not in a wall.  Expect plus or minus 5 dB of any one seat above the changeover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air
from backwave.budget import bounded
from backwave.errors import InputError
from backwave.network.element import Complex, piston_directivity, piston_radiation
from backwave.sound.cabin_modes import (
    CABIN_LOSS,
    AirSpace,
    Leak,
    Piston,
    frequencies,
    modal_transfer,
    positions,
    require_inside,
)

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
        """Mean square pressure at each seat, all pistons at once.
        `flow`, (n_freq, n_piston) m3/s rms: volume velocity of each into the cabin; k sets of them at once; `together`:
        add the direct sounds with phase above the changeover: true at the one point that was measured and only there,
        but it is how a polarity at a crossover shows; returns (n_freq, n_seat) Pa^2.
        """
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
    """Far pressure of pistons in infinite baffles in the open, j w rho D e^{-jkr}/(2 pi r): the textbook condition.
    D is the directivity of a rigid piston.  Behind the plane of a baffle there is no sound. `seats`, (n_seat, 3) m:
    where it is heard, farther from each piston than its radius; returns (n_freq, n_seat, n_piston) Pa s/m3.
    """
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
    """Where `OVERLAP` modes lie within the half-power bandwidth eta f of one.
    From the modal density 4 pi V f^2/c^3 + pi S f/(2 c^2) (Kuttruff, Room Acoustics); its first term alone, with T =
    2.2/(eta f), is Schroeder's 2000 sqrt(T/V). `loss`, 1: loss factor of its modes, above 0 to 1; returns Hz.
    """
    if not 0 < loss <= 1:
        raise InputError("loss factor of the cabin", loss, "above 0, up to 1")
    c = (air or Air()).speed
    cubic = [4 * pi * space.volume / c**3, pi * space.surface / (2 * c**2), 0.0, -OVERLAP / loss]
    roots = np.roots(cubic)
    return float(roots[np.argmin(np.abs(roots.imag))].real)  # one change of sign: one positive root


def mean_absorption(space: AirSpace, loss: float = CABIN_LOSS, air: Air | None = None) -> float:
    """Mean absorption of the walls for which direct and diffuse sound hold as much energy as the modes there do.
    A source of W keeps W/(eta w) in the modes and 4 V W/(c S a) in the field (Kuttruff, Room Acoustics), so that a = 4
    V eta w/(c S) at the changeover, at most 1.  It is kept for all frequencies above: with a constant loss factor the
    walls would in the end swallow more than meets them. `loss`, 1: loss factor of its modes, above 0 to 1.
    """
    air = air or Air()
    rate = 2 * pi * changeover_hz(space, loss, air) * loss
    return min(1.0, 4 * space.volume * rate / (air.speed * space.surface))


def diffuse_field(
    f_hz: ArrayLike, space: AirSpace, pistons: Sequence[Piston], absorption: float, air: Air | None = None
) -> NDArray[np.float64]:
    """Root of the mean square pressure of the diffuse field, p^2 = 4 rho c W (1 - a)/(S a).
    W is what each piston radiates from an infinite baffle, so the resistance of `piston_radiation` times the square of
    its volume velocity; (1 - a) takes off what the first wall keeps (Kuttruff, Room Acoustics; Beranek and Mellow,
    Acoustics, 2012; from memory). `absorption`, 1: mean absorption of the walls, above 0 to 1; returns (n_freq,
    n_piston) Pa s/m3.
    """
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
    branches: Sequence[Leak] = (), absorption: float | None = None, air: Air | None = None,
) -> Transfer:  # fmt: skip
    """The cabin from every piston to every seat.
    `pistons`: loudspeakers, ports and openings that move its air; `seats`, (n_seat, 3) m; `loss`, 1: loss factor of its
    modes, above 0 to 1; `absorption`, 1: mean absorption of the walls above the changeover, above 0 to 1; None is
    `mean_absorption`.
    """
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
        diffuse_field(f, space, pistons, mean_absorption(space, loss, air) if absorption is None else absorption, air),
        share, change,
    )  # fmt: skip


def free_transfer(
    f_hz: ArrayLike, pistons: Sequence[Piston], distance: float = 1.0, air: Air | None = None
) -> Transfer:
    """Half space in place of a cabin: every piston in its own baffle, heard on its axis at one distance.
    `distance`, m: of the one seat from each.
    """
    f = frequencies(f_hz)
    ahead = [Piston((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), p.radius) for p in pistons]
    direct = np.concatenate([half_space(f, [p], [(distance, 0.0, 0.0)], air) for p in ahead], axis=2)
    return Transfer(f, np.zeros_like(direct), direct, np.zeros((len(f), len(pistons))), np.ones(len(f)), 0.0)
