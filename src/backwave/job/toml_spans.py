"""TOML texts: how large one may be, where each key and value stands, what a path in it is called, how a value is written.

Sizes are looked at before the parser is, in one pass over the letters: what it would need minutes or the whole memory for.
The standard library says what the text means; a reader with spans says where.  Both have to agree, and every span is that
of the whole token: the reader's own begin behind the last escape of a string."""

from __future__ import annotations

import json
import re
import tomllib
from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from itertools import accumulate
from math import isfinite
from threading import Lock
from typing import Any

from backwave.errors import InputError, JobError, Problem, job_error
from backwave.plain_text import plain_text

MAX_BYTES = 1_000_000
MAX_VALUES = 50_000  # in the file
MAX_KEYS = 1_000  # in one table
MAX_ITEMS = 20_000  # in one list
MAX_TABLES = 2_000  # headers
MAX_DEPTH = 24  # brackets within brackets
MAX_PARTS = 12  # of a dotted key
MAX_WORD = 100  # letters of a bare key, digits of a number
MAX_TEXT = 4_000  # letters of one text

_TOKEN = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}'  # texts, closed
    r"|'''(?:[^']|'(?!''))*'{3,5}"
    r'|"(?!"")(?:[^"\\\n]|\\[^\n])*"'
    r"|'(?!'')[^'\n]*'"
    r"|(?P<open>[\"'])"  # a text that does not close: nothing behind it can be read
    r"|\#[^\n]*"
    r"|(?P<head>(?m:^)[ \t]*\[\[?)"
    r"|(?P<mark>[\[\]{},=.\n])"
    r"|(?P<word>[^\s\"'\#\[\]{},=.]+)"
    r"|[ \t\r]+"
    r"|.",
    re.DOTALL,
)


def check_size(text: str, file: str) -> None:
    """Refuse a text that is too large, too deep or too long in one of its parts to be read in a moment. JobError: the
    first part that is too large, with its line."""
    if len(text) > MAX_BYTES:
        raise job_error(file, "too large a file", f"{len(text):,} letters", f"up to {MAX_BYTES:,}")
    for at, message, found, accepted in _too_large(text):
        raise job_error(file, message, found, accepted, line=text.count("\n", 0, at) + 1)


def _too_large(text: str) -> Iterator[tuple[int, str, str, str]]:
    values = tables = keys = parts = 0
    items: list[int] = []  # commas in each bracket that is open
    for token in _TOKEN.finditer(text):
        kind, size = token.lastgroup, token.end() - token.start()
        if kind == "open":
            if text.startswith(('"""', "'''"), token.start()) and len(text) - token.start() > MAX_TEXT:
                yield token.start(), "a text too long", "no end of it", f"up to {MAX_TEXT:,} letters"
            return
        if kind == "word" or kind is None:
            if kind == "word" and size > MAX_WORD:
                yield token.start(), "a key or a number too long", f"{size:,} letters", f"up to {MAX_WORD}"
            elif size > MAX_TEXT and token[0][0] in "\"'":
                yield token.start(), "a text too long", f"{size:,} letters", f"up to {MAX_TEXT:,} letters"
            continue
        mark = "head" if kind == "head" else token[0]
        if mark == "head" and not items:
            tables, keys, parts = tables + 1, 0, 0
            items += [0] * token[0].count("[")
            if tables > MAX_TABLES:
                yield token.start(), "too many tables", f"more than {MAX_TABLES:,}", f"up to {MAX_TABLES:,}"
        elif mark in ("head", "[", "{"):
            items += [0] * (token[0].count("[") if mark == "head" else 1)
        elif mark in "]}":
            del items[-1:]
        elif mark == ".":
            parts += 1
        elif mark == ",":
            values += 1
            if items:
                items[-1] += 1
        elif mark == "=":
            values, keys = values + 1, keys + (not items)
        parts = parts if mark == "." else 0
        if len(items) > MAX_DEPTH:
            yield token.start(), "brackets too deep", f"more than {MAX_DEPTH}", f"up to {MAX_DEPTH}"
        if parts > MAX_PARTS:
            yield token.start(), "a key of too many parts", f"more than {MAX_PARTS}", f"up to {MAX_PARTS}"
        if keys > MAX_KEYS:
            yield token.start(), "too many keys in one table", f"more than {MAX_KEYS:,}", f"up to {MAX_KEYS:,}"
        if items and items[-1] > MAX_ITEMS:
            yield token.start(), "too long a list", f"more than {MAX_ITEMS:,} items", f"up to {MAX_ITEMS:,}"
        if values > MAX_VALUES:
            yield token.start(), "too many values", f"more than {MAX_VALUES:,}", f"up to {MAX_VALUES:,}"


