"""Part: what will be made: the solid, turning, with speaker and foam drawn apart; its facts; its files."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PartOrder, PlaceResult, made_digest
from backwave.bench.findings import lines
from backwave.bench.page_frame import Tab
from backwave.bench.pages.fit import View
from backwave.bench.solids import Solid
from backwave.bench.widgets import ProgressBar, button, facts, link, listed, text
from backwave.errors import BackwaveError
from backwave.finding import Verdict, verdict_line, words, worst
from backwave.units import show

FILES = {
    "3mf": "3MF, to print", "step": "STEP, to change", "stl": "STL, to print", "dxf": "DXF, to cut and drill",
    "template": "1:1 paper template (PDF)", "check_ring": "Test ring (STL)", "stand_in": "Dummy (STL)",
    "foam": "Foam ring (DXF)",
}  # fmt: skip
PLATES: dict[Verdict, str] = {"ok": "can be made", "caution": "look again", "stop": "not made"}
GAP_MM = 48.0  # between the bodies where they are drawn apart
APART = {True: "Assembled", False: "Exploded"}
SEEN = {  # where the eye is, in reaches of the part from its middle
    "Angled view": (2.3, -2.7, 1.9), "Front": (0.0, -0.01, 4.0), "Side": (0.0, -4.0, 0.0), "Back": (0.0, -0.01, -4.0),
}  # fmt: skip


class _Part(View):
    """The solid, turning; what it is, and its files."""

    apart = True
    facts: Any = None  # of which solid the facts and files are shown, which one is drawn, and as what scene
    look: Any = None
    scene: ui.scene | None = None

    def picture(self) -> None:
        self.frame = ui.element("div").classes("solid")

    def controls(self) -> None:
        with ui.element("div").classes("building").props('role="status"') as self.building:
            self.state = text("span", "", "note")
            self.bar = ProgressBar("How far it is built", self.stop, "plain")
            self.starter = button("Build it", self.again, "plain")
        with ui.element("div").classes("sides").props('role="group" aria-label="Seen from"'):
            for side in SEEN:
                button(side, partial(self.see, side), "plain")
            self.together = button(APART[True], self.take_apart, "plain")
        with ui.element("div").classes("made"):
            self.against, self.known = ui.element("div"), ui.element("div")
            text("h2", "Files")
            self.files = ui.element("ul").classes("files")

    def again(self) -> None:
        if (fit := self.fit) is not None:
            self.here.board.solids.ask(fit.part.id, again=True)
            self.tell()

    def stop(self) -> None:
        if (fit := self.fit) is not None:
            self.here.board.solids.cancel(fit.part.id)

    def take_apart(self) -> None:
        self.apart, self.look = not self.apart, None
        self.together.say(APART[self.apart])
        self.tell()

    def see(self, side: str) -> None:
        if (fit := self.fit) is not None and self.scene is not None:
            _look(self.scene, fit, self.apart, side, 0.4)

    def show(self, result: Assessment, fit: PlaceResult) -> None:
        self.listed.tell(result, lines(result, fit, "part."))
        verdict = worst([check.verdict for check in (*fit.part_checks, *fit.part.stopped)])
        self.judge(fit, verdict, PLATES[verdict])
        _stopped(self.against, self.here, result, fit.part)
        self.here.board.solids.ask(fit.part.id)

    def tell(self) -> None:
        super().tell()
        result, fit = self.here.board.result, self.fit
        if result is None or fit is None:
            return
        order = fit.part
        good, fresh, progress, wrong = self.here.board.solids.state(order.id)
        look = self.here.board.solids.look(order.id)
        current = look is not None and look[0] == made_digest(order)
        said = (
            f"Being {'rebuilt' if good else 'built'}: {progress[1] or 'starting'}" if progress is not None
            else wrong or ("Not built." if not fresh else _made(order))
        )  # fmt: skip
        if look is not None and progress is not None:
            said += ". What is shown has no lettering yet." if current else ". What is shown is the last good one."
        self.state.say(said)
        self.bar.say(None if progress is None else progress[0])
        self.starter.set_visibility(progress is None and not fresh)
        self.body.classes(replace="opening part" + ("" if fresh or current else " stale"))
        if (good, fresh) != self.facts:
            self.facts = (good, fresh)
            _facts(self.known, result, order, good)
            _files(self.files, good, fresh)
        if look is not None and self.look != look:
            self.look = look
            self.scene = _scene(self.frame, fit, *look, self.apart)


def part(here: Tab, subject: str = "") -> None:
    """What will I make?"""
    here.live(_Part(here, "part", subject).tell)


def _made(part: PartOrder) -> str:
    if not part.final:
        return "Stopped: the part is not made. Its dummy, test ring and paper template are: try them first."
    return f"{part.mark}." if part.mark else "Built, as the job is now."


def _stopped(rows: ui.element, here: Tab, result: Assessment, part: PartOrder) -> None:
    """What stops the part, and where a person gives the reason to make it all the same."""
    rows.clear()
    if not part.stopped:
        return

    def given(event: Any) -> None:
        try:
            here.board.make_anyway(part, str(event.args))
        except (BackwaveError, OSError) as error:
            wrong.say(str(error))

    with rows, ui.element("div").classes("alarm").props('role="group" aria-label="Stopped"'):
        text("p", part.mark or "Stopped. The part is not made, planned or packed, because:")
        listed(f"{verdict_line(one, result.show)}. {words(one.remedy, result.show) or ''}" for one in part.stopped)
        if part.refused:
            text("p", "It cannot be built as it is meant, so no reason helps: change what is named here.", "note")
        elif not part.final:
            with ui.element("form").classes("row") as form:
                with ui.element("label"):
                    text("span", "Reason to make it anyway (kept, and printed on it)")
                    ui.element("input").props('name="reason" maxlength="200" autocomplete="off"')
                button("Make it anyway", lambda: None, "plain", type="submit")
            form.on("submit", given, js_handler="(e) => { e.preventDefault(); emit(e.target.elements.reason.value) }")
        wrong = text("p", "", "note")


def _facts(rows: ui.element, result: Assessment, made: PartOrder, good: Solid | None) -> None:
    rows.clear()
    measured = good.made.facts if good is not None else None
    estimate = good.made.estimate if good is not None else None
    where = f"{made.zone.name}, up to {show(made.zone.service_degc, 'degC', result.show)}"
    said = [("Part", made.label), ("Material", made.material.name), ("Location", where)]
    if measured is not None:
        said.append(("Volume", show(measured.volume_mm3 / 1000, "cm3", result.show)))
        if measured.mass_kg is not None:
            said.append(("Mass", show(1000 * measured.mass_kg, "g", result.show)))
        size = (show(v, "mm", result.show, bare=True) for v in measured.bounds_mm)
        said.append(("Size", " × ".join(size) + (" in" if result.show == "us" else " mm")))
    if estimate is not None:
        said.append(("Print", f"about {estimate.time_s / 3600:.1f} h, an estimate; {estimate.layers} layers"))
    with rows:
        facts(said)


def _files(rows: ui.element, good: Solid | None, fresh: bool) -> None:
    rows.clear()
    with rows:
        if good is None or not fresh:
            text("li", "They come with the solid.", "note")
            return
        for kind in sorted(good.made.files, key=lambda k: list(FILES).index(k) if k in FILES else 99):
            name = FILES.get(kind, kind.replace("_", " "))
            with ui.element("li"):
                link(name, f"/made/{good.digest}/{kind}", "go", download=good.made.files[kind])


def _scene(view: ui.element, fit: PlaceResult, digest: str, kind: str, apart: bool) -> ui.scene:
    """The solid, with driver and foam ring as plain bodies of revolution; drawn apart along the axis."""
    view.clear()
    driver, foam = fit.driver, fit.foam.front
    gap = GAP_MM if apart else 0.0
    with view:
        camera = ui.scene.perspective_camera(fov=40, near=1, far=5000)
        scene = ui.scene(width=600, height=460, grid=False, camera=camera, background_color="#f7f5ef").classes("w-full")
        with scene:
            scene.stl(f"/made/{digest}/{kind}").material("#4f9d94").move(0, 0, fit.back_closed_mm)
            deep = fit.seat_height_mm + 1.2 * gap

            def turned(r1: float, r2: float, long: float, middle: float, color: str, opacity: float) -> None:
                body = scene.cylinder(r1, r2, long, 64).material(color, opacity)
                body.rotate(1.5708, 0, 0).move(0, 0, middle)

            points = [(radius.value, depth.value) for radius, depth in driver.profile]
            for (r1, d1), (r2, d2) in pairwise(points):
                if d2 > d1:
                    turned(r1, r2, d2 - d1, deep - (d1 + d2) / 2, "#8b8f92", 0.55)
            rim, frame = max(driver.rim.value if driver.rim is not None else 0.0, 1.0), fit.frame_mm / 2.0
            turned(frame, frame, rim, deep + rim / 2, "#6c7175", 0.7)
            if foam is not None and foam.closed_mm > 0.0:
                for z in (foam.from_mm, foam.from_mm + foam.closed_mm):
                    ring = scene.ring(foam.inner_mm / 2.0, foam.outer_mm / 2.0, 64).material("#b7974a", 0.9, "both")
                    ring.move(0, 0, z + 1.9 * gap)
        _look(scene, fit, apart, "Angled view", 0.0)
    view.props(f'role="img" aria-label="The part in three dimensions; drag to turn it" data-shown="{digest[:12]}"')
    return scene


def _look(scene: ui.scene, fit: PlaceResult, apart: bool, side: str, seconds: float) -> None:
    reach = max(fit.frame_mm / 2.0, 60.0)
    middle = fit.seat_height_mm + (0.6 * GAP_MM if apart else 0.0)
    x, y, z = (reach * v for v in SEEN[side])
    scene.move_camera(x, y, z + (middle if side == "Side" else 0.0), 0, 0, middle, duration=seconds)
