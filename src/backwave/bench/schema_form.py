"""Every key of the job file as something that can be filled in, from the file's own schema.

A `FormTable` has fields, tables below it and lists of rows; a `Field` says what may stand there.  A path leads to each.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import Any

from backwave.errors import QuantityError
from backwave.job import key_help
from backwave.job.schema import json_schema
from backwave.job.toml_spans import KeyPath, written
from backwave.units import clock, parse, show


@dataclass(frozen=True)
class Field:
    key: str  # its name in the file
    label: str  # the same in words
    hint: str  # what it means
    # "choice", "flag", "text"; "list": texts that are told apart by semicolons; "cells": one row of a table, as many
    # values as `columns`; "pairs": a row each
    kind: str
    options: tuple[str, ...]  # what may stand there, or suggestions for a text
    dimension: str  # of a quantity; "" for anything else
    assumed: str  # what stands in where nothing is given
    why: str  # and on what ground
    required: bool
    used: bool  # whether something computes with it
    columns: tuple[str, ...] = ()  # what stands in the cells of one row
    unit: str = ""  # "mm": of cells that hold bare numbers


@dataclass(frozen=True)
class FormTable:
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


_SPOKEN = {"at": "Place in the cabin", "by": "Instrument", "id": "Name in the file", "id_": "Name in the file",
           "land": "Where the foam meets the trim"}  # fmt: skip


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
        if reference:
            below.append((_table(reference, name, meaning), False))
        elif rows and rows[0]:
            below.append((_table(rows[0], name, meaning), True))
        if not (reference or (rows and rows[0])) or any(k.get("type") == "string" for k in kinds):
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
    default, words = item.get("default"), _find(list(kinds), "examples") or ()
    scalar = any(k.get("type") not in ("array", "object") for k in kinds)
    array = next((k for k in kinds if k.get("type") == "array" and not scalar), {})
    inner = array.get("items", {})
    cells = array.get("prefixItems") or (inner.get("prefixItems") if isinstance(inner, dict) else None) or ()
    kind = "cells" if "prefixItems" in array else "pairs" if cells else "list" if array else "text"
    kind = "choice" if options and not array else "flag" if flag else kind
    return Field(
        key=name,
        label="Centers" if kind == "pairs" and name == "at" else _label(name),
        hint=item.get("description", ""),
        kind=kind,
        options=options or (("true", "false") if flag else tuple(map(str, words))),
        dimension=_find(dict(item), "x-dimension") or _find(list(kinds), "x-dimension") or "",
        assumed=_plain(default) if item.get("x-assumed") and default is not None else "",
        why=str(item.get("x-assumed", "")),
        required=required,
        used=item.get("x-used") is not False,
        columns=_columns(name, cells),
        unit="mm" if cells and "minimum" in cells[0] and "exclusiveMinimum" not in cells[0] else "",
    )


_COLUMNS = {
    "profile": ("radius", "depth"), "at": ("back", "right", "up"), "ear": ("back", "right", "up"),
    "offset": ("right", "up"), "ellipse": ("width", "height"), "bed": ("width", "depth", "height"),
    "colors": ("plus", "minus"),
}  # fmt: skip


def _columns(name: str, cells: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    if not cells:
        return ()
    if cells[0].get("type") == "number":
        return ("Hz", "dB") if "exclusiveMinimum" in cells[0] else ("x, mm", "y, mm")
    named = _COLUMNS.get(name, ())
    return named if len(named) == len(cells) else ("from", "to") if len(cells) == 2 else tuple("123456"[: len(cells)])


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


def find(keys: Sequence[str]) -> FormTable | Field | None:
    """The table or field that these keys lead to from the top; None where there is none. A field before a table of the
    same name."""
    found = table()
    for n, key in enumerate(keys, 1):
        field = next((f for f in found.fields if f.key == key), None) if n == len(keys) else None
        inner = next((t for t, _ in found.below if t.key == key), None)
        if field is not None or inner is None:
            return field
        found = inner
    return found


def tops() -> tuple[tuple[FormTable, bool], ...]:
    """The tables of the file, in its order; True: a list of rows."""
    return table().below


def spoken(value: Any) -> str:
    """A value as it is typed into a field: several of them apart by semicolons."""
    if isinstance(value, list) and not any(isinstance(v, (dict, list)) or ";" in str(v) for v in value):
        return "; ".join(written(v) for v in value)
    return written(value)


def with_unit(text: str, system: str = "metric") -> str:
    """Lengths as typed, each with its unit: a number that has none is in mm, in a job in US units in inches."""

    def one(part: str) -> str:
        for told in (part, f"{part} {'in' if system == 'us' else 'mm'}"):
            with suppress(QuantityError):
                if not parse(told, "length").fractional or told == part or system == "us":  # 1/2 mm is no trade size
                    return told
        return part

    return "; ".join(one(part) for piece in text.split(";") if (part := piece.strip()))


def meant(field: Field, text: str, system: str = "") -> str:
    """What was typed as the file has it: a list where semicolons part it, a bare number where the cell has a unit; in
    a person's `system` a plain number is a length."""
    text = text.strip()
    if system and field.dimension == "length" and not field.unit and text[:1] not in ("[", "{"):
        text = with_unit(text, system)
    if field.unit and text[-1:].isalpha():
        with suppress(QuantityError):
            return f"{parse(text, 'length').to(field.unit):.10g}"
    if text[:1] in ("", "[", "{") or (field.kind != "list" and not (field.dimension and ";" in text)):
        return text
    return written([part.strip() for part in text.split(";") if part.strip()])


