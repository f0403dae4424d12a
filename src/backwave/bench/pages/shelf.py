"""The shelf beside an opening or a driver: save it there, take another from it, or from a file handed over."""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import context, events, ui

from backwave.bench.page_frame import Tab, button, text
from backwave.bench.widgets import InputField
from backwave.errors import BackwaveError, JobError
from backwave.job import shelf
from backwave.job.shelf import Shelved, parsed

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


def panel(here: Tab, kind: str, id_: str | None) -> None:
    """The panel."""
    word = "driver" if kind == "speaker" else "opening"
    client = context.client
    with ui.element("details").classes("shelf"):
        text("summary", f"Shelf: {word}s measured on earlier jobs")
        said = text("p", "", "note")
        said.props('role="status"')
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
            _list(kind, rows, put_in, tell)
        if id_ is not None:
            who: dict[str, str] = {"who": "", "note": ""}
            InputField("shelf-who", "Who measured it", "", on_commit=lambda v, _: who.__setitem__("who", v))
            InputField("shelf-note", "What else there is to say", "", on_commit=lambda v, _: who.__setitem__("note", v))

            async def save() -> None:
                save_it = shelf.save_opening if kind == "opening" else shelf.save_speaker
                session = here.board.session
                try:
                    assert session is not None
                    path = await here.board.beside(lambda: save_it(session, id_, who["who"], who["note"]))
                except (JobError, BackwaveError) as error:
                    tell(str(error))
                    return
                tell(f"Kept as {path.name}. The file can be handed over as it is.")
                rows.clear()
                with rows:
                    _list(kind, rows, put_in, tell)

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


def _list(kind: str, rows: ui.element, put_in: Any, tell: Any) -> None:
    del rows
    listing = shelf.listing()
    found = [e for e in listing.entries if e.kind == kind]
    for entry in found:
        with ui.element("div").classes("assumption"):
            text("span", f"{entry.vehicle + ': ' if entry.vehicle else ''}{entry.name or entry.id}", "key")
            text("span", f"{entry.who}, {entry.when}", "note")
            text("span", entry.note, "note")
            button("take", partial(put_in, entry), "plain", **{"aria-label": f"Take {entry.id} into this job"})
    if not found:
        text("p", "Nothing on it yet.", "note")
    for problem in listing.problems:
        text("p", f"Not readable: {problem}", "note")
    del tell
