"""What a person wants changed in the text of a job, tried; and taken back, to the letter or by its keys.

A step keeps two things: the letters it replaced, for a text that is just as the step left it, and the key with its
old and new value, for a text that somebody edited in between.  By key it is done only where what stands there is
what the step saw; anything else is refused.  In the same way what was done here is done on a text that somebody
else has changed meanwhile."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any

from backwave.errors import InputError, JobError, Problem, job_error
from backwave.job.load import FILE, Job, loads
from backwave.job.toml_edit import splice, with_row, with_value, without_row
from backwave.job.toml_spans import (
    NOTHING,
    KeyPath,
    at,
    block,
    found_at,
    key_name,
    lines_of,
    path_of,
    toml_value,
    typed,
    written,
)


@dataclass(frozen=True)
class Step:
    """One key, or one row of a table such as [[opening]], changed."""

    key: str  # the key, tables by their id; for a row the table's name
    row: bool
    old: str | None  # the value in TOML, or the row's lines; None where there was none
    new: str | None
    # digest of what stood there, and stands there; of the whole row where the key counts rows without ids
    was: str
    now: str
    place: int  # where in the text, in characters
    before: str  # the letters that went, and that came
    after: str

    def mirrored(self) -> Step:
        """The step back."""
        return Step(self.key, self.row, self.new, self.old, self.now, self.was, self.place, self.after, self.before)


@dataclass(frozen=True)
class Entry:
    """What one action of a person did."""

    label: str
    steps: tuple[Step, ...]  # in the order they were done
    start: str  # digests of the whole text before and after
    end: str

    def mirrored(self) -> Entry:
        """The way back."""
        return Entry(self.label, tuple(s.mirrored() for s in reversed(self.steps)), self.end, self.start)


@dataclass(frozen=True)
class Conflict:
    """The same thing was changed here and outside, and neither is lost yet."""

    keys: tuple[str, ...]  # what was changed here and does not go with the file as it is outside
    mine: str
    theirs: str


@dataclass(frozen=True)
class Merged:
    """Both hands' work in one text."""

    text: str
    job: Job
    done: tuple[Entry, ...]  # what was done here, as it was done again on theirs


def digest(text: str) -> str:
    """Of a text."""
    return blake2b(text.encode(), digest_size=16).hexdigest()


def entry(label: str, before: str, after: str, steps: Iterable[Step]) -> Entry:
    """An entry of the undo history."""
    steps = tuple(steps)
    return Entry(label or _label(steps), steps, digest(before), digest(after))


def redone(text: str, entry_: Entry) -> tuple[str, Entry]:
    """Do an entry once more: to the letter where the text is as the entry found it, by its keys where it is not.
    Returns Entry: the new text, and the entry as it was done here; InputError: what stands there now is not what the
    entry saw; nothing fits any more."""
    new, steps = text, []
    if digest(text) == entry_.start:
        for step in entry_.steps:
            new = new[: step.place] + step.after + new[step.place + len(step.before) :]
        if digest(new) == entry_.end:  # the very text that was there, and was read then
            return new, entry_
        new = text
    for step in entry_.steps:
        new, done = _by_key(new, step)
        steps.append(done)
    return new, entry(entry_.label, text, new, steps)


def put(text: str, path: KeyPath, value: Any) -> tuple[str, Step]:
    """Set one key, take it out where the value is None, or add or take out one item of a list. `path`: keys and
    positions from the top; the position one past a list's end adds to it; InputError: no such place, or one that has to
    be changed by hand."""
    data = lines_of(text).data
    items = found_at(data, path[:-1])
    whole = path
    if isinstance(items, list) and isinstance(path[-1], int) and (value is None or path[-1] == len(items)):
        whole = path[:-1]  # the list is what changes
    new = with_value(text, path, value)
    after = lines_of(new).data
    was, now = _seen(_holder(data, whole)), _seen(_holder(after, whole))
    old, came = _value(data, whole), _value(after, whole)
    return new, Step(key_name(whole, data), False, old, came, was, now, *splice(text, new))


def append(text: str, table: str, values: Mapping[str, Any] | str) -> tuple[str, Step]:
    """Add a row such as [[opening]], after the last of its kind. InputError: the table's rows do not stand under
    headers."""
    lines = values if isinstance(values, str) else block(table, values)
    new = with_row(text, table, lines)
    row = lines_of(new).data[table][-1]
    return new, Step(table, True, None, lines, "", _seen(row), *splice(text, new))


def remove(text: str, path: KeyPath) -> tuple[str, Step]:
    """Take out a row such as [[opening]]. InputError: no such row, or one that is not under a header."""
    new, lines = without_row(text, path)
    row = found_at(lines_of(text).data, path)
    return new, Step(str(path[0]), True, lines, None, _seen(row), "", *splice(text, new))


