"""A PDF read back by another program's reader: its text, its boxes of text, its pixels."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pypdfium2
from numpy.typing import NDArray

Box = tuple[float, float, float, float]


def texts(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [document[n].get_textpage().get_text_range() for n in range(len(document))]


def squeezed(text: str) -> str:
    """Without white space and hyphens: where lines break does not matter, and pdfium drops a hyphen there."""
    return re.sub(r"[\s\ufffe\u00ad-]+", "", text)


def boxes(pdf: bytes) -> Iterator[tuple[int, tuple[float, float], list[Box]]]:
    """For each page its size and the boxes of its runs of text: left, bottom, right, top, in points."""
    document = pypdfium2.PdfDocument(pdf)
    for n in range(len(document)):
        page = document[n]
        text = page.get_textpage()
        yield n, page.get_size(), [text.get_rect(k) for k in range(text.count_rects())]


def overlaps(found: list[Box]) -> list[tuple[Box, Box]]:
    """Pairs of runs that lie on each other by more than a third of a line and half a millimeter."""
    wrong = []
    for n, a in enumerate(found):
        for b in found[n + 1 :]:
            wide = min(a[2], b[2]) - max(a[0], b[0])
            high = min(a[3], b[3]) - max(a[1], b[1])
            if wide > 1.4 and high > 0.34 * min(a[3] - a[1], b[3] - b[1]):
                wrong.append((a, b))
    return wrong


def gray(pdf: bytes, page: int, dpi: float) -> NDArray[np.uint8]:
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)


def longest_run(dark: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))