DIRECTIONS = ("angle", "toward")  # keys that say which way, which is said both ways; other angles are turned by


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
        if field.key in DIRECTIONS:
            deg = q.to("deg")
            text = f"{deg:g}\u00b0, counterclockwise from 3 o'clock" if q.on_a_clock else clock(deg)
        half, u = (v and (show(v, q.unit, system) if system == "us" else f"{v:g} {q.unit}") for v in (q.half, q.u))
        said.append(text + (f" ± {half}, either way" if half else f", standard uncertainty {u}" if u else ""))
    of_one = isinstance(value, list) and field.key not in ("at", "ear", "bed", "stock")
    return "; ".join(said) + (f" ({len(said)} readings of one thing)" if of_one else "")


def accepted(path: KeyPath, field: Field) -> str:
    """What may stand in a field, as it is typed on the page: several apart by semicolons, of a row what its cells say."""
    if (told := key_help.of(path)) is None:
        return ""
    one, words = bool(field.columns), told.accepted
    words = words.replace(", or a list of readings", "" if one else ", or several readings with ; between them")
    words = re.sub('[]["]', "", words.replace("list of ", "" if one else "several with ; between them, each "))
    value: Any = next(iter(tomllib.loads(told.example).values()), None)
    while isinstance(value, list) and value and isinstance(value[0], list):
        value = value[0]
    if field.columns and isinstance(value, list):
        names = [name.partition(",")[0] for name in field.columns]
        value = ", ".join(f"{name} {spoken(one)}" for name, one in zip(names, value, strict=False))
    return f"Accepted: {words}" + ("" if value is None or isinstance(value, dict) else f". Such as {spoken(value)}")


def field_id(path: KeyPath) -> str:
    return "f-" + "-".join(map(str, path))


# what a person calls one row of a list
ONE = {"fixings": "fixing", "behind": "reading", "slots": "slot", "distances": "distance"}
SIDED = ("opening", "left", "right")  # tables with what is measured of an opening
_FIRST = ("hole", "behind", "trim", "flange", "fixings", "distances")


def in_order(below: Sequence[tuple[FormTable, bool]]) -> tuple[list[tuple[FormTable, bool]], ...]:
    """The tables below one: those that are needed first, in the order they are measured, and the rest."""
    first = sorted((one for one in below if one[0].key in _FIRST), key=lambda one: _FIRST.index(one[0].key))
    return first, [one for one in below if one not in first]


def ordered(fields: Sequence[Field]) -> list[Field]:
    """The columns of a table: places first, the instrument last."""
    return sorted(fields, key=lambda f: (f.key not in ("x", "y"), f.key == "by"))


def path_words(path: KeyPath) -> str:
    """A path as a person says it: "Fixing 2, hole"."""
    words: list[str] = []
    for n, step in enumerate(path[2:] if len(path) > 2 else path):
        if isinstance(step, int):
            last = words.pop() if words else ""
            words.append(f"{ONE.get(last.lower(), last)} {step + 1}")
        else:
            words.append(_label(step) if not n else _label(step).lower())
    said = ", ".join(words)
    return said[:1].upper() + said[1:]
