"""PDF pages: measured on the raster of another program's renderer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from backwave.drawing.section import section_svg
from backwave.drawing.sheet import Poly
from backwave.drawing.template import EDGE, PAPERS, STRIP, template_sheets, template_svg
from backwave.errors import InputError
from backwave.files.pdf import svg_pages_to_pdf, svg_size_mm, svg_to_png
from tests.drawing.demo_places import door
from tests.drawing.test_template import ADAPTER

DPI = 600
MM = DPI / 25.4


def raster(pdf: bytes, page: int = 0) -> NDArray[np.uint8]:
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=DPI / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)


def longest_run(dark: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_check_bars_measure_100_mm(paper: str) -> None:
    pdf = svg_pages_to_pdf(template_svg(ADAPTER, paper))
    gray = raster(pdf)
    assert gray.shape == pytest.approx((PAPERS[paper][1] * MM, PAPERS[paper][0] * MM), abs=1.5)
    (sheet,) = template_sheets(ADAPTER, paper)
    bars = [m.points for m in sheet.marks if isinstance(m, Poly) and m.look == "edge" and len(m.points) == 2]
    level = next(a[1] for a, b in bars if a[1] == b[1] and abs(a[0] - b[0]) == 100)
    # Level: the row of pixels at the bar's height, between the strip's edge and 105 mm further.
    row = gray[round(level * MM), round((EDGE + STRIP - 2) * MM) : round((EDGE + STRIP + 103) * MM)] < 128
    assert longest_run(row) / MM == pytest.approx(100.0, abs=0.1)
    # Upright: the column of pixels at the margin, above the level bar's height.
    column = gray[round((level - 103) * MM) : round((level + 2) * MM), round(EDGE * MM)] < 128
    assert longest_run(column) / MM == pytest.approx(100.0, abs=0.1)


def test_the_part_itself_is_at_its_size() -> None:
    view = replace(ADAPTER, holes=ADAPTER.holes[:1], centers_mm=())
    gray = raster(svg_pages_to_pdf(template_svg(view)))
    (sheet,) = template_sheets(view)
    ys = [y for m in sheet.marks if isinstance(m, Poly) and m.look == "cut" for _, y in m.points]
    row = gray[round((min(ys) + max(ys)) / 2 * MM)] < 128
    dark = np.flatnonzero(row)
    dark = dark[dark > (EDGE + STRIP) * MM]
    assert (dark.max() - dark.min()) / MM == pytest.approx(182.0, abs=0.35)  # outside to outside of a 0.25 mm line


def test_the_same_sheets_give_the_same_bytes() -> None:
    pages = template_svg(ADAPTER)
    assert svg_pages_to_pdf(pages, title="x") == svg_pages_to_pdf(pages, title="x")


def test_words_survive_as_text_in_our_own_letters() -> None:
    hostile = replace(ADAPTER, job='#panic("x") $x$ <b> & "quoted" *_`', part="Tür Ω ± Ж")
    pdf = svg_pages_to_pdf(template_svg(hostile), title='#panic("no")')
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage().get_text_range()
    assert "measure this before you cut" in text
    assert '#panic("x") $x$ <b> & "quoted" *_`' in text
    assert "Tür Ω ± Ж" in text
    assert document.get_metadata_dict()["Title"] == '#panic("no")'
    assert b"BackwaveDrawing" in pdf
    assert b"CreationDate" not in pdf


def test_many_pages_each_of_its_size() -> None:
    pages = [*template_svg(ADAPTER, "A4"), *template_svg(ADAPTER, "Letter")]
    document = pypdfium2.PdfDocument(svg_pages_to_pdf(pages))
    sizes = [tuple(v * 25.4 / 72 for v in document[n].get_size()) for n in range(2)]
    assert sizes[0] == pytest.approx(PAPERS["A4"], abs=0.01)
    assert sizes[1] == pytest.approx(PAPERS["Letter"], abs=0.01)


def test_a_screen_drawing_needs_a_width() -> None:
    svg = section_svg(door(), "paper")
    with pytest.raises(InputError, match="size of an SVG"):
        svg_pages_to_pdf([svg])
    document = pypdfium2.PdfDocument(svg_pages_to_pdf([svg], width_mm=180))
    assert document[0].get_width() * 25.4 / 72 == pytest.approx(180.0, abs=0.01)
    assert svg_size_mm(svg, 100.0)[1] == pytest.approx(
        100.0 * document[0].get_height() / document[0].get_width(), rel=1e-4
    )


def test_a_picture_has_the_asked_resolution() -> None:
    png = svg_to_png(section_svg(door()), width_mm=100, ppi=100)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(png[16:20], "big") == pytest.approx(100 / 25.4 * 100, abs=1)  # IHDR, ISO/IEC 15948


def test_no_page_is_refused() -> None:
    with pytest.raises(InputError, match="pages"):
        svg_pages_to_pdf([])
