"""`log.toml`: what was done to a job; a row is added at its end and stays, and nobody's section is ever lost.

    look       what is known of it; only what was added since is read, so that this costs the same however long it is
    read       its sections, to be kept and changed
    add        rows worked out from what stands there, nobody writing in between: one write at the end of the file
    write      sections written anew, the whole file at once; for what is no row
    torn       what a crash cut off, set aside
    rescued    a file that cannot be read is moved aside, never written over

A row that is added stands between two marks, `# {` and `# }`.  One without its end was cut off by a crash: nobody was
told that it is kept.  It is moved into a file beside the log before anything else is added.

From: the job's folder.  Units: none."""

from __future__ import annotations

import contextlib
import os
import re
import threading
import tomllib
from codecs import BOM_UTF8
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from backwave.atomic_write import aside, job_lock, write_whole
from backwave.errors import JobError, job_error

LOG = "log.toml"
FORMAT = 1
MAX_BYTES = 32_000_000  # some 200,000 words, read in seconds
MAX_KNOWN = 8  # logs kept in memory
MIN_REPEATED = 100  # rows that stand there twice, before the file is written anew without them
Row = tuple[str, Mapping[str, Any]]
_HEAD = b"# What was done to this job, written by backwave. What was measured stands in job.toml.\n"
_BEGIN, _END = b"]] # {\n", b"\n# }\n"
_ROW = re.compile(r"^[ \t]*\[\[[ \t]*([A-Za-z0-9_-]+)[ \t]*\]\]", re.M)
_CUT_HEADER = re.compile(rb"\[(\[[\w-]*(\](\](\Z| #? ?\{?\Z)|\Z)|\Z)|\Z)")
_GUARD = 64
_CLOSED = "the system does not let it be read; left as it is"
_MUTEX = threading.RLock()
_KNOWN: dict[Path, Log] = {}


@dataclass
class Log:
    """What is known of a log; it grows as rows are added."""

    sections: dict[str, Any]  # as they stand; not to be changed
    # the same one as long as rows were only added at the end of their sections
    epoch: object = field(default_factory=object)
    torn: bytes = b""  # A row at the end that is not whole
    stamp: tuple[int, int, int] = (0, 0, 0)  # file number, time and size when it was last looked at
    end: int = 0  # up to where it is known, in bytes
    guard: bytes = b""
    rows: set[str] = field(default_factory=set)  # sections to which a row can be added at the end of the file
    repeated: int = 0  # rows that stand there twice


def look(folder: Path) -> Log:
    """What is known of a job's log; a row that a crash cut off is set aside where the folder may be written. JobError:
    A file that is cut short or no TOML, one without an edition, one of a newer edition."""
    held = _look(folder)
    if held.torn and os.access(folder, os.W_OK):  # or somebody is writing it this moment
        with contextlib.suppress(OSError), job_lock(folder):  # what could not be set aside is told by `torn`
            held = _whole_rows(folder)
    return held


def read(folder: Path) -> dict[str, Any]:
    """The sections of a job's log; an empty one where there is no file. JobError: as `look` does."""
    return _copied(look(folder))


def add(folder: Path, work: Callable[[Log], Iterable[Row]]) -> None:
    """Add rows worked out from what stands in the log, while no other thread or process writes it. JobError: what is on
    disk cannot be read, or is newer, or a row cannot be written: nothing was added; OSError: the disk is full, or the
    folder may not be written: nothing was added."""
    with job_lock(folder):
        held = _whole_rows(folder)
        rows = list(work(held))
        if not rows:
            return
        data = b"".join(_marked(name, row) for name, row in rows)
        many = 4 * held.repeated > sum(len(held.sections[name]) for name in held.rows)
        fits = all(name in held.rows or name not in held.sections for name, _ in rows)
        if held.end and fits and not (held.repeated >= MIN_REPEATED and many):
            append(folder / LOG, data if held.guard.endswith(b"\n") else b"\n" + data)
            return
        found = _copied(held)
        for name, row in rows:
            if not isinstance(found.setdefault(name, []), list):
                raise _problem("no section of rows", name, f"[[{name}]]")
            found[name].append(dict(row))
        _write(folder, found)


def write(folder: Path, sections: Mapping[str, Any]) -> None:
    """Write some sections anew; what else stands in the log stays. `sections`: tables, lists of tables and values by
    their name; an empty list takes a section out; JobError: what is on disk cannot be read, or is newer: nothing was
    written."""
    with job_lock(folder):
        _write(folder, _whole_rows(folder).sections | dict(sections))


