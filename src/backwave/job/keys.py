"""Keys as people see them: `opening.front-door.behind[0].clear`, and how to find what stands at one.

The row of a table of tables is named by its id (its number where it has none).  Where no table is named
(`front-door.behind[0].clear`) an opening is meant before a speaker, a speaker before an adapter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from backwave.errors import InputError
from backwave.units import Quantity

__all__ = ["ROWS", "Step", "at", "leaves", "name", "parse_key", "walk_model"]

Step = str | int
ROWS = ("opening", "speaker", "adapter", "seat", "source", "stage", "box", "load", "wire", "reading")

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")
_WHOLE = re.compile(r"[^.\[\]]+(\.[^.\[\]]+|\[\d+\])*")


def parse_key(text: str) -> tuple[Step, ...]:
    """A key in its steps: "hole.diameter", "behind[0].clear".

    Parameters
    ----------
    text : str, no unit
        The key.

    Raises
    ------
    InputError
        Not a key.
    """
    if not _WHOLE.fullmatch(text):
        raise InputError("not a key", text, "names with dots and [numbers], such as opening.front-door.behind[0].clear")
    return tuple(int(m[2]) if m[2] is not None else m[1] for m in _STEP.finditer(text))


def name(path: Sequence[Step], data: Any = None) -> str:
    """A path as people see it, rows by their id where the data is at hand.

    Parameters
    ----------
    path : sequence of str or int, no unit
        Keys and positions from the top of the file.
    data : mapping or JobFile, no unit
        The file, plain or as a model; None names rows by number.
    """
    words, here = "", data
    for depth, step in enumerate(path):
        here = _below(here, step)
        if isinstance(step, int):
            row = _id(here) if depth == 1 and path[0] in ROWS else None
            words += f".{row}" if row else f"[{step}]"
        else:
            words += f".{step}" if words else step
    return words


def _below(here: Any, step: Step) -> Any:
    if isinstance(here, BaseModel):
        return getattr(here, str(step), None)
    try:
        return here[step]
    except (KeyError, IndexError, TypeError):
        return None


def _id(row: Any) -> str | None:
    found = row.get("id", row.get("opening")) if isinstance(row, Mapping) else getattr(row, "name", None)
    if isinstance(row, BaseModel):
        found = getattr(row, "id", None) or getattr(row, "opening", None)
    return found if isinstance(found, str) and re.fullmatch(r"[\w-]+", found) else None


def at(model: Any, path: Sequence[Step]) -> Any:
    """What stands in a model below a path; None where nothing does.

    Parameters
    ----------
    model : pydantic model or tuple, no unit
        Where to start.
    path : sequence of str or int, no unit
        Field names and positions.

    Raises
    ------
    InputError
        A key that the model does not know.
    """
    here = model
    for step in path:
        if here is None:
            return None
        if isinstance(here, BaseModel):
            if step not in type(here).model_fields:
                raise InputError("no such key", name(path), ", ".join(type(here).model_fields))
            here = getattr(here, str(step))
        elif isinstance(here, Mapping):
            here = here.get(str(step))
        elif isinstance(here, tuple) and isinstance(step, int):
            here = here[step] if step < len(here) else None
        else:
            return None
    return here


def walk_model(model: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[tuple[Step, ...], BaseModel]]:
    """Every table of a model with its path, from the top.

    Parameters
    ----------
    model : pydantic model, tuple or mapping, no unit
        Where to start.
    path : tuple of str or int, no unit
        The path of that start.
    """
    if isinstance(model, BaseModel):
        yield path, model
        for field in type(model).model_fields:
            yield from walk_model(getattr(model, field), (*path, field))
    elif isinstance(model, tuple):
        for i, item in enumerate(model):
            yield from walk_model(item, (*path, i))


def leaves(model: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[tuple[Step, ...], Quantity]]:
    """Every quantity of a model with its path; several readings of one key come one by one.

    Parameters
    ----------
    model : pydantic model, tuple, mapping or Quantity, no unit
        Where to start.
    path : tuple of str or int, no unit
        The path of that start.
    """
    if isinstance(model, Quantity):
        yield path, model
    elif isinstance(model, BaseModel):
        for field in type(model).model_fields:
            yield from leaves(getattr(model, field), (*path, field))
    elif isinstance(model, Mapping):
        for k, item in model.items():
            yield from leaves(item, (*path, k))
    elif isinstance(model, tuple):
        for i, item in enumerate(model):
            yield from leaves(item, (*path, i))
