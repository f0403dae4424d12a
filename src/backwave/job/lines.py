"""Where in the text of a TOML file each key stands."""

from __future__ import annotations

from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Iterable
from itertools import accumulate
from threading import Lock
from typing import Any

from backwave.errors import JobError, Problem
from backwave.job.size_limits import check_size

__all__ = ["Lines", "key_name", "lines_of", "lines_replaced"]

Path = tuple[str | int, ...]


class Lines:
    """A parsed TOML text with the line of every key and value.

    Parameters
    ----------
    text : str, no unit
        The file.
    file : str, no unit
        Its name, for messages.

    Raises
    ------
    JobError
        Text that is no TOML or too large a one, with the line.
    """

    _first: dict[Path, int] | None = None  # the first line of anything inside a path, found when it is asked for

    def __init__(self, text: str, file: str) -> None:
        import spanned_toml

        text = text.replace("\r\n", "\n")
        check_size(text, file)
        self._starts = _starts(text)
        self._at: dict[Path, int] = {}
        self._keys: dict[Path, slice] = {}
        self._values: dict[Path, slice] = {}
        try:
            tree = spanned_toml.loads(text)
        except (spanned_toml.TOMLDecodeError, RecursionError) as error:
            raise JobError((_syntax(error, text, file),)) from None
        self.data: dict[str, Any] = self._plain(tree, ())

    def _plain(self, node: Any, path: Path) -> Any:
        raw = node.inner()
        if isinstance(raw, dict):
            out = {}
            for key, item in raw.items():
                name = key.inner()
                self._note((*path, name), key)
                self._keys[*path, name], self._values[*path, name] = key.span(), item.span()
                out[name] = self._plain(item, (*path, name))
            return out
        if isinstance(raw, list):
            for i, item in enumerate(raw):
                self._note((*path, i), item)
                self._values[*path, i] = item.span()
            return [self._plain(item, (*path, i)) for i, item in enumerate(raw)]
        return raw

    def _note(self, path: Path, node: Any) -> None:
        span = node.span()
        if span.stop:
            self._at[path] = bisect_right(self._starts, span.start)

    def replaced(self, path: Path, text: str, value: Lines) -> Lines:
        """The same file with one value replaced, without reading it again; tables that were not touched are shared.

        Parameters
        ----------
        path : tuple of str or int, no unit
            Where the value stands, in text of its own.
        text : str, no unit
            The new text of the file.
        value : Lines, no unit
            The new value as it was read, after "v = ".
        """
        old, new = self._values[path], value._values["v",]
        moved, grown = old.start - new.start, (new.stop - new.start) - (old.stop - old.start)

        def shifted(spans: dict[Path, slice], fresh: dict[Path, slice]) -> dict[Path, slice]:
            out: dict[Path, slice] = {}
            for at, s in spans.items():
                if at[: len(path)] == path and (len(at) > len(path) or s.start >= old.start):
                    continue  # what stood there
                start = s.start + grown if s.start >= old.stop else s.start
                out[at] = slice(start, s.stop + grown) if s.stop > old.start else s  # behind it, or around it
            for at, s in fresh.items():
                out[*path, *at[1:]] = slice(s.start + moved, s.stop + moved) if s.stop else s
            return out

        made = Lines.__new__(Lines)
        made._starts = _starts(text.replace("\r\n", "\n"))
        made._keys = shifted(self._keys, {at: s for at, s in value._keys.items() if len(at) > 1})
        made._values = shifted(self._values, value._values)
        spans = made._values | made._keys  # the line of a key is that of its name
        made._at = {at: bisect_right(made._starts, s.start) for at, s in spans.items() if s.stop}
        made.data = _with(self.data, path, value.data["v"])
        return made

    def key(self, path: Path) -> slice | None:
        """Where a key's name stands in the text (line ends counted as one character); None where it does not.

        Parameters
        ----------
        path : tuple of str or int, no unit
            Keys and positions from the top.
        """
        return _real(self._keys.get(path))

    def value(self, path: Path) -> slice | None:
        """Where a value stands in the text; None for a table under a header of its own, or with dotted keys.

        Parameters
        ----------
        path : tuple of str or int, no unit
            Keys and positions from the top.
        """
        return _real(self._values.get(path))

    def line(self, path: Path) -> int | None:
        """Line of a key, counted from 1, or of the nearest thing around it that has one.

        Parameters
        ----------
        path : tuple of str or int, no unit
            Keys and positions from the top.
        """
        if self._first is None:
            self._first = {}
            for at, line in self._at.items():
                for around in (at[:n] for n in range(1, len(at))):
                    self._first[around] = min(line, self._first.get(around, line))
        while path:
            if (found := self._at.get(path, self._first.get(path))) is not None:
                return found
            path = path[:-1]
        return None


