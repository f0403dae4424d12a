"""The dossier read back: nothing of the job is missing, nothing is clipped, sheets are at 1:1, bytes repeat."""

from __future__ import annotations

import json
import random
import re
import time
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pypdfium2
import pytest

from backwave.assess import band_levels
from backwave.dossier.context import PageContext
from backwave.dossier.drawings import before_after, sheets, supply
from backwave.dossier.pack import dossier_pdf, teardown
from backwave.drawing.sheet import Poly
from backwave.drawing.template import EDGE, PAPERS, STRIP, template_sheets
from backwave.files.flat_files import template_view
from backwave.finding import value_words, verdict_line
from backwave.job import loads
from backwave.job.gates import Gates, GateWord
from backwave.notation.wires import GAIN_GATE
from backwave.report.blocks import signed
from tests.dossier.conftest import TEXT, many, many_text, tell
from tests.dossier.reading import check_layout, gray, longest_run, squeezed, texts

# Fields of a title block that ISO 7200:2004 makes mandatory.
ISO_7200 = (
    "Legal owner", "Identification number", "Date of issue", "Sheet", "Title", "Approval person", "Creator", "Document type",
)  # fmt: skip


@pytest.fixture(scope="module")
def whole(pdfs: dict[str, bytes]) -> str:
    return squeezed(" ".join(texts(pdfs["A4"])))


def test_every_finding_is_there_with_its_numbers_and_its_remedy(told: PageContext, whole: str) -> None:
    for caution in told.result.cautions:
        assert squeezed(told.say(caution.check.title).rstrip(".")) in whole, caution.id
    rows = [(g.check, g.name, g.ids) for g in told.result.groups if g.check.verdict != "ok"]  # twins are one row
    rows += [(f.check, told.name(f.subject), (f.id,)) for f in told.result.findings if f.check.verdict == "ok"]
    assert {id_ for *_, ids in rows for id_ in ids} == {f.id for f in told.result.findings}
    for check, name, ids in rows:
        numbers = "".join(told.figures(check))
        words = verdict_line(check, told.system)
        if check.verdict != "ok":
            remedy = "" if check.remedy is None else f"→ {told.say(check.remedy)}"
            words = f"{name}: {words}{remedy}"
        # a row as it stands: what was judged, its names, value, ends, limit, and nothing between them
        assert squeezed(words + ", ".join(ids) + numbers) in whole, ids


def test_every_clearance_stands_with_the_numbers_of_the_assessment(told: PageContext, whole: str) -> None:
    for place in told.result.places:
        assert place.fit.clearances
        for c in place.fit.clearances:
            e, mm = c.estimate, lambda value: told.show(value, "mm")
            row = f"{mm(e.value)}{mm(e.low)} … {mm(e.high)}{mm(c.worst_mm)}{mm(c.margin_mm)}"
            assert squeezed(c.name.replace(".", ", ") + row) in whole, (place.subject, c.name)
        assert squeezed(f"speaker rim off the metal{told.show(place.fit.seat_height_mm, 'mm')}") in whole


def test_every_part_and_hole_is_there(told: PageContext, whole: str) -> None:
    mm = told.show
    for part in told.result.parts:
        spec = part.spec
        assert squeezed(f"The part: {part.id}") in whole
        assert squeezed(f"thickness, bore{mm(spec.thickness_mm, 'mm')}, ⌀ {mm(2 * spec.bore_mm, 'mm')}") in whole
        for hole in (*spec.fixings, *spec.threads):
            place = f"{hole.name}{mm(hole.x_mm, 'mm')}{mm(hole.y_mm, 'mm')}⌀ {mm(hole.hole_mm, 'mm')}"
            assert squeezed(place) in whole, (part.id, hole.name)


