"""The dossier read back: nothing of the job is missing, nothing is clipped, sheets are at 1:1, bytes repeat."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from backwave.assess.done import Done, Note, Tick
from backwave.assess.sheets import flat_parts
from backwave.assess.working import working
from backwave.dossier.drawn import sheets
from backwave.dossier.told import Told
from backwave.dossier.whole import dossier_pdf
from backwave.drawing.sheet import Poly
from backwave.drawing.template import EDGE, PAPERS, STRIP, template_sheets
from backwave.files.paper import template_view
from backwave.job import loads
from tests.dossier.conftest import TEXT, many, tell
from tests.dossier.reading import boxes, gray, longest_run, overlaps, squeezed, texts

# Fields of a title block that ISO 7200:2004 makes mandatory.
ISO_7200 = (
    "Legal owner", "Identification number", "Date of issue", "Sheet", "Title", "Approval person", "Creator", "Document type",
)  # fmt: skip


@pytest.fixture(scope="module")
def whole(pdfs: dict[str, bytes]) -> str:
    return squeezed(" ".join(texts(pdfs["A4"])))


def test_every_finding_is_there_with_its_words_and_its_remedy(told: Told, whole: str) -> None:
    for finding in (*told.result.findings, *told.result.cautions):
        assert squeezed(told.say(finding.check.title).rstrip(".")) in whole, finding.id
    for finding in told.result.findings:
        assert squeezed(finding.id) in whole
        if finding.check.verdict != "ok" and finding.check.remedy is not None:
            assert squeezed(told.say(finding.check.remedy)) in whole


def test_every_part_fuse_reading_assumption_and_wire_is_there(told: Told, whole: str) -> None:
    wires = told.result.wires
    assert wires is not None
    for part in told.result.parts:
        assert squeezed(f"The part: {part.id}") in whole
        assert squeezed(told.show(part.spec.thickness_mm, "mm")) in whole
    for node in wires.tree.nodes:
        assert squeezed(told.name(node.id)) in whole
        assert squeezed(told.show(node.cable.length_m, "m")) in whole
        if node.needed:
            assert squeezed(f"{node.fuse.rating_a:g} A{node.fuse.style}") in whole
    for load in told.job.file.load:
        assert all(
            squeezed(f"{told.name(load.id)}, its own, {n}{q.text}") in whole for n, q in enumerate(load.fuses, 1)
        )
    for item in told.result.assumed:
        assert squeezed(item.key) in whole
        assert squeezed(item.value) in whole
    names = {r.name for p in told.result.places for c in p.fit.clearances for r, _ in c.slopes if r.errors}
    assert names
    assert all(squeezed(name) in whole for name in names)


def test_every_task_every_row_and_every_setting_is_there(told: Told, whole: str) -> None:
    for task in told.working.tasks:
        assert squeezed(task.title) in whole, task.id
        assert all(squeezed(gate) in whole for gate in task.gates)
        assert all(squeezed(words) in whole for words in task.cautions)
    for item in told.working.items:
        assert squeezed(item.what) in whole
        assert squeezed(item.size.replace("mm2", "mm²")) in whole
    for stage in told.job.file.stage:
        for path in stage.path:
            assert all(squeezed(text) in whole for text in (*path.network, *path.filters))
            if path.delay is not None:
                assert squeezed(f"delay {path.delay.text}") in whole


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_revision_digest_and_number_stand_on_every_page(told: Told, pdfs: dict[str, bytes], paper: str) -> None:
    pages = texts(pdfs[paper])
    for n, text in enumerate(pages, 1):
        assert squeezed(f"job file {told.digest}") in squeezed(text), n
        assert squeezed("revision 1") in squeezed(text)
        assert squeezed(f"page {n} of {len(pages)}") in squeezed(text)
    document = pypdfium2.PdfDocument(pdfs[paper])
    sizes = np.array([document[n].get_size() for n in range(len(document))]) * 25.4 / 72
    assert np.abs(sizes - np.array(PAPERS[paper])).max() < 0.1  # ISO 216; ANSI/ASME Y14.1


def test_the_title_page_has_the_fields_of_a_title_block(whole: str, pdfs: dict[str, bytes]) -> None:
    first = texts(pdfs["A4"])[0]
    assert all(field in first for field in ISO_7200)
    assert squeezed("7 of ") in squeezed(first)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_text_is_clipped_and_none_lies_on_another(pdfs: dict[str, bytes], paper: str) -> None:
    for n, (width, height), found in boxes(pdfs[paper]):
        assert found, n
        # 4 mm: what a printer cannot reach (common trade practice)
        left, low, right, high = (f(b[k] for b in found) for k, f in enumerate((min, min, max, max)))
        assert left > 11, n + 1
        assert low > 4, n + 1
        assert right < width - 11, n + 1
        assert high < height - 11, n + 1
        assert not overlaps(found), (n + 1, overlaps(found)[:3])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheets_are_at_1_to_1_after_rendering(told: Told, pdfs: dict[str, bytes], paper: str) -> None:
    pages, _ = sheets(replace(told, paper=paper))
    total = len(pypdfium2.PdfDocument(pdfs[paper]))
    part = told.result.parts[0]
    (sheet,) = template_sheets(template_view(flat_parts(part)[0], "", "", "", ""), paper)
    bars = [m.points for m in sheet.marks if isinstance(m, Poly) and m.look == "edge" and len(m.points) == 2]
    level = next(a[1] for a, b in bars if a[1] == b[1] and abs(a[0] - b[0]) == 100)
    mm = 600 / 25.4
    dark = gray(pdfs[paper], total - len(pages), 600) < 128
    row = dark[round(level * mm), round((EDGE + STRIP - 2) * mm) : round((EDGE + STRIP + 103) * mm)]
    assert longest_run(row) / mm == pytest.approx(100.0, abs=0.1)
    column = dark[round((level - 103) * mm) : round((level + 2) * mm), round(EDGE * mm)]
    assert longest_run(column) / mm == pytest.approx(100.0, abs=0.1)
    # the job's own flange: 182 mm, outside to outside of its 0.25 mm line
    ys = [y for m in sheet.marks if isinstance(m, Poly) and m.look == "cut" for _, y in m.points]
    across = np.flatnonzero(dark[round((min(ys) + max(ys)) / 2 * mm)])
    across = across[across > (EDGE + STRIP) * mm]
    assert (across.max() - across.min()) / mm == pytest.approx(182.0, abs=0.35)


def test_the_same_job_gives_the_same_bytes_but_for_the_date(told: Told, pdfs: dict[str, bytes]) -> None:
    assert dossier_pdf(told) == pdfs["A4"]
    other = dossier_pdf(replace(told, date="2026-03-15"))
    assert other != pdfs["A4"]
    assert [t.replace("2026-03-15", "2026-03-14") for t in texts(other)] == texts(pdfs["A4"])


def test_a_chapter_stands_only_where_there_is_something(told: Told, whole: str) -> None:
    assert "Teardownrecord" not in whole
    assert "Beforeandafter" not in whole
    done = Done(
        {"consent": Tick("consent", True, "2026-03-14T10:00", 12.0)}, notes=(Note("Six clips below", count=6),)
    )
    noted = replace(told, working=working(told.job, told.result, None, done))
    text = squeezed(" ".join(texts(dossier_pdf(noted))))
    assert squeezed("Teardown record") in text
    assert squeezed("Six clips below") in text
    assert squeezed("came out: 6") in text
    assert squeezed("took 12 min") in text


def test_voltages_wait_for_the_gate(told: Told, whole: str) -> None:
    assert told.result.wires is not None
    volts = [c.target.test_tone_v for c in told.result.wires.channels]
    words = [squeezed(told.show(v, "V") + ", a ceiling") for v in volts if v is not None]
    assert words
    assert not any(word in whole for word in words)
    text = squeezed(" ".join(texts(dossier_pdf(replace(told, speakers_off=True)))))
    assert all(word in text for word in words)


HOSTILE = '#panic(1) $x$ *_` <b> & \\"q\\" @ref // [x] Ω'


@pytest.mark.parametrize("show", ["metric", "us"])
def test_whatever_a_person_types_stays_text_and_stays_on_the_page(show: str) -> None:
    text = TEXT.replace("Night-round delivery van", HOSTILE + " a long title that goes on and on" * 2, 1)
    text = text.replace(
        "Demo 165 mm woofer", "An uncommonly-long-name-of-a-driver-in-one-word-without-any-break " + HOSTILE
    )
    text = text.replace("Amplifier in", "A stage whose title is longer than anybody would write " * 2)
    told = tell(loads(text.replace('show   = "metric"', f'show   = "{show}"')), "Letter")  # the shorter of the two
    pdf = dossier_pdf(told)
    whole = squeezed(" ".join(texts(pdf)))
    assert squeezed('#panic(1) $x$ *_` <b> & "q" @ref // [x] Ω') in whole
    for n, (width, height), found in boxes(pdf):
        assert max(b[2] for b in found) < width - 11, n + 1
        assert max(b[3] for b in found) < height - 11, n + 1
        assert not overlaps(found), (n + 1, overlaps(found)[:3])


def test_the_least_job_is_a_dossier_too() -> None:
    pdf = dossier_pdf(tell(loads('format = 1\ntitle = "Nothing yet"\n')))
    whole = squeezed(" ".join(texts(pdf)))
    assert squeezed("No part: the job names no adapter yet") in whole


@pytest.mark.slow
def test_a_dozen_openings_within_15_s() -> None:
    told = tell(many(12))
    assert len(told.result.parts) == 12
    started = time.perf_counter()
    pdf = dossier_pdf(told)
    assert time.perf_counter() - started < 15.0
    whole = squeezed(" ".join(texts(pdf)))
    assert all(squeezed(f"The part: {part.id}") in whole for part in told.result.parts)
    assert all(squeezed(finding.id) in whole for finding in told.result.findings)
