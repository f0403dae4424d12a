"""Keys, items of lists and rows of a job file's text, set and taken out: every other letter and comment stays.

The text is edited at the place the reader names and never written anew: a writer that keeps comments still moves
tables that stand apart ([[source]] before and after [[stage]]) together.  Each change is done on the data as well,
and the new text, read by the standard library, has to say just that: else nothing is changed."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping
from typing import Any

from backwave.errors import InputError, JobError
from backwave.job.toml_spans import (
    NOTHING,
    KeyPath,
    Lines,
    at,
    found_at,
    key_name,
    lines_of,
    path_of,
    toml_key,
    toml_value,
    unfaithful,
)


def with_value(text: str, path: KeyPath, value: Any) -> str:
    """The text with one key or item set, added, or taken out where the value is None. `path`: keys and positions from
    the top; the position one past a list's end adds to it; `value`: text, number, list or table as it should stand in
    the file; None takes the key or item out; InputError: no such place in the file, or one that has to be changed by
    hand; JobError: A text that is no TOML."""
    lines = lines_of(text)
    name = key_name(path, lines.data)
    if not path or "" in path:
        raise InputError("not a key", name, "such as opening.front-door.hole.diameter")
    depth = next((n for n in range(len(path)) if found_at(lines.data, path[: n + 1]) is NOTHING), len(path))
    there, missing, held = path[:depth], path[depth:], at(lines.data, path[:depth])
    adds = isinstance(held, list) and missing == (len(held),)
    if missing and not adds and not (isinstance(held, dict) and all(isinstance(step, str) for step in missing)):
        rows = [
            row.get("id", i) if isinstance(row, dict) else i
            for i, row in enumerate(held if isinstance(held, list) else ())
        ]
        raise InputError(
            "no such place in the job",
            name,
            "one of " + ", ".join(map(str, rows)) if rows else "a key of a table that is there",
        )
    if value is None:
        if missing:
            raise InputError("no such key to take out", name, ", ".join(map(str, at(lines.data, path[:-1]) or ())))
        if isinstance(held, dict) and lines.value(path) is None and not isinstance(path[-1], int):
            return _without_table(text, lines, path)
        plain = _without_item(lines, path) if isinstance(path[-1], int) else _without_key(lines, path)
        return _read(text, lines, plain, _data_without(lines, path))
    if not missing and toml_value(value) == toml_value(held):
        return text  # 0.80 stays as it was written
    if adds:
        plain = _with_item(lines, there, toml_value(value))
    elif missing:
        plain = _with_key(lines, there, missing, toml_value(value))
    else:
        span = lines.value(path)
        if span is None and isinstance(held, dict) and isinstance(value, Mapping) and held.keys() <= value.keys():
            for key, inner in value.items():  # a table under a header of its own
                text = with_value(text, (*path, key), inner)
            return text
        if span is None:
            raise InputError("a table under a header of its own", name, "one of its keys at a time")
        if isinstance(held, list) and isinstance(value, (list, tuple)) and "#" in lines.text[span]:
            return _with_items(text, path, held, list(value))
        plain = lines.text[: span.start] + toml_value(value) + lines.text[span.stop :]
    return _read(text, lines, plain, _data_with(lines.data, path, _plain(value)))


def with_key(text: str, key: str, value: Any) -> str:
    """The text with one key set, or taken out, by the name that a person gives it. `key`:
    "opening.front-door.hole.diameter" or "adapter[0].thickness": tables by their id or their position; InputError,
    JobError: as for `with_value`."""
    data = lines_of(text).data
    path = path_of(data, key)
    if path is None:
        near = next((n for n in range(len(key), 0, -1) if path_of(data, key[:n]) is not None), 0)
        rows = at(data, path_of(data, key[:near]) or ())
        ids = [row.get("id") for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
        raise InputError(
            "no such place in the job",
            key,
            "one of " + ", ".join(map(str, ids)) if ids else "a key of a table that is there",
        )
    return with_value(text, path, value)


def renamed(text: str, key: str, new: str) -> str:
    """The text with a key at its top under another name; unchanged without that key."""
    lines = lines_of(text)
    span = lines.key((key,))
    if span is None:
        return text
    plain = lines.text[: span.start] + toml_key(new) + lines.text[span.stop :]
    return _read(text, lines, plain, {new if name == key else name: held for name, held in lines.data.items()})


def with_row(text: str, table: str, lines_of_it: str) -> str:
    """The text with a row after the last of its kind, or at its end. InputError: the table's rows do not stand under
    headers, or these are not the lines of one."""
    lines = lines_of(text)
    plain, rows = lines.text, lines.data.get(table, [])
    if not isinstance(rows, list) or (rows and lines.value((table,)) is not None):
        raise InputError("not a table of rows under headers", table, "the file edited by hand")
    row = Lines(lines_of_it, "the row").data
    if row.keys() != {table} or not isinstance(row[table], list) or len(row[table]) != 1:
        raise InputError("not the lines of one row", table, f"[[{table}]] and its keys")
    end = len(plain.rstrip())
    if rows:
        with contextlib.suppress(InputError):  # where the last one stands in several places: at the end of the file
            end = _extent(lines, (table, len(rows) - 1))[1]
    head = plain[:end] + "\n\n" if end else ""
    new = f"{head}{lines_of_it.strip()}{plain[end:] or chr(10)}"
    return _read(text, lines, new, lines.data | {table: [*rows, row[table][0]]})


def without_row(text: str, path: KeyPath) -> tuple[str, str]:
    """The text without a row such as [[opening]], and the row's lines; comments above its header stay. InputError: no
    such row, or one that is not under a header."""
    lines = lines_of(text)
    start, stop = _extent(lines, path)
    head, tail = _around(lines, start, stop)
    return _read(text, lines, head + tail, _data_without(lines, path)), lines.text[start:stop]


def _read(text: str, lines: Lines, plain: str, data: dict[str, Any]) -> str:
    new = _line_ends(text, lines.text, plain)
    try:
        lines_of(new, data=data)
    except JobError as error:
        if error.problems[0].message.startswith("not readable"):
            raise unfaithful("job.toml") from None
        raise  # too long a text, too many rows
    return new


def _line_ends(text: str, old: str, new: str) -> str:
    """The new text, edited with plain line ends, with those of the old one wherever it is the old one."""
    if "\r\n" not in text:
        return new
    start, gone, come = splice(old, new)
    ends = [m.start() - n for n, m in enumerate(re.finditer("\r\n", text))]  # as counted in the plain text
    head = start + sum(end < start for end in ends)
    tail = start + len(gone) + sum(end < start + len(gone) for end in ends)
    return text[:head] + come.replace("\n", "\r\n") + text[tail:]


def splice(old: str, new: str) -> tuple[int, str, str]:
    """Where two texts part, and what stands between what they share."""
    start = _shared(old, new)
    end = _shared(old[start:][::-1], new[start:][::-1])
    return start, old[start : len(old) - end], new[start : len(new) - end]


def _shared(a: str, b: str) -> int:
    low, high = 0, min(len(a), len(b))
    while low < high:  # halved each time: what is shared is longer than the middle, or not
        middle = (low + high + 1) // 2
        low, high = (middle, high) if a.startswith(b[:middle]) else (low, middle - 1)
    return low


def _data_with(node: Any, path: KeyPath, value: Any) -> Any:
    """The data with one key or item set; only what leads to it is copied, the rest is shared."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    inner = _data_with(at(node, path[:1]), rest, value)
    if isinstance(node, list) and isinstance(step, int):
        return [*node[:step], inner, *node[step + 1 :]]
    return {**(node or {}), step: inner}


