"""Measure: what was measured and chosen, by picture and in tables, with the verdict of what is typed beside it.

Beside an opening or a speaker the shelf: save it there, take another from it, or from a file handed over."""

from __future__ import annotations

import copy
import tempfile
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import context, events, ui

from backwave.bench import schema_form
from backwave.bench.gates import careful
from backwave.bench.page_frame import Tab
from backwave.bench.schema_form import Field, FormTable
from backwave.bench.survey_form import INSTRUMENTS, Beside, Form
from backwave.bench.widgets import InputField, button, link, problem_words, status, text, way
from backwave.errors import BackwaveError
from backwave.job import shelf
from backwave.job.gates import READINGS, TABLES_OF
from backwave.job.model import TABLES
from backwave.job.shelf import Shelved, parsed
from backwave.job.toml_spans import KeyPath, at
from backwave.job.undo import Append, Put, Remove
from backwave.notation.measures import in_words
from backwave.units import show

_NEW = {"opening": ("id",), "speaker": ("id",), "adapter": ("opening", "speaker", "material")}
_FIRST = ("vehicle", "margins", "opening", "speaker", "adapter", "printer")
MAX_BYTES = 200_000
_READ = f"(event) => backwaveTyped.file(event, {MAX_BYTES}, emit)"


def survey(here: Tab, top: str = "", row: str = "0") -> None:
    if here.board.session is None:
        link("There is no job yet: start one", "/", "go")
        return
    tables = {table.key: (table, many) for table, many in schema_form.tops()}
    top = top or ("opening" if here.board.data.get("opening") else "vehicle")
    if top != "job" and top not in tables and top != "instruments":
        top = "job" if any(f.key == top for f in schema_form.table().fields) else "opening"
    path: KeyPath = (top, int(row) if row.isdigit() else 0) if top in tables and tables[top][1] else (top,)
    text("h1", "Measure", "unseen")
    ways = ui.element("nav").props('aria-label="Tables of the job"')
    form = Form(here)
    with ui.element("div").classes("bench survey"):
        steps = ui.element("nav").classes("guide").props('aria-label="In this order"')
        sheet = ui.element("div").classes("form")
        with ui.element("aside").classes("beside").props('aria-label="Picture"'):
            beside = Beside(form, path)
    built, guided = list[Any]([None]), list[Any]([None])

    def tell(anew: bool = False) -> None:
        shape = _shape(here.board.data, path)
        if anew or built[0] != shape:
            built[0] = shape
            ways.clear()
            with ways:
                _ways(here, path)
            sheet.clear()
            form.entries, form.tables = list(beside.own), []
            with sheet:
                _sheet(form, path)
        form.fill()
        beside.tell()
        if (order := _order(here, path)) != guided[0]:
            guided[0] = order
            steps.clear()
            with steps:
                _guide(order, path, beside)

    form.rebuild = lambda: tell(anew=True)
    here.live(tell)


def _shape(data: Any, path: KeyPath) -> Any:
    """What decides which fields there are: tables, not the rows of a list that is a table of its own."""
    rows = {name: [r.get("id") for r in held] for name, held in data.items() if isinstance(held, list)}
    return rows, tuple(data), tuple(data.get("instruments", ())), _tables(at(data, path))


def _tables(held: Any) -> Any:
    if not isinstance(held, dict):
        return isinstance(held, list)
    return tuple((k, _tables(v)) for k, v in held.items() if isinstance(v, (dict, list)))


_TOOLS, _LATER = "Vehicle and tools", "Later stages"
_GROUPS = {"fit": _TOOLS, "work": _TOOLS, "sound": "Sound", "power": "Supply", "wire": "Wires", "proof": "Recordings"}


def _groups(data: Any, chosen: KeyPath) -> dict[str, list[tuple[str, KeyPath]]]:
    """The tables to choose from, by group: under "" what is fitted; those of later stages once the job has them."""
    found: dict[str, list[tuple[str, KeyPath]]] = {group: [] for group in ("", *_GROUPS.values(), _LATER)}
    found[_TOOLS] = [("Job", ("job",)), ("Instruments", ("instruments",))]
    for table, many in schema_form.tops():
        topic, there = TABLES[table.key].topic, table.key in _FIRST or data.get(table.key) or chosen[0] == table.key
        path: KeyPath = (table.key, 0) if many else (table.key,)
        found[_GROUPS.get(topic.subject, "") if there else _LATER].append((topic.many or table.label, path))
    return found


def _chips(tables: list[tuple[str, KeyPath]], chosen: KeyPath, wide: int = 1) -> None:
    for name, to in tables:
        way(name, "/survey/" + "/".join(map(str, to)), chosen[:wide] == to[:wide])


