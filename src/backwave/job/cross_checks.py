"""What one table of a job demands of another: ids, references, profiles, fixings on their flange, paths."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from difflib import get_close_matches
from math import hypot
from pathlib import PurePosixPath
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from backwave.job.instruments import best_mm
from backwave.job.model import TABLES, JobFile
from backwave.job.opening import FixingTable, FlangeTable, MeasuresTable, OpeningTable
from backwave.job.recording import COLUMNS, FOLDER, SOUNDS
from backwave.job.speaker import SpeakerTable
from backwave.job.trace import Trace

Path = tuple[str | int, ...]
Fault = tuple[Path, str, str, str]  # where, what is wrong, what was found, what is accepted

T = TypeVar("T", bound=BaseModel)
_NAMED = tuple(key for key, table in TABLES.items() if table.named)


def faults(data: dict[str, Any], done: Mapping[int, BaseModel] | None = None) -> Iterator[Fault]:
    """Everything wrong between tables, in no particular order; a table that is wrong by itself is passed over.

    `data`: the file's content, not yet known to be right.
    """
    yield from _ids(data)
    yield from _references(data)
    instruments = data.get("instruments")
    known = list(instruments) if isinstance(instruments, dict) else []
    fitted = [row.get("speaker") for _, row in _rows(data, "adapter")]
    for i, speaker in _right(data, "speaker", SpeakerTable, done or {}):
        yield from _profile(speaker, ("speaker", i))
        yield from _travel(speaker, ("speaker", i, "motor", "Xmech"))
        if speaker.id in fitted:
            yield from _back(data["speaker"][i], ("speaker", i))
        if speaker.measured is not None:
            for name in ("impedance", "response"):
                if (file := getattr(speaker.measured, name)) is not None:
                    yield from _inside(file, ("speaker", i, "measured", name))
        yield from _listed([(("speaker", i, "by"), speaker.by)], known)
    for i, opening in _right(data, "opening", OpeningTable, done or {}):
        yield from _fixings(opening, ("opening", i))
        for path, measures in (
            (("opening", i), opening),
            *((("opening", i, side), m) for side in ("left", "right") if (m := getattr(opening, side))),
        ):
            yield from _listed(_instruments(measures, path), known)
            if measures.flange is not None and measures.flange.traced is not None:
                yield from _inside(measures.flange.traced, (*path, "flange", "traced"))
    for i, row in _rows(data, "reading"):
        yield from _reading(data, row, i)


def _rows(data: Any, table: str) -> list[tuple[int, dict[str, Any]]]:
    rows = data.get(table)
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []


def _right(data: dict[str, Any], table: str, model: type[T], done: Mapping[int, BaseModel]) -> Iterator[tuple[int, T]]:
    for i, row in _rows(data, table):
        try:
            right = model.model_validate(done.get(id(row), row))
        except ValidationError:  # told about already, with everything else that is wrong in that table
            continue
        yield i, right


def inside(path: str) -> bool:
    """Whether a path stays inside the folder it is written in."""
    pure = PurePosixPath(path.replace("\\", "/"))
    return bool(path) and not pure.is_absolute() and ".." not in pure.parts and ":" not in path and "\0" not in path


def _inside(path: str, where: Path) -> Iterator[Fault]:
    if not inside(path):
        yield (
            where,
            "a path that leads out of the job folder",
            path or '""',
            "a path inside it, such as photos/ring.toml",
        )


def _reading(data: dict[str, Any], row: dict[str, Any], i: int) -> Iterator[Fault]:
    """A reading lies under readings/ and is named once; what it needs lies in the job folder."""
    for key in ("sweep", "microphone"):
        if isinstance(row.get(key), str):
            yield from _inside(row[key], ("reading", i, key))
    file, where = row.get("file"), ("reading", i, "file")
    if not isinstance(file, str):
        return
    pure = PurePosixPath(file.replace("\\", "/"))
    if not inside(file):
        yield from _inside(file, where)
    elif pure.parts[:1] != (FOLDER,):
        yield where, f"a reading that does not lie under {FOLDER}/", file, f"such as {FOLDER}/{pure.name}"
    elif pure.suffix.lower() not in (*SOUNDS, *COLUMNS):
        accepted = f"a recording ({', '.join(SOUNDS)}) or a response in columns ({', '.join(COLUMNS)})"
        yield where, "a file that is neither a recording nor a response", file, accepted
    elif pure.suffix.lower() in COLUMNS:
        for key in ("sweep", "channel"):
            if key in row:
                yield (
                    ("reading", i, key),
                    f"a {key} for a response in columns",
                    str(row[key]),
                    "a recording, or leave it out",
                )
    if any(other.get("file") == file for k, other in _rows(data, "reading") if k < i):
        yield where, "a reading named twice", file, "each file once"


def _ids(data: dict[str, Any]) -> Iterator[Fault]:
    for table in _NAMED:
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
    known = {table: [row["id"] for _, row in _rows(data, table) if isinstance(row.get("id"), str)] for table in _NAMED}

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
                yield (where, "a path to nowhere, or to two places", str(path.get("opening")), "either opening or box")
            yield from _side_of_path(data, path, where)
        yield from _one_chain(stage, ("stage", i))
    yield from _fed(data, known)
    yield from _tested(data, known)
    kept = tune.get("kept") if isinstance(tune := data.get("tune"), dict) else None
    for k, name in enumerate(kept if isinstance(kept, list) else ()):
        yield from lookup({"stage": name}, "stage", ("tune", "kept", k))
    known["stage"].append("factory")  # as it was, before any stage
    for i, reading in _rows(data, "reading"):
        yield from lookup(reading, "seat", ("reading", i))
        yield from lookup(reading, "stage", ("reading", i))


def _travel(speaker: SpeakerTable, where: Path) -> Iterator[Fault]:
    """A cone does not move linearly farther than it can move at all."""
    motor = speaker.motor
    if motor is None or motor.Xmax is None or motor.Xmech is None:
        return
    linear, limit = motor.Xmax.to("mm"), best_mm(motor.Xmech)
    if limit < linear - 1e-9:
        accepted = f"{linear:g} mm (Xmax) or more; leave it out if nobody measured it"
        yield where, "a mechanical limit (Xmech) below the linear excursion (Xmax)", f"{limit:g} mm", accepted


def _tested(data: dict[str, Any], known: dict[str, list[str]]) -> Iterator[Fault]:
    """A cable test is of a cable there is; one of a ground is of a load's, or with a plastic body of any."""
    for i, row in _rows(data, "cable_test"):
        runs = [*known["distribution"], *known["load"]]
        if isinstance(row.get("run"), str) and row["run"] not in runs:
            yield (
                ("cable_test", i, "run"),
                "no distribution or load of that id",
                row["run"],
                ", ".join(runs) or "there is none yet",
            )


