"""Values, keys and rows as TOML writes them, and values as a person types them."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from math import isfinite
from typing import Any

from backwave.errors import InputError


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
    """The lines of a row such as [[opening]]: signs in one column, a long list's rows on lines of their own.

    `values`: its keys; a table of a side ("right") comes under a header of its own.
    """
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
