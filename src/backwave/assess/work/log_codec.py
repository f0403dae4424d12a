"""The work's sections of a log as words, and words as rows: what may stand in each, and what is wrong with it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from math import isfinite
from typing import Any

from backwave.errors import InputError, JobError, Problem
from backwave.job.log import Log
from backwave.plan import Record, Word, price
from backwave.plan import merged as merged
from backwave.plan import moment as moment
from backwave.plan import own as own
from backwave.plan import spoken as spoken
from backwave.plan import undone as undone
from backwave.plan.work_state import Done
from backwave.plan.work_state import done_of_record as done_of_record
from backwave.plan.work_state import done_of_words as done_of_words

FILE = "log.toml"
MAX_TEXT = 4000
MAX_ID = 200
MAX_WORD = 32_000  # bytes
MAX_DEPTH = 2  # a list in a word
MAX_NUMBERS = {"count": 999, "clips": 999, "minutes": 7 * 24 * 60}
KEY = re.compile(r"[a-z0-9]{3,16}-[a-z0-9-]{4,32}")
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
HALF = re.compile("[\ud800-\udfff]")
PHOTO = re.compile(r"photos/[A-Za-z0-9_][A-Za-z0-9_.-]{0,80}")
_STAMP: dict[str, type] = {"key": str, "when": str, "by": str, "over": tuple}
KINDS: dict[str, dict[str, type]] = {
    "tick": {"done": bool, "minutes": float}, "gate": {"part": str, "done": bool}, "time": {"part": str, "go": bool},
    "task": {"title": str, "who": str, "minutes": float, "after": tuple, "drop": bool},
    "item": {"have": bool, "price": object},
    "note": {"text": str, "about": str, "place": str, "count": int, "clips": int, "photos": tuple},
    "refit": {"done": bool, "count": int, "clips": int}, "consent": {"given": bool, "who": str, "text": str},
    "back": {"done": bool},
}  # fmt: skip
_NEEDED = {"gate": ("part",), "time": ("part",)}
_SAID_AS = {str: "a text", float: "a number", int: "a whole number", bool: "true or false", tuple: "a list of texts"}


def words_of(log: Mapping[str, Any]) -> tuple[Word, ...]:
    """All that a log says of the work, in the order of time. JobError: rows that cannot be, all of them at once."""
    return merged(_words(log, {}))


def done_of(log: Mapping[str, Any]) -> Done:
    """What a log's sections say of the work. JobError: rows that cannot be, all of them at once."""
    return done_of_words(words_of(log))


class LogWords:
    """The words of one log while it grows: each row is read once."""

    def __init__(self) -> None:
        self._record = Record()
        self._epoch: object = None
        self._seen: dict[str, int] = {}

    def follow(self, log: Log) -> Record:
        """All that the log says of the work by now. JobError: rows that cannot be, all of them at once."""
        if log.epoch is not self._epoch:
            self._record, self._seen = Record(), {}
        self._epoch = None  # begun anew where a row cannot be
        self._record.add(_words(log.sections, self._seen))
        self._epoch = log.epoch
        return self._record


def _words(log: Mapping[str, Any], seen: dict[str, int]) -> list[Word]:
    """The words of the rows after those seen, which are counted."""
    problems: list[Problem] = []
    found = []
    for kind in KINDS:
        rows = log.get(kind, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows[seen.get(kind, 0) :]):
            problems.append(Problem(FILE, None, kind, repr(rows)[:60], f"rows [[{kind}]]", "not a list of rows"))
            continue
        first = seen.get(kind, 0)
        for n, row in enumerate(rows[first:], first):
            word = word_of(kind, row, f"{kind}[{n}]", problems)
            seen[kind] = n + 1
            if word is not None:
                found.append(word)
    if problems:
        raise JobError(tuple(problems))
    return found


def judged(row: Any) -> tuple[Word | None, str]:
    """A word as a phone sends it; none, and the reason, where it cannot be kept."""
    why = _unsound(row)
    if why:
        return None, why
    kind, key, name = row.get("kind"), row.get("key"), row.get("id")
    if not isinstance(kind, str) or kind not in KINDS or not isinstance(key, str) or not KEY.fullmatch(key):
        return None, "not a word of this page"
    if not isinstance(name, str) or not 0 < len(name) <= MAX_ID or not isinstance(row.get("when"), str):
        return None, "not about anything, or without its time"
    problems: list[Problem] = []
    word = word_of(kind, row, kind, problems)
    if problems or word is None:
        return None, "; ".join(f"{p.message}: {p.found}. Accepted: {p.accepted}" for p in problems)
    fields = dict(word.fields)
    for field, most in MAX_NUMBERS.items():
        given = fields.get(field, 0)
        if isinstance(given, int | float) and not 0 <= given <= most:
            return None, f"{field} cannot be: {given}. Accepted: 0 to {most}"
    if kind == "note" and not fields.get("text", "x"):
        return None, "a note without words"
    return word, ""


def _unsound(row: Any) -> str:
    """Why no file should hold it; "" where it may."""
    if not isinstance(row, dict):
        return "not a word of this page"
    left: list[tuple[Any, int]] = [(row, 0)]
    size = 0
    while left:
        value, depth = left.pop()
        if isinstance(value, dict | list):
            if depth >= MAX_DEPTH:
                return f"lists in lists. Accepted: {MAX_DEPTH} deep"
            size += 8 * len(value)
            left += [(one, depth + 1) for one in value]
            left += [(one, depth + 1) for one in value.values()] if isinstance(value, dict) else []
        elif isinstance(value, str):
            if HALF.search(value):
                return "half a letter (a broken emoji, for example). Accepted: whole letters; write it once more"
            if CONTROL.search(value):
                return "a control character. Accepted: letters, signs, line breaks"
            size += len(value.encode())
        elif isinstance(value, int) and abs(value) >= 2**53:
            return "a number with too many digits. Accepted: up to 15 digits"
        size += 8
        if size > MAX_WORD:
            return f"too long. Accepted: {MAX_WORD} bytes"
    return ""


def word_of(kind: str, row: Mapping[str, Any], key: str, problems: list[Problem]) -> Word | None:
    """One row as a word; None, with its problem, where it cannot be.  Keys it does not know are another's."""
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
            problems.append(Problem(FILE, None, f"{key}.{name}", str(error.found)[:60], error.accepted, error.what))
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
    whole = isinstance(given, int) and not isinstance(given, bool) and abs(given) < 2**63
    return whole or (isinstance(given, float) and isfinite(given))


def _text(given: str) -> str:
    if len(given) > MAX_TEXT:
        raise InputError("too long", f"{len(given)} letters", f"at most {MAX_TEXT}")
    return given


def rows_of(word: Word) -> dict[str, Any]:
    """A word as a row of its section."""
    row: dict[str, Any] = {"id": word.id} | ({"part": word.part} if word.part else {})
    row |= {name: list(value) if isinstance(value, tuple) else value for name, value in word.fields}
    row |= {"when": word.when, "by": word.by, "key": word.key, "over": list(word.over)}
    return {name: value for name, value in row.items() if value not in ("", [])}


def added(log: Mapping[str, Any], words: Iterable[Word]) -> list[tuple[str, dict[str, Any]]]:
    """Words as rows for `backwave.job.log.add`; those that a log has already are not added again."""
    known = {word.key for word in words_of(log)}
    return [(word.kind, rows_of(word)) for word in merged(words) if word.key not in known]
