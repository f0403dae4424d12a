"""The JSON Schema of `job.toml` and the reference page: both from the one model."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from backwave.job.fields import MAX_LETTERS, MAX_POINTS, MAX_ROWS, Dim, LevelPoint, Point, Written, keys_of, table_in
from backwave.job.model import JobFile
from backwave.units import Quantity, units_of


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a job file (draft 2020-12)."""
    schema = _named(JobFile.model_json_schema(by_alias=True))
    _bound(schema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | schema


def _named(node: Any) -> Any:
    """Tables under the names they have in the file's words: "Opening", not the class it is read into."""
    if isinstance(node, list):
        return [_named(one) for one in node]
    if not isinstance(node, dict):
        return node
    named = {key: _named(inner) for key, inner in node.items()}
    for key in ("$ref", "title"):
        if isinstance(named.get(key), str):
            named[key] = named[key].removesuffix("Table")
    if isinstance(named.get("$defs"), dict):
        named["$defs"] = {name.removesuffix("Table"): one for name, one in named["$defs"].items()}
    return named


def _bound(node: Any) -> None:
    """The lengths of texts and lists that hold for the whole file, where a key says no other."""
    for inner in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        _bound(inner)
    kind = node.get("type") if isinstance(node, dict) else None
    if kind == "string" and not node.keys() & {"enum", "const"}:
        node.setdefault("maxLength", MAX_LETTERS)
    elif kind == "array":
        points = node.get("items", {}).get("type") == "array"
        node.setdefault("maxItems", MAX_POINTS if points else MAX_ROWS)


def reference() -> list[tuple[str, str, list[tuple[str, str, str, str]]]]:
    """Every table of the file: its heading, what it is, and a row a key."""
    tables: list[tuple[str, str, list[tuple[str, str, str, str]]]] = []
    seen: set[type[BaseModel]] = set()

    def visit(model: type[BaseModel], heading: str) -> None:
        seen.add(model)
        rows, inner = [], []
        for key, info in keys_of(model).items():
            rows.append((key, accepted(info), default_of(info), _meaning(info)))
            below = table_in(info.annotation)
            if below is not None and below not in seen:
                path = f"{heading.strip('[]')}.{key}" if heading != "top" else key
                inner.append((below, f"[[{path}]]" if is_list(info.annotation) else f"[{path}]"))
        tables.append((heading, (model.__doc__ or "").strip().partition("\n")[0], rows))
        for below, path in inner:
            if below not in seen:
                visit(below, path)

    visit(JobFile, "top")
    return tables


def is_list(annotation: Any) -> bool:
    return get_origin(annotation) is tuple or any(is_list(a) for a in get_args(annotation) if get_origin(a) is tuple)


def dim_in(annotation: Any, info: FieldInfo | None = None) -> Dim | None:
    for item in info.metadata if info is not None else ():
        if isinstance(item, Dim):
            return item
    for item in getattr(annotation, "__metadata__", ()):
        if isinstance(item, Dim):
            return item
    return next((d for a in get_args(annotation) if (d := dim_in(a)) is not None), None)


def accepted(info: FieldInfo) -> str:
    """What may stand at a key, in words: kind, units, bounds, words."""
    annotation = info.annotation
    below, dim, many = table_in(annotation), dim_in(annotation, info), is_list(annotation)
    if below is not None:
        return "tables" if many else "table"
    if dim is not None:
        units = ", ".join(units_of(dim.dimension)[:4])
        words = "".join(f', "{w}"' for w in dim.words)
        several = ", or a list of readings" if dim.many else ""
        listed = "list of " if many and not dim.many else ""
        return f"{listed}{dim.dimension} ({units}), {dim.bounds}{words}{several}"
    if any(isinstance(x, Written) for x in (*info.metadata, *_leaves(annotation))):
        return ("list of " if many else "") + "text"
    if _holds(annotation, Point):
        return "points [x, y] in mm, each -1000 to 1000"
    literals = literals_in(annotation)
    if _holds(annotation, LevelPoint):
        words = "".join(f'"{v}", or ' for v in literals)
        return words + "points [Hz, dB], above 0 to 100000 Hz, -200 to 200 dB"
    if literals:
        return ("list of " if many else "") + ", ".join(f'"{v}"' if isinstance(v, str) else str(v) for v in literals)
    names = {str: "text", int: "whole number", float: "number", bool: "true or false"}
    for kind, word in names.items():
        if annotation is kind or kind in _leaves(annotation):
            return ("list of " if many else "") + word + _limits(info)
    return "table"


def _holds(annotation: Any, kind: Any) -> bool:
    return annotation == kind or any(_holds(a, kind) for a in get_args(annotation))


def _limits(info: FieldInfo) -> str:
    """ ", 1 to 40" where a number or a text has bounds of its own."""
    ends: dict[str, list[str]] = {"ge": [], "gt": [], "le": [], "max_length": []}

    def gather(metadata: Iterable[Any]) -> None:
        for item in metadata:
            gather(item.metadata if isinstance(item, FieldInfo) else ())
            for name, found in ends.items():
                if (end := getattr(item, name, None)) is not None and not isinstance(item, FieldInfo):
                    found.append(f"{end:g}")

    def visit(annotation: Any) -> None:
        gather(getattr(annotation, "__metadata__", ()))
        for inner in get_args(annotation):
            visit(inner)

    gather(info.metadata)
    visit(info.annotation)
    low, above, high, letters = (" / ".join(dict.fromkeys(found)) for found in ends.values())
    text = f", {low} to {high}" if low else f", above {above}, up to {high}" if above else ""
    return text + (f", up to {letters} letters" if letters else "")


def _leaves(annotation: Any) -> set[Any]:
    arguments = [a for a in get_args(annotation) if a is not type(None) and a is not Ellipsis]
    return {annotation} if not arguments else set().union(*(_leaves(a) for a in arguments))


def literals_in(annotation: Any) -> tuple[Any, ...]:
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return next((v for a in get_args(annotation) if (v := literals_in(a))), ())


def default_of(info: FieldInfo) -> str:
    """What stands in where a key is left out; "" for nothing."""
    if info.is_required():
        return "has to be given"
    value = info.get_default(call_default_factory=True)
    if value is None or value in ((), {}, ""):
        return ""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, tuple):
        return " x ".join(map(str, value))
    if isinstance(value, BaseModel):
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


def _meaning(info: FieldInfo) -> str:
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    text = info.description or ""
    if extra.get("x-assumed"):
        text += f" (assumed when left out: {extra['x-assumed']})"
    if extra.get("x-used") is False:
        text += " *(not used yet)*"
    return text
