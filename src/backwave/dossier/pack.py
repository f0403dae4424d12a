"""The folder that is handed over: the dossier, the customer's page, a page to show, lists, drawings, parts, readings."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, field
from pathlib import Path

from backwave.assess import charts, check_json, proof_json, wires_json
from backwave.assess.power.results import harness_json
from backwave.assess.proof.charts import proof_charts
from backwave.assess.work.work_plan import shopping_table, working_json
from backwave.budget import GB, Budget, checkpoint, within
from backwave.dossier.context import PageContext
from backwave.dossier.customer import customer_pdf
from backwave.dossier.document import dossier_pdf
from backwave.dossier.drawings import part_picture, plan_picture
from backwave.dossier.lists import duration
from backwave.dossier.page_cache import kept
from backwave.dossier.showcase_page import public_pdf, public_pictures
from backwave.drawing.chart import chart_svg
from backwave.drawing.face import face_svg
from backwave.drawing.harness import harness_svg
from backwave.drawing.section import section_svg
from backwave.files.handover import Owner, replace_folder
from backwave.files.pdf import svg_to_png
from backwave.plain_text import csv_bytes, file_stem

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
    told: PageContext,
    folder: Path,
    job_toml: bytes = b"",
    made: Path | None = None,
    say: Say | None = None,
    owner: Owner | None = None,
) -> Packed:
    """Write the folder that is handed over; only what an earlier pack wrote and nobody changed is overwritten or taken away.

    `made`: the job's folder of parts, to be copied as far as they were made from these very numbers; `say`: told
    what is being done, from whichever thread does it; with a colon where it is a step of something.
    """
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
    ticks = working.done.ticks
    tasks = [["done", "phase", "task", "who", "time", "machine", "after", "id"]]
    tasks += [
        [
            "yes" if t.id in ticks and ticks[t.id].done else "", t.phase, t.title, t.who, duration(t.minutes),
            duration(t.machine_min) if t.machine_min else "", " ".join(t.after), t.id,
        ]
        for t in working.tasks
    ]  # fmt: skip
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
