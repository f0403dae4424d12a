"""Where in the text of a TOML file each key stands."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from typing import Any

from backwave.errors import JobError, Problem

__all__ = ["Lines", "key_name"]

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
        Text that is no TOML, with the line.
    """

    def __init__(self, text: str, file: str) -> None:
        import spanned_toml

        text = text.replace("\r\n", "\n")
        self._starts = [0, *(i + 1 for i, c in enumerate(text) if c == "\n")]
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
        while path:
            if path in self._at:
                return self._at[path]
            inside = [line for p, line in self._at.items() if p[: len(path)] == path]
            if inside:
                return min(inside)
            path = path[:-1]
        return None


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
