"""Proof: did it work? Before, after and predicted on one chart; what the measurement changes in the model; delays and filters to enter."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from nicegui import background_tasks, ui

from backwave.assess import Assessment, Proof
from backwave.assess.proof import charts
from backwave.assess.proof.before_after import Expected, SweepPair
from backwave.assess.proof.calibration import Lesson, learned_of
from backwave.assess.proof.recordings import FACTORY
from backwave.assess.proof.signals import signal_of
from backwave.assess.proof.tuning import TARGETS, Tuned, checked, kept_settings, settings_of, takes_of
from backwave.bench.background import Errand
from backwave.bench.findings import Findings
from backwave.bench.page_frame import Tab
from backwave.bench.widgets import Chips, Plot, ProgressBar, UpdatableElement, blocks, button, fill, link, status, text
from backwave.drawing.chart import Chart
from backwave.errors import BackwaveError, InputError
from backwave.files.recordings import PLAYED, READINGS, write_signal
from backwave.finding import Finding, sentences
from backwave.job.toml_spans import path_of
from backwave.job.undo import Append
from backwave.report import proof as report
from backwave.report.blocks import Audience


def proof(here: Tab) -> None:
    text("h1", "Proof", "unseen")
    held: dict[str, Any] = {"shown": None, "seat": "", "kind": "proof"}
    nothing = text("h2", "Nothing is recorded yet")
    with ui.element("details").classes("record") as recording:
        text("summary", "Record")
        steps = RecordingSteps(here)
    running = _Running(here)
    body = ui.element("div").classes("place proof")

    def choose(**changes: str) -> None:
        held.update(changes, shown=None)
        tell()

    with body:
        seats = Chips("Seat", lambda key: choose(seat=key))
        kinds = Chips("Chart", lambda key: choose(kind=key))
        plot = Plot("plot-0")
        compared = ui.element("section").classes("block")
        with ui.element("section").classes("block"):
            text("h2", "What was found")
            findings = Findings()
        takes = ui.element("section").classes("block")
        with ui.element("section").classes("block") as learned:
            learning = Learning(here, choose)
        setting = Setting(here)

    def tell() -> None:
        running.tell()
        steps.tell()
        board, result = here.board, here.board.result
        rows = () if board.session is None else board.session.job.file.reading
        nothing.set_visibility(not rows)
        if not rows and held.setdefault("open", True):
            held["open"] = False  # once: a person may shut it
            recording.props("open")
        made = None if result is None else result.proof
        body.set_visibility(bool(rows) and made is not None)
        if result is None or made is None:
            return
        pair = next((p for p in made.pairs if p.seat == held["seat"]), made.pairs[0] if made.pairs else None)
        learned.set_visibility(pair is not None)
        learning.tell(result, pair)
        setting.tell(result, made)
        if not here.news(held, made):
            return
        names = {p.seat: f"{p.seat} seat" for p in made.pairs}
        seats.say(names if len(names) > 1 else {}, {"" if pair is None else pair.seat})
        views = _charts(made, pair)
        kind = held["kind"] if held["kind"] in views else next(iter(views), "")
        kinds.say({key: said for key, (said, _) in views.items()} if len(views) > 1 else {}, {kind})
        plot.set_visibility(kind != "")
        if kind == "proof" and pair is not None:
            plot.chart(charts.proof_chart(pair, learning.expected(pair)), here.narrow)
        elif kind:
            plot.chart(views[kind][1], here.narrow)
        told = Audience(result.show, result.names)
        seen = [] if pair is None else [*report.head(pair), *report.numbers(told, pair), *report.distortion(pair)]
        fill(compared, seen)
        findings.tell(here, result, made.findings)
        fill(takes, report.recordings(told, made))
        with takes:
            link("Change them", "/survey/reading", "plain")

    here.live(tell)


class RecordingSteps(UpdatableElement, component="../take.js"):
    """What the vehicle plays, made here to be played or taken along, and the way a recording of it comes in."""

    def __init__(self, here: Tab) -> None:
        super().__init__(stages={}, seats={}, made={}, told="")
        self._here, self._folder = here, here.board.folder / READINGS
        self.on("make", lambda event: self._make(**event.args))
        self.on("taken", lambda event: self._taken(event.args))

    def tell(self) -> None:
        if self._here.board.session is None:
            return
        file, played = self._here.board.session.job.file, [self._folder / name for name in PLAYED]
        stages = {FACTORY: "As it was"} | {one.id: one.title or one.id for one in file.stage}
        made = {path.name: path.stat().st_mtime_ns for path in played if path.is_file()}
        self.say(stages=stages, seats={one.id: f"{one.id} seat" for one in file.seat}, made=made)

    async def _make(self, kind: str, heard: bool) -> None:
        def write() -> str:
            signal = signal_of(kind, 48000, ("left", "right"), -12.0 if heard else -40.0, heard and kind == "response")
            self._folder.mkdir(exist_ok=True)
            write_signal(self._folder / PLAYED[kind == "response"], signal.samples, 48000, signal.description)
            said = [sentences(one, self._here.system) for one in signal.checks if one.verdict != "ok"]
            if not heard and kind != "beeps":
                said.append("Quiet, at \u221240 dB, until each speaker was heard on its output.")
            return " ".join(said)

        try:
            said = await asyncio.to_thread(write)
        except (BackwaveError, OSError) as error:
            said = str(error)
        self.say(told=said)
        self.tell()

    async def _taken(self, row: dict[str, str]) -> None:
        own = {key: value for key, value in row.items() if value and key in ("file", "stage", "seat", "recorder")}
        session = self._here.board.session
        if session is not None and any(one.file == own.get("file") for one in session.job.file.reading):
            self.say(told=f"Already there as {own['file']}: nothing was added.")
            return
        described = {"sweep": f"{READINGS}/sweep.json"} if (self._folder / "sweep.json").is_file() else {}
        problems = await self._here.board.change([Append("reading", own | described)], "add a recording")
        self.say(told="; ".join(p.message for p in problems) or "In the job; it is being read.")


def _charts(made: Proof, pair: SweepPair | None) -> dict[str, tuple[str, Chart]]:
    """What can be looked at: key to its name and its chart."""
    found: dict[str, tuple[str, Chart]] = {}
    if pair is not None:
        found["proof"] = ("Before, after, predicted", charts.proof_chart(pair))
        heard = [h.one for group in (pair.before, pair.after) if group is not None for h in group.heard]
        if any(one is not None and one.distortion is not None for one in heard):
            found["distortion"] = ("Distortion", charts.distortion_chart(pair))
            if (onset := charts.onset_chart(pair)) is not None:
                found["breaks"] = ("Where it distorts", onset)
    for one in made.heard:
        if one.recording is not None and one.recording.buzz is not None:
            found[f"rattle {one.name}"] = (f"Rattle: {one.name}", charts.rattle_chart(one))
    return found


class _Running:
    """How far the reading of the recordings is, and the way to stop it."""

    def __init__(self, here: Tab) -> None:
        self._here = here
        hearing = here.board.hearing
        with ui.element("div").classes("row building") as self._row:
            self._said = status()
            self._bar = ProgressBar("Reading the recordings", hearing.errand.stop)
            self._again = button("Read them again", hearing.again)

    def tell(self) -> None:
        board = self._here.board
        errand, none = board.hearing.errand, board.session is None or not board.session.job.file.reading
        busy = errand.share is not None
        words = (
            "" if none else f"Reading {errand.what or 'the recordings'} …" if busy else errand.problem
            or ("Stopped: not all recordings were read." if errand.stopped else "")
            or ("" if board.whole else "The job has just changed: the predictions follow.")
        )  # fmt: skip
        self._said.say(words)
        self._said.set_visibility(words != "")
        self._row.set_visibility(not none)
        self._bar.say(errand.share)
        self._again.set_visibility(not busy)


class _Working:
    """A button that begins something long, and while it runs how far it is and a way to stop it."""

    def __init__(self, here: Tab, words: str, begin: Callable[[Errand], None]) -> None:
        self.errand = Errand(here.board.again)
        with ui.element("div").classes("row building"):
            self._go = button(words, lambda: begin(self.errand), "main")
            self._bar = ProgressBar(words, self.errand.stop)
        self.said = status()
        self.tell()

    def tell(self) -> None:
        self._go.set_visibility(self.errand.share is None)
        self._bar.say(self.errand.share)
        if self.errand.problem:
            self.said.say(self.errand.problem)


class Learning:
    """What the reading before teaches the prediction."""

    def __init__(self, here: Tab, again: Callable[[], None]) -> None:
        self._here, self._again = here, again
        self._now: tuple[Assessment, SweepPair] | None = None
        self._lesson: tuple[Any, Lesson] | None = None
        self._shown: Lesson | None = None
        text("h2", "What the measurement changes in the model")
        text(
            "p", "Nobody measures a leak. The reading before tells of leaks, cavity and cabin what it can; the reading "
            "after, which that fit has not seen, shows whether it helps.", "note",
        )  # fmt: skip
        self._work = _Working(here, "Learn from it", self._begin)
        self._box = ui.element("div").classes("block")

    def expected(self, pair: SweepPair) -> Expected | None:
        """What is predicted after learning, of the pair's later stage; None before."""
        lesson = self._of(pair)
        return None if lesson is None else lesson.expected

    def _of(self, pair: SweepPair | None) -> Lesson | None:
        return self._lesson[1] if self._lesson is not None and self._lesson[0] is pair else None

    def tell(self, result: Assessment, pair: SweepPair | None) -> None:
        self._now = None if pair is None else (result, pair)
        self._work.tell()
        lesson = self._of(pair)
        if lesson is self._shown:
            return
        self._shown = lesson
        self._box.clear()
        if lesson is not None:
            with self._box:
                self._told(lesson)
        self._again()

    def _begin(self, errand: Errand) -> None:
        if self._now is None or self._now[0].prediction is None:
            self._work.said.say("Nothing is predicted of this stage and seat: nothing can be learned.")
            return
        pair, made = self._now[1], self._now[0].prediction
        self._work.said.say("")

        def then(lesson: Lesson) -> None:
            self._lesson = (pair, lesson)

        def learn(tell: Callable[[float, str], None]) -> Lesson:
            engine = self._here.board.engine(made)
            if engine is None:
                changed = "a job that has just changed"
                raise InputError("what is to be learned from", changed, "the same job as predicted")
            return learned_of(engine, pair, lambda share: tell(share, ""))

        errand.begin(learn, then)

    def _told(self, lesson: Lesson) -> None:
        title = "" if self._now is None else self._now[1].before.title
        text("h3", f"What the measurement of “{title}” changed in the model")
        blocks(report.learned(Audience(self._here.system, {}), lesson))
        if lesson.changes:
            with ui.element("div").classes("row"):
                button("Keep it in the job", lambda: background_tasks.create(self._keep(lesson)), "main")

    async def _keep(self, lesson: Lesson) -> None:
        board = self._here.board
        changes = [(path, value) for key, value in lesson.changes.items() if (path := path_of(board.data, key))]
        problems = await board.change(changes, "keep what was learned")
        if not self._box.is_deleted:
            self._work.said.say("; ".join(p.message for p in problems) or "Kept: it is in the job now.")


