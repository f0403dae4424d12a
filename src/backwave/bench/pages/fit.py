"""One opening, seen three ways: side cut, front and part (part.py), with its verdict and what moves it beside the picture."""

from __future__ import annotations

from html import escape
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PlaceResult
from backwave.bench.findings import Chooser, Numbers, lines
from backwave.bench.page_frame import MARK, WORD, Tab
from backwave.bench.widgets import Picture, Slider, button, link, text
from backwave.drawing.callouts import Medium
from backwave.drawing.face import face_sheet, hole_words
from backwave.drawing.section import fit_words, section_sheet
from backwave.drawing.sheet import Sheet, to_svg
from backwave.finding import Verdict
from backwave.job.toml_spans import KeyPath, at
from backwave.job.toml_spans import written as as_typed
from backwave.units import parse

VIEWS = {"section": "Side cut", "face": "Front", "part": "Part"}
ASKS = {"section": "does it clear, and by how much?", "face": "do the holes meet?", "part": "what will I make?"}
_FACE = {
    "fit.clocking", "fit.terminals-side", "fit.fixing", "fit.screw", "fit.hold", "fit.bearing", "fit.tightening",
    "fit.terminals",
}  # fmt: skip


class View:
    """One opening as one view shows it; the picture, its verdict and what moves it stand on one screen."""

    def __init__(self, here: Tab, view: str, subject: str) -> None:
        self.here, self.view, self.subject = here, view, subject
        self.shown: dict[str, Any] = {}
        self.head = text("h1", "", "unseen")
        self.nothing = ui.element("div")
        with ui.element("div").classes(f"opening {view}") as self.body:
            with ui.element("div").classes("openings"):
                self.choose = Chooser(f"/{view}")
                with ui.element("nav").classes("views").props('aria-label="Views"'):
                    for name, said in VIEWS.items():
                        to = f"/{name}/{subject}".rstrip("/")
                        chosen = {"aria-current": "page"} if name == view else {}
                        link(said, to, "chip here" if chosen else "chip", **chosen)
            with ui.element("div").classes("board"):
                self.picture()
                with ui.element("div").classes("rail"):
                    self.plate = text("p", "", "plate", role="status")
                    self.controls()
            self.listed = Numbers()
            self.notes = ui.html("", sanitize=False, tag="ul").classes("notes")

    def picture(self) -> None: ...  # what is looked at

    def controls(self) -> None: ...  # what moves it

    def show(self, result: Assessment, fit: PlaceResult) -> None: ...

    @property
    def fit(self) -> PlaceResult | None:
        return None if self.here.board.result is None else of(self.here.board.result, self.subject)

    def judge(self, fit: PlaceResult, verdict: Verdict, words: str) -> None:
        told = "checking" if fit.preliminary and verdict == "ok" else verdict
        self.plate.classes(replace=f"plate {told}")
        self.plate.say(f"{MARK[told]} {WORD[told]}" + ("" if told == "checking" else f": {words}"))

    def tell(self) -> None:
        result, fit = self.here.board.result, self.fit
        if not self.here.news(self.shown, result):
            return
        self.choose.tell(result, fit.subject if fit else "")
        self.nothing.clear()
        self.body.set_visibility(fit is not None)
        if result is None or fit is None:
            with self.nothing:
                missing(self.here)
            return
        self.head.say(f"{fit.name}: {ASKS[self.view]}")
        self.show(result, fit)


