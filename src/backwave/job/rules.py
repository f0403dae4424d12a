"""What one table of a job demands of another: ids, references, profiles, fixings on their flange, paths."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from difflib import get_close_matches
from math import hypot
from pathlib import PurePosixPath
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from backwave.job.opening import Measures, Opening
from backwave.job.speaker import Speaker
from backwave.units import Quantity

__all__ = ["Fault", "faults", "inside"]

Path = tuple[str | int, ...]
Fault = tuple[Path, str, str, str]
"""Where, what is wrong, what was found, what is accepted."""

T = TypeVar("T", bound=BaseModel)
_TABLES = ("opening", "speaker", "source", "stage", "box", "load", "wire", "seat")


def faults(data: dict[str, Any]) -> Iterator[Fault]:
    """Everything wrong between tables, in no particular order; a table that is wrong by itself is passed over.

    Parameters
    ----------
    data : dict, no unit
        The file's content, not yet known to be right.
    """
    yield from _ids(data)
    yield from _references(data)
    instruments = data.get("instruments")
    known = list(instruments) if isinstance(instruments, dict) else []
    for i, speaker in _right(data, "speaker", Speaker):
        yield from _profile(speaker, ("speaker", i))
    for i, opening in _right(data, "opening", Opening):
        for path, measures, whole in (
            (("opening", i), opening, opening),
            *((("opening", i, side), m, opening) for side in ("left", "right") if (m := getattr(opening, side))),
        ):
            yield from _fixings(measures, whole, path)
            yield from _instruments(measures, known, path)
            if measures.flange is not None and measures.flange.traced is not None:
                yield from _inside(measures.flange.traced, (*path, "flange", "traced"))
    for i, row in _rows(data, "reading"):
        if isinstance(row.get("file"), str):
            yield from _inside(row["file"], ("reading", i, "file"))


def _rows(data: Any, table: str) -> list[tuple[int, dict[str, Any]]]:
    rows = data.get(table)
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []


def _right(data: dict[str, Any], table: str, model: type[T]) -> Iterator[tuple[int, T]]:
    for i, row in _rows(data, table):
        try:
            right = model.model_validate(row)
        except ValidationError:  # told about already, with everything else that is wrong in that table
            continue
        yield i, right


def inside(path: str) -> bool:
    """Whether a path stays inside the folder it is written in.

    Parameters
    ----------
    path : str, no unit
        As written in the job.
    """
    pure = PurePosixPath(path.replace("\\", "/"))
    return (
        bool(path) and not pure.is_absolute() and ".." not in pure.parts and ":" not in path and "\0" not in path
    )


def _inside(path: str, where: Path) -> Iterator[Fault]:
    if not inside(path):
        yield where, "a path that leads out of the job folder", path, "a path inside it, such as photos/ring.toml"


def _ids(data: dict[str, Any]) -> Iterator[Fault]:
    for table in _TABLES:
        seen: set[str] = set()
        for i, row in _rows(data, table):
            own = row.get("id")
            if not isinstance(own, str) or not own:
                continue
            if own in seen:
                yield (table, i, "id"), "an id used twice", own, f"an id no other [[{table}]] has"
            seen.add(own)
            if not own.replace("-", "").replace("_", "").isalnum():
                yield (table, i, "id"), "an id with other than letters, digits, - and _", own, "such as front-door"


def _references(data: dict[str, Any]) -> Iterator[Fault]:
    known = {
        table: [row["id"] for _, row in _rows(data, table) if isinstance(row.get("id"), str)] for table in _TABLES
    }

    def lookup(row: dict[str, Any], table: str, where: Path) -> Iterator[Fault]:
        value = row.get(table)
        if isinstance(value, str) and value not in known[table]:
            near = get_close_matches(value, known[table], n=1)
            accepted = f"the id of a [[{table}]]: " + (", ".join(known[table]) or "there is none yet")
            yield (
                (*where, table),
                f"no {table} of that id" + (f"; {near[0]!r} is near" if near else ""),
                value,
                accepted,
            )

    taken: set[tuple[Any, Any]] = set()
    for i, adapter in _rows(data, "adapter"):
        yield from lookup(adapter, "opening", ("adapter", i))
        yield from lookup(adapter, "speaker", ("adapter", i))
        pair = (str(adapter.get("opening")), str(adapter.get("speaker")))
        if pair in taken:
            yield ("adapter", i), "a second adapter for the same opening and driver", pair[0], "one of each"
        taken.add(pair)
    for i, stage in _rows(data, "stage"):
        for j, path in _rows(stage, "path"):
            where: Path = ("stage", i, "path", j)
            for table in ("source", "speaker", "opening", "box"):
                yield from lookup(path, table, where)
            if ("opening" in path) == ("box" in path):
                yield (
                    where,
                    "a path to nowhere, or to two places",
                    str(path.get("opening")),
                    "either opening or box",
                )
    for i, reading in _rows(data, "reading"):
        yield from lookup(reading, "seat", ("reading", i))


def _best(value: Any) -> float:
    """A measured length's best estimate in millimeters."""
    if isinstance(value, Quantity):
        return value.to("mm")
    return sum(q.to("mm") for q in value) / len(value)


