"""What a key, a finding's code or a word of the trade means: what `backwave help` prints and the page's "?" shows.

Keys come from the model, codes from `finding.CODES`, words from `key_help.toml`; an example is what the demo job says there,
else one of that file, so that it is one a job takes.  Nothing is computed, and nothing is read but what is installed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from backwave.finding import CODES
from backwave.job.fields import keys_of, table_in
from backwave.job.model import JobFile
from backwave.job.schema import accepted, default_of, dim_in, is_list, literals_in
from backwave.job.toml_spans import KeyPath, written
from backwave.units import Quantity


@cache
def _told() -> dict[str, dict[str, Any]]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class KeyHelp:
    name: str  # "opening.behind.clear", positions and sides left out; a finding's code; a word
    kind: Literal["key", "table", "finding", "word"]
    meaning: str
    accepted: str = ""  # what may stand there, with units and bounds
    default: str = ""  # what is taken where it is left out; "" for nothing
    ground: str = ""  # and why that
    example: str = ""  # a line of the file
    used: bool = True  # whether something computes with it
    keys: tuple[str, ...] = ()  # of a table: what it holds


def of(path: KeyPath) -> KeyHelp | None:
    """Of one field, by its path in the file; None where no such key is."""
    return _keys().get(".".join(k for k in path if isinstance(k, str) and k not in ("left", "right")))


def look_up(said: str) -> tuple[tuple[KeyHelp, ...], tuple[str, ...]]:
    """What goes by a name, all of it; and where nothing does, names that are near or whose meaning has the word."""
    name = re.sub(r"\[\d*\]|@.*", "", said.strip()).strip(".[]").lower()
    name = re.sub(r"\.(left|right)\b", "", name)
    if not name:
        return (), ()
    known, found = _everything(), list[KeyHelp]()
    for way in _ways(name):
        found = found or [one for one in known if one.name.lower() == way]
        found = found or [one for one in known if one.name.lower().endswith("." + way)]
    found += [
        one for one in known if one.kind == "word" and one.name == _told()["also"].get(name, name) and one not in found
    ]
    if found:
        return tuple(found), ()
    ends = {end.lower(): one.name for one in known for end in (one.name.rpartition(".")[2], one.name)}
    near = [ends[n] for n in get_close_matches(name, ends, n=5, cutoff=0.72)]
    stem = re.compile(rf"\b{re.escape(name.rstrip('s'))}")
    told = [one.name for one in known if stem.search(one.meaning.lower())]
    return (), tuple(dict.fromkeys([*near, *told]))[:8]


def _ways(name: str) -> Iterator[str]:
    """A name, and what is left of it without a finding's part or an id: "fit.flat.inner", "front-door.trim.clear"."""
    yield name
    steps = name.split(".")
    yield from (code for code in [".".join(steps[:2])] if code in CODES)
    yield from (".".join(steps[:n] + steps[n + 1 :]) for n in range(1, len(steps) - 1))
    yield from (at + ".".join(steps[1:]) for at in ("opening.", "") if len(steps) > 1)


@cache
def _everything() -> tuple[KeyHelp, ...]:
    codes = (KeyHelp(code, "finding", said, example=f"backwave why JOB {code}") for code, said in CODES.items())
    return (*_keys().values(), *codes, *(KeyHelp(word, "word", said) for word, said in _told()["words"].items()))


@cache
def _keys() -> dict[str, KeyHelp]:
    """Every key of the file, in its order; a side of an opening holds what the opening does."""
    shown = _shown()

    def walk(model: type[BaseModel], at: str, above: tuple[type[BaseModel], ...]) -> Iterator[KeyHelp]:
        for key, info in keys_of(model).items():
            below = table_in(info.annotation)
            if below in above or (at == "opening" and key in ("left", "right")):
                continue
            name = f"{at}.{key}" if at else key
            yield _of_key(name, info, below, shown.get(name))
            if below is not None:
                yield from walk(below, name, (*above, below))

    return {one.name: one for one in walk(JobFile, "", (JobFile,))}


def _of_key(name: str, info: FieldInfo, below: type[BaseModel] | None, shown: Any) -> KeyHelp:
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    made = KeyHelp(
        name, "table" if below else "key", info.description or "", accepted(info),
        "" if info.is_required() else default_of(info), str(extra.get("x-assumed", "")), used=extra.get("x-used") is not False,
        keys=tuple(keys_of(below)) if below else (),
    )  # fmt: skip
    key, value = name.rpartition(".")[2], _told()["example"].get(name) if shown is None else shown
    if (below is not None or key == "stock") and "." not in name:
        return replace(
            made,
            example="[[stock.material]]"
            if key == "stock"
            else f"[[{key}]]"
            if is_list(info.annotation)
            else f"[{key}]",
        )
    value = _usual(info) if value is None and below is None else value
    return made if value is None else replace(made, example=f"{key} = {written([value])[1:-1]}")


def _usual(info: FieldInfo) -> Any:
    """What is taken when a key is left out, or one of its kind; None where neither says enough."""
    usual = None if info.is_required() else info.get_default(call_default_factory=True)
    if isinstance(usual, tuple) and usual and isinstance(usual[0], Quantity):
        return [one.text for one in usual]
    if isinstance(usual, (Quantity, str, int, float)) and usual != "":
        return usual.text if isinstance(usual, Quantity) else usual
    dim, words = dim_in(info.annotation, info), literals_in(info.annotation)
    if dim is not None:
        return _told()["usual"][dim.dimension]
    return words[0] if words else True if accepted(info).startswith("true") else None


@cache
def _shown() -> dict[str, Any]:
    """What the demo job, which is installed with the rest, has at each key: the first of its kind."""
    path = Path(__file__).parents[1] / "cli" / "demo_job" / "job.toml"
    found: dict[str, Any] = {}

    def walk(node: dict[str, Any], at: str) -> None:
        for key, value in node.items():
            name = at if at == "opening" and key in ("left", "right") else f"{at}.{key}" if at else key
            rows = value if isinstance(value, list) and value and isinstance(value[0], dict) else [value]
            found.setdefault(name, rows[:1] if rows is value else value)
            for row in rows:
                if isinstance(row, dict):
                    walk(row, name)

    walk(tomllib.loads(path.read_text(encoding="utf-8")), "")
    return found