class _Drawing(View):
    """A drawing with a key of its part to take hold of: tried while it is dragged, kept where it is let go."""

    hold = key = dimension = ""  # what the pointer takes hold of, and the key of the part that it is
    trial = False
    seen = ""  # what the job said when it was taken hold of

    def picture(self) -> None:
        self.drawn = Picture(hold=self.hold, on_drag=self.dragged)

    def said(self, automatic: str) -> None:
        """The line under what moves it: whether it was chosen, and what was not taken."""
        self.automatic = button(automatic, self.auto, "plain auto")
        self.note = text("p", "", "note", role="status")

    def draw(self, fit: PlaceResult) -> None: ...

    def put(self, sheet: Sheet, **more: float) -> None:
        self.drawn.say(svg=to_svg(sheet, "auto"), **more)
        if (notes := "".join(f"<li>{escape(note)}</li>" for note in sheet.notes)) != self.notes.content:
            self.notes.content = notes

    def refuse(self) -> None: ...  # what was let go is not taken

    async def dragged(self, args: dict[str, Any]) -> None: ...

    @property
    def medium(self) -> Medium:
        return "phone" if self.here.narrow else "screen"

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
        if not self.trial:  # what is held stays as it is held
            super().tell()

    def show(self, result: Assessment, fit: PlaceResult) -> None:
        path = self.path
        chosen = path is not None and at(self.here.board.data, path) not in (None, "auto")
        self.automatic._props["disabled"] = not chosen
        self.automatic.update()
        self.note.say("Chosen by hand." if chosen else "Chosen for you.")
        self.draw(fit)


class _SideCut(_Drawing):
    hold, key, dimension = "seat", "thickness", "length"
    heights = (0.0, 0.0)
    refused = 0

    def controls(self) -> None:
        self.slider = Slider("thickness", "Part thickness", lambda a: self.thick(a["value"], a["end"]),
                             least=0.0, most=1.0, step=0.1, value=0.0, unit="mm", places=1, factor=1.0, judged=True)  # fmt: skip
        self.said("Choose it for me")

    def draw(self, fit: PlaceResult) -> None:
        low, high = self.heights  # a scale that followed what is dragged along it would run away from the hand
        sheet = section_sheet(fit, medium=self.medium, system=self.here.system, heights_mm=(low, high))
        self.put(sheet, low=low, high=high)
        self.judge(fit, fit.fit_verdict, fit_words(fit))

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

    def show(self, result: Assessment, fit: PlaceResult) -> None:
        thickness, seat = fit.spec.thickness_mm, fit.fit.seat_height_mm
        shift, allowed, us = thickness - seat, fit.fit.allowed_mm, result.show == "us"
        if not self.heights[0] + 1.0 < seat < self.heights[1] - 1.0:  # else the drawing stays where it is
            self.heights = fit.heights_to_try_mm
        least, most = self.heights
        self.slider.say(
            value=round(thickness, 2), least=max(1.0, round(least + shift, 1)), most=round(most + shift, 1),
            low=None if allowed is None else allowed[0] + shift,
            high=None if allowed is None else allowed[1] + shift, unit="in" if us else "mm",
            places=3 if us else 1, factor=1 / 25.4 if us else 1.0, judged=fit.fit.bounded,
        )  # fmt: skip
        self.listed.tell(result, lines(result, fit, ("fit.", "mount."), skip=("fit.clocking", "fit.terminals-side")))
        super().show(result, fit)


class _Front(_Drawing):
    hold, key, dimension = "turn", "turn", "angle"
    taken_deg = 0.0  # the turn when it was taken hold of

    def controls(self) -> None:
        with ui.element("div").classes("turning"):
            self.angle = text("span", "", "figure")
            button("− 1°", lambda: self.by(-1.0), "plain", aria_label="Turn by minus one degree")
            button("+ 1°", lambda: self.by(1.0), "plain", aria_label="Turn by one degree")
        self.said("Best rotation")

    def draw(self, fit: PlaceResult) -> None:
        self.put(face_sheet(fit, medium=self.medium, system=self.here.system))
        self.judge(fit, fit.hole_verdict, hole_words(fit))

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

    def show(self, result: Assessment, fit: PlaceResult) -> None:
        self.angle.say(f"Rotation {fit.turn_deg:.1f}°")
        self.listed.tell(result, lines(result, fit, "fit.", only=_FACE))
        super().show(result, fit)


def section(here: Tab, subject: str = "") -> None:
    """Does it clear, and by how much?"""
    here.live(_SideCut(here, "section", subject).tell)


def face(here: Tab, subject: str = "") -> None:
    """Do the holes meet?"""
    here.live(_Front(here, "face", subject).tell)


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
            text("p", "Nothing to draw yet: an adapter between an opening and a speaker is needed.")
            link("Go to Measure", "/survey", "go")
