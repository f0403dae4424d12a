"""What a stage's drivers stand on each output, and the findings of the predictions at every stage, with their subject."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from math import inf

import numpy as np

from backwave.assess.inputs.factory import plug_farads
from backwave.assess.sound.engine import SoundEngine, turned
from backwave.assess.sound.results import AUDIBLE, F_HZ, PlannedChannel, PlannedPath, PlayedStage, volume_db
from backwave.errors import InputError
from backwave.finding import Check, Finding, check_of
from backwave.job.signal_chain import StageTable
from backwave.network.element import Real
from backwave.notation.crossover import corner_hz
from backwave.power.gain import TONE_BANDS, DriverOnChannel, program_share
from backwave.power.harness import blocks_bass, series_farad
from backwave.sound.box import closed_box
from backwave.sound.checks import (
    AtClip,
    box_check,
    clip_check,
    excursion_check,
    filter_holds,
    load_check,
    polarity_check,
    port_check,
    tweeter_check,
)
from backwave.sound.driver import Unit
from backwave.sound.output_network import ChannelResponse, LoadResponse

MAX_VOLUME_DB = 300.0  # above the reference drive; far beyond what anything takes, and numbers still hold it


def filters_gain(channel: PlannedChannel) -> Real:
    """Size of an output's filters: what passes bands as it is, a peak or shelf only where it lifts (no unit)."""
    size = np.ones(len(F_HZ))
    for one in channel.chain.filters:
        own = np.abs(one.response(F_HZ))
        size = size * (own if one.kind in ("high-pass", "low-pass") else np.maximum(own, 1.0))
    return size


# the outputs of a stage, each laid out and solved for one volt
Solved = tuple[tuple[PlannedChannel, ChannelResponse], ...]


def channel_drivers(stages: Iterable[Solved]) -> Mapping[str, tuple[DriverOnChannel, ...]]:
    """The drivers on each output, by "source.channel" of the last stage that uses it: of two alike, the one in more need."""
    found: dict[str, tuple[DriverOnChannel, ...]] = {}
    for stage in stages:
        here: dict[str, dict[str, DriverOnChannel]] = {}
        for channel, solved in stage:
            drivers = here.setdefault(f"{channel.source}.{channel.channel}", {})
            gain = filters_gain(channel)
            bass = all(p.load.unit.kind == "subwoofer" for p in channel.paths)
            for path, load in zip(channel.paths, solved.loads, strict=True):
                made = _driver(path.path.speaker, path.load.unit, load, gain, TONE_BANDS["bass" if bass else "full"])
                drivers[made.name] = _worse(made, drivers.get(made.name, made))
        found |= {name: tuple(drivers.values()) for name, drivers in here.items()}
    return found


def _driver(name: str, unit: Unit, load: LoadResponse, gain: Real, band: tuple[float, float]) -> DriverOnChannel:
    volts = np.abs(load.volts) * gain
    within = (band[0] <= F_HZ) & (band[1] >= F_HZ)
    share = program_share(F_HZ, volts) if unit.kind == "tweeter" else float(volts[AUDIBLE].max())
    travel = float((load.excursion * gain)[within].max()) * 1e3
    return DriverOnChannel(name, unit.nominal_ohm, unit.power_w, share, unit.x_max_mm, travel)


def _worse(one: DriverOnChannel, other: DriverOnChannel) -> DriverOnChannel:
    travel = max(one.mm_per_v or 0.0, other.mm_per_v or 0.0)
    return replace(one, share=max(one.share, other.share), mm_per_v=travel)


def tweeter_at_clip(channel: PlannedChannel, path: PlannedPath, load: LoadResponse) -> AtClip:
    """A tweeter while its output clips, behind its filters and parts."""
    unit, clip_v, gain = path.load.unit, channel.outputs.on.clip_v, filters_gain(channel)
    volts = program_share(F_HZ, np.abs(load.volts) * gain) * clip_v
    travel = 1e3 * clip_v * float((load.excursion * gain)[AUDIBLE].max())
    return AtClip(travel, unit.x_max_mm, volts**2 / unit.nominal_ohm, unit.power_w)


def guarded_tweeters(stage: Solved) -> Mapping[tuple[str, str], bool]:
    """For each (place, tweeter) of a stage whether its active high-pass alone keeps it whole."""
    found = {}
    for channel, solved in stage:
        for path, load in zip(channel.paths, solved.loads, strict=True):
            if path.load.unit.kind == "tweeter":
                at_clip = tweeter_at_clip(channel, path, load)
                corner = corner_hz(path.path.filters)
                found[path.subject, path.path.speaker] = filter_holds(path.load.unit.driver.fs, corner, at_clip)
    return found


