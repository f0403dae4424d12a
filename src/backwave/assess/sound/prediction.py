"""The predictions of a job, whole: every stage, what each thing is worth, every finding; as JSON and as charts.

What is worth what: stage against stage, ring, high-pass, polarity, network; each difference with its own band."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np

from backwave.assess.inputs.enclosures import WhatIf
from backwave.assess.job_findings import names_of
from backwave.assess.sound.engine import SoundEngine, play, turned
from backwave.assess.sound.findings import stage_findings
from backwave.assess.sound.results import (
    AUDIBLE,
    BANDS,
    DRIVE_V,
    F_HZ,
    Comparison,
    PlayedStage,
    Prediction,
    listed,
    volume_db,
)
from backwave.finding import Message, words
from backwave.job.signal_chain import StageTable
from backwave.network.element import Real
from backwave.notation.crossover import Branch, CrossoverPart
from backwave.plain_text import file_stem
from backwave.sound.stage import BandDifference, Difference, Relief, Voice, band_difference, difference, relief
from backwave.units import convert

if TYPE_CHECKING:
    from backwave.drawing.chart import Chart


def comparisons(engine: SoundEngine, played: tuple[PlayedStage, ...]) -> Iterator[Comparison]:
    """Every comparison that a job's stages call for."""
    stages = {stage.id: stage for stage in engine.job.file.stage}
    for before, after in pairwise(played):
        yield _against(before, after)
    ringed = [one for one in played if any(path.ringed for channel in one.plan for path in channel.paths)]
    for one in dict.fromkeys((*ringed[:1], *ringed[-1:])):  # what lies between is like one of them
        yield _worth(engine, stages[one.id], one, WhatIf(ring=False), "ring", "what the foam ring is worth")
    for one in played:
        if any(f.kind == "high-pass" for channel in one.plan for f in channel.chain.filters):
            what_if = WhatIf(high_pass=False)
            yield _worth(engine, stages[one.id], one, what_if, "high-pass", "what the high-pass relieves")
    told: set[tuple[str, tuple[Branch, ...]]] = set()
    for one in played:
        yield from _capacitor(engine, stages[one.id], one, told)
    for one in played:
        for label, found in turned(engine, stages[one.id], one):
            title = Message("{stage}: {path} turned round", (("stage", one.title, ""), ("path", label, "")))
            meets = (("where it meets the next", found),)
            yield Comparison(f"polarity@{one.id}.{label}", "polarity", title, one.id, one.id, None, meets)


def _against(before: PlayedStage, after: PlayedStage) -> Comparison:
    title = Message("{after}, against {before}", (("after", after.title, ""), ("before", before.title, "")))
    return Comparison(
        f"stage@{after.id}", "stage", title, before.id, after.id, *_levels(before, after), _reliefs(before, after)
    )


def _worth(
    engine: SoundEngine, stage: StageTable, one: PlayedStage, what_if: WhatIf, kind: str, title: str,
    names: tuple[tuple[str, str | float, str], ...] = (), of: str = "",
) -> Comparison:  # fmt: skip
    """A stage that plays, less the same with one thing otherwise."""
    other = play(engine, stage, what_if)
    assert other is not None
    said = Message("{stage}: " + title, (("stage", one.title, ""), *names))
    reliefs = _reliefs(other, one) if kind == "high-pass" else ()
    return Comparison(f"{kind}@{one.id}{of}", kind, said, one.id, one.id, *_levels(other, one), reliefs)


def _capacitor(
    engine: SoundEngine, stage: StageTable, one: PlayedStage, told: set[tuple[str, tuple[Branch, ...]]]
) -> Iterator[Comparison]:
    """The factory tweeter's one capacitor in place of the new network; each network once."""
    paths = {p.label: p for c in one.plan for p in c.paths if p.load.passive}
    for label, path in paths.items():
        seen, place = (label, path.load.passive), engine.here.get(path.subject)
        factory = None if place is None else place.opening.factory
        if place is None or factory is None or factory.capacitor is None:
            continue
        farad, opening = factory.capacitor.to("F"), place.opening
        bare = (Branch("series", CrossoverPart("C", farad)),)
        if path.load.passive == bare or seen in told:
            continue
        told.add(seen)
        yield _worth(
            engine, stage, one, WhatIf(networks=((label, bare),)), "network",
            "the new network on {place}, against the factory's {c} alone",
            (("place", opening.name or opening.id, ""), ("c", farad * 1e6, "uF")), f".{opening.id}",
        )  # fmt: skip


