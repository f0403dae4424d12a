"""Wires: what goes to what, how thick, which fuse; the harness, its plugs and lists; the factory's; gains behind their gate."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, Wires
from backwave.assess.inputs.factory import PairFound
from backwave.assess.power.results import Harnessed
from backwave.bench.findings import Findings
from backwave.bench.gates import GateTicks, careful
from backwave.bench.page_frame import Tab, verdict
from backwave.bench.widgets import InputField, Picture, fill, link, listed, problem_words, status, text, way
from backwave.drawing.harness import harness_sheet
from backwave.drawing.sheet import to_svg
from backwave.drawing.wiring import faces_svg, supply_svg
from backwave.finding import words
from backwave.job.gates import about
from backwave.report import wires as report
from backwave.report.blocks import Audience, par, sub
from backwave.units import show

PARTS = {"": "Supply", "harness": "Harness", "lists": "Lists", "factory": "Factory wires", "gains": "Gains"}


def wires(here: Tab, part: str = "") -> None:
    part = part if part in PARTS else ""
    text("h1", f"Wires: {PARTS[part]}", "unseen")
    with ui.element("nav").props('aria-label="Parts of the wiring"'), ui.element("div").classes("chooser"):
        for name, said in PARTS.items():
            way(said, f"/wires/{name}" if name else "/wires", name == part)
    if part in ("harness", "lists", "gains"):
        careful("wire")
    {"": _supply, "harness": _harness, "lists": _lists, "factory": _factory, "gains": _gains}[part](here)


def _follow(here: Tab, what: str, missing: tuple[str, str, str], body: Any, nothing: Any,
            shown: Callable[[Any, Assessment], None]) -> None:  # fmt: skip
    """Show a part of the assessment as long as it is there; else what is missing: in words, what to do, and where."""
    held: dict[str, Any] = {}

    def tell() -> None:
        result = here.board.result
        if not here.news(held, result):
            return
        made = None if result is None else getattr(result, what)
        nothing.clear()
        body.set_visibility(made is not None)
        if result is not None and made is not None:
            shown(made, result)
            return
        with nothing:
            text("p", missing[0])
            link(*missing[1:], "plain")

    here.live(tell)


def _supply(here: Tab) -> None:
    nothing, body = (ui.element("div").classes("block") for _ in range(2))
    with body:
        cautions = ui.element("section").classes("block")
        picture = Picture()
        text("h2", "Open issues")
        findings = Findings()
        lists = ui.element("section").classes("block")

    def shown(made: Wires, result: Assessment) -> None:
        session = here.board.session
        assert session is not None
        picture.say(svg=supply_svg(made, result.title, "auto", compact=here.narrow, system=result.show))
        told = Audience(result.show, result.names)
        fill(cautions, [sub("Before anything is touched"), *report.dangers(told, made)])
        fill(lists, report.supply(told, session.job, made))
        findings.tell(here, result, made.findings)

    missing = (
        "Nothing in this job draws current yet.",
        "Add what does: an amplifier, its feed, its fuses",
        "/survey/load",
    )
    _follow(here, "wires", missing, body, nothing, shown)


_NO_HARNESS = (
    "No path of the last stage leads to a speaker yet: there is nothing to wire.",
    "Add a stage with its paths", "/survey/stage",
)  # fmt: skip


def _harness(here: Tab) -> None:
    """The diagram, the plugs, the runs, and what was found."""
    nothing, body = (ui.element("div").classes("block") for _ in range(2))
    with body:
        scrolls = ui.element("div").classes("scroll")
        with scrolls.props('tabindex="0" role="group" aria-label="Diagram of the harness"'):
            picture = Picture()
        text("h2", "Open issues")
        findings = Findings()
        plugs = Picture().style("max-width: 760px")
        runs = ui.element("section").classes("block")

    def shown(made: Harnessed, result: Assessment) -> None:
        sheet = harness_sheet(made, result.title)
        # small enough to see, large enough to read; else it scrolls
        picture.style(f"min-width: {0.8 * sheet.width:.0f}px")
        picture.say(svg=to_svg(sheet, "auto"))
        findings.tell(here, result, made.findings if made.begun else ())
        plugs.set_visibility(bool(made.plugs))
        if made.plugs:
            plugs.say(svg=faces_svg(made.plugs, "Factory plugs that are kept", "auto", compact=here.narrow))
        fill(runs, report.runs(Audience(result.show, result.names), made))

    _follow(here, "harness", _NO_HARNESS, body, nothing, shown)


def _lists(here: Tab) -> None:
    """Every wire, what to cut, the labels."""
    nothing, body = ui.element("div").classes("block"), ui.element("section").classes("block")

    def shown(made: Harnessed, result: Assessment) -> None:
        told = Audience(result.show, result.names)
        fill(body, [*report.schedule(told, made), *report.cuts(told, made), *report.labels_of(made)])

    _follow(here, "harness", _NO_HARNESS, body, nothing, shown)


def _gains(here: Tab) -> None:
    """Each output of an amplifier with its own gate; its voltage is sent to the page only behind it."""
    held: dict[str, Any] = {}
    text("h2", "Setting gains with a voltmeter: before anything is switched on")
    body = ui.element("section").classes("block")
    gates: dict[str, tuple[GateTicks | None, Any]] = {}

    def tell() -> None:
        result = here.board.result
        channels = () if result is None or result.wires is None else result.wires.channels
        if held.get("channels") != [one.about for one in channels] or not channels:
            held["channels"] = [one.about for one in channels]
            gates.clear()
            body.clear()
            with body:
                if not channels:
                    text("p", "No output of an amplifier has its rating yet: there is no gain to find.")
                    link("Add an amplifier with its power", "/survey/source", "plain")
                    return
                for one in channels:
                    text("h3", f"{one.id}: {', '.join(one.speakers)}, {show(one.target.load_ohm, 'ohm')}")
                    ticks = None if one.target.test_tone_v is None else GateTicks(here, "gain")
                    gates[one.id] = (ticks, ui.element("div").classes("block"))
                for note in channels[0].target.notes:
                    text("p", words(note, here.system), "note")
        for one in channels:
            ticks, box = gates[one.id]
            if ticks is not None:
                ticks.tell(one.id, one.about)
            _voltage(here, one, box)

    here.live(tell)


def _voltage(here: Tab, one: Any, box: Any) -> None:
    session = here.board.session
    if session is None:
        return
    tone, volts = report.gain(Audience(here.system, {}), one, session.job.gates)
    shown = one.shown_v(session.job.gates) is not None
    closed = one.target.test_tone_v is not None and not shown
    box.clear()
    with box:
        text("p", f"{tone}: {'its voltage shows when every line above is confirmed' if closed else volts}", "figure")
        for line in one.input_words():
            text("p", line[:1].upper() + line[1:], "note")
        if shown:
            listed((words(step, here.system) for step in one.target.steps), "ol")


_CELL = "One 1.5 V cell, half a second, its plus on the first wire: what did the cone do?"
_READINGS: tuple[Any, ...] = (  # key, label, hint, and for some a kind and its options
    ("resistance", "What the meter shows", 'Such as "3.9 ohm", or open'),
    ("leads", "Its leads touching each other", 'Such as "0.2 ohm"; left out: nothing'),
    ("cone", "The cone at the cell", _CELL, "choice", ("out", "in", "still")),
    ("plus", "Plus was taken to be", "Which wire somebody marked", "choice", ("first", "second")),
    ("by_marks", "By the speaker's own marks", "Read off it and followed by eye", "flag", ("true", "false")),
)


def _factory(here: Tab) -> None:
    held: dict[str, Any] = {}
    text("h2", "Finding the factory wires")
    text("p", "An igniter of an airbag or belt tensioner reads about 2 Ω, exactly like a speaker, and a meter can fire it. "
         "So each pair has a gate of its own, and nothing is read before all of it is confirmed. The vehicle maker's "
         "service information comes first.", "alarm mild")  # fmt: skip
    pairs = ui.element("div").classes("block")
    link("+ a pair: its speaker, its colors", f"/survey/pair/{len(here.board.data.get('pair', []))}", "plain")
    system = ui.element("section").classes("block")
    link("Change what was recorded of the outputs", "/survey/factory_output", "go")
    outputs = ui.element("section").classes("block")
    text("h2", "Open issues")
    findings = Findings()
    shown: list[_Pair] = []
    gates: dict[str, GateTicks] = {}

    def tell() -> None:
        rows = here.board.data.get("pair", [])
        ids = [row.get("id") for row in rows]
        if held.get("ids") != ids:
            held["ids"] = ids
            pairs.clear()
            shown.clear()
            with pairs:
                shown.extend(_Pair(here, n) for n in range(len(rows)))
        result = here.board.result
        record = None if result is None else result.factory
        found = {} if record is None else {pair.table.id: pair for pair in record.pairs}
        for one, row in zip(shown, rows):
            one.tell(row, found.get(row.get("id")), result)
        _outputs(here, outputs, gates)
        if not here.news(held, result) or result is None:
            return
        nothing = "What the outputs of the factory system carry is not entered yet: a sweep on each pair at two volumes, and a meter."
        told = Audience(result.show, result.names)
        fill(system, ([] if record is None else report.outputs(told, record)) or [par(nothing)])
        findings.tell(here, result, () if record is None else record.findings)

    here.live(tell)


class _Pair:
    """One pair: its gate, and behind it its readings."""

    def __init__(self, here: Tab, number: int) -> None:
        self._here, self._at = here, ("pair", number)
        self._entries: dict[str, InputField] = {}
        self._fold = ui.element("details").props(f'id="pair-{number}"')
        self._told = False
        with self._fold:
            with ui.element("summary"):
                self._name = text("span", "")
            self._says = status("figure")
            self._gate = GateTicks(here, "pair")
            self._shut = text("p", "Nothing may be read on this pair before all of it is confirmed.", "note")
            self._open = ui.element("div").classes("form narrow")
            with self._open:
                for key, *said in _READINGS:
                    fid = f"pair-{number}-{key.replace('_', '-')}"
                    self._entries[key] = InputField(fid, *said, on_commit=partial(self._commit, key))
            link("Whose it is, its colors, what was seen", f"/survey/pair/{number}", "go")

    def tell(self, row: dict[str, Any], found: PairFound | None, result: Assessment | None) -> None:
        colors = row.get("colors") or ()
        place = " ".join(filter(None, (row.get("opening", "opening not entered"), row.get("side", ""))))
        mark = verdict("caution" if found is None else found.says.checks[0].verdict)
        whose = f"{place}, {' and '.join(colors) or 'colors not read'}, {row.get('ends_at', 'unknown')}"
        self._name.say(f"{mark}  {row.get('id')}: {whose}")
        said = "" if found is None or result is None else words(found.says.checks[0].title, result.show) or ""
        self._says.say(said)
        if found is not None and not self._told:  # what is settled stands folded
            self._told = True
            self._fold._props["open"] = found.says.checks[0].verdict != "ok"
            self._fold.update()
        session, at = self._here.board.session, int(self._at[1])
        may = False
        if session is not None and at < len(session.job.file.pair):
            table = session.job.file.pair[at]
            may = self._gate.tell(table.id, about("pair", table), session.job.gates.unvouched("pair", table))
        self._open.set_visibility(may)
        self._shut.set_visibility(not may)
        self._entries["cone"].set_visibility(row.get("ends_at") == "woofer" and row.get("capacitor") is not True)
        for key, entry in self._entries.items():
            value = row.get(key)
            entry.say(value="" if value is None else str(value).lower() if isinstance(value, bool) else str(value))

    async def _commit(self, key: str, value: str, seen: str) -> None:
        problems = await self._here.board.put((*self._at, key), value.strip() or None, seen=seen)
        self._entries[key].say(error=problem_words(problems), **({} if problems else {"value": value.strip()}))


def _outputs(here: Tab, box: Any, gates: dict[str, GateTicks]) -> None:
    """The gate of each factory output: it is read while it is live."""
    session = here.board.session
    rows = () if session is None else session.job.file.factory_output
    if list(gates) != [row.id for row in rows]:
        gates.clear()
        box.clear()
        with box:
            if rows:
                text("h2", "Before a factory output is read")
                text("p", "It plays while it is read. The battery comes on only when every airbag, belt and seat connector is "
                     "closed; the vehicle maker's service information comes first.", "alarm mild")  # fmt: skip
            for row in rows:
                with ui.element("details").props(f'id="output-gate-{row.id}"'):
                    with ui.element("summary"):
                        text("span", row.id)
                    gates[row.id] = GateTicks(here, "output")
    for row in rows:
        assert session is not None
        gates[row.id].tell(row.id, about("output", row), session.job.gates.unvouched("output", row))
