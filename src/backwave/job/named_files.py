"""Files that a job names, each inside its folder: traced outlines, and measured curves as plain columns of numbers.

A traced outline lies beside its picture, in millimeters, and is mirrored into the cabin's view when read.  A response or
an impedance is columns of frequency, value, and phase if there is one: apart by spaces, tabs, semicolons or commas;
decimal signs may be commas where something else parts the columns.  Lines that begin with `*`, `#`, `;`, `!` or `//` are
remarks, lines of words above the first row headings.  Whatever else is no row of numbers is refused with its line: a row
read wrongly would lie quietly."""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass
from itertools import islice
from math import inf, isfinite
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, ValidationError

from backwave.errors import JobError, Problem, job_error
from backwave.job.fields import Number, Outline, Point, Table
from backwave.job.model import JobFile
from backwave.job.refusals import in_words, raw_faults, shown
from backwave.job.signal_chain import COLUMNS
from backwave.job.toml_spans import MAX_BYTES, KeyPath, Lines
from backwave.plain_text import plain_text


def find(folder: Path | None, name: str, missing: str, accepted: str) -> Path:
    """Where a file that a job names lies. `missing`, `accepted`: what is said where there is no such file, and what it
    should be; JobError: there is none, or a link leads out of the folder."""
    if folder is None:
        raise _refused(name, "no such file", accepted, missing)
    path = folder / name
    try:
        there = path.exists()
        outside = there and not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError) as error:  # a name too long, links in a circle
        raise _refused(name, _reason(error), accepted, "cannot be read") from None
    if not there:
        raise _refused(name, "no such file", accepted, missing)
    if outside:
        raise _refused(name, "a link out of the folder", accepted, "leads out of the job folder")
    return path


def read_bytes(path: Path, name: str, max_bytes: int, accepted: str) -> bytes:
    """The content of a file; a folder, a pipe or a device is never waited for. JobError: it is no ordinary file, too
    large, or cannot be read."""
    try:
        # a pipe is opened without waiting for somebody to write into it
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with open(handle, "rb") as file:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                kind = "a folder" if stat.S_ISDIR(found.st_mode) else "a pipe or a device"
                raise _refused(name, kind, accepted, "no ordinary file")
            if found.st_size > max_bytes:
                raise _refused(name, f"{found.st_size:,} bytes", f"up to {max_bytes:,} bytes", "too large a file")
            return file.read(max_bytes + 1)
    except IsADirectoryError:
        raise _refused(name, "a folder", accepted, "no ordinary file") from None
    except PermissionError:
        raise _refused(name, "no permission", "a file that you may read", "cannot be read") from None
    except OSError as error:
        raise _refused(name, _reason(error), accepted, "cannot be read") from None


def _reason(error: Exception) -> str:
    words = error.strerror if isinstance(error, OSError) else None
    return (words or "a name that no file can have").lower()


def _refused(name: str, found: str, accepted: str, message: str) -> JobError:
    return job_error(plain_text(name)[:120], message, found, accepted)


MAX_VERTICES = 10_000
_WANTED = "a traced outline in the job folder, such as photos/ring.toml"
_Spread = Annotated[Number, Field(ge=0, le=50)]


class _Hole(Table):
    x: Annotated[Number, Field(ge=-1000, le=1000)]
    y: Annotated[Number, Field(ge=-1000, le=1000)]
    diameter: Annotated[Number, Field(ge=0.1, le=1000)]
    u: _Spread | None = None


class _File(Table):
    outline: Annotated[Outline, Field(min_length=3)]
    holes: tuple[_Hole, ...] = ()
    u: _Spread = 1.0
    seen_from: Literal["front", "back"] = "front"
    picture: str | None = None
    scale: str | float | dict[str, float | str] | None = None


