"""A stage of the work: all its channels playing together in the cabin, with its bands and the loudest it can go.

From solved channels (per volt), what drives each, and the cabin's transfer from every outlet to every seat:
levels in dB re 20 uPa, excursion and limits.  The band holds 95 %: each uncertain element moved by its standard
deviation, the level differences added in quadrature (JCGM 100, 5.1.2), and what the model itself is out by.

The difference of two predictions is known far better than either, and has its own band: what is uncertain in both alike
cancels (each uncertain element moves both at once), and what the model is out by cancels as far as the same outlets
carry the sound in both."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import log10

import numpy as np
from numpy.typing import NDArray

from backwave.budget import checkpoint
from backwave.errors import InputError
from backwave.network.element import Complex
from backwave.sound.cabin import Transfer
from backwave.sound.output_network import ChannelResponse

Real = NDArray[np.float64]
P_REF = 20e-6
COVERAGE = 1.96  # standard deviations to either edge of a band: 95 % of a normal distribution (JCGM 100, G.3)
AT_ONCE = 4_000_000  # numbers of one step, 64 MB: 400 changes of a van with two seats and twenty outlets
_BASS_SD, _ABOVE_SD = 1.5, 2.5  # dB; 95 % is then 3 below 200 Hz and 5 above 300 (common trade practice)
_BEYOND_SD, _MOST_SD = 1.5, 6.0  # dB by octave beyond where the cone is a piston; and no more than
# dB that a difference of two predictions is out by at best, standard deviation (common trade practice)
REST_SD = 0.3


@dataclass(frozen=True, eq=False)
class Voice:
    """One load of one channel as it plays in a stage."""

    name: str  # the path, unique in the stage
    label: str  # whose uncertainty it is: paths of one label are out together, as both doors of a pair are
    channel: int  # which of the stage's channels
    load: int
    columns: tuple[int, ...]  # for each of its outlets, the column of the cabin's transfer
    gain: Complex  # (n_freq,) 1, polarity, and what was measured of the driver's pressure
    limit_hz: float  # up to where the model of its driver holds
    limits: StageLimits


@dataclass(frozen=True)
class StageLimits:
    """What a driver and its output stand; None where nobody said."""

    x_max: float | None  # m, excursion, peak, one way
    power_w: float | None
    clip_v: float  # at the channel's open terminals


@dataclass(frozen=True, eq=False)
class StageLevels:
    """Levels at each seat."""

    f_hz: Real  # (n_freq,)
    level: Real  # (n_seat, n_freq) dB, best estimate, re 20 uPa
    low: Real  # (n_seat, n_freq) dB, 2.5 and 97.5 % points
    high: Real  # (n_seat, n_freq) dB
    alone: Mapping[str, Real]  # dB, each voice by itself
    moved: Mapping[str, Real]  # dB, what each uncertain element does to the level, smaller and larger
    model_sd: Real  # (n_freq,) dB, what the model itself is out by, standard deviation
    # (n_freq,) 1, most of the energy is from cones beyond where they are pistons: draw the band, no line
    beyond: NDArray[np.bool_]
    # (n_seat, n_freq, n_column) 1, of the energy by spot, 0 to 1; 0 in the columns that are not the first of their
    # spot
    shares: Real


@dataclass(frozen=True, eq=False)
class Loudest:
    """How far one volume for the whole stage can be turned up at each frequency, and what stops it."""

    gain_db: Real  # (n_freq,), above the reference drive
    voice: tuple[str, ...]  # which path stops it, by frequency
    cause: tuple[str, ...]  # "clip", "excursion" or "heat", by frequency


def stage_levels(
    channels: tuple[ChannelResponse, ...], drives: tuple[Complex, ...], voices: tuple[Voice, ...], cabin: Transfer,
    spots: tuple[int, ...], together: bool = False,
) -> StageLevels:  # fmt: skip
    """Everything a stage does at each seat. `drives`, V rms: at the open terminals of each; `spots`: for each column of
    `cabin`, the place it is at: columns of one spot count as one outlet where shares of the energy are compared;
    `together`: add with phase above the changeover too: how a polarity at a crossover shows, true at one point only."""
    if not voices:
        raise InputError("voices of a stage", 0, "one or more")
    if any(c.f_hz.shape != cabin.f_hz.shape or not np.allclose(c.f_hz, cabin.f_hz) for c in channels):
        raise InputError("frequencies of a channel", len(channels[0].f_hz), "those of the cabin")
    n_freq, n = cabin.diffuse.shape

    def power(flows: Complex) -> Real:
        """(k, n_seat, n_freq): k sets of flows, as many at once as memory is meant to hold."""
        some = max(1, AT_ONCE // cabin.direct.size)
        pieces = []
        for first in range(0, len(flows), some):
            checkpoint()
            pieces.append(cabin.mean_square(flows[first : first + some], together))
        square = np.concatenate(pieces) if pieces else np.zeros((0, n_freq, cabin.direct.shape[1]))
        return np.maximum(np.swapaxes(square, 1, 2), 1e-30)

    def added(flow: Complex, voice: Voice, by_outlet: Complex) -> None:
        """Put what a voice's outlets flow, by volt, into their columns."""
        weight = drives[voice.channel] * voice.gain
        for row, column in zip(by_outlet, voice.columns, strict=True):
            flow[:, column] += row * weight

    base = np.zeros((len(voices), n_freq, n), dtype=complex)
    for flow, voice in zip(base, voices, strict=True):
        added(flow, voice, channels[voice.channel].loads[voice.load].flow)
    total = base.sum(axis=0)
    alone = power(base)
    at_rest = power(total[None])[0]
    labels, changed = _changed(channels, voices, total, added)
    level = level_db(at_rest)
    differences = level_db(power(changed)) - level if labels else np.zeros((0, *level.shape))
    moved = {name: differences[2 * k : 2 * k + 2] for k, name in enumerate(labels)}
    by_column = np.moveaxis(power(total * np.eye(n)[:, None, :]), 0, -1)
    by_column /= by_column.sum(axis=-1, keepdims=True)
    shares = np.zeros_like(by_column)
    for column, spot in enumerate(spots):
        shares[..., spot] += by_column[..., column]
    limit = np.zeros(n)
    for voice in voices:
        for column in voice.columns:
            limit[column] = max(limit[column], voice.limit_hz)
    used = by_column.mean(axis=0)
    sd = model_sd_db(cabin.f_hz, used, limit)
    down, up = _quadrature(moved, sd)
    return StageLevels(
        cabin.f_hz, level, level - COVERAGE * down, level + COVERAGE * up,
        {voice.name: level_db(one) for voice, one in zip(voices, alone, strict=True)}, moved, sd,
        (used * (cabin.f_hz[:, None] > limit)).sum(axis=1) > 0.5, shares,
    )  # fmt: skip


