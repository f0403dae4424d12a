"""What is played for a measurement beside the sweep, with its description: nothing loud before a driver is known by ear.

Pink noise, polarity pulses, level tones, and beeps that say which output this is.  Levels in dB against full scale, rms
for noise and peak for the rest.  Nothing here is louder than it is asked to be, and the first sound on a channel nobody
has identified is quiet and in the driver's own band.  Numpy alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, pi, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.measure.sweep import LOUDEST_DB, Sweep, describe, plan_take, take_signal

Real = NDArray[np.float64]
# level of the first sound on a channel until someone has confirmed which driver spoke (common trade practice)
FIRST_SOUND_DB = -40.0
FADE_S = 0.02
# what can be written
KINDS = {
    "response": "a sweep of each output alone, then all of them, between two pilots",
    "rattle": "a slow sweep of the bass, for hunting rattles",
    "jig": "a sweep of one output from 8 Hz, for a driver's impedance at a headphone output",
    "beeps": "beeps that say which output this is, to be heard first",
    "noise": "pink noise on every output",
    "polarity": "pulses that push a woofer's cone outward where its polarity is right",
    "tone": "a steady tone for setting a gain",
}
BASS = ("rattle", "polarity")  # signals that are nothing but bass
NOISE_PEAK_DB = 16.0  # of pink noise over its rms, at most
# signals that go on for long or at one place: above a first sound only for a driver that was named
NAMED = ("rattle", "polarity", "tone", "noise")
# bands that a first sound is limited to, by the driver that should be there (common trade practice)
DRIVERS_HZ: dict[str, tuple[float, float]] = {
    "unknown": (300.0, 3000.0), "subwoofer": (20.0, 200.0), "woofer": (50.0, 3000.0), "midrange": (200.0, 8000.0),
    "tweeter": (2500.0, 20000.0), "coaxial": (80.0, 16000.0),
}  # fmt: skip


def pink_noise(
    rate_hz: int, length_s: float, level_db: float = -20.0, band_hz: tuple[float, float] = (20.0, 20000.0),
    seed: int = 1,
) -> Real:  # fmt: skip
    """Noise of equal power in every octave, the same samples each time. `length_s`: how long, up to 600; it joins its
    own beginning without a click; `level_db`: rms against full scale, -12 or less."""
    if not (isfinite(level_db) and level_db <= -12):
        raise InputError("level of the noise", f"{level_db:g} dB", "-12 dB rms or less: its peaks are four times that")
    n = _count(rate_hz, length_s)
    f = np.fft.rfftfreq(n, 1 / rate_hz)
    inside = (f >= band_hz[0]) & (f <= min(band_hz[1], 0.49 * rate_hz))
    if not inside.any():
        raise InputError("range of the noise", band_hz, f"something below {rate_hz / 2:g} Hz")
    rng = np.random.default_rng(seed)
    # magnitude fixed, phase drawn: the spectrum is exact however short the noise is
    spectrum = np.where(inside, np.exp(2j * pi * rng.random(f.size)) / np.sqrt(np.maximum(f, 1e-9)), 0)
    noise = np.fft.irfft(spectrum, n)
    noise *= 10 ** (level_db / 20) / np.sqrt(np.mean(noise**2))
    return np.asarray(np.clip(noise, -1, 1))


def polarity_pulses(rate_hz: int, count: int = 10, every_s: float = 0.5, level_db: float = -12.0) -> Real:
    """One-sided pulses, 2 ms wide, that push a woofer's cone outward where its polarity is right. `every_s`: between
    two of them, 0.1 or more."""
    if not (count >= 1 and 0.1 <= every_s <= 10):
        raise InputError("pulses", f"{count} every {every_s:g} s", "one or more, every 0.1 to 10 s")
    out = np.zeros(_count(rate_hz, count * every_s))
    width = round(0.002 * rate_hz)
    pulse = _amplitude(level_db) * (0.5 - 0.5 * np.cos(2 * pi * np.arange(width) / width))
    for k in range(count):
        at = round((k + 0.25) * every_s * rate_hz)
        out[at : at + width] = pulse
    return out


def level_tone(rate_hz: int, f_hz: float, length_s: float = 10.0, level_db: float = -12.0) -> Real:
    """A sine with soft ends, for setting gain with a voltmeter or matching levels. `f_hz`: its frequency: 50 to 100 Hz
    for a meter on bass channels, 400 Hz at most for cheap meters."""
    if not 0 < f_hz < 0.45 * rate_hz:
        raise InputError("frequency of the tone", f"{f_hz:g} Hz", f"above 0 and below {0.45 * rate_hz:g} Hz")
    t = np.arange(_count(rate_hz, length_s)) / rate_hz
    edge = np.clip(np.minimum(t, t[-1] - t) / min(FADE_S, length_s / 4), 0, 1)
    return np.asarray(_amplitude(level_db) * np.sin(2 * pi * f_hz * t) * (0.5 - 0.5 * np.cos(pi * edge)))


def channel_beeps(rate_hz: int, bands_hz: tuple[tuple[float, float], ...], level_db: float = FIRST_SOUND_DB) -> Real:
    """One beep on the first output, two on the second and so on, each in the band of the driver that should be there.
    `level_db`: peak; `first_sound` says when more than -40 dB may be used."""
    beep, gap, pause = 0.25, 0.25, 1.0
    total = sum((k + 1) * (beep + gap) + pause for k in range(len(bands_hz)))
    out = np.zeros((_count(rate_hz, total), len(bands_hz)))
    at = 0.0
    for k, (low, high) in enumerate(bands_hz):
        if not 0 < low < high:
            raise InputError("band of an output", f"{low:g} to {high:g} Hz", "rising, above 0 Hz")
        tone = level_tone(rate_hz, min(sqrt(low * high), 0.4 * rate_hz), beep, level_db)
        for _ in range(k + 1):
            begin = round(at * rate_hz)
            out[begin : begin + tone.size, k] = tone
            at += beep + gap
        at += pause
    return out


def first_sound(level_db: float, confirmed: bool) -> Check:
    """Whether a channel may be played at a level: not above -40 dB before someone confirms which driver spoke.
    `confirmed`: whether the driver on this channel has been identified by ear."""
    held = confirmed or level_db <= FIRST_SOUND_DB
    return Check(
        "safe.first-sound", "ok" if held else "stop",
        Message("channel identified", ()) if confirmed
        else Message("first sound at {level}, which speaker it is is not confirmed", (("level", level_db, "dB"),)),
        value=level_db, limit=LOUDEST_DB if confirmed else FIRST_SOUND_DB, unit="dB",
        remedy=None if held else Message(
            "play the channel beeps at {limit} first, in the driver's own band, and confirm which driver spoke; an "
            "active tweeter keeps its series capacitor", (("limit", FIRST_SOUND_DB, "dB"),)),
        sources=(PRACTICE,),
    )  # fmt: skip


def hearing(length_s: float, spl_dba: float | None = None) -> Check:
    """What to say of hearing before tones and sweeps are played. Allowed time by NIOSH 98-126 (1998): 8 h at 85 dBA,
    half as long for each 3 dB more. `spl_dba`, dB: A-weighted level at the ear, if anyone knows it."""
    safe = "begin with the volume low, leave the car or wear ear protection, and keep children and animals out"
    remedy = Message(safe)
    if spl_dba is None:
        return Check(
            "safe.hearing", "caution", Message("the level at the ear is not known"), sources=("NIOSH 98-126 (1998)",),
            remedy=remedy,
        )  # fmt: skip
    allowed = 480 * 60 / 2 ** ((spl_dba - 85) / 3)
    verdict: Verdict = "ok" if length_s <= 0.1 * allowed and spl_dba < 100 else "caution"
    if length_s > allowed or spl_dba >= 115:
        verdict = "stop"
    return Check(
        "safe.hearing", verdict,
        Message("{level} at the ear is allowed for {time} a day", (("level", spl_dba, "dB"), ("time", allowed / 60, "min"))),
        value=length_s, limit=allowed, unit="s", sources=("NIOSH 98-126 (1998)",),
        remedy=None if verdict == "ok" else remedy,
        working=(CalculationLine("t", "480 min / 2^((L - 85)/3)", allowed / 60, "min", "NIOSH 98-126 (1998), table 1-1"),),
    )  # fmt: skip


def _count(rate_hz: int, length_s: float) -> int:
    if not (rate_hz > 0 and isfinite(length_s) and 0.05 <= length_s <= 600):
        raise InputError("length", f"{length_s:g} s", "0.05 to 600 s")
    return round(rate_hz * length_s)


def _amplitude(level_db: float) -> float:
    if not (isfinite(level_db) and level_db <= 0):
        raise InputError("level", f"{level_db:g} dB", "0 dB (full scale) or less")
    return float(10 ** (level_db / 20))


@dataclass(frozen=True, eq=False)
class Signal:
    """What is played, with what is known of it."""

    samples: NDArray[np.float64]  # (n, n_outputs) 1, against full scale
    rate_hz: int
    description: dict[str, Any]  # to be written beside it: `read` needs it
    checks: tuple[Check, ...]  # the gates on the first sound and on hearing


def signal_of(
    kind: str, rate_hz: int = 48000, outputs: tuple[str, ...] = ("left", "right"), level_db: float = -12.0,
    identified: bool = False, band_hz: tuple[float, float] | None = None, length_s: float | None = None,
    tone_hz: float = 315.0, driver: str = "",
) -> Signal:  # fmt: skip
    """A signal to play; not above -40 dB before somebody has confirmed which driver speaks on each output. `level_db`:
    peak against full scale (rms for noise); `band_hz` (float, float): range; None is the driver's, 20 Hz to 20 kHz
    where that is not said, 20 to 300 Hz for rattles. Before the drivers are confirmed it is held within the driver's;
    `length_s`: of each sweep, or of the whole; None is 10, 60 for rattles, 30 for noise; `driver`: what should be on
    these outputs, one of `DRIVERS_HZ`; "" is unknown."""
    if kind not in KINDS:
        raise InputError("kind of signal", kind, ", ".join(KINDS))
    asked = level_db
    if driver not in ("", *DRIVERS_HZ):
        raise InputError("driver on these outputs", driver, ", ".join(DRIVERS_HZ))
    low, high = band_hz or DRIVERS_HZ.get(driver, (20.0, 20000.0))
    if kind == "rattle":
        low, high = band_hz or (20.0, 300.0)
    elif kind == "jig":
        outputs, (low, high) = outputs[:1], band_hz or (8.0, 8000.0)
    if identified and kind in NAMED and driver in ("", "unknown"):
        raise InputError(
            f"driver that was heard on these outputs, for {kind}", driver or "not said",
            ", ".join(name for name in DRIVERS_HZ if name != "unknown"),
        )  # fmt: skip
    if driver == "tweeter" and kind in BASS:
        raise InputError(f"{kind} on a tweeter's output", "bass", "a woofer's output, or a sweep of its own band")
    if driver == "tweeter" and kind == "tone" and identified:
        raise InputError(
            "tone on a tweeter's output", "a steady tone burns its coil",
            "no tone: match it by level against the woofers, on music",
        )  # fmt: skip
    if identified and kind == "noise":
        own = DRIVERS_HZ[driver]
        low, high = max(low, own[0]), min(high, own[1])
    if not identified:  # a jig plays the same sweep, as quiet as any first sound
        level_db = min(level_db, FIRST_SOUND_DB)
    if not identified and kind != "jig":
        if kind in BASS:
            raise InputError(
                f"{kind} on outputs that nobody has confirmed", "bass into what may be a tweeter",
                "the beeps first, at -40 dB; when you have heard which driver speaks on each output: --identified",
            )  # fmt: skip
        own = DRIVERS_HZ[driver or "unknown"]
        low, high = max(low, own[0]), min(high, own[1])
        if low >= high:
            raise InputError("band of a first sound", f"{low:g} to {high:g} Hz", f"within {own[0]:g} to {own[1]:g} Hz")
        if kind == "tone":
            tone_hz = min(max(tone_hz, own[0]), own[1])
    record: dict[str, Any] = {"format": 1, "kind": kind, "rate_hz": rate_hz, "outputs": list(outputs)}
    record["level_db"] = level_db
    if kind in ("response", "rattle", "jig"):
        sweep = Sweep(low, high, length_s or (60.0 if kind == "rattle" else 10.0), level_db)
        take = plan_take(rate_hz, outputs, ("all",) if kind == "rattle" and len(outputs) > 1 else None, sweep)
        samples, record = take_signal(take), describe(take)
    elif kind == "beeps":
        band = (max(low, 300.0), min(high, 3000.0))
        samples = channel_beeps(rate_hz, (band if band[0] < band[1] else (low, high),) * len(outputs), level_db)
    else:
        if kind == "noise":
            # rms: its peaks stand 12 dB and more above it
            record["level_db"] = level_db = min(level_db, -12.0 if identified else FIRST_SOUND_DB - NOISE_PEAK_DB)
            one = pink_noise(rate_hz, length_s or 30.0, level_db, (low, high))
        elif kind == "polarity":
            one = polarity_pulses(rate_hz, level_db=level_db)
        else:
            one = level_tone(rate_hz, tone_hz, length_s or 10.0, level_db)
            record["tone_hz"] = tone_hz
        samples = np.repeat(one[:, None], len(outputs), axis=1)
    first = first_sound(asked if identified else min(asked, FIRST_SOUND_DB), identified)
    if not identified and asked > FIRST_SOUND_DB:
        # it was not written so loud: what would be a stop is kept to a word
        first = replace(first, verdict="caution")
    return Signal(samples, rate_hz, record, (first, hearing(len(samples) / rate_hz)))