def _data_without(lines: Lines, path: KeyPath) -> Any:
    """The data with one key, item or row taken out, and the tables that were there only because of it."""
    while len(path) > 1 and len(at(lines.data, path[:-1])) == 1 and not _explicit(lines, path[:-1]):
        path = path[:-1]
    holder = at(lines.data, path[:-1])
    left: Any = (
        [row for i, row in enumerate(holder) if i != path[-1]]
        if isinstance(holder, list)
        else {key: held for key, held in holder.items() if key != path[-1]}
    )
    return _data_with(lines.data, path[:-1], left)


def _explicit(lines: Lines, path: KeyPath) -> bool:
    """Whether a table stands in the file even with nothing in it."""
    return lines.value(path) is not None or _header(lines, path) is not None


def _plain(value: Any) -> Any:
    """A value as a reader gives it."""
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    return [_plain(v) for v in value] if isinstance(value, (list, tuple)) else value


def _line_start(text: str, place: int) -> int:
    return text.rfind("\n", 0, place) + 1


def _line_end(text: str, place: int) -> int:
    end = text.find("\n", place)
    return len(text) if end < 0 else end


def _after_comma(text: str, place: int) -> int | None:
    """Behind the comma that follows an item, on whatever line; None where none does."""
    found = re.compile(r"(?:\s|#[^\n]*)*,").match(text, place)
    return found.end() if found else None