def test_every_cable_fuse_and_wire_is_there(told: PageContext, whole: str) -> None:
    wires, harness = told.result.wires, told.result.harness
    assert wires is not None
    assert harness is not None
    for node in wires.tree.nodes:
        cable, area = node.cable, node.cable.size.replace("mm2", "mm²")
        begins = f"{told.name(node.id)}{told.name(node.parent) if node.parent else 'battery'}"
        assert squeezed(f"{begins}{told.show(cable.current_a, 'A')}{told.show(cable.length_m, 'm')}{area}") in whole
        assert squeezed(f"{told.show(cable.drop_v, 'V')}{told.show(cable.conductor_degc, 'degC')}") in whole
        if node.fitted:
            assert squeezed(f"{told.name(node.id)}{node.fuse.rating_a:g} A{node.fuse.style}") in whole
    for load in told.job.file.load:
        for n, fuse in enumerate(load.fuses, 1):
            assert squeezed(f"{told.name(load.id)}, its own, {n}{fuse.text}") in whole
    for row in harness.schedule:
        length = told.show(row.length_m, "m", 2)
        color = f"{row.color}{row.color_words}" if row.color else "not entered"
        begins = f"{row.id}{row.from_pin}{row.to_pin}{color}{f'({length})' if row.guessed else length}"
        assert squeezed(f"{begins}{row.area_mm2:g} mm²") in whole, row.id
    for plug in harness.plugs:
        assert all(squeezed(pin.carries) in whole for pin in plug.pins)
    factory = told.result.factory
    assert factory is not None
    for pair in factory.pairs:
        assert (
            squeezed(f"{pair.table.id}{told.name(pair.subject)}{' and '.join(map(str, pair.table.colors or ()))}")
            in whole
        )


def test_every_reading_and_assumption_is_there(told: PageContext, whole: str) -> None:
    for item in told.result.assumed:
        assert squeezed(item.key) in whole
        assert squeezed(value_words(item, told.result.show)) in whole
    every = (r for p in told.result.places for c in p.fit.clearances for r, _ in c.slopes if r.errors)
    readings = {r.name: r for r in every if ".adapter." not in r.name}  # what the part adds is no reading
    assert readings
    for name, reading in readings.items():
        assert squeezed(f"{name}{told.show(reading.value, 'mm', 2)}") in whole, name


def test_every_task_every_row_and_every_setting_is_there(told: PageContext, whole: str) -> None:
    for task in told.working.tasks:
        assert squeezed(task.title) in whole, task.id
        assert all(squeezed(gate) in whole for gate in task.gates)
        assert all(squeezed(words) in whole for words in task.cautions)
    for item in told.working.items:
        amount = "as needed" if item.quantity is None else f"{item.quantity:g} {item.unit or 'pcs'}"
        row = "; ".join(item.why) + item.size.replace("mm2", "mm²") + amount + item.source
        assert squeezed(item.what + row) in whole, item.id
    for stage in told.job.file.stage:
        for path in stage.path:
            assert all(squeezed(str(text)) in whole for text in (*path.network, *path.filters))
            if path.delay is not None:
                assert squeezed(f"delay {path.delay.text}") in whole
    assert squeezed("Prices entered so far: 54.90") in whole
    assert squeezed("took 12 min") in whole


def test_predictions_and_readings_stand_with_the_numbers_of_the_assessment(told: PageContext, whole: str) -> None:
    made, proof = told.result.prediction, told.result.proof
    assert made is not None
    assert proof is not None
    for title, cells, loudest, _ in band_levels(made)[1]:
        levels = "".join(f"{level:.0f} ± {half:.0f}" for level, half in cells)
        assert squeezed(f"{title}{levels}{loudest:.0f}") in whole, title
    (pair,) = proof.pairs
    assert any(row.change is not None and row.change.real for row in pair.bands)
    for row in pair.bands:
        assert row.before_db is not None
        assert row.after_db is not None
        assert row.change is not None
        width = f"± {2 * row.change.u_db:.1f}"
        change = f"{signed(row.change.change_db)} {width}" if row.change.real else f"none ({width})"
        words = f"{row.name}{row.low_hz:g} to {row.high_hz:g} Hz{signed(row.before_db)}{signed(row.after_db)}{change}"
        assert squeezed(words) in whole, row.name
    assert all(squeezed(one.row.file) in whole for one in proof.heard)