def _levels(before: PlayedStage, after: PlayedStage) -> tuple[Difference, tuple[tuple[str, BandDifference], ...]]:
    bands = tuple((name, band_difference(before.levels, after.levels, low, high)) for name, low, high in BANDS)
    return difference(before.levels, after.levels), bands


def _reliefs(before: PlayedStage, after: PlayedStage) -> tuple[tuple[str, Relief], ...]:
    """Drivers that both have, for the same drive."""

    def moved(played: PlayedStage, voice: Voice) -> Real:
        drive = np.abs(played.drives[voice.channel])
        return played.channels[voice.channel].loads[voice.load].excursion * drive

    first = {voice.name: moved(before, voice) for voice in before.voices}
    own = [(voice.name, moved(after, voice)) for voice in after.voices if voice.name in first]
    return tuple((name, relief(F_HZ, first[name], travel)) for name, travel in own)


def prediction(engine: SoundEngine) -> Prediction:
    """Play every stage as the job has it."""
    played = []
    findings = list(engine.findings)
    for stage in engine.job.file.stage:
        one = play(engine, stage)
        if one is not None:
            played.append(one)
            findings += stage_findings(engine, stage, one)
    return Prediction(engine.cabin, tuple(played), tuple(findings), names_of(engine.job, engine.here))


def compared(engine: SoundEngine, made: Prediction) -> Prediction:
    """A prediction with what each thing is worth."""
    return replace(made, comparisons=tuple(comparisons(engine, made.stages)))


def prediction_json(made: Prediction) -> dict[str, Any]:
    """The document of `predict --json`."""
    return {
        "stages": [_stage(made, one) for one in made.stages],
        "comparisons": [_comparison(one, made.cabin.seats) for one in made.worth],
    }


def _stage(made: Prediction, one: PlayedStage) -> dict[str, Any]:
    levels, f = one.levels, listed(F_HZ, 3)
    return {
        "id": one.id, "title": one.title, "f_hz": f, "drive_v": DRIVE_V,
        "seats": {
            seat: {
                "spl_db": listed(levels.level[k]), "low_db": listed(levels.low[k]), "high_db": listed(levels.high[k]),
                "loudest_db": listed(levels.level[k] + one.loud.gain_db),
                "loudest_engine_off_db": listed(levels.level[k] + one.loud_off.gain_db),
            }
            for k, seat in enumerate(made.cabin.seats)
        },
        "beyond_model": [bool(b) for b in levels.beyond],
        "paths": [_path(one, voice, made.cabin.seats) for voice in one.voices],
        "channels": [
            {
                "source": c.source, "channel": c.channel, "side": c.side,
                "impedance_ohm": listed(np.abs(solved.z), 3), "phase_deg": listed(np.degrees(np.angle(solved.z))),
                "least_ohm": round(float(np.abs(solved.z[AUDIBLE]).min()), 3), "clip_v": round(c.outputs.on.clip_v, 3),
            }
            for c, solved in zip(one.plan, one.channels, strict=True)
        ],
        "limit": [
            {"f_hz": f[k], "path": name, "cause": cause}
            for k, (name, cause) in enumerate(zip(one.loud.voice, one.loud.cause, strict=True))
        ],
        "volume_db": round(volume_db(one), 2),
    }  # fmt: skip


def _path(one: PlayedStage, voice: Voice, seats: tuple[str, ...]) -> dict[str, Any]:
    path, load = one.path(voice), one.channels[voice.channel].loads[voice.load]
    drive = np.abs(one.drives[voice.channel])
    return {
        "id": voice.name, "opening": path.path.opening, "box": path.path.box, "side": path.side,
        "speaker": path.path.speaker, "excursion_mm": listed(load.excursion * drive * 1e3, 5),
        "current_a": listed(load.current * drive, 5),
        "port_speed_m_s": None if load.port_speed is None else listed(load.port_speed * drive, 4),
        "alone_db": {seat: listed(one.levels.alone[voice.name][k]) for k, seat in enumerate(seats)},
    }  # fmt: skip


