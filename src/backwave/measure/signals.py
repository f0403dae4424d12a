"""What is played for a measurement, with its description: nothing loud before a driver is known by ear."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import Check
from backwave.measure.sweep import Sweep, describe, plan_take, take_signal
from backwave.measure.test_signals import (
    FIRST_SOUND_DB,
    channel_beeps,
    first_sound,
    hearing,
    level_tone,
    pink_noise,
    polarity_pulses,
)

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


@dataclass(frozen=True, eq=False)
class Signal:
    """What is played, with what is known of it."""

    samples: NDArray[np.float64]  # (n, n_outputs) 1, against full scale
    rate_hz: int
    description: dict[str, Any]  # to be written beside it: `read` needs it
    checks: tuple[Check, ...]  # the gates on the first sound and on hearing


def signal_of(
    kind: str,
    rate_hz: int = 48000,
    outputs: tuple[str, ...] = ("left", "right"),
    level_db: float = -12.0,
    identified: bool = False,
    band_hz: tuple[float, float] | None = None,
    length_s: float | None = None,
    tone_hz: float = 315.0,
    driver: str = "",
) -> Signal:
    """A signal to play; not above -40 dB before somebody has confirmed which driver speaks on each output.

    `level_db`: peak against full scale (rms for noise); `band_hz` (float, float): range; None is the driver's, 20
    Hz to 20 kHz where that is not said, 20 to 300 Hz for rattles.  Before the drivers are confirmed it is held
    within the driver's.; `length_s`: of each sweep, or of the whole; None is 10, 60 for rattles, 30 for noise;
    `driver`: what should be on these outputs, one of `DRIVERS_HZ`; "" is unknown; InputError: an unknown kind, or
    a number that cannot be.
    """
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
    if not identified and kind == "jig":  # the same sweep, as quiet as any first sound
        level_db = min(level_db, FIRST_SOUND_DB)
    elif not identified:
        if kind in BASS:
            raise InputError(
                f"{kind} on outputs that nobody has confirmed", "bass into what may be a tweeter",
                "the beeps first, at -40 dB; when you have heard which driver speaks on each output: --identified",
            )  # fmt: skip
        level_db = min(level_db, FIRST_SOUND_DB)
        own = DRIVERS_HZ[driver or "unknown"]
        low, high = max(low, own[0]), min(high, own[1])
        if low >= high:
            raise InputError("band of a first sound", f"{low:g} to {high:g} Hz", f"within {own[0]:g} to {own[1]:g} Hz")
        if kind == "tone":
            tone_hz = min(max(tone_hz, own[0]), own[1])
    record: dict[str, Any] = {
        "format": 1,
        "kind": kind,
        "rate_hz": rate_hz,
        "outputs": list(outputs),
        "level_db": level_db,
    }
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
