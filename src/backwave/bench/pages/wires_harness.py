"""Wires, the harness: what goes to what, faces of the plugs that are kept, runs to the speakers; lists for the bench."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

from nicegui import ui
from nicegui.element import Element

from backwave.assess import Assessment
from backwave.assess.power.results import Harnessed
from backwave.bench.lists import Findings
from backwave.bench.page_frame import Tab, link, text
from backwave.bench.widgets import Picture
from backwave.drawing.harness import harness_sheet
from backwave.drawing.sheet import to_svg
from backwave.drawing.wiring import faces_svg
from backwave.notation.measures import in_words, wire_size
from backwave.units import show


def harness(here: Tab) -> None:
    """The diagram, the plugs, the runs, and what was found."""
    held: dict[str, Any] = {}
    nothing = ui.element("div").classes("block")
    body = ui.element("div").classes("block")
    with body:
        scrolls = ui.element("div").classes("scroll")
        with scrolls.props('tabindex="0" role="group" aria-label="Diagram of the harness"'):
            picture = Picture()
        text("h2", "What stands in the way")
        findings = Findings("Nothing. Every check of the harness is ok.")
        plugs = Picture().style("max-width: 760px")
        runs = ui.element("section").classes("block")

    def shown(made: Harnessed, result: Assessment) -> None:
        sheet = harness_sheet(made, result.title)
        picture.style(
            f"min-width: {0.8 * sheet.width:.0f}px"
        )  # small enough to see, large enough to read; else it scrolls
        picture.say(svg=to_svg(sheet, "auto"))
        findings.tell(here, result, made.findings if made.begun else ())
        plugs.set_visibility(bool(made.plugs))
        if made.plugs:
            plugs.say(svg=faces_svg(made.plugs, "Factory plugs that are kept", "auto", compact=here.narrow))
        runs.clear()
        with runs:
            _runs(made, result)

    _told(here, held, nothing, body, shown)


def lists(here: Tab) -> None:
    """Every wire, what to cut, the labels."""
    held: dict[str, Any] = {}
    nothing = ui.element("div").classes("block")
    body = ui.element("section").classes("block")

    def shown(made: Harnessed, result: Assessment) -> None:
        body.clear()
        with body:
            _lists(made, result)

    _told(here, held, nothing, body, shown)


def _told(
    here: Tab, held: dict[str, Any], nothing: Any, body: Any, shown: Callable[[Harnessed, Assessment], None]
) -> None:
    def tell() -> None:
        result = here.board.result
        if not here.news(held, result):
            return
        made = None if result is None else result.harness
        nothing.clear()
        body.set_visibility(made is not None)
        if result is None or made is None:
            with nothing:
                text("p", "No path of the last stage leads to a speaker yet: there is nothing to wire.")
                link("Add a stage with its paths", "/survey/stage", "plain")
            return
        shown(made, result)

    here.live(tell)


def table(
    caption: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    right: Sequence[str] = (),
    long: Sequence[str] = (),
) -> None:
    """A table that scrolls by itself where the page is narrow."""
    sides = {name: ' class="right"' if name in right else "" for name in columns}
    sides |= dict.fromkeys(long, ' style="white-space: normal; min-width: 280px"')
    head = "".join(f'<th scope="col"{sides[name]}>{escape(name)}</th>' for name in columns)
    body = ""
    for row in rows:
        first, *rest = (escape(cell) for cell in row)
        cells = "".join(f"<td{sides[name]}>{cell}</td>" for name, cell in zip(columns[1:], rest))
        body += f'<tr><th scope="row">{first}</th>{cells}</tr>'
    made = ui.html(
        f'<table style="white-space: nowrap"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>',
        sanitize=False,
    )
    made.classes("scroll").props(f'tabindex="0" role="group" aria-label="{escape(caption)}"')


def tick(said: str, do: Callable[[Any], Any], done: bool = False) -> Element:
    """A line to be confirmed, as large as a thumb."""
    with ui.element("label").classes("gate").style("display: flex; gap: 12px; align-items: center; min-height: 44px"):
        box = ui.element("input").props('type="checkbox"').style("width: 24px; height: 24px; flex: none; margin: 0")
        box._props["checked"] = done
        box.on("change", do, js_handler="(e) => emit(e.target.checked)")
        text("span", said)
    return box


def _runs(made: Harnessed, result: Assessment) -> None:
    system = result.show
    rows = []
    for run in made.runs:
        cable = run.cable
        if cable is None:
            continue
        length = ("~" if cable.guessed else "") + show(cable.length_m, "m", system)
        damping = "" if cable.damping_factor is None else f"{cable.damping_factor:.0f}"
        rows.append(
            (f"{result.names.get(run.subject, run.subject)}: {run.speaker}", length, wire_size(cable.size, system) + (" (there)" if run.there else ""),
             f"{-cable.loss_db:.2f} dB", damping, f"{100 * (cable.low_pass_factor - 1):+.1f} %", wire_size(cable.least, system) or "none")
        )  # fmt: skip
    if rows:
        text("h2", "Runs to the speakers")
        columns = ("run to", "length", "size", "loses", "damping factor", "low-pass moves", "least that will do")
        table("Runs to the speakers", columns, rows, ("length", "loses", "damping factor", "low-pass moves"))
        text(
            "p",
            "~ nobody measured it. (there): the vehicle's own wire. A crossover before the cable moves by so much.",
            "note",
        )


def _lists(made: Harnessed, result: Assessment) -> None:
    system = result.show
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
    said = "~ nobody measured it: five meters are taken. There already: the vehicle's own, nothing is cut. "
    text("p", said + "Colors by IEC 60757, base first.", "note")
    text("h2", "To cut")
    cuts = []
    for cut in made.cuts:
        pieces = ", ".join(f"{wire} {show(length, 'm', system)}" for wire, length in cut.cuts)
        total = ("~" if cut.guessed else "") + show(cut.total_m, "m", system)
        size = "" if cut.area_mm2 is None else f"{cut.area_mm2:g} mm²"
        cuts.append((cut.color or "any", size, total, pieces + (": measure first" if cut.guessed else "")))
    table("What to cut", ("color", "size", "together", "pieces"), cuts, ("size", "together"), ("pieces",))
    text(
        "p",
        in_words("Each with 50 mm at both ends, and 100 mm more through a hinge boot (common trade practice).", system),
        "note",
    )
    with ui.element("details"):
        text("summary", f"Labels: {len(made.labels)}, one for each end")
        rows_ = ((r.wire, r.here, r.there) for r in made.labels)
        table("Labels, one for each end", ("wire", "here", "at the other end"), rows_)