def _fed(data: dict[str, Any], known: dict[str, list[str]]) -> Iterator[Fault]:
    """What hangs on what; nothing hangs on itself, by whatever way."""
    parent = {
        row["id"]: row.get("from", "") for table in ("distribution", "converter")
        for _, row in _rows(data, table) if isinstance(row.get("id"), str)
    }  # fmt: skip
    charged = {row.get("id"): row.get("charged_through", "") for _, row in _rows(data, "battery")}
    parent |= {own: by for own, by in charged.items() if isinstance(own, str) and by in known["converter"]}
    sources = ("distribution", "battery", "converter")
    for table, sorts in (("distribution", sources), ("load", sources), ("converter", sources[:2])):
        names = [name for sort in sorts for name in known[sort]]
        for i, row in _rows(data, table):
            start = row.get("from", "")
            if not isinstance(start, str) or not start:
                continue
            if start not in names:
                sort = sorts[0] if len(names) == len(known[sorts[0]]) else " or ".join(sorts)
                accepted = f"the id of a [[{sorts[0]}]]: " if sort == sorts[0] else f"the id of a {sort}: "
                yield (
                    (table, i, "from"),
                    f"no {sort} of that id",
                    start,
                    accepted + (", ".join(names) or "there is none yet"),
                )
                continue
            seen, at = [str(row.get("id"))] if table != "load" else [], start
            while isinstance(at, str) and at and at not in seen:
                seen.append(at)
                at = parent.get(at, "")
            if isinstance(at, str) and at:
                yield (
                    (table, i, "from"),
                    "hangs on itself",
                    " -> ".join((*seen, at)),
                    "a way that ends at the battery",
                )
    for i, row in _rows(data, "battery"):
        by = row.get("charged_through", "")
        words = (*known["converter"], "isolator", "cable", "own charger")
        if isinstance(by, str) and by and by not in words:
            yield ("battery", i, "charged_through"), "nothing of that name charges it", by, ", ".join(words)
    for i, row in _rows(data, "signal"):
        for key in ("from", "into"):
            name = row.get(key)
            if isinstance(name, str) and name not in known["source"]:
                yield (
                    ("signal", i, key),
                    "no source of that id",
                    name,
                    "the id of a [[source]]: " + (", ".join(known["source"]) or "there is none yet"),
                )
        if row.get("from") == row.get("into"):
            yield (
                ("signal", i, "into"),
                "a signal into what it comes from",
                str(row.get("into")),
                "another [[source]]",
            )
    passed = over.get("in_phase") if isinstance(over := data.get("hand_over"), dict) else None
    for k, name in enumerate(passed if isinstance(passed, list) else ()):
        if isinstance(name, str) and name not in known["opening"]:
            yield (
                ("hand_over", "in_phase", k),
                "no opening of that id",
                name,
                ", ".join(known["opening"]) or "there is none yet",
            )


