"""The shelf: a person's own folder of openings, by vehicle, and of drivers, measured on earlier jobs.

    shelf/openings/demo-panel-van/front-door.toml        shelf/drivers/demo-165.toml

    format = 1
    [measured]    who, when, with (instruments and what each may be out by), vehicle, note
    [[opening]]   or [[speaker]]: the table as it stands in a job.toml

Plain files to read, fix and hand to a colleague; nothing is ever written over.  The uncertainty comes along: an
instrument that this job lists otherwise, or not at all, is taken with it under a name of its own, so that readings that
shared its error still do; a reading that named none keeps the half-width it had."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from backwave.atomic_write import clear_left, write_whole
from backwave.errors import InputError, JobError, MissingError, Problem, QuantityError, job_error
from backwave.job.load import FILE, Job, loads, migrated, read_text
from backwave.job.model import FORMAT as JOB_FORMAT
from backwave.job.named_files import read_bytes
from backwave.job.place import DEFAULTS
from backwave.job.session import Session
from backwave.job.toml_edit import with_value, without_row
from backwave.job.toml_spans import MAX_BYTES, KeyPath, Lines, at, block, path_of, toml_value
from backwave.job.undo import Append, Change, Put
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
    """Read a file of the shelf, or one that was handed over. MissingError: no such file; JobError: everything wrong
    with it: keys that are not ours, a newer edition, paths to other files."""
    if not path.exists():
        raise MissingError(f"There is no file {path}", "See what there is with: backwave shelf")
    data = read_bytes(path, path.name, MAX_BYTES, "a text of a few kB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise job_error(path.name, "not readable", "bytes", "a text saved as UTF-8") from None
    return parsed(path, text)


def parsed(path: Path, text: str) -> Shelved:
    """The text of a file of the shelf, judged. JobError: everything wrong with it."""
    lines = Lines(text, path.name)
    found = lines.data.get("format")
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        wanted = f"format = {FORMAT}"
        raise job_error(path.name, "not an edition of the shelf's format", repr(found), wanted, line=1, key="format")
    if found > FORMAT:
        message, line = "written by a newer backwave", lines.line(("format",))
        raise job_error(path.name, message, str(found), f"{FORMAT} or older", line=line, key="format")
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
    if isinstance(node, dict):
        if isinstance(node.get("by"), str):
            yield (*path, "by"), node["by"]
        for key, inner in node.items():
            yield from _by(inner, (*path, key))
    elif isinstance(node, list):
        for i, inner in enumerate(node):
            yield from _by(inner, (*path, i))


def _unnamed(row: dict[str, Any], kind: str, path: KeyPath) -> Iterator[tuple[KeyPath, Any, str]]:
    """Readings that say neither how sure they are nor with what they were read: where to say it, and their kind. The
    place is a `by` where there is one: an instrument named as its kind is then shared as the kind was."""
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


def _faults(path: Path, text: str, lines: Lines) -> Iterator[Problem]:
    """Everything wrong with a file of the shelf: its own keys, then the table as the job judges it."""

    def problem(where: KeyPath, found: object, accepted: str, message: str, nearest: str = "") -> Problem:
        key = ".".join(map(str, where))
        return Problem(path.name, lines.line(where), key, str(found)[:120], accepted, message, nearest)

    def unknown(where: KeyPath, key: str, known: tuple[str, ...]) -> Problem:
        near = get_close_matches(key, known, n=1)
        return problem(where, key, "one of " + ", ".join(known), "an unknown key", near[0] if near else "")

    data = lines.data
    known = ("format", "measured", *KINDS)
    yield from (unknown((key,), key, known) for key in data.keys() - set(known))
    measured = data.get("measured")
    if not isinstance(measured, dict):
        yield problem(("measured",), "nothing", "[measured] with who, when, with, vehicle, note", "no [measured]")
        return
    for key, value in measured.items():
        where = ("measured", key)
        if key not in _SAID:
            yield unknown(where, key, _SAID)
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
    if others := list(_named_files(rows[0], (kinds[0], 0))):
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


def _named_files(row: dict[str, Any], path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    for key in (("flange", "traced"), ("left", "flange", "traced"), ("right", "flange", "traced"), ("measured",)):
        if (found := at(row, key)) is not None:
            yield (*path, *key), found


_DRAWERS = {"opening": "openings", "speaker": "drivers"}


@dataclass(frozen=True)
class Listing:
    """What is on a shelf."""

    entries: tuple[Shelved, ...]  # openings by vehicle, then drivers
    problems: tuple[Problem, ...]  # what is wrong with the files that cannot be read


def folder() -> Path:
    """Where this person's shelf is: $BACKWAVE_SHELF, or the place the system keeps a person's data in."""
    if own := os.environ.get("BACKWAVE_SHELF"):
        return Path(own).expanduser()
    if sys.platform == "win32":
        data = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        data = Path.home() / "Library" / "Application Support"
    else:  # XDG Base Directory Specification 0.8: a relative path is to be ignored
        named = Path(os.environ.get("XDG_DATA_HOME", ""))
        data = named if named.is_absolute() else Path.home() / ".local" / "share"
    return data / "backwave" / "shelf"


def save(
    source: Session | Job, kind: str, id_: str, who: str, note: str = "", *, shelf: Path | None = None, when: str = ""
) -> Path:
    """Put an opening on the shelf, under the vehicle's name, or a driver ("speaker"); `who` measured it. What a dummy
    did stays with the job: it was another vehicle's metal; so do files of a driver's curves. A traced flange is written
    out. Returns the file; one that says the very same already, where there is one. InputError: nothing of that id;
    nobody named who measured it; JobError: it cannot stand alone."""
    job = source.job if isinstance(source, Session) else source
    if not who.strip():
        raise InputError("who measured it", "", "a name, so that a colleague can ask")
    ids = [row.id for row in getattr(job.file, kind)]
    if id_ not in ids:
        raise InputError(f"no {kind} of that id", id_, "one of " + (", ".join(ids) or "none: there is none yet"))
    text = source.text if isinstance(source, Session) else migrated(read_text(job.folder or Path()))
    row = dict(Lines(text, FILE).data[kind][ids.index(id_)])
    alone, left = _alone(row, job, kind)
    lines = without_row(text, (kind, ids.index(id_)))[1] if alone == row else block(kind, alone)
    vehicle = job.file.vehicle.name or ""
    if kind == "opening" and not vehicle:
        raise InputError("the vehicle's name", "", "name under [vehicle]: an opening is kept by its vehicle")
    named = {by for _, by in _by(alone, ())} | {"default"}
    measured = {
        "who": who.strip(),
        "when": when or time.strftime("%Y-%m-%d"),
        "with": {
            name: f"{q.to('mm'):g} mm" if q.text in job.file.instruments else q.text
            for name, q in job.file.instruments.items()
            if name in named
        },
        "vehicle": vehicle,
        "note": " ".join((note.strip(), *left)).strip(),
    }
    head = "".join(f"{key.ljust(7)} = {toml_value(value)}\n" for key, value in measured.items())
    data = f"format = {FORMAT}\n\n[measured]\n{head}\n{lines.rstrip()}\n"
    drawer = (shelf if shelf is not None else folder()) / _DRAWERS[kind]
    if kind == "opening":
        drawer /= _plain(vehicle) or "vehicle"
    stem = _plain(id_) or kind
    for n in range(1, 10_000):
        path = drawer / (f"{stem}.toml" if n == 1 else f"{stem}-{n}.toml")
        if path.exists() and path.read_bytes() == data.encode():
            return path
        if not path.exists():
            break
    parsed(path, data)  # what could not be taken again is not kept
    return write_whole(path, data.encode())


def listing(shelf: Path | None = None) -> Listing:
    """Everything on a shelf; a file that cannot be read is reported and bars no other."""
    shelf = folder() if shelf is None else shelf
    entries, problems = [], list[Problem]()
    for drawer, depth in (("openings", "*/*.toml"), ("drivers", "*.toml")):
        for path in _files(shelf, f"{drawer}/{depth}"):
            try:
                entries.append(read(path))
            except JobError as error:
                problems += error.problems
            except (MissingError, OSError) as error:
                problems.append(Problem(path.name, None, "", "", "a file that can be opened", str(error)))
    return Listing(tuple(entries), tuple(problems))


def find(name: str, shelf: Path | None = None) -> Path:
    """The file of a name on the shelf, or the file itself where a path to one is given. `name`: "demo-165",
    "front-door", "demo-panel-van/front-door", or a path to a file that was handed over; InputError: A name that several
    files have, or one that leads out of the shelf; MissingError: no such file."""
    if Path(name).is_file():
        return Path(name)
    shelf = folder() if shelf is None else shelf
    parts = [_plain(part) for part in name.removesuffix(".toml").replace("\\", "/").split("/")]
    if "" in parts:
        raise InputError("not a name on the shelf", name, "such as demo-panel-van/front-door, or a path to a file")
    paths = [p for depth in ("openings/*/*.toml", "drivers/*.toml") for p in _files(shelf, depth)]
    found = [p for p in paths if p.relative_to(shelf).with_suffix("").parts[-len(parts) :] == tuple(parts)]
    if len(found) > 1:
        raise InputError("several of that name", name, ", ".join(_called(p, shelf) for p in found))
    if not found:
        there = ", ".join(_called(p, shelf) for p in paths) or "nothing yet"
        raise MissingError(f"There is no {name} on the shelf", f"On it: {there}")
    return found[0]


def _files(shelf: Path, pattern: str) -> list[Path]:
    """Without what is being written at this moment, or was when a process was ended."""
    found = sorted(p for p in shelf.glob(pattern) if not p.name.startswith("."))
    for folder in {path.parent for path in found}:
        clear_left(folder)
    return found


def _called(path: Path, shelf: Path) -> str:
    return "/".join(path.relative_to(shelf).with_suffix("").parts[1:])


def _plain(text: str) -> str:
    """A name that is a file's on every system, and nothing but a name."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def _alone(row: dict[str, Any], job: Job, kind: str) -> tuple[dict[str, Any], list[str]]:
    """A table without what only its job can say; and what that was."""
    row, left = dict(row), list[str]()
    if kind == "speaker":
        if row.pop("measured", None) is not None:
            left.append("Its measured curves are in the job's folder.")
        return row, left
    for side in ((), ("left",), ("right",)):
        own = at(row, side)
        if not isinstance(own, dict):
            continue
        own = {k: v for k, v in own.items() if k != "stand_in"}
        trace = job.traces.get(str(at(own, ("flange", "traced"))))
        if trace is not None:
            own["flange"] = {"outline": [[round(x, 3), round(y, 3)] for x, y in trace.outline_mm]}
            left.append(f"The flange was traced, u {trace.u_mm:g} mm.")
        row = own if not side else row | {side[0]: own}
    return row, left
