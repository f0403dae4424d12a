"""What the place of sound looks at: which stage, which chart, and what is tried without touching the job."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from backwave.assess import PlayedStage, Prediction, SoundEngine, WhatIf, play
from backwave.assess.sound.charts import excursion_chart, impedance_chart, loudest_chart, response_chart
from backwave.assess.sound.prediction import comparisons
from backwave.assess.sound.results import Comparison
from backwave.drawing.chart import Chart
from backwave.job.model import JobFile
from backwave.job.toml_spans import KeyPath
from backwave.job.undo import Change

KINDS = {"response": "Response", "loudest": "Loudest", "excursion": "Excursion", "impedance": "Impedance"}
FLIP = "flip "
_NOT_WRITTEN = (
    "Not written: covering the holes is work on the door, and no key stands for it. When it is done, enter what is "
    "still open as the cavity's leak."
)


@dataclass(frozen=True)
class Look:
    """What is looked at."""

    kind: str = "response"  # one of `KINDS`, and a stage's id; "": all of them
    stage: str = ""
    seat: int = 0
    tried: frozenset[str] = frozenset()

    def but(self, **changes: Any) -> Look:
        """The same with something else."""
        return replace(self, **changes)

    def within(self, made: Prediction) -> Look:
        """The same, without what is no longer there."""
        here = any(one.id == self.stage for one in made.stages)
        kept = self if here else self.but(stage="", tried=frozenset())
        kept = kept.but(seat=min(kept.seat, len(made.cabin.seats) - 1))
        return kept.but(tried=kept.tried & set(tries(made, kept))) if kept.stage else kept


@dataclass(frozen=True, eq=False)
class Sight:
    """What is seen."""

    # charts, with what is said on each line at each frequency
    charts: tuple[tuple[Chart, tuple[tuple[str, ...], ...]], ...]
    against: Comparison | None  # dB, what is tried, less the job as it is


def _played(made: Prediction, stage: str) -> PlayedStage:
    return next(one for one in made.stages if one.id == stage)


def tries(made: Prediction, now: Look) -> dict[str, str]:
    """What can be tried on the stage looked at: key to words."""
    one = _played(made, now.stage)
    paths = [path for channel in one.plan for path in channel.paths]
    found: dict[str, str] = {}
    if any(path.ringed for path in paths):
        found["ring"] = "Without the foam ring"
    if any(path.path.opening for path in paths):
        found["holes"] = "Service holes covered"
    if any(f.kind == "high-pass" for channel in one.plan for f in channel.chain.filters):
        found["high-pass"] = "Without the active high-pass"
    for path in paths:
        target, speaker = path.path.opening or "", path.path.speaker
        place = made.names.get(target, target) if target else (path.path.box or "").replace("-", " ")
        found[FLIP + path.label] = f"{place}: {made.names.get(speaker, speaker)} turned round"
    return found


def _what_if(now: Look) -> WhatIf:
    flipped = frozenset(key.removeprefix(FLIP) for key in now.tried if key.startswith(FLIP))
    return WhatIf("ring" not in now.tried, "holes" in now.tried, "high-pass" not in now.tried, flipped)


@lru_cache(maxsize=16)  # tabs look at the same things
def look(engine: SoundEngine, made: Prediction, now: Look) -> Sight:
    """Draw what is looked at, and play what is tried."""
    if not now.stage or not now.tried:
        stages = tuple(one for one in made.stages if now.stage in ("", one.id))
        return Sight(_charts(replace(made, stages=stages), now, engine.job.file.show), None)
    stage = next(s for s in engine.job.file.stage if s.id == now.stage)
    what = _what_if(now)
    # Polarity is heard where two drivers add with phase, so that both are played so.
    before = play(engine, stage, None, bool(what.flipped))
    after = play(engine, stage, what, bool(what.flipped))
    assert before is not None  # it was played once already
    assert after is not None
    before, after = replace(before, title="as the job has it"), replace(after, title="tried")
    pair = replace(made, stages=(before, after))
    return Sight(_charts(pair, now, engine.job.file.show), next(iter(comparisons(engine, pair.stages))))


def _charts(made: Prediction, now: Look, system: str) -> tuple[tuple[Chart, tuple[tuple[str, ...], ...]], ...]:
    where = f"{KINDS[now.kind]}, as the job has it and as tried"
    if now.kind in ("response", "loudest"):
        chart = (response_chart if now.kind == "response" else loudest_chart)(made, now.seat)
        causes = tuple(
            tuple(f"{cause}, {voice}" for cause, voice in zip(one.loud.cause, one.loud.voice, strict=True))
            for one in made.stages
        )
        chart = replace(chart, title=where) if now.tried else chart
        return ((chart, causes if now.kind == "loudest" else ()),)
    each = [excursion_chart(made, s, system) if now.kind == "excursion" else impedance_chart(s) for s in made.stages]
    each = [chart for chart in each if chart.series]
    if not now.tried or len(each) != 2:
        return tuple((chart, ()) for chart in each)
    before, after = each
    lines = (*before.series, *(replace(s, name=f"{s.name}, tried", look=s.look + 2) for s in after.series))
    return ((replace(before, title=where, series=lines), ()),)


def keep(now: Look, file: JobFile) -> tuple[list[Change], dict[str, str]]:
    """What goes into the job to keep what is tried, and what cannot: key to the reason."""
    number, stage = next((n, one) for n, one in enumerate(file.stage) if one.id == now.stage)
    changes: list[Change] = []
    for n, path in enumerate(stage.path):
        where: KeyPath = ("stage", number, "path", n)
        if f"{FLIP}{path.opening or path.box}/{path.speaker}" in now.tried:
            changes.append(((*where, "polarity"), None if path.polarity == -1 else -1))
        if "high-pass" in now.tried:
            left = [str(one) for one in path.filters if one.kind != "high-pass"]
            if len(left) < len(path.filters):
                changes.append(((*where, "filters"), left or None))
    if "ring" in now.tried:
        used = {(path.opening, path.speaker) for path in stage.path}
        changes += [
            (("adapter", n, "foam", "ring"), "none")
            for n, row in enumerate(file.adapter)
            if (row.opening, row.speaker) in used
        ]
    return changes, {"holes": _NOT_WRITTEN} if "holes" in now.tried else {}
