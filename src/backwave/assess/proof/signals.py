"""What is played and what a recording of it says, for the faces: signals with their description, readings as JSON."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np

from backwave.assess.sound.results import BANDS
from backwave.errors import InputError
from backwave.finding import Check
from backwave.measure import TakeRead
from backwave.measure.analysis import Response
from backwave.measure.distortion import check_overload
from backwave.measure.rattle import Buzz
from backwave.measure.rattle import quieter as quieter
from backwave.measure.rattle import spots as spots
from backwave.measure.recording import read_recording as read_recording
from backwave.measure.signals import signal_of as signal_of

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart


def reading_json(
    made: TakeRead, channel: str = "", buzz: Buzz | None = None, periods: float | None = None
) -> dict[str, Any]:
    """The document of `read --json`: one output's keys at the top, all of them under `channels`.

    `periods`: also the level through a window so many periods long at each frequency; None: without; InputError:
    no such output in the take.
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

    Returns (names of the bands, one row an output) dB.
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
    """Where each output of a take breaks up."""
    return tuple(check for one in made.responses for check in check_overload(one.name, one.distortion))


def reading_chart(made: TakeRead, periods: float | None = None) -> Chart:
    """Responses of a take, smoothed to a sixth of an octave.

    `periods`: through a window so many periods long at each frequency instead: early sound without late
    reflections.
    """
    from backwave.drawing.chart import Chart, Series

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
