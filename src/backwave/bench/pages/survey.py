"""Survey: every reading and choice of the job, beside a sketch that lights up the dimension being typed.

Beside an opening or a driver the shelf: save it there, take another from it, or from a file handed over."""

from __future__ import annotations

import copy
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import context, events, ui

from backwave.bench import schema_form
from backwave.bench.findings import of_key
from backwave.bench.gates import careful
from backwave.bench.page_frame import Tab
from backwave.bench.schema_form import Field, FormTable, sketch
from backwave.bench.widgets import InputField, Picture, button, link, problem_words, status, text, way
from backwave.errors import BackwaveError
from backwave.job import shelf
from backwave.job.gates import READINGS, TABLES_OF
from backwave.job.model import TABLES
from backwave.job.shelf import Shelved, parsed
from backwave.job.toml_spans import KeyPath, at, typed, written
from backwave.job.undo import Append, Put, Remove
from backwave.notation.measures import in_words
from backwave.stock import shipped
from backwave.units import show

_NEW = {"opening": ("id",), "speaker": ("id",), "adapter": ("opening", "speaker", "material")}
_SKETCHED = ("opening", "speaker", "adapter", "margins")
_INSTRUMENTS = ("caliper", "gauge", "tape", "default")
MAX_BYTES = 200_000
_READ = """async (event) => {
  const [file] = event.target.files;
  if (!file) return;
  const fits = file.name.endsWith(".toml") && file.size <= MOST;
  let words = null;
  if (fits)
    try { words = new TextDecoder("utf-8", {fatal: true}).decode(await file.arrayBuffer()); } catch {}
  event.target.value = "";
  emit(file.name, words, fits);
}""".replace("MOST", str(MAX_BYTES))


def survey(here: Tab, top: str = "", row: str = "0") -> None:
    if here.board.session is None:
        link("There is no job yet: start one", "/", "go")
        return
    tables = {table.key: (table, many) for table, many in schema_form.tops()}
    top = top or ("opening" if here.board.data.get("opening") else "vehicle")
    if top != "job" and top not in tables and top != "instruments":
        top = "job" if any(f.key == top for f in schema_form.table().fields) else "opening"
    path: KeyPath = (top, int(row) if row.isdigit() else 0) if top in tables and tables[top][1] else (top,)
    text("h1", "Survey", "unseen")
    ways = ui.element("nav").props('aria-label="Tables of the job"')
    with ui.element("div").classes("bench"):
        sheet = ui.element("div").classes("form")
        with ui.element("aside").classes("beside").props('aria-label="Sketch"') as beside:
            picture = Picture(sketch("speaker" if top == "speaker" else "opening"))
    beside.set_visibility(top in _SKETCHED)
    page = _Page(here, picture)
    built: list[Any] = [None]

    def tell() -> None:
        shape = _shape(here.board.data)
        if built[0] != shape:
            built[0] = shape
            ways.clear()
            with ways:
                _ways(here, path)
            sheet.clear()
            page.entries.clear()
            with sheet:
                _sheet(page, path)
        page.fill()

    def rebuild() -> None:
        built[0] = None
        tell()

    page.rebuild = rebuild
    here.live(tell)


