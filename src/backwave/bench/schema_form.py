"""Every key of the job file as something that can be filled in, from the file's own schema.

A `FormTable` has fields, tables below it and lists of rows; a `Field` says what may stand there.  A path leads to each.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

from backwave.errors import QuantityError
from backwave.job.schema import json_schema
from backwave.job.toml_spans import KeyPath
from backwave.units import parse, show


@dataclass(frozen=True)
class Field:
    key: str  # its name in the file
    label: str  # the same in words
    hint: str  # what it means
    kind: str  # "choice", "flag" or "text"
    options: tuple[str, ...]  # what may stand there, or suggestions for a text
    dimension: str  # of a quantity; "" for anything else
    assumed: str  # what stands in where nothing is given
    why: str  # and on what ground
    required: bool
    used: bool  # whether something computes with it


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
    default, words = item.get("default"), _find(list(kinds), "examples") or ()
    return Field(
        key=name,
        label=_label(name),
        hint=item.get("description", ""),
        kind="choice" if options else "flag" if flag else "text",
        options=options or (("true", "false") if flag else tuple(map(str, words))),
        dimension=_find(dict(item), "x-dimension") or _find(list(kinds), "x-dimension") or "",
        assumed=_plain(default) if item.get("x-assumed") and default is not None else "",
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
        half, u = (v and (show(v, q.unit, system) if system == "us" else f"{v:g} {q.unit}") for v in (q.half, q.u))
        said.append(text + (f" ± {half}, either way" if half else f", standard uncertainty {u}" if u else ""))
    of_one = isinstance(value, list) and field.key not in ("at", "ear", "bed", "stock")
    return "; ".join(said) + (f" ({len(said)} readings of one thing)" if of_one else "")


def field_id(path: KeyPath) -> str:
    return "f-" + "-".join(map(str, path))


def key_name(path: KeyPath) -> str:
    """The last keys of a path without positions: "trim.clear"."""
    return ".".join(str(k) for k in path[2:] if isinstance(k, str) and k not in ("left", "right"))


# Depth behind the metal runs to the left; the driver's axis is the lower edge.  Sheet units.
AXIS, METAL, SEAT = 330.0, 200.0, 236.0
_Dim = tuple[str, str, float, float, float, float]  # keys, words, from x y, to x y


def sketch(about: str) -> str:
    """The sketch as SVG; each dimension carries the keys it answers to."""
    dims: tuple[_Dim, ...]
    if about == "speaker":
        dims = (
            ("frame", "frame", 262, 94, 262, AXIS),
            ("cutout", "cutout", 226, 124, 226, AXIS),
            ("holes.circle holes.diameter holes.count", "bolt circle", 290, 108, 290, AXIS),
            ("magnet", "magnet", 80, 232, 80, AXIS),
            ("depth profile", "depth", 98, 376, SEAT, 376),
            ("rim", "rim", SEAT, 60, SEAT + 14, 60),
            ("front front.moving front.crest front.fixed", "front", SEAT, 398, 266, 398),
            ("motor.Xmech motor.Xmax", "excursion", 266, 376, 312, 376),
            ("terminals.depth terminals.radius terminals.width terminals.angle", "terminals", 150, 130, 150, AXIS),
        )
    else:
        dims = (
            ("hole.diameter hole.outline", "hole", 190, 112, 190, AXIS),
            ("flange flange.diameter flange.ellipse flange.outline", "flange", 218, 66, 218, AXIS),
            ("fixings fixings.x fixings.y fixings.hole fixings.head", "fixing", 178, 82, 178, AXIS),
            ("behind behind.clear", "free depth", 40, 376, METAL, 376),
            ("behind.radius behind.angle", "at radius", 40, 250, 40, AXIS),
            ("trim.clear", "metal to grille", METAL, 40, 346, 40),
            ("trim.land", "to where the foam presses", METAL, 20, 322, 20),
            ("trim.grille", "grille", 356, 140, 356, AXIS),
            ("factory.height", "factory unit", METAL, 398, 318, 398),
            ("skin", "metal", METAL - 8, 420, METAL, 420),
            ("thickness", "thickness", METAL + 8, 440, SEAT, 440),
            ("foam.back foam.closed", "back gasket", METAL, 462, METAL + 8, 462),
            ("foam.ring foam.width", "foam ring", 250, 484, 322, 484),
        )
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 500" class="sketch" role="img" '
        'aria-label="What each length means; not to scale">',
        '<g class="bodies">',
        '<path class="glass" d="M28 44H40V330H28Z"/>',
        f'<path class="metal" d="M{METAL - 8} 44H{METAL}V112H{METAL - 8}Z"/>',
        f'<path class="foam" d="M{METAL} 66H{METAL + 8}V104H{METAL}Z"/>',
        f'<path class="part" d="M{METAL + 8} 66H{SEAT}V124H{METAL + 8}Z"/>',
        f'<path class="driver" d="M{SEAT} 94H{SEAT + 14}V124L{SEAT} 136L176 232V330H98V232H176L{SEAT} 128Z"/>',
        f'<path class="cone" d="M{SEAT + 10} 128L196 288V330"/>',
        f'<path class="cone travel" d="M{SEAT + 56} 128L242 288V330"/>',
        '<path class="foam" d="M250 94H322V112H250Z"/>',
        '<path class="trim" d="M322 44H346V140H322Z"/>',
        '<path class="grille" d="M346 140V330"/>',
        '<path class="axis" d="M8 330H392"/>',
        "</g>",
    ]
    out += [_dimension(*dim) for dim in dims]
    out += ['<text class="what" x="14" y="30">glass</text>', "</svg>"]
    return "\n".join(out)


def _dimension(keys: str, words: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """A dimension line with its arrows and its words; the words stand beside it or over it."""
    level = y1 == y2
    size = 6.0
    if level:
        heads = (
            f"M{x1 + size} {y1 - 3}L{x1} {y1}L{x1 + size} {y1 + 3}M{x2 - size} {y2 - 3}L{x2} {y2}L{x2 - size} {y2 + 3}"
        )
        side = x2 + 6 if x2 < 240 and x2 - x1 < 60 else (x1 + x2) / 2
        anchor = "start" if side > x2 else "middle"
        label = f'<text x="{side}" y="{y1 + (4 if anchor == "start" else -5)}" text-anchor="{anchor}">{escape(words)}</text>'
        feet = (
            f"M{x1} {min(y1, 330)}V{y1 + 3}M{x2} {min(y1, 330)}V{y2 + 3}"
            if y1 > 330
            else f"M{x1} {y1 - 3}V66M{x2} {y1 - 3}V66"
        )
    else:
        heads = f"M{x1 - 3} {y1 + size}L{x1} {y1}L{x1 + 3} {y1 + size}"
        at = {"fixing": 0.3, "hole": 0.62, "flange": 0.2, "cutout": 0.7, "frame": 0.3}.get(words, 0.5)
        label = f'<text class="up" transform="translate({x1 - 4} {y1 + (y2 - y1) * at}) rotate(-90)" text-anchor="middle">{escape(words)}</text>'
        feet = f"M{x1 - 5} {y1}H{x1 + 5}"
    return f'<g data-key="{keys}" class="dim"><path class="feet" d="{feet}"/><path d="M{x1} {y1}L{x2} {y2}{heads}"/>{label}</g>'
