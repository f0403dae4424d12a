"""Job: what this is, how far along, what stands in the way: the vehicle from above, the findings worst first."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from backwave.assess import Assessment
from backwave.assess.plan_view import above
from backwave.bench.lists import Assumptions, Findings
from backwave.bench.page_frame import Tab, button, text
from backwave.bench.sketch import sketch
from backwave.bench.widgets import InputField, Picture
from backwave.drawing.plan_view import plan_svg
from backwave.finding import words
from backwave.job.starter import ASKED


def job(here: Tab) -> None:
    """The place."""
    if here.board.session is None:
        _begin(here)
        return
    text("h1", "Job", "unseen")
    picture = Picture()
    with ui.element("section").classes("block"):
        text("h2", "What stands in the way")
        findings = Findings()
    with ui.element("section").classes("block"):
        text("h2", "Before anything is taken apart or drilled")
        cautions = ui.element("ul").classes("cautions")
        text("p", "What the vehicle maker's service information says goes before this.", "note")
    with ui.element("section").classes("block"):
        text("h2", "Assumed, because nobody said otherwise")
        assumed = Assumptions()
    held: dict[str, object] = {}

    def tell() -> None:
        session, result = here.board.session, here.board.result
        if session is None or result is None or not here.news(held, result):
            return
        view = above(session.job, result)
        picture.say(svg=plan_svg(view, "auto", compact=here.narrow, system=result.show))
        findings.tell(here, result, result.findings)
        assumed.tell(here, result)
        warned = tuple(f.id for f in result.cautions)
        if held.get("warned") != warned:
            held["warned"] = warned
            cautions.clear()
            with cautions:
                _cautions(result)

    here.live(tell)


def _cautions(result: Assessment) -> None:
    for finding in result.cautions:
        check = finding.check
        said = [words(t, result.show) for t in (check.title, check.remedy) if t is not None]
        text("li", " ".join(f"{str(s).rstrip('.')}." for s in said))


def _begin(here: Tab) -> None:
    """A new job by six readings."""
    said: dict[str, str] = {}
    text("h1", "A new job")
    text("p", 'Six readings give a first verdict, each as you would write it: "143.5 mm", "58 ± 1 mm", "2 1/4 in". '
              "What is not measured yet can wait; it is asked for afterwards.")  # fmt: skip
    text("p", "Before the trim comes off: disconnect the battery and wait as long as the vehicle maker's service "
              "information says. Doors carry airbags and the sensors that fire them.", "note")  # fmt: skip
    entries: dict[str, InputField] = {}

    def keep(name: str) -> Callable[[str, str], None]:
        def commit(value: str, _: str) -> None:
            said[name] = value
            entries[name].say(value=value, error="")

        return commit

    def light(name: str) -> Callable[[], None]:
        about = "speaker" if name in ("cutout", "magnet", "depth") else "opening"
        key = {"hole": "hole.diameter", "behind": "behind.clear", "trim": "trim.clear"}.get(name, name)
        return lambda: picture.say(svg=sketch(about), lit=key)

    with ui.element("div").classes("bench"):
        form = ui.element("div").classes("form")
        with ui.element("aside").classes("beside").props('aria-label="Sketch"'):
            picture = Picture(sketch("opening"))
    with form:
        names = {"title": "What the job is called"} | {k: v[:1].upper() + v[1:] for k, v in ASKED.items()}
        for name, label in names.items():
            entries[name] = InputField(f"new-{name}", label, on_commit=keep(name), on_lit=light(name))

        async def start() -> None:
            problems = await here.board.begin(said.get("title", ""), {k: v for k, v in said.items() if k != "title"})
            for problem in problems:
                name = problem.key.removeprefix("--")
                if name in entries:
                    entries[name].say(error=f"{problem.message}; accepted: {problem.accepted}")
            if not problems:
                ui.navigate.to("/section" if all(said.get(k) for k in ASKED) else "/survey")

        button("Start the job", start, "plain main")
