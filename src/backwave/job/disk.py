"""The job file on disk, and the one way to change it; older editions brought to this one; who else has it open.

What is to be written is read by the standard library and has to say what the job holds; it is written under the
job's lock, and only over what was read before; the old file stays whole until the new one is."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import time
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from backwave.atomic_write import alive, aside, here, job_lock, write_if_unchanged, write_whole
from backwave.errors import InputError, JobError, Problem, job_error
from backwave.job.load import FILE, Job, edition_of, loads, migrated, read_text
from backwave.job.model import FORMAT
from backwave.job.toml_edit import with_key, with_value
from backwave.job.toml_spans import KeyPath, found_at, key_name, lines_of, path_of, same

_TRIES = 5
_BOM = b"\xef\xbb\xbf"


def write(folder: Path, text: str, data: dict[str, Any], seen: str | bytes | None) -> bool:
    """Write the job file over what was read, and over nothing else; to be called with the job's lock. Returns false:
    somebody else has written the file since; it is as they left it; InputError: the text does not say what it should:
    nothing was written; OSError: it could not be written; the old file is there."""
    try:
        new = text.encode()
        right = same(tomllib.loads(text), data)
    except (ValueError, RecursionError):
        right = False
    if not right:
        raise InputError("what would be written is not what the job holds", FILE, "the file edited by hand")
    path = folder / FILE
    now = path.read_bytes() if path.exists() else None
    if isinstance(seen, str):
        if now is None or now.removeprefix(_BOM) != seen.encode():
            return False
        seen = now
    bom = _BOM if seen is not None and seen.startswith(_BOM) else b""

    def keep(theirs: bytes) -> None:
        write_whole(aside(path, "theirs"), theirs)

    return write_if_unchanged(path, bom + new, seen, keep)


def create(folder: Path, text: str) -> bool:
    """Write a new job file; False: there is one by now, which stays."""
    with job_lock(folder):
        return write(folder, text, lines_of(text).data, None)


def save(folder: Path, text: str) -> None:
    """Write a whole job file, whatever stands there. JobError: A text that is no TOML, or a file that somebody writes
    all the time."""
    data, path = lines_of(text).data, folder / FILE
    with job_lock(folder):
        for _ in range(_TRIES):
            if write(folder, text, data, path.read_bytes() if path.exists() else None):
                return
    raise _busy()


def update(folder: Path, changes: Iterable[tuple[str | KeyPath, Any]], on: Job | None = None) -> Job:
    """Set keys of a job on disk, all of them or none, if the job is right afterwards. `changes`: as for `with_value`,
    in order; a key such as "opening.front-door.skin" is found by its ids; `on`: the job as it was read when the values
    were worked out: where somebody has given one of these keys another value since, nothing is written; what else they
    changed stays; JobError: the job would be wrong, or a key was edited meanwhile: nothing was written."""
    changes = list(changes)
    before = read_text(folder)
    text, job = _changed(folder, before, changes, on)  # all that takes long, while others may still write
    with job_lock(folder):
        for _ in range(_TRIES):
            now = read_text(folder)
            if now != before:
                before = now
                text, job = _changed(folder, before, changes, on)
            keep_older(folder, before)
            if text == before or write(folder, text, lines_of(text).data, before):
                return job
    raise _busy()


def _changed(folder: Path, before: str, changes: list[tuple[str | KeyPath, Any]], on: Job | None) -> tuple[str, Job]:
    """The text after some changes, and the job as it then is."""
    edition_of(before)
    text = migrated(before)
    _unmoved(changes, on, lines_of(text).data)
    for where, value in changes:
        text = with_key(text, where, value) if isinstance(where, str) else with_value(text, where, value)
    return text, loads(text, folder)


def _unmoved(changes: list[tuple[str | KeyPath, Any]], on: Job | None, now: dict[str, Any]) -> None:
    """Refuse to write over what somebody else has changed since the job was read."""
    if on is None or on.lines is None:
        return
    was, problems = on.lines.data, []
    for where, value in changes:
        path = path_of(was, where) if isinstance(where, str) else where
        name = where if path is None else key_name(path, was)
        there = path_of(now, str(name))
        old, new = found_at(was, path or ()), found_at(now, there or ())
        if not same(old, new) and not same(new, value):
            problems.append(
                Problem(
                    FILE, None, str(name), repr(new)[:80], "the same command once more", "edited elsewhere meanwhile"
                )
            )
    if problems:
        raise JobError(tuple(problems))


def refuse_moved(folder: Path, changes: Iterable[tuple[str | KeyPath, Any]], on: Job) -> None:
    """Refuse to change keys of a job on disk that somebody has given another value since it was read. JobError: every
    key that was edited meanwhile; or the file is not readable now."""
    _unmoved(list(changes), on, lines_of(migrated(read_text(folder))).data)


def keep_older(folder: Path, text: str) -> None:
    """Keep the file beside itself if it is of an older edition."""
    edition = edition_of(text)
    if edition < FORMAT:
        write_whole(folder / f"{FILE}.format{edition}", text.encode())


def _busy() -> JobError:
    return job_error(FILE, "somebody else is writing this file; nothing was written", "", "the same once more")


STALE_S = 180.0
RENEW_S = 60.0


class Presence:
    """One workbench of a job."""

    def __init__(self, folder: Path, port: int) -> None:
        self._open = folder / "made" / ".cache" / "open"
        self._own = self._open / f"{here()}-{os.getpid()}.json"
        self._port = port
        self._renewed = -RENEW_S

    def look(self) -> tuple[str, ...]:
        """Renew the own file and tell of the others, in words; in a folder that may not be written, only that."""
        with contextlib.suppress(OSError):
            if time.monotonic() - self._renewed >= RENEW_S:
                said = {"host": socket.gethostname(), "pid": os.getpid(), "port": self._port}
                write_whole(self._own, json.dumps(said).encode())
                self._renewed = time.monotonic()
        return tuple(filter(None, (_said(path) for path in sorted(self._open.glob("*.json")) if path != self._own)))

    def end(self) -> None:
        """It is closed."""
        with contextlib.suppress(OSError):
            self._own.unlink(missing_ok=True)


def _said(path: Path) -> str:
    """What one file says; "" for a workbench that is gone, whose file goes as well."""
    try:
        held = json.loads(path.read_bytes())
        host, pid, port = str(held["host"]), int(held["pid"]), int(held["port"])
        age_s = time.time() - path.stat().st_mtime
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    near = path.name.startswith(f"{here()}-")
    if age_s > STALE_S or (near and not alive(pid)):
        with contextlib.suppress(OSError):
            path.unlink()
        return ""
    where = f"http://127.0.0.1:{port}/ on this machine" if near else f"on {host[:60]}"
    return f"This job is open in another workbench too, {where} (process {pid}). Where both change the same thing, you are asked."