class _Page:
    def __init__(self, here: Tab, picture: Picture) -> None:
        self.here, self.picture, self.client = here, picture, context.client
        self.entries: list[tuple[InputField, Field, KeyPath]] = []
        self.drafts: dict[KeyPath, dict[str, Any]] = {}  # tables that are not in the job yet
        self.opened: set[KeyPath] = set()
        self.troubled: set[KeyPath | None] = set()  # what the job takes and the computation does not
        self.rebuild: Callable[[], Any] = lambda: None

    def fill(self) -> None:
        data = self.here.board.data
        wrong = {of_key(data, p.key): problem_words((p,)) for p in self.here.board.trouble}
        for entry, field, path in self.entries:
            draft = next((d for p, d in self.drafts.items() if p == path[:-1]), None)
            value = draft.get(field.key) if draft is not None else at(data, path)
            now = written(value)
            told: dict[str, Any] = {"value": now, "understood": schema_form.understood(field, value, self.here.system)}
            if path in wrong:
                told["error"] = wrong[path]
            elif now != entry._props["value"] or path in self.troubled:
                told["error"] = ""
            entry.say(**told)
        self.troubled = set(wrong)

    def entry(self, field: Field, path: KeyPath) -> None:
        fid = schema_form.field_id(path)
        options = field.options
        data = self.here.board.data
        if field.key == "by":
            options = tuple(data.get("instruments", {})) or _INSTRUMENTS[:3]
        elif field.key in TABLES and TABLES[field.key].named and path[0] != field.key and field.kind == "text":
            options = tuple(r["id"] for r in data.get(field.key, []) if "id" in r)
        elif field.key == "material":
            own = data.get("stock", {}).get("material", [])
            options = tuple(sorted({r.name for r in shipped().rows("material")} | {r.get("name", "") for r in own}))
        system = self.here.system
        entry = InputField(
            fid, field.label, in_words(field.hint, system) + ("" if field.used else " (not used yet)"), field.kind, options,
            on_commit=lambda value, seen: self.commit(field, path, value, seen),
            on_lit=lambda: self.picture.say(lit=schema_form.key_name(path)),
            assumed=in_words(field.assumed, system), why=in_words(field.why, system), required=field.required, removable=not field.required,
            unused=not field.used,
        )  # fmt: skip
        self.entries.append((entry, field, path))

    async def commit(self, field: Field, path: KeyPath, value: str, seen: str) -> None:
        entry = next(e for e, _, p in self.entries if p == path)
        parent = path[:-1]
        if parent and at(self.here.board.data, parent) is None:
            await self._draft(entry, parent, field.key, value)
            return
        problems = await self.here.board.put(path, value.strip() or None, seen=seen)
        entry.say(error=problem_words(problems), **({} if problems else {"value": value.strip()}))

    async def _draft(self, entry: InputField, parent: KeyPath, key: str, value: str) -> None:
        """A table that is not there yet goes into the job as soon as it is whole."""
        draft = self.drafts.setdefault(parent, {})
        draft.pop(key, None)
        if value.strip():
            held = typed(value)[0]
            bare = value.strip()[:1] in "[{" or isinstance(held, (int, float, bool))
            draft[key] = held if bare else value.strip()
        row = len(parent) == 2 and isinstance(parent[1], int)
        whole = Append(str(parent[0]), dict(draft)) if row else Put(parent, dict(draft))
        problems = await self.here.board.change([whole]) if draft else ()
        if draft and not problems:
            self.drafts.pop(parent, None)
            self.fill()
            return
        own = [p for p in problems if p.key.endswith(f".{key}") or p.key.endswith(f"]{key}")]
        missing = sorted({p.key.rpartition(".")[2] for p in problems if p not in own})
        waits = f"Still needed: {', '.join(missing)}" if missing else ""
        entry.say(value=value.strip(), error=problem_words(own) or waits)


def _shape(data: Any) -> Any:
    """What decides which fields there are."""
    if isinstance(data, dict):
        return tuple((k, _shape(v)) for k, v in data.items() if isinstance(v, (dict, list)))
    if isinstance(data, list):
        return tuple(_shape(v) for v in data) if any(isinstance(v, dict) for v in data) else "list"
    return None


def _ways(here: Tab, chosen: KeyPath) -> None:
    """The tables, and under them the rows of the one that is open."""
    data = here.board.data

    def table_way(name: str, to: KeyPath, chosen: bool) -> None:
        way(name, "/survey/" + "/".join(map(str, to)), chosen)

    with ui.element("div").classes("chooser"):
        table_way("Job", ("job",), chosen[0] == "job")
        for table, many in schema_form.tops():
            name = TABLES[table.key].topic.many or table.label
            table_way(name, (table.key, 0) if many else (table.key,), chosen[0] == table.key)
            if table.key == "vehicle":
                table_way("Instruments", ("instruments",), chosen[0] == "instruments")
    if len(chosen) < 2:
        return
    top, rows = str(chosen[0]), data.get(str(chosen[0]), [])
    with ui.element("div").classes("chooser second"):
        for n, row in enumerate(rows):
            name = row.get("name") or row.get("title") or row.get("id") or f"{n + 1}"
            if top == "adapter":
                name = f"{row.get('opening')}, {row.get('speaker')}"
            table_way(name, (top, n), chosen == (top, n))
        name, new = TABLES[top].topic.one or schema_form.table(top).label, (top, len(rows))
        table_way(f"+ {name.lower()}", new, chosen == new)


def _sheet(page: _Page, path: KeyPath) -> None:
    top, data = str(path[0]), page.here.board.data
    if top == "job":
        text("h2", "The job")
        for field in schema_form.table().fields:
            if field.key in ("title", "show"):
                page.entry(field, (field.key,))
        return
    if top == "instruments":
        _instruments(page)
        return
    table = schema_form.table(top)
    if len(path) > 1:
        row = at(data, path)
        name = TABLES[top].topic.one or table.label
        which = row and (row.get("name") or row.get("id") or int(path[1]) + 1)
        text("h2", f"{name}: {which}" if row else f"A new {name.lower()}")
        if row:
            with ui.element("div").classes("row"):
                if "id" in row:
                    button("Duplicate", lambda: _duplicate(page, path), "plain")
                button("Delete", lambda: _delete(page, path), "plain")
        if top in ("opening", "speaker"):
            _shelf(page.here, top, row.get("id") if row else None)
    else:
        text("h2", table.label)
        text("p", in_words(table.hint, page.here.system), "note")
    careful(top)
    _fields(page, table, path)