KeyPath = tuple[str | int, ...]  # keys and positions from the top: ("opening", 0, "trim", "clear")
NOTHING = object()


class Lines:
    """A parsed TOML text with the line of every key and value. `data`: what it means, where that was worked out
    already; the text is read and has to say the same; JobError: text that is no TOML or too large a one, with the line;
    InputError: A text that says something else than `data`."""

    def __init__(self, text: str, file: str, data: dict[str, Any] | None = None) -> None:
        self.text = text.replace("\r\n", "\n")
        """With plain line ends; spans count its characters."""
        self._file = file
        check_size(self.text, file)
        try:
            read = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            raise JobError((_syntax(error, self.text, file),)) from None
        if data is not None and not same(read, data):
            raise unfaithful(file)
        self.data: dict[str, Any] = read if data is None else data

    @cached_property
    def _spans(self) -> tuple[dict[KeyPath, slice], dict[KeyPath, slice]]:
        """Of keys and of values; read when they are first needed, which a file that is only looked at never does."""
        import spanned_toml

        try:
            tree = spanned_toml.loads(self.text)
        except (ValueError, RecursionError) as error:
            raise JobError((_syntax(error, self.text, self._file),)) from None
        keys: dict[KeyPath, slice] = {}
        values: dict[KeyPath, slice] = {}

        def walk(node: Any, path: KeyPath) -> Any:
            raw = node.inner()
            if isinstance(raw, dict):
                items = [(key.inner(), key, item) for key, item in raw.items()]
                for name, key, item in items:
                    keys[*path, name], values[*path, name] = self._token(key), self._token(item)
                return {name: walk(item, (*path, name)) for name, _, item in items}
            if isinstance(raw, list):
                values.update({(*path, i): self._token(item) for i, item in enumerate(raw)})
                return [walk(item, (*path, i)) for i, item in enumerate(raw)]
            return raw

        if not same(walk(tree, ()), self.data):
            raise InputError("two readers understand this file differently", self._file, "plainer TOML")
        return keys, values

    def _token(self, node: Any) -> slice:
        """A span from the first letter of its token: back to the quote that no backslash stands before."""
        span = node.span()
        held = self.text[span.start : span.stop]
        if isinstance(node.inner(), str) and held.endswith('"') and not held.startswith('"""'):
            start = self.text.rindex('"', 0, span.stop - 1)
            while _escaped(self.text, start):
                start = self.text.rindex('"', 0, start)
            return slice(start, span.stop)
        return slice(span.start, span.stop)

    @cached_property
    def _at(self) -> dict[KeyPath, int]:
        """The line of each key, and of each table by the first line of what is in it."""
        starts = [0, *accumulate(len(line) + 1 for line in self.text.split("\n")[:-1])]
        keys, values = self._spans
        own = {p: bisect_right(starts, s.start) for p, s in (values | keys).items() if s.stop}
        first: dict[KeyPath, int] = {}
        for path, line in own.items():
            for depth in range(1, len(path)):
                first[path[:depth]] = min(line, first.get(path[:depth], line))
        return first | own

    def key(self, path: KeyPath) -> slice | None:
        """Where a key's name stands in the text; None where it does not."""
        return _real(self._spans[0].get(path))

    def value(self, path: KeyPath) -> slice | None:
        """Where a value stands in the text; None for a table under a header of its own, or with dotted keys."""
        return _real(self._spans[1].get(path))

    def values(self, path: KeyPath = ()) -> list[slice]:
        """Where the values stand that are in a table, in no order."""
        n = len(path)
        return [s for p, s in self._spans[1].items() if s.stop and len(p) > n and p[:n] == path]

    @cached_property
    def headers(self) -> tuple[tuple[int, KeyPath, bool], ...]:
        """Where each [header] begins, what it names, and whether it is a [[row]]; what looks so in a value is none."""
        spans = sorted((s.start, s.stop) for s in self.values())
        starts = [start for start, _ in spans]
        reach = [0, *accumulate((stop for _, stop in spans), max)]
        out = []
        for found in re.finditer(r"^[ \t]*(\[[^\n]*)", self.text, re.MULTILINE):
            if reach[bisect_right(starts, found.start(1))] <= found.start(1):
                node, names = tomllib.loads(found[1]), list[str]()
                while isinstance(node, dict) and node:
                    names.append(next(iter(node)))
                    node = node[names[-1]]
                out.append((found.start(), tuple(names), isinstance(node, list)))
        return tuple(out)

    def line(self, path: KeyPath) -> int | None:
        """Line of a key, counted from 1, or of the nearest thing around it that has one."""
        return next((self._at[path[:n]] for n in range(len(path), 0, -1) if path[:n] in self._at), None)


