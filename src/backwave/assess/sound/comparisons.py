"""What each thing is worth: stage against stage, ring, high-pass, polarity, network; each difference with its own band."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from backwave.assess.sound.engine import SoundEngine, play, turned
from backwave.assess.sound.results import BANDS, F_HZ, Comparison, PlayedStage
from backwave.assess.sound.what_if import WhatIf
from backwave.finding import Message
from backwave.job.signal_chain import StageTable
from backwave.notation.crossover import Branch, CrossoverPart
from backwave.sound.differences import BandDifference, Difference, Relief, band_difference, difference, relief


def comparisons(engine: SoundEngine, played: tuple[PlayedStage, ...]) -> Iterator[Comparison]:
    """Every comparison that a job's stages call for."""
    stages = {stage.id: stage for stage in engine.job.file.stage}
    for before, after in pairwise(played):
        yield _against(before, after)
    ringed = [one for one in played if any(path.ringed for channel in one.plan for path in channel.paths)]
    for one in dict.fromkeys((*ringed[:1], *ringed[-1:])):  # what lies between is like one of them
        yield _ring(engine, stages[one.id], one)
    for one in played:
        yield from _high_pass(engine, stages[one.id], one)
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


def _ring(engine: SoundEngine, stage: StageTable, one: PlayedStage) -> Comparison:
    without = play(engine, stage, WhatIf(ring=False))
    assert without is not None
    title = Message("{stage}: what the foam ring is worth", (("stage", one.title, ""),))
    return Comparison(f"ring@{one.id}", "ring", title, one.id, one.id, *_levels(without, one))


def _high_pass(engine: SoundEngine, stage: StageTable, one: PlayedStage) -> Iterator[Comparison]:
    if not any(f.kind == "high-pass" for channel in one.plan for f in channel.chain.filters):
        return
    without = play(engine, stage, WhatIf(high_pass=False))
    assert without is not None
    title = Message("{stage}: what the high-pass relieves", (("stage", one.title, ""),))
    yield Comparison(
        f"high-pass@{one.id}", "high-pass", title, one.id, one.id, *_levels(without, one), _reliefs(without, one)
    )


def _capacitor(
    engine: SoundEngine, stage: StageTable, one: PlayedStage, told: set[tuple[str, tuple[Branch, ...]]]
) -> Iterator[Comparison]:
    """The factory tweeter's one capacitor in place of the new network; each network once."""
    paths = {p.label: p for c in one.plan for p in c.paths if p.load.passive}
    for label, path in paths.items():
        subject, seen = path.subject, (label, path.load.passive)
        place = engine.here.get(subject)
        factory = None if place is None else place.opening.factory
        if place is None or factory is None or factory.capacitor is None:
            continue
        farad = factory.capacitor.to("F")
        bare = (Branch("series", CrossoverPart("C", farad)),)
        if path.load.passive == bare or seen in told:
            continue
        told.add(seen)
        alone = play(engine, stage, WhatIf(networks=((label, bare),)))
        assert alone is not None
        title = Message(
            "{stage}: the new network on {place}, against the factory's {c} alone",
            (("stage", one.title, ""), ("place", place.opening.name or place.opening.id, ""), ("c", farad * 1e6, "uF")),
        )
        yield Comparison(f"network@{one.id}.{place.opening.id}", "network", title, one.id, one.id, *_levels(alone, one))


def _levels(before: PlayedStage, after: PlayedStage) -> tuple[Difference, tuple[tuple[str, BandDifference], ...]]:
    bands = tuple((name, band_difference(before.levels, after.levels, low, high)) for name, low, high in BANDS)
    return difference(before.levels, after.levels), bands


def _reliefs(before: PlayedStage, after: PlayedStage) -> tuple[tuple[str, Relief], ...]:
    """Drivers that both have, for the same drive."""
    at = {voice.name: voice for voice in before.voices}
    found = []
    for voice in after.voices:
        if voice.name in at:
            first = at[voice.name]
            x = [
                played.channels[v.channel].loads[v.load].excursion * np.abs(played.drives[v.channel])
                for played, v in ((before, first), (after, voice))
            ]
            found.append((voice.name, relief(F_HZ, x[0], x[1])))
    return tuple(found)