@dataclass(frozen=True)
class Trace:
    """A traced part as seen from the cabin."""

    outline_mm: tuple[Point, ...]
    holes_mm: tuple[tuple[float, float, float], ...]
    u_mm: float  # standard uncertainty of the edge
    text: str
    u_given: bool = True  # whether the file says so itself


def read_traces(job: JobFile, folder: Path | None) -> tuple[dict[str, Trace], list[Problem]]:
    """Every traced file a job names, and what is wrong with them."""
    traces: dict[str, Trace] = {}
    problems: list[Problem] = []
    flanges = [m.flange for o in job.opening for m in (o, o.left, o.right) if m is not None]
    for name in dict.fromkeys(f.traced for f in flanges if f is not None and f.traced is not None):
        try:
            path = find(folder, name, "a traced file that is not there", _WANTED)
            traces[name] = _read(read_bytes(path, name, MAX_BYTES, _WANTED).decode("utf-8"), name)
        except JobError as error:
            problems += error.problems
        except UnicodeDecodeError:
            problems.append(Problem(name, None, "", "bytes that are no UTF-8", _WANTED, "not readable"))
    return traces, problems


def _read(text: str, name: str) -> Trace:
    lines = Lines(text, name)

    def problem(path: KeyPath, message: str, found: object, accepted: str) -> Problem:
        return Problem(name, lines.line(path), ".".join(map(str, path)), shown(found), accepted, message)

    problems = [problem(*fault) for fault in islice(raw_faults(lines.data, MAX_VERTICES), 10)]
    if problems:
        raise JobError(tuple(problems))
    try:
        file = _File.model_validate(lines.data)
    except ValidationError as error:
        raise JobError(
            tuple(
                problem(tuple(e["loc"]), in_words(e["msg"]), e.get("input", ""), _WANTED)
                for e in error.errors(include_url=False)[:10]
            )
        ) from None
    sign = -1.0 if file.seen_from == "back" else 1.0
    return Trace(
        tuple((sign * x, y) for x, y in file.outline), tuple((sign * h.x, h.y, h.diameter) for h in file.holes),
        file.u, text, "u" in file.model_fields_set,
    )  # fmt: skip


MAX_CURVE_BYTES = 10_000_000
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


def read_curves(job: JobFile, folder: Path | None) -> tuple[dict[str, Columns], list[Problem]]:
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
    """A file of columns. `name`: what messages call it: its name inside the job folder; "" is the path's last part;
    JobError: as `parse_columns`; a file that is not there, is too large or is not text."""
    name = name or path.name
    data = read_bytes(path, name, MAX_CURVE_BYTES, "a text file")
    wide = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ""
    try:
        text = data.decode(wide or "utf-8-sig")
    except UnicodeDecodeError:
        # Numbers are the same in every code page; only remarks may look odd.
        text = data.decode("utf-16" if wide else "latin-1", errors="replace")
    if "\0" in text:
        raise job_error(name, "this is not text", "", "a text file")
    return parse_columns(text, name)


def parse_columns(text: str, file: str) -> Columns:
    """The text of a file of columns. JobError: every row that is no row of numbers, changes the number of columns, or
    whose frequency is not above 0 or not above the one before, each with its line; fewer than 3 rows, more than 200
    000."""
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
                raise job_error(file, f"{width} column{'s' if width != 1 else ''}", line[:80], _ROWS, line=at)
        elif not wrong and len(fields) != width:
            wrong = f"{len(fields)} column{'s' if len(fields) != 1 else ''} where the rows above have {width}"
        if wrong:
            problems.append(_problem(file, at, line, _ROWS, wrong))
            continue
        lines.append(at)
        numbers.append([float(field.replace(",", ".")) for field in fields])
    if not problems and len(numbers) < MIN_ROWS:
        raise job_error(file, f"only {len(numbers)} rows of numbers", "", f"at least {MIN_ROWS} rows")
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
            raise job_error(file, "too many rows", "", f"up to {MAX_ROWS} rows", line=at)
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
