"""What a person wants changed, tried on a text: done and right, or everything wrong with it and nothing changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from backwave.errors import InputError, JobError, Problem
from backwave.job.load import FILE, Job, loads
from backwave.job.toml_format import typed
from backwave.job.toml_spans import KeyPath, key_name, lines_of
from backwave.job.undo import Entry, Step, append, entry, put, remove


@dataclass(frozen=True)
class Put:
    """Set a key."""

    # keys and positions from the top: ("opening", 0, "trim", "clear"); one past a list's end adds to it
    path: KeyPath
    # what was typed ("71 ± 1 mm", "3", "true"), a number, list or table, or None to take the key out
    written: Any


@dataclass(frozen=True)
class Append:
    """Add a row such as [[opening]]."""

    name: str
    values: Mapping[str, Any] | str  # its keys, or its lines as they shall stand in the file


@dataclass(frozen=True)
class Remove:
    """Take out a row such as [[opening]]."""

    path: KeyPath  # (str, int), the table's name and the row's position


Change = Put | Append | Remove | tuple[KeyPath, Any]


def tried(
    text: str, folder: Path, wanted: Iterable[Change], label: str, before: Job | None = None
) -> tuple[str, Job, Entry] | None:
    """The text, the job and the entry for undo after some changes; None where they change nothing.

    A value that was typed is taken in the sense that its field takes: 3 the number, or "3" the text.

    `before`: the text as it was read: what is not touched is not read again; JobError: everything wrong with it.
    """
    changes = [Put(tuple(c[0]), c[1]) if isinstance(c, tuple) else c for c in wanted]
    choice = [0] * len(changes)
    first: JobError | None = None
    while True:
        new, steps, keys = text, [], []
        for change, n in zip(changes, choice):
            data = lines_of(new).data
            keys.append("" if isinstance(change, Append) else key_name(change.path, data))
            try:
                new, step = _one(new, change, n)
            except JobError:
                raise
            except InputError as error:
                found, key = str(error.found), keys[-1] or getattr(change, "name", "")
                raise JobError((Problem(FILE, None, key, found, error.accepted, error.what),)) from None
            steps.append(step)
        if new == text:
            return None
        try:
            return new, loads(new, folder, before), entry(label, text, new, steps)
        except JobError as error:
            first = first or error
            wrong = {p.key for p in error.problems}
            other = [
                i
                for i, (c, key) in enumerate(zip(changes, keys))
                if isinstance(c, Put)
                and isinstance(c.written, str)
                and choice[i] + 1 < len(typed(c.written))
                and any(w == key or w.startswith((key + ".", key + "[")) or key.startswith(w) for w in wrong)
            ]
            if not other:
                raise first from None
            for i in other:
                choice[i] += 1


def _one(text: str, change: Put | Append | Remove, n: int) -> tuple[str, Step]:
    if isinstance(change, Append):
        return append(text, change.name, change.values)
    if isinstance(change, Remove):
        return remove(text, change.path)
    if not change.path:
        raise InputError("no key", "", "a key with its value")
    if change.written is None and len(change.path) == 2 and isinstance(change.path[1], int):
        lines = lines_of(text)
        if lines.value(change.path) is None and isinstance(lines.data.get(str(change.path[0])), list):
            return remove(text, change.path)
    value = typed(change.written)[n] if isinstance(change.written, str) else change.written
    return put(text, change.path, value)
