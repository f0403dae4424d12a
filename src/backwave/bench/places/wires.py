"""Wires: what goes to what, how thick, which fuse; gains behind their gate."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, Wires, words
from backwave.assess.harnessed import harness_view
from backwave.assess.wires import supply_view
from backwave.bench import lead
from backwave.bench.field import Picture
from backwave.bench.frame import Here, link, text, verdict
from backwave.drawing import harness_svg, supply_svg
from backwave.units import show

__all__ = ["wires"]


def wires(here: Here) -> None:
    """The place.

    Parameters
    ----------
    here : Here, no unit
        The tab.
    """
    text("h1", "Wires", "unseen")
    held: dict[str, Any] = {"shown": None, "off": False}
    nothing = ui.element("div").classes("block")
    body = ui.element("div").classes("block")
    with body:
        cautions = ui.element("section").classes("block")
        picture = Picture()
        sums = ui.element("section").classes("block")
        harness = Picture()
        gains = ui.element("section").classes("block")
        listed = ui.element("section").classes("block")

    def confirmed(event: Any) -> None:
        held["off"] = bool(event.args)
        held["shown"] = None
        tell()

    def tell() -> None:
        result = here.board.result
        if (result, here.narrow) == held["shown"]:
            return
        held["shown"] = (result, here.narrow)
        made = None if result is None else result.wires
        nothing.clear()
        body.set_visibility(made is not None)
        if result is None or made is None:
            with nothing:
                text("p", "Nothing in this job draws current yet.")
                link("Add what does: an amplifier, its feed, its fuses", "/survey/load", "plain")
            return
        harness.set_visibility(result.harness is not None)
        if result.harness is not None:
            harness.say(svg=harness_svg(harness_view(result.harness, result.title), "auto"))
        picture.say(svg=supply_svg(supply_view(made, result.title, result.show), "auto", compact=here.narrow))
        for box in (cautions, sums, gains, listed):
            box.clear()
        with cautions:
            _cautions(made, result)
        with sums:
            _sums(made, result)
        with gains:
            _gains(made, result, held["off"], confirmed)
        with listed:
            _findings(made, result, here)

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


def _gains(made: Wires, result: Assessment, off: bool, confirmed: Any) -> None:
    if not made.channels:
        return
    text("h2", "Setting gains with a voltmeter")
    with ui.element("ul"):
        for line in made.channels[0].target.gate:
            text("li", words(line, result.show) or "")
    with ui.element("label").classes("row gate"):
        box = ui.element("input").props('type="checkbox"' + (" checked" if off else ""))
        box.on("change", confirmed, js_handler="(e) => emit(e.target.checked)")
        text("span", "All of this is so: show the voltages")
    with ui.element("dl").classes("facts"):
        for one in made.channels:
            target = one.target
            if target.test_tone_v is None or target.tone_hz is None:
                said = "by level against the woofers: no full-power tone into a tweeter's channel"
            elif off:
                said = f"{show(target.test_tone_v, 'V')} at {target.tone_hz:.0f} Hz and {target.tone_db:g} dB: a ceiling, found once"
            else:
                said = "shows when the list above is confirmed"
            text("dt", f"{one.id}: {', '.join(one.speakers)}, {show(target.load_ohm, 'ohm')}")
            text("dd", said)
    for note in made.channels[0].target.notes:
        text("p", words(note, result.show) or "", "note")


def _findings(made: Wires, result: Assessment, here: Here) -> None:
    shown = [f for f in made.findings if f.check.verdict != "ok"]
    text("h2", "What stands in the way" if shown else "Nothing stands in the way")
    with ui.element("ul").classes("numbers"):
        for finding in shown:
            with ui.element("li").classes(finding.check.verdict):
                text("span", verdict(finding.check.verdict), "mark")
                name = result.names.get(finding.subject, finding.subject)
                texts = (words(finding.check.title, result.show), words(finding.check.remedy, result.show))
                text("span", f"{name}: " + " → ".join(t for t in texts if t), "said")
                link("Why?", lead.why(finding.id), "go", **{"aria-label": f"Why: {finding.id}"})
                link("Go there", lead.of_finding(here.board, finding), "go")
