"""One file of the shelf: an opening or a driver as it was measured, by whom, when, with what; and how a job takes it.

    format = 1
    [measured]    who, when, with (instruments and what each may be out by), vehicle, note
    [[opening]]   or [[speaker]]: the table as it stands in a job.toml

The uncertainty comes along: an instrument that this job lists otherwise, or not at all, is taken with it under a
name of its own, so that readings that shared its error still do; a reading that named none keeps the half-width it
had.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from backwave.errors import InputError, JobError, MissingError, Problem, QuantityError
from backwave.job.edits import Append, Change, Put
from backwave.job.instruments import DEFAULTS
from backwave.job.load import Job, loads
from backwave.job.model import FORMAT as JOB_FORMAT
from backwave.job.named_file import read_bytes
from backwave.job.size_limits import MAX_BYTES
from backwave.job.toml_edit import with_value, without_row
from backwave.job.toml_format import toml_value
from backwave.job.toml_spans import KeyPath, Lines, at, path_of
from backwave.units import Quantity, parse

FORMAT = 1
KINDS = ("opening", "speaker")
_SAID = ("who", "when", "with", "vehicle", "note")
# lengths of a driver that are readings
_SHEET = ("frame", "cutout", "depth", "magnet", "rim", "gasket", "front", "profile", "terminals", "motor.Xmech")

# what has to be measured again on this vehicle; common trade practice
AGAIN = {
    "opening": (
        "The depth behind the metal to the glass, window down, half and up: regulators differ with year and equipment.",
        "The metal to the back of the grille, with the trim seated.",
        "The hole, by one reading: it may have been cut or bent.",
        "One reading on the second side: its regulator, motor and loom are not the first one's mirror.",
        "What the vehicle maker's service information says of airbags and sensors in this vehicle.",
    ),
    "speaker": (
        "The driver in hand, with a caliper: cutout, mounting depth, magnet. Makers change a driver under one name.",
    ),
}


@dataclass(frozen=True)
class Shelved:
    """What a file of the shelf holds."""

    path: Path
    kind: str
    id: str  # of the opening or the driver; its name where it has one
    name: str
    who: str  # who measured it, on which day, on which vehicle, and what else there is to say
    when: str
    vehicle: str
    note: str
    # what each instrument may be out by, either way; "default" for readings that name none
    with_mm: dict[str, float]
    row: dict[str, Any]
    text: str


@dataclass(frozen=True)
class Taken:
    """How a job takes something from the shelf."""

    changes: tuple[Change, ...]  # for `Session.set_many`: one step of undo
    id: str
    label: str
    again: tuple[str, ...]  # what has to be measured again on this vehicle


def read(path: Path) -> Shelved:
    """Read a file of the shelf, or one that was handed over.

    MissingError: no such file; JobError: everything wrong with it: keys that are not ours, a newer edition, paths
    to other files.
    """
    if not path.exists():
        raise MissingError(f"There is no file {path}", "See what there is with: backwave shelf")
    data = read_bytes(path, path.name, MAX_BYTES, "a text of a few kB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _wrong(path, None, "", "bytes", "a text saved as UTF-8", "not readable") from None
    return parsed(path, text)


def parsed(path: Path, text: str) -> Shelved:
    """The text of a file of the shelf, judged. JobError: everything wrong with it."""
    lines = Lines(text, path.name)
    found = lines.data.get("format")
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        raise _wrong(path, 1, "format", repr(found), f"format = {FORMAT}", "not an edition of the shelf's format")
    if found > FORMAT:
        message = "written by a newer backwave"
        raise _wrong(path, lines.line(("format",)), "format", str(found), f"{FORMAT} or older", message)
    problems = list(_faults(path, text, lines))
    if problems:
        raise JobError(tuple(problems))
    kind = next(k for k in KINDS if k in lines.data)
    row, measured = lines.data[kind][0], lines.data["measured"]
    with_mm = {name: parse(value, "length").to("mm") for name, value in measured.get("with", {}).items()}
    said = {key: measured.get(key, "") for key in ("who", "when", "vehicle", "note")}
    return Shelved(path, kind, row["id"], row.get("name", row["id"]), **said, with_mm=with_mm, row=row, text=text)


def take(entry: Shelved, job: Job) -> Taken:
    """How a job takes an opening or a driver, with its uncertainty."""
    text, kind = entry.text, entry.kind
    row: KeyPath = (kind, 0)
    own = _free(entry.id, [r.id for r in getattr(job.file, kind)])
    text = with_value(text, (*row, "id"), own)
    here = {name: q.to("mm") for name, q in job.file.instruments.items()}
    added: dict[str, float] = {}

    def listed(name: str, half_mm: float) -> str:
        """The name under which this job lists an instrument of that half-width."""
        known = here | added
        names = (name, *(f"{name}-{n}" for n in range(2, 1000)))
        found = next(n for n in names if n not in known or _same(known[n], half_mm))
        if found not in known:
            added[found] = half_mm
        return found

    for path, by in _by(entry.row, row):
        if (name := listed(by, entry.with_mm[by])) != by:
            text = with_value(text, path, name)
    again = list(AGAIN[kind])
    there, default = entry.with_mm.get("default"), here.get("default")
    if there != default and (there is None or default is None or not _same(there, default)):
        for path, reading, named in _unnamed(entry.row, kind, row):
            half = DEFAULTS[named][0] if there is None else there  # type: ignore[index]
            if isinstance(reading, str):
                text = with_value(text, path, f"{reading} ± {half:g} mm")
            elif path[-1] == "by":
                text = with_value(text, path, listed(named, half))
            else:
                again.append(f"{'.'.join(map(str, path[2:]))}, read several times: how sure is this job's default.")
    lines = without_row(text, row)[1]
    puts = tuple(Put(("instruments", name), f"{half:g} mm") for name, half in added.items())
    label = f"{entry.name}, measured on {entry.vehicle or 'an earlier job'}, taken from the shelf"
    return Taken((*puts, Append(kind, lines)), own, label, tuple(again))


def _same(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-9 * max(abs(a), abs(b), 1.0)


def _free(name: str, taken: list[str]) -> str:
    return next(n for n in (name, *(f"{name}-{k}" for k in range(2, 10_000))) if n not in taken)


def _by(node: Any, path: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    """Every instrument that is named, and where."""
    if isinstance(node, dict):
        if isinstance(node.get("by"), str):
            yield (*path, "by"), node["by"]
        for key, inner in node.items():
            yield from _by(inner, (*path, key))
    elif isinstance(node, list):
        for i, inner in enumerate(node):
            yield from _by(inner, (*path, i))


def _unnamed(row: dict[str, Any], kind: str, path: KeyPath) -> Iterator[tuple[KeyPath, Any, str]]:
    """Readings that say neither how sure they are nor with what they were read: where to say it, and their kind.

    The place is a `by` where there is one: an instrument named as its kind is then shared as the kind was.
    """
    if kind == "speaker":
        if "by" not in row:  # a data sheet's dimensions share nothing
            for key in _SHEET:
                where = (*path, *key.split("."))
                yield from ((p, v, "sheet") for p, v in _bare(at(row, tuple(key.split("."))), where))
        return
    for side in ((), ("left",), ("right",)):
        own, here = at(row, side), (*path, *side)
        if not isinstance(own, dict):
            continue
        yield from ((p, v, "metal") for p, v in _bare(own.get("skin"), (*here, "skin")))
        tables: list[tuple[KeyPath, Any, str]] = [
            (("hole",), own.get("hole"), "metal"),
            (("trim",), own.get("trim"), "trim"),
            *((("behind", i), spot, "depth") for i, spot in enumerate(own.get("behind", []))),
        ]
        for inner, table, named in tables:
            if not isinstance(table, dict) or "by" in table:
                continue
            reading = table.get("diameter" if named == "metal" else "clear")
            if (named == "metal" and reading is None) or any(_bare(reading, ())):
                yield (*here, *inner, "by"), None, named


def _bare(value: Any, path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Readings that do not say how sure they are; several of one thing as a list."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key != "angle":
                yield from _bare(inner, (*path, key))
    elif isinstance(value, list):
        if value and all(isinstance(v, str) for v in value) and not (path[2:3] == ("profile",) and len(path) == 4):
            yield path, value
        else:
            for i, inner in enumerate(value):
                yield from _bare(inner, (*path, i))
    elif isinstance(value, str):
        quantity: Quantity = parse(value, "length")
        if quantity.half is None and quantity.u is None:
            yield path, value


def _wrong(path: Path, line: int | None, key: str, found: str, accepted: str, message: str) -> JobError:
    return JobError((Problem(path.name, line, key, found, accepted, message),))


def _faults(path: Path, text: str, lines: Lines) -> Iterator[Problem]:
    """Everything wrong with a file of the shelf: its own keys, then the table as the job judges it."""

    def problem(where: KeyPath, found: object, accepted: str, message: str, nearest: str = "") -> Problem:
        key = ".".join(map(str, where))
        return Problem(path.name, lines.line(where), key, str(found)[:120], accepted, message, nearest)

    data = lines.data
    known = ("format", "measured", *KINDS)
    for key in data.keys() - set(known):
        near = get_close_matches(key, known, n=1)
        yield problem((key,), key, "one of " + ", ".join(known), "an unknown key", near[0] if near else "")
    measured = data.get("measured")
    if not isinstance(measured, dict):
        yield problem(("measured",), "nothing", "[measured] with who, when, with, vehicle, note", "no [measured]")
        return
    for key, value in measured.items():
        where = ("measured", key)
        if key not in _SAID:
            near = get_close_matches(key, _SAID, n=1)
            yield problem(where, key, "one of " + ", ".join(_SAID), "an unknown key", near[0] if near else "")
        elif not isinstance(value, dict if key == "with" else str):
            yield problem(where, value, "a table" if key == "with" else "text in quotes", "not what goes here")
    named = measured.get("with")
    held: dict[str, Any] = named if isinstance(named, dict) else {}
    for name, value in held.items():
        try:
            if parse(value, "length").value < 0:
                yield problem(("measured", "with", name), value, "a length not below 0", "a negative length")
        except QuantityError as error:
            yield problem(("measured", "with", name), error.found, error.accepted, error.what)
    kinds = [k for k in KINDS if k in data]
    rows = data.get(kinds[0]) if len(kinds) == 1 else None
    if not isinstance(rows, list) or len(rows) != 1 or not isinstance(rows[0], dict):
        yield problem((), ", ".join(kinds) or "nothing", "one [[opening]] or one [[speaker]]", "not one thing")
        return
    if others := list(_files(rows[0], (kinds[0], 0))):
        for place, value in others:
            message = "another file named; the shelf's stand alone"
            yield problem(place, value, "what the file said, written out", message)
        return
    try:
        instruments = "".join(
            f"{toml_value(str(k))} = {toml_value(v)}\n" for k, v in held.items() if isinstance(v, str)
        )
        row = without_row(text, (kinds[0], 0))[1]
        loads(f"format = {JOB_FORMAT}\n[instruments]\n{instruments}\n{row}\n")
    except JobError as error:
        for found in error.problems:
            at_key = path_of(data, found.key)
            yield replace(found, file=path.name, line=None if at_key is None else lines.line(at_key))
    except InputError as error:
        yield problem((kinds[0],), error.found, error.accepted, error.what)


def _files(row: dict[str, Any], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    """Where other files are named."""
    for key in (("flange", "traced"), ("left", "flange", "traced"), ("right", "flange", "traced"), ("measured",)):
        if (found := at(row, key)) is not None:
            yield (*path, *key), found
