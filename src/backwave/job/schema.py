"""The JSON Schema of `job.toml` and the reference page: both from the one model."""

from __future__ import annotations

from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from backwave.job.fields import Dim, Written
from backwave.job.model import JobFile
from backwave.units import Quantity, units_of

__all__ = ["json_schema", "reference"]


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a job file (draft 2020-12)."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | JobFile.model_json_schema(by_alias=True)


def reference() -> list[tuple[str, str, list[tuple[str, str, str, str]]]]:
    """Every table of the file: its heading, what it is, and a row a key.

    Returns
    -------
    list of (heading, meaning, rows); a row is (key, what may stand there, default, meaning)
    """
    tables: list[tuple[str, str, list[tuple[str, str, str, str]]]] = []
    seen: set[type[BaseModel]] = set()

    def visit(model: type[BaseModel], heading: str) -> None:
        seen.add(model)
        rows, inner = [], []
        for name, info in model.model_fields.items():
            key = info.alias or name
            rows.append((key, _kind(info), _default(info), _meaning(info)))
            below = _below(info.annotation)
            if below is not None and below not in seen:
                path = f"{heading.strip('[]')}.{key}" if heading != "top" else key
                inner.append((below, f"[[{path}]]" if _many(info.annotation) else f"[{path}]"))
        tables.append((heading, (model.__doc__ or "").strip().partition("\n")[0], rows))
        for below, path in inner:
            if below not in seen:
                visit(below, path)

    visit(JobFile, "top")
    return tables


def _below(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, UnionType, tuple, Annotated):
        return next((b for a in get_args(annotation) if (b := _below(a)) is not None), None)
    return None


def _many(annotation: Any) -> bool:
    return get_origin(annotation) is tuple or any(_many(a) for a in get_args(annotation) if get_origin(a) is tuple)


def _dims(annotation: Any, info: FieldInfo | None = None) -> Dim | None:
    for item in info.metadata if info is not None else ():
        if isinstance(item, Dim):
            return item
    for item in getattr(annotation, "__metadata__", ()):
        if isinstance(item, Dim):
            return item
    return next((d for a in get_args(annotation) if (d := _dims(a)) is not None), None)


def _kind(info: FieldInfo) -> str:
    annotation = info.annotation
    below, dim, many = _below(annotation), _dims(annotation, info), _many(annotation)
    if below is not None:
        return "tables" if many else "table"
    if dim is not None:
        units = ", ".join(units_of(dim.dimension)[:4])
        words = "".join(f', "{w}"' for w in dim.words)
        several = ", or a list of readings" if dim.many else ""
        return f"{'list of ' if many and not dim.many else ''}{dim.dimension} ({units}){words}{several}"
    written = any(isinstance(x, Written) for x in (*info.metadata, *_leaves(annotation)))
    if written:
        return ("list of " if many else "") + "text"
    literals = _literals(annotation)
    if literals:
        return ("list of " if many else "") + ", ".join(
            f'"{v}"' if isinstance(v, str) else str(v) for v in literals
        )
    names = {str: "text", int: "whole number", float: "number", bool: "true or false"}
    for kind, word in names.items():
        if annotation is kind or kind in _leaves(annotation):
            return ("list of " if many else "") + word
    return "table"


def _leaves(annotation: Any) -> set[Any]:
    arguments = [a for a in get_args(annotation) if a is not type(None) and a is not Ellipsis]
    return {annotation} if not arguments else set().union(*(_leaves(a) for a in arguments))


def _literals(annotation: Any) -> tuple[Any, ...]:
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return next((v for a in get_args(annotation) if (v := _literals(a))), ())


def _default(info: FieldInfo) -> str:
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
