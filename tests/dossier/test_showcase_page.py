"""The page to show others holds nothing that a person typed; the customer's page is plain."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from backwave.dossier.context import PageContext
from backwave.dossier.pack import dossier_pdf
from backwave.dossier.pages import TITLE, customer_pdf, public_pdf, public_pictures
from backwave.files.pdf import svg_to_png
from backwave.report.blocks import signed
from tests.dossier.conftest import TEXT, furnish, tell_folder
from tests.dossier.reading import check_layout, squeezed, texts

# What stands in the demo, and what a person might have typed there instead.
PRIVATE = {
    "Night-round delivery van": "PRIVATETITLE AB-123-CD",
    "Demo panel van": "PRIVATEVAN at 12 PRIVATESTREET",
    "New speakers on head-unit power": "PRIVATESPEAKERS",
    "door chime": "PRIVATECHIME",
    "a rib beside contact 1": "PRIVATERIB",
    "front-door": "privatedoor",
    "cargo-wall": "privatewall",
    "demo-165": "privatedriver",
    "Demo 165 mm woofer": "PRIVATEWOOFER",
    "demo-130": "privateother",
    "Demo 130 mm woofer": "PRIVATEOTHER",
    "head-unit": "privatesource",
    "under-seat": "privatebox",
    '"driver"': '"privateseat"',
    "amplified": "privatestage",
    "Amplifier in": "PRIVATESTAGE 1234.50",
    "amp": "privateamp",
    "block": "privateblock",
}
CREW = '[crew]\npeople = ["PRIVATEPERSON"]\n\n'
SAID = {
    "format": 1,
    "consent": [{"id": "d", "given": True, "who": "PRIVATEOWNER", "text": "PRIVATECONSENT", "key": "c", "when": "2026-03-14"}],
    "item": [{"id": "privatewoofer-166-mm", "price": 1234.5, "have": True, "key": "i"}],
    "task": [{"id": "mine", "title": "PRIVATETASK", "who": "PRIVATEHELPER", "key": "t"}],
    "note": [
        {"id": "n0", "about": "condition", "text": "PRIVATESCRATCH", "key": "0", "photos": ["photos/scratch.jpg"]},
        {"id": "n1", "text": "PRIVATECLIPS", "clips": 6, "key": "1", "photos": ["photos/clips.jpg"]},
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    text = TEXT
    for word, other in PRIVATE.items():
        text, count = re.subn(rf"(?<![\w-]){re.escape(word)}(?![\w-])", other, text)
        assert count, word
    folder = furnish(tmp_path_factory.mktemp("public") / "PRIVATEFOLDER", text + CREW, dict(SAID))
    job = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(job.replace('seat = "driver"', 'seat = "privateseat"'), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def private(home: Path) -> PageContext:
    return tell_folder(home)


@pytest.fixture(scope="module")
def owner_s(private: PageContext) -> bytes:
    return dossier_pdf(private)


def test_nothing_typed_is_on_the_public_page_nor_in_its_pictures(private: PageContext, owner_s: bytes) -> None:
    pdf = public_pdf(private)
    said = squeezed(" ".join(texts(pdf))).lower()
    assert squeezed(TITLE).lower() in said
    assert "private" not in said
    assert "1234" not in said
    assert b"private" not in pdf.lower()
    document = pypdfium2.PdfDocument(pdf)
    assert "private" not in str(document.get_metadata_dict()).lower()
    # drawings and nothing else: not one photograph, whatever the record names
    assert private.photos.there
    assert b"DCTDecode" not in pdf
    assert b"DCTDecode" in owner_s
    assert "Did it work" in " ".join(texts(pdf))
    for name, svg in public_pictures(private).items():
        assert "private" not in svg.lower(), name
        assert "private" not in name
        png = svg_to_png(svg, width_mm=60, ppi=72)
        assert not {b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"tIME"} & set(chunks(png))


def chunks(png: bytes) -> Iterator[bytes]:
    """The kinds of chunks of a PNG, in order (ISO/IEC 15948, 5.3)."""
    at = 8
    while at < len(png):
        yield png[at + 4 : at + 8]
        at += 12 + int.from_bytes(png[at : at + 4], "big")


def test_the_same_words_are_on_the_owner_s_pages(private: PageContext, owner_s: bytes) -> None:
    # or the test above could not fail
    said = squeezed(" ".join(texts(customer_pdf(private)) + texts(owner_s)))
    typed = [word.strip('"') for word in PRIVATE.values()] + [
        *re.findall(r"PRIVATE\w+", str(SAID)),
        "1234.50",
        "PRIVATEPERSON",
    ]
    missing = [word for word in typed if squeezed(word) not in said]
    assert not missing


def test_it_says_what_was_done_in_its_own_words(told: PageContext) -> None:
    said = " ".join(texts(public_pdf(told)))
    assert "2 × woofer: door" in said
    assert "1 × subwoofer: in a box of its own" in said
    assert "1: as it came; 2: new drivers; 3: amplifier; 4: driver in a box" in said.replace("\r\n", " ")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_short_pages_are_whole(told: PageContext, paper: str) -> None:
    on = replace(told, paper=paper)
    customer = customer_pdf(on)
    assert len(texts(customer)) == 1
    for pdf in (customer, public_pdf(on)):
        check_layout(pdf)


def test_the_customer_reads_no_job_keys(told: PageContext) -> None:
    said = " ".join(texts(customer_pdf(told)))
    assert "[" not in said
    assert ".clear" not in said


def test_the_customer_reads_what_was_measured_and_that_it_is_not_finished(told: PageContext) -> None:
    said = squeezed(" ".join(texts(customer_pdf(told))))
    assert squeezed("What is being done") in said
    assert told.result.proof is not None
    real = [row for row in told.result.proof.pairs[0].bands if row.change is not None and row.change.real]
    assert real
    assert all(squeezed(f"{row.name} {signed(row.change.change_db)} dB") in said for row in real if row.change)