def _profile(speaker: Speaker, path: Path) -> Iterator[Fault]:
    points = speaker.profile or ()
    for j in range(1, len(points)):
        before, here = _best(points[j - 1][1]), _best(points[j][1])
        if here < before:
            yield (
                (*path, "profile", j),
                "a profile whose depth goes back",
                f"{here:g} mm after {before:g} mm",
                ("depths from the rim's mounting side that never fall; radius may do either"),
            )
    if speaker.profile is not None and not points:
        yield (*path, "profile"), "a profile without points", "[]", "one point or more: [radius, depth]"


def _fixings(measures: Measures, whole: Measures, path: Path) -> Iterator[Fault]:
    flange = measures.flange or whole.flange
    if flange is None or measures.fixings is None:
        return
    holds = _holds(flange)
    for j, fixing in enumerate(measures.fixings):
        x, y = fixing.x.to("mm"), fixing.y.to("mm")
        if holds is not None and not holds(x, y):
            yield (
                (*path, "fixings", j),
                "a fixing outside the flange",
                f"{x:g} mm, {y:g} mm",
                (
                    "a center within the flange's edge; measured from the driver's axis, x right and y up from the cabin"
                ),
            )


def _holds(flange: Any) -> Callable[[float, float], bool] | None:
    if flange.diameter is not None:
        radius = flange.diameter.to("mm") / 2
        return lambda x, y: hypot(x, y) < radius
    if flange.ellipse is not None:
        a, b = (q.to("mm") / 2 for q in flange.ellipse)
        return lambda x, y: (x / a) ** 2 + (y / b) ** 2 < 1
    points = flange.corners or flange.outline
    if points is None:
        return None  # traced: known when the file is read

    def odd(x: float, y: float) -> bool:
        crossings = 0
        for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1]):
            crossings += (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0)
        return crossings % 2 == 1

    return odd


def _instruments(measures: Measures, known: list[str], path: Path) -> Iterator[Fault]:
    named: list[tuple[Path, str | None]] = [
        ((*path, n, "by"), getattr(t, "by", None)) for n in ("hole", "trim") if (t := getattr(measures, n))
    ]
    named += [((*path, "behind", j, "by"), row.by) for j, row in enumerate(measures.behind or ())]
    for where, by in named:
        if by is not None and by not in known:
            near = get_close_matches(by, known, n=1)
            yield (
                where,
                "an instrument that [instruments] does not list" + (f"; {near[0]!r} is near" if near else ""),
                by,
                ("one of " + (", ".join(known) or "none yet: add it there with what it may be out by")),
            )
