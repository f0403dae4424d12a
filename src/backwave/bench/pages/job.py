"""Job: what this is, how far along, what is open; beside it why a number is so, and who has access."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from nicegui import ui

from backwave.assess.result import above
from backwave.bench.access import AccessDevice
from backwave.bench.findings import Assumptions, Findings, NextSteps, of_finding
from backwave.bench.page_frame import Tab, verdict
from backwave.bench.widgets import Picture, blocks, button, link, text
from backwave.bench.work_sync import WorkSync
from backwave.drawing.plan_view import plan_svg
from backwave.errors import BackwaveError
from backwave.finding import Finding, is_room, sentences, words
from backwave.report.blocks import Audience, working

MAX_STEPS = 5  # above the findings, as in next.js


def job(here: Tab) -> None:
    """The place: what to do next, what is open; beside it the vehicle from above and what can hurt."""
    text("h1", "Job", "unseen")
    work = WorkSync(here.board)
    with ui.element("div").classes("bench job"):
        with ui.element("div").classes("block"):
            text("h2", "Next")
            steps = NextSteps()
            text("h2", "Open issues")
            findings = Findings()
            with ui.element("details"):
                count = text("summary", "")
                assumed = Assumptions()
        with ui.element("div").classes("block"):
            picture = Picture()
            text("h2", "Before anything is taken apart or drilled")
            cautions = ui.element("ul").classes("cautions")
            text("p", "The vehicle maker's service information goes before all of this.", "note")
    held: dict[str, object] = {}

    def tell() -> None:
        session, result = here.board.session, here.board.result
        if session is None or result is None or not here.news(held, result):
            return
        view = above(session.job, result)
        view = replace(view, places=tuple(replace(p, words="") for p in view.places))  # the list beside it says them
        picture.say(svg=plan_svg(view, "auto", compact=True, system=result.show))
        try:
            made = work.working()
        except BackwaveError:  # told where the work is shown
            made = None
        rows = result.next_steps(() if made is None else made[0].rows)
        steps.tell(here, result, rows)
        findings.tell(here, result, result.findings, rows[:MAX_STEPS])
        assumed.tell(here, result)
        count.say(f"{len(result.assumed)} values assumed, because not entered")
        warned = tuple(f.id for f in result.cautions)
        if held.get("warned") != warned:
            held["warned"] = warned
            cautions.clear()
            with cautions:
                for finding in result.cautions:
                    text("li", sentences(finding.check, result.show))

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
    blocks(working(Audience(system, result.names), check))
    if is_room(check):
        step, fine = ("0.02 in", "0.001 in") if system == "us" else ("0.5 mm", "0.1 mm")
        text("p", f"In sentences room is rounded to steps of {step}, on the safe side; drawings show {fine}.", "note")
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
                text(
                    "p",
                    "Who has it can see and change this job"
                    + ("." if addresses.encrypted else "; what is sent is not encrypted."),
                    "note",
                )

    with ui.element("div").classes("row"):
        button("Let in one more browser on this machine", partial(let_in, True), "plain")
        if addresses.lan:
            button("Let in one more phone or computer", partial(let_in, False), "plain")
        else:
            text("p", "For a phone, start the workbench with: backwave open --lan", "note")
    told.move(target_index=-1)
