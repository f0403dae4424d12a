"""Every letter on paper is tall enough to read: read back by another program's reader, page by page."""

from __future__ import annotations

import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from backwave.dossier.context import PageContext
from backwave.dossier.pages import customer_pdf, public_pdf
from tests.dossier.reading import letters_pt
from tests.drawing.reading import font

LEAST_MM = 1.8  # ISO 3098-1: the least nominal size, which is the height of a capital
# Capitals and figures without an overhang or a tail; an exponent ("mm²") is a sign of its own and not among them.
FLAT = frozenset("BDEFHIKLMNPRTVWXYZ0123456789")
LOOSE = 0.013  # of the em: what the reader's boxes add at their edges, measured below


def heights(pdf: bytes) -> list[tuple[float, int, str]]:
    """Height in mm, page and surroundings of every capital and figure, lowest first."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for n in range(len(document)):
        text = document[n].get_textpage()
        letters = [chr(pdfium.FPDFText_GetUnicode(text, k)) for k in range(text.count_chars())]
        for k, letter in enumerate(letters):
            if letter in FLAT:
                _, low, _, high = text.get_charbox(k)
                tall = (high - low - LOOSE * letters_pt(text, k)) * 25.4 / 72
                found.append((tall, n + 1, "".join(letters[max(0, k - 8) : k + 12])))
    return sorted(found)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_capitals_and_figures_of_the_dossier_can_be_read(pdfs: dict[str, bytes], paper: str) -> None:
    # its drawings, its part sheets, its templates and cards: all are pages of it
    found = heights(pdfs[paper])
    assert len(found) > 10_000
    assert found[0][0] >= LEAST_MM, found[:5]


def test_so_can_those_of_the_pages_for_others(told: PageContext) -> None:
    for pdf, count in ((customer_pdf(told), 60), (public_pdf(told), 500)):
        found = heights(pdf)
        assert len(found) > count
        assert found[0][0] >= LEAST_MM, found[:5]


def test_the_reader_s_boxes_are_as_loose_as_taken(pdfs: dict[str, bytes]) -> None:
    """Against the outlines of the shipped font, by another program."""
    text = pypdfium2.PdfDocument(pdfs["A4"])[0].get_textpage()  # the title is in the drawings' own letters
    spots = [k for k in range(text.count_chars()) if chr(pdfium.FPDFText_GetUnicode(text, k)) == "N"]
    at = max(spots, key=lambda k: letters_pt(text, k))
    _, low, _, high = text.get_charbox(at)
    own = -font(True).getbbox("N", anchor="ls")[1] / 1000
    assert (high - low) / letters_pt(text, at) - LOOSE == pytest.approx(own, abs=0.003)