def _side_of_path(data: dict[str, Any], path: dict[str, Any], where: Path) -> Iterator[Fault]:
    side = path.get("side")
    sides = next((o.get("sides", []) for _, o in _rows(data, "opening") if o.get("id") == path.get("opening")), None)
    if side in ("left", "right") and isinstance(sides, list) and side not in sides:
        yield (*where, "side"), "a side that this opening is not on", side, ", ".join(map(str, sides)) or "no side"


def _one_chain(stage: dict[str, Any], where: Path) -> Iterator[Fault]:
    """Two paths on one output are in parallel behind it: what comes before the output is the same for both."""
    first: dict[str, tuple[int, dict[str, Any]]] = {}
    for j, path in _rows(stage, "path"):
        output = repr([path.get(key) for key in ("source", "channel", "side")])
        k, other = first.setdefault(output, (j, path))
        for key in ("filters", "delay", "gain"):
            if path.get(key) != other.get(key):
                yield (
                    (*where, "path", j, key),
                    f"on the same output as path {k + 1}, with other {key} before it",
                    repr(path.get(key, "none")),
                    f"what path {k + 1} has, {other.get(key, 'none')!r}, or a channel of its own",
                )


def _profile(speaker: SpeakerTable, path: Path) -> Iterator[Fault]:
    points = speaker.profile or ()
    for j in range(1, len(points)):
        before, here = best_mm(points[j - 1][1]), best_mm(points[j][1])
        if here < before:
            yield (
                (*path, "profile", j),
                "a profile whose depth goes back",
                f"{here:g} mm after {before:g} mm",
                ("depths from the rim's mounting side that never fall; radius may do either"),
            )
    if speaker.profile is not None and not points:
        yield (*path, "profile"), "a profile without points", "[]", "one point or more: [radius, depth]"


def _back(speaker: dict[str, Any], path: Path) -> Iterator[Fault]:
    """What a driver that goes into an adapter has to say of itself; a key that is there and wrong is not missing."""
    if "cutout" not in speaker:
        yield ((*path, "cutout"), "this key has to be given: the driver goes into an adapter", "nothing", "its cutout")
    lacking = [n for n in ("depth", "magnet") if n not in speaker]
    if "profile" not in speaker and lacking:
        found = ", ".join(n for n in ("depth", "magnet") if n in speaker) or "none of them"
        yield (path, f"the back of the driver: no {' and no '.join(lacking)}", found, "a profile, or depth and magnet")


