"""Face: do the holes meet; the driver turned by hand, the best turn marked."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PlaceResult
from backwave.bench.lists import Chooser, Numbers, lines
from backwave.bench.page_frame import Tab, button, text
from backwave.bench.pages.section import adapter_path, missing, of
from backwave.bench.schema_form import at
from backwave.bench.widgets import Picture
from backwave.drawing.face import face_svg
from backwave.job.toml_spans import written as as_typed
from backwave.units import parse


def face(here: Tab, subject: str = "") -> None:
    """The place."""
    text("h1", "Face", "unseen")
    choose = Chooser("/face")
    nothing = ui.element("div")
    held: dict[str, Any] = {"shown": None, "trial": False, "from": 0.0}

    def fit_now() -> PlaceResult | None:
        return None if here.board.result is None else of(here.board.result, subject)

    def drawn(fit: PlaceResult) -> None:
        picture.say(svg=face_svg(fit, "auto", compact=here.narrow, system=here.system))

    def tried(result: Assessment) -> None:
        fit = of(result, subject)
        if fit is not None and held["trial"]:
            drawn(fit)

    async def turned(deg: float, end: bool) -> None:
        fit = fit_now()
        path = None if fit is None else adapter_path(here, fit)
        if path is None or fit is None:
            return
        written = f"{round(2 * deg) / 2 % (360.0 if fit.clocking is None else fit.clocking.period_deg):g} deg"
        if not held["trial"]:
            held["seen"] = as_typed(at(here.board.data, (*path, "turn")))
        held["trial"] = not end
        if end:
            problems = await here.board.put((*path, "turn"), written, seen=held["seen"])
            if problems:
                held["shown"] = None
                tell()
            note.say("; ".join(p.message for p in problems))
        else:
            here.board.attempt(int(path[1]), "turn", parse(written, "angle"), tried)

    async def dragged(args: dict[str, Any]) -> None:
        fit = fit_now()
        if fit is None or args["value"] is None or args["start"] is None:
            return
        if not held["trial"]:
            held["from"] = fit.turn_deg
        await turned(held["from"] + args["value"] - args["start"], bool(args["end"]))

    async def by(step: float) -> None:
        fit = fit_now()
        if fit is not None:
            await turned(fit.turn_deg + step, True)

    async def best() -> None:
        fit = fit_now()
        path = None if fit is None else adapter_path(here, fit)
        if path is not None:
            await here.board.put((*path, "turn"), "auto")

    body = ui.element("div")
    with body:
        with ui.element("div").classes("controls"):
            angle = text("span", "", "figure")
            button("− 1°", lambda: by(-1.0), "plain", aria_label="Turn by minus one degree")
            button("+ 1°", lambda: by(1.0), "plain", aria_label="Turn by one degree")
            automatic = button("Best turn", best, "plain")
            note = text("span", "", "note")
            note.props('role="status"')
        picture = Picture(hold="turn", on_drag=dragged)
        listed = Numbers()

    def tell() -> None:
        result, fit = here.board.result, fit_now()
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
        drawn(fit)
        path = adapter_path(here, fit)
        now = None if path is None else at(here.board.data, (*path, "turn"))
        angle.say(f"Turn {fit.turn_deg:.1f}°")
        automatic.set_visibility(now not in (None, "auto"))
        note.say(
            "chosen for you, by the holes and the terminals; drag the drawing to turn it" if now in (None, "auto")
            else "chosen by hand; the same turn stands for both sides"
        )  # fmt: skip
        listed.tell(result, lines(result, fit, "fit.", only=_HERE))

    here.live(tell)


_HERE = {
    "fit.clocking",
    "fit.terminals-side",
    "fit.fixing",
    "fit.screw",
    "fit.hold",
    "fit.bearing",
    "fit.tightening",
    "fit.terminals",
}
