"""The page to show others holds nothing that a person typed; the customer's page is plain."""

from __future__ import annotations

import re

import pytest

from backwave.dossier.customer import customer_pdf
from backwave.dossier.public import TITLE, public_pdf, public_pictures
from backwave.dossier.told import Told
from backwave.files.pdf import svg_to_png
from backwave.job import loads
from tests.dossier.conftest import TEXT, tell
from tests.dossier.reading import boxes, overlaps, squeezed, texts

# What stands in the demo, and what a person might have typed there instead.
PRIVATE = {
    "Night-round delivery van": "PRIVATETITLE AB-123-CD",
    "Demo panel van": "PRIVATEVAN at 12 PRIVATESTREET",
    "front-door": "privatedoor",
    "cargo-wall": "privatewall",
    "demo-165": "privatedriver",
    "Demo 165 mm woofer": "PRIVATEWOOFER",
    "demo-130": "privateother",
    "Demo 130 mm woofer": "PRIVATEOTHER",
    '"head-unit"': '"privatesource"',
    "under-seat": "privatebox",
    '"driver"': '"privateseat"',
    "amplified": "privatestage",
    "Amplifier in": "PRIVATESTAGE 1234.50",
    "New speakers on head-unit power": "PRIVATESPEAKERS",
    '"amp"': '"privateamp"',
    '"block"': '"privateblock"',
}
MORE = """
[[wire]]
id = "privatewire"
from = "privateamp.x"
to = "privatedoor-left.+"
color = "GY/RD"

[crew]
people = ["PRIVATEPERSON"]
"""


@pytest.fixture(scope="module")
def private() -> Told:
    text = TEXT
    for word, other in PRIVATE.items():
        assert word in text
        text = text.replace(word, other)
    return tell(loads(text + MORE))


def test_nothing_typed_is_on_the_public_page_nor_in_its_pictures(private: Told) -> None:
    pdf = public_pdf(private)
    said = squeezed(" ".join(texts(pdf))).lower()
    assert squeezed(TITLE).lower() in said
    assert "private" not in said
    assert b"private" not in pdf.lower()
    for name, svg in public_pictures(private).items():
        assert "private" not in svg.lower(), name
        assert "private" not in name
        png = svg_to_png(svg, width_mm=60, ppi=72)
        # no text and no photo tags: only what the picture itself needs (PNG, ISO/IEC 15948, 4.8)
        kinds = re.findall(rb"(IHDR|IDAT|IEND|pHYs|tEXt|zTXt|iTXt|eXIf|tIME)", png)
        assert not {b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"tIME"} & set(kinds)


def test_the_same_words_are_on_the_owner_s_pages(private: Told) -> None:
    # or the test above could not fail
    said = " ".join(texts(customer_pdf(private)))
    assert "PRIVATETITLE AB-123-CD" in said
    assert "PRIVATEWOOFER" in said


def test_it_says_what_was_done_in_its_own_words(told: Told) -> None:
    said = " ".join(texts(public_pdf(told)))
    assert "2 × woofer: door" in said
    assert "1 × subwoofer: in a box of its own" in said
    assert "1: as it came; 2: new drivers; 3: amplifier; 4: driver in a box" in said.replace("\r\n", " ")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_short_pages_are_whole(told: Told, paper: str) -> None:
    from dataclasses import replace

    on = replace(told, paper=paper)
    customer = customer_pdf(on)
    assert len(texts(customer)) == 1
    for pdf in (customer, public_pdf(on)):
        for n, (width, height), found in boxes(pdf):
            assert max(b[2] for b in found) < width - 11, n
            assert max(b[3] for b in found) < height - 11, n
            assert not overlaps(found), n


def test_the_customer_reads_no_job_keys(told: Told) -> None:
    said = " ".join(texts(customer_pdf(told)))
    assert "[" not in said
    assert ".clear" not in said
