"""Sizes of a TOML text, looked at before the parser is: what a parser would need minutes or the whole memory for.

One pass over the letters, whatever they are.  It knows no more of TOML than where texts, remarks, brackets and
keys begin and end; whether the text is TOML the parser says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from backwave.errors import job_error

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
    """Refuse a text that is too large, too deep or too long in one of its parts to be read in a moment.

    JobError: the first part that is too large, with its line.
    """
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