def _ways(here: Tab, chosen: KeyPath) -> None:
    """What is fitted, and the other tables in groups that fold open; under them the rows of the one that is open."""
    data = here.board.data
    groups = {group: tables for group, tables in _groups(data, chosen).items() if tables}
    folds: dict[str, tuple[Any, ui.element]] = {}

    def fold(opened: str) -> None:
        for group, (knob, box) in folds.items():
            box.set_visibility(group == opened and not box.visible)
            knob.props(f'aria-expanded="{str(box.visible).lower()}"')

    with ui.element("div").classes("chooser"):
        _chips(groups.pop(""), chosen)
        knobs = {group: button(group, partial(fold, group), "chip group") for group in groups}
    for group, tables in groups.items():
        with ui.element("div").classes("chooser second") as box:
            _chips(tables, chosen)
        folds[group] = knobs[group], box
        box.set_visibility(False)
    fold(next((group for group, tables in groups.items() if chosen[0] in [to[0] for _, to in tables]), ""))
    if len(chosen) < 2:
        return
    top, rows = str(chosen[0]), data.get(str(chosen[0]), [])
    named = [str(row.get("name") or row.get("title") or row.get("id") or n) for n, row in enumerate(rows, 1)]
    if top == "adapter":
        named = [f"{row.get('opening')}, {row.get('speaker')}" for row in rows]
    named.append(f"+ {(TABLES[top].topic.one or schema_form.table(top).label).lower()}")
    with ui.element("div").classes("chooser second"):
        _chips([(name, (top, n)) for n, name in enumerate(named)], chosen, 2)


# where it is entered, what it is, and where it stands: "done", "assumed", "needed", "later"
Step = tuple[str, str, str]
_STEPS = {
    "opening": (("hole", "Hole", True), ("behind", "Depth behind", True), ("trim.clear", "Metal to grille", True),
                ("flange", "Factory footprint", False), ("fixings", "Fixings", False), ("skin", "Metal", False)),
    "speaker": (("cutout", "Cutout", True), ("magnet", "Magnet", True), ("depth", "Mounting depth", True),
                ("frame", "Frame", False), ("holes", "Holes", False), ("terminals", "Terminals", False),
                ("front", "Front", False), ("rim", "Rim", False), ("motor.Xmech", "Excursion", False)),
}  # fmt: skip
_MARKS = {"done": "\u2713", "assumed": "\u2248", "needed": "\u25cb", "later": "\u00b7"}


def _order(here: Tab, path: KeyPath) -> tuple[Step, ...]:
    """What is measured in which order at an opening or a speaker, and where each stands."""
    data, top, row = here.board.data, str(path[0]), at(here.board.data, path)
    if top not in _STEPS or not isinstance(row, dict):
        return ()
    result, found = here.board.result, list[Step]()
    assumed = [] if result is None else [one.key for one in result.assumed]
    for key, name, first in _STEPS[top]:
        there = at(data, (*path, *key.split(".")))
        own = f"{top}.{row.get('id')}.{key}."
        stands = [k for k in assumed if f"{k}.".startswith(own) and not k.endswith("how sure")]
        done = bool(there) or (key in ("magnet", "depth") and bool(row.get("profile")))
        found.append((key, name, "done" if done else "assumed" if stands else "needed" if first else "later"))
    if result is not None and top == "opening":
        mine = [p for p in result.places if p.opening_id == row.get("id")]
        if mine:
            found.append(("unread", "All round", "needed" if any(p.unread for p in mine) else "done"))
    return tuple(found)


def _guide(order: tuple[Step, ...], path: KeyPath, beside: Beside) -> None:
    for key, name, state in order:
        words = f"{_MARKS[state]} {name}" + ("" if state in ("done", "later") else f": {state}")
        pick = beside.unread_first if key == "unread" else partial(beside.pick, {"key": key})
        button(words, pick, f"step {state}", aria_label=f"{name}: {'not entered' if state == 'later' else state}")


def _sheet(form: Form, path: KeyPath) -> None:
    top, data = str(path[0]), form.data
    if top == "job":
        text("h2", "The job")
        for field in schema_form.table().fields:
            if field.key in ("title", "show"):
                form.entry(field, (field.key,))
        return
    if top == "instruments":
        _instruments(form)
        return
    table = schema_form.table(top)
    if len(path) > 1:
        row = at(data, path)
        name = TABLES[top].topic.one or table.label
        which = row and (row.get("name") or row.get("id") or int(path[1]) + 1)
        text("h2", f"{name}: {which}" if row else f"A new {name.lower()}")
    else:
        text("h2", table.label)
        text("p", in_words(table.hint, form.here.system), "note")
    careful(top)
    _fields(form, table, path)
    if row := at(data, path) if len(path) > 1 else None:
        with ui.element("div").classes("ends"):
            if "id" in row:
                button("Duplicate", lambda: _duplicate(form, path), "quiet")
            button("Delete", lambda: _delete(form, path), "quiet")
    if len(path) > 1 and top in ("opening", "speaker"):
        _shelf(form.here, top, row.get("id") if row else None)