def torn(folder: Path) -> tuple[str, ...]:
    """Names of the files in which a row lies that a crash cut off; the log's own where it could not be set aside."""
    here = (LOG,) if look(folder).torn else ()
    return (*here, *sorted(path.name for path in folder.glob(f"{LOG}.torn-*")))


def rescued(folder: Path) -> Path | None:
    """Move a log that cannot be read aside, so that a new one can be begun; one of a newer edition stays."""
    path = folder / LOG
    try:
        look(folder)
        return None
    except JobError as error:
        if "left as it is" in error.problems[0].message:
            return None
    kept = aside(path, "unreadable")
    path.replace(kept)
    return kept


# -- reading --------------------------------------------------------------------------------------------------------


def _look(folder: Path) -> Log:
    path = folder / LOG
    with _MUTEX:
        known = _KNOWN.get(path)
        if not path.is_file():
            _KNOWN.pop(path, None)
            return Log({"format": FORMAT})
        try:
            with path.open("rb") as file:
                held = os.fstat(file.fileno())
                stamp = held.st_ino, held.st_mtime_ns, held.st_size
                if known is not None and known.stamp == stamp:
                    return known
                if held.st_size > MAX_BYTES:
                    raise _problem("too long", f"{held.st_size} bytes", f"at most {MAX_BYTES} bytes")
                found = None if known is None else _more(known, file, stamp)
                if found is None:
                    file.seek(0)
                    found = _parsed(file.read())
        except OSError as error:
            raise _problem(_CLOSED, error.strerror or str(error), "a file that may be read") from None
        found.stamp = stamp
        _KNOWN.pop(path, None)
        _KNOWN[path] = found
        while len(_KNOWN) > MAX_KNOWN:
            _KNOWN.pop(next(iter(_KNOWN)))
    return found


def _copied(held: Log) -> dict[str, Any]:
    with _MUTEX:  # it may be growing
        return {name: list(v) if isinstance(v, list) else v for name, v in held.sections.items()}


def _more(known: Log, file: Any, stamp: tuple[int, int, int]) -> Log | None:
    """What is known, with the rows added since; None where more than that was done to the file."""
    if stamp[0] != known.stamp[0] or stamp[2] <= known.end:
        return None
    file.seek(known.end - len(known.guard))
    data = file.read()
    if not data.startswith(known.guard):
        return None
    tail = data[len(known.guard) :]
    if not tail.endswith(_END):
        return None
    try:
        found = tomllib.loads(tail.decode("utf-8"))
    except (ValueError, RecursionError):
        return None
    # somebody's own lines among them are read with all the rest
    count = tail.count(_BEGIN)
    if not all(isinstance(v, list) and (n in known.rows or n not in known.sections) for n, v in found.items()):
        return None
    if not count == tail.count(_END) == sum(map(len, found.values())):
        return None
    for name, rows in found.items():
        known.sections.setdefault(name, []).extend(rows)
        known.rows.add(name)
    known.end, known.torn = stamp[2], b""
    known.guard = data[-_GUARD:]
    return known


def _parsed(data: bytes) -> Log:
    cut = _cut(data)
    whole, rest = (data, b"") if cut is None else (data[:cut], data[cut:])
    try:
        text = whole.removeprefix(BOM_UTF8).decode("utf-8")
        found = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise _problem("cut short, or no TOML", str(error), "what backwave wrote") from None
    edition = found.get("format")
    if not isinstance(edition, int) or isinstance(edition, bool) or edition < 1:
        raise _problem("no edition of the log", repr(edition), f"format = {FORMAT}")
    if edition > FORMAT:
        raise _problem("written by a newer backwave; left as it is", str(edition), f"format {FORMAT} or older")
    count = Counter(_ROW.findall(text))
    rows = {name for name, v in found.items() if isinstance(v, list) and count[name] == len(v)}
    repeated = sum(len(found[name]) - len(_once(found[name])) for name in rows)
    return Log(found, torn=rest, end=len(whole), guard=whole[-_GUARD:], rows=rows, repeated=repeated)


