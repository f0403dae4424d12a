"""What a recorder at a seat would have, by the model: for the demo, and for tests of the whole way.

No measurement: the take is played through the predicted levels (with the least phase they allow, and each output's own
way), with harmonics of the bass, roughness that no model has, noise, and a recorder on a clock of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.assess.sound.results import Prediction
from backwave.errors import InputError
from backwave.measure.sweep import take_from
from backwave.sound.measured_curves import minimum_phase

Real = NDArray[np.float64]
SPEED = 343.2
FULL = 10 ** (-12.0 / 20)  # amplitude of the sweep at which the volume, and a driver's harmonics, are told
_DECAY_S = 0.7  # that is kept of what a sweep leaves
_HISS = 64  # taps of the noise's filter, which falls toward the treble


@dataclass(frozen=True)
class Flaws:
    """What a recording has that the model has not."""

    ppm: float = 0.0  # 1e-6, recorder's clock against the player's
    noise_db: float = -75.0  # noise, rms against full scale, as loud in every octave
    rough_db: float = 0.0  # standard deviation of a ripple over frequency that the place has in every recording
    # the same of one that differs from recording to recording: the microphone taken away and put back
    moved_db: float = 0.0
    second: float = 0.0  # harmonics of the bass with the sweep at -12 dB, against it; they fall with the level
    third: float = 0.0
    lead_s: float = 0.6  # recorded before the take begins


def simulated(
    made: Prediction, stage: str, seat: int, description: dict[str, Any], full_scale_db: float = 115.0,
    volume_db: float = 0.0, flaws: Flaws | None = None, place: int = 1, seed: int = 1,
) -> Real:  # fmt: skip
    """A recording of a described take, by the model.
    `description`: what was written beside the sweep that is played; its outputs are sides of the stage ("left",
    "right"), or one for all; `volume_db`: of the head unit: at 0 dB a sweep at -12 dB puts 2.83 V on every channel.
    """
    flaws, take = flaws or Flaws(), take_from(description)
    played = next((one for one in made.stages if one.id == stage), None)
    if played is None:
        raise InputError("stage", stage, ", ".join(one.id for one in made.stages))
    rate = take.rate_hz * (1 + flaws.ppm * 1e-6)
    n = int((take.count / take.rate_hz + flaws.lead_s + 0.5) * rate)
    grid = played.levels.f_hz
    ripple = _ripple(grid, flaws.rough_db, place) + _ripple(grid, flaws.moved_db, 1000 + seed)
    levels = {"": played.levels.level[seat]}
    for side in ("left", "right"):
        alone = [played.levels.alone[v.name][seat] for v in played.voices if played.path(v).side == side]
        if alone:
            levels[side] = 10 * np.log10(sum(10 ** (level / 10) for level in alone))
    ways = _ways(made, stage, seat)
    sound = np.zeros(n)
    for event in take.events:
        sweep = take.of(event)
        begin = (flaws.lead_s + event.start / take.rate_hz) * rate
        first = int(begin)
        size = 1 << int((sweep.length_s + _DECAY_S) * rate).bit_length()
        f = np.fft.rfftfreq(size, 1 / rate)
        x: NDArray[np.complex128] = np.fft.rfft(sweep.samples(rate, size, (first - begin) / rate))
        if flaws.second or flaws.third:
            bass = np.fft.irfft(x / (1 + (f / 120.0) ** 4), size)
            x = x + np.fft.rfft(flaws.second * bass**2 / FULL + flaws.third * 4 * bass**3 / FULL**2)
        side = event.name if len(event.outputs) == 1 and event.name in levels else ""
        gain = _gain(np.asarray(f, dtype=float), grid, levels[side] + ripple, ways.get(side, 0.0))
        heard = np.fft.irfft(x * gain, size)
        last = min(first + size, n)
        sound[first:last] += heard[: last - first]
    sound *= 10 ** ((volume_db - full_scale_db) / 20) / FULL
    if np.abs(sound).max() > 0.99:
        raise InputError("level of the recording", f"{np.abs(sound).max():.2f} of full scale", "a quieter volume")
    rng = np.random.default_rng(seed)
    hiss = np.convolve(rng.standard_normal(n + _HISS - 1), 1 / np.sqrt(np.arange(1, _HISS + 1)), "valid")
    return np.asarray(sound + hiss * 10 ** (flaws.noise_db / 20) / hiss.std())


def _gain(f: Real, grid: Real, level_db: Real, delay_s: float) -> NDArray[np.complex128]:
    """Levels over frequency as a response: the least phase they allow, and a delay."""
    least = np.radians(minimum_phase(grid, grid, 10 ** (level_db / 20)))
    x = np.log(np.maximum(f, 1.0))
    size, turn = 10 ** (np.interp(x, np.log(grid), level_db) / 20), np.interp(x, np.log(grid), least)
    gain = size * np.exp(1j * turn - 2j * np.pi * f * delay_s)
    return np.asarray(np.where((f > 5) & (f < 0.98 * f[-1]), gain, 0.0))


def _ripple(grid: Real, sd_db: float, seed: int) -> Real:
    """Random levels over log frequency, alike within a third of an octave or so."""
    if sd_db <= 0:
        return np.zeros(grid.size)
    rng = np.random.default_rng(seed)
    octaves = np.log2(grid / grid[0])
    knots = np.arange(0, octaves[-1] + 1, 1 / 3)
    return np.asarray(np.interp(octaves, knots, rng.normal(0, sd_db, knots.size)))


def _ways(made: Prediction, stage: str, seat: int) -> Mapping[str, float]:
    """Way and processor's delay of each side's first path, s."""
    cabin = made.cabin
    found: dict[str, float] = {}
    for channel in next(one for one in made.stages if one.id == stage).plan:
        at = next((p for path in channel.paths for p in path.points if p is not None), None)
        if not channel.side or channel.side in found or at is None or not cabin.ears:
            continue
        found[channel.side] = float(np.linalg.norm(np.subtract(at, cabin.ears[seat]))) / SPEED + channel.chain.delay_s
    return found
