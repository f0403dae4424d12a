"""Text that is safe to hand on: no control character, no half letter, nothing that turns the reading direction over.

A name, a path or an argument can hold an escape sequence that retitles a terminal, a line break that ends a record of
a DXF, or a letter that XML forbids.  Reading a job refuses them; every way out cleans them once more, so that no
output depends on who called it.  Ground floor: imports nothing of backwave."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from hashlib import blake2b

# Control characters C0 and C1 (ECMA-48), surrogates, the two that XML 1.0 forbids, and the embeddings, overrides and
# isolates of bidirectional text (UAX #9).  The marks U+200E, U+200F and U+061C stay: they turn nothing over.
_BAD = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
_BREAK = re.compile("\r\n|[\n\v\f\r\x85\u2028\u2029]")
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(?:\..*)?", re.IGNORECASE | re.DOTALL)
# What a spreadsheet runs as a formula, at the start of a cell or after a semicolon, where many part cells: = + - @, also as
# the wide letters that some take for the same; blanks and quotes before them do not count.
_FORMULA = re.compile(r"""(^|;)([\s"']*)(?=[=+@\uff1d\uff0b\uff0d\uff20-])""")
_NUMBER = re.compile(r"\s*[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?\s*")
_MAX_STEM = 80  # bytes: file systems take 255 for a whole name, and endings and a temporary name come on top


def plain_text(text: str, *, lines: bool = False) -> str:
    """A text without anything that a terminal or a file format would take for more than letters. `lines`: whether line
    breaks stay, as plain line feeds; else each becomes a space, as a tab does."""
    text = _BREAK.sub("\n" if lines else " ", text).replace("\t", " ")
    return _BAD.sub("\ufffd", text)


def file_stem(name: str, among: Iterable[str] = ()) -> str:
    """A file's name, without its ending, that every system takes: the same for the same name, another for another. A
    name that cannot stand as it is (a slash, a reserved name of Windows, too long) is followed by its digest, and so is
    one that differs from another only in capitals, which many disks take for the same."""
    safe = re.sub(r"[^\w.-]+", "-", plain_text(name)).strip(".-") or "part"
    safe = safe.encode()[:_MAX_STEM].decode(errors="ignore")
    twin = any(other != name and other.casefold() == name.casefold() for other in among)
    if safe == name and not twin and not _RESERVED.fullmatch(name):
        return name
    return f"{safe}-{blake2b(name.encode('utf-8', 'surrogatepass'), digest_size=4).hexdigest()}"


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows as a CSV file (RFC 4180, UTF-8 with the mark that spreadsheets look for). An apostrophe goes before what a
    spreadsheet would run as a formula; a number stays a number."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _cell(text: str) -> str:
    text = plain_text(text)
    return text if _NUMBER.fullmatch(text) else _FORMULA.sub(r"\1\2'", text)
