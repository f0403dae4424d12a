"""One key of a job file changed in its text: every other letter, comment and line stays where it is.

The text is edited at the place the parser names and never written anew: a writer that keeps comments still moves
tables that stand apart ([[source]] before and after [[stage]]) together.
"""

from __future__ import annotations

import json
import re
from math import isfinite
from typing import Any

from backwave.errors import InputError
from backwave.job.lines import Lines, lines_of, lines_replaced

__all__ = ["edited", "toml_key", "toml_value"]

Path = tuple[str | int, ...]


def edited(text: str, key: str, value: Any) -> str:
    """The text with one key set, or taken out where the value is None.

    Parameters
    ----------
    text : str, no unit
        A job file.
    key : str, no unit
        "opening.front-door.hole.diameter" or "adapter[0].thickness": tables by their id or their position.
    value : object, no unit
        Text, number, list or table as it should stand in the file; None takes the key out.

    Raises
    ------
    InputError
        No such place in the file, or one that has to be changed by hand.
    JobError
        A text that is no TOML.
    """
    lines = lines_of(text)
    plain = text.replace("\r\n", "\n")
    path, missing = _resolved(lines.data, _steps(key), key)
    if value is None:
        if missing:
            raise InputError("no such key to take out", key, ", ".join(map(str, _at(lines.data, path))))
        new = _without(plain, lines, path, key)
    elif missing:
        new = _with(plain, lines, path, missing, toml_value(value), key)
    else:
        span = lines.value(path)
        if span is None:
            raise InputError("a table under a header of its own", key, "one of its keys at a time")
        held = toml_value(value)
        if held == toml_value(_at(lines.data, path)):
            return text  # 0.80 stays as it was written
        new = plain[: span.start] + held + plain[span.stop :]
    new = new.replace("\n", "\r\n") if "\r\n" in text else new
    if value is not None and not missing:
        lines_replaced(text, path, new, held)  # so that nobody has to read the whole of it again
    return new


def _steps(key: str) -> list[str | int]:
    steps: list[str | int] = []
    for part in key.split("."):
        match = re.fullmatch(r"([^\[\]]+)((?:\[\d+\])*)", part)
        if match is None:
            raise InputError("not a key", key, "such as opening.front-door.hole.diameter")
        steps.append(match[1])
        steps += [int(n) for n in re.findall(r"\d+", match[2])]
    return steps


def _resolved(data: Any, steps: list[str | int], key: str) -> tuple[Path, list[str]]:
    """The path as far as it is there, ids turned into positions, and the keys that are not there yet."""
    path: list[str | int] = []
    node = data
    for depth, step in enumerate(steps):
        if isinstance(node, list):
            step = _position(node, step, key)
        elif not isinstance(node, dict) or step not in node:
            rest = [s for s in steps[depth:] if isinstance(s, str)]
            if not isinstance(node, dict) or len(rest) < len(steps) - depth:
                raise InputError("no such place in the job", key, "a key of a table that is there")
            return tuple(path), rest
        path.append(step)
        node = node[step]
    return tuple(path), []


def _position(rows: list[Any], step: str | int, key: str) -> int:
    if isinstance(step, int):
        if step < len(rows):
            return step
    else:
        for i, row in enumerate(rows):
            if isinstance(row, dict) and row.get("id") == step:
                return i
    ids = [str(row.get("id", i)) if isinstance(row, dict) else str(i) for i, row in enumerate(rows)]
    raise InputError(f"no {step!r} in the job", key, "one of " + ", ".join(ids))


def _at(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


def _line_end(text: str, place: int) -> int:
    end = text.find("\n", place)
    return len(text) if end < 0 else end


def _without(text: str, lines: Lines, path: Path, key: str) -> str:
    name, span = lines.key(path), lines.value(path)
    if name is None or span is None:
        raise InputError(
            "not a single key", key, "a key with its value; the list as a whole, or a table's keys one by one"
        )
    if lines.value(path[:-1]) is None:  # a line of its own
        start = text.rfind("\n", 0, name.start) + 1
        return text[:start] + text[_line_end(text, span.stop) + 1 :]
    before, after = text[: name.start], text[span.stop :]
    trailing = re.match(r"\s*,\s*", after)
    return before + after[trailing.end() :] if trailing else re.sub(r",\s*$", " ", before) + after.lstrip(" ")


def _with(text: str, lines: Lines, path: Path, missing: list[str], value: str, key: str) -> str:
    dotted = ".".join(map(toml_key, missing))
    inline = lines.value(path)
    if inline is not None:  # { a = 1 }
        inside = text[inline.start + 1 : inline.stop - 1].rstrip()
        comma = ", " if inside.strip() else " "
        return f"{text[: inline.start]}{{{inside}{comma}{dotted} = {value} }}{text[inline.stop :]}"
    table = _at(lines.data, path)
    held = [
        (span.stop, name) for k in table if (span := lines.value((*path, k))) and (name := lines.key((*path, k)))
    ]
    if held and (path or len(missing) == 1):
        stop, name = max(held, key=lambda h: h[0])
        # in line with the last of its neighbors: same prefix, the sign in the same column
        start, end = text.rfind("\n", 0, name.start) + 1, _line_end(text, stop)
        column = text.index("=", name.stop) - name.start
        line = f"{text[start : name.start]}{dotted.ljust(column - 1)} = {value}"
        return f"{text[:end]}\n{line}{text[end:]}"
    header = lines.key(path)
    if header is not None and text[header.stop : _line_end(text, header.stop)].lstrip().startswith("]"):
        end = _line_end(text, header.stop)
        return f"{text[:end]}\n{dotted} = {value}{text[end:]}"
    if any(isinstance(step, int) for step in path):
        raise InputError("no line beside which this could stand", key, "the key written into the file by hand")
    table_name = ".".join(map(toml_key, (*map(str, path), *missing[:-1])))
    if not table_name:
        return f"{dotted} = {value}\n{text}"
    return f"{text.rstrip()}\n\n[{table_name}]\n{toml_key(missing[-1])} = {value}\n"


def toml_key(key: str) -> str:
    """A key as TOML writes it, in quotes where it has to be.

    Parameters
    ----------
    key : str, no unit
        The key.
    """
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _quoted(key)


def _quoted(text: str) -> str:
    # what JSON escapes, TOML escapes in the same way; it also wants DEL escaped
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_value(value: Any) -> str:
    """A value as TOML writes it.

    Parameters
    ----------
    value : object, no unit
        Text, number, list or table.

    Raises
    ------
    InputError
        A value that TOML has no form for.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) or (isinstance(value, float) and isfinite(value)):
        return repr(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, dict):
        return (
            "{ " + ", ".join(f"{toml_key(str(k))} = {toml_value(v)}" for k, v in value.items()) + " }"
            if value
            else "{}"
        )
    raise InputError(
        "not a value of a job file", repr(value), "text, a finite number, true or false, a list, a table"
    )
