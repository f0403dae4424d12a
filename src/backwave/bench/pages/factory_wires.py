"""Wires, the factory's: a record of each pair, nothing read before its gate is confirmed; what the factory system does."""

from __future__ import annotations

from functools import partial
from typing import Any

from nicegui import ui

from backwave.assess import Assessment
from backwave.assess.inputs.factory import FactoryRecord, PairFound
from backwave.bench.findings import Findings
from backwave.bench.gates import GateTicks
from backwave.bench.page_frame import Tab, verdict
from backwave.bench.widgets import InputField, link, problem_words, status, table, text
from backwave.finding import words
from backwave.job.gates import about
from backwave.units import show

_CELL = "One 1.5 V cell, half a second, its plus on the first wire: what did the cone do?"
_READINGS: tuple[Any, ...] = (  # key, label, hint, and for some a kind and its options
    ("resistance", "What the meter shows", 'Such as "3.9 ohm", or open'),
    ("leads", "Its leads touching each other", 'Such as "0.2 ohm"; left out: nothing'),
    ("cone", "The cone at the cell", _CELL, "choice", ("out", "in", "still")),
    ("plus", "Plus was taken to be", "Which wire somebody marked", "choice", ("first", "second")),
    ("by_marks", "By the speaker's own marks", "Read off it and followed by eye", "flag", ("true", "false")),
)


def factory(here: Tab) -> None:
    held: dict[str, Any] = {}
    text("h2", "Finding the factory wires")
    text("p", "An igniter of an airbag or belt tensioner reads about 2 Ω, exactly like a speaker, and a meter can fire it. "
         "So each pair has a gate of its own, and nothing is read before all of it is confirmed. The vehicle maker's "
         "service information comes first.", "alarm mild")  # fmt: skip
    pairs = ui.element("div").classes("block")
    link("+ a pair: its speaker, its colors", f"/survey/pair/{len(here.board.data.get('pair', []))}", "plain")
    system = ui.element("section").classes("block")
    outputs = ui.element("section").classes("block")
    text("h2", "Open issues")
    findings = Findings("Nothing. Every check of the factory's wires is ok.")
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
        system.clear()
        with system:
            _system(record, result)
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


def _system(record: FactoryRecord | None, result: Assessment) -> None:
    text("h2", "What the factory system does")
    if record is None or record.system is None:
        text(
            "p", "What its outputs carry is not entered yet: it takes a sweep on each pair at two volumes, and a meter."
        )
        link("+ a factory output", "/survey/factory_output", "plain")
        return
    rows = []
    for one in record.outputs:
        band = "" if one.band is None else " to ".join(show(q.to("Hz"), "Hz") for q in one.band)
        rows.append(
            (one.id, band, "" if one.loudest is None else show(one.loudest.to("V"), "V"), one.loud_at,
             "" if one.rated is None else show(one.rated.to("ohm"), "ohm"),
             {True: "both wires swing", False: "one is ground", None: "not looked at"}[one.bridge_tied], one.into or "its speaker")
        )  # fmt: skip
    columns = ("output", "band", "loudest", "volume then", "load", "between its wires", "goes to")
    table("Factory outputs", columns, rows, ("loudest", "load"))
    keeps = ", ".join(f"{what} ({pair})" if pair else what for what, pair in record.system.must_sound)
    text("p", f"Must still sound at hand-over: {keeps or 'not entered yet'}.")
    link("Change what was recorded", "/survey/factory_output/0", "go")