def _changed(
    channels: tuple[ChannelResponse, ...], voices: tuple[Voice, ...], total: Complex,
    added: Callable[[Complex, Voice, Complex], None],
) -> tuple[list[str], Complex]:  # fmt: skip
    """All flows with one uncertain element smaller, then larger; elements of one label move wherever they are."""
    groups: dict[str, list[tuple[int, int]]] = {}
    for k, channel in enumerate(channels):
        owner = {voice.load: voice.label for voice in voices if voice.channel == k}
        for j, moved in enumerate(channel.moved):
            if moved.load in owner:
                groups.setdefault(f"{owner[moved.load]}.{moved.element}", []).append((k, j))
    changed = np.repeat(total[None], 2 * len(groups), axis=0)
    for g, where in enumerate(groups.values()):
        checkpoint()
        for k, j in where:  # two loads of one label on one channel: the changes add to first order
            moved = channels[k].moved[j]
            for voice in voices:
                if voice.channel == k:
                    plain = channels[k].loads[voice.load].flow
                    added(changed[2 * g], voice, moved.less[voice.load] - plain)
                    added(changed[2 * g + 1], voice, moved.more[voice.load] - plain)
    return list(groups), changed


def model_sd_db(f_hz: Real, shares: Real, limit_hz: Real) -> Real:
    """What the model is out by at one seat, standard deviation (common trade practice). 1.5 dB below 200 Hz, 2.5 dB
    above 300 Hz, more by 1.5 dB an octave beyond where the cones are pistons, at most 6. `shares`, (n_freq, n_column)
    1; `limit_hz` (n_column,): up to where the model of each holds; 0 where it has no share; returns (n_freq,) dB."""
    base = np.interp(np.log(f_hz), np.log([200.0, 300.0]), [_BASS_SD, _ABOVE_SD])
    octaves = np.log2(np.maximum(f_hz[:, None] / np.maximum(limit_hz, 1.0), 1.0))
    return np.asarray(np.minimum(base + _BEYOND_SD * (shares * octaves).sum(axis=1), _MOST_SD))


def loudest(channels: tuple[ChannelResponse, ...], drives: tuple[Complex, ...], voices: tuple[Voice, ...]) -> Loudest:
    """The first limit that one volume meets at each frequency, a sine at a time. `drives`, V rms: at the open terminals
    of each, at the reference."""
    room, names, causes = [], [], []
    tiny = 1e-30
    for voice in voices:
        load, drive, limits = channels[voice.channel].loads[voice.load], np.abs(drives[voice.channel]), voice.limits
        found = {"clip": limits.clip_v / np.maximum(drive, tiny)}
        if limits.x_max is not None:
            found["excursion"] = limits.x_max / np.maximum(load.excursion * drive, tiny)
        if limits.power_w is not None:
            found["heat"] = np.sqrt(limits.power_w / np.maximum(load.heat * drive**2, tiny))
        for cause, gain in found.items():
            room.append(gain)
            names.append(voice.name)
            causes.append(cause)
    first = np.argmin(room, axis=0)
    gain = np.minimum(np.min(room, axis=0), 1e6)
    return Loudest(20 * np.log10(gain), tuple(names[k] for k in first), tuple(causes[k] for k in first))