def test_the_teardown_is_there_in_order_and_its_reverse(told: PageContext, pdfs: dict[str, bytes], whole: str) -> None:
    apart, together = whole.index(squeezed("As it was taken apart")), whole.index(squeezed("Reassembly, in reverse"))
    first, second = squeezed("Six clips along the lower edge"), squeezed("Two screws behind the handle")
    assert apart < whole.index(first, apart) < whole.index(second, apart) < together
    assert together < whole.index(second, together) < whole.index(first, together)
    assert squeezed("Screws and clips that came out: 8; refitted so far: 2") in whole
    assert squeezed("Adatwo holes of 4 mm2026-03-14 08:00") in whole
    # two of the six photographs can be shown; of the others it is said why
    chapter = teardown(told)
    assert chapter is not None
    assert len(chapter.pictures) == 2
    assert squeezed("photos/lost.jpg: it is not in the job folder") in whole
    assert squeezed("photos/torn.jpg: a picture that is cut short") in whole
    assert squeezed("photos/huge.jpg: 41 MB, at most 40 MB are read") in whole
    assert squeezed("photos/leads-out.jpg: it leads out of the job folder") in whole
    assert b"PRIVATECAMERA" not in pdfs["A4"]  # JPEG goes into a PDF as it is (ISO 32000-1, 7.4.8), tags and all
    assert all(b"Exif" not in picture for picture in chapter.pictures.values() if isinstance(picture, bytes))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_revision_digest_and_number_stand_on_every_page(told: PageContext, pdfs: dict[str, bytes], paper: str) -> None:
    pages = texts(pdfs[paper])
    for n, text in enumerate(pages, 1):
        assert squeezed(f"job file {told.digest}") in squeezed(text), n
        assert squeezed("revision 1") in squeezed(text)
        assert squeezed(f"page {n} of {len(pages)}") in squeezed(text)
    document = pypdfium2.PdfDocument(pdfs[paper])
    sizes = np.sort([document[n].get_size() for n in range(len(document))]) * 25.4 / 72  # some lie on their side
    assert np.abs(sizes - np.sort(PAPERS[paper])).max() < 0.1  # ISO 216; ANSI/ASME Y14.1


def test_the_title_page_has_the_fields_of_a_title_block(told: PageContext, pdfs: dict[str, bytes]) -> None:
    first = texts(pdfs["A4"])[0]
    assert all(field in first for field in ISO_7200)
    bad, waiting = len(told.result.open_groups), len(told.result.waiting)  # what waits for an answer stands below them
    assert squeezed(f"{bad} open, {waiting} waiting") in squeezed(first)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_page_is_empty_no_text_is_clipped_or_lies_on_another(pdfs: dict[str, bytes], paper: str) -> None:
    check_layout(pdfs[paper])


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sheets_are_at_1_to_1_after_rendering(told: PageContext, pdfs: dict[str, bytes], paper: str) -> None:
    pages, _ = sheets(replace(told, paper=paper))
    total = len(pypdfium2.PdfDocument(pdfs[paper]))
    part = told.result.parts[0]
    (sheet,) = template_sheets(template_view(part.on_paper()[0], "", "", "", ""), paper)
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


def test_the_same_job_gives_the_same_bytes_but_for_the_date(told: PageContext, pdfs: dict[str, bytes]) -> None:
    assert dossier_pdf(told) == pdfs["A4"]
    other = dossier_pdf(replace(told, date="2026-03-15"))
    assert other != pdfs["A4"]
    assert [t.replace("2026-03-15", "2026-03-14") for t in texts(other)] == texts(pdfs["A4"])


def test_voltages_wait_for_the_gate(told: PageContext, whole: str) -> None:
    assert told.result.wires is not None
    volts = [c.target.test_tone_v for c in told.result.wires.channels]
    words = [told.show(v, "V") + ", a ceiling" for v in volts if v is not None]
    assert words
    assert not any(squeezed(word) in whole for word in words)
    now = datetime.now(UTC)
    said = (GateWord("gain", c.id, line, True, c.about, now) for c in told.result.wires.channels for line in GAIN_GATE)
    confirmed = supply(replace(told, job=replace(told.job, gates=Gates(tuple(said)))))
    assert confirmed is not None
    text = json.dumps(confirmed.data, ensure_ascii=False)
    assert all(word in text for word in words)


