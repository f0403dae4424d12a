"""Sound: what each stage will bring at the seat, what holds it back, and what it would be otherwise."""

from __future__ import annotations

import asyncio
from functools import partial
from typing import Any

from nicegui import background_tasks, ui

from backwave.assess import Assessment, Prediction, band_levels, compared
from backwave.assess.sound.results import Comparison
from backwave.bench import links
from backwave.bench.page_frame import Tab, Words, button, link, text, verdict
from backwave.bench.pages.what_if import KINDS, Look, Sight, keep, look, tries
from backwave.bench.plot import Plot
from backwave.finding import Finding, words
from backwave.units import show

ALL = "All stages"


class Chips:
    """Buttons of which one or several are pressed."""

    def __init__(self, label: str, pick: Any) -> None:
        self._pick = pick
        self._options: dict[str, str] = {}
        self._made: dict[str, Words] = {}
        self._box = ui.element("div").classes("chooser").props(f'role="group" aria-label="{label}"')

    def say(self, options: dict[str, str], pressed: set[str]) -> None:
        """Show these."""
        if options != self._options:
            self._options = options
            self._box.clear()
            with self._box:
                self._made = {key: button(said, partial(self._pick, key)) for key, said in options.items()}
        for key, made in self._made.items():
            made.classes(replace="chip here" if key in pressed else "chip")
            state = "true" if key in pressed else "false"
            if made._props.get("aria-pressed") != state:
                made._props["aria-pressed"] = state
                made.update()


def sound(here: Tab) -> None:
    """The place."""
    text("h1", "Sound", "unseen")
    sight = {"now": Look()}
    held: dict[str, Any] = {"shown": None, "made": None, "turn": 0}

    def choose(**changes: Any) -> None:
        sight["now"] = sight["now"].but(**changes)
        said.say("")
        again()

    def stage(key: str) -> None:
        choose(stage=key, tried=frozenset())

    def toggle(key: str) -> None:
        choose(tried=sight["now"].tried ^ {key})

    async def kept() -> None:
        assert here.board.session is not None
        changes, left = keep(sight["now"], here.board.session.job.file)
        problems = await here.board.change(changes, "keep what was tried") if changes else ()
        if problems:
            said.say("; ".join(p.message for p in problems))
            return
        choose(tried=frozenset(key for key in sight["now"].tried if key in left))
        said.say(" ".join(left.values()) or "Kept: it is in the job now.")

    def made_now() -> Prediction | None:
        return None if here.board.result is None else here.board.result.prediction

    state = text("p", "", "note")
    state.props('role="status"')
    body = ui.element("div").classes("place")
    with body:
        stages = Chips("Stage", stage)
        seats = Chips("Seat", lambda key: choose(seat=int(key)))
        kinds = Chips("Chart", lambda key: choose(kind=key))
        with ui.element("div").classes("bench sound"):
            charts = ui.element("div").classes("block")
            with ui.element("div").classes("beside what-if"):
                text("h2", "What if")
                hint = text("p", "", "note")
                options = Chips("What is tried", toggle)
                told = ui.element("div").classes("block")
                with ui.element("div").classes("row") as deciding:
                    button("Keep it in the job", kept, "main")
                    button("Put all back", lambda: choose(tried=frozenset()))
                said = text("p", "", "note")
                said.props('role="status"')
        levels = ui.element("section").classes("block")
        worth = ui.element("section").classes("block")
        listed = ui.element("section").classes("block")
    plots: list[Plot] = []

    def again() -> None:
        background_tasks.create(draw())

    async def draw() -> None:
        result, made = here.board.result, made_now()
        if result is None or made is None:
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
        engine = await asyncio.to_thread(here.board.engine, made)
        if engine is None:  # the job has moved on: what follows from it now is told when it is there
            return
        seen = await asyncio.to_thread(look, engine, made, now)
        if turn != held["turn"] or body.is_deleted:
            return
        _draw(charts, plots, seen, here.narrow)
        told.clear()
        if seen.against is not None:
            with told:
                _against(seen.against, result, names[0])
        if held["made"] is not made:  # what follows from the job alone
            held["made"] = made
            rows = await asyncio.to_thread(lambda: (band_levels(made), compared(engine, made).worth))
            if held["made"] is made and not body.is_deleted:
                _levels(levels, rows[0], names[0], result)
                _worth(worth, rows[0][0], rows[1], result)

    def tell() -> None:
        result = here.board.result
        now = (None if result is None else id(result.prediction), here.narrow, here.board.whole)
        if now == held["shown"]:
            return
        held["shown"] = now
        found = result is not None and result.prediction is not None
        body.set_visibility(found)
        if not found:
            state.say("Nothing predicted yet: the job has no stage whose path is known."
                      if here.board.whole else "Working it out …")  # fmt: skip
            return
        state.say("" if here.board.whole else "The job has just changed: this is the sound before it.")
        if result is not None and result.prediction is not None:
            _findings(listed, result, result.prediction.findings)
        again()

    here.live(tell)


