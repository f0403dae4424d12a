"""Section: does it clear, and by how much; a slider for the thickness, the seat height to take hold of on the drawing."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PlaceResult
from backwave.bench.lists import Chooser, Numbers, lines
from backwave.bench.page_frame import Tab, button, link, text
from backwave.bench.schema_form import at
from backwave.bench.widgets import Picture, Slider
from backwave.drawing.section import section_svg
from backwave.job.toml_spans import KeyPath
from backwave.job.toml_spans import written as as_typed
from backwave.units import parse


def section(here: Tab, subject: str = "") -> None:
    """The place."""
    text("h1", "Section", "unseen")
    choose = Chooser("/section")
    nothing = ui.element("div")
    held: dict[str, Any] = {"shown": None, "trial": None, "refused": 0, "heights": (0.0, 1.0)}

    def drawn(fit: PlaceResult) -> None:
        low, high = held["heights"]  # a scale that followed what is dragged along it would run away from the hand
        svg = section_svg(fit, "auto", compact=here.narrow, system=here.system, heights_mm=(low, high))
        picture.say(svg=svg, low=low, high=high)

    def tried(result: Assessment) -> None:
        fit = of(result, subject)
        if fit is not None and held["trial"]:
            drawn(fit)

    async def moved(thickness_mm: float, end: bool) -> None:
        fit = None if here.board.result is None else of(here.board.result, subject)
        path = None if fit is None else adapter_path(here, fit)
        if path is None or fit is None:
            return
        written = f"{max(thickness_mm, 0.1):.1f} mm"
        if not held["trial"]:
            held["seen"] = as_typed(at(here.board.data, (*path, "thickness")))
        held["trial"] = not end
        if end:
            problems = await here.board.put((*path, "thickness"), written, seen=held["seen"])
            note.say("; ".join(p.message for p in problems))
            held["shown"] = None if problems else held["shown"]
            if problems:
                held["refused"] += 1
                slider.say(again=held["refused"])
                tell()
        else:
            here.board.attempt(int(path[1]), "thickness", parse(written, "length"), tried)

    async def dragged(args: dict[str, Any]) -> None:
        fit = None if here.board.result is None else of(here.board.result, subject)
        if fit is not None and args["value"] is not None:
            # What moves the seat is the part's thickness, one for one.
            await moved(fit.spec.thickness_mm + args["value"] - fit.seat_height_mm, bool(args["end"]))

    body = ui.element("div")
    with body:
        with ui.element("div").classes("controls"):
            slider = Slider("thickness", "Thickness of the part", lambda a: moved(a["value"], a["end"]),
                            least=0.0, most=1.0, step=0.1, value=0.0, unit="mm", places=1, factor=1.0, judged=True)  # fmt: skip

            async def auto() -> None:
                fit = None if here.board.result is None else of(here.board.result, subject)
                path = None if fit is None else adapter_path(here, fit)
                if path is not None:
                    await here.board.put((*path, "thickness"), "auto")

            automatic = button("Choose it for me", auto, "plain")
            note = text("span", "", "note")
            note.props('role="status"')
        picture = Picture(hold="seat", on_drag=dragged)
        listed = Numbers()

    def tell() -> None:
        result = here.board.result
        fit = None if result is None else of(result, subject)
        if held["trial"] or not here.news(held, result):  # what is held stays as it is held
            return
        choose.tell(result, fit.subject if fit else "")
        nothing.clear()
        body.set_visibility(fit is not None)
        if result is None or fit is None:
            with nothing:
                missing(here)
            return
        held["trial"] = False
        thickness = fit.spec.thickness_mm
        shift = thickness - fit.fit.seat_height_mm
        (least, most), allowed = fit.heights_to_try_mm, fit.fit.allowed_mm
        us = result.show == "us"
        held["heights"] = (least, most)
        drawn(fit)
        slider.say(
            value=round(thickness, 2), least=max(1.0, round(least + shift, 1)), most=round(most + shift, 1),
            low=None if allowed is None else allowed[0] + shift,
            high=None if allowed is None else allowed[1] + shift, unit="in" if us else "mm",
            places=3 if us else 1, factor=1 / 25.4 if us else 1.0, judged=fit.fit.bounded,
        )  # fmt: skip
        path = adapter_path(here, fit)
        now = None if path is None else at(here.board.data, (*path, "thickness"))
        automatic.set_visibility(now not in (None, "auto"))
        note.say("chosen for you; move it to choose yourself" if now in (None, "auto") else "")
        listed.tell(result, lines(result, fit, ("fit.", "mount."), skip=("fit.clocking", "fit.terminals-side")))

    here.live(tell)


def of(result: Assessment, subject: str) -> PlaceResult | None:
    """The fit of a subject, or the first."""
    return next((p for p in result.places if p.subject == subject or not subject), None)


def adapter_path(here: Tab, fit: PlaceResult) -> KeyPath | None:
    """Where the part of a fit stands in the file."""
    for n, row in enumerate(here.board.data.get("adapter", [])):
        if row.get("opening") == fit.opening_id and row.get("speaker") == fit.speaker_id:
            return ("adapter", n)
    return None


def missing(here: Tab) -> None:
    """What to do where there is nothing to draw yet."""
    with ui.element("div").classes("nothing"):
        if here.board.session is None:
            link("There is no job yet: start one", "/", "go")
        elif here.board.result is None and not here.board.trouble:
            text("p", "Working it out …")
        else:
            text("p", "Nothing to draw yet: an adapter between an opening and a driver is needed.")
            link("Go to the survey", "/survey", "go")
