"""Where a job starts: six readings, and beside them what they come to; a file that has to be put right first."""

from __future__ import annotations

from functools import partial
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PlaceResult
from backwave.bench.findings import of_step
from backwave.bench.page_frame import MARK, Tab
from backwave.bench.schema_form import with_unit
from backwave.bench.widgets import InputField, Paper, Picture, button, link, sketch, status, text
from backwave.drawing.section import section_sheet
from backwave.drawing.sheet import to_svg
from backwave.finding import words
from backwave.job import FILE
from backwave.job.starter import ASKED, wrong
from backwave.units import parse, show

# of each reading: its name, how it is taken, and the dimension of the sketch that lights up
_ASKED = {
    "hole": ("Hole in the metal", "Caliper across the hole, twice, at right angles.", "hole.diameter"),
    "behind": ("Depth behind", "Window down. A stick from a straightedge on the metal to the glass: the minimum, all round.", "behind.clear"),
    "trim": ("Metal to grille", "Trim seated on a ball of putty: metal to the back of the grille.", "trim.clear"),
    "cutout": ("Speaker cutout", "Data sheet: the hole that the speaker asks for.", "cutout"),
    "magnet": ("Magnet diameter", "Data sheet, or caliper across the magnet.", "magnet"),
    "depth": ("Mounting depth", "Data sheet: from the rim to the back of the magnet.", "depth"),
}  # fmt: skip
_SPEAKER = ("cutout", "magnet", "depth")
_FILES = {"check_ring": "Test ring (STL)", "3mf": "The part (3MF)", "template": "1:1 paper (PDF)"}
_NEXT = "(e) => { e.preventDefault(); const all = [...document.querySelectorAll('.first :is(input, .main)')]; all[all.indexOf(e.target) + 1]?.focus(); }"
MAX_SAID = 3  # of what is left to check


def begin(here: Tab) -> None:
    """A new job by six readings; a plain number is in millimeters."""
    said: dict[str, str] = {}
    entries: dict[str, InputField] = {}

    def keep(name: str, value: str, _: str) -> None:
        said[name] = value = with_unit(value)
        error = wrong(name, value) if value else ""
        read = [] if error or not value else [parse(one, "length") for one in value.split(";")]
        told = "; ".join(show(one.to("mm"), "mm") for one in read) if any(one.unit != "mm" for one in read) else ""
        entries[name].say(value=value, error=error, understood=told)

    def light(name: str) -> None:
        _, how, key = _ASKED[name]
        picture.say(svg=sketch("speaker" if name in _SPEAKER else "opening"), lit=key)
        meaning.say(f"{ASKED[name].capitalize()}. {how}")

    async def start() -> None:
        problems = await here.board.begin("", said)
        for problem in problems:
            if (entry := entries.get(problem.key.removeprefix("--"))) is not None:
                entry.say(error=f"{problem.message}; accepted: {problem.accepted}")
            else:
                meaning.say(str(problem))
        if not problems:
            ui.navigate.to("/start" if all(said.get(name) for name in ASKED) else "/survey")

    with ui.element("div").classes("first"):
        text("h1", "A new job: six readings")
        with ui.element("aside").props('aria-label="Sketch"'):
            picture = Picture(sketch("opening"))
            meaning = text("p", "Tap a field: the sketch shows what it means. Plain numbers are mm; 58 ± 1 mm and 2 1/4 in will do.",
                           "note", aria_live="polite")  # fmt: skip
        with ui.element("div").classes("six") as six:
            for name, (label, _, _) in _ASKED.items():
                entries[name] = InputField(
                    f"new-{name}", label, on_commit=partial(keep, name), on_lit=partial(light, name)
                )
        six.on("keydown.enter", js_handler=_NEXT)
        button("Start the job", start, "main")
        text("p", "Before the trim comes off: disconnect the battery and wait as long as the vehicle maker's service information says. "
                  "Doors carry airbags and the sensors that fire them. What is not measured yet can wait: leave it empty.", "note")  # fmt: skip


def answer(here: Tab) -> None:
    """What the first readings come to: does it go in, with which part, what is left to check, and what to print now."""
    text("h1", "First answer", "unseen")
    state = status()
    with ui.element("div").classes("first"):
        told = ui.element("section").classes("block answer")
        files = ui.element("div").classes("row")
        with ui.element("div").classes("row"):
            link("Measure more", "/survey", "go")
            link("All of the job", "/", "go")
        picture = Picture()
    held: dict[str, Any] = {}

    def tell() -> None:
        result = here.board.result
        place = None if result is None or not result.places else result.places[0]
        if result is None or place is None:
            state.say(
                "Working it out …" if result is None else "No speaker for this opening yet: enter it under Measure."
            )
            return
        solids = here.board.solids
        if here.news(held, result):
            state.say("")
            solids.ask(place.part.id)
            _answer(told, here, result, place)
            picture.say(svg=to_svg(section_sheet(place, medium="phone", system=result.show), "auto"))
        good, fresh, progress, wrong = solids.state(place.part.id)
        now = (good if fresh else None, progress is None, wrong)
        if held.get("files") == now:
            return
        held["files"] = now
        files.clear()
        with files:
            if good is None or not fresh:
                text("p", wrong or "The files to print are being made …", "note", role="status")
                return
            for kind, name in _FILES.items():
                if kind in good.made.files:
                    link(name, f"/made/{good.digest}/{kind}", "chip", download=good.made.files[kind])

    here.live(tell)


def _answer(box: ui.element, here: Tab, result: Assessment, place: PlaceResult) -> None:
    system, part = result.show, place.part
    mine = [f for f in result.findings if f.subject == place.subject and f.check.verdict != "ok" and not f.check.waits]
    stops = [f for f in mine if f.check.verdict == "stop"]
    word = "It does not go in like this" if stops else "Goes in, as far as it was measured" if mine else "Goes in"
    screw = place.screws.driver
    made = [f"{show(part.spec.thickness_mm, 'mm', system)} ring of {part.material.name}"]
    if screw is not None and screw.length_mm is not None:
        made.append(f"speaker screws {screw.size} x {screw.length_mm:g}")
    steps = [one for one in result.next_steps() if any(id_.endswith(f"@{place.subject}") for id_ in one.settles)]
    box.clear()
    with box:
        verdict = "stop" if stops else "caution" if mine else "ok"
        text("p", f"{MARK[verdict]} {word}.", f"seal {verdict}")
        text("p", ", ".join(made) + ". " + ("" if screw is not None else "Screws: once the speaker's holes are entered. ")
                  + (f"{len(steps)} to check:" if steps else "Nothing left to check."))  # fmt: skip
        with ui.element("ul"):
            for one in steps[:MAX_SAID]:
                with ui.element("li"):
                    link(f"{words(one.do, system)} ({one.minutes:.0f} min)", of_step(here.board, one), "go")
        if len(steps) > MAX_SAID:
            link(f"and {len(steps) - MAX_SAID} more", "/", "go")


def repair(here: Tab) -> None:
    """The place while the job file is wrong from the start: its text, what is wrong at which line, saved when it is right."""
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
