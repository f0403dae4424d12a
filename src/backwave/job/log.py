"""`log.toml`: what was done to a job; ours to write, one section a capability, and nobody's section is ever lost.

    read       the whole of it; a newer edition or a file cut short is an error of its own
    write      one section written anew, all others as they stand on disk
    change     sections worked out from what stands there, nobody writing in between
    rescued    a file that cannot be read is moved aside, never written over
    to_rows, from_rows   the undo history as rows of [[undo]] and back

From: the job's folder.  Units: none.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from backwave.atomic_write import write_whole
from backwave.errors import JobError, Problem
from backwave.job.change import Entry, Step

__all__ = ["FORMAT", "LOG", "aside", "change", "from_rows", "read", "rescued", "to_rows", "write"]

LOG = "log.toml"
FORMAT = 1
_HELD = threading.RLock()


def read(folder: Path) -> dict[str, Any]:
    """The sections of a job's log; an empty one where there is no file.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.

    Raises
    ------
    JobError
        A file that is cut short or no TOML, one without an edition, one of a newer edition.
    """
    path = folder / LOG
    if not path.is_file():
        return {"format": FORMAT}
    try:
        data = tomllib.loads(path.read_bytes().decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise _problem("cut short, or no TOML", str(error), "what backwave wrote") from None
    found = data.get("format")
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        raise _problem("no edition of the log", repr(found), f"format = {FORMAT}")
    if found > FORMAT:
        raise _problem("written by a newer backwave; left as it is", str(found), f"format {FORMAT} or older")
    return data


def write(folder: Path, sections: Mapping[str, Any]) -> None:
    """Write some sections; what else stands in the log stays.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.
    sections : mapping of str to object, no unit
        Tables, lists of tables and values by their name; an empty list takes a section out.

    Raises
    ------
    JobError
        What is on disk cannot be read, or is newer: nothing was written.
    """
    change(folder, lambda _: sections)


def change(folder: Path, work: Callable[[dict[str, Any]], Mapping[str, Any]]) -> dict[str, Any]:
    """Write sections worked out from what stands in the log, while no other thread or process writes it.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.
    work : callable of (dict) to mapping, no unit
        Takes the whole log, gives the sections to write anew; none: nothing is written.

    Returns
    -------
    dict
        The whole log as it now stands.

    Raises
    ------
    JobError
        What is on disk cannot be read, or is newer: nothing was written.
    """
    import tomli_w

    with _alone(folder):
        data = read(folder)
        sections = work(data)
        kept = {name: value for name, value in (data | dict(sections)).items() if value != []}
        if sections:
            text = "# What was done to this job, written by backwave. What was measured stands in job.toml.\n"
            write_whole(folder / LOG, (text + tomli_w.dumps(kept)).encode())
    return kept


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Nobody else changes the log; other processes are held off where the system can lock a folder (not on Windows)."""
    with _HELD:
        try:
            import fcntl
        except ImportError:
            yield
            return
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)


def rescued(folder: Path) -> Path | None:
    """Move a log that cannot be read aside, so that a new one can be begun; one of a newer edition stays.

    Parameters
    ----------
    folder : Path, no unit
        The job folder.

    Returns
    -------
    Path or None
        Where it is now; None where it was left.
    """
    path = folder / LOG
    try:
        from_rows([*(data := read(folder)).get("undo", []), *data.get("redo", [])])
        return None
    except JobError as error:
        if "newer" in error.problems[0].message:
            return None
    kept = aside(path, "unreadable")
    path.replace(kept)
    return kept


def aside(path: Path, word: str) -> Path:
    """A free name beside a file, to keep another version of it: "job.toml.theirs-20260102-030405".

    Parameters
    ----------
    path : Path, no unit
        The file.
    word : str, no unit
        What is kept.
    """
    stem = f"{path.name}.{word}-{time.strftime('%Y%m%d-%H%M%S')}"
    names = (stem if n == 1 else f"{stem}-{n}" for n in range(1, 10_000))
    return next(p for name in names if not (p := path.with_name(name)).exists())


def to_rows(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """The undo history as rows of [[undo]].

    Parameters
    ----------
    entries : iterable of Entry, no unit
        The oldest first.
    """
    return [
        {
            "label": e.label,
            "start": e.start,
            "end": e.end,
            "step": [{k: v for k, v in asdict(s).items() if v is not None} for s in e.steps],
        }
        for e in entries
    ]


def from_rows(rows: Sequence[Any]) -> tuple[Entry, ...]:
    """Rows of [[undo]] as the undo history.

    Parameters
    ----------
    rows : sequence of dict, no unit
        As read.

    Raises
    ------
    JobError
        A row that backwave did not write.
    """
    try:
        return tuple(
            Entry(str(r["label"]), tuple(_step(s) for s in r["step"]), str(r["start"]), str(r["end"]))
            for r in rows
        )
    except (KeyError, TypeError, ValueError) as error:
        raise _problem(
            "an undo history that backwave did not write", repr(error), "rows as it writes them"
        ) from None


def _step(row: dict[str, Any]) -> Step:
    kinds = {"row": bool, "place": int}
    got: dict[str, Any] = {
        f.name: row.get(f.name) if f.name in ("old", "new") else row[f.name] for f in fields(Step)
    }
    for name, value in got.items():
        wanted = kinds.get(name, str)
        if not isinstance(value, wanted) and not (value is None and name in ("old", "new")):
            raise ValueError(f"{name} = {value!r}")
    return Step(**got)


def _problem(message: str, found: str, accepted: str) -> JobError:
    return JobError((Problem(LOG, None, "", found[:120], accepted, message),))