_kept: OrderedDict[tuple[str, str], Lines] = OrderedDict()
_KEPT = 8  # texts: as it is, as it was, as it is on disk, and what is being tried
_lock = Lock()


def lines_of(text: str, file: str = "job.toml") -> Lines:
    """A text as `Lines`, read once however often it is asked for; what is in it must not be changed.

    Parameters
    ----------
    text, file : str, no unit
        As for `Lines`.

    Raises
    ------
    JobError
        As for `Lines`.
    """
    with _lock:
        held = _kept.get((file, text))
    return held if held is not None else _keep(Lines(text, file), text, file)


def lines_replaced(before: str, path: Path, after: str, written: str) -> Lines:
    """The `Lines` of a text that differs from another one in a value alone: only that value is read.

    Parameters
    ----------
    before, after : str, no unit
        The two texts.
    path : tuple of str or int, no unit
        Where the value stands.
    written : str, no unit
        The new value as it stands in the text.

    Raises
    ------
    JobError
        The value is no TOML.
    """
    made = lines_of(before).replaced(path, after, Lines(f"v = {written}", "job.toml"))
    return _keep(made, after, "job.toml")


def _keep(made: Lines, text: str, file: str) -> Lines:
    with _lock:
        _kept[file, text] = made
        _kept.move_to_end((file, text))
        while len(_kept) > _KEPT:
            _kept.popitem(last=False)
    return made


def _starts(text: str) -> list[int]:
    return [0, *accumulate(len(line) + 1 for line in text.split("\n")[:-1])]


def _with(node: Any, path: Path, value: Any) -> Any:
    """The data with one value replaced; only what leads to it is copied."""
    if not path:
        return value
    copied = node.copy()
    copied[path[0]] = _with(node[path[0]], path[1:], value)
    return copied


def _real(span: slice | None) -> slice | None:
    return span if span is not None and span.stop else None


def _syntax(error: Exception, text: str, file: str) -> Problem:
    import re

    found = re.search(r"line (\d+)", str(error))
    line = int(found[1]) if found else text.count("\n") + 1
    lines = text.split("\n")
    shown = lines[line - 1].strip() if line <= len(lines) else "the end of the file"
    what = re.sub(r" \(at .*\)$", "", str(error)).lower()
    return Problem(
        file, line, "", shown[:80], 'TOML: key = "value", one a line; text in quotes', f"not readable: {what}"
    )


def key_name(path: Iterable[str | int], data: Any) -> str:
    """A key as a person writes it: tables by their id where they have one.

    Parameters
    ----------
    path : iterable of str or int, no unit
        Keys and positions from the top.
    data : mapping, no unit
        The file's content.
    """
    name, node = "", data
    for step in path:
        if isinstance(step, int):
            item = node[step] if isinstance(node, list) and step < len(node) else None
            own = item.get("id") if isinstance(item, dict) else None
            name += f".{own}" if isinstance(own, str) and own else f"[{step}]"
            node = item
        else:
            name += f".{step}" if name else step
            node = node.get(step) if isinstance(node, dict) else None
    return name
