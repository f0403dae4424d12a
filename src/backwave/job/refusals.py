"""What is wrong with a job file by itself, in a person's words: raw content that no table may hold, and what the model refuses."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date, time
from difflib import get_close_matches
from math import isfinite
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from backwave.errors import InputError, Problem, QuantityError
from backwave.job.fields import MAX_POINTS, MAX_ROWS, keys_of, table_in
from backwave.job.model import JobFile
from backwave.job.toml_spans import KeyPath
from backwave.plain_text import plain_text

Fault = tuple[KeyPath, str, object, str]

_MAX_NUMBER = 1e15
_NOTES = ("note",)  # keys whose text may have several lines
_REFUSED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)
_BREAKS = "\n\v\f\r\x85\u2028\u2029"


def letters_refused(text: str, *, several_lines: bool = False) -> str:
    """What a text holds that no name, title or path may, in words; "" where it holds nothing of that kind. Control
    characters reach terminals and files as commands, a line break ends a record there, characters that turn the
    direction of writing show another name than is meant, and half a character cannot be saved at all."""
    for found in _REFUSED.finditer(text):
        letter = found[0]
        if several_lines and letter in "\n\t":
            continue
        if letter in _BREAKS:
            kind = "a line break"
        elif letter == "\t":
            kind = "a tab"
        elif "\u202a" <= letter <= "\u2069":
            kind = "a character that turns the direction of writing"
        elif "\ud800" <= letter <= "\udfff":
            kind = "half a character"
        else:
            kind = "a control character"
        return f"{kind} (U+{ord(letter):04X})"
    return ""


def raw_faults(node: Any, max_points: int = MAX_POINTS, path: KeyPath = ()) -> Iterator[Fault]:
    """Everything of that kind in the content of a file. `node`: what was parsed; anything that is not a table, list,
    text or number is passed over."""
    if isinstance(node, dict):
        if len(node) > MAX_ROWS:
            yield path, "too many keys in one table", f"{len(node):,}", f"up to {MAX_ROWS}"
            return
        for key, item in node.items():
            if wrong := letters_refused(key):
                yield (*path, key), f"{wrong} in a key", key, "letters, digits, - and _"
            yield from raw_faults(item, max_points, (*path, key))
    elif isinstance(node, list):
        # lists of lists are points: an outline, a curve
        limit = max_points if node and isinstance(node[0], list) else MAX_ROWS
        if len(node) > limit:
            yield path, "too long a list", f"{len(node):,}", f"up to {limit:,}"
            return
        for i, item in enumerate(node):
            yield from raw_faults(item, max_points, (*path, i))
    elif isinstance(node, str):
        if wrong := letters_refused(node, several_lines=path[-1] in _NOTES):
            yield path, wrong, node, "letters, digits, spaces and signs, in one line"
    elif isinstance(node, float) and not isfinite(node):
        yield path, "not a finite number", node, "a finite number"
    elif isinstance(node, (int, float)) and abs(node) > _MAX_NUMBER:
        yield path, "too large a number", node, "a number of the trade"


def shown(value: object) -> str:
    """A value of a file as a person wrote it, cut short and in one line."""
    text = plain_text(_written(value, 4) if not isinstance(value, str) else value[:200])
    return text if len(text) <= 120 else text[:117] + "..."


def _written(value: object, depth: int) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, str):
        return '"' + value[:200].replace('"', '\\"') + '"'
    if isinstance(value, (list, tuple)):
        return "[" + _joined((_written(v, depth - 1) for v in value[:20]), depth) + "]"
    if isinstance(value, dict):
        rows = (f"{key} = {_written(v, depth - 1)}" for key, v in list(value.items())[:20])
        return "{ " + _joined(rows, depth) + " }"
    return str(value)


def _joined(parts: Iterable[str], depth: int) -> str:
    return ", ".join(parts) if depth > 0 else "..."


def without(node: Any, paths: Iterable[KeyPath]) -> Any:
    """The content of a file with some values taken out, so that nobody takes them for what they should be. Only what
    leads to them is copied. `paths`: where the values stand; each is None afterwards, and a path that leads nowhere is
    passed over."""
    copied: dict[KeyPath, Any] = {(): node.copy()}
    for path in paths:
        for n in range(len(path)):
            around, step = copied.get(path[:n]), path[n]
            there = isinstance(around, dict) and step in around
            there = there or (isinstance(around, list) and isinstance(step, int) and step < len(around))
            if around is None or not there:
                break
            if n == len(path) - 1:
                around[step] = None
            elif path[: n + 1] not in copied and isinstance(around[step], (dict, list)):
                around[step] = copied[path[: n + 1]] = around[step].copy()
    return copied[()]


_WORDS = {
    "missing": ("this key has to be given", ""),
    "int_type": ("not a whole number", "a whole number"),
    "int_parsing": ("not a whole number", "a whole number"),
    "float_type": ("not a number", "a number without a unit"),
    "finite_number": ("not a finite number", "a finite number"),
    "float_parsing": ("not a number", "a number without a unit"),
    "string_type": ("not text", 'text in quotes, such as "front-door"'),
    "bool_type": ("not true or false", "true or false"),
    "bool_parsing": ("not true or false", "true or false"),
    "tuple_type": ("not a list", "a list, [ ... ]"),
    "model_type": ("not a table", "a table, such as { key = value }"),
    "dict_type": ("not a table", "a table"),
}


_LIMITS = ("ge", "gt", "le", "lt", "max_length", "min_length")
_BEYOND = {
    "greater_than": ("too small a number", "a number above {:g}"),
    "greater_than_equal": ("too small a number", "{:g} or more"),
    "less_than": ("too large a number", "a number below {:g}"),
    "less_than_equal": ("too large a number", "up to {:g}"),
    "string_too_long": ("too long a text", "up to {} letters"),
    "string_too_short": ("too short a text", "{} or more letters"),
    "too_long": ("too long a list", "up to {}"),
    "too_short": ("too short a list", "{} or more"),
}


def translated(error: Any, problem: Callable[..., Problem]) -> Problem:
    """One error of the model as a problem of the file. `problem`: makes a problem of path, message, what was found,
    what is accepted and the nearest known key."""
    path: KeyPath = tuple(error["loc"])
    kind, found = error["type"], _quoted(error.get("input", ""))
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, InputError):
        if isinstance(cause, QuantityError) or isinstance(error["input"], str):
            return problem(path, cause.what, _quoted(cause.found), cause.accepted)
        return problem(path, f"{cause.what}: {shown(cause.found)}", "", cause.accepted)
    if kind == "extra_forbidden":
        known = list(_keys(path[:-1]))
        near = get_close_matches(str(path[-1]), known, n=1, cutoff=0.6)
        return problem(path, "an unknown key", path[-1], "one of " + ", ".join(known), near[0] if near else "")
    if kind == "missing":
        missing = "this key has to be given" if isinstance(path[-1], str) else "too short a list"
        return problem(path, missing, "nothing", _meaning(path))
    if kind == "literal_error":
        accepted = error["ctx"]["expected"].replace("'", '"')
        return problem(path, "not one of the accepted words", found, accepted)
    limit = next((v for k, v in error.get("ctx", {}).items() if k in _LIMITS), None)
    if kind in _BEYOND and limit is not None:
        what, accepted = _BEYOND[kind]
        return problem(path, what, found, accepted.format(limit))
    if kind in ("float_type", "int_type") and isinstance(error.get("input"), str) and _number(error["input"]):
        what = _WORDS[kind][0] + ": it stands in quotes"
        return problem(path, what, f'"{found}"', f"the same without quotes: {found}")
    message, accepted = _WORDS.get(kind, (in_words(error["msg"]), _meaning(path)))
    return problem(path, message, found, accepted)


def _number(text: str) -> bool:
    try:
        return isfinite(float(text))
    except ValueError:
        return False


def _quoted(found: Any) -> Any:
    return '""' if found == "" else found


def in_words(message: str) -> str:
    """A message of the library without its way of speaking."""
    words = message[:1].lower() + message[1:]
    return words.replace("input should be a valid", "this is no").replace("input should", "this should")


def of_another_kind(error: Any) -> bool:
    """Whether the value itself is wrong; a table that contradicts itself is still a table with its id."""
    kind = error["type"]
    of_itself = kind == "value_error" and isinstance(error["input"], (dict, BaseModel))
    return kind.endswith(("_type", "_error")) and not of_itself


def _keys(path: KeyPath) -> dict[str, FieldInfo]:
    keys = keys_of(JobFile)
    for step in path:
        if isinstance(step, str):
            table = table_in(keys[step].annotation) if step in keys else None
            keys = {} if table is None else keys_of(table)
    return keys


def _meaning(path: KeyPath) -> str:
    while path and isinstance(path[-1], int):  # of an item, what its list means
        path = path[:-1]
    info = _keys(path[:-1]).get(str(path[-1])) if path else None
    return "" if info is None else info.description or ""