def _draw(box: ui.element, plots: list[Plot], seen: Sight, narrow: bool) -> None:
    if len(plots) != len(seen.charts):
        box.clear()
        with box:
            plots[:] = [Plot(f"plot-{k}") for k in range(len(seen.charts))]
    for plot, (chart, notes) in zip(plots, seen.charts, strict=True):
        plot.chart(chart, narrow, notes)


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}".replace("-", "\u2212")  # no minus zero


def _who(cause: str, result: Assessment) -> str:
    """A cause and whose it is, in words: "clip, Front door, left"."""
    kind, _, voice = cause.partition(", ")
    subject, _, driver = voice.partition("/")
    return f"{kind}, {result.names.get(subject, subject)}, {driver}" if voice else kind


def _against(one: Comparison, result: Assessment, seat: str) -> None:
    text("p", f"Against the job as it is, mean of each band at the {seat} seat, dB with its 95 % band:")
    with ui.element("dl").classes("facts"):
        for name, band in one.bands:
            text("dt", name)
            text("dd", f"{_signed(band.delta)}  ({_signed(band.low)} … {_signed(band.high)})", "figure")
    for name, relief in one.reliefs:
        if abs(relief.db) > 0.5:
            spoken = result.names.get(name.partition("/")[0], name)
            text("p", f"{spoken}: the cone moves {show(relief.after_mm, 'mm', result.show)} instead of {show(relief.before_mm, 'mm', result.show)} "
                      "for the same volts.")  # fmt: skip


def _table(label: str, heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    region = ui.element("div").classes("scroll").props(f'tabindex="0" role="region" aria-label="{label}"')
    with region, ui.element("table"):
        with ui.element("thead"), ui.element("tr"):
            for head in heads:
                text("th", head, "" if head in heads[:1] else "right").props('scope="col"')
        with ui.element("tbody"):
            for first, *rest in rows:
                with ui.element("tr"):
                    text("th", first).props('scope="row"')
                    for cell in rest:
                        text("td", cell, "figure right")


def _levels(box: ui.element, found: Any, seat: str, result: Assessment) -> None:
    names, rows = found
    box.clear()
    with box:
        text("h2", f"Stage by stage at the {seat} seat")
        _table(
            "Levels of each stage", ("stage", *names, "loudest", "held back by"),
            [(title, *(f"{v:.0f} ± {half:.0f}" for v, half in cells), f"{loudest:.0f}", _who(cause, result))
             for title, cells, loudest, cause in rows],
        )  # fmt: skip
        text(
            "p",
            "dB at 2.83 V on every channel, mean of each band, ± 95 %; loudest: mid-bass, at its first limit.",
            "note",
        )


def _worth(box: ui.element, names: tuple[str, ...], found: tuple[Comparison, ...], result: Assessment) -> None:
    box.clear()
    with box:
        text("h2", "What each step is worth")
        _table(
            "What each step is worth", ("step", *names),
            [(words(one.title, result.show) or "",
              *(f"{_signed(b.delta)} ({_signed(b.low)} … {_signed(b.high)})" for _, b in one.bands))
             for one in found if one.kind != "polarity"],
        )  # fmt: skip
        text("p", "Difference in dB, mean of each band at the first seat; 95 % between the two in brackets.", "note")


def _findings(box: ui.element, result: Assessment, found: tuple[Finding, ...]) -> None:
    box.clear()
    loud = [f for f in found if f.check.verdict != "ok"]
    quiet = [f for f in found if f.check.verdict == "ok"]
    with box:
        text("h2", "What was found")
        if not loud:
            text("p", "Nothing stands in the way.")
        _lines(result, loud)
        if quiet:
            with ui.element("details"):
                text("summary", f"{len(quiet)} that are as they should be")
                _lines(result, quiet)


def _lines(result: Assessment, found: list[Finding]) -> None:
    with ui.element("ul").classes("numbers"):
        for finding in found:
            with ui.element("li").classes(finding.check.verdict):
                text("span", verdict(finding.check.verdict), "mark")
                name = result.names.get(finding.subject, finding.subject)
                text("span", f"{name}: {words(finding.check.title, result.show)}", "said")
                link("Why?", links.why(finding.id), "go", **{"aria-label": f"Why: {finding.id}"})