_kept: OrderedDict[tuple[str, str], Lines] = OrderedDict()
_KEPT = 8  # texts: as it is, as it was, as it is on disk, and what is being tried
_lock = Lock()


def lines_of(text: str, file: str = "job.toml", data: dict[str, Any] | None = None) -> Lines:
    """A text as `Lines`, read once however often it is asked for; what is in it must not be changed. JobError,
    InputError: as for `Lines`."""
    with _lock:
        held = _kept.get((file, text))
    if held is None:
        held = Lines(text, file, data)
    elif data is not None and not same(held.data, data):
        raise unfaithful(file)
    with _lock:
        _kept[file, text] = held
        _kept.move_to_end((file, text))
        while len(_kept) > _KEPT:
            _kept.popitem(last=False)
    return held


def unfaithful(file: str) -> InputError:
    """The error for an edit whose text would not say just what the edit was meant to."""
    return InputError("this cannot be written without changing something else", file, "the file edited by hand")


def same(a: Any, b: Any) -> bool:
    """Whether two values of a file are the very same: 1 is not 1.0 and not true; the order of keys says nothing."""
    if type(a) is not type(b):
        return False
    if isinstance(a, dict):
        return a is b or (a.keys() == b.keys() and all(same(value, b[key]) for key, value in a.items()))
    if isinstance(a, list):
        return a is b or (len(a) == len(b) and all(map(same, a, b)))
    return a == b or repr(a) == repr(b)  # nan


def _escaped(text: str, place: int) -> bool:
    first = place
    while first and text[first - 1] == "\\":
        first -= 1
    return (place - first) % 2 == 1


def _real(span: slice | None) -> slice | None:
    return span if span is not None and span.stop else None


def _syntax(error: Exception, text: str, file: str) -> Problem:
    found = re.search(r"line (\d+)", str(error))
    line = int(found[1]) if found else text.count("\n") + 1
    lines = text.split("\n")
    shown = plain_text(lines[line - 1].strip()) if line <= len(lines) else "the end of the file"
    what = re.sub(r" \(at .*\)$", "", str(error)).lower()
    if not isinstance(error, tomllib.TOMLDecodeError) and found is None:
        what = "nested too deeply" if isinstance(error, RecursionError) else "a number of too many digits"
        return Problem(file, None, "", "", "TOML as a person writes it", f"not readable: {what}")
    return Problem(
        file, line, "", shown[:80], 'TOML: key = "value", one a line; text in quotes', f"not readable: {what}"
    )


def at(data: Any, path: KeyPath) -> Any:
    """What stands at a path; None where nothing does."""
    found = found_at(data, path)
    return None if found is NOTHING else found


def found_at(data: Any, path: KeyPath) -> Any:
    """What stands at a path; `NOTHING` where nothing does."""
    for step in path:
        if isinstance(data, list):
            if not isinstance(step, int) or not 0 <= step < len(data):
                return NOTHING
        elif not isinstance(data, dict) or step not in data:
            return NOTHING
        data = data[step]
    return data


def key_name(path: Iterable[str | int], data: Any) -> str:
    """A key as a person writes it: tables by their id where they have one."""
    name, node = "", data
    for step in path:
        if isinstance(step, int):
            item = node[step] if isinstance(node, list) and step < len(node) else None
            own = item.get("id") if isinstance(item, dict) else None
            name += f".{_shown(own)}" if isinstance(own, str) and own else f"[{step}]"
            node = item
        else:
            name += f".{_shown(step)}" if name else _shown(step)
            node = node.get(step) if isinstance(node, dict) else None
    return name


def _shown(name: str) -> str:
    """A key or an id in quotes where it would be read as several."""
    return json.dumps(name, ensure_ascii=False) if not name or re.search(r"[.\[\]\"]", name) else name


