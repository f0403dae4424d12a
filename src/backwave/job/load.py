"""Reading a job folder: everything wrong with it at once, each with its file, line and key.

A job file is never executed and never reaches outside its folder."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import blake2b
from itertools import islice
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from backwave.errors import JobError, MissingError, Problem, job_error
from backwave.finding import PRACTICE, Assumed, Message
from backwave.job.cross_checks import faults, traced_faults
from backwave.job.gates import Gates, gates_of
from backwave.job.model import FORMAT, JobFile
from backwave.job.named_files import Columns, Trace, read_bytes, read_curves, read_traces
from backwave.job.refusals import of_another_kind, raw_faults, shown, translated, without
from backwave.job.toml_edit import renamed, with_value
from backwave.job.toml_spans import MAX_BYTES, KeyPath, Lines, key_name, lines_of
from backwave.plain_text import plain_text
from backwave.units import Quantity

FILE = "job.toml"
MAX_PROBLEMS = 100  # told about at once


@dataclass(frozen=True)
class Noted:
    """What a table of the file had to be noted for."""

    node: BaseModel
    assumed: list[Assumed]
    unused: list[str]
    trade: list[tuple[str, str]]


@dataclass(frozen=True)
class Job:
    """A job as read."""

    file: JobFile
    folder: Path | None  # where it was read; None for a text alone
    digest: str  # of the text and of the files it names
    assumed: tuple[Assumed, ...]  # every default that the file's own model filled in
    not_used: tuple[str, ...]  # keys present that nothing computes with yet
    # dimensions of drivers written as fractions of an inch, as trade sizes are
    trade_sizes: tuple[tuple[str, str], ...]
    traces: dict[str, Trace] = field(default_factory=dict)  # traced outlines by their path in the job
    # measured curves of drivers by their path in the job
    columns: dict[str, Columns] = field(default_factory=dict, repr=False)
    # where each key stands, for faults found later
    lines: Lines | None = field(default=None, repr=False, compare=False)
    # what was noted at each table and row, for the next edit
    notes: dict[KeyPath, Noted] = field(default_factory=dict, repr=False, compare=False)
    gates: Gates = field(default_factory=Gates, repr=False)  # what was confirmed for it, as its log says

    def problem(self, path: KeyPath, message: str, found: object, accepted: str) -> Problem:
        """A fault that shows only when the job is worked out, with its line."""
        line = None if self.lines is None else self.lines.line(path)
        data = {} if self.lines is None else self.lines.data
        return Problem(FILE, line, key_name(path, data), shown(found), accepted, message)


def load(folder: Path | str) -> Job:
    """Read a job folder. MissingError: no such folder, or no job.toml in it; JobError: everything wrong with it."""
    path = Path(folder)
    folder = path.parent if path.name == FILE else path
    return loads(read_text(folder), folder)


def read_text(folder: Path) -> str:
    """The text of a folder's job file. MissingError: no such folder, or no job.toml in it; JobError: A file that is no
    text."""
    path = folder / FILE
    if not path.exists():
        what = f"There is no {FILE} in {folder}" if folder.is_dir() else f"There is no job folder {folder}"
        raise MissingError(what, f"Make one with: backwave new {folder}")
    data = read_bytes(path, FILE, 4 * MAX_BYTES, "a text of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        wanted = "a text saved as UTF-8"
        raise job_error(FILE, "not readable", "a byte that is no UTF-8", wanted, line=line) from None


def loads(text: str, folder: Path | None = None, before: Job | None = None) -> Job:
    """Read the text of a job file. `before`: the job this one was edited from: what was not touched is taken over from
    it; JobError: everything wrong with it."""
    text = text.removeprefix("\ufeff")  # as some editors begin a file
    lines = _lines(text)
    if _edition(lines) < FORMAT:
        lines = lines_of(migrated(text))
    data = lines.data

    def problem(path: KeyPath, message: str, found: object, accepted: str, nearest: str = "") -> Problem:
        said = (key_name(path, data), shown(found), accepted, message, nearest)
        return Problem(FILE, lines.line(path), *map(plain_text, said))

    problems = [problem(*fault) for fault in islice(raw_faults(data), MAX_PROBLEMS + 1)]
    if not problems and (half := re.search("[\ud800-\udfff]", text)):  # in a remark
        line = text.count("\n", 0, half.start()) + 1
        problems.append(Problem(FILE, line, "", shown(half[0]), "whole characters", "half a character"))
    if any(p.message.startswith(("too ", "half")) for p in problems):
        raise JobError(_in_order(problems))  # too much to look at anything else
    known = _untouched(data, before)
    fresh = {
        key: [known.get(id(row), row) for row in value] if isinstance(value, list) else known.get(id(value), value)
        for key, value in data.items()
    }
    model, errors = None, list[Any]()
    try:
        model = JobFile.model_validate(fresh)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        problems += [translated(e, problem) for e in errors[: MAX_PROBLEMS + 1]]
    # what has not the kind it should have is told about; between tables it is as if it were not there
    right = without(data, (tuple(e["loc"]) for e in errors if of_another_kind(e)))
    problems += [problem(*fault) for fault in islice(faults(right, known), MAX_PROBLEMS + 1)]
    if model is None:
        raise JobError(_in_order(problems))
    traces, more = read_traces(model, folder)
    problems += more
    curves, more = read_curves(model, folder)
    problems += more
    problems += [problem(*fault) for fault in traced_faults(model, traces)]
    if problems:
        raise JobError(_in_order(problems))
    digest = blake2b(text.encode(), digest_size=16)
    for name in sorted(traces):
        digest.update(traces[name].text.encode())
    for name in sorted(curves):
        digest.update(curves[name].f_hz.tobytes() + curves[name].value.tobytes())
    notes = _Notes(data, {} if before is None else before.notes)
    notes.walk(model, ())
    for name, trace in traces.items():
        if not trace.u_given:
            notes.assumed.append(Assumed(f"{name}: u", trace.u_mm, "mm", "a careful trace; " + PRACTICE))
    return Job(
        model, folder, digest.hexdigest(), tuple(notes.assumed), tuple(dict.fromkeys(notes.unused)),
        tuple(notes.trade), traces, curves, lines, notes.kept, gates_of(folder),
    )  # fmt: skip


def _untouched(data: dict[str, Any], before: Job | None) -> dict[int, BaseModel]:
    """Tables that are the very ones of the job before (an edit shares what it leaves alone), by the id of their data."""
    known: dict[int, BaseModel] = {}
    if before is None or before.lines is None:
        return known
    for key, was in before.lines.data.items():
        model = getattr(before.file, key, None)
        rows = zip(was, model) if isinstance(was, list) and isinstance(model, tuple) else ((was, model),)
        known |= {id(row): one for row, one in rows if isinstance(one, BaseModel)}
    now = {id(row) for value in data.values() for row in (value if isinstance(value, list) else (value,))}
    return {at: model for at, model in known.items() if at in now}


def edition_of(text: str) -> int:
    """The edition of the format that a text is written in. JobError: an empty file, a text that is no TOML, no edition,
    or a newer one."""
    return _edition(_lines(text))


def _from_0(text: str) -> str:
    """Edition 0, the drafts before the first release, called the title `name`."""
    return renamed(text, "name", "title")


_STEPS: dict[int, Callable[[str], str]] = {0: _from_0}


def migrated(text: str) -> str:
    """The same job in this edition: a key changed where it must be, all else to the letter."""
    for edition in range(lines_of(text).data["format"], FORMAT):
        text = with_value(_STEPS[edition](text), ("format",), edition + 1)
    return text


def _lines(text: str) -> Lines:
    if not text.strip():
        raise job_error(FILE, "an empty file", "nothing", "what `backwave new` writes")
    return lines_of(text)


def _edition(lines: Lines) -> int:
    if "format" not in lines.data:
        raise job_error(FILE, "no format is given", "", f"format = {FORMAT} at the top", line=1, key="format")
    found, message, accepted = lines.data["format"], "", str(FORMAT)
    if not isinstance(found, int) or isinstance(found, bool) or found < 0:
        message = "not an edition of the format"
    elif found > FORMAT:
        message, accepted = "written by a newer backwave", f"{FORMAT} or older; a newer backwave reads it"
    if message:
        raise job_error(FILE, message, shown(found), accepted, line=lines.line(("format",)), key="format")
    return int(found)


def _in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    found = sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line or 0, p.key))
    if len(found) <= MAX_PROBLEMS:
        return tuple(found)
    more = Problem(FILE, None, "", "", "", f"more than {MAX_PROBLEMS} problems; these are the first")
    return (*found[:MAX_PROBLEMS], more)


class _Notes:
    """Goes through a job and notes what was assumed, what is not used yet, what is a trade size."""

    def __init__(self, data: dict[str, Any], held: dict[KeyPath, Noted]) -> None:
        self._data, self._held = data, held
        self.kept: dict[KeyPath, Noted] = {}
        made = {a.get("process", "print") for a in data.get("adapter", [])}
        # defaults of a printer or a saw that makes nothing in this job are nobody's business
        self._idle = {name for name, process in (("printer", "print"), ("sheet", "sheet")) if process not in made}
        self.assumed: list[Assumed] = []
        self.unused: list[str] = []
        self.trade: list[tuple[str, str]] = []

    def walk(self, node: Any, path: KeyPath) -> None:
        if isinstance(node, BaseModel) and 1 <= len(path) <= 2:  # a table or a row of the file
            was = self._held.get(path)
            if was is None or was.node is not node:
                own = _Notes(self._data, {})
                own.table(node, path)
                was = Noted(node, own.assumed, own.unused, own.trade)
            self.kept[path] = was
            self.assumed += was.assumed
            self.unused += was.unused
            self.trade += was.trade
        else:
            self.table(node, path)

    def table(self, node: Any, path: KeyPath) -> None:
        if isinstance(node, BaseModel):
            for name, info in type(node).model_fields.items():
                if name in self._idle and not path:
                    continue
                extra = info.json_schema_extra
                notes: dict[str, Any] = extra if isinstance(extra, dict) else {}
                here = (*path, info.alias or name)
                value, said = getattr(node, name), name in node.model_fields_set
                if not said and "x-assumed" in notes:
                    self.assumed.append(_assumed(key_name(here, self._data), value, str(notes["x-assumed"])))
                if said and notes.get("x-used") is False:
                    self.unused.append(key_name(here, self._data))
                else:
                    self.walk(value, here)
        elif isinstance(node, dict):
            for key, value in node.items():
                self.walk(value, (*path, key))
        elif isinstance(node, tuple):
            for i, value in enumerate(node):
                self.walk(value, (*path, i))
        elif isinstance(node, Quantity) and node.fractional and path[0] == "speaker":
            self.trade.append((key_name(path, self._data), node.text))


def _assumed(key: str, value: Any, why: str) -> Assumed:
    """A default of the file's own model: one number, several ("220 mm x 220 mm x 250 mm") or a word."""
    if isinstance(value, Quantity):
        return Assumed(key, value.value, "" if value.unit == "1" else value.unit, why)
    if isinstance(value, tuple):
        shown = tuple((f"n{i}", q.value, q.unit) for i, q in enumerate(value))
        return Assumed(key, Message(" x ".join(f"{{{name}:0}}" for name, _, _ in shown), shown), "", why)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return Assumed(key, float(value) if number else str(value), "", why)
