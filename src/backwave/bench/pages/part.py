"""Part: what will be made: the solid, turning, with driver and foam drawn apart; its facts; its files."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import Any

from nicegui import ui

from backwave.assess import Assessment, PartOrder, PlaceResult, made_digest
from backwave.bench.findings import Chooser, Numbers, lines
from backwave.bench.page_frame import Tab
from backwave.bench.pages.fit import missing, of
from backwave.bench.solids import Solid
from backwave.bench.widgets import ProgressBar, button, facts, link, listed, text
from backwave.errors import BackwaveError
from backwave.finding import verdict_line, words
from backwave.units import show

FILES = {
    "3mf": "3MF, to print", "step": "STEP, to change", "stl": "STL, to print", "dxf": "DXF, to cut and drill",
    "template": "1:1 paper template (PDF)", "check_ring": "Test ring (STL)", "stand_in": "Dummy (STL)",
    "foam": "Foam ring (DXF)",
}  # fmt: skip
GAP_MM = 48.0  # between the bodies where they are drawn apart
APART = {True: "Assembled", False: "Exploded"}
SEEN = {  # where the eye is, in reaches of the part from its middle
    "Angled view": (2.3, -2.7, 1.9), "Front": (0.0, -0.01, 4.0), "Side": (0.0, -4.0, 0.0), "Back": (0.0, -0.01, -4.0),
}  # fmt: skip


def part(here: Tab, subject: str = "") -> None:
    text("h1", "Part", "unseen")
    choose = Chooser("/part")
    nothing = ui.element("div")
    body = ui.element("div")
    solids = here.board.solids
    held: dict[str, Any] = {"shown": None, "drawn": None, "facts": None, "apart": True, "scene": None}

    def found() -> tuple[Assessment, PlaceResult, PartOrder] | None:
        result = here.board.result
        fit = None if result is None else of(result, subject)
        return None if result is None or fit is None else (result, fit, fit.part)

    def again() -> None:
        if now := found():
            solids.ask(now[2].id, again=True)
            tell()

    def stop() -> None:
        if now := found():
            solids.cancel(now[2].id)

    def apart() -> None:
        held["apart"], held["drawn"] = not held["apart"], None
        together.say(APART[held["apart"]])
        tell()

    def see(side: str) -> None:
        now, scene = found(), held["scene"]
        if now is not None and scene is not None:
            _look(scene, now[1], held["apart"], side, 0.4)

    with body:
        with ui.element("div").classes("building").props('role="status"') as building:
            state = text("span", "")
            bar = ProgressBar("How far it is built", stop, "plain")
            starter = button("Build it", again, "plain")
        against = ui.element("div")
        with ui.element("div").classes("bench"):
            view = ui.element("div").classes("solid")
            with ui.element("div").classes("beside after"):
                with ui.element("div").classes("row").props('role="group" aria-label="Seen from"'):
                    for side in SEEN:
                        button(side, partial(see, side), "plain")
                together = button(APART[True], apart, "plain")
                known = ui.element("div")
                text("h2", "Files")
                files = ui.element("ul").classes("files")
        numbers = Numbers()

    def tell() -> None:
        now = found()
        body.set_visibility(now is not None)
        result = here.board.result
        if here.news(held, result):
            choose.tell(result, now[1].subject if now else "")
            nothing.clear()
            if now is None:
                with nothing:
                    missing(here)
                return
            numbers.tell(now[0], lines(now[0], now[1], "part."))
            _stopped(against, here, now[0], now[2])
            solids.ask(now[2].id)
        if now is None:
            return
        good, fresh, progress, wrong = solids.state(now[2].id)
        look = solids.look(now[2].id)
        current = look is not None and look[0] == made_digest(now[2])
        said = (
            f"Being {'rebuilt' if good else 'built'}: {progress[1] or 'starting'}" if progress is not None
            else wrong or ("Not built." if not fresh else _made(now[2]))
        )  # fmt: skip
        if look is not None and progress is not None:
            said += ". What is shown has no lettering yet." if current else ". What is shown is the last good one."
        state.say(said)
        bar.say(None if progress is None else progress[0])
        starter.set_visibility(progress is None and not fresh)
        building.classes(replace="building" + ("" if fresh or current else " stale"))
        if (good, fresh) != held["facts"]:
            held["facts"] = (good, fresh)
            _facts(known, now[0], now[2], good)
            _files(files, good, fresh)
        if look is not None and held["drawn"] != look:
            held["drawn"] = look
            held["scene"] = _scene(view, now[1], *look, held["apart"])

    here.live(tell)


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