def _fields(form: Form, table: FormTable, path: KeyPath) -> None:
    """What is needed first, then the fields of a table side by side, then the rest; what is not there yet as buttons."""
    held = at(form.data, path)
    only = _NEW.get(str(path[0])) if len(path) == 2 and held is None else None
    below, parts = {t.key for t, _ in table.below}, {f.key for f in table.fields}
    plain: list[Field] = []
    listed: list[Field] = []
    for field in table.fields:
        whole = field.key in below and isinstance(at(form.data, (*path, field.key)), dict)  # said in parts, below
        if not whole and (only is None or field.key in only):
            (listed if field.kind in ("pairs", "cells") else plain).append(field)
    absent: list[tuple[str, str, FormTable | None, str]] = []
    first, later = schema_form.in_order(table.below) if only is None else ([], [])
    opening = table.key in schema_form.SIDED and only is None

    def inner(tables: list[tuple[FormTable, bool]]) -> None:
        for one, many in tables:
            there = (*path, one.key)
            if many or isinstance(at(form.data, there), dict) or there in form.opened:
                _below(form, one, there, many, one.key in parts)
            else:
                name = one.label + (" in parts" if one.key in parts else "")
                absent.append((one.key, name, one, "-parts" * (one.key in parts)))

    inner(first)
    with ui.element("div").classes("fields"):
        for field in plain:
            form.entry(field, (*path, field.key))
    for field in listed:
        there = (*path, field.key)
        if at(form.data, there) is None and there not in form.opened:
            absent.append((field.key, field.label, None, ""))
        else:
            with ui.element("fieldset").classes("one").props(f'id="{schema_form.field_id(there)}" tabindex="-1"'):
                text("legend", field.label)
                form.cells(field, there)
    if opening and len(path) == 2:
        _absent(form, path, absent)
        absent.clear()
        with ui.element("details").classes("fold"):
            text("summary", "More of it: the other side, the factory's speaker, the air behind, a tilt, a dummy")
            inner(later)
            _absent(form, path, absent)
        return
    inner(later)
    row = len(path) == 1 or (len(path) == 2 and isinstance(path[1], int))
    _absent(form, path, absent, "" if row or held is None else table.label.lower())


def _absent(form: Form, path: KeyPath, absent: list[tuple[str, str, FormTable | None, str]], whole: str = "") -> None:
    """What can be added, in one row; at its end the way to delete the `whole`."""
    if absent or whole:
        with ui.element("div").classes("absents"):
            text("span", "Add:", "note").set_visibility(bool(absent))
            for key, name, table, end in absent:
                with ui.element("div").classes("absent").props(f'id="{schema_form.field_id((*path, key))}{end}"'):
                    words = name if name[1:2].isupper() else name[:1].lower() + name[1:]
                    button(words, partial(_open, form, (*path, key), table), "add", aria_label=f"Add {words}")
            if whole:
                button(f"Delete {whole}", lambda: _delete(form, path), "quiet end")


def _below(form: Form, table: FormTable, path: KeyPath, many: bool, either: bool) -> None:
    fid = schema_form.field_id(path) + "-parts" * either
    with ui.element("fieldset").props(f'id="{fid}" tabindex="-1"'):
        text("legend", table.label)
        text("p", in_words(table.hint, form.here.system), "note")
        if many:
            row = schema_form.ONE.get(table.key, table.label.lower())
            form.rows(path, table.label, schema_form.ordered(table.fields), row)
        else:
            _fields(form, table, path)


def _open(form: Form, path: KeyPath, table: FormTable | None) -> None:
    """Show what is not there yet, and go to its first field; of points, to the first of them."""
    form.opened.add(path)
    form.rebuild()
    first = None if table is None else schema_form.field_id((*path, table.fields[0].key)) if table.fields else ""
    ui.run_javascript(f"backwaveTyped.reach({first or schema_form.field_id(path)!r})")


def _instruments(form: Form) -> None:
    text("h2", "Instruments")
    text("p", "What each may be out by, either way. \u201cdefault\u201d stands where a reading names none.", "note")
    held = form.data.get("instruments", {})
    for name in dict.fromkeys((*held, *INSTRUMENTS)):
        field = Field(name, name, "", "text", (), "length", "", "", False, True)
        form.entry(field, ("instruments", name))
    said = {"name": ""}

    async def add() -> None:
        if said["name"].strip():
            problems = await form.here.board.put(("instruments", said["name"].strip()), "1 mm")
            new.say(error=problem_words(problems), value="" if not problems else said["name"])

    new = InputField("new-instrument", "Another instrument", "its name; then say what it may be out by",
                on_commit=lambda value, _: said.__setitem__("name", value))  # fmt: skip
    button(f"Add it with \u00b1 {show(1.0, 'mm', form.here.system)}", add, "plain")


