"""What the sweeps of a take show of the recording: whether they are in it, whole, to the top, told apart, clear of noise.

Not found: a piece of some milliseconds that a recorder left out while the drive was below 400 Hz.  Numpy alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.measure.arrival import Relation
from backwave.measure.recording_checks import mean_power
from backwave.measure.response import ResponseReading
from backwave.measure.sweep import Take
from backwave.measure.synchronize import Clock

Real = NDArray[np.float64]

STEEP_DB = 25.0  # fall within a sixth of an octave that only a file's filter makes
PHONE_HZ = 5000.0
LOW_SNR_DB = 20.0
COMPACT = 0.4  # of the energy kept within a fifth of a second; evenly spread it is a sixth
STANDS_OUT = 2.0  # over what was there before
CHI_SQUARE_MEDIAN = 0.455  # median over mean of the square of noise: one degree of freedom


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
    """Where a lossy file, a call or a noise filter ends: a fall that no loudspeaker has.

    InputError: it ends below 5 kHz: phone-call quality.
    """
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
    words = (("name", name, ""), ("first", first, ""))
    titles = {
        1: "{name} has the polarity of {first}", -1: "{name} is of opposite polarity to {first}",
        0: "polarity of {name} against {first}: not sure",
    }  # fmt: skip
    remedies = {
        -1: "change over the two wires at one of the two drivers, or turn one channel, unless it is meant so",
        0: "read again nearer to the drivers, or use the polarity pulses and look at the cone",
    }
    remedy = remedies.get(related.polarity)
    return Check(
        "measure.polarity", "ok" if related.polarity == 1 else "caution", Message(titles[related.polarity], words),
        value=float(related.polarity), limit=1.0, sources=(PRACTICE,), part=name,
        remedy=Message(remedy) if remedy else None,
        working=(
            CalculationLine("d", "delay against the first", 1e3 * related.delay_s, "ms"),
            CalculationLine("d'", "the same by the other method", 1e3 * related.other_s, "ms"),
            CalculationLine("r", "likeness of the early sound", related.alike, ""),
        ),
    )  # fmt: skip


def sounded(recording: Real, clock: Clock, take: Take, reading: ResponseReading) -> bool:
    """Whether a sweep is in the recording: its response is short, as a wrong sweep's or a noise's is not.

    `recording`, (n,) 1; InputError: there is sound in its place, but not that of this sweep.
    """
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
