"""What the model refuses, in a person's words: the key, what was found, what is accepted."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from math import isfinite
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from backwave.errors import InputError, Problem, QuantityError
from backwave.job.model import JobFile
from backwave.job.raw_checks import shown

Keys = tuple[str | int, ...]

_WORDS = {
    "missing": ("this key has to be given", ""),
    "int_type": ("not a whole number", "a whole number"),
    "int_parsing": ("not a whole number", "a whole number"),
    "float_type": ("not a number", "a number without a unit"),
    "finite_number": ("not a finite number", "a finite number"),
    "float_parsing": ("not a number", "a number without a unit"),
    "string_type": ("not text", 'text in quotes, such as "front-door"'),
    "bool_type": ("not true or false", "true or false"),
    "bool_parsing": ("not true or false", "true or false"),
    "tuple_type": ("not a list", "a list, [ ... ]"),
    "model_type": ("not a table", "a table, such as { key = value }"),
    "dict_type": ("not a table", "a table"),
}


_LIMITS = ("ge", "gt", "le", "lt", "max_length", "min_length")
_BEYOND = {
    "greater_than": ("too small a number", "a number above {:g}"),
    "greater_than_equal": ("too small a number", "{:g} or more"),
    "less_than": ("too large a number", "a number below {:g}"),
    "less_than_equal": ("too large a number", "up to {:g}"),
    "string_too_long": ("too long a text", "up to {} letters"),
    "string_too_short": ("too short a text", "{} or more letters"),
    "too_long": ("too long a list", "up to {}"),
    "too_short": ("too short a list", "{} or more"),
}


def translated(error: Any, problem: Callable[..., Problem]) -> Problem:
    """One error of the model as a problem of the file.

    `problem`: makes a problem of path, message, what was found, what is accepted and the nearest known key.
    """
    path: Keys = tuple(error["loc"])
    kind, found = error["type"], _quoted(error.get("input", ""))
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, QuantityError):
        return problem(path, cause.what, _quoted(cause.found), cause.accepted)
    if isinstance(cause, InputError):
        if isinstance(error["input"], str):
            return problem(path, cause.what, _quoted(cause.found), cause.accepted)
        return problem(path, f"{cause.what}: {shown(cause.found)}", "", cause.accepted)
    if kind == "extra_forbidden":
        known = _known(path[:-1])
        near = get_close_matches(str(path[-1]), known, n=1, cutoff=0.6)
        return problem(path, "an unknown key", path[-1], "one of " + ", ".join(known), near[0] if near else "")
    if kind == "missing":
        missing = "this key has to be given" if isinstance(path[-1], str) else "too short a list"
        return problem(path, missing, "nothing", _meaning(path))
    if kind == "literal_error":
        accepted = error["ctx"]["expected"].replace("'", '"')
        return problem(path, "not one of the accepted words", found, accepted)
    limit = next((v for k, v in error.get("ctx", {}).items() if k in _LIMITS), None)
    if kind in _BEYOND and limit is not None:
        what, accepted = _BEYOND[kind]
        return problem(path, what, found, accepted.format(limit))
    if kind in ("float_type", "int_type") and isinstance(error.get("input"), str) and _number(error["input"]):
        what = _WORDS[kind][0] + ": it stands in quotes"
        return problem(path, what, f'"{found}"', f"the same without quotes: {found}")
    message, accepted = _WORDS.get(kind, (in_words(error["msg"]), _meaning(path)))
    return problem(path, message, found, accepted)


def _number(text: str) -> bool:
    try:
        return isfinite(float(text))
    except ValueError:
        return False


def _quoted(found: Any) -> Any:
    """What was found; of an empty text its quotes."""
    return '""' if found == "" else found


def in_words(message: str) -> str:
    """A message of the library without its way of speaking."""
    words = message[:1].lower() + message[1:]
    return words.replace("input should be a valid", "this is no").replace("input should", "this should")


def of_another_kind(error: Any) -> bool:
    """Whether the value itself is wrong; a table that contradicts itself is still a table with its id."""
    kind = error["type"]
    of_itself = kind == "value_error" and isinstance(error["input"], (dict, BaseModel))
    return kind.endswith(("_type", "_error")) and not of_itself


def _model_at(path: Keys) -> type[BaseModel] | None:
    """The table class that a path of the file leads to."""
    model: Any = JobFile
    for step in path:
        if isinstance(step, int):
            continue
        if model is None:
            return None
        named = {f.alias or n: f for n, f in model.model_fields.items()}
        model = _table(named[step].annotation) if step in named else None
    return model


def _table(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, UnionType, tuple, Annotated):
        return next((t for a in get_args(annotation) if (t := _table(a)) is not None), None)
    return None


def _known(path: Keys) -> list[str]:
    model = _model_at(path)
    return [] if model is None else [f.alias or n for n, f in model.model_fields.items()]


def _meaning(path: Keys) -> str:
    while path and isinstance(path[-1], int):  # of an item, what its list means
        path = path[:-1]
    parent = _model_at(path[:-1])
    name = str(path[-1]) if path else ""
    if parent is None:
        return ""
    for key, info in parent.model_fields.items():
        if name in (key, info.alias):
            return info.description or ""
    return ""
