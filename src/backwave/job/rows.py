"""Rows and items of a job file's text, added and taken out: all that stands around them stays to the letter."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from backwave.errors import InputError
from backwave.job.lines import Lines, key_name, lines_of
from backwave.job.rewrite import toml_key, toml_value

__all__ = ["block", "with_item", "with_row", "without_item", "without_row"]

KeyPath = tuple[str | int, ...]


def block(table: str, values: Mapping[str, Any]) -> str:
    """The lines of a row such as [[opening]]: signs in one column, a long list's rows on lines of their own.

    Parameters
    ----------
    table : str, no unit
        "opening".
    values : mapping, no unit
        Its keys; a table of a side ("right") comes under a header of its own.
    """
    sides = {k: v for k, v in values.items() if k in ("left", "right") and isinstance(v, Mapping)}
    parts = [f"[[{toml_key(table)}]]\n" + _keys({k: v for k, v in values.items() if k not in sides})]
    parts += [f"[{toml_key(table)}.{side}]\n" + _keys(own) for side, own in sides.items()]
    return "\n".join(parts)


def with_row(text: str, table: str, lines_of_it: str) -> str:
    """The text with a row after the last of its kind, or at its end.

    Parameters
    ----------
    text : str, no unit
        The job file.
    table : str, no unit
        "opening".
    lines_of_it : str, no unit
        What `block` made.

    Raises
    ------
    InputError
        The table's rows do not stand under headers.
    """
    lines = lines_of(text)
    plain, rows = text.replace("\r\n", "\n"), lines.data.get(table, [])
    if not isinstance(rows, list) or (rows and lines.value((table,)) is not None):
        raise InputError("not a table of rows under headers", table, "the file edited by hand")
    end = _extent(plain, lines, (table, len(rows) - 1))[1] if rows else len(plain.rstrip())
    return _ends_as(text, f"{plain[:end]}\n\n{lines_of_it.strip()}{plain[end:] or chr(10)}")


def without_row(text: str, path: KeyPath) -> tuple[str, str]:
    """The text without a row such as [[opening]], and the row's lines; comments above its header stay.

    Parameters
    ----------
    text : str, no unit
        The job file.
    path : (str, int), no unit
        The table's name and the row's position.

    Raises
    ------
    InputError
        No such row, or one that is not under a header.
    """
    lines, plain = lines_of(text), text.replace("\r\n", "\n")
    start, stop = _extent(plain, lines, path)
    head, tail = plain[:start], plain[stop:].removeprefix("\n")
    if head.endswith("\n\n") and tail.startswith("\n"):
        tail = tail.removeprefix("\n")
    return _ends_as(text, head + tail), plain[start:stop]


def without_item(text: str, path: KeyPath) -> str:
    """The text without one item of a list, and without its line where it has one of its own.

    Parameters
    ----------
    text : str, no unit
        The job file.
    path : tuple of str or int, no unit
        The list's path and the item's position.

    Raises
    ------
    InputError
        Not an item of a list.
    """
    lines, plain = lines_of(text), text.replace("\r\n", "\n")
    span = lines.value(path)
    if span is None:
        raise InputError("not an item of a list", key_name(path, lines.data), "the list as a whole")
    line = plain.rfind("\n", 0, span.start) + 1
    own = re.match(r"[ \t]*,?[ \t]*(#[^\n]*)?\n", plain[span.stop :])
    if not plain[line : span.start].strip() and own:
        return _ends_as(text, plain[:line] + plain[span.stop + own.end() :])
    before, after = plain[: span.start], plain[span.stop :]
    comma = re.match(r"\s*,\s*", after)
    return _ends_as(text, before + after[comma.end() :] if comma else re.sub(r"\s*,\s*$", "", before) + after)


def with_item(text: str, path: KeyPath, value: Any) -> str:
    """The text with an item more at the end of a list, on a line of its own where the last one has one.

    Parameters
    ----------
    text : str, no unit
        The job file.
    path : tuple of str or int, no unit
        The list's path.
    value : object, no unit
        The item.

    Raises
    ------
    InputError
        No list there.
    """
    lines, plain = lines_of(text), text.replace("\r\n", "\n")
    node: Any = lines.data
    for step in path:
        node = node[step]
    span, last = lines.value(path), lines.value((*path, len(node) - 1))
    if span is None:
        raise InputError("not a list on lines of its own", key_name(path, lines.data), "a list in brackets")
    if last is None:
        return _ends_as(text, f"{plain[: span.start]}[{toml_value(value)}]{plain[span.stop :]}")
    line = plain.rfind("\n", 0, last.start) + 1
    if plain[line : last.start].strip() or "\n" not in plain[last.stop : span.stop]:
        return _ends_as(text, f"{plain[: last.stop]}, {toml_value(value)}{plain[last.stop :]}")
    comma = re.match(r"[ \t]*,", plain[last.stop :])
    head = plain[: last.stop] + "," + plain[last.stop + (comma.end() if comma else 0) :]
    end = head.index("\n", last.stop)
    return _ends_as(text, f"{head[:end]}\n{plain[line : last.start]}{toml_value(value)},{head[end:]}")


def _ends_as(text: str, plain: str) -> str:
    return plain.replace("\n", "\r\n") if "\r\n" in text else plain


def _keys(values: Mapping[str, Any]) -> str:
    width = max((len(toml_key(k)) for k in values), default=0)
    return "".join(f"{toml_key(k).ljust(width)} = {_long(v)}\n" for k, v in values.items())


def _long(value: Any) -> str:
    if isinstance(value, (list, tuple)) and value and all(isinstance(v, dict) for v in value):
        return "[\n" + "".join(f"  {toml_value(v)},\n" for v in value) + "]"
    return toml_value(value)


def _extent(plain: str, lines: Lines, path: KeyPath) -> tuple[int, int]:
    """From a row's header to the end of the line of its last value."""
    rows = lines.data.get(str(path[0])) if path else None
    name = key_name(path, lines.data)
    if len(path) != 2 or not isinstance(rows, list) or not 0 <= int(path[1]) < len(rows):
        raise InputError("no such table", name, "a table such as [[opening]], by its position")
    everything = list(_spans(lines, lines.data, ()))
    own = [span for here, span in everything if len(here) > 2 and here[:2] == path]
    if not own:
        raise InputError("an empty table", name, "the file edited by hand")
    first, last = min(s.start for s in own), max(s.stop for s in own)
    if any(first <= s.start < last for here, s in everything if len(here) > 2 and here[:2] != path):
        raise InputError("a table that stands in several places", name, "the file edited by hand")
    header = rf"^[ \t]*\[\[\s*[\"']?{re.escape(str(path[0]))}[\"']?\s*\]\]"
    starts = [m.start() for m in re.finditer(header, plain[:first], re.MULTILINE)]
    if not starts:
        raise InputError("not under a header of its own", name, "the file edited by hand")
    end = plain.find("\n", last)
    return starts[-1], len(plain) if end < 0 else end


def _spans(lines: Lines, node: Any, path: KeyPath) -> Iterator[tuple[KeyPath, slice]]:
    """Where every key and value stands, tables under headers by what is in them."""
    key, value = lines.key(path), lines.value(path)
    yield from ((path, span) for span in (key, value) if span is not None)
    if value is None and isinstance(node, (dict, list)):
        for step, inner in node.items() if isinstance(node, dict) else enumerate(node):
            yield from _spans(lines, inner, (*path, step))
