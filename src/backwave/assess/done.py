"""What the log says of the work: ticks, tasks of one's own, what is there already, prices, notes of the teardown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from math import isfinite
from typing import Any

from backwave.errors import InputError, JobError, Problem
from backwave.plan import Edit, price

__all__ = ["Done", "Edit", "Note", "Tick", "done_of", "price", "sections_of"]

_FILE = "log.toml"


@dataclass(frozen=True)
class Tick:
    """A task that was done, or taken up again.

    Parameters
    ----------
    id : str, no unit
        The task.
    done : bool, no unit
        Whether it is.
    when : str, no unit
        When it was said, as a date and time.
    minutes : float or None, min
        How long it took.
    """

    id: str
    done: bool = True
    when: str = ""
    minutes: float | None = None


@dataclass(frozen=True)
class Note:
    """Something written down on the way, such as how a trim came off.

    Parameters
    ----------
    text, when, place : str, no unit
        What, when, and where ("" for anywhere).
    count : int or None, no unit
        Screws or clips that came out, to go back in.
    """

    text: str
    when: str = ""
    place: str = ""
    count: int | None = None


@dataclass(frozen=True)
class Done:
    """What the log says of the work.

    Parameters
    ----------
    ticks : mapping of task id to Tick, no unit
        The last word on each.
    edits : tuple of Edit, no unit
        Changed tasks and tasks of one's own.
    have : frozenset of str, no unit
        Ids of shopping rows that are there already.
    prices : mapping of str to float, no unit
        Prices by shopping row.
    notes : tuple of Note, no unit
        In the order they were written.
    """

    ticks: Mapping[str, Tick] = field(default_factory=dict)
    edits: tuple[Edit, ...] = ()
    have: frozenset[str] = frozenset()
    prices: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()


def done_of(log: Mapping[str, Any]) -> Done:
    """What a log's sections say of the work.

    Parameters
    ----------
    log : mapping of str to object, no unit
        As `backwave.job.log.read` gives it.

    Raises
    ------
    JobError
        Rows that cannot be, all of them at once.
    """
    problems: list[Problem] = []
    ticks: dict[str, Tick] = {}
    for key, row in _rows(log, "tick", problems):
        tick = _take(key, row, {"id": str, "done": bool, "when": str, "minutes": float}, ("id",), problems)
        if tick is not None:
            ticks[tick["id"]] = Tick(**tick)
    edits = []
    for key, row in _rows(log, "task", problems):
        kinds = {"id": str, "title": str, "who": str, "minutes": float, "after": tuple, "drop": bool}
        edit = _take(key, row, kinds, ("id",), problems)
        if edit is not None:
            edits.append(Edit(**edit))
    have: set[str] = set()
    prices: dict[str, float] = {}
    for key, row in _rows(log, "item", problems):
        item = _take(key, row, {"id": str, "have": bool, "price": object}, ("id",), problems)
        if item is None:
            continue
        if item.get("have"):
            have.add(item["id"])
        if "price" in item:
            try:
                given = item["price"]
                prices[item["id"]] = price(given if isinstance(given, str) else f"{_number(given):.4f}")
            except InputError as error:
                found = str(error.found)
                problems.append(Problem(_FILE, None, f"{key}.price", found, error.accepted, error.what))
    notes = []
    for key, row in _rows(log, "note", problems):
        note = _take(key, row, {"text": str, "when": str, "place": str, "count": int}, ("text",), problems)
        if note is not None:
            notes.append(Note(**note))
    if problems:
        raise JobError(tuple(problems))
    return Done(ticks, tuple(edits), frozenset(have), prices, tuple(notes))


def _number(given: object) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not isfinite(given):
        raise InputError("not a price", given, "a number alone, such as 3.50")
    return float(given)


def _rows(log: Mapping[str, Any], name: str, problems: list[Problem]) -> list[tuple[str, dict[str, Any]]]:
    rows = log.get(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        problems.append(Problem(_FILE, None, name, repr(rows)[:60], f"rows [[{name}]]", "not a list of rows"))
        return []
    return [(f"{name}[{n}]", row) for n, row in enumerate(rows)]


def _take(
    key: str, row: dict[str, Any], kinds: Mapping[str, type], needed: tuple[str, ...], problems: list[Problem]
) -> dict[str, Any] | None:
    """The known keys of a row; other keys are another capability's and are left alone."""
    found: dict[str, Any] = {}
    for name, kind in kinds.items():
        if name not in row:
            if name in needed:
                problems.append(Problem(_FILE, None, f"{key}.{name}", "nothing", "a text", "a row without it"))
                return None
            continue
        value = row[name]
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        if kind is tuple and isinstance(value, list) and all(isinstance(v, str) for v in value):
            value = tuple(value)
        if name == "when" and not isinstance(value, str):
            value = str(value)
        if not isinstance(value, kind) or (kind is not object and kind is not bool and isinstance(value, bool)):
            problems.append(Problem(_FILE, None, f"{key}.{name}", repr(value)[:60], kind.__name__, "cannot be"))
            return None
        found[name] = value
    return found


def sections_of(log: Mapping[str, Any], change: Tick | Edit | Note) -> dict[str, Any]:
    """A log's section with one more word in it, ready for `backwave.job.log.write`.

    Parameters
    ----------
    log : mapping of str to object, no unit
        As it stands.
    change : Tick, Edit or Note, no unit
        A tick or a change replaces the one of the same id; a note is added.
    """
    name = {Tick: "tick", Edit: "task", Note: "note"}[type(change)]
    row = {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(change).items() if v is not None}
    rows = [r for r in log.get(name, []) if isinstance(change, Note) or r.get("id") != row["id"]]
    return {name: [*rows, row]}
