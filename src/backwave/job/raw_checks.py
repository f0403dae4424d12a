"""What is wrong with a job file whatever its keys mean: numbers, letters and lists that no table of it may hold.

Looked at before the model is, so that everything after it can rely on it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, time
from math import isfinite
from typing import Any

from backwave.job.bounds import MAX_POINTS, MAX_ROWS
from backwave.plain_text import plain_text

Path = tuple[str | int, ...]
Fault = tuple[Path, str, object, str]

_MAX_NUMBER = 1e15
_NOTES = ("note",)  # keys whose text may have several lines
_REFUSED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)
_BREAKS = "\n\v\f\r\x85\u2028\u2029"


def letters_refused(text: str, *, several_lines: bool = False) -> str:
    """What a text holds that no name, title or path may, in words; "" where it holds nothing of that kind.

    Control characters reach terminals and files as commands, a line break ends a record there, characters that turn
    the direction of writing show another name than is meant, and half a character cannot be saved at all.
    """
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


def raw_faults(node: Any, max_points: int = MAX_POINTS, path: Path = ()) -> Iterator[Fault]:
    """Everything of that kind in the content of a file.

    `node`: what was parsed; anything that is not a table, list, text or number is passed over.
    """
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


def without(node: Any, paths: Iterable[Path]) -> Any:
    """The content of a file with some values taken out, so that nobody takes them for what they should be.

    Only what leads to them is copied.

    `paths`: where the values stand; each is None afterwards, and a path that leads nowhere is passed over.
    """
    copied: dict[Path, Any] = {(): node.copy()}
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
