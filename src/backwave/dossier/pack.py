"""The dossier as one PDF (cover, chapters, sheets at 1:1), and the folder that is handed over with it.

Beside the dossier stand the customer's page, a page to show, lists, drawings, parts and readings."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from backwave.assess import charts, check_json, proof_json, wires_json
from backwave.assess.next_steps import tally
from backwave.assess.power.results import harness_json
from backwave.assess.proof.charts import proof_charts
from backwave.assess.work.work_plan import shopping_table, working_json
from backwave.budget import GB, Budget, checkpoint, within
from backwave.dossier.context import TEMPLATE, Chapter, PageContext, kept
from backwave.dossier.drawings import (
    before_after,
    drawings,
    factory,
    fasteners,
    harness,
    part_picture,
    plan_picture,
    predicted,
    sheets,
    supply,
)
from backwave.dossier.findings import DEFERS, cautions, cover_table, findings, passed, readings, summary
from backwave.dossier.pages import customer_pdf, public_pdf, public_pictures
from backwave.drawing.chart import chart_svg
from backwave.drawing.face import face_svg
from backwave.drawing.harness import harness_svg
from backwave.drawing.section import section_svg
from backwave.files.handover import Owner, replace_folder
from backwave.files.pdf import svg_to_png, typeset
from backwave.notation.measures import in_words
from backwave.plain_text import csv_bytes, file_stem
from backwave.report import work
from backwave.report.blocks import columns, items, par, plate, small, together
from backwave.report.sound import settings
from backwave.report.work import duration


def verdict_words(told: PageContext) -> str:
    """The verdict of the whole in a sentence."""
    stops = sum(group.check.verdict == "stop" for group in told.result.groups)
    return f"{tally(told.result.groups)}; {f'{stops} STOP' if stops else 'none says stop'}"


def dossier_pdf(told: PageContext, say: Callable[[str], None] | None = None) -> bytes:
    """The dossier."""
    tell = say or (lambda words: None)
    chapters = []
    for chapter in filter(None, _chapters(told)):
        tell(f"dossier: {chapter.title}")
        chapters.append(chapter)
    tell("dossier: sheets at 1:1")
    pages, pictures = sheets(told)
    if pages:
        chapters.append(_announce(len(pages)))
    for chapter in chapters:
        pictures |= chapter.pictures
    pictures["plan.svg"] = plan_picture(told)
    data = told.data("Dossier") | {
        "cover": _cover(told),
        "after-contents": [*summary(told), *(small(line) for line in _left_out(told))],
        "chapters": [chapter.data for chapter in chapters],
        "sheets": pages,
    }
    tell("dossier: typesetting")
    return typeset(TEMPLATE, data, pictures, told.stamp)


def _chapters(told: PageContext) -> Iterator[Chapter | None]:
    """In the order of the dossier; None where a job has nothing for one."""
    yield from (cautions(told), findings(told))
    yield from drawings(told)
    for make in (
        fasteners, harness, factory, supply, _settings, predicted, before_after, _checklist, _shopping, teardown, passed,
        readings, _sources,
    ):  # fmt: skip
        yield make(told)


def _settings(told: PageContext) -> Chapter | None:
    blocks = settings(told, told.job)
    return Chapter("Settings, stage by stage", blocks, flow=True) if blocks else None


def _checklist(told: PageContext) -> Chapter:
    return Chapter("Checklist", work.checklist(told.working))


def _shopping(told: PageContext) -> Chapter:
    return Chapter("Shopping list", work.shopping(told, told.working), flow=True)


def teardown(told: PageContext) -> Chapter | None:
    """What was written down on the way; None where nothing was."""
    photos = {name: f"photo{n}.jpg" for n, name in enumerate(told.photos.there)}
    blocks = work.teardown(told, told.working, photos, told.photos.lost)
    pictures: dict[str, str | bytes] = {photos[name]: data for name, data in told.photos.there.items()}
    return Chapter("Teardown record", blocks, pictures, flow=True) if blocks else None


def _sources(told: PageContext) -> Chapter:
    """What the numbers rest on."""
    result = told.result
    checks = [f.check for f in (*result.findings, *result.cautions)]
    named = {s for c in checks for s in c.sources} | {i.source for i in told.working.items if i.source}
    steps = {s.source for c in checks for s in c.working if any(word in s.source for word in _STANDARDS)}
    named = {in_words(line, told.system) for line in named | steps if not line.startswith("the ")}
    words = (
        "What the findings and the lists name as their source. The working behind each finding names, beside "
        "every number, where it is from: backwave why JOB ID."
    )
    lines = columns(sorted(named, key=str.casefold)) if named else par("None: nothing was judged.")
    return Chapter("Sources", [par(words), lines], flow=True)


_STANDARDS = ("ISO ", "IEC ", "ASTM ", "JCGM ", "DIN ", "EN ", "SAE ", "ANSI")


def _announce(count: int) -> Chapter:
    how = items([
        "Print at 100 %, without fitting to the page.",
        "Measure both bars on every sheet before you cut: each is as long as it says beside it.",
        "Where a part needs several sheets, lay their crosses over each other.",
        "Try the card or the test ring in the opening first: window all the way up, half way and down.",
    ])  # fmt: skip
    words = par(f"The last {count} pages are templates and cards at full size.")
    return Chapter("Sheets at 1:1", [together([words, how])], flow=True)


def _cover(told: PageContext) -> dict[str, Any]:
    result, file = told.result, told.job.file
    bad = result.open_groups
    lines = [f"{group.name}: {told.line(group.check)}" for group in bad[:3]]
    if len(bad) > 3:
        lines.append(f"and {len(bad) - 3} more, in the chapter on findings")
    crew = file.crew.people if file.crew is not None else ()
    return {
        "subtitle": file.vehicle.name or "the vehicle has no name in the job",
        "above": [plate(result.verdict, verdict_words(told), lines)],
        "picture": "plan.svg",
        "below": [*cover_table(told), small(DEFERS)],
        # the data fields of a title block, ISO 7200:2004; what nobody said is left to be written in
        "block": [
            ["Title", result.title, 2], ["Document type", "Dossier of a loudspeaker installation", 1],
            ["Legal owner", "", 1], ["Creator", ", ".join(crew[:1]), 1], ["Approval person", "", 1],
            ["Identification number", "@digest", 2], ["Date of issue", "@date", 1],
            ["Revision index", "@revision", 1], ["Sheet", "@sheet", 1], ["Language", "en", 1],
        ],
    }  # fmt: skip


def _left_out(told: PageContext) -> list[str]:
    """What a reader might look for and will not find, and why."""
    lines = ["A chapter stands here only when the job has something for it."]
    if told.result.harness is None and told.job.file.stage:
        lines.append("No harness: the wires named in the job do not fit its paths; the findings say which.")
    if not told.entries and told.result.parts:
        lines.append("The parts were not built from these numbers yet; what is said of them follows from their plan.")
    if not told.working.teardown:
        lines.append("No teardown record: nothing was written down as it was taken apart.")
    if not told.job.file.reading:
        lines.append("No before and after: no reading was taken. What a stage brings is predicted, not measured.")
    return lines


PACK_S = 300.0  # the demo's takes some 5 s
Say = Callable[[str], None]


@dataclass(frozen=True)
class Packed:
    """What was packed."""

    folder: Path
    files: tuple[str, ...]  # names inside the folder
    revision: str
    # files that stood in the way and are not from an earlier pack, or were changed since, and their new names
    kept: Mapping[str, str] = field(default_factory=dict)
    # files of an earlier pack that were changed since, and stay although nothing of that name is packed now
    left: tuple[str, ...] = ()


def pack(
    told: PageContext, folder: Path, job_toml: bytes = b"", made: Path | None = None, say: Say | None = None,
    owner: Owner | None = None,
) -> Packed:  # fmt: skip
    """Write the folder that is handed over; only what an earlier pack wrote and nobody changed is overwritten or taken
    away. `made`: the job's folder of parts, to be copied as far as they were made from these very numbers; `say`: told
    what is being done, from whichever thread does it; with a colon where it is a step of something."""
    held: dict[str, bytes] = {}

    def tell(words: str) -> None:
        checkpoint()
        if say is not None:
            say(words)

    # the typesetter works outside the interpreter: the rest is made meanwhile, and both count
    with within(Budget("the dossier", PACK_S, 2 * GB)), ThreadPoolExecutor(1) as other:
        tell("dossier")
        whole = other.submit(copy_context().run, dossier_pdf, told, tell)
        tell("pages for the customer and for others")
        held["customer.pdf"] = customer_pdf(told)
        held["public/page.pdf"] = public_pdf(told)
        for name, svg in public_pictures(told).items():
            held[f"public/{name}.svg"] = svg.encode()
            held[f"public/{name}.png"] = kept(svg_to_png, svg, width_mm=180, ppi=144)
        tell("lists and drawings")
        held |= _lists(told) | _drawings(told)
        held["dossier.pdf"] = whole.result()
    if job_toml:
        held["job.toml"] = job_toml
    held |= told.photos.there  # small, and without a tag
    if made is not None:
        for entry in told.entries.values():
            for name in entry["files"].values():
                held[f"parts/{name}"] = (made / name).read_bytes()
    done = replace_folder(folder, held, owner)
    return Packed(folder, tuple(sorted(held)), told.revision, done.kept, done.left)


def _lists(told: PageContext) -> dict[str, bytes]:
    working = told.working
    tasks = [["done", "phase", "task", "who", "time", "machine", "after", "id"]]
    for row in working.rows:
        t, done = row.task, "yes" if row.done else ""
        machine = duration(t.machine_min) if t.machine_min else ""
        tasks.append([done, t.phase, t.title, t.who, duration(t.minutes), machine, " ".join(t.after), t.id])
    found = {
        "lists/shopping.csv": csv_bytes(shopping_table(working.items)),
        "lists/checklist.csv": csv_bytes(tasks),
        "data/findings.json": _json(check_json(told.result)),
        "data/plan.json": _json(working_json(working)),
    }
    if told.result.wires is not None:
        found["data/supply.json"] = _json(wires_json(told.result.wires, gates=told.job.gates))
    if told.result.harness is not None:
        found["data/harness.json"] = _json(harness_json(told.result.harness))
    if told.result.proof is not None:
        found["data/readings.json"] = _json(proof_json(told.result.proof), indent=None)  # curves
    return found


def _json(value: object, indent: int | None = 1) -> bytes:
    return (json.dumps(value, indent=indent, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _drawings(told: PageContext) -> dict[str, bytes]:
    found = {"drawings/above.svg": plan_picture(told).encode()}
    for place in told.result.places:
        name = file_stem(place.subject.replace(".", "-"))
        found[f"drawings/section-{name}.svg"] = kept(section_svg, place, "paper", system=told.system).encode()
        found[f"drawings/face-{name}.svg"] = kept(face_svg, place, "paper", system=told.system).encode()
    for part in told.result.parts:
        svg = part_picture(told, part)
        if svg is not None:
            found[f"drawings/part-{file_stem(part.id)}.svg"] = svg.encode()
    drawn = {} if told.result.prediction is None else dict(charts(told.result.prediction, told.system))
    drawn |= {} if told.result.proof is None else proof_charts(told.result.proof)
    found |= {f"drawings/{name}.svg": kept(chart_svg, chart, "paper").encode() for name, chart in drawn.items()}
    if told.result.harness is not None:
        found["drawings/harness.svg"] = kept(harness_svg, told.result.harness, told.result.title, "paper").encode()
    return found