def _inline(lines: Lines, path: KeyPath) -> tuple[KeyPath, slice] | None:
    """The innermost table in braces or list in brackets that a key stands in."""
    for n in range(len(path) - 1, 0, -1):
        if (span := lines.value(path[:n])) is not None:
            return path[:n], span
    return None


def _without_key(lines: Lines, path: KeyPath) -> str:
    text, name, span = lines.text, lines.key(path), lines.value(path)
    if name is None or span is None:
        raise InputError(
            "not a single key", key_name(path, lines.data),
            "a key with its value; the list as a whole, or a table's keys one by one",
        )  # fmt: skip
    around = _inline(lines, path)
    if around is None:  # a line of its own
        return text[: _line_start(text, name.start)] + text[_line_end(text, span.stop) + 1 :]
    held, braces = around
    before = max([braces.start + 1, *(s.stop for s in lines.values(held) if s.stop <= name.start)])
    start = before + re.match(r"[ \t,]*", text[before:]).end()  # type: ignore[union-attr]  # dotted keys are whole
    comma = _after_comma(text, span.stop)
    if comma is not None:
        return text[:start] + text[comma:].lstrip(" \t")
    return text[:before] + " " + text[span.stop :].lstrip(" \t")


def _without_table(text: str, lines: Lines, path: KeyPath) -> str:
    """Without a table under a header of its own, from there to its last value; or without its keys, one by one."""
    first = _header(lines, path)
    if first is None:
        for key in list(at(lines.data, path)):
            text = with_value(text, (*path, key), None)
        return text
    headers, names = lines.headers, lines.headers[first][1]
    below = (k for k in range(first + 1, len(headers)) if headers[k][1][: len(names)] != names)
    head, tail = _around(lines, *_span(lines, first, next(below, len(headers))))
    return _read(text, lines, head + tail, _data_without(lines, path))


def _without_item(lines: Lines, path: KeyPath) -> str:
    text, span = lines.text, lines.value(path)
    if span is None:
        raise InputError("not an item of a list", key_name(path, lines.data), "the list as a whole")
    start, comma = _line_start(text, span.start), _after_comma(text, span.stop)
    own = re.compile(r"[ \t]*,?[ \t]*(#[^\n]*)?\n").match(text, span.stop)
    if not text[start : span.start].strip() and own and (comma is None or comma <= own.end()):
        return text[:start] + text[own.end() :]
    if comma is not None:  # what stands between, such as a comment, stays
        between = text[span.stop : comma - 1]
        return text[: span.start] + (between.lstrip(" \t") if between.strip() else "") + text[comma:].lstrip(" \t")
    return re.sub(r"[ \t]*,[ \t]*$", "", text[: span.start]) + text[span.stop :]


def _with_item(lines: Lines, path: KeyPath, value: str) -> str:
    text, span = lines.text, lines.value(path)
    if span is None:
        raise InputError("not a list on lines of its own", key_name(path, lines.data), "a list in brackets")
    last = lines.value((*path, len(at(lines.data, path)) - 1))
    if last is None:
        return f"{text[: span.stop - 1]}{value}{text[span.stop - 1 :]}"
    start, comma = _line_start(text, last.start), _after_comma(text, last.stop)
    if text[start : last.start].strip() or "\n" not in text[last.stop : span.stop]:
        return f"{text[: last.stop]}, {value}{text[last.stop :]}"
    head = text if comma is not None else f"{text[: last.stop]},{text[last.stop :]}"
    end = head.index("\n", comma or last.stop)
    return f"{head[:end]}\n{text[start : last.start]}{value},{head[end:]}"


def _with_items(text: str, path: KeyPath, old: list[Any], new: list[Any]) -> str:
    """A list whose items bear comments, changed item by item: what stands beside one that stays, stays."""
    for i in range(len(old) - 1, len(new) - 1, -1):
        text = with_value(text, (*path, i), None)
    for i, item in enumerate(new):
        text = with_value(text, (*path, i), item)
    return text


