"""A table as CSV (RFC 4180, UTF-8 with a mark that spreadsheets look for).

A spreadsheet runs a cell that begins like a formula, and many part cells at semicolons whatever stands round them.  So an
apostrophe goes before whatever could begin a formula, at the start of a cell or after a semicolon in it; a number stays
a number.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from backwave.plain_text import plain_text

# = + - @, also as the wide letters that some spreadsheets take for the same; blanks and quotes before them do not count
_FORMULA = re.compile(r"""(^|;)([\s"']*)(?=[=+@\uff1d\uff0b\uff0d\uff20-])""")
_NUMBER = re.compile(r"\s*[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?\s*")


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows as a file; a text that a spreadsheet would run as a formula is kept a text."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _cell(text: str) -> str:
    text = plain_text(text)
    return text if _NUMBER.fullmatch(text) else _FORMULA.sub(r"\1\2'", text)
