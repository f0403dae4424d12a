"""Proof: did it work? Before, after and predicted on one chart; what the reading teaches; delays and filters to enter."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, Proof
from backwave.assess.proof.before_after import SweepPair
from backwave.assess.proof.charts import PAIR_HEADS, distortion_chart, onset_chart, pair_rows, proof_chart, rattle_chart
from backwave.bench.lists import Findings
from backwave.bench.page_frame import Tab, button, link, text
from backwave.bench.pages.sound import Chips
from backwave.bench.pages.tuning import Learning, Setting, table
from backwave.bench.plot import Plot
from backwave.drawing.chart import Chart

STEPS = (
    "Make sure which driver speaks on each output: play the beeps at \u221240 dB first (backwave sweep beeps.wav --kind beeps).",
    "Write the sweep to play: backwave sweep readings/sweep.wav --identified. Its description, sweep.json, goes beside it.",
    "Begin with the volume low, wear ear protection or stand outside, keep children and animals away.",
    "Engine, fan and telephones off, doors shut. Any recorder will do: WAV if it can, automatic level off.",
    "Record the whole file at the seat, where the middle of the head is; then again with the recorder taken away and put "
    "back, and some a hand's breadth round it.",
    'Put the recordings under readings/ and add each: its stage ("factory" for how it was) and its seat.',
)


def proof(here: Tab) -> None:
    """The place."""
    text("h1", "Proof", "unseen")
    held: dict[str, Any] = {"shown": None, "seat": "", "kind": "proof"}
    running = _Running(here)
    nothing = ui.element("section").classes("block")
    with nothing:
        _how("Nothing is recorded yet. So it is done:")
    body = ui.element("div").classes("place")

    def choose(**changes: str) -> None:
        held.update(changes, shown=None)
        tell()

    with body:
        seats = Chips("Seat", lambda key: choose(seat=key))
        kinds = Chips("Chart", lambda key: choose(kind=key))
        with ui.element("div").classes("bench sound"):
            with ui.element("div").classes("block") as drawn:
                plot = Plot("plot-0")
            with ui.element("div").classes("beside what-if"):
                learning = Learning(here, choose)
        learning.below()
        compared = ui.element("section").classes("block")
        setting = Setting(here)
        found = ui.element("section").classes("block")
        with found:
            text("h2", "What was found")
            findings = Findings("Nothing. Every recording can be used, and each band changed as predicted.")
        listed = ui.element("section").classes("block")
        with ui.element("details"):
            text("summary", "How to record")
            _how("")

    def tell() -> None:
        running.tell()
        board, result = here.board, here.board.result
        rows = () if board.session is None else board.session.job.file.reading
        nothing.set_visibility(not rows)
        made = None if result is None else result.proof
        body.set_visibility(bool(rows) and made is not None)
        if result is None or made is None:
            return
        pair = next((p for p in made.pairs if p.seat == held["seat"]), made.pairs[0] if made.pairs else None)
        learning.tell(result, pair)
        setting.tell(result, made)
        if not here.news(held, made):
            return
        names = {p.seat: f"{p.seat} seat" for p in made.pairs}
        seats.say(names if len(names) > 1 else {}, {"" if pair is None else pair.seat})
        charts = _charts(made, pair)
        kind = held["kind"] if held["kind"] in charts else next(iter(charts), "")
        kinds.say({key: said for key, (said, _) in charts.items()} if len(charts) > 1 else {}, {kind})
        drawn.set_visibility(kind != "")
        if kind == "proof" and pair is not None:
            plot.chart(proof_chart(pair, learning.expected(pair)), here.narrow)
        elif kind:
            plot.chart(charts[kind][1], here.narrow)
        _compared(compared, pair)
        findings.tell(here, result, made.findings)
        _listed(listed, result, made)

    here.live(tell)


def _charts(made: Proof, pair: SweepPair | None) -> dict[str, tuple[str, Chart]]:
    """What can be looked at: key to its name and its chart."""
    found: dict[str, tuple[str, Chart]] = {}
    if pair is not None:
        found["proof"] = ("Before, after, predicted", proof_chart(pair))
        groups = (pair.before, pair.after)
        heard = [h for g in groups if g is not None for h in g.heard]
        if any(h.one is not None and h.one.distortion is not None for h in heard):
            found["distortion"] = ("Distortion", distortion_chart(pair))
            onset = onset_chart(pair)
            found |= {} if onset is None else {"breaks": ("Where it breaks up", onset)}
    for one in made.heard:
        if one.recording is not None and one.recording.buzz is not None:
            found[f"rattle {one.name}"] = (f"Rattle: {one.name}", rattle_chart(one))
    return found


class _Running:
    """How far the reading of the recordings is, and the way to stop it."""

    def __init__(self, here: Tab) -> None:
        self._here = here
        hearing = here.board.hearing
        with ui.element("div").classes("row building") as self._row:
            self._said = text("p", "", "note")
            self._said.props('role="status"')
            self._bar = ui.element("progress").props('max="1" aria-label="Reading the recordings"')
            self._stop = button("Stop", hearing.errand.stop)
            self._again = button("Read them again", hearing.again)

    def tell(self) -> None:
        """Show how far it is."""
        board = self._here.board
        errand, none = board.hearing.errand, board.session is None or not board.session.job.file.reading
        busy = errand.share is not None
        words = "" if none else f"Reading {errand.what or 'the recordings'} …" if busy else errand.problem
        if not none and not words and errand.stopped:
            words = "Stopped: not all recordings were read."
        if not none and not words and not board.whole:
            words = "The job has just changed: the predictions follow."
        self._said.say(words)
        self._said.set_visibility(words != "")
        self._row.set_visibility(not none)
        self._bar.set_visibility(busy)
        self._stop.set_visibility(busy)
        self._again.set_visibility(not busy)
        if busy and self._bar._props.get("value") != errand.share:
            self._bar._props["value"] = round(errand.share or 0.0, 2)
            self._bar.update()


def _how(said: str) -> None:
    if said:
        text("p", said)
    with ui.element("ol"):
        for step in STEPS:
            text("li", step)
    link("Add a reading", "/survey/reading", "plain")


def _compared(box: ui.element, pair: SweepPair | None) -> None:
    box.clear()
    if pair is None:
        return
    with box:
        then = "" if pair.after is None else f", then {pair.after.title}"
        text("h2", f"At the {pair.seat} seat: {pair.before.title}{then}")
        table("Before, after, changed, predicted", PAIR_HEADS, pair_rows(pair))
        text(
            "p",
            "Levels against each curve's own 300 Hz to 3 kHz; ± twice the standard uncertainty from how well readings "
            "repeat, and a change within it is called none; predicted: best estimate and 95 %. "
            f"{_many(pair)}",
            "note",
        )


def _many(pair: SweepPair) -> str:
    said = []
    for word, group in (("before", pair.before), ("after", pair.after)):
        if group is not None:
            m = group.mean
            where = "one place" if m.places == 1 else f"{m.places} places"
            said.append(f"{word}: {m.takes} recordings at {where}" if m.takes > 1 else f"{word}: one recording")
    return "; ".join(said).capitalize() + "."


def _listed(box: ui.element, result: Assessment, made: Proof) -> None:
    box.clear()
    with box:
        text("h2", "Recordings")
        rows = []
        for one in made.heard:
            state = "used" if one.one is not None else "for rattles" if one.recording is not None else "not used"
            stage = result.names.get(one.stage, one.stage) if one.stage != "factory" else "As it was"
            rows.append((one.row.file, stage or "no stage", one.seat, one.row.place or "middle", state))
        table("Recordings", ("file", "stage", "seat", "place", ""), rows)
        link("Change them", "/survey/reading", "plain")