def traced_faults(job: JobFile, traces: Mapping[str, Trace]) -> Iterator[Fault]:
    """What can be judged of a traced flange once its file is read: fixings outside it."""
    for i, opening in enumerate(job.opening):
        yield from _fixings(opening, ("opening", i), traces)


def _fixings(opening: OpeningTable, path: Path, traces: Mapping[str, Trace] | None = None) -> Iterator[Fault]:
    """Fixings outside the flange, on each side as it is: what was measured on the other one mirrored."""
    yield from _outside(opening.fixings, _edge(opening.flange, traces), 1.0, (*path, "fixings"))
    for side, own in (("left", opening.left), ("right", opening.right)):
        if own is None or (own.fixings is None and own.flange is None):
            continue
        # only one of the two was read on the second side: the other lies there mirrored
        alone = (own.fixings is None) != (own.flange is None)
        sign = -1.0 if alone and opening.sides[1:] == (side,) else 1.0
        fixings, edge = own.fixings or opening.fixings, _edge(own.flange or opening.flange, traces)
        yield from _outside(fixings, edge, sign, (*path, side, "flange" if own.fixings is None else "fixings"))


Edge = Callable[[float, float], bool]


def _outside(fixings: tuple[FixingTable, ...] | None, edge: Edge | None, sign: float, path: Path) -> Iterator[Fault]:
    accepted = "a center within the flange's edge; from the driver's axis, x right and y up as seen from the cabin"
    for j, fixing in enumerate(fixings or ()):
        x, y = fixing.x.to("mm"), fixing.y.to("mm")
        if edge is not None and not edge(sign * x, y):
            where = (*path, j) if path[-1] == "fixings" else path
            yield where, "a fixing outside the flange", f"{x:g} mm, {y:g} mm", accepted


def _edge(flange: FlangeTable | None, traces: Mapping[str, Trace] | None) -> Edge | None:
    """Whether a point lies within a flange; None where its edge is not known (yet, or already judged)."""
    if flange is None or (flange.traced is None) == (traces is not None):
        return None
    if flange.diameter is not None:
        radius = flange.diameter.to("mm") / 2
        return lambda x, y: hypot(x, y) < radius
    if flange.ellipse is not None:
        a, b = (q.to("mm") / 2 for q in flange.ellipse)
        return lambda x, y: (x / a) ** 2 + (y / b) ** 2 < 1
    trace = traces.get(flange.traced) if traces is not None and flange.traced is not None else None
    points = trace.outline_mm if trace is not None else flange.corners or flange.outline
    return None if points is None else lambda x, y: _within(points, x, y)


def _within(points: tuple[tuple[float, float], ...], x: float, y: float) -> bool:
    crossings = 0
    for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1]):
        crossings += (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return crossings % 2 == 1


def _instruments(measures: MeasuresTable, path: Path) -> list[tuple[Path, str | None]]:
    named: list[tuple[Path, str | None]] = [
        ((*path, n, "by"), getattr(t, "by", None)) for n in ("hole", "lip", "trim") if (t := getattr(measures, n))
    ]
    return named + [((*path, "behind", j, "by"), row.by) for j, row in enumerate(measures.behind or ())]


def _listed(named: list[tuple[Path, str | None]], known: list[str]) -> Iterator[Fault]:
    for where, by in named:
        if by is not None and by not in known:
            near = get_close_matches(by, known, n=1)
            message = "an instrument that [instruments] does not list" + (f"; {near[0]!r} is near" if near else "")
            yield where, message, by, "one of " + (", ".join(known) or _NONE_LISTED)


_NONE_LISTED = 'none yet: add it there with what it may be out by, such as caliper = "0.05 mm"'
