"""Reading a job folder: everything wrong with it at once, each with its file, line and key.

A job file is never executed and never reaches outside its folder.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from hashlib import blake2b
from itertools import chain, islice
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from backwave.assumptions import Assumed
from backwave.errors import JobError, MissingError, Problem
from backwave.finding import PRACTICE, Message
from backwave.job import measured_curves
from backwave.job import trace as traced
from backwave.job.cabin_checks import cabin_faults
from backwave.job.cross_checks import faults, traced_faults
from backwave.job.gates import Gates, gates_of
from backwave.job.migrate import migrated
from backwave.job.model import FORMAT, JobFile
from backwave.job.model_errors import of_another_kind, translated
from backwave.job.named_file import read_bytes
from backwave.job.raw_checks import raw_faults, shown, without
from backwave.job.size_limits import MAX_BYTES
from backwave.job.toml_spans import Lines, key_name, lines_of
from backwave.job.wiring_checks import wiring_faults
from backwave.plain_text import plain_text
from backwave.units import Quantity

FILE = "job.toml"
Keys = tuple[str | int, ...]
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
    traces: dict[str, traced.Trace] = field(default_factory=dict)  # traced outlines by their path in the job
    # measured curves of drivers by their path in the job
    columns: dict[str, measured_curves.Columns] = field(default_factory=dict, repr=False)
    # where each key stands, for faults found later
    lines: Lines | None = field(default=None, repr=False, compare=False)
    # what was noted at each table and row, for the next edit
    notes: dict[Keys, Noted] = field(default_factory=dict, repr=False, compare=False)
    gates: Gates = field(default_factory=Gates, repr=False)  # what was confirmed for it, as its log says

    def problem(self, path: Keys, message: str, found: object, accepted: str) -> Problem:
        """A fault that shows only when the job is worked out, with its line."""
        line = None if self.lines is None else self.lines.line(path)
        data = {} if self.lines is None else self.lines.data
        return Problem(FILE, line, key_name(path, data), shown(found), accepted, message)


def load(folder: Path | str) -> Job:
    """Read a job folder.

    MissingError: no such folder, or no job.toml in it; JobError: everything wrong with it.
    """
    path = Path(folder)
    folder = path.parent if path.name == FILE else path
    return loads(read_text(folder), folder)


def read_text(folder: Path) -> str:
    """The text of a folder's job file.

    MissingError: no such folder, or no job.toml in it; JobError: A file that is no text.
    """
    path = folder / FILE
    if not path.exists():
        what = f"There is no {FILE} in {folder}" if folder.is_dir() else f"There is no job folder {folder}"
        raise MissingError(what, f"Make one with: backwave new {folder}")
    data = read_bytes(path, FILE, 4 * MAX_BYTES, "a text of a few kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise JobError(
            (Problem(FILE, line, "", "a byte that is no UTF-8", "a text saved as UTF-8", "not readable"),)
        ) from None


def loads(text: str, folder: Path | None = None, before: Job | None = None) -> Job:
    """Read the text of a job file.

    `before`: the job this one was edited from: what was not touched is taken over from it; JobError: everything
    wrong with it.
    """
    text = text.removeprefix("\ufeff")  # as some editors begin a file
    lines = _lines(text)
    if _edition(lines) < FORMAT:
        lines = lines_of(migrated(text))
    data = lines.data

    def problem(path: Keys, message: str, found: object, accepted: str, nearest: str = "") -> Problem:
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
    between = islice(chain(faults(right, known), wiring_faults(right), cabin_faults(right)), MAX_PROBLEMS + 1)
    problems += [problem(*fault) for fault in between]
    if model is None:
        raise JobError(_in_order(problems))
    traces, more = traced.read_all(model, folder)
    problems += more
    curves, more = measured_curves.read_all(model, folder)
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
        model,
        folder,
        digest.hexdigest(),
        tuple(notes.assumed),
        tuple(dict.fromkeys(notes.unused)),
        tuple(notes.trade),
        traces,
        curves,
        lines,
        notes.kept,
        gates_of(folder),
    )


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
    """The edition of the format that a text is written in.

    JobError: an empty file, a text that is no TOML, no edition, or a newer one.
    """
    return _edition(_lines(text))


def _lines(text: str) -> Lines:
    if not text.strip():
        raise JobError((Problem(FILE, None, "", "nothing", "what `backwave new` writes", "an empty file"),))
    return lines_of(text)


def _edition(lines: Lines) -> int:
    found = lines.data.get("format")
    if "format" not in lines.data:
        raise JobError((Problem(FILE, 1, "format", "", f"format = {FORMAT} at the top", "no format is given"),))
    if not isinstance(found, int) or isinstance(found, bool) or found < 0:
        line = lines.line(("format",))
        raise JobError((Problem(FILE, line, "format", shown(found), f"{FORMAT}", "not an edition of the format"),))
    if found > FORMAT:
        accepted = f"{FORMAT} or older; a newer backwave reads it"
        line = lines.line(("format",))
        raise JobError((Problem(FILE, line, "format", str(found), accepted, "written by a newer backwave"),))
    return found


def _in_order(problems: list[Problem]) -> tuple[Problem, ...]:
    found = sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line or 0, p.key))
    if len(found) <= MAX_PROBLEMS:
        return tuple(found)
    more = Problem(FILE, None, "", "", "", f"more than {MAX_PROBLEMS} problems; these are the first")
    return (*found[:MAX_PROBLEMS], more)


class _Notes:
    """Goes through a job and notes what was assumed, what is not used yet, what is a trade size."""

    def __init__(self, data: dict[str, Any], held: dict[Keys, Noted]) -> None:
        self._data, self._held = data, held
        self.kept: dict[Keys, Noted] = {}
        made = {a.get("process", "print") for a in data.get("adapter", [])}
        # defaults of a printer or a saw that makes nothing in this job are nobody's business
        self._idle = {name for name, process in (("printer", "print"), ("sheet", "sheet")) if process not in made}
        self.assumed: list[Assumed] = []
        self.unused: list[str] = []
        self.trade: list[tuple[str, str]] = []

    def walk(self, node: Any, path: Keys) -> None:
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

    def table(self, node: Any, path: Keys) -> None:
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