HOSTILE = '#panic(1) $x$ *_` <b> & \\"q\\" @ref // [x] Ω'


def test_whatever_a_person_types_stays_text_and_stays_on_the_page() -> None:
    text = TEXT.replace("Night-round delivery van", HOSTILE + " a long title that goes on and on" * 2, 1)
    text = text.replace(
        "Demo 165 mm woofer", "An uncommonly-long-name-of-a-driver-in-one-word-without-any-break " + HOSTILE
    )
    text = text.replace("Amplifier in", "A stage whose title is longer than anybody would write " * 2)
    told = tell(
        loads(text.replace('show   = "metric"', 'show   = "us"')), "Letter"
    )  # the shorter page, the longer figures
    pdf = dossier_pdf(told)
    assert squeezed('#panic(1) $x$ *_` <b> & "q" @ref // [x] Ω') in squeezed(" ".join(texts(pdf)))
    check_layout(pdf)


def test_the_least_job_is_a_dossier_too() -> None:
    told = tell(loads('format = 1\ntitle = "Nothing yet"\n'))
    whole = squeezed(" ".join(texts(dossier_pdf(told))))
    assert squeezed("No part: the job names no adapter yet") in whole
    # a chapter stands only where there is something for it, and what is missing is said
    assert before_after(told) is None
    assert squeezed("No teardown record: nothing was written down as it was taken apart") in whole
    assert squeezed("No before and after: no reading was taken") in whole


def test_one_stage_heard_says_what_is_missing(told: PageContext) -> None:
    proof = told.result.proof
    assert proof is not None
    lone = replace(proof, pairs=(replace(proof.pairs[0], after=None, expected_after=None),))
    chapter = before_after(replace(told, result=replace(told.result, proof=lone)))
    assert chapter is not None
    assert "Missing is a recording of another stage" in json.dumps(chapter.data)
    unread = before_after(replace(told, result=replace(told.result, proof=None)))
    assert unread is not None
    assert "were not read" in json.dumps(unread.data)


@pytest.mark.parametrize("seed", range(3))
def test_a_random_job_is_laid_out_as_well(seed: int) -> None:
    draw = random.Random(seed)
    some = ["Ring", "of", "the", "rear-most", "shelf", "Überlänge", "ca. 7 × 9", "front/rear", "No. 12", "x" * 40]
    text = many_text(draw.randint(1, 4))
    text = text.replace("A dozen", " ".join(draw.choices(some, k=draw.randint(1, 14)))[:110])
    text = text.replace("Demo 130 mm woofer", " ".join(draw.choices(some, k=draw.randint(1, 9)))[:110])
    for name in re.findall(r'id      = "(wall-\d)"', text):
        longer = "-".join(draw.choices(["rear", "wall", "lower", "left-hand", "9"], k=draw.randint(1, 5))) + name[-2:]
        text = text.replace(f'"{name}"', f'"{longer}"')
    text = text.replace('clear = "30 mm"', f'clear = "{draw.uniform(12, 40):.1f} mm"')  # some of them do not fit
    show = draw.choice(["metric", "us"])
    told = tell(loads(f'show = "{show}"\n{text}'), draw.choice(["A4", "Letter"]))
    assert told.result.places
    check_layout(dossier_pdf(told))


@pytest.mark.slow
def test_a_dozen_openings_within_15_s() -> None:
    told = tell(many(12))
    assert len(told.result.parts) == 12
    started = time.process_time()  # its own work, however busy the machine is
    steps: list[str] = []
    pdf = dossier_pdf(told, steps.append)
    assert len(steps) > 12  # progress: a word for every place
    assert time.process_time() - started < 15.0
    check_layout(pdf)
    whole = squeezed(" ".join(texts(pdf)))
    assert all(squeezed(f"The part: {part.id}") in whole for part in told.result.parts)
    assert all(squeezed(finding.id) in whole for finding in told.result.findings)