def path_of(data: Any, key: str) -> KeyPath | None:
    """Where a key written with ids leads, the opposite of `key_name`; None where its table is not there. `key`:
    "opening.front-door.trim.clear" or "adapter[0].thickness"."""
    path: list[str | int] = []
    node, rest = data, key
    while rest:
        rest = rest.removeprefix(".") if path else rest
        quoted = re.match(r'"(?:[^"\\]|\\.)*"', rest)
        ids = _ids(node) if isinstance(node, list) else {}
        names = ids if isinstance(node, list) else node if isinstance(node, dict) else ()
        # ids and keys may have dots in them: the longest one that is there
        fits = [n for n in names if n and rest.startswith(n) and rest[len(n) : len(n) + 1] in ("", ".", "[")]
        position, new = re.match(r"\[(\d+)\]", rest), re.match(r"[^.\[\]]+", rest)
        if fits or quoted:
            name = json.loads(quoted[0]) if quoted else max(fits, key=len)
            if isinstance(node, list) and name not in ids:
                return None
            step: str | int = ids.get(name, name)
            rest = rest[len(quoted[0] if quoted else name) :]
        elif position:
            step, rest = int(position[1]), rest[position.end() :]
        elif new is None or isinstance(node, list):
            return None
        else:
            step, rest = new[0], rest[new.end() :]
        path.append(step)
        node = at(node, (step,))
    return tuple(path)


def _ids(rows: list[Any]) -> dict[str, int]:
    named = [(row.get("id"), i) for i, row in enumerate(rows) if isinstance(row, dict)]
    return {id_: i for id_, i in reversed(named) if isinstance(id_, str)}


def toml_key(key: str) -> str:
    """A key as TOML writes it, in quotes where it has to be."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _quoted(key)


def _quoted(text: str) -> str:
    if re.search("[\ud800-\udfff]", text):
        raise InputError("half a letter, which no file can hold", ascii(text), "text")
    # what JSON escapes, TOML escapes in the same way; it also wants DEL escaped
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_value(value: Any) -> str:
    """A value as TOML writes it. InputError: A value that TOML has no form for."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) or (isinstance(value, float) and isfinite(value)):
        return repr(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, Mapping):
        return (
            "{ " + ", ".join(f"{toml_key(str(k))} = {toml_value(v)}" for k, v in value.items()) + " }"
            if value
            else "{}"
        )
    raise InputError("not a value of a job file", repr(value), "text, a finite number, true or false, a list, a table")


def block(table: str, values: Mapping[str, Any]) -> str:
    """The lines of a row such as [[opening]]: signs in one column, a long list's rows on lines of their own. `values`:
    its keys; a table of a side ("right") comes under a header of its own."""
    sides = {k: v for k, v in values.items() if k in ("left", "right") and isinstance(v, Mapping)}
    parts = [f"[[{toml_key(table)}]]\n" + _keys({k: v for k, v in values.items() if k not in sides})]
    parts += [f"[{toml_key(table)}.{side}]\n" + _keys(own) for side, own in sides.items()]
    return "\n".join(parts)


def _keys(values: Mapping[str, Any]) -> str:
    width = max((len(toml_key(k)) for k in values), default=0)
    return "".join(f"{toml_key(k).ljust(width)} = {_long(v)}\n" for k, v in values.items())


def _long(value: Any) -> str:
    if isinstance(value, (list, tuple)) and value and all(isinstance(v, dict) for v in value):
        return "[\n" + "".join(f"  {toml_value(v)},\n" for v in value) + "]"
    return toml_value(value)


def typed(written: str) -> tuple[Any, ...]:
    """What a person may have meant by what they typed into a field, the likeliest first."""
    text = written.strip()
    try:
        parsed = tomllib.loads(f"v = {text}")
        if set(parsed) == {"v"}:  # not a line end and a key of its own
            toml_value(parsed["v"])  # not a date: no value of a job, but perhaps a name
            return (parsed["v"],) if text[:1] in "\"'[{" else (parsed["v"], text)
    except (tomllib.TOMLDecodeError, RecursionError, InputError):
        pass
    return (text,)


def written(value: Any) -> str:
    """A value of the file as it is typed into a field."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_part(v)}" for k, v in value.items()) + " }"
    return _part(value)


def _part(value: Any) -> str:
    if isinstance(value, dict):
        return written(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(_part, value)) + "]"
    return json.dumps(value, ensure_ascii=False)
