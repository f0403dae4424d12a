"""Section and Face: does it clear, and do the holes meet; seat height and turn to take hold of on the drawing."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PlaceResult
from backwave.bench.findings import Chooser, Numbers, lines
from backwave.bench.page_frame import Tab
from backwave.bench.widgets import Picture, Slider, button, link, text
from backwave.drawing.face import face_svg
from backwave.drawing.section import section_svg
from backwave.job.toml_spans import KeyPath, at
from backwave.job.toml_spans import written as as_typed
from backwave.units import parse

_FACE = {
    "fit.clocking", "fit.terminals-side", "fit.fixing", "fit.screw", "fit.hold", "fit.bearing", "fit.tightening",
    "fit.terminals",
}  # fmt: skip


def section(here: Tab, subject: str = "") -> None:
    """The place: does it clear, and by how much."""
    here.live(_Section(here, "section", subject, "thickness", "length").tell)


def face(here: Tab, subject: str = "") -> None:
    """The place: do the holes meet; the driver turned by hand, the best turn marked."""
    here.live(_Face(here, "face", subject, "turn", "angle").tell)


class _Drawing:
    """A drawing of one fit, with a key of its part to take hold of: tried while it is dragged, kept where it is let go."""

    def __init__(self, here: Tab, place: str, subject: str, key: str, dimension: str) -> None:
        self.here, self.subject, self.key, self.dimension = here, subject, key, dimension
        self.shown: dict[str, Any] = {}
        self.trial = False
        self.seen = ""  # what the job said when it was taken hold of
        text("h1", place.capitalize(), "unseen")
        self.choose = Chooser(f"/{place}")
        self.nothing, self.body = ui.element("div"), ui.element("div")
        with self.body:
            with ui.element("div").classes("controls"):
                self.controls()
                self.note = text("span", "", "note", role="status")
            self.picture = Picture(hold="seat" if place == "section" else "turn", on_drag=self.dragged)
            self.listed = Numbers()

    def controls(self) -> None:
        """What stands over the drawing."""

    def draw(self, fit: PlaceResult) -> None:
        """The drawing itself."""

    def show(self, result: Assessment, fit: PlaceResult, chosen: bool) -> None:
        """What stands beside it; `chosen`: by hand."""

    def refuse(self) -> None:
        """What was let go is not taken."""

    async def dragged(self, args: dict[str, Any]) -> None:
        """The drawing was taken hold of, moved, or let go."""

    @property
    def fit(self) -> PlaceResult | None:
        return None if self.here.board.result is None else of(self.here.board.result, self.subject)

    @property
    def path(self) -> KeyPath | None:
        """Where its key stands in the job."""
        rows = self.here.board.data.get("adapter", [])
        fit = self.fit
        pair = None if fit is None else (fit.opening_id, fit.speaker_id)
        found = (n for n, row in enumerate(rows) if (row.get("opening"), row.get("speaker")) == pair)
        return next((("adapter", n, self.key) for n in found), None)

    async def auto(self) -> None:
        if self.path is not None:
            await self.here.board.put(self.path, "auto")

    def tried(self, result: Assessment) -> None:
        fit = of(result, self.subject)
        if fit is not None and self.trial:
            self.draw(fit)

    async def move(self, written: str, end: bool) -> None:
        """Hold it at a value, or let it go there."""
        board, path = self.here.board, self.path
        if path is None:
            return
        if not self.trial:
            self.seen = as_typed(at(board.data, path))
        self.trial = not end
        if not end:
            board.attempt(int(path[1]), self.key, parse(written, self.dimension), self.tried)
            return
        problems = await board.put(path, written, seen=self.seen)
        if problems:
            self.shown["shown"] = None
            self.refuse()
            self.tell()
        self.note.say("; ".join(p.message for p in problems))

    def tell(self) -> None:
        result, fit = self.here.board.result, self.fit
        if self.trial or not self.here.news(self.shown, result):  # what is held stays as it is held
            return
        self.choose.tell(result, fit.subject if fit else "")
        self.nothing.clear()
        self.body.set_visibility(fit is not None)
        if result is None or fit is None:
            with self.nothing:
                missing(self.here)
            return
        path = self.path
        chosen = path is not None and at(self.here.board.data, path) not in (None, "auto")
        self.automatic.set_visibility(chosen)
        self.show(result, fit, chosen)

    automatic: Any  # the button that has it chosen


class _Section(_Drawing):
    heights = (0.0, 1.0)
    refused = 0

    def controls(self) -> None:
        self.slider = Slider("thickness", "Thickness of the part", lambda a: self.thick(a["value"], a["end"]),
                             least=0.0, most=1.0, step=0.1, value=0.0, unit="mm", places=1, factor=1.0, judged=True)  # fmt: skip
        self.automatic = button("Choose it for me", self.auto, "plain")

    def draw(self, fit: PlaceResult) -> None:
        low, high = self.heights  # a scale that followed what is dragged along it would run away from the hand
        svg = section_svg(fit, "auto", compact=self.here.narrow, system=self.here.system, heights_mm=(low, high))
        self.picture.say(svg=svg, low=low, high=high)

    async def thick(self, thickness_mm: float, end: bool) -> None:
        await self.move(f"{max(thickness_mm, 0.1):.1f} mm", end)

    async def dragged(self, args: dict[str, Any]) -> None:
        fit = self.fit
        if fit is not None and args["value"] is not None:
            # What moves the seat is the part's thickness, one for one.
            await self.thick(fit.spec.thickness_mm + args["value"] - fit.seat_height_mm, bool(args["end"]))

    def refuse(self) -> None:
        self.refused += 1
        self.slider.say(again=self.refused)

    def show(self, result: Assessment, fit: PlaceResult, chosen: bool) -> None:
        thickness = fit.spec.thickness_mm
        shift = thickness - fit.fit.seat_height_mm
        (least, most), allowed = fit.heights_to_try_mm, fit.fit.allowed_mm
        us = result.show == "us"
        self.heights = (least, most)
        self.draw(fit)
        self.slider.say(
            value=round(thickness, 2), least=max(1.0, round(least + shift, 1)), most=round(most + shift, 1),
            low=None if allowed is None else allowed[0] + shift,
            high=None if allowed is None else allowed[1] + shift, unit="in" if us else "mm",
            places=3 if us else 1, factor=1 / 25.4 if us else 1.0, judged=fit.fit.bounded,
        )  # fmt: skip
        self.note.say("" if chosen else "chosen for you; move it to choose yourself")
        self.listed.tell(result, lines(result, fit, ("fit.", "mount."), skip=("fit.clocking", "fit.terminals-side")))


class _Face(_Drawing):
    taken_deg = 0.0  # the turn when it was taken hold of

    def controls(self) -> None:
        self.angle = text("span", "", "figure")
        button("− 1°", lambda: self.by(-1.0), "plain", aria_label="Turn by minus one degree")
        button("+ 1°", lambda: self.by(1.0), "plain", aria_label="Turn by one degree")
        self.automatic = button("Best turn", self.auto, "plain")

    def draw(self, fit: PlaceResult) -> None:
        self.picture.say(svg=face_svg(fit, "auto", compact=self.here.narrow, system=self.here.system))

    async def turn(self, fit: PlaceResult, deg: float, end: bool) -> None:
        """In steps of half a degree, within what the holes repeat after."""
        await self.move(
            f"{round(2 * deg) / 2 % (360.0 if fit.clocking is None else fit.clocking.period_deg):g} deg", end
        )

    async def dragged(self, args: dict[str, Any]) -> None:
        fit = self.fit
        if fit is None or args["value"] is None or args["start"] is None:
            return
        if not self.trial:
            self.taken_deg = fit.turn_deg
        await self.turn(fit, self.taken_deg + args["value"] - args["start"], bool(args["end"]))

    async def by(self, step: float) -> None:
        if (fit := self.fit) is not None:
            await self.turn(fit, fit.turn_deg + step, True)

    def show(self, result: Assessment, fit: PlaceResult, chosen: bool) -> None:
        self.draw(fit)
        self.angle.say(f"Turn {fit.turn_deg:.1f}°")
        self.note.say(
            "chosen by hand; the same turn stands for both sides" if chosen
            else "chosen for you, by the holes and the terminals; drag the drawing to turn it"
        )  # fmt: skip
        self.listed.tell(result, lines(result, fit, "fit.", only=_FACE))


def of(result: Assessment, subject: str) -> PlaceResult | None:
    return next((p for p in result.places if p.subject == subject or not subject), None)


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
