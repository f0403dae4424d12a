"""What is played and what a recording of it says, for the faces: signals with their description, readings as JSON."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.assess.sound.results import BANDS
from backwave.errors import InputError
from backwave.finding import Check
from backwave.measure import TakeRead, describe, plan_take, take_signal
from backwave.measure.analysis import Response
from backwave.measure.distortion import check_overload
from backwave.measure.rattle import Buzz, quieter, spots
from backwave.measure.recording import Recording, read_recording
from backwave.measure.sweep import Sweep
from backwave.measure.test_signals import (
    FIRST_SOUND_DB,
    channel_beeps,
    first_sound,
    hearing,
    level_tone,
    pink_noise,
    polarity_pulses,
)

if TYPE_CHECKING:
    from backwave.drawing import Chart

__all__ = [
    "DRIVERS_HZ",
    "KINDS",
    "Buzz",
    "Recording",
    "Signal",
    "TakeRead",
    "band_means",
    "breaking",
    "quieter",
    "read_recording",
    "reading_chart",
    "reading_json",
    "signal_of",
    "spots",
]

KINDS = {
    "response": "a sweep of each output alone, then all of them, between two pilots",
    "rattle": "a slow sweep of the bass, for hunting rattles",
    "jig": "a sweep of one output from 8 Hz, for a driver's impedance at a headphone output",
    "beeps": "beeps that say which output this is, to be heard first",
    "noise": "pink noise on every output",
    "polarity": "pulses that push a woofer's cone outward where its polarity is right",
    "tone": "a steady tone for setting a gain",
}
"""What can be written."""
BASS = ("rattle", "polarity")
"""Signals that are nothing but bass."""
DRIVERS_HZ: dict[str, tuple[float, float]] = {
    "unknown": (300.0, 3000.0), "subwoofer": (20.0, 200.0), "woofer": (50.0, 3000.0), "midrange": (200.0, 8000.0),
    "tweeter": (2500.0, 20000.0), "coaxial": (80.0, 16000.0),
}  # fmt: skip
"""Bands that a first sound is limited to, by the driver that should be there (common trade practice)."""


@dataclass(frozen=True, eq=False)
class Signal:
    """What is played, with what is known of it.

    Parameters
    ----------
    samples : (n, n_outputs) float, no unit
        Against full scale.
    rate_hz : int, Hz
        Of the file.
    description : dict, no unit
        To be written beside it: `read` needs it.
    checks : tuple of Check, no unit
        The gates on the first sound and on hearing.
    """

    samples: NDArray[np.float64]
    rate_hz: int
    description: dict[str, Any]
    checks: tuple[Check, ...]


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

    Parameters
    ----------
    kind : str, no unit
        One of `KINDS`.
    rate_hz : int, Hz
        44100 or 48000.
    outputs : tuple of str, no unit
        Names of the file's channels.
    level_db : float, dB
        Peak against full scale (rms for noise).
    identified : bool, no unit
        The drivers were confirmed by ear.
    band_hz : (float, float) or None, Hz
        Range; None is the driver's, 20 Hz to 20 kHz where that is not said, 20 to 300 Hz for rattles.  Before the
        drivers are confirmed it is held within the driver's.
    length_s : float or None, s
        Of each sweep, or of the whole; None is 10, 60 for rattles, 30 for noise.
    tone_hz : float, Hz
        Of the tone.
    driver : str, no unit
        What should be on these outputs, one of `DRIVERS_HZ`; "" is unknown.

    Raises
    ------
    InputError
        An unknown kind, or a number that cannot be.
    """
    if kind not in KINDS:
        raise InputError("kind of signal", kind, ", ".join(KINDS))
    asked = level_db
    if driver not in ("", *DRIVERS_HZ):
        raise InputError("driver on these outputs", driver, ", ".join(DRIVERS_HZ))
    low, high = band_hz or DRIVERS_HZ.get(driver, (20.0, 20000.0))
    if kind == "rattle":
        low, high = band_hz or (20.0, 300.0)
    elif kind == "jig":  # a driver on the bench, at a headphone output: no channel that nobody knows
        outputs, identified, (low, high) = outputs[:1], True, band_hz or (8.0, 8000.0)
    if not identified:
        if kind in BASS:
            raise InputError(
                f"{kind} on outputs that nobody has confirmed", "bass into what may be a tweeter",
                "the beeps first, at -40 dB; when you have heard which driver speaks on each output: --identified",
            )  # fmt: skip
        level_db = min(level_db, FIRST_SOUND_DB)
        own = DRIVERS_HZ[driver or "unknown"]
        low, high = max(low, own[0]), min(high, own[1])
        if low >= high:
            raise InputError(
                "band of a first sound", f"{low:g} to {high:g} Hz", f"within {own[0]:g} to {own[1]:g} Hz"
            )
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
        samples = channel_beeps(rate_hz, ((max(low, 300.0), min(high, 3000.0)),) * len(outputs), level_db)
    else:
        if kind == "noise":
            one = pink_noise(rate_hz, length_s or 30.0, min(level_db, -12.0), (low, high))
        elif kind == "polarity":
            one = polarity_pulses(rate_hz, level_db=level_db)
        else:
            one = level_tone(rate_hz, tone_hz, length_s or 10.0, level_db)
            record["tone_hz"] = tone_hz
        samples = np.repeat(one[:, None], len(outputs), axis=1)
    first = first_sound(asked, identified)
    if not identified and asked > FIRST_SOUND_DB:
        # it was not written so loud: what would be a stop is kept to a word
        first = replace(first, verdict="caution")
    return Signal(samples, rate_hz, record, (first, hearing(len(samples) / rate_hz)))


