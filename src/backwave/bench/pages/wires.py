"""Wires: what goes to what, how thick, which fuse; the harness, its plugs and lists; gains behind their gate."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, Wires
from backwave.assess.power.results import Harnessed
from backwave.bench.findings import Findings
from backwave.bench.gates import GateTicks, careful
from backwave.bench.page_frame import Tab
from backwave.bench.pages.factory_wires import factory
from backwave.bench.widgets import Picture, facts, link, listed, table, text, way
from backwave.drawing.harness import harness_sheet
from backwave.drawing.sheet import to_svg
from backwave.drawing.wiring import faces_svg, supply_svg
from backwave.finding import sentences, words
from backwave.notation.measures import in_words, wire_size
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
    {"": _supply, "harness": _harness, "lists": _lists, "factory": factory, "gains": _gains}[part](here)


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
        sums = ui.element("section").classes("block")
        text("h2", "Open issues")
        findings = Findings("Nothing. Every check of the supply is ok.")

    def shown(made: Wires, result: Assessment) -> None:
        picture.say(svg=supply_svg(made, result.title, "auto", compact=here.narrow, system=result.show))
        for box in (cautions, sums):
            box.clear()
        with cautions:
            text("h2", "Before anything is touched")
            for caution in made.cautions:
                text("p", sentences(caution.check, result.show))
            text("p", "Vehicle maker's service information, local codes and licensed practice come first.", "note")
        with sums:
            text("h2", "What the vehicle has to give")
            facts(_sums(made, result.show), "")
        findings.tell(here, result, made.findings)

    missing = (
        "Nothing in this job draws current yet.",
        "Add what does: an amplifier, its feed, its fuses",
        "/survey/load",
    )
    _follow(here, "wires", missing, body, nothing, shown)


def _sums(made: Wires, system: str) -> list[tuple[str, str]]:
    budget = made.budget
    rows = [("with music", show(budget.musical_a, "A", system)), ("at rated power", show(budget.rated_a, "A", system))]
    for when, spare_a in (("at idle", budget.idle_spare_a), ("at speed", budget.speed_spare_a)):
        if spare_a is not None:
            rows.append((f"alternator {when}, to spare", show(spare_a, "A", system)))
    if budget.off_min is not None:
        until = f"{100 * budget.depth:.0f} % of the battery is used"
        rows.append(("engine off", f"{budget.off_min:.0f} minutes until {until}"))
    for peak in made.peaks:
        for load in peak.loads:
            volts = show(load.volts, "V", system)
            rows.append((f"{load.name}, engine {peak.engine}", f"{volts}, {load.power_db:.1f} dB of its output"))
    return rows


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
        findings = Findings("Nothing. Every check of the harness is ok.")
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
        runs.clear()
        with runs:
            _runs(made, result)

    _follow(here, "harness", _NO_HARNESS, body, nothing, shown)


def _runs(made: Harnessed, result: Assessment) -> None:
    system, rows = result.show, []
    for run in made.runs:
        if (cable := run.cable) is None:
            continue
        length = ("~" if cable.guessed else "") + show(cable.length_m, "m", system)
        damping = "" if cable.damping_factor is None else f"{cable.damping_factor:.0f}"
        rows.append(
            (f"{result.names.get(run.subject, run.subject)}: {run.speaker}", length, wire_size(cable.size, system) + (" (there)" if run.there else ""),
             f"{-cable.loss_db:.2f} dB", damping, f"{100 * (cable.low_pass_factor - 1):+.1f} %", wire_size(cable.least, system) or "none")
        )  # fmt: skip
    if rows:
        text("h2", "Runs to the speakers")
        columns = ("run to", "length", "size", "loses", "damping factor", "low-pass moves", "minimum size")
        table("Runs to the speakers", columns, rows, ("length", "loses", "damping factor", "low-pass moves"))
        note = "~ not measured. (there): the vehicle's own wire. A crossover before the cable moves by so much."
        text("p", note, "note")


def _lists(here: Tab) -> None:
    """Every wire, what to cut, the labels."""
    nothing, body = ui.element("div").classes("block"), ui.element("section").classes("block")

    def shown(made: Harnessed, result: Assessment) -> None:
        body.clear()
        with body:
            _listed(made, result.show)

    _follow(here, "harness", _NO_HARNESS, body, nothing, shown)


def _listed(made: Harnessed, system: str) -> None:
    text("h2", f"Wires: {len(made.schedule)}")
    rows = []
    for row in made.schedule:
        size = "" if row.area_mm2 is None else f"{row.area_mm2:g} mm²"
        length = ("~" if row.guessed else "") + show(row.length_m, "m", system)
        notes = ["there already"] if row.there else []
        notes += ["through the boot"] if row.boot else []
        notes += [f"fuse {show(row.fuse_a, 'A', system)}"] if row.fuse_a is not None else []
        color = f"{row.color} ({row.color_words})" if row.color else ""
        rows.append((row.id, row.from_pin, row.to_pin, color, size, length, ", ".join(notes)))
    table("Wires", ("wire", "from", "to", "color", "size", "length", "notes"), rows, ("size", "length"))
    text("p", "~ not measured: five meters are taken. There already: the vehicle's own, nothing is cut. "
              "Colors by IEC 60757, base first.", "note")  # fmt: skip
    text("h2", "To cut")
    cuts = []
    for cut in made.cuts:
        pieces = ", ".join(f"{wire} {show(length, 'm', system)}" for wire, length in cut.cuts)
        total = ("~" if cut.guessed else "") + show(cut.total_m, "m", system)
        size = "" if cut.area_mm2 is None else f"{cut.area_mm2:g} mm²"
        cuts.append((cut.color or "any", size, total, pieces + (": measure first" if cut.guessed else "")))
    table("What to cut", ("color", "size", "together", "pieces"), cuts, ("size", "together"), ("pieces",))
    margins = "Each with 50 mm at both ends, and 100 mm more through a hinge boot (common trade practice)."
    text("p", in_words(margins, system), "note")
    with ui.element("details"):
        text("summary", f"Labels: {len(made.labels)}, one for each end")
        labels = ((r.wire, r.here, r.there) for r in made.labels)
        table("Labels, one for each end", ("wire", "here", "at the other end"), labels, ())


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
            listed((words(step, here.system) for step in target.steps), "ol")
