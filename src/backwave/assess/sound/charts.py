"""The predictions as charts: response, loudest, excursion, impedance, what each thing is worth."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from backwave.assess.sound.results import DRIVE_V, F_HZ, Comparison, PlayedStage, Prediction, volume_db
from backwave.finding import words
from backwave.plain_text import file_stem
from backwave.units import convert

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart

_SHOWN = (F_HZ >= 20) & (F_HZ <= 20000)


def charts(made: Prediction, system: str = "metric") -> dict[str, Chart]:
    """The charts of a job, by file name without its ending; with its comparisons where they are worked out."""
    found: dict[str, Chart] = {}
    for k, seat in enumerate(made.cabin.seats):
        found[f"response-{file_name(seat)}"] = response_chart(made, k)
        found[f"loudest-{file_name(seat)}"] = loudest_chart(made, k)
    for one in made.stages:
        found[f"excursion-{file_name(one.id)}"] = excursion_chart(made, one, system)
        found[f"impedance-{file_name(one.id)}"] = impedance_chart(one)
    for worth in (one for one in made.comparisons or () if one.curve is not None):
        found["worth-" + file_name(worth.id)] = worth_chart(made, worth)
    return found


def response_chart(made: Prediction, seat: int = 0) -> Chart:
    """Response at a seat, a line and a band for each stage."""
    from backwave.drawing.chart import Chart, Series

    top = 10 * ceil(max(one.levels.high[seat, _SHOWN].max() for one in made.stages) / 10)
    lines = [
        Series(
            one.title, F_HZ, np.where(one.levels.beyond, np.nan, one.levels.level[seat]), one.levels.low[seat],
            one.levels.high[seat], n,
        )
        for n, one in enumerate(made.stages)
    ]  # fmt: skip
    return Chart(
        f"Response at the {made.cabin.seats[seat]} seat, stage by stage",
        f"at {DRIVE_V:g} V on every channel; band: 95 %, and no line where only the band is known", "dB",
        tuple(lines), low=top - 60.0, high=float(top),
    )  # fmt: skip


def loudest_chart(made: Prediction, seat: int = 0) -> Chart:
    """The loudest that each stage goes at a seat."""
    from backwave.drawing.chart import Chart, Series

    loud = [one.levels.level[seat] + one.loud.gain_db for one in made.stages]
    top = 10 * ceil(max(line[_SHOWN].max() for line in loud) / 10)
    return Chart(
        f"Loudest at the {made.cabin.seats[seat]} seat, stage by stage",
        "a sine at a time, one volume for all of a stage, up to the first limit: clipping, excursion, heat", "dB",
        tuple(Series(one.title, F_HZ, line, look=n) for n, (one, line) in enumerate(zip(made.stages, loud, strict=True))),
        low=top - 60.0, high=float(top),
    )  # fmt: skip


def excursion_chart(made: Prediction, one: PlayedStage, system: str = "metric") -> Chart:
    """Excursion of every driver but tweeters, at the level asked."""
    from backwave.drawing.chart import Chart, Series

    unit = "in" if system == "us" else "mm"
    gain = 10 ** (volume_db(one) / 20)
    lines: list[tuple[str, str, np.ndarray]] = []
    for voice in one.voices:
        path, load = one.path(voice), one.channels[voice.channel].loads[voice.load]
        if path.load.unit.kind == "tweeter":
            continue
        moved = load.excursion * np.abs(one.drives[voice.channel]) * gain * convert(1.0, "m", unit)
        if not any(np.allclose(moved, other) for *_, other in lines):  # both doors of a pair are one line
            lines.append((spoken(path.path.opening or path.path.box or ""), path.side, moved))
    return Chart(
        f"{one.title}: excursion",
        f"one way, where the seat hears {one.level_db:g} dB from 200 Hz to 2 kHz, a sine at each frequency",
        unit, tuple(Series(name, F_HZ, line, look=n) for n, (name, line) in enumerate(_told_apart(lines))),
        high_hz=1000.0, low=0.0,
    )  # fmt: skip


def impedance_chart(one: PlayedStage) -> Chart:
    """What each output of a stage sees."""
    from backwave.drawing.chart import Chart, Series

    lines: list[tuple[str, str, np.ndarray]] = []
    for channel, solved in zip(one.plan, one.channels, strict=True):
        ohm = np.abs(solved.z)
        if not any(np.allclose(ohm, other) for *_, other in lines):
            lines.append((" ".join((spoken(channel.source), channel.channel)), channel.side, ohm))
    top = 5 * ceil(min(max(float(np.percentile(ohm, 99)) for *_, ohm in lines) * 1.1, 60.0) / 5)
    return Chart(
        f"{one.title}: what each output sees", "magnitude of the impedance", "ohm",
        tuple(Series(name, F_HZ, line, look=n) for n, (name, line) in enumerate(_told_apart(lines))), low=0.0,
        high=float(top),
    )  # fmt: skip


def worth_chart(made: Prediction, one: Comparison) -> Chart:
    """A difference with its own band, at the first seat."""
    from backwave.drawing.chart import Chart, Series

    assert one.curve is not None
    delta, low, high = one.curve.delta[0], one.curve.low[0], one.curve.high[0]
    reach = min(max(float(np.abs(np.concatenate([low[_SHOWN], high[_SHOWN]])).max()), 5.0), 25.0)
    end = 5.0 * ceil(reach / 5)
    return Chart(
        words(one.title) or "", f"difference at the {made.cabin.seats[0]} seat, with its own band of 95 %", "dB",
        (Series("difference", F_HZ, delta, low, high),), low=-end, high=end,
    )  # fmt: skip


def _told_apart(lines: list[tuple[str, str, np.ndarray]]) -> list[tuple[str, np.ndarray]]:
    """Lines by name; those of one name with their side."""
    names = [name for name, *_ in lines]
    return [(f"{name}, {side}" if side and names.count(name) > 1 else name, line) for name, side, line in lines]


def spoken(name: str) -> str:
    """An id as a person says it: "front-door" is "Front door"."""
    return name.replace("-", " ").replace("_", " ").capitalize()


def file_name(name: str) -> str:
    """A name as part of a file's: what parts it stands as a dash, too long a one is cut."""
    return file_stem("".join(c if c.isalnum() or c in "-_" else "-" for c in name).strip("-"))
