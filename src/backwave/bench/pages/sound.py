"""Sound: what each stage will bring at the seat, what limits it, and what it would be otherwise."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from nicegui import background_tasks, ui

from backwave.assess import Assessment, PlayedStage, Prediction, SoundEngine, WhatIf, band_levels, compared, play
from backwave.assess.sound import prediction
from backwave.assess.sound.results import Comparison
from backwave.bench.findings import Findings, address_of, of_finding
from backwave.bench.page_frame import Tab
from backwave.bench.widgets import Chips, Plot, button, facts, fill, link, status, text
from backwave.drawing.chart import Chart
from backwave.finding import words
from backwave.job.model import JobFile
from backwave.job.toml_spans import KeyPath
from backwave.job.undo import Change
from backwave.report import sound as report
from backwave.report.blocks import Audience, signed

ALL = "All stages"
KINDS = {"response": "Response", "loudest": "Loudest", "excursion": "Excursion", "impedance": "Impedance"}
FLIP = "flip "
_NOT_WRITTEN = (
    "Not written: covering the holes is work on the door, and no key stands for it. When it is done, enter what is "
    "still open as the cavity's leak."
)


def sound(here: Tab) -> None:
    text("h1", "Sound", "unseen")
    sight = {"now": Look()}
    held: dict[str, Any] = {"shown": None, "made": None, "turn": 0}

    def choose(**changes: Any) -> None:
        sight["now"] = replace(sight["now"], **changes)
        said.say("")
        again()

    async def kept() -> None:
        assert here.board.session is not None
        changes, left = keep(sight["now"], here.board.session.job.file)
        problems = await here.board.change(changes, "keep what was tried") if changes else ()
        if problems:
            said.say("; ".join(p.message for p in problems))
            return
        choose(tried=frozenset(key for key in sight["now"].tried if key in left))
        said.say(" ".join(left.values()) or "Kept: it is in the job now.")

    state = status()
    lacking = ui.element("section").classes("block")
    body = ui.element("div").classes("place")
    with body:
        stages = Chips("Stage", lambda key: choose(stage=key, tried=frozenset()))
        seats = Chips("Seat", lambda key: choose(seat=int(key)))
        kinds = Chips("Chart", lambda key: choose(kind=key))
        vague = status("")
        with ui.element("div").classes("bench sound"):
            charts = ui.element("div").classes("block")
            with ui.element("div").classes("beside what-if"):
                text("h2", "What if")
                hint = text("p", "", "note")
                options = Chips("What is tried", lambda key: choose(tried=sight["now"].tried ^ {key}))
                told = ui.element("div").classes("block")
                with ui.element("div").classes("row") as deciding:
                    button("Keep it in the job", kept, "main")
                    button("Put all back", lambda: choose(tried=frozenset()))
                said = status()
        levels = ui.element("section").classes("block")
        worth = ui.element("section").classes("block")
        with ui.element("section").classes("block"):
            text("h2", "What was found")
            listed = Findings()
    plots: list[Plot] = []

    def again() -> None:
        background_tasks.create(draw())

    async def draw() -> None:
        result = here.board.result
        if result is None or (made := result.prediction) is None:
            return
        held["turn"] += 1
        turn, now = held["turn"], sight["now"].within(made)
        sight["now"] = now
        stages.say({"": ALL} | {one.id: one.title for one in made.stages}, {now.stage})
        names = made.cabin.seats
        seats.say({str(k): f"{n} seat" for k, n in enumerate(names)} if len(names) > 1 else {}, {str(now.seat)})
        kinds.say(KINDS, {now.kind})
        options.say(tries(made, now) if now.stage else {}, set(now.tried))
        hint.say(
            "Nothing here changes the job until it is kept." if now.stage
            else "Choose one stage to try something on it."
        )  # fmt: skip
        deciding.set_visibility(bool(now.tried))
        wide = prediction.unsaid(made, now.seat)
        engine = await asyncio.to_thread(here.board.engine, made)
        if engine is None:  # the job has moved on: what follows from it now is told when it is there
            return
        seen = await asyncio.to_thread(look, engine, made, now)
        if turn != held["turn"] or body.is_deleted:
            return
        vague.say(" ".join(
            f"{one.title}: known to ± {wide[one.id] / 2:.0f} dB only (95 %), which says nothing, so no curve is drawn: enter what is missing."
            for one in made.stages if one.id in wide and now.stage in ("", one.id) and now.kind in ("response", "loudest")
        ))  # fmt: skip
        if len(plots) != len(seen.charts):
            charts.clear()
            with charts:
                plots[:] = [Plot(f"plot-{k}") for k in range(len(seen.charts))]
        for plot, (chart, notes) in zip(plots, seen.charts, strict=True):
            plot.chart(chart, here.narrow, notes)
        told.clear()
        reader = Audience(result.show, result.names)
        if seen.against is not None:
            with told:
                _against(seen.against, reader, names[0])
        if held["made"] is not made:  # what follows from the job alone
            held["made"] = made
            rows = await asyncio.to_thread(lambda: (band_levels(made), compared(engine, made).worth))
            if held["made"] is made and not body.is_deleted:
                fill(levels, report.levels(reader, names[0], rows[0]))
                fill(worth, report.worth(reader, rows[0][0], rows[1]))

    def tell() -> None:
        result = here.board.result
        now = (None if result is None else id(result.prediction), here.narrow, here.board.whole)
        if now == held["shown"]:
            return
        held["shown"] = now
        found = result is not None and result.prediction is not None
        body.set_visibility(found)
        if result is not None:
            _lacking(lacking, here, result)
        if not found:
            state.say("" if here.board.whole else "Working it out …")
            return
        state.say("" if here.board.whole else "The job has just changed: this is the sound before it.")
        if result is not None and result.prediction is not None:
            listed.tell(here, result, result.prediction.findings)
        again()

    here.live(tell)


# what a prediction starts from: the table, and what it says
_NEEDS = {
    "source": "What plays: head unit or amplifier, and the least load it may have",
    "seat": "Where somebody listens: a seat, and where the head is",
    "stage": "A stage: which source plays which speaker, where",
}
_MOTOR = "its motor, from the data sheet (Re, fs, Qms, Qes, Vas, Sd)"


def _lacking(box: ui.element, here: Tab, result: Assessment) -> None:
    """What a prediction still needs, each with the way to its field."""
    assert here.board.session is not None
    file, names = here.board.session.job.file, result.names
    needs: list[tuple[str, KeyPath]] = [(told, (key, 0)) for key, told in _NEEDS.items() if not getattr(file, key)]
    if needs:
        if file.vehicle.cabin is None:
            needs.append(("The cabin: length, width and height of its air", ("vehicle", "cabin")))
        rows: list[tuple[Any, str, KeyPath]] = []
        rows += [(one, _MOTOR, ("speaker", n, "motor")) for n, one in enumerate(file.speaker) if one.motor is None]
        rows += [
            (one, "where it is in the cabin", ("opening", n, "at"))
            for n, one in enumerate(file.opening)
            if one.at is None
        ]
        needs += [(f"{names.get(one.id, one.id).capitalize()}: {told}", path) for one, told, path in rows]
    found = [(told, address_of(path)) for told, path in needs] or [  # else the findings know better
        (f"{names.get(f.subject, f.subject)}: {words(f.check.remedy or f.check.title, result.show)}", of_finding(here.board, f))
        for f in result.open_findings if f.check.code in ("sound.data", "sound.place")
    ]  # fmt: skip
    box.clear()
    with box:
        if found:
            text("h2", "Nothing predicted yet. It needs:" if needs else "Still needed")
            with ui.element("ul"):
                for told, there in found:
                    with ui.element("li"):
                        link(told, there, "go")


def _against(one: Comparison, told: Audience, seat: str) -> None:
    text("p", f"Against the job as it is, mean of each band at the {seat} seat, dB with its 95 % band:")
    facts((name, f"{signed(b.delta)}  ({signed(b.low)} … {signed(b.high)})") for name, b in one.bands)
    for line in report.relief(told, one):
        text("p", line)


@dataclass(frozen=True)
class Look:
    """Which stage, which chart, and what is tried without touching the job."""

    kind: str = "response"  # one of `KINDS`
    stage: str = ""  # its id; "": all of them
    seat: int = 0
    tried: frozenset[str] = frozenset()

    def within(self, made: Prediction) -> Look:
        """The same, without what is no longer there."""
        kept = replace(self, seat=min(self.seat, len(made.cabin.seats) - 1))
        if all(one.id != self.stage for one in made.stages):
            return replace(kept, stage="", tried=frozenset())
        return replace(kept, tried=kept.tried & set(tries(made, kept)))


@dataclass(frozen=True, eq=False)
class Sight:
    # charts, with what is said on each line at each frequency
    charts: tuple[tuple[Chart, tuple[tuple[str, ...], ...]], ...]
    against: Comparison | None  # dB, what is tried, less the job as it is


def tries(made: Prediction, now: Look) -> dict[str, str]:
    """What can be tried on the stage looked at: key to words."""
    one: PlayedStage = next(stage for stage in made.stages if stage.id == now.stage)
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


@lru_cache(maxsize=16)  # tabs look at the same things
def look(engine: SoundEngine, made: Prediction, now: Look) -> Sight:
    """Draw what is looked at, and play what is tried."""
    if not now.stage or not now.tried:
        stages = tuple(one for one in made.stages if now.stage in ("", one.id))
        return Sight(_charts(replace(made, stages=stages), now, engine.job.file.show), None)
    stage = next(s for s in engine.job.file.stage if s.id == now.stage)
    flipped = frozenset(key.removeprefix(FLIP) for key in now.tried if key.startswith(FLIP))
    what = WhatIf("ring" not in now.tried, "holes" in now.tried, "high-pass" not in now.tried, flipped)
    # Polarity is heard where two drivers add with phase, so that both are played so.
    before = play(engine, stage, None, bool(what.flipped))
    after = play(engine, stage, what, bool(what.flipped))
    assert before is not None  # it was played once already
    assert after is not None
    before, after = replace(before, title="as the job has it"), replace(after, title="tried")
    pair = replace(made, stages=(before, after))
    return Sight(_charts(pair, now, engine.job.file.show), next(iter(prediction.comparisons(engine, pair.stages))))


def _charts(made: Prediction, now: Look, system: str) -> tuple[tuple[Chart, tuple[tuple[str, ...], ...]], ...]:
    where = f"{KINDS[now.kind]}, as the job has it and as tried"
    if now.kind in ("response", "loudest"):
        chart = (prediction.response_chart if now.kind == "response" else prediction.loudest_chart)(made, now.seat)
        causes = tuple(
            tuple(f"{cause}, {voice}" for cause, voice in zip(one.loud.cause, one.loud.voice, strict=True))
            for one in made.stages if one.id not in prediction.unsaid(made, now.seat)
        )  # fmt: skip
        chart = replace(chart, title=where) if now.tried else chart
        return ((chart, causes if now.kind == "loudest" else ()),) if chart.series else ()
    each = [
        prediction.excursion_chart(made, s, system) if now.kind == "excursion" else prediction.impedance_chart(s)
        for s in made.stages
    ]
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
