"""A response or an impedance as plain columns of numbers: frequency, value, and phase if there is one.

Columns stand apart by spaces, tabs, semicolons or commas; decimal signs may be commas where something else parts
the columns.  Lines that begin with `*`, `#`, `;`, `!` or `//` are remarks, lines of words above the first row are
headings.  Whatever else is not a row of numbers is refused with its line: a row read wrongly would lie quietly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import inf, isfinite
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from backwave.errors import JobError, Problem
from backwave.job.model import JobFile
from backwave.job.named_file import find, read_bytes
from backwave.job.recording import COLUMNS

MAX_BYTES = 10_000_000
MAX_ROWS = 200_000
MIN_ROWS = 3
SHOWN = 10  # problems listed one by one; the rest are counted

_ROWS = "rows of frequency in Hz, value, and phase in degrees if there is one"
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?")
_NO_NUMBER = re.compile(r"[+-]?(?:nan|inf|infinity)\b", re.IGNORECASE)
_REMARK = ("*", "#", ";", "!", "//")
_OTHER_UNIT = re.compile(r"\b(?:kHz|MHz|rad|radians?)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Columns:
    """A curve as it was read."""

    f_hz: NDArray[np.float64]  # (n,)
    value: NDArray[np.float64]  # (n,) unit of the file, level in dB or impedance in ohm
    phase_deg: NDArray[np.float64] | None  # (n,), phase as it stood; None where there was no third column
    notes: tuple[str, ...] = ()  # what a person should know about how it was read


def read_all(job: JobFile, folder: Path | None) -> tuple[dict[str, Columns], list[Problem]]:
    """Every measured curve that a job's drivers and readings name, and what is wrong with them."""
    curves: dict[str, Columns] = {}
    problems: list[Problem] = []
    named = [
        name for s in job.speaker if s.measured is not None for name in (s.measured.impedance, s.measured.response)
    ]
    named += [row.microphone for row in job.reading]
    named += [row.file for row in job.reading if row.file.lower().endswith(COLUMNS)]
    accepted = "columns of numbers in the job folder, such as readings/woofer-impedance.txt"
    for name in dict.fromkeys(n for n in named if n is not None):
        try:
            curves[name] = read_columns(find(folder, name, "a measured curve that is not there", accepted), name)
        except JobError as error:
            problems += error.problems
    return curves, problems


def read_columns(path: Path, name: str = "") -> Columns:
    """A file of columns.

    `name`: what messages call it: its name inside the job folder; "" is the path's last part; JobError: as
    `parse_columns`; a file that is not there, is too large or is not text.
    """
    name = name or path.name
    data = read_bytes(path, name, MAX_BYTES, "a text file")
    wide = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ""
    try:
        text = data.decode(wide or "utf-8-sig")
    except UnicodeDecodeError:
        # Numbers are the same in every code page; only remarks may look odd.
        text = data.decode("utf-16" if wide else "latin-1", errors="replace")
    if "\0" in text:
        raise _refused(name, None, "", "a text file", "this is not text")
    return parse_columns(text, name)


def parse_columns(text: str, file: str) -> Columns:
    """The text of a file of columns.

    JobError: every row that is no row of numbers, changes the number of columns, or whose frequency is not above 0
    or not above the one before, each with its line; fewer than 3 rows, more than 200 000.
    """
    heads, rows = _rows(text, file)
    splitter = _Splitter([line for _, line in rows])
    problems: list[Problem] = [_other_unit(file, at, line) for at, line in heads if _OTHER_UNIT.search(line)]
    lines: list[int] = []
    numbers: list[list[float]] = []
    width = 0
    for at, line in rows:
        fields = splitter.fields(line)
        wrong = splitter.wrong(fields)
        if not wrong and not numbers:
            width = len(fields)
            if width not in (2, 3):
                raise _refused(file, at, line, _ROWS, f"{width} column{'s' if width != 1 else ''}")
        elif not wrong and len(fields) != width:
            wrong = f"{len(fields)} column{'s' if len(fields) != 1 else ''} where the rows above have {width}"
        if wrong:
            problems.append(_problem(file, at, line, _ROWS, wrong))
            continue
        lines.append(at)
        numbers.append([float(field.replace(",", ".")) for field in fields])
    if not problems and len(numbers) < MIN_ROWS:
        raise _refused(file, None, "", f"at least {MIN_ROWS} rows", f"only {len(numbers)} rows of numbers")
    table = np.array(numbers, dtype=float).reshape(len(numbers), width or 2)
    falls = len(table) > 1 and bool((np.diff(table[:, 0]) < 0).all())
    problems += _order(file, table, lines, falls)
    if problems:
        problems.sort(key=lambda p: p.line or 0)
        more = len(problems) - SHOWN
        tail = (Problem(file, None, "", "", "", f"{more} more lines like these"),) if more > 0 else ()
        raise JobError((*problems[:SHOWN], *tail))
    notes = [f"line {at} passed over as a heading: {line[:60]}" for at, line in heads[:3]]
    if splitter.note:
        notes.append(splitter.note)
    if falls:
        table = table[::-1]
        notes.append("the frequencies fell throughout: the rows were turned round")
    phase = np.ascontiguousarray(table[:, 2]) if table.shape[1] == 3 else None
    return Columns(np.ascontiguousarray(table[:, 0]), np.ascontiguousarray(table[:, 1]), phase, tuple(notes))


