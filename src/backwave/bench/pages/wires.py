"""Wires: what goes to what, how thick, which fuse; the harness and its lists, the factory's wires, gains behind their gate."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, Wires
from backwave.bench.careful import careful
from backwave.bench.gate_ticks import GateTicks
from backwave.bench.lists import Findings
from backwave.bench.page_frame import Tab, link, text
from backwave.bench.pages.factory_wires import factory
from backwave.bench.pages.wires_harness import harness, lists
from backwave.bench.widgets import Picture
from backwave.drawing.wiring import supply_svg
from backwave.finding import words
from backwave.units import show

PARTS = {"": "Supply", "harness": "Harness", "lists": "Lists", "factory": "Factory wires", "gains": "Gains"}


def wires(here: Tab, part: str = "") -> None:
    """The place."""
    part = part if part in PARTS else ""
    text("h1", f"Wires: {PARTS[part]}", "unseen")
    with ui.element("nav").props('aria-label="Parts of the wiring"'), ui.element("div").classes("chooser"):
        for name, said in PARTS.items():
            here_ = {"aria-current": "page"} if name == part else {}
            link(said, f"/wires/{name}" if name else "/wires", "chip here" if here_ else "chip", **here_)
    if part in ("harness", "lists", "gains"):
        careful("wire")
    {"": _supply, "harness": harness, "lists": lists, "factory": factory, "gains": _gains}[part](here)


def _supply(here: Tab) -> None:
    held: dict[str, Any] = {}
    nothing = ui.element("div").classes("block")
    body = ui.element("div").classes("block")
    with body:
        cautions = ui.element("section").classes("block")
        picture = Picture()
        sums = ui.element("section").classes("block")
        text("h2", "What stands in the way")
        findings = Findings("Nothing. Every check of the supply is ok.")

    def tell() -> None:
        result = here.board.result
        if not here.news(held, result):
            return
        made = None if result is None else result.wires
        nothing.clear()
        body.set_visibility(made is not None)
        if result is None or made is None:
            with nothing:
                text("p", "Nothing in this job draws current yet.")
                link("Add what does: an amplifier, its feed, its fuses", "/survey/load", "plain")
            return
        picture.say(svg=supply_svg(made, result.title, "auto", compact=here.narrow, system=result.show))
        for box in (cautions, sums):
            box.clear()
        with cautions:
            _cautions(made, result)
        with sums:
            _sums(made, result)
        findings.tell(here, result, made.findings)

    here.live(tell)


def _cautions(made: Wires, result: Assessment) -> None:
    text("h2", "Before anything is touched")
    for caution in made.cautions:
        said, do = (words(t, result.show) for t in (caution.check.title, caution.check.remedy))
        text("p", " ".join(f"{t.rstrip('.')}." for t in (said, do) if t))
    text("p", "Vehicle maker's service information, local codes and licensed practice come first.", "note")


def _sums(made: Wires, result: Assessment) -> None:
    text("h2", "What the vehicle has to give")
    budget, system = made.budget, result.show
    rows = [
        ("with music", show(budget.musical_a, "A", system)),
        ("at rated power", show(budget.rated_a, "A", system)),
        *((f"alternator {w}, to spare", show(a, "A", system)) for w, a in (("at idle", budget.idle_spare_a), ("at speed", budget.speed_spare_a)) if a is not None),
        *([("engine off", f"{budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used")] if budget.off_min is not None else []),
        *((f"{load.name}, engine {peak.engine}", f"{show(load.volts, 'V', system)}, {load.power_db:.1f} dB of its output") for peak in made.peaks for load in peak.loads),
    ]  # fmt: skip
    with ui.element("dl").classes("facts"):
        for name, value in rows:
            text("dt", name)
            text("dd", value)


def _gains(here: Tab) -> None:
    """Each output of an amplifier with its own gate; its voltage is sent to the page only behind it."""
    held: dict[str, Any] = {}
    text("h2", "Setting gains with a voltmeter: before anything is switched on")
    body = ui.element("section").classes("block")
    gates: dict[str, tuple[GateTicks | None, Any]] = {}

    def tell() -> None:
        result = here.board.result
        channels = () if result is None or result.wires is None else result.wires.channels
        if held.get("channels") != [one.about for one in channels] or result is None or not channels:
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
                    text("p", words(note, here.system) or "", "note")
        for one in channels:
            ticks, box = gates[one.id]
            if ticks is not None:
                ticks.tell(one.id, one.about)
            _voltage(here, one, box)

    here.live(tell)


def _voltage(here: Tab, one: Any, box: Any) -> None:
    session, target = here.board.session, one.target
    volts = None if session is None else one.shown_v(session.job.gates)
    if target.test_tone_v is None:
        said = "By level against the woofers: no full-power tone into a tweeter's channel"
    elif volts is not None:
        said = f"{show(volts, 'V')} at {target.tone_hz:.0f} Hz and {target.tone_db:g} dB: a ceiling, found once"
    else:
        said = "The voltage shows when every line above is confirmed"
    box.clear()
    with box:
        text("p", said, "figure")
        for line in one.input_words():
            text("p", line[:1].upper() + line[1:], "note")
        if volts is not None:
            with ui.element("ol"):
                for step in target.steps:
                    text("li", words(step, here.system) or "")