def level_db(mean_square: Real) -> Real:
    """Level of a mean square pressure. `mean_square`, Pa^2; returns dB re 20 uPa."""
    return np.asarray(10 * np.log10(mean_square / P_REF**2))


@dataclass(frozen=True, eq=False)
class Difference:
    """One prediction less another, by frequency."""

    f_hz: Real  # (n_freq,)
    delta: Real  # (n_seat, n_freq) dB, best estimate and its 2.5 and 97.5 % points
    low: Real  # (n_seat, n_freq) dB
    high: Real  # (n_seat, n_freq) dB


@dataclass(frozen=True)
class BandDifference:
    """One prediction less another at one seat, the mean over a band in log frequency."""

    low_hz: float
    high_hz: float
    delta: float  # dB, best estimate and its 2.5 and 97.5 % points
    low: float  # dB
    high: float  # dB

    @property
    def sure(self) -> bool:
        """Whether the band leaves no doubt of the sign."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True)
class Relief:
    """What a change does to the excursion of one driver, for the same drive."""

    before_mm: float  # greatest excursion over the band, peak, one way
    after_mm: float
    at_hz: float  # where it was greatest before
    db: float  # dB, how much less


def difference(before: StageLevels, after: StageLevels) -> Difference:
    """After less before, with its band."""
    delta, sides, sd = _parts(before, after)
    down, up = _quadrature(sides, sd)
    return Difference(after.f_hz, delta, delta - COVERAGE * down, delta + COVERAGE * up)


def band_difference(
    before: StageLevels, after: StageLevels, low_hz: float, high_hz: float, seat: int = 0
) -> BandDifference:
    """Mean difference over a band at one seat; what is uncertain is taken as out by the same all over the band."""
    inside = (after.f_hz >= low_hz) & (after.f_hz <= high_hz)
    if not inside.any():
        raise InputError("band", f"{low_hz:g} to {high_hz:g} Hz", "one that holds frequencies of the prediction")
    delta, sides, sd = _parts(before, after)
    mean = float(delta[seat, inside].mean())
    down, up = _quadrature(
        {name: pair[:, seat, inside].mean(axis=-1)[:, None] for name, pair in sides.items()},
        np.array([sd[seat, inside].mean()]),
    )
    return BandDifference(low_hz, high_hz, mean, mean - COVERAGE * float(down[0]), mean + COVERAGE * float(up[0]))


def relief(f_hz: Real, before: Real, after: Real) -> Relief:
    """What a change does to a driver's excursion from 20 to 300 Hz. `before`, `after`, (n_freq,) m: excursion for the
    same drive."""
    inside = (f_hz >= 20) & (f_hz <= 300)
    one, other = before[inside], after[inside]
    most = int(np.argmax(one))
    first, last = float(one[most]), float(other.max())
    less_db = 20 * log10(max(first, 1e-15) / max(last, 1e-15))
    return Relief(first * 1e3, last * 1e3, float(f_hz[inside][most]), less_db)


def _parts(before: StageLevels, after: StageLevels) -> tuple[Real, dict[str, Real], Real]:
    if before.level.shape != after.level.shape or before.shares.shape != after.shares.shape:
        raise InputError("predictions to compare", before.level.shape, f"of one shape, {after.level.shape}")
    none = np.zeros((2, *after.level.shape))
    labels = dict.fromkeys((*before.moved, *after.moved))
    sides = {name: after.moved.get(name, none) - before.moved.get(name, none) for name in labels}
    apart = np.abs(after.shares - before.shares).sum(axis=-1) / 2  # 0 the same outlets alike, 1 others altogether
    sd = np.sqrt(2.0) * np.maximum(before.model_sd, after.model_sd) * apart
    return after.level - before.level, sides, np.hypot(sd, REST_SD)


def _quadrature(sides: Mapping[str, Real], sd: Real) -> tuple[Real, Real]:
    """How far down and how far up all elements and the model together take the level."""
    down, up = sd**2, sd**2
    for pair in sides.values():
        down = down + np.maximum(-pair.min(axis=0), 0) ** 2
        up = up + np.maximum(pair.max(axis=0), 0) ** 2
    return np.sqrt(down), np.sqrt(up)