def _rows(text: str, file: str) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Headings and rows, each with its line; remarks and empty lines left out."""
    heads: list[tuple[int, str]] = []
    rows: list[tuple[int, str]] = []
    for at, raw in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        line = raw.replace('"', "").strip()
        if not line or line.startswith(_REMARK):
            continue
        if not rows and line[0] not in "0123456789+-.," and not _NO_NUMBER.match(line):
            heads.append((at, line))
            continue
        rows.append((at, line))
        if len(rows) > MAX_ROWS:
            raise _refused(file, at, "", f"up to {MAX_ROWS} rows", "too many rows")
    return heads, rows


class _Splitter:
    """How a file parts its columns and writes its decimals: decided once, from all of its rows."""

    def __init__(self, rows: list[str]) -> None:
        body = "\n".join(rows)
        self.semicolon = ";" in body
        self.tab = bool(rows) and not self.semicolon and all("\t" in line for line in rows)
        self.white = not self.semicolon and bool(re.search(r"[^\s,][ \t]+[^\s,]|,[ \t]+[^\s]", body))
        inside = re.search(r"\d,\d", body) is not None
        self.point = "." in body
        self.commas = inside and (self.semicolon or self.white)
        self.bare = inside and not self.commas and not self.point
        self.note = "commas read as decimal signs" if self.commas else ""
        if self.bare and any(line.count(",") == 2 for line in rows[:1]):
            self.note = "no decimals anywhere: commas read as parting three columns"

    def fields(self, line: str) -> list[str]:
        if self.semicolon:
            return [field.strip() for field in line.rstrip("; \t").split(";")]
        if self.tab:  # a space inside a column then parts nothing: "1 000" is refused, not read as 1 and 0
            return [field.strip(" ,") for field in re.split(r"\t+", line)]
        if self.white:
            return re.split(r"\s*,\s+|\s+,?", line.rstrip(", \t"))
        return [field.strip() for field in line.rstrip(", \t").split(",")]

    def wrong(self, fields: list[str]) -> str:
        """What keeps the fields from being numbers, or ""."""
        if self.bare and len(fields) > 3:
            return "a comma both parts the columns and marks the decimals"
        for field in fields:
            if _NO_NUMBER.match(field):
                return f"{field} is no number"
            if not _NUMBER.fullmatch(field):
                return f"{field!r} is not a number" if field else "an empty column"
            if self.commas and self.point and "," in field:
                return f"{field!r} has a decimal comma where other numbers have points"
            if not isfinite(float(field.replace(",", "."))):
                return f"{field} is too large"
        return ""


def _order(file: str, table: NDArray[np.float64], lines: list[int], falls: bool) -> list[Problem]:
    """Frequencies that are not above 0, or not above the one before them."""
    found = []
    before = inf if falls else -inf
    for at, f in zip(lines, table[:, 0].tolist() if table.size else [], strict=True):
        if f <= 0:
            found.append(_problem(file, at, f"{f:g} Hz", "a frequency above 0 Hz", "the frequency is not above 0"))
        elif not falls and f <= before:
            what = "repeats the one before" if f == before else f"comes after {before:g} Hz"
            found.append(_problem(file, at, f"{f:g} Hz", "frequencies that rise", f"the frequency {what}"))
        before = f
    return found


def _other_unit(file: str, at: int, line: str) -> Problem:
    accepted = "frequency in Hz and phase in degrees; a remark begins with #"
    return _problem(file, at, line, accepted, "the heading names another unit")


def _problem(file: str, at: int | None, found: str, accepted: str, message: str) -> Problem:
    return Problem(file, at, "", found[:80], accepted, message)


def _refused(file: str, at: int | None, found: str, accepted: str, message: str) -> JobError:
    return JobError((_problem(file, at, found, accepted, message),))
