"""The place while the job file is wrong from the start: its text, what is wrong at which line, saved when it is right."""

from __future__ import annotations

from nicegui import ui

from backwave.bench.page_frame import Tab, text
from backwave.bench.widgets import Paper
from backwave.job import FILE


def repair(here: Tab) -> None:
    """The place."""
    text("h1", "The job file is not right yet")
    text("p", "Put it right here, or in a text editor: the page goes on by itself as soon as the file is a job. "
              "What it was is kept beside it.")  # fmt: skip

    async def save(typed: str) -> None:
        if not await here.board.mend(typed):
            paper.say(note="Not saved: this is not right either. What is wrong stands above.")
            tell()

    def tell() -> None:
        found = here.board.repair
        if found is None:
            ui.run_javascript("location.reload()")
            return
        rows = [
            {"line": p.line if p.file == FILE else None, "file": p.file, "key": p.key,
             "said": p.message + (f": {p.found}" if p.found else "") + (f". Accepted: {p.accepted}" if p.accepted else "")
                     + (f". Did you mean {p.nearest}?" if p.nearest else "")}
            for p in found.problems
        ]  # fmt: skip
        paper.say(text=found.text.replace("\r\n", "\n"), problems=rows)

    paper = Paper(save)
    here.live(tell)
