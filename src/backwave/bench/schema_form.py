"""Every key of the job file as something that can be filled in, from the file's own schema.

A `FormTable` has fields, tables below it and lists of rows; a `Field` says what may stand there.  A path leads to each.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from backwave.errors import QuantityError
from backwave.job.schema import json_schema
from backwave.job.toml_spans import KeyPath
from backwave.units import parse, show


@dataclass(frozen=True)
class Field:
    """One key."""

    key: str  # its name in the file, in words, and what it means
    label: str
    hint: str
    kind: str
    options: tuple[str, ...]  # what may stand there, or suggestions for a text
    dimension: str  # of a quantity; "" for anything else
    assumed: str  # what stands in where nothing is given, and on what ground
    why: str
    required: bool  # it has to be given; something computes with it
    used: bool


@dataclass(frozen=True)
class FormTable:
    """A table of the file."""

    key: str
    label: str
    hint: str
    fields: tuple[Field, ...]
    below: tuple[tuple[FormTable, bool], ...]  # tables in it; True: a list of them


@cache
def _schema() -> dict[str, Any]:
    return json_schema()


def _kinds(node: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    if "$ref" in node:
        yield from _kinds(_schema()["$defs"][node["$ref"].rpartition("/")[2]])
    elif "anyOf" in node:
        for one in node["anyOf"]:
            yield from _kinds(one)
    elif node.get("type") != "null":
        yield node


def _find(node: Any, key: str) -> Any:
    if isinstance(node, dict):
        if key in node:
            return node[key]
        return next((f for v in node.values() if (f := _find(v, key)) is not None), None)
    if isinstance(node, list):
        return next((f for v in node if (f := _find(v, key)) is not None), None)
    return None


_SPOKEN = {"at": "Place in the cabin", "by": "Instrument", "id": "Name in the file", "id_": "Name in the file"}


def _label(key: str) -> str:
    words = key.replace("_", " ")
    return _SPOKEN.get(key, words if words[:1].isupper() or words in ("fs",) else words[:1].upper() + words[1:])


@cache
def _table(ref: str, key: str, hint: str) -> FormTable:
    node = _schema()["$defs"][ref] if ref else _schema()
    fields: list[Field] = []
    below: list[tuple[FormTable, bool]] = []
    for name, item in node.get("properties", {}).items():
        kinds = list(_kinds(item))
        meaning = item.get("description", "")
        reference = _reference(item)
        rows = [_reference(k["items"]) for k in kinds if k.get("type") == "array" and isinstance(k.get("items"), dict)]
        if reference and not any(k.get("type") == "string" for k in kinds):
            below.append((_table(reference, name, meaning), False))
        elif rows and rows[0]:
            below.append((_table(rows[0], name, meaning), True))
        else:
            fields.append(_field(name, item, kinds, name in node.get("required", ())))
    # Names first, then what is needed, last what nothing computes with; otherwise as the model has them.
    fields.sort(key=lambda f: (f.key not in ("id", "name"), not f.required, not f.used))
    return FormTable(key, _label(key), hint, tuple(fields), tuple(below))


def _reference(item: Mapping[str, Any]) -> str:
    """The table an item refers to, if it does."""
    for one in (item, *item.get("anyOf", ())):
        if "$ref" in one:
            return str(one["$ref"].rpartition("/")[2])
        if "anyOf" in one and one is not item and (inner := _reference(one)):
            return inner
    return ""


def _field(name: str, item: Mapping[str, Any], kinds: list[Mapping[str, Any]], required: bool) -> Field:
    options = next((tuple(map(str, k["enum"])) for k in kinds if "enum" in k), ())
    flag = any(k.get("type") == "boolean" for k in kinds)
    default = item.get("default")
    assumed = ""
    if item.get("x-assumed") and default is not None:
        assumed = _plain(default)
    words = _find(list(kinds), "examples") or ()
    return Field(
        key=name,
        label=_label(name),
        hint=item.get("description", ""),
        kind="choice" if options else "flag" if flag else "text",
        options=options or (("true", "false") if flag else tuple(map(str, words))),
        dimension=_find(dict(item), "x-dimension") or _find(list(kinds), "x-dimension") or "",
        assumed=assumed,
        why=str(item.get("x-assumed", "")),
        required=required,
        used=item.get("x-used") is not False,
    )


def _plain(value: Any) -> str:
    if isinstance(value, dict) and "text" in value:
        return str(value["text"])
    if isinstance(value, (list, tuple)):
        return json.dumps([_plain(v) for v in value], ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else str(value)


def table(*keys: str) -> FormTable:
    """A table by its keys from the top, positions left out: ("opening",)."""
    found = _table("", "job", "The job")
    for key in keys:
        found = next(t for t, _ in found.below if t.key == key)
    return found


def tops() -> tuple[tuple[FormTable, bool], ...]:
    """The tables of the file, in its order; True: a list of rows."""
    return table().below


def at(data: Any, path: KeyPath) -> Any:
    """What stands at a path, or None."""
    for key in path:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def understood(field: Field, value: Any, system: str) -> str:
    """What a quantity was understood as, in the units the person reads in; "" where there is nothing to add."""
    if not field.dimension or value is None or field.dimension == "ratio":
        return ""
    many = value if isinstance(value, list) else [value]
    said = []
    for one in many:
        try:
            q = parse(one, field.dimension)
        except (QuantityError, TypeError, AttributeError):
            return ""
        inches = system == "metric" and q.unit in ("in", "ft", "mil")
        text = show(q.to("mm"), "mm") if inches else show(q.value, q.unit, system)
        if q.half is not None:
            text += f" ± {_spread(q.half, q.unit, system)}, either way"
        elif q.u is not None:
            text += f", standard uncertainty {_spread(q.u, q.unit, system)}"
        said.append(text)
    return "; ".join(said) + (f" ({len(said)} readings of one thing)" if _readings(field, value) else "")


def _spread(value: float, unit: str, system: str) -> str:
    return show(value, unit, system) if system == "us" else f"{value:g} {unit}"


def _readings(field: Field, value: Any) -> bool:
    return isinstance(value, list) and field.key != "at" and field.key not in ("ear", "bed", "stock")


def field_id(path: KeyPath) -> str:
    """The name of a field on the page."""
    return "f-" + "-".join(map(str, path))


def key_name(path: KeyPath) -> str:
    """The last keys of a path without positions: "trim.clear"."""
    return ".".join(str(k) for k in path[2:] if isinstance(k, str) and k not in ("left", "right"))
