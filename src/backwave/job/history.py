"""`history.jsonl`: what can be undone and redone in a job, apart from what people said of it; the job never depends on it.

    read      both stacks as they stand on disk
    record    how they stand now: the difference is added as a line, now and then the file is written anew
    to_rows, from_rows   entries as plain rows and back

A line says of each stack how many entries went at its old end, how many of the rest stayed, and what came on top.
From: the job's folder.  Units: none."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from backwave.atomic_write import aside, job_lock, write_whole
from backwave.errors import JobError, job_error
from backwave.job import log
from backwave.job.undo import Entry, Step

HISTORY = "history.jsonl"
FORMAT = 1
MAX_BYTES = 1_000_000  # both stacks; the oldest entries go first
MAX_READ = 16_000_000
MIN_ANEW = 200_000
Stack = tuple[Entry, ...]
_MUTEX = threading.RLock()
_KNOWN: dict[Path, tuple[tuple[int, int, int], int, Stack, Stack]] = {}


@dataclass(frozen=True)
class History:
    """What can be undone and redone."""

    undo: Stack = ()
    redo: Stack = ()
    said: str = ""  # what a person has to be told: a history, or a log, that could not be read and is set aside
    whole: bool = True  # it could be read


def read(folder: Path) -> History:
    """What can be undone and redone; what cannot be read is set aside, and told."""
    said = []
    try:
        held = log.look(folder).sections
    except JobError as error:
        kept = log.rescued(folder)
        said.append(_told(log.LOG, error, kept))
        held = {}
    path = folder / HISTORY
    try:
        if path.is_file():
            undo, redo = _stacks(path)
        else:  # where an earlier backwave kept it
            undo, redo = from_rows(held.get("undo", []), log.LOG), from_rows(held.get("redo", []), log.LOG)
    except JobError as error:
        kept = None
        if path.is_file():
            kept = aside(path, "unreadable")
            path.replace(kept)
        return History(
            said=" ".join([*said, _told(error.problems[0].file, error, kept) + " Undo begins anew."]), whole=False
        )
    return History(undo, redo, " ".join(said))


def record(folder: Path, undo: Iterable[Entry], redo: Iterable[Entry]) -> None:
    """Keep what can be undone and redone now. OSError: the disk is full, or the folder may not be written."""
    path = folder / HISTORY
    now = tuple(undo), tuple(redo)
    with job_lock(folder), _MUTEX:
        stamp, anew_at, *was = _KNOWN.get(path, ((0, 0, -1), 0, (), ()))
        if stamp == _stamp(path) and -1 < stamp[2] < anew_at:
            data = _line([_change(old, new) for old, new in zip(was, now)])
            log.append(path, data)
        else:
            now = _bounded(now[0]), _bounded(now[1])
            data = json.dumps({"format": FORMAT}).encode() + b"\n" + _line([(0, 0, stack) for stack in now])
            write_whole(path, data)
            anew_at = max(MIN_ANEW, 4 * len(data))
            _forget_old(folder)
        _KNOWN[path] = (_stamp(path), anew_at, *now)


def to_rows(entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """The undo history as rows."""
    return [
        {
            "label": e.label,
            "start": e.start,
            "end": e.end,
            "step": [{k: v for k, v in asdict(s).items() if v is not None} for s in e.steps],
        }
        for e in entries
    ]


def from_rows(rows: Sequence[Any], file: str = HISTORY) -> Stack:
    """Rows as the undo history. JobError: A row that backwave did not write."""
    try:
        return tuple(
            Entry(str(r["label"]), tuple(_step(s) for s in r["step"]), str(r["start"]), str(r["end"])) for r in rows
        )
    except (KeyError, TypeError, ValueError) as error:
        raise _problem(file, repr(error)) from None


def _step(row: dict[str, Any]) -> Step:
    kinds = {"row": bool, "place": int}
    got: dict[str, Any] = {f.name: row.get(f.name) if f.name in ("old", "new") else row[f.name] for f in fields(Step)}
    for name, value in got.items():
        wanted = kinds.get(name, str)
        if not isinstance(value, wanted) and not (value is None and name in ("old", "new")):
            raise ValueError(f"{name} = {value!r}")
    return Step(**got)


def _stacks(path: Path) -> tuple[Stack, Stack]:
    """Both stacks of a file; a last line that is not whole was never told to be kept, and does not count."""
    with _MUTEX:
        stamp, _, *held = _KNOWN.get(path, ((0, 0, -1), 0, (), ()))
        if stamp == _stamp(path) and stamp[2] > -1:
            return held[0], held[1]
    if path.stat().st_size > MAX_READ:
        raise _problem(path.name, f"{path.stat().st_size} bytes")
    head, *lines = path.read_bytes().split(b"\n")
    stacks: list[Stack] = [(), ()]
    try:
        found = json.loads(head)
        if not isinstance(found, dict) or found.get("format") != FORMAT:
            raise ValueError(f"format {head[:40]!r}")
        for line in filter(None, lines[:-1]):
            for n, (gone, kept, rows) in enumerate(json.loads(line)):
                stacks[n] = (*stacks[n][gone : gone + kept], *from_rows(rows))
    except (ValueError, TypeError, IndexError, RecursionError) as error:
        raise error if isinstance(error, JobError) else _problem(path.name, repr(error)) from None
    return stacks[0], stacks[1]


def _line(changes: Iterable[tuple[int, int, Stack]]) -> bytes:
    rows = [[gone, kept, to_rows(came)] for gone, kept, came in changes]
    return json.dumps(rows, separators=(",", ":")).encode() + b"\n"


def _change(old: Stack, new: Stack) -> tuple[int, int, Stack]:
    """How many of the old ones went at their beginning, how many of the rest stayed, and what came after these."""
    gone = next((n for n, entry in enumerate(old) if new and entry is new[0]), len(old))
    kept = next((n for n, (a, b) in enumerate(zip(old[gone:], new)) if a is not b), min(len(old) - gone, len(new)))
    return gone, kept, new[kept:]


def _bounded(stack: Stack) -> Stack:
    """Without its oldest entries where there is too much."""
    left, kept = MAX_BYTES // 2, 0
    for entry in reversed(stack):
        left -= len(json.dumps(to_rows([entry])))
        if left < 0:
            break
        kept += 1
    return stack[len(stack) - kept :]


def _forget_old(folder: Path) -> None:
    """Take what an earlier backwave kept of this out of the log, once it stands here."""
    try:
        held = log.look(folder).sections
        from_rows(held.get("undo", []))
        from_rows(held.get("redo", []))
    except JobError:
        return  # not ours to take out
    if "undo" in held or "redo" in held:
        log.write(folder, {"undo": [], "redo": []})


def _stamp(path: Path) -> tuple[int, int, int]:
    try:
        held = path.stat()
    except OSError:
        return 0, 0, -1
    return held.st_ino, held.st_mtime_ns, held.st_size


def _told(name: str, error: JobError, kept: Path | None) -> str:
    return f"{name}: {error.problems[0].message}.{f' It is kept as {kept.name}.' if kept else ''}"


def _problem(file: str, found: str) -> JobError:
    return job_error(file, "an undo history that backwave did not write", found[:120], "what backwave writes")