def _with_key(lines: Lines, path: KeyPath, missing: KeyPath, value: str) -> str:
    text, dotted = lines.text, _dotted(missing)
    around = (path, span) if (span := lines.value(path)) is not None else _inline(lines, path)
    if around is not None:  # { a = 1 }
        held, span = around
        inside = text[span.start + 1 : span.stop - 1].rstrip()
        comma = ", " if inside.strip() else " "
        key = _dotted((*path[len(held) :], *missing))
        return f"{text[: span.start]}{{{inside}{comma}{key} = {value} }}{text[span.stop :]}"
    table = at(lines.data, path)
    own = [(s.stop, n) for k in table if (s := lines.value((*path, k))) and (n := lines.key((*path, k)))]
    if own and (path or len(missing) == 1):
        stop, name = max(own, key=lambda o: o[0])
        # in line with the last of its neighbors: same prefix, the sign in the same column
        start, end = _line_start(text, name.start), _line_end(text, stop)
        column = text.index("=", name.stop) - name.start
        return f"{text[:end]}\n{text[start : name.start]}{dotted.ljust(column - 1)} = {value}{text[end:]}"
    header = _header(lines, path)
    if header is not None:
        end = _line_end(text, lines.headers[header][0])
        return f"{text[:end]}\n{dotted} = {value}{text[end:]}"
    first = lines.key(path)
    if first is not None and re.match(r"[ \t]*\.", text[first.stop :]):
        start = _line_start(text, first.start)
        if text[start : first.start].strip()[:1] != "[":  # a table made by dotted keys
            end = _line_end(text, min(s.stop for s in lines.values(path) if s.start > first.stop))
            return f"{text[:end]}\n{text[start : first.stop]}.{dotted} = {value}{text[end:]}"
    if any(isinstance(step, int) for step in path):
        raise InputError(
            "no line beside which this could stand",
            key_name((*path, *missing), lines.data),
            "the key written into the file by hand",
        )
    table_name = _dotted((*path, *missing[:-1]))
    if not table_name:
        return f"{dotted} = {value}\n{text}"
    head = text.rstrip() + "\n\n" if text.strip() else ""
    return f"{head}[{table_name}]\n{_dotted(missing[-1:])} = {value}\n"


def _dotted(path: KeyPath) -> str:
    return ".".join(toml_key(str(step)) for step in path)


def _header(lines: Lines, path: KeyPath) -> int | None:
    """Which of the headers is that of a table or a row; None where it has none of its own."""
    names = tuple(step for step in path if isinstance(step, str))
    place = next((n for n, step in enumerate(path) if isinstance(step, int)), None)
    if place is None:
        return next((k for k, (_, own, row) in enumerate(lines.headers) if own == names and not row), None)
    rows = [k for k, (_, own, row) in enumerate(lines.headers) if own == path[:place] and row]
    number = int(path[place])
    if number >= len(rows) or len(names) != len(path) - 1:
        return None
    if len(path) == place + 1:
        return rows[number]
    stop = rows[number + 1] if number + 1 < len(rows) else len(lines.headers)
    return next((k for k in range(rows[number], stop) if lines.headers[k][1:] == (names, False)), None)


def _extent(lines: Lines, path: KeyPath) -> tuple[int, int]:
    """From a row's header to the end of the line of its last value."""
    name, table = key_name(path, lines.data), path[:-1]
    if not path or not isinstance(path[-1], int) or not isinstance(at(lines.data, path), dict):
        raise InputError("no such table", name, "a table such as [[opening]], by its position")
    first = _header(lines, path)
    if first is None:
        raise InputError("not under a header of its own", name, "the file edited by hand")
    headers, end = lines.headers, len(lines.headers)
    after = next((k for k in range(first + 1, end) if headers[k][1][: len(table)] != table or headers[k][2]), end)
    later = next((k for k in range(after, end) if headers[k][1:] == (table, True)), end)
    if any(headers[k][1][: len(table)] == table for k in range(after, later)):
        raise InputError("a table that stands in several places", name, "the file edited by hand")
    return _span(lines, first, after)


def _span(lines: Lines, first: int, after: int) -> tuple[int, int]:
    """From one header to the end of the line of the last value before another."""
    headers = lines.headers
    start, stop = headers[first][0], headers[after][0] if after < len(headers) else len(lines.text)
    last = max([headers[after - 1][0], *(s.stop for s in lines.values() if start < s.start < stop)])
    return start, _line_end(lines.text, last)


def _around(lines: Lines, start: int, stop: int) -> tuple[str, str]:
    """What stands before and after lines that go, with one empty line between at most."""
    head, tail = lines.text[:start], lines.text[stop:].removeprefix("\n")
    if head.endswith("\n\n") and tail.startswith("\n"):
        tail = tail.removeprefix("\n")
    return head, tail
