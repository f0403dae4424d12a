"""What else is played: pink noise, polarity pulses, level tones, beeps that say which channel this is; and its gates.

Levels in dB against full scale, rms for noise and peak for the rest.  Nothing here is louder than it is asked to be,
and the first sound on a channel nobody has identified is quiet and in the driver's own band.  Numpy alone.
"""

from __future__ import annotations

from math import isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.measure.sweep import LOUDEST_DB

Real = NDArray[np.float64]

# level of the first sound on a channel until someone has confirmed which driver spoke (common trade practice)
FIRST_SOUND_DB = -40.0
FADE_S = 0.02


def pink_noise(
    rate_hz: int,
    length_s: float,
    level_db: float = -20.0,
    band_hz: tuple[float, float] = (20.0, 20000.0),
    seed: int = 1,
) -> Real:
    """Noise of equal power in every octave, the same samples each time.

    `length_s`: how long, up to 600; it joins its own beginning without a click; `level_db`: rms against full
    scale, -12 or less.
    """
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
    """One-sided pulses, 2 ms wide, that push a woofer's cone outward where its polarity is right.

    `every_s`: between two of them, 0.1 or more.
    """
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
    """A sine with soft ends, for setting gain with a voltmeter or matching levels.

    `f_hz`: its frequency: 50 to 100 Hz for a meter on bass channels, 400 Hz at most for cheap meters.
    """
    if not 0 < f_hz < 0.45 * rate_hz:
        raise InputError("frequency of the tone", f"{f_hz:g} Hz", f"above 0 and below {0.45 * rate_hz:g} Hz")
    t = np.arange(_count(rate_hz, length_s)) / rate_hz
    edge = np.clip(np.minimum(t, t[-1] - t) / min(FADE_S, length_s / 4), 0, 1)
    return np.asarray(_amplitude(level_db) * np.sin(2 * pi * f_hz * t) * (0.5 - 0.5 * np.cos(pi * edge)))


def channel_beeps(rate_hz: int, bands_hz: tuple[tuple[float, float], ...], level_db: float = FIRST_SOUND_DB) -> Real:
    """One beep on the first output, two on the second and so on, each in the band of the driver that should be there.

    `level_db`: peak; `first_sound` says when more than -40 dB may be used.
    """
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

    `confirmed`: whether the driver on this channel has been identified by ear.
    """
    held = confirmed or level_db <= FIRST_SOUND_DB
    return Check(
        "safe.first-sound", "ok" if held else "stop",
        Message("channel identified", ()) if confirmed
        else Message("first sound at {level}, nobody has confirmed which driver speaks", (("level", level_db, "dB"),)),
        value=level_db, limit=LOUDEST_DB if confirmed else FIRST_SOUND_DB, unit="dB",
        remedy=None if held else Message(
            "play the channel beeps at {limit} first, in the driver's own band, and confirm which driver spoke; an "
            "active tweeter keeps its series capacitor", (("limit", FIRST_SOUND_DB, "dB"),)),
        sources=(PRACTICE,),
    )  # fmt: skip


def hearing(length_s: float, spl_dba: float | None = None) -> Check:
    """What to say of hearing before tones and sweeps are played.

    Allowed time by NIOSH 98-126 (1998): 8 h at 85 dBA, half as long for each 3 dB more.

    `spl_dba`, dB: A-weighted level at the ear, if anyone knows it.
    """
    remedy = Message(
        "begin with the volume low, leave the car or wear ear protection, and keep children and animals out"
    )
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