def _fields(page: _Page, table: FormTable, path: KeyPath) -> None:
    present = at(page.here.board.data, path) is not None
    only = _NEW.get(str(path[0])) if len(path) == 2 and not present else None
    for field in table.fields:
        if only is None or field.key in only:
            page.entry(field, (*path, field.key))
    if only is None:
        for below, many in table.below:
            _below(page, below, (*path, below.key), many)


def _below(page: _Page, table: FormTable, path: KeyPath, many: bool) -> None:
    held = at(page.here.board.data, path)
    if held is None and path not in page.opened:
        with ui.element("div").classes("absent").props(f'id="{schema_form.field_id(path)}"'):
            button(f"+ {table.label}", lambda: _open(page, path), "plain")
            text("span", in_words(table.hint, page.here.system), "note")
        return
    with ui.element("fieldset").props(f'id="{schema_form.field_id(path)}" tabindex="-1"'):
        text("legend", table.label)
        text("p", in_words(table.hint, page.here.system), "note")
        if not many:
            _fields(page, table, path)
            if held is not None:
                button(f"Delete {table.label.lower()}", lambda: _delete(page, path), "quiet wide")
            return
        rows = held or []
        for n in range(len(rows)):
            with ui.element("fieldset").classes("one"):
                text("legend", f"{table.label} {n + 1}")
                _fields(page, table, (*path, n))
                button(f"Delete {table.label.lower()} {n + 1}", partial(_delete, page, (*path, n)), "quiet wide")
        new = (*path, len(rows))
        if new in page.opened or not rows:
            with ui.element("fieldset").classes("one"):
                text("legend", f"{table.label} {len(rows) + 1}, new")
                _fields(page, table, new)
        else:
            button(f"+ another ({table.label.lower()})", lambda: _open(page, new), "plain")


def _open(page: _Page, path: KeyPath) -> None:
    page.opened.add(path)
    page.rebuild()


def _instruments(page: _Page) -> None:
    text("h2", "Instruments")
    text("p", "What each may be out by, either way. “default” stands for every reading that names none.", "note")
    held = page.here.board.data.get("instruments", {})
    for name in dict.fromkeys((*held, *_INSTRUMENTS)):
        field = Field(name, name, "", "text", (), "length", "", "", False, True)
        page.entry(field, ("instruments", name))
    said = {"name": ""}

    async def add() -> None:
        if said["name"].strip():
            problems = await page.here.board.put(("instruments", said["name"].strip()), "1 mm")
            new.say(error=problem_words(problems), value="" if not problems else said["name"])

    new = InputField("new-instrument", "Another instrument", "its name; then say what it may be out by",
                on_commit=lambda value, _: said.__setitem__("name", value))  # fmt: skip
    button(f"Add it with ± {show(1.0, 'mm', page.here.system)}", add, "plain")


async def _duplicate(page: _Page, path: KeyPath) -> None:
    data, top = page.here.board.data, str(path[0])
    row = copy.deepcopy(at(data, path))
    taken = {r.get("id") for r in data[top]}
    for key in (k for gate, table in TABLES_OF.items() if table == top for k in (*READINGS[gate], "confirmed")):
        row.pop(key, None)  # what was read on one pair was not read on its copy
    row["id"] = next(n for k in range(2, 999) if (n := f"{row['id']}-{k}") not in taken)
    problems = await page.here.board.change([Append(top, row)], f"duplicate {path[0]}")
    with page.client:  # the button has gone with the form it stood in
        if problems:
            ui.notify(problem_words(problems))
        else:
            ui.navigate.to(f"/survey/{top}/{len(data[top])}")


async def _delete(page: _Page, path: KeyPath) -> None:
    row = len(path) == 2 and isinstance(path[1], int)
    problems = await page.here.board.change([Remove(path) if row else Put(path, None)])
    page.opened.discard(path)
    with page.client:
        if problems:
            ui.notify(problem_words(problems))
        elif row:
            ui.navigate.to(f"/survey/{path[0]}")


def _shelf(here: Tab, kind: str, id_: str | None) -> None:
    word = "driver" if kind == "speaker" else "opening"
    client = context.client
    with ui.element("details").classes("shelf"):
        text("summary", f"Shelf: {word}s measured on earlier jobs")
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

            button(f"Save this {word} to the shelf", save, "plain")

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
