"""Job: what this is, how far along, what is open; beside it why a number is so, who has access, a file put right."""

from __future__ import annotations

from functools import partial

from nicegui import ui

from backwave.assess.result import above
from backwave.bench.access import AccessDevice
from backwave.bench.findings import Assumptions, Findings, of_finding
from backwave.bench.page_frame import Tab, verdict
from backwave.bench.schema_form import sketch
from backwave.bench.widgets import InputField, Paper, Picture, button, facts, link, listed, text
from backwave.drawing.plan_view import plan_svg
from backwave.finding import Finding, in_a_word, percent, sentences, words
from backwave.job import FILE
from backwave.job.starter import ASKED
from backwave.notation.measures import in_words
from backwave.units import show


def job(here: Tab) -> None:
    """The place: the vehicle from above, the findings worst first."""
    if here.board.session is None:
        _begin(here)
        return
    text("h1", "Job", "unseen")
    picture = Picture()
    with ui.element("section").classes("block"):
        text("h2", "Open issues")
        findings = Findings()
    with ui.element("section").classes("block"):
        text("h2", "Before anything is taken apart or drilled")
        cautions = ui.element("ul").classes("cautions")
        text("p", "What the vehicle maker's service information says goes before this.", "note")
    with ui.element("section").classes("block"):
        text("h2", "Assumed, because nobody said otherwise")
        assumed = Assumptions()
    held: dict[str, object] = {}

    def tell() -> None:
        session, result = here.board.session, here.board.result
        if session is None or result is None or not here.news(held, result):
            return
        view = above(session.job, result)
        picture.say(svg=plan_svg(view, "auto", compact=here.narrow, system=result.show))
        findings.tell(here, result, result.findings)
        assumed.tell(here, result)
        warned = tuple(f.id for f in result.cautions)
        if held.get("warned") != warned:
            held["warned"] = warned
            cautions.clear()
            with cautions:
                for finding in result.cautions:
                    text("li", sentences(finding.check, result.show))

    here.live(tell)


def _begin(here: Tab) -> None:
    """A new job by six readings."""
    said: dict[str, str] = {}
    text("h1", "A new job")
    text("p", 'Six readings give a first verdict, each as you would write it: "143.5 mm", "58 ± 1 mm", "2 1/4 in". '
              "What is not measured yet can wait; it is asked for afterwards.")  # fmt: skip
    text("p", "Before the trim comes off: disconnect the battery and wait as long as the vehicle maker's service "
              "information says. Doors carry airbags and the sensors that fire them.", "note")  # fmt: skip
    entries: dict[str, InputField] = {}

    def keep(name: str, value: str, _: str) -> None:
        said[name] = value
        entries[name].say(value=value, error="")

    def light(name: str) -> None:
        about = "speaker" if name in ("cutout", "magnet", "depth") else "opening"
        key = {"hole": "hole.diameter", "behind": "behind.clear", "trim": "trim.clear"}.get(name, name)
        picture.say(svg=sketch(about), lit=key)

    async def start() -> None:
        problems = await here.board.begin(said.get("title", ""), {k: v for k, v in said.items() if k != "title"})
        for problem in problems:
            name = problem.key.removeprefix("--")
            if name in entries:
                entries[name].say(error=f"{problem.message}; accepted: {problem.accepted}")
        if not problems:
            ui.navigate.to("/section" if all(said.get(k) for k in ASKED) else "/survey")

    with ui.element("div").classes("bench"):
        form = ui.element("div").classes("form")
        with ui.element("aside").classes("beside").props('aria-label="Sketch"'):
            picture = Picture(sketch("opening"))
    with form:
        names = {"title": "What the job is called"} | {k: v[:1].upper() + v[1:] for k, v in ASKED.items()}
        for name, label in names.items():
            entries[name] = InputField(f"new-{name}", label, on_commit=partial(keep, name), on_lit=partial(light, name))
        button("Start the job", start, "plain main")


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


