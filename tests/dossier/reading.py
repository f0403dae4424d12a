"""A PDF read back by another program's reader: its text, its boxes of text, its pixels."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
from numpy.typing import NDArray

FOOT = 62.0  # points: what the strip at a page's foot takes, with its distance


@dataclass(frozen=True)
class Seen:
    """A page: its number from 1, its size and its runs of text (left, bottom, right, top) in points, and how large the
    letters of the lowest run above the foot are."""

    number: int
    width: float
    height: float
    boxes: NDArray[np.float64]
    lowest_pt: float


def texts(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[n].get_textpage().get_text_range() for n in range(len(document))]


def squeezed(text: str) -> str:
    """Without white space and hyphens: where lines break does not matter, and pdfium drops a hyphen there."""
    return re.sub(r"[\s\ufffe\u00ad\u200b-]+", "", text)


def pages(pdf: bytes) -> Iterator[Seen]:
    """Every page as it is seen."""
    document = pypdfium2.PdfDocument(pdf)
    for n in range(len(document)):
        page = document[n]
        text = page.get_textpage()
        boxes = np.array([text.get_rect(k) for k in range(text.count_rects())]).reshape(-1, 4)
        body = boxes[boxes[:, 1] > FOOT]
        size = 0.0
        if body.size:
            left, bottom, right, top = body[np.argmin(body[:, 1])]
            at = text.get_index((left + right) / 2, (bottom + top) / 2, (right - left) / 2 + 1, (top - bottom) / 2 + 1)
            size = 0.0 if at is None else letters_pt(text, at)
        yield Seen(n + 1, *page.get_size(), boxes, size)


def letters_pt(text: pypdfium2.PdfTextPage, at: int) -> float:
    """How large a letter stands on the page, whatever its drawing was scaled by."""
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFText_GetMatrix(text, at, matrix)
    return float(pdfium.FPDFText_GetFontSize(text, at) * np.hypot(matrix.c, matrix.d))


def overlaps(boxes: NDArray[np.float64]) -> list[tuple[float, ...]]:
    """Runs that lie on a later one by more than a third of a line and half a millimeter."""
    low, high = boxes[:, None, :], boxes[None, :, :]
    wide = np.minimum(low[..., 2], high[..., 2]) - np.maximum(low[..., 0], high[..., 0])
    tall = np.minimum(low[..., 3], high[..., 3]) - np.maximum(low[..., 1], high[..., 1])
    line = np.minimum(low[..., 3] - low[..., 1], high[..., 3] - high[..., 1])
    wrong = np.triu((wide > 1.4) & (tall > 0.34 * line), 1)
    return [tuple(boxes[n]) for n in np.flatnonzero(wrong.any(axis=1))]


def check_layout(pdf: bytes, least_runs: int = 8) -> None:
    """No page is empty, no text is in a printer's margin or on another text, and no heading ends a page."""
    for page in pages(pdf):
        assert len(page.boxes) > least_runs, page.number
        left, low = page.boxes[:, :2].min(axis=0)
        right, high = page.boxes[:, 2:].max(axis=0)
        # 4 mm: what a printer cannot reach (common trade practice)
        assert min(left, low, page.width - right, page.height - high) > 11, (page.number, left, low, right, high)
        assert not overlaps(page.boxes), (page.number, overlaps(page.boxes)[:3])
        assert page.lowest_pt < 11, (page.number, page.lowest_pt, "a heading ends the page")


def gray(pdf: bytes, page: int, dpi: float) -> NDArray[np.uint8]:
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)


def longest_run(dark: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))