def _cut(data: bytes) -> int | None:
    """Where a row begins that is not whole; None where there is none."""
    begin, end = data.rfind(_BEGIN), data.rfind(_END)
    if data.endswith(_END[:-1]):
        return None
    if begin > end:
        return data.rfind(b"\n", 0, begin) + 1
    after = data[end + len(_END) :] if end >= 0 else data[data.rfind(b"\n") + 1 :]
    left = after.lstrip(b"\n")
    core = left.rstrip(b"\0")  # what a file system leaves where it knew the length and not yet the letters
    return len(data) - len(after) if left and (not core or _CUT_HEADER.match(core)) else None


def _whole_rows(folder: Path) -> Log:
    """What is known, under the lock: nobody is writing, so that what is not whole will never be."""
    held = _look(folder)
    if held.torn:
        path = folder / LOG
        write_whole(aside(path, "torn"), held.torn)
        with path.open("r+b") as file:
            file.truncate(held.end)
            os.fsync(file.fileno())
        held.torn = b""
    return held


# -- writing --------------------------------------------------------------------------------------------------------


def append(path: Path, data: bytes) -> None:
    """All of it at the end of a file, and on the disk; or nothing. OSError: the disk is full, or the file may not be
    written: it is as it was."""
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
    try:
        size = os.fstat(handle).st_size
        try:
            left = memoryview(data)
            while left:
                left = left[os.write(handle, left) :]
            os.fsync(handle)
        except OSError:
            os.truncate(handle, size)
            raise
    finally:
        os.close(handle)


def _write(folder: Path, sections: Mapping[str, Any]) -> None:
    """The whole file, rows as they are added later, each once."""
    import tomli_w

    kept = {"format": FORMAT} | {name: value for name, value in sections.items() if value != []}
    rows = {name: value for name, value in kept.items() if _flat(value)}
    text = [_HEAD, tomli_w.dumps({n: v for n, v in kept.items() if n not in rows}).encode()]
    for name, values in rows.items():
        text += [f"\n[[{name}]]\n{tomli_w.dumps(row)}".encode() for row in _once(values)]
    data = b"".join(text)
    _checked(data, kept | {name: _once(values) for name, values in rows.items()})
    path = (folder / LOG).resolve()  # a link stays one
    write_whole(path, (BOM_UTF8 if _marks_its_bytes(path) else b"") + data)


def _marks_its_bytes(path: Path) -> bool:
    """Whether an editor put a mark of the byte order in front; it stays, as in the job file."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(BOM_UTF8)) == BOM_UTF8


def _flat(value: Any) -> bool:
    """Whether these are rows without tables in them."""
    rows = value if isinstance(value, list) else []
    cells = [cell for row in rows if isinstance(row, dict) for cell in row.values()]
    nested = [one for cell in cells for one in (cell if isinstance(cell, list) else [cell])]
    return (
        bool(rows)
        and all(isinstance(row, dict) for row in rows)
        and not any(isinstance(n, dict | list) for n in nested)
    )


def _once(rows: list[Any]) -> list[Any]:
    """Rows without those that stand there twice, word for word and with a key."""
    seen: dict[Any, list[Any]] = {}
    kept = []
    for row in rows:
        key = row.get("key") if isinstance(row, dict) else None
        if isinstance(key, str):
            same = seen.setdefault(key, [])
            if row in same:
                continue
            same.append(row)
        kept.append(row)
    return kept


def _marked(name: str, row: Mapping[str, Any]) -> bytes:
    """A row to be added, read once before it is written."""
    import tomli_w

    if not re.fullmatch(r"[A-Za-z0-9_-]+", name) or not _flat([dict(row)]):
        raise _problem("a row that cannot be added", f"[[{name}]]", "a section's name, and values without tables")
    try:
        data = f"[[{name}]] # {{\n{tomli_w.dumps(row)}# }}\n".encode()
    except (TypeError, ValueError) as error:
        raise _problem("a row that cannot be written", str(error), "texts, numbers, lists of these") from None
    _checked(data, {name: [dict(row)]})
    return data


def _checked(data: bytes, wanted: Mapping[str, Any]) -> None:
    """Raise where the standard library does not read what was meant."""
    try:
        same = tomllib.loads(data.decode("utf-8")) == wanted
    except (ValueError, RecursionError):
        same = False
    if not same:
        raise _problem("nothing was written: it would not read back as it was meant", "", "texts, numbers, lists")


def _problem(message: str, found: str, accepted: str) -> JobError:
    return job_error(LOG, message, found[:120], accepted)
