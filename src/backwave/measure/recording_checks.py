"""Whether a recording can be used: what is refused before anything is read, and what is said beside the result.

Silence, a dead channel, phone-call quality, clipping, automatic gain, samples that stand still, a clock no crystal has;
then of each sweep whether it is in the recording, whole, to the top, told apart, clear of noise.  Not found: gain that
follows the level at once (it looks like the loudspeaker's own limit), and a piece of some milliseconds that a recorder
left out while the drive was below 400 Hz.  Numpy alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.measure.response import Relation, ResponseReading
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
STEEP_DB = 25.0  # fall within a sixth of an octave that only a file's filter makes
PHONE_HZ = 5000.0
LOW_SNR_DB = 20.0
COMPACT = 0.4  # of the energy kept within a fifth of a second; evenly spread it is a sixth
STANDS_OUT = 2.0  # over what was there before
CHI_SQUARE_MEDIAN = 0.455  # median over mean of the square of noise: one degree of freedom


def usable_channel(samples: ArrayLike, rate_hz: float) -> tuple[Real, tuple[Check, ...]]:
    """The channel of a recording to read, and what there is to say of the others. `samples`, (n,) 1: against full
    scale."""
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
        wanted = "a recording with sound: check the microphone, its permission and its level"
        raise InputError("the recording", "silence", wanted)
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
    `samples`, (n,) 1."""
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
    `recording`, (n,) 1."""
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
    """Whether samples stand still in the middle of sound, as they do where a recorder lost some. `recording`, (n,)
    1."""
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


def check_spread(reading: ResponseReading) -> Check | None:
    """Whether low and high parts of a sweep arrive together; a piece left out of it sets them apart."""
    whole = reading.clear
    n = whole.samples.size
    spectrum, f = np.fft.rfft(whole.samples), np.fft.rfftfreq(n, 1 / whole.rate_hz)
    centers = 500.0 * 2.0 ** np.arange(5)
    centers = centers[(centers > 1.5 * reading.sweep.f1_hz) & (centers * 1.5 < reading.sweep.f2_hz)]
    loud, peaks = [], []
    for c in centers.tolist():
        bell = np.exp(-0.5 * (np.log2(np.maximum(f, 1.0) / c) / 0.35) ** 2)
        part = np.fft.irfft(spectrum * bell, n)
        peaks.append(float(np.argmax(np.abs(part))) / whole.rate_hz)
        loud.append(float((part**2).sum()))
    heard = [p for p, e in zip(peaks, loud, strict=True) if e > 1e-3 * float((whole.samples**2).sum())]
    spread = max(heard) - min(heard) if len(heard) > 1 else 0.0
    if spread < 0.005:
        return None
    return Check(
        "measure.dropout", "caution",
        Message("parts of the sweep on {name} arrive {spread} apart", (
            ("name", reading.event.name, ""), ("spread", 1e3 * spread, "ms"))),
        value=1e3 * spread, limit=5.0, unit="ms", sources=(PRACTICE,), part=f"spread-{reading.event.name}",
        remedy=Message("a piece of the sweep is missing, or a late reflection is louder than the direct sound: record "
                    "again and compare"),
    )  # fmt: skip


def check_band(reading: ResponseReading) -> Check | None:
    """Where a lossy file, a call or a noise filter ends: a fall that no loudspeaker has."""
    top = min(reading.sweep.f2_hz, 0.47 * reading.linear.rate_hz)
    f = np.geomspace(max(1000.0, reading.sweep.f1_hz), top, 600)
    if f[-1] < 2 * f[0]:
        return None
    power = np.abs(reading.linear.spectrum(f)) ** 2
    per = round(float(np.log(2) / 12 / np.log(f[1] / f[0])))  # points in a twelfth of an octave
    total = np.cumsum(np.concatenate([[0.0], power]))
    mean = 10 * np.log10(np.maximum((total[per:] - total[:-per]) / per, 1e-30))
    fall = mean[: -2 * per] - mean[2 * per :]
    # the whole of what is above has to stay down, else it is a dip
    after = np.maximum.accumulate(mean[::-1])[::-1]
    steep = (fall > STEEP_DB) & (mean[: -2 * per] - after[2 * per :] > STEEP_DB)
    if not steep.any():
        return None
    edge = float(f[int(np.argmax(steep)) + 3 * per // 2])
    if edge < PHONE_HZ:
        raise InputError(
            "the recording", f"it ends at {edge / 1000:.1f} kHz, phone-call quality",
            "a recording to 16 kHz or more: use the recorder's best setting, not a call or a voice filter",
        )  # fmt: skip
    return Check(
        "measure.band", "caution", Message("the recording ends at {edge}", (("edge", edge, "Hz"),)),
        value=edge, limit=reading.sweep.f2_hz, unit="Hz", sources=(PRACTICE,), part=reading.event.name,
        remedy=Message("record as WAV or FLAC; a file that was compressed loses the top, here or in the player"),
    )  # fmt: skip


def check_noise(name: str, f_hz: Real, snr_db: Real) -> Check:
    """The least signal over noise of a response, by thirds of an octave."""
    k = int(np.argmin(snr_db))
    share = float((snr_db < LOW_SNR_DB).mean())
    fine = share < 0.1
    return Check(
        "measure.noise", "ok" if fine else "caution",
        Message("signal over noise on {name} is least at {f}: {snr}", (
            ("name", name, ""), ("f", float(f_hz[k]), "Hz"), ("snr", float(snr_db[k]), "dB"))),
        value=float(snr_db[k]), limit=LOW_SNR_DB, unit="dB", sources=(PRACTICE,), part=name,
        remedy=None if fine else Message("engine, fan and phone off, doors shut; then a longer sweep, then a louder one"),
    )  # fmt: skip


def check_channels(related: Relation, change_db: float, names: tuple[str, str]) -> Check | None:
    """Whether two outputs came out as one and the same: a file played in mono. `names`, (str, str) 1."""
    if not (related.alike > 0.995 and abs(related.delay_s) < 4e-6 and abs(change_db) < 0.1):
        return None
    return Check(
        "measure.channels", "caution",
        Message("{one} and {two} are one and the same sound", (("one", names[0], ""), ("two", names[1], ""))),
        sources=(PRACTICE,), part="player",
        remedy=Message("the player mixed both channels into one, or a plug is not all the way in: turn mono off, check "
                    "balance and fader, and record again"),
    )  # fmt: skip


def check_relation(name: str, first: str, related: Relation) -> Check:
    """Polarity of an output against the first of the take."""
    title, remedy = {
        1: ("{name} has the polarity of {first}", ""),
        -1: ("{name} is of opposite polarity to {first}",
             "change over the two wires at one of the two drivers, or turn one channel, unless it is meant so"),
        0: ("polarity of {name} against {first}: not sure",
            "read again nearer to the drivers, or use the polarity pulses and look at the cone"),
    }[related.polarity]  # fmt: skip
    return Check(
        "measure.polarity", "ok" if related.polarity == 1 else "caution",
        Message(title, (("name", name, ""), ("first", first, ""))),
        value=float(related.polarity), limit=1.0, sources=(PRACTICE,), part=name,
        remedy=Message(remedy) if remedy else None,
        working=(
            CalculationLine("d", "delay against the first", 1e3 * related.delay_s, "ms"),
            CalculationLine("d'", "the same by the other method", 1e3 * related.other_s, "ms"),
            CalculationLine("r", "likeness of the early sound", related.alike, ""),
        ),
    )  # fmt: skip


def sounded(recording: Real, clock: Clock, take: Take, reading: ResponseReading) -> bool:
    """Whether a sweep is in the recording: its response is short, as a wrong sweep's or a noise's is not. `recording`,
    (n,) 1."""
    rate, arrival = reading.clear.rate_hz, reading.clear.arrival
    begin, end = arrival - int(0.03 * rate), arrival + int(0.15 * rate)
    h = reading.clear.samples**2  # what stands before the arrival is noise too
    before = float(np.median(h[begin // 2 : begin])) / CHI_SQUARE_MEDIAN
    near, flat = float(h[begin:end].sum()), before * (end - begin)
    if near > STANDS_OUT * flat and near - flat > COMPACT * float(h.sum() - before * h.size):
        return True
    start = reading.event.start / take.rate_hz
    loud = mean_power(recording, clock, start, reading.sweep.length_s)
    quiet = mean_power(recording, clock, take.pilots[0].start / take.rate_hz - 0.9, 0.6)
    if loud > 10 * quiet:
        raise InputError(
            "the recording", "the pilots are in it, this sweep is not to be made out",
            "a recording of this very sweep file, read with the description written beside it, and louder than the noise",
        )  # fmt: skip
    return False
