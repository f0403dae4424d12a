"""Job: what this is, how far along, what stands in the way: the vehicle from above, the findings worst first."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from backwave.assess import Assessment, words
from backwave.bench import lead
from backwave.bench.field import Entry, Picture
from backwave.bench.frame import Here, button, link, text, verdict
from backwave.bench.sketch import sketch
from backwave.drawing import PlanEar, PlanPlace, PlanView, plan_svg
from backwave.finding import Finding, worst
from backwave.job import Job, places
from backwave.job.new import ASKED
from backwave.units import show

__all__ = ["job", "plan_of"]


def job(here: Here) -> None:
    """The place.

    Parameters
    ----------
    here : Here, no unit
        The tab.
    """
    if here.board.session is None:
        _begin(here)
        return
    text("h1", "Job", "unseen")
    picture = Picture()
    with ui.element("section").classes("block"):
        text("h2", "What stands in the way")
        findings = ui.element("div").classes("findings")
    with ui.element("section").classes("block"):
        text("h2", "Before anything is taken apart or drilled")
        cautions = ui.element("ul").classes("cautions")
        text("p", "What the vehicle maker's service information says goes before this.", "note")
    with ui.element("section").classes("block"):
        text("h2", "Assumed, because nobody said otherwise")
        assumed = ui.element("div").classes("rows")
    shown: list[object] = [None]

    def tell() -> None:
        session, result = here.board.session, here.board.result
        if session is None or result is None or shown[0] == (result, here.narrow):
            return
        shown[0] = (result, here.narrow)
        view = plan_of(session.job, result)
        picture.say(svg=plan_svg(view, "auto", compact=here.narrow, system=result.show))
        for made, fill in ((findings, _findings), (cautions, _cautions), (assumed, _assumed)):
            made.clear()
            with made:
                fill(here, result)

    here.live(tell)


def plan_of(job: Job, result: Assessment) -> PlanView:
    """The vehicle from above.

    Parameters
    ----------
    job : Job, no unit
        The job.
    result : Assessment, no unit
        What was found.
    """
    file, cabin = job.file, job.file.vehicle.cabin

    def judged(subject: str) -> tuple[Finding, ...]:
        return tuple(f for f in result.findings if f.subject == subject)

    spots = []
    for place in places(job):
        at = place.position_m
        found = judged(place.subject)
        least = next((f for f in found if f.check.verdict != "ok"), None)
        spots.append(
            PlanPlace(
                place.name,
                None if at is None else (1000 * at[0], 1000 * at[1]),
                worst([f.check.verdict for f in found]) if found else None,
                (words(least.check.title, result.show) or "") if least is not None else "",
                facing=_facing(place.side),
            )
        )
    for box in file.box:
        spot = None if box.at is None else (box.at[0].to("mm"), box.at[1].to("mm"))
        spots.append(PlanPlace(result.names.get(box.id, box.id), spot, kind="box"))
    count = sum(f.check.verdict != "ok" for f in result.findings)
    return PlanView(
        title=file.title,
        subtitle=file.vehicle.name or "the vehicle has no name yet",
        verdict=result.verdict,
        verdict_text=f"{count} to look at" if count else "nothing stands in the way",
        verdict_note=f"{len(result.findings) - count} more are ok",
        length_mm=None if cabin is None else cabin.length.to("mm"),
        width_mm=None if cabin is None else cabin.width.to("mm"),
        ears=tuple(PlanEar(s.id, (s.ear[0].to("mm"), s.ear[1].to("mm"))) for s in file.seat),
        places=tuple(spots),
    )


def _facing(side: str) -> tuple[float, float] | None:
    return {"left": (0.0, 1.0), "right": (0.0, -1.0)}.get(side)


def _findings(here: Here, result: Assessment) -> None:
    bad = [f for f in result.findings if f.check.verdict != "ok"]
    for finding in bad:
        _finding(here, result, finding)
    if not bad:
        text("p", "Nothing. Every check is ok.")
    with ui.element("details"):
        text("summary", f"{len(result.findings) - len(bad)} checks that are ok")
        for finding in result.findings:
            if finding.check.verdict == "ok":
                _finding(here, result, finding)


def _finding(here: Here, result: Assessment, finding: Finding) -> None:
    check, system = finding.check, result.show
    with ui.element("article").classes(f"finding {check.verdict}"):
        text("span", verdict(check.verdict), "mark")
        with ui.element("div").classes("said"):
            text("h3", f"{result.names.get(finding.subject, finding.subject)}: {words(check.title, system)}")
            if check.remedy is not None:
                text("p", f"→ {words(check.remedy, system)}")
            with ui.element("div").classes("row"):
                if check.value is not None:
                    value = show(check.value, check.unit, system)
                    if check.low is not None and check.high is not None:
                        low, high = (show(v, check.unit, system, bare=True) for v in (check.low, check.high))
                        value += f"  ({low} … {high})"
                    if check.limit is not None:
                        value += f"  against {show(check.limit, check.unit, system)}"
                    text("span", value, "figure")
                link("Why?", lead.why(finding.id), "go", **{"aria-label": f"Why: {finding.id}"})
                if check.verdict != "ok":
                    link(
                        "Go there",
                        lead.of_finding(here.board, finding),
                        "go",
                        **{"aria-label": f"Go to {finding.id}"},
                    )


def _cautions(here: Here, result: Assessment) -> None:
    for finding in result.cautions:
        check = finding.check
        said = [words(t, result.show) for t in (check.title, check.remedy) if t is not None]
        text("li", " ".join(f"{str(s).rstrip('.')}." for s in said))


def _assumed(here: Here, result: Assessment) -> None:
    for item in result.assumed:
        with ui.element("div").classes("assumption"):
            path = lead.of_key(here.board.data, item.key)
            text("span", item.key, "key")
            text("span", item.value, "figure")
            text("span", item.why, "note")
            if path is not None:
                link("replace", lead.href(path), "go", **{"aria-label": f"Replace {item.key}"})


def _begin(here: Here) -> None:
    """A new job by six readings."""
    said: dict[str, str] = {}
    text("h1", "A new job")
    text("p", 'Six readings give a first verdict, each as you would write it: "143.5 mm", "58 ± 1 mm", "2 1/4 in". '
              "What is not measured yet can wait; it is asked for afterwards.")  # fmt: skip
    text("p", "Before the trim comes off: disconnect the battery and wait as long as the vehicle maker's service "
              "information says. Doors carry airbags and the sensors that fire them.", "note")  # fmt: skip
    entries: dict[str, Entry] = {}

    def keep(name: str) -> Callable[[str], None]:
        def commit(value: str) -> None:
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
            entries[name] = Entry(f"new-{name}", label, on_commit=keep(name), on_lit=light(name))

        async def start() -> None:
            problems = await here.board.begin(
                said.get("title", ""), {k: v for k, v in said.items() if k != "title"}
            )
            for problem in problems:
                name = problem.key.removeprefix("--")
                if name in entries:
                    entries[name].say(error=f"{problem.message}; accepted: {problem.accepted}")
            if not problems:
                ui.navigate.to("/section" if all(said.get(k) for k in ASKED) else "/survey")

        button("Start the job", start, "plain main")