def stage_findings(engine: SoundEngine, stage: StageTable, played: PlayedStage) -> Iterator[Finding]:
    """What one stage finds."""
    volume = volume_db(played)
    if not abs(volume) <= MAX_VOLUME_DB:
        raise InputError(f"level of {stage.id}", str(stage.level), "a level that can be played, such as 95 dB")
    gain = 10 ** (volume / 20)
    yield from _twice(stage, played)
    joined = _joined(engine, played)
    for n, (channel, drive) in enumerate(zip(played.plan, played.drives, strict=True)):
        part = "-".join(channel.name.split())
        one = joined.get(n, [n])  # both sides on one pair of terminals are in parallel
        paths = [p for m in one for p in played.plan[m].paths]
        rated = [p.load.unit.rated_ohm for p in paths if not any(map(blocks_bass, p.load.passive))]
        together = 1 / sum(1 / r for r in rated if r is not None) if rated and None not in rated else None
        seen = 1 / sum(1 / played.channels[m].z for m in one)
        check = load_check(F_HZ, np.abs(seen), together, channel.outputs.on.lowest_load, part)
        if check is not None:
            yield Finding(check, stage.id)
        clips = clip_check(F_HZ, np.abs(drive) * gain, channel.outputs.on.clip_v, played.level_db, part)
        yield Finding(clips, stage.id)
    for voice in played.voices:
        path, load = played.path(voice), played.channels[voice.channel].loads[voice.load]
        volts, unit, part = np.abs(played.drives[voice.channel]) * gain, path.load.unit, voice.name.replace("/", "-")
        if unit.x_max is not None and unit.kind != "tweeter":
            yield Finding(excursion_check(F_HZ, load.excursion * volts, unit.x_max, played.level_db, part), stage.id)
        if load.port_speed is not None:
            yield Finding(port_check(F_HZ, load.port_speed * volts, part), stage.id)
    yield from _tweeters(engine, stage, played)
    for label, difference in turned(engine, stage, played):
        yield Finding(polarity_check(difference, label.replace("/", "-")), stage.id)
    for box in engine.job.file.box:
        inside = next((p.load.unit for c in played.plan for p in c.paths if p.path.box == box.id), None)
        if inside is not None and box.kind == "closed":
            yield Finding(replace(box_check(closed_box(inside.driver, box.volume.to("m3"))), part=box.id), stage.id)


def _joined(engine: SoundEngine, played: PlayedStage) -> dict[int, list[int]]:
    """Outputs that are one pair of terminals: a numbered channel of an amplifier that paths of both sides name."""
    amplifiers = {one.id for one in engine.job.file.source if one.kind == "amplifier"}
    found: dict[tuple[str, str], list[int]] = {}
    for n, channel in enumerate(played.plan):
        named = all(p.path.side is not None for p in channel.paths)
        if channel.source in amplifiers and channel.channel.isdecimal() and named:
            found.setdefault((channel.source, channel.channel), []).append(n)
    return {n: members for members in found.values() for n in members}


def _twice(stage: StageTable, played: PlayedStage) -> Iterator[Finding]:
    """One driver that two outputs reach: either there are two drivers, or the outputs drive against each other."""
    ways: dict[str, set[str]] = {}
    for channel in played.plan:
        for path in channel.paths:
            ways.setdefault(path.name, set()).add(f"{channel.source}.{channel.channel}")
    for name, outputs in ways.items():
        if len(outputs) > 1:
            names = (("name", name, ""), ("outputs", " and ".join(sorted(outputs)), ""))
            said = "{name} is reached by {outputs}: two drivers are reckoned with; on one driver these outputs destroy each other"
            remedy = "Are there two such drivers? If not, delete the path that is not wired"
            part = name.replace("/", "-")
            yield Finding(check_of("wire.channel", "caution", said, remedy, names, key="path", part=part), stage.id)


def _tweeters(engine: SoundEngine, stage: StageTable, played: PlayedStage) -> Iterator[Finding]:
    """Each side by its own parts; said once where both are alike."""
    found: dict[str, dict[str, Check]] = {}
    for voice in played.voices:
        path, channel = played.path(voice), played.plan[voice.channel]
        unit = path.load.unit
        if unit.kind == "tweeter":
            # plugs are those of the last stage, as the harness is
            last = stage is engine.job.file.stage[-1]
            kept = plug_farads(engine.job, path.path.opening, path.side) if last else []
            farads = [*map(series_farad, path.load.passive), *kept]
            inverse = sum(1 / f for f in farads)
            capacitor = 1 / inverse if inverse else None
            at_clip = tweeter_at_clip(channel, path, played.channels[voice.channel].loads[voice.load])
            corner = corner_hz(path.path.filters)
            hidden = any(f < inf for f in kept)
            check = tweeter_check(unit.driver.fs, unit.nominal_ohm, capacitor, corner, at_clip, hidden)
            found.setdefault(voice.label, {})[voice.name] = check
    for label, by_side in found.items():
        alike = len({(one.verdict, one.title.template) for one in by_side.values()}) == 1
        for name, check in [(label, next(iter(by_side.values())))] if alike else by_side.items():
            yield Finding(replace(check, part=name.replace("/", "-")), stage.id)
