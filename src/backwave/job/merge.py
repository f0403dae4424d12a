"""What was done here and what was done to the file outside, brought together key by key, or asked about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from backwave.errors import InputError, JobError, Problem
from backwave.job.edits import written
from backwave.job.load import FILE, Job, loads
from backwave.job.toml_spans import KeyPath, at
from backwave.job.undo import Entry, redone

__all__ = ["Conflict", "Merged", "conflict", "merged", "missed", "problems_of"]


@dataclass(frozen=True)
class Conflict:
    """The same thing was changed here and outside, and neither is lost yet.

    Parameters
    ----------
    keys : tuple of str, no unit
        What was changed here and does not go with the file as it is outside.
    mine, theirs : str, no unit
        The two texts.
    """

    keys: tuple[str, ...]
    mine: str
    theirs: str


@dataclass(frozen=True)
class Merged:
    """Both hands' work in one text.

    Parameters
    ----------
    text : str, no unit
        The job file.
    job : Job, no unit
        As it was read.
    done : tuple of Entry, no unit
        What was done here, as it was done again on theirs.
    """

    text: str
    job: Job
    done: tuple[Entry, ...]


def merged(mine: str, theirs: str, pending: Sequence[Entry], folder: Path) -> Merged | Conflict:
    """Do what was done here on the file as it is outside.

    Parameters
    ----------
    mine, theirs : str, no unit
        The two texts.
    pending : sequence of Entry, no unit
        What was done here, the oldest first.
    folder : Path, no unit
        The job folder.
    """
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
    """Both texts, and what they differ about: all that was done here, where nothing is known more closely.

    Parameters
    ----------
    mine, theirs, pending : as for `merged`, no unit
        The two texts, and what was done here.
    keys : iterable of str, no unit
        What does not go together.
    """
    own = (step.key for entry in pending for step in entry.steps)
    return Conflict(tuple(keys) or tuple(dict.fromkeys(own)), mine, theirs)


def missed(
    seen: Mapping[KeyPath, str], now: Job, after: Job, before: Sequence[tuple[str, Job]]
) -> tuple[str, Job] | None:
    """What a person typed over, where the file was given another value outside before that came here; None: nothing.

    Parameters
    ----------
    seen : mapping of path to str, no unit
        What they saw there.
    now : Job, no unit
        The job as it is.
    after : Job, no unit
        As it came in with the last outside edit.
    before : sequence of (str, Job), no unit
        As it was before each of them, the oldest first.
    """

    def says(job: Job, path: KeyPath) -> str:
        return "" if job.lines is None else written(at(job.lines.data, path))

    for path, held in seen.items():
        here = says(now, path)
        if here != held and here == says(after, path):
            return next((one for one in reversed(before) if says(one[1], path) == held), None)
    return None


def problems_of(error: InputError | OSError) -> tuple[Problem, ...]:
    """What an error says about the job file.

    Parameters
    ----------
    error : InputError or OSError, no unit
        As it was raised.
    """
    if isinstance(error, JobError):
        return error.problems
    if isinstance(error, InputError):
        return (Problem(FILE, None, "", str(error.found), error.accepted, error.what),)
    return (Problem(FILE, None, "", error.strerror or str(error), "a file that may be read", "cannot be read"),)
