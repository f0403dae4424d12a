"""The work's sections of a log as words, and words as rows: what may stand in each, and what is wrong with it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from math import isfinite
from typing import Any

from backwave.errors import InputError, JobError, Problem
from backwave.plan import Word, again, device, merged, moment, own, price, said, spoken, undone

__all__ = [
    "KINDS",
    "MOST_TEXT",
    "Word",
    "again",
    "device",
    "merged",
    "moment",
    "own",
    "price",
    "rows_of",
    "said",
    "sections",
    "spoken",
    "undone",
    "word_of",
    "words_of",
]

FILE = "log.toml"
MOST_TEXT = 4000
PHOTO = re.compile(r"photos/[A-Za-z0-9_][A-Za-z0-9_.-]{0,80}")
_STAMP: dict[str, type] = {"key": str, "when": str, "by": str, "over": tuple}
KINDS: dict[str, dict[str, type]] = {
    "tick": {"done": bool, "minutes": float},
    "gate": {"part": str, "done": bool},
    "time": {"part": str, "go": bool},
    "task": {"title": str, "who": str, "minutes": float, "after": tuple, "drop": bool},
    "item": {"have": bool, "price": object},
    "note": {"text": str, "about": str, "place": str, "count": int, "clips": int, "photos": tuple},
    "refit": {"done": bool, "count": int, "clips": int},
    "consent": {"given": bool, "who": str, "text": str},
    "back": {"done": bool},
}
_NEEDED = {"gate": ("part",), "time": ("part",)}
_SAID_AS = {
    str: "a text",
    float: "a number",
    int: "a whole number",
    bool: "true or false",
    tuple: "a list of texts",
}


def words_of(log: Mapping[str, Any]) -> tuple[Word, ...]:
    """All that a log says of the work, in the order of time.

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
    found = []
    for kind in KINDS:
        rows = log.get(kind, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            problems.append(Problem(FILE, None, kind, repr(rows)[:60], f"rows [[{kind}]]", "not a list of rows"))
            continue
        for n, row in enumerate(rows):
            word = word_of(kind, row, f"{kind}[{n}]", problems)
            if word is not None:
                found.append(word)
    if problems:
        raise JobError(tuple(problems))
    return merged(found)


def word_of(kind: str, row: Mapping[str, Any], key: str, problems: list[Problem]) -> Word | None:
    """One row as a word; None, with its problem, where it cannot be.  Keys it does not know are another's.

    Parameters
    ----------
    kind : str, no unit
        One of `KINDS`.
    row : mapping of str to object, no unit
        The row.
    key : str, no unit
        Where it stands, for its problem.
    problems : list of Problem, no unit
        Added to.
    """
    digest = hashlib.sha256(json.dumps(row, sort_keys=True, default=str).encode()).hexdigest()[:12]
    row = {"id": f"n-{digest}"} | dict(row) if kind == "note" and "text" in row else row
    found: dict[str, Any] = {}
    for name, wanted in ({"id": str} | _STAMP | KINDS[kind]).items():
        if name not in row:
            if name in ("id", *_NEEDED.get(kind, ())):
                problems.append(Problem(FILE, None, f"{key}.{name}", "nothing", "a text", "a row without it"))
                return None
            continue
        try:
            found[name] = _value(row[name], wanted, name)
        except InputError as error:
            problems.append(
                Problem(FILE, None, f"{key}.{name}", str(error.found)[:60], error.accepted, error.what)
            )
            return None
    fields = tuple((n, found[n]) for n in KINDS[kind] if n in found and n != "part")
    if not fields and kind in ("tick", "gate", "refit", "back"):
        fields = (("done", True),)
    return Word(
        kind, found["id"], found.get("key", f"log-{digest}"), fields, found.get("part", ""), found.get("when", ""),
        found.get("by", ""), found.get("over", ()),
    )  # fmt: skip


def _value(given: Any, wanted: type, name: str) -> Any:
    if name == "price":
        text = given if isinstance(given, str) else f"{given:.4f}" if _number(given) else str(given)
        return price(text)
    if name == "photos" and isinstance(given, list | tuple):
        wrong = [path for path in given if not isinstance(path, str) or not PHOTO.fullmatch(path)]
        if wrong:
            raise InputError("no picture of this job", str(wrong[0]), "photos/ and a file's name")
    if name == "when" and not isinstance(given, str):
        given = str(given)
    if wanted is float and _number(given):
        return float(given)
    if wanted is tuple and isinstance(given, list | tuple) and all(isinstance(v, str) for v in given):
        return tuple(_text(v) for v in given)
    if not isinstance(given, wanted) or (wanted is not bool and isinstance(given, bool)) or wanted is float:
        raise InputError("cannot be", repr(given), _SAID_AS[wanted])
    return _text(given) if isinstance(given, str) else given


def _number(given: Any) -> bool:
    return isinstance(given, int | float) and not isinstance(given, bool) and isfinite(given)


def _text(given: str) -> str:
    if len(given) > MOST_TEXT:
        raise InputError("too long", f"{len(given)} letters", f"at most {MOST_TEXT}")
    return given


def rows_of(word: Word) -> dict[str, Any]:
    """A word as a row of its section.

    Parameters
    ----------
    word : Word, no unit
        The word.
    """
    row: dict[str, Any] = {"id": word.id} | ({"part": word.part} if word.part else {})
    row |= {name: list(value) if isinstance(value, tuple) else value for name, value in word.fields}
    row |= {"when": word.when, "by": word.by, "key": word.key, "over": list(word.over)}
    return {name: value for name, value in row.items() if value not in ("", [])}


def sections(log: Mapping[str, Any], words: Iterable[Word]) -> dict[str, Any]:
    """A log's sections with more words in them, ready for `backwave.job.log.write`; words it has are not added again.

    Parameters
    ----------
    log : mapping of str to object, no unit
        As it stands.
    words : iterable of Word, no unit
        What was said.
    """
    known = {word.key for word in words_of(log)}
    found: dict[str, Any] = {}
    for word in merged(words):
        if word.key not in known:
            rows = found.setdefault(word.kind, list(log.get(word.kind, [])))
            rows.append(rows_of(word))
    return found