async def _duplicate(form: Form, path: KeyPath) -> None:
    data, top = form.here.board.data, str(path[0])
    row = copy.deepcopy(at(data, path))
    taken = {r.get("id") for r in data[top]}
    for key in (k for gate, table in TABLES_OF.items() if table == top for k in (*READINGS[gate], "confirmed")):
        row.pop(key, None)  # what was read on one pair was not read on its copy
    row["id"] = next(n for k in range(2, 999) if (n := f"{row['id']}-{k}") not in taken)
    problems = await form.here.board.change([Append(top, row)], f"duplicate {path[0]}")
    with form.client:  # the button has gone with the form it stood in
        if problems:
            ui.notify(problem_words(problems))
        else:
            ui.navigate.to(f"/survey/{top}/{len(data[top])}")


async def _delete(form: Form, path: KeyPath) -> None:
    row = len(path) == 2 and isinstance(path[1], int)
    problems = await form.here.board.change([Remove(path) if row else Put(path, None)])
    form.opened.discard(path)
    with form.client:
        if problems:
            ui.notify(problem_words(problems))
        elif row:
            ui.navigate.to(f"/survey/{path[0]}")


def _shelf(here: Tab, kind: str, id_: str | None) -> None:
    client = context.client
    with ui.element("details").classes("shelf"):
        text("summary", f"Shelf: {kind}s measured on earlier jobs")
        said = status()
        again = ui.element("ul")

        def tell(words: str, lines: tuple[str, ...] = ()) -> None:
            said.say(words)
            again.clear()
            with again:
                for line in lines:
                    text("li", line)

        async def put_in(entry: Shelved) -> None:
            session = here.board.session
            if session is None:
                return
            try:
                taken = shelf.take(entry, session.job)
            except BackwaveError as error:
                tell(str(error))
                return
            problems = await here.board.change(taken.changes, taken.label)
            if problems:
                tell("; ".join(str(p) for p in problems))
                return
            with client:  # this panel has gone with the form it stood in
                row = next(n for n, r in enumerate(here.board.data[kind]) if r["id"] == taken.id)
                ui.navigate.to(f"/survey/{kind}/{row}")
                ui.notify(f"In the job as {taken.id}. Measure again: " + "; ".join(taken.again), multi_line=True, timeout=0,
                          close_button="Read")  # fmt: skip

        with ui.element("div").classes("rows") as rows:
            _shelved(kind, put_in)
        if id_ is not None:
            who: dict[str, str] = {"who": "", "note": ""}
            InputField("shelf-who", "Who measured it", "", on_commit=lambda v, _: who.__setitem__("who", v))
            InputField("shelf-note", "What else there is to say", "", on_commit=lambda v, _: who.__setitem__("note", v))

            async def save() -> None:
                session = here.board.session
                try:
                    assert session is not None
                    path = await here.board.beside(lambda: shelf.save(session, kind, id_, who["who"], who["note"]))
                except BackwaveError as error:
                    tell(str(error))
                    return
                tell(f"Kept as {path.name}. The file can be handed over as it is.")
                rows.clear()
                with rows:
                    _shelved(kind, put_in)

            button(f"Save this {kind} to the shelf", save, "plain")

        async def handed_over(event: events.GenericEventArguments) -> None:
            name, words, fits = event.args
            if words is None:
                not_text = "That is not a text, so it is no file of a shelf."
                tell(not_text if fits else f"Not taken: a .toml file of at most {MAX_BYTES // 1000} kB.")
                return
            try:
                await put_in(parsed(Path(tempfile.gettempdir()) / Path(name).name, words))
            except BackwaveError as error:
                tell(str(error))

        # The browser reads it: the framework's own way in makes an address for each page, which outlives the page.
        with ui.element("label").classes("file"):
            text("span", "A file handed over (.toml)")
            file = ui.element("input").props('type="file" accept=".toml"')
        file.on("change", handed_over, js_handler=_READ)


def _shelved(kind: str, put_in: Any) -> None:
    listing = shelf.listing()
    found = [e for e in listing.entries if e.kind == kind]
    for entry in found:
        with ui.element("div").classes("assumption"):
            text("span", f"{entry.vehicle + ': ' if entry.vehicle else ''}{entry.name or entry.id}", "key")
            text("span", f"{entry.who}, {entry.when}", "note")
            text("span", entry.note, "note")
            button("take", partial(put_in, entry), "plain", aria_label=f"Take {entry.id} into this job")
    if not found:
        text("p", "Nothing on it yet.", "note")
    for problem in listing.problems:
        text("p", f"Not readable: {problem}", "note")