def why(here: Tab, id_: str) -> None:
    """The working behind one number: the formula, what went in, where each came from."""
    body = ui.element("article").classes("why")
    held: dict[str, object] = {}

    def tell() -> None:
        result = here.board.result
        if result is None or not here.news(held, result):
            return
        found = next((f for f in (*result.findings, *result.cautions) if f.id == id_), None)
        body.clear()
        with body:
            if found is None:
                text("h1", "That number is no longer there")
                link("All findings", "/", "go")
            else:
                _working(here, found)

    here.live(tell)


def _working(here: Tab, found: Finding) -> None:
    result, check = here.board.result, found.check
    assert result is not None
    system = result.show
    text("p", f"{verdict(check.verdict)} · {result.names.get(found.subject, found.subject)}", f"mark {check.verdict}")
    text("h1", words(check.title, system) or "")
    if check.remedy is not None:
        text("p", f"→ {words(check.remedy, system)}")
    ends = {"value": check.value, "2.5 % point": check.low, "97.5 % point": check.high, "limit": check.limit}
    rows = [(name, show(value, check.unit, system)) for name, value in ends.items() if value is not None]
    if check.chance is not None:
        rows.append(("chance that the limit is kept", f"{in_a_word(check.chance)}, {percent(check.chance)}"))
    facts(rows)
    if check.working:
        region = ui.element("div").classes("scroll").props('tabindex="0" role="region" aria-label="The working"')
        with region, ui.element("table"):
            with ui.element("thead"), ui.element("tr"):
                for head in ("", "what it is", "value", "from"):
                    text("th", head).props('scope="col"')
            with ui.element("tbody"):
                for step in check.working:
                    with ui.element("tr"):
                        text("td", step.symbol, "figure")
                        text("td", step.meaning)
                        text("td", "" if step.value is None else show(step.value, step.unit, system), "figure right")
                        text("td", in_words(step.source, system), "note")
    if check.sources:
        text("h2", "Sources")
        listed(in_words(source, system) for source in check.sources)
    with ui.element("div").classes("row"):
        link("Go to what answers it", of_finding(here.board, found), "go")
        link("All findings", "/", "go")
    text("p", found.id, "note")


def devices(here: Tab) -> None:
    """Which browsers have access to this job; one more let in, access taken back."""
    addresses, own = here.addresses, here.device
    if addresses is None or own is None:
        return
    text("h1", "Devices that have access")
    text("p", "Each of them can see and change this job until the workbench is stopped.", "note")
    body = ui.element("div").classes("block devices")
    shown: list[object] = [None]

    def back(device: AccessDevice) -> None:
        addresses.access.take_back(device.id)
        here.board.again()

    def tell() -> None:
        now = addresses.access.devices
        if now == shown[0]:
            return
        shown[0] = now
        body.clear()
        with body, ui.element("table"):
            with ui.element("thead"), ui.element("tr"):
                for words in ("Device", "Where", "Let in", ""):
                    text("th", words)
            with ui.element("tbody"):
                for device in now:
                    with ui.element("tr"):
                        text("th", device.kind + (" (this one)" if device is own else "")).props('scope="row"')
                        text("td", "this machine" if device.here else device.address, "figure")
                        text("td", f"{device.since:%H:%M}", "figure")
                        with ui.element("td"):
                            if own.here and device is not own:
                                words = f"Take back access from {device.kind}, {device.since:%H:%M}"
                                button("Take back", partial(back, device), "plain", aria_label=words)

    here.live(tell)
    if not own.here:
        text("p", "Access is given and taken back on the machine where the workbench runs.", "note")
        return
    told = ui.element("div").classes("block")

    def let_in(here_too: bool) -> None:
        told.clear()
        with told:
            text("p", addresses.address(here=here_too), "figure key")
            text("p", "Open this address in the other browser. It works once.", "note")
            if not here_too:
                text("p", "Who has it can see and change this job; what is sent is not encrypted.", "note")

    with ui.element("div").classes("row"):
        button("Let in one more browser on this machine", partial(let_in, True), "plain")
        if addresses.lan:
            button("Let in one more phone or computer", partial(let_in, False), "plain")
        else:
            text("p", "For a phone, start the workbench with: backwave open --lan", "note")
    told.move(target_index=-1)
