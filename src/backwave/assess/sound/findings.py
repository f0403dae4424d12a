"""Findings of the predictions: each check of `sound.checks` at every stage, with its subject."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf

import numpy as np

from backwave.assess.inputs.plugs import plug_farads
from backwave.assess.sound.channel_limits import tweeter_at_clip
from backwave.assess.sound.engine import SoundEngine, turned
from backwave.assess.sound.results import F_HZ, PlayedStage, volume_db
from backwave.errors import InputError
from backwave.finding import Check, Finding
from backwave.job.signal_chain import StageTable
from backwave.notation.filters import corner_hz
from backwave.power.harness import blocks_bass, series_farad
from backwave.sound.box import closed_box
from backwave.sound.checks import (
    box_check,
    clip_check,
    excursion_check,
    load_check,
    polarity_check,
    port_check,
    tweeter_check,
)

__all__ = ["stage_findings"]

MAX_VOLUME_DB = 300.0  # above the reference drive; far beyond what anything takes, and numbers still hold it


def stage_findings(engine: SoundEngine, stage: StageTable, played: PlayedStage) -> Iterator[Finding]:
    """What one stage finds.

    Parameters
    ----------
    engine : SoundEngine, no unit
        What it stands on.
    stage : StageTable, no unit
        The stage.
    played : PlayedStage, no unit
        As the job has it.

    Yields
    ------
    Finding
    """
    volume = volume_db(played)
    if not abs(volume) <= MAX_VOLUME_DB:
        raise InputError(f"level of {stage.id}", str(stage.level), "a level that can be played, such as 95 dB")
    gain = 10 ** (volume / 20)
    for channel, solved, drive in zip(played.plan, played.channels, played.drives, strict=True):
        part = "-".join(channel.name.split())
        rated = [p.load.unit.rated_ohm for p in channel.paths if not any(map(blocks_bass, p.load.passive))]
        together = 1 / sum(1 / r for r in rated if r is not None) if rated and None not in rated else None
        check = load_check(F_HZ, np.abs(solved.z), together, channel.outputs.on.lowest_load, part)
        if check is not None:
            yield Finding(check, stage.id)
        yield Finding(
            clip_check(F_HZ, np.abs(drive) * gain, channel.outputs.on.clip_v, played.level_db, part), stage.id
        )
    for voice in played.voices:
        path, load = played.path(voice), played.channels[voice.channel].loads[voice.load]
        volts, unit, part = (
            np.abs(played.drives[voice.channel]) * gain,
            path.load.unit,
            voice.name.replace("/", "-"),
        )
        if unit.x_max is not None and unit.kind != "tweeter":
            yield Finding(
                excursion_check(F_HZ, load.excursion * volts, unit.x_max, played.level_db, part), stage.id
            )
        if load.port_speed is not None:
            yield Finding(port_check(F_HZ, load.port_speed * volts, part), stage.id)
    yield from _tweeters(engine, stage, played)
    for label, difference in turned(engine, stage, played):
        yield Finding(polarity_check(difference, label.replace("/", "-")), stage.id)
    for box in engine.job.file.box:
        inside = next((p.load.unit for c in played.plan for p in c.paths if p.path.box == box.id), None)
        if inside is not None and box.kind == "closed":
            yield Finding(_parted(box_check(closed_box(inside.driver, box.volume.to("m3"))), box.id), stage.id)


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
            check = tweeter_check(
                unit.driver.fs, unit.nominal_ohm, capacitor, corner, at_clip, any(f < inf for f in kept)
            )
            found.setdefault(voice.label, {})[voice.name] = check
    for label, by_side in found.items():
        checks = list(by_side.values())
        if len({(one.verdict, one.title.template) for one in checks}) == 1:
            yield Finding(_parted(checks[0], label.replace("/", "-")), stage.id)
        else:
            for name, check in by_side.items():
                yield Finding(_parted(check, name.replace("/", "-")), stage.id)


def _parted(check: Check, part: str) -> Check:
    return replace(check, part=part)
