"""The shelf: a person's own folder of openings, by vehicle, and of drivers, measured on earlier jobs.

    shelf/openings/demo-panel-van/front-door.toml
    shelf/drivers/demo-165.toml

Plain files to read, mend and hand to a colleague; `shelved` says what stands in one.  Nothing is ever written over.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backwave.atomic_write import clear_left, write_whole
from backwave.errors import InputError, JobError, MissingError, Problem
from backwave.job.load import FILE, Job, read_text
from backwave.job.migrate import migrated
from backwave.job.session import Session
from backwave.job.shelved import FORMAT, Shelved, parsed, read
from backwave.job.toml_edit import without_row
from backwave.job.toml_format import block, toml_value
from backwave.job.toml_spans import Lines, at

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


def save_opening(
    source: Session | Job, id_: str, who: str, note: str = "", *, shelf: Path | None = None, when: str = ""
) -> Path:
    """Put an opening on the shelf, under the vehicle's name.

    What a dummy did stays with the job: it was another vehicle's metal.  A traced flange is written out.

    Returns the file; one that says the very same already, where there is one; InputError: no such opening; nobody
    named who measured it; JobError: the opening cannot stand alone.
    """
    return _saved(source, "opening", id_, who, note, shelf, when)


def save_speaker(
    source: Session | Job, id_: str, who: str, note: str = "", *, shelf: Path | None = None, when: str = ""
) -> Path:
    """Put a driver on the shelf; files of its measured curves stay with the job.

    InputError, JobError: as for `save_opening`.
    """
    return _saved(source, "speaker", id_, who, note, shelf, when)


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
    """The file of a name on the shelf, or the file itself where a path to one is given.

    `name`: "demo-165", "front-door", "demo-panel-van/front-door", or a path to a file that was handed over;
    InputError: A name that several files have, or one that leads out of the shelf; MissingError: no such file.
    """
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


def _saved(source: Session | Job, kind: str, id_: str, who: str, note: str, shelf: Path | None, when: str) -> Path:
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
    named = _instruments(alone) | {"default"}
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


def _instruments(node: Any) -> set[str]:
    """Every instrument that is named in a table."""
    if isinstance(node, Mapping):
        own = {node["by"]} if isinstance(node.get("by"), str) else set()
        return own.union(*map(_instruments, node.values()))
    return set().union(*map(_instruments, node)) if isinstance(node, list) else set()