def merged(mine: str, theirs: str, pending: Sequence[Entry], folder: Path) -> Merged | Conflict:
    """Do what was done here on the file as it is outside."""
    text, done = theirs, list[Entry]()
    try:
        for what in pending:
            text, again = redone(text, what)
            done.append(again)
        return Merged(text, loads(text, folder), tuple(done))
    except InputError as error:
        keys = [p.key for p in error.problems] if isinstance(error, JobError) else [str(error.found)]
        return conflict(mine, theirs, pending, keys)


def conflict(mine: str, theirs: str, pending: Iterable[Entry], keys: Iterable[str] = ()) -> Conflict:
    """Both texts, and what they differ about: all that was done here, where nothing is known more closely."""
    own = (step.key for entry in pending for step in entry.steps)
    return Conflict(tuple(keys) or tuple(dict.fromkeys(own)), mine, theirs)


def spoken(pending: Iterable[Entry]) -> tuple[str, ...]:
    """What was done, to be entered again by hand: each key once, with the value it was given last."""
    keys: dict[str, str] = {}
    rows = []
    for step in (step for what in pending for step in what.steps):
        if step.row:
            words = "taken out" if step.new is None else "added"
            lines = " | ".join((step.new or step.old or "").strip().splitlines())
            rows.append(f"a row {words}: {lines}")
        else:
            keys[step.key] = f"{step.key} taken out" if step.new is None else f"{step.key} = {step.new}"
    return (*keys.values(), *rows)


def missed(
    seen: Mapping[KeyPath, str], now: Job, after: Job, before: Sequence[tuple[str, Job]]
) -> tuple[str, Job] | None:
    """What a person typed over, where the file was given another value outside before that came here; None: nothing."""

    def says(job: Job, path: KeyPath) -> str:
        return "" if job.lines is None else written(at(job.lines.data, path))

    for path, held in seen.items():
        here = says(now, path)
        if here != held and here == says(after, path):
            return next((one for one in reversed(before) if says(one[1], path) == held), None)
    return None


def problems_of(error: InputError | OSError) -> tuple[Problem, ...]:
    """What an error says about the job file."""
    if isinstance(error, JobError):
        return error.problems
    if isinstance(error, InputError):
        return (Problem(FILE, None, "", str(error.found), error.accepted, error.what),)
    return (Problem(FILE, None, "", error.strerror or str(error), "a file that may be read", "cannot be read"),)


def _by_key(text: str, step: Step) -> tuple[str, Step]:
    """A step done on a text that has moved on, if what it saw is still there."""
    gone = InputError("edited elsewhere since", step.key, "what stood there when it was changed here")
    data = lines_of(text).data
    if not step.row:
        path = path_of(data, step.key)
        if path is None or _seen(_holder(data, path)) != step.was:
            raise gone
        return put(text, path, None if step.new is None else tomllib.loads(f"v = {step.new}")["v"])
    if step.new is not None:
        return append(text, step.key, step.new)
    found = [i for i, row in enumerate(data.get(step.key, [])) if _seen(row) == step.was]
    if len(found) != 1:
        raise gone
    return remove(text, (step.key, found[0]))


def _holder(data: Any, path: KeyPath) -> Any:
    """What has to be unchanged for a step to be done again: the value, or the first row on its way without an id."""
    for depth, step in enumerate(path):
        if isinstance(step, int):
            row = at(data, path[: depth + 1])
            if not (isinstance(row, dict) and isinstance(row.get("id"), str)):
                return found_at(data, path[: depth + 1])
    return found_at(data, path)


def _seen(value: Any) -> str:
    return "" if value is NOTHING else digest(json.dumps(value, default=str, sort_keys=True))[:16]


def _value(data: Any, path: KeyPath) -> str | None:
    found = found_at(data, path)
    return None if found is NOTHING else toml_value(found)


def _label(steps: tuple[Step, ...]) -> str:
    words = []
    for step in steps:
        if step.row:
            words.append(f"{step.key} {'added' if step.old is None else 'taken out'}")
        elif step.old is None or step.new is None:
            words.append(f"{step.key} {'set to ' + (step.new or '') if step.old is None else 'taken out'}")
        else:
            words.append(f"{step.key}: {step.old} to {step.new}")
    first = words[0] if words else ""
    first = first if len(first) <= 100 else first[:97] + "..."
    return first + (f" and {len(words) - 1} more" if len(words) > 1 else "")


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
    """The text, the job and the entry for undo after some changes; None where they change nothing. A value that was
    typed is taken in the sense that its field takes: 3 the number, or "3" the text. `before`: the text as it was read:
    what is not touched is not read again; JobError: everything wrong with it."""
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
                raise job_error(FILE, error.what, found, error.accepted, key=key) from None
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