def reading_json(
    made: TakeRead, channel: str = "", buzz: Buzz | None = None, periods: float | None = None
) -> dict[str, Any]:
    """The document of `read --json`: one output's keys at the top, all of them under `channels`.

    Parameters
    ----------
    made : TakeRead, no unit
        What was read.
    channel : str, no unit
        Which output stands at the top; "" is the first that sounded.
    buzz : Buzz or None, no unit
        What rattled, of a slow sweep.
    periods : float or None, no unit
        Also the level through a window so many periods long at each frequency; None: without.

    Raises
    ------
    InputError
        No such output in the take.
    """
    named = {one.name: one for one in made.responses}
    if channel and channel not in named:
        raise InputError("output", channel, ", ".join(named))
    ppm = made.clock.ppm
    rows = {name: _response(one, ppm) for name, one in named.items()}
    if periods is not None:
        for name, one in named.items():
            rows[name]["windowed_db"] = _list(one.gated_db(periods))
    document = {**rows[channel or next(iter(rows))], "channels": rows}
    if buzz is not None:
        document["rattle"] = {
            "f_hz": _list(buzz.f_hz), "t_s": _list(buzz.t_s), "index_db": _list(buzz.index_db),
            "spots": [
                {
                    "from_hz": round(s.low_hz, 1), "to_hz": round(s.high_hz, 1), "worst_hz": round(s.worst_hz, 1),
                    "index_db": round(s.index_db, 1), "from_s": round(s.from_s, 2), "to_s": round(s.to_s, 2),
                }
                for s in spots(buzz)
            ],
        }  # fmt: skip
    return document


def _response(one: Response, ppm: float) -> dict[str, Any]:
    d = one.distortion
    order = {m: d.levels_db[k] for k, m in enumerate(d.orders)}
    return {
        "output": one.name,
        "f_hz": _list(one.f_hz, 3),
        "magnitude_db": _list(one.magnitude_db),
        "phase_deg": _list(one.phase_deg, 1),
        "delay_s": one.delay_s,
        "clock_ppm": round(ppm, 4),
        "polarity": one.polarity,
        "distortion": {
            "f_hz": _list(d.f_hz, 3),
            "h2_db": _list(order[2]),
            "h3_db": _list(order[3]),
            "thd_db": _list(d.thd_db),
        },
        "snr_db": _list(one.snr_db),
        "decay": [{"f_hz": round(f, 1), "t60_s": None if t is None else round(t, 3)} for f, t in one.decay],
    }


def _list(values: Any, places: int = 2) -> list[float | None]:
    return [round(float(v), places) if np.isfinite(v) else None for v in values]


def band_means(made: TakeRead) -> tuple[tuple[str, ...], list[tuple[float | None, ...]]]:
    """Mean level of each output by band; None where the sweep did not reach.

    Parameters
    ----------
    made : TakeRead, no unit
        What was read.

    Returns
    -------
    (names of the bands, one row an output), dB
    """
    rows = []
    for one in made.responses:
        levels: list[float | None] = []
        for _, low, high in BANDS:
            inside = (one.f_hz >= low) & (one.f_hz <= high)
            levels.append(float(one.magnitude_db[inside].mean()) if inside.sum() > 4 else None)
        rows.append(tuple(levels))
    return tuple(name for name, _, _ in BANDS), rows


def breaking(made: TakeRead) -> tuple[Check, ...]:
    """Where each output of a take breaks up.

    Parameters
    ----------
    made : TakeRead, no unit
        What was read.
    """
    return tuple(check for one in made.responses for check in check_overload(one.name, one.distortion))


def reading_chart(made: TakeRead, periods: float | None = None) -> Chart:
    """Responses of a take, smoothed to a sixth of an octave.

    Parameters
    ----------
    made : TakeRead, no unit
        What was read.
    periods : float or None, no unit
        Through a window so many periods long at each frequency instead: early sound without late reflections.
    """
    from backwave.drawing import Chart, Series

    lines = tuple(
        Series(one.name, one.f_hz, one.smoothed_db(6) if periods is None else one.gated_db(periods), look=k)
        for k, one in enumerate(made.responses)
    )
    how = "a sixth of an octave" if periods is None else f"{periods:g} periods after the arrival"
    top = 10.0 * ceil(max(float(np.nanmax(np.asarray(line.value))) for line in lines) / 10)
    return Chart(
        "What was recorded", f"{how}; relative unless the microphone is calibrated", "dB", lines,
        low=top - 60.0, high=top,
    )  # fmt: skip