def _comparison(one: Comparison, seats: tuple[str, ...]) -> dict[str, Any]:
    curve = one.curve
    return {
        "id": one.id, "kind": one.kind, "title": words(one.title), "before": one.before, "after": one.after,
        "bands": [
            {
                "band": name, "from_hz": b.low_hz, "to_hz": b.high_hz,
                "difference_db": round(b.delta, 2), "low_db": round(b.low, 2), "high_db": round(b.high, 2),
            }
            for name, b in one.bands
        ],
        "reliefs": [
            {
                "path": name, "before_mm": round(r.before_mm, 4), "after_mm": round(r.after_mm, 4),
                "at_hz": round(r.at_hz, 1), "relief_db": round(r.db, 2),
            }
            for name, r in one.reliefs
        ],
        "seats": {} if curve is None else {
            seat: {
                "difference_db": listed(curve.delta[k]), "low_db": listed(curve.low[k]),
                "high_db": listed(curve.high[k]),
            }
            for k, seat in enumerate(seats)
        },
    }  # fmt: skip


def band_levels(made: Prediction) -> tuple[tuple[str, ...], list[tuple[str, list[tuple[float, float]], float, str]]]:
    """Names of the bands, and of each stage its title, level and half of the 95 % band at the first seat by band, the
    loudest in the mid-bass, and what holds it back there; dB."""
    rows = []
    for one in made.stages:
        cells = []
        for _, low, high in BANDS:
            inside = (low <= F_HZ) & (high >= F_HZ)
            wide = (one.levels.high[0, inside] - one.levels.low[0, inside]).mean() / 2
            cells.append((float(one.levels.level[0, inside].mean()), float(wide)))
        inside = (BANDS[1][1] <= F_HZ) & (BANDS[1][2] >= F_HZ)
        loud = one.levels.level[0] + one.loud.gain_db
        causes = [f"{one.loud.cause[k]}, {one.loud.voice[k]}" for k in np.flatnonzero(inside)]
        rows.append((one.title, cells, float(loud[inside].mean()), max(set(causes), key=causes.count)))
    return tuple(name for name, _, _ in BANDS), rows


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


SAYS_DB = 20.0  # a band of 95 % wider than that says nothing that a listener would not guess (from memory)


def unsaid(made: Prediction, seat: int = 0) -> dict[str, float]:
    """Stages of which nothing can be said: id, and how wide their band of 95 % is where their level is predicted, dB."""
    found = {}
    for one in made.stages:
        known = AUDIBLE & ~one.levels.beyond
        wide = one.levels.high[seat] - one.levels.low[seat]
        half = float(np.median(wide[known] if known.any() else wide[AUDIBLE]))
        if half > SAYS_DB:
            found[one.id] = half
    return found


def response_chart(made: Prediction, seat: int = 0) -> Chart:
    """Response at a seat, a line and a band for each stage of which something can be said."""
    from backwave.drawing.chart import Chart, Series

    silent = unsaid(made, seat)
    top = 10 * ceil(max(one.levels.high[seat, AUDIBLE].max() for one in made.stages) / 10)
    lines = [
        Series(
            one.title, F_HZ, np.where(one.levels.beyond, np.nan, one.levels.level[seat]), one.levels.low[seat],
            one.levels.high[seat], n,
        )
        for n, one in enumerate(made.stages) if one.id not in silent
    ]  # fmt: skip
    return Chart(
        f"Response at the {made.cabin.seats[seat]} seat, stage by stage",
        f"at {DRIVE_V:g} V on every channel; band: 95 %, and no line where only the band is known", "dB",
        tuple(lines), low=top - 60.0, high=float(top),
    )  # fmt: skip


def loudest_chart(made: Prediction, seat: int = 0) -> Chart:
    """The loudest that each stage goes at a seat."""
    from backwave.drawing.chart import Chart, Series

    silent = unsaid(made, seat)
    loud = [one.levels.level[seat] + one.loud.gain_db for one in made.stages]
    top = 10 * ceil(max(line[AUDIBLE].max() for line in loud) / 10)
    return Chart(
        f"Loudest at the {made.cabin.seats[seat]} seat, stage by stage",
        "a sine at a time, one volume for all of a stage, up to the first limit: clipping, excursion, heat", "dB",
        tuple(
            Series(one.title, F_HZ, line, look=n) for n, (one, line) in enumerate(zip(made.stages, loud, strict=True))
            if one.id not in silent
        ),
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
    reach = min(max(float(np.abs(np.concatenate([low[AUDIBLE], high[AUDIBLE]])).max()), 5.0), 25.0)
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
