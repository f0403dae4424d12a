"""Whether a recording can be used: what is refused before anything is read, and what is said beside the result.

Silence, a dead channel, phone-call quality, clipping, automatic gain, samples that stand still, a clock no crystal has;
what the sweeps themselves show is in `heard`.  Not found: gain that follows the level at once (it looks like the
loudspeaker's own limit).  Numpy alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.measure.sweep import Take
from backwave.measure.synchronize import Clock

Real = NDArray[np.float64]

MIN_RATE_HZ = 16000.0  # a recorder at or below it hears to 8 kHz: a phone call
SILENT = 1e-4  # of full scale, peak
DEAD = 10 ** (-45 / 20)  # a channel this far under the other
FLAT, CORNER = 1e-4, 5e-4  # of the peak: what counts as level with it, and the step beside it that no sine has
MANY, FEW = 0.05, 5  # share of samples that refuses a recording, and runs that are told
GAIN_DB = 0.5
PPM = 150.0
STUCK = 24  # samples of one value in a loud place


def usable_channel(samples: ArrayLike, rate_hz: float) -> tuple[Real, tuple[Check, ...]]:
    """The channel of a recording to read, and what there is to say of the others.

    `samples`, (n,) 1: against full scale; InputError: silence, phone-call rate, numbers that are none, heavy
    clipping.
    """
    sound = np.asarray(samples)
    sound = sound[:, None] if sound.ndim == 1 else sound
    if sound.ndim != 2 or sound.shape[0] < rate_hz or not np.isfinite(sound).all():
        raise InputError("the recording", f"{sound.shape[0] / rate_hz:.2f} s", "a second or more of finite samples")
    if rate_hz <= MIN_RATE_HZ:
        raise InputError(
            "sampling rate of the recording", f"{rate_hz:g} Hz, phone-call quality",
            "32 kHz or more: use a recorder's best setting, not a call or a voice memo of low quality",
        )  # fmt: skip
    peak = np.abs(sound).max(axis=0)
    if peak.max() < SILENT:
        raise InputError(
            "the recording", "silence", "a recording with sound: check the microphone, its permission and its level"
        )
    live = np.flatnonzero(peak > max(DEAD * peak.max(), SILENT))
    checks: list[Check] = []
    if live.size < sound.shape[1]:
        checks.append(Check(
            "measure.channels", "caution",
            Message("{dead} of {all} channels of the recording are dead; channel {used} was read", (
                ("dead", str(sound.shape[1] - live.size), ""), ("all", str(sound.shape[1]), ""),
                ("used", str(live[0] + 1), ""))),
            remedy=Message("nothing to do if the recorder has one microphone; else check its second input"),
            sources=(PRACTICE,), part="recording",
        ))  # fmt: skip
    used = np.ascontiguousarray(sound[:, live[0]], dtype=float)
    clipped = clipping(used)
    if clipped is not None:
        checks.append(clipped)
    return used, tuple(checks)


def clipping(samples: Real) -> Check | None:
    """Whether the loudest parts are cut off: level runs at the peak with a corner at both ends, which no sine has.

    `samples`, (n,) 1; InputError: more than a twentieth of the samples are cut.
    """
    runs, cut = 0, 0
    for sign in (1.0, -1.0):
        top = float((sign * samples).max())
        if top <= 0:
            continue
        level = np.flatnonzero(sign * samples >= top * (1 - FLAT))
        breaks = np.flatnonzero(np.diff(level) > 1)
        starts = level[np.concatenate([[0], breaks + 1])]
        ends = level[np.concatenate([breaks, [level.size - 1]])]
        inside = (ends - starts >= 2) & (starts > 0) & (ends < samples.size - 1)
        starts, ends = starts[inside], ends[inside]
        corner = top * (1 - CORNER)
        cornered = (sign * samples[starts - 1] < corner) & (sign * samples[ends + 1] < corner)
        runs += int(cornered.sum())
        cut += int((ends - starts + 1)[cornered].sum())
    share = cut / samples.size
    if share > MANY:
        raise InputError(
            "the recording", f"clipped: {100 * share:.0f} % of it is cut off",
            "a recording with its peaks well below the top: lower the recorder's input or the volume, and record again",
        )  # fmt: skip
    if runs < FEW:
        return None
    return Check(
        "measure.clipped", "caution", Message("the recording is clipped in {runs} places", (("runs", str(runs), ""),)),
        value=float(runs), limit=float(FEW), sources=(PRACTICE,),
        remedy=Message("lower the recorder's input level or the volume and record again; its distortion is not the "
                    "loudspeaker's"),
    )  # fmt: skip


def check_gain(recording: Real, clock: Clock, take: Take) -> Check:
    """Whether the last pilot is as loud as the first: a recorder that sets its own level, or a volume that was moved.

    `recording`, (n,) 1.
    """
    first, last = (mean_power(recording, clock, p.start / take.rate_hz, take.pilot.length_s) for p in take.pilots)
    quiet = mean_power(recording, clock, take.pilots[0].start / take.rate_hz - 0.9, 0.6)
    change = float(10 * np.log10(max(last - quiet, 1e-20) / max(first - quiet, 1e-20)))
    even = abs(change) <= GAIN_DB
    return Check(
        "measure.gain", "ok" if even else "caution",
        Message("the same sound is {change} {word} at the end than at the beginning", (
            ("change", abs(change), "dB"), ("word", "softer" if change < 0 else "louder", ""))),
        value=change, limit=GAIN_DB, unit="dB", sources=(PRACTICE,),
        remedy=None if even else Message(
            "turn off the recorder's automatic gain and noise reduction, leave the volume alone, and record again; "
            "levels between sweeps of this recording cannot be compared"),
        working=(CalculationLine("P1", "power of the first pilot less the quiet", first - quiet, ""),
                 CalculationLine("P2", "power of the last pilot less the quiet", last - quiet, "")),
    )  # fmt: skip


def check_clock(clock: Clock) -> Check:
    """Whether the two clocks differ as crystals do."""
    fine = abs(clock.ppm) <= PPM
    return Check(
        "measure.clock", "ok" if fine else "caution",
        Message("the recorder takes {ppm} samples in a million more than the player plays", (("ppm", f"{clock.ppm:.1f}", ""),)),
        value=clock.ppm, limit=PPM, sources=(PRACTICE,),
        low=clock.ppm - 1.96 * clock.u_ppm, high=clock.ppm + 1.96 * clock.u_ppm,
        remedy=None if fine else Message("more than crystals differ by: pieces may be missing; record again and see "
                                      "whether it stays the same"),
    )  # fmt: skip


def check_holes(recording: Real, clock: Clock, take: Take) -> Check:
    """Whether samples stand still in the middle of sound, as they do where a recorder lost some.

    `recording`, (n,) 1.
    """
    a = max(int(clock.at(take.pilots[0].start / take.rate_hz)), 0)
    b = min(int(clock.at(take.pilots[1].start / take.rate_hz + take.pilot.length_s)), recording.size)
    sound = recording[a:b]
    moves = np.flatnonzero(np.diff(sound) != 0)
    gap = np.diff(moves)
    holes, near = 0, int(0.02 * clock.rate_hz)
    for k in np.flatnonzero(gap >= STUCK).tolist():
        start, end = int(moves[k]) + 1, int(moves[k + 1]) + 1
        around = np.concatenate([sound[max(0, start - near) : start], sound[end : end + near]])
        step = max(abs(sound[start] - sound[start - 1]), abs(sound[min(end, sound.size - 1)] - sound[end - 1]))
        # a quiet place may stand still between two steps of the converter; a hole cuts through sound
        holes += int(step > 0.05 * np.abs(around).max() and np.abs(around).max() > 20 * SILENT)
    return Check(
        "measure.dropout", "caution" if holes else "ok",
        Message("the recording stands still in {holes} places", (("holes", str(holes), ""),)) if holes
        else Message("no holes in the recording"),
        value=float(holes), limit=0.0, sources=(PRACTICE,), part="holes",
        remedy=Message("samples were lost: close other programs, record to the device's own memory, and record again")
        if holes else None,
    )  # fmt: skip


def mean_power(recording: Real, clock: Clock, start_s: float, length_s: float) -> float:
    """Mean square of a stretch of the take; 0 where the recording does not have it. `recording`, (n,) 1."""
    a = max(int(clock.at(start_s)), 0)
    b = min(int(clock.at(start_s + length_s)), recording.size)
    return float(np.mean(recording[a:b] ** 2)) if b > a else 0.0
