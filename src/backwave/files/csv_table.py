"""A table as CSV (RFC 4180, UTF-8 with a mark that spreadsheets look for)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

__all__ = ["csv_bytes"]


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows as a file; a text that a spreadsheet would run as a formula is kept a text.

    Parameters
    ----------
    rows : iterable of sequences of str, no unit
        The head first.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerows([f"'{cell}" if cell[:1] in ("=", "@", "+", "-") else cell for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
