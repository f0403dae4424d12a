"""Sizes of a TOML text, looked at before the parser is: what a parser would need minutes or the whole memory for.

One pass over the letters, whatever they are.  It knows no more of TOML than where texts, remarks, brackets and
keys begin and end; whether the text is TOML the parser says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from backwave.errors import JobError, Problem

__all__ = ["MAX_BYTES", "check_size", "letters_refused"]

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

_CONTROL = "\x00-\x08\x0b-\x1f\x7f-\x9f"
_REFUSED = re.compile(f"[{_CONTROL}\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")
_KINDS = {"\u2028": "a line break", "\u2029": "a line break", "\x85": "a line break", "\r": "a line break"}


def letters_refused(text: str, several_lines: bool = False) -> str:
    """What a text holds that no name or note may, in words; "" where it holds nothing of that kind.

    Control characters reach terminals and files as commands, line breaks end a record there, characters that turn
    the direction of writing show another name than is meant, and half a character cannot be saved at all.

    Parameters
    ----------
    text : str, no unit
        A name, a note, a path.
    several_lines : bool, no unit
        Line breaks and tabs are part of it, as in a note.
    """
    found = _REFUSED.search(text) or (None if several_lines else re.search(r"[\n\t]", text))
    if found is None:
        return ""
    letter = found[0]
    kind = _KINDS.get(letter) or ("a line break" if letter == "\n" else "a tab" if letter == "\t" else "")
    if not kind:
        turns = "\u202a" <= letter <= "\u202e" or "\u2066" <= letter <= "\u2069"
        half = "\ud800" <= letter <= "\udfff"
        kind = (
            "a character that turns the direction of writing"
            if turns
            else "half a character"
            if half
            else "a control character"
        )
    return f"{kind} (U+{ord(letter):04X})"


def check_size(text: str, file: str) -> None:
    """Refuse a text that is too large, too deep or too long in one of its parts to be read in a moment.

    Parameters
    ----------
    text, file : str, no unit
        The text, with "\\n" at the ends of its lines, and the file's name for messages.

    Raises
    ------
    JobError
        The first part that is too large, with its line.
    """
    if len(text) > MAX_BYTES:
        raise _refused(file, None, f"{len(text):,} letters", f"up to {MAX_BYTES:,}", "too large a file")
    if not text.isascii() and (half := re.search("[\ud800-\udfff]", text)):
        line = text.count("\n", 0, half.start()) + 1
        raise _refused(file, line, f"half a character (U+{ord(half[0]):04X})", "whole characters", "not readable")
    for at, message, found, accepted in _too_large(text):
        raise _refused(file, text.count("\n", 0, at) + 1, found, accepted, message)


def _too_large(text: str) -> Iterator[tuple[int, str, str, str]]:
    values = tables = keys = parts = 0
    items: list[int] = []  # commas in each bracket that is open
    for token in _TOKEN.finditer(text):
        kind, size = token.lastgroup, token.end() - token.start()
        if kind == "open":
            return
        if kind == "word" or kind is None:
            if kind == "word" and size > MAX_WORD:
                yield token.start(), "a key or a number too long", f"{size:,} letters", f"up to {MAX_WORD}"
            elif size > MAX_TEXT and token[0][0] in "\"'":
                yield token.start(), "a text too long", f"{size:,} letters", f"up to {MAX_TEXT:,}"
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


def _refused(file: str, line: int | None, found: str, accepted: str, message: str) -> JobError:
    return JobError((Problem(file, line, "", found, accepted, message),))