class Setting:
    """Delays, levels and filters to enter, toward a target."""

    def __init__(self, here: Tab) -> None:
        self._here = here
        self._now: tuple[Assessment, Proof] | None = None
        self._made: tuple[Any, str, Tuned, tuple[Finding, ...]] | None = None
        self._shown: Any = None
        self._output, self._target = "", ""
        with ui.element("section").classes("block") as self.body:
            text("h2", "Delays and filters to enter")
            self._targets = Chips("Target", self._aim)
            self._work = _Working(here, "Work out the settings", self._begin)
            self._box = ui.element("div").classes("block")
            with ui.element("div").classes("block") as self._drawn:
                self._outputs = Chips("Output", self._choose)
                with ui.element("div").classes("bench sound"):
                    self._plot = Plot("plot-1")
                    self._rows = ui.element("div").classes("block")
            self._ending = ui.element("div").classes("block")

    def tell(self, result: Assessment, proof: Proof) -> None:
        self._now = (result, proof)
        self._work.tell()
        session = self._here.board.session
        aim = "" if session is None else session.job.file.tune.target
        own = {} if isinstance(aim, str) else {"own": "The job's own"}
        names = {"house": "More bass: a preference", "flat": "Flat"}
        self._targets.say(names | own, {self._target or (aim if isinstance(aim, str) else "own")})
        made = self._made if self._made is not None and self._made[0] is proof else None
        now = (made, self._output, self._here.narrow)
        if now == self._shown:
            return
        self._shown = now
        self._drawn.set_visibility(made is not None)
        for box in (self._box, self._rows, self._ending):
            box.clear()
        if made is not None:
            self._told(*made[1:], result)

    def _aim(self, key: str) -> None:
        self._target = key
        self._begin(self._work.errand)

    def _choose(self, key: str) -> None:
        self._output, self._shown = key, None
        if self._now is not None:
            self.tell(*self._now)

    def _begin(self, errand: Errand) -> None:
        session = self._here.board.session
        if self._now is None or session is None:
            return
        (result, proof), job, target = self._now, session.job, self._target
        self._work.said.say("")
        wish = job.file.tune
        if target in TARGETS:
            wish = wish.model_copy(update={"target": target})

        def work(tell: Callable[[float, str], None]) -> tuple[str, Tuned, tuple[Finding, ...]]:
            group = takes_of(proof)
            tell(0.2, "")
            made = settings_of(job, result.prediction, group, wish)
            found: tuple[Finding, ...] = ()
            if any(g.tuned and g.stage == group.stage for g in proof.groups):
                found = checked(made, takes_of(proof, group.stage, group.seat, tuned=True))
            return group.stage, made, found

        def then(found: tuple[str, Tuned, tuple[Finding, ...]]) -> None:
            self._made = (proof, *found)

        errand.begin(work, then)

    def _told(self, stage: str, made: Tuned, found: tuple[Finding, ...], result: Assessment) -> None:
        told = Audience(result.show, result.names)
        names = [one.setting.name for one in made.outputs]
        output = self._output if self._output in names else names[0]
        with self._box:
            title = result.names.get(stage, stage)
            text("p", f"For {title}:")
            blocks(report.settings(told, made))
        self._outputs.say({name: name for name in names} if len(names) > 1 else {}, {output})
        self._plot.chart(charts.settings_chart(made, output), self._here.narrow)
        with self._rows:
            blocks(report.filters(told, made, output))
        with self._ending:
            blocks(report.outlook(told, made, found))
            with ui.element("div").classes("row"):
                button("Keep it in the job", lambda: background_tasks.create(self._keep(stage, made)), "main")
                link("Target, filters, fixed bands", "/survey/tune", "plain")

    async def _keep(self, stage: str, made: Tuned) -> None:
        board = self._here.board
        if board.session is None:
            return
        try:
            kept = kept_settings(board.session.job, stage, made)
            problems = await board.change(kept.changes, "keep the settings") if kept.changes else ()
        except BackwaveError as error:
            self._work.said.say(str(error))
            return
        left = [f"{name}: {why}" for name, why in kept.left]
        said = [p.message for p in problems] or (["Kept: it is in the job now."] if kept.changes else [])
        if not self._box.is_deleted:
            self._work.said.say(". ".join([*said, *left]))
