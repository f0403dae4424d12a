"""What one table of a job demands of another: ids, references, profiles, fixings on their flange, paths, wires, the cabin."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from difflib import get_close_matches
from itertools import pairwise
from math import hypot
from pathlib import PurePosixPath
from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from backwave.job.fields import AnyLength, best_mm
from backwave.job.model import TABLES, CabinTable, JobFile
from backwave.job.named_files import Trace
from backwave.job.opening import FixingTable, FlangeTable, MeasuresTable, OpeningTable
from backwave.job.signal_chain import COLUMNS, FOLDER, SOUNDS
from backwave.job.speaker import SpeakerTable
from backwave.job.toml_spans import KeyPath
from backwave.units import Quantity

Fault = tuple[KeyPath, str, str, str]  # where, what is wrong, what was found, what is accepted
Rows = list[tuple[int, dict[str, Any]]]
Ids = dict[str, list[str]]
Edge = Callable[[float, float], bool]  # whether a point lies within it

T = TypeVar("T", bound=BaseModel)
_NAMED = tuple(key for key, table in TABLES.items() if table.named)
_VEHICLES_OWN = ("battery", "ground", "body")  # names that the harness gives to what is on every vehicle
_NONE_YET = "there is none yet"
WALL_MM = 10.0  # how far outside a point on a wall may be read: the cabin is a box, and a tape no ruler
TWICE_READ_MM = 2.0  # how far two readings of one dimension may be apart; common trade practice
_POINT: TypeAdapter[tuple[Quantity, Quantity, Quantity]] = TypeAdapter(tuple[AnyLength, AnyLength, AnyLength])
_WAYS = ("back from the front", "right of the left side", "above the floor")


def faults(data: dict[str, Any], done: Mapping[int, BaseModel] | None = None) -> Iterator[Fault]:
    """Everything wrong between tables, in no particular order; a table that is wrong by itself is passed over. `data`:
    the file's content, not yet known to be right."""
    ids = {table: [row["id"] for _, row in _rows(data, table) if isinstance(row.get("id"), str)] for table in _NAMED}
    sides = {row["id"]: row.get("sides", []) for _, row in _rows(data, "opening") if isinstance(row.get("id"), str)}
    yield from _ids(data)
    yield from _references(data, ids, sides)
    yield from _fed(data, ids)
    yield from _wired(data, ids, sides)
    yield from _plug_poles(data)
    yield from _seats(data)
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
        own = ((("opening", i, side), m) for side in ("left", "right") if (m := getattr(opening, side)))
        for path, measures in ((("opening", i), opening), *own):
            yield from _listed(_instruments(measures, path), known)
            yield from _distances(measures, opening, path)
            if measures.flange is not None and measures.flange.traced is not None:
                yield from _inside(measures.flange.traced, (*path, "flange", "traced"))
    for i, row in _rows(data, "reading"):
        yield from _reading(data, row, i)


def _rows(data: Any, table: str) -> Rows:
    rows = data.get(table) if isinstance(data, dict) else None
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []


def _listed_in(data: dict[str, Any], table: str, key: str) -> list[Any]:
    found = held.get(key) if isinstance(held := data.get(table), dict) else None
    return found if isinstance(found, list) else []


def _right(data: dict[str, Any], table: str, model: type[T], done: Mapping[int, BaseModel]) -> Iterator[tuple[int, T]]:
    for i, row in _rows(data, table):
        try:
            right = model.model_validate(done.get(id(row), row))
        except ValidationError:  # told about already, with everything else that is wrong in that table
            continue
        yield i, right


# -- ids and references -----------------------------------------------------------------------------------------------


def _ids(data: dict[str, Any]) -> Iterator[Fault]:
    for table in _NAMED:
        seen: set[str] = set()
        for i, row in _rows(data, table):
            own, where = row.get("id"), (table, i, "id")
            if not isinstance(own, str) or not own:
                continue
            if own in seen:
                yield where, "an id used twice", own, f"an id no other [[{table}]] has"
            seen.add(own)
            if not own.replace("-", "").replace("_", "").isalnum():
                yield where, "an id with other than letters, digits, - and _", own, "such as front-door"
            if table in ("distribution", "load", "plug", "source") and own in _VEHICLES_OWN:
                yield where, "a name that every vehicle has already", own, "another name"


def _known(value: Any, table: str, ids: Ids, where: KeyPath) -> Iterator[Fault]:
    if isinstance(value, str) and value not in ids[table]:
        near = get_close_matches(value, ids[table], n=1)
        accepted = f"the id of a [[{table}]]: " + (", ".join(ids[table]) or _NONE_YET)
        yield where, f"no {table} of that id" + (f"; {near[0]!r} is near" if near else ""), value, accepted


def _placed(row: dict[str, Any], where: KeyPath, ids: Ids, sides: Mapping[str, Any]) -> Iterator[Fault]:
    """An opening or a box that is there, and a side that the opening is on."""
    for table in ("opening", "box"):
        yield from _known(row.get(table), table, ids, (*where, table))
    side, opening = row.get("side"), row.get("opening")
    there = sides.get(opening) if isinstance(opening, str) else None
    if side in ("left", "right") and isinstance(there, list) and side not in there:
        accepted = ", ".join(map(str, there)) or "no side: there is just one"
        yield (*where, "side"), "a side that this opening is not on", side, accepted


def _references(data: dict[str, Any], ids: Ids, sides: Mapping[str, Any]) -> Iterator[Fault]:
    taken: set[tuple[Any, Any]] = set()
    for i, adapter in _rows(data, "adapter"):
        for table in ("opening", "speaker"):
            yield from _known(adapter.get(table), table, ids, ("adapter", i, table))
        pair = (str(adapter.get("opening")), str(adapter.get("speaker")))
        if pair in taken:
            yield ("adapter", i), "a second adapter for the same opening and driver", pair[0], "one of each"
        taken.add(pair)
    for i, stage in _rows(data, "stage"):
        for j, path in _rows(stage, "path"):
            where: KeyPath = ("stage", i, "path", j)
            for table in ("source", "speaker"):
                yield from _known(path.get(table), table, ids, (*where, table))
            yield from _placed(path, where, ids, sides)
            if ("opening" in path) == ("box" in path):
                yield where, "a path to nowhere, or to two places", str(path.get("opening")), "either opening or box"
        yield from _one_chain(stage, ("stage", i))
    runs = [*ids["distribution"], *ids["load"]]
    for i, row in _rows(data, "cable_test"):
        if isinstance(row.get("run"), str) and row["run"] not in runs:
            message = "no distribution or load of that id"
            yield ("cable_test", i, "run"), message, row["run"], ", ".join(runs) or _NONE_YET
    for i, row in _rows(data, "signal"):
        for key in ("from", "into"):
            yield from _known(row.get(key), "source", ids, ("signal", i, key))
        if row.get("from") == row.get("into"):
            yield ("signal", i, "into"), "a signal into what it comes from", str(row.get("into")), "another [[source]]"
    for k, name in enumerate(_listed_in(data, "hand_over", "in_phase")):
        yield from _known(name, "opening", ids, ("hand_over", "in_phase", k))
    for k, name in enumerate(_listed_in(data, "tune", "kept")):
        yield from _known(name, "stage", ids, ("tune", "kept", k))
    played = ids | {"stage": [*ids["stage"], "factory"]}  # as it was, before any stage
    for i, reading in _rows(data, "reading"):
        for table in ("seat", "stage"):
            yield from _known(reading.get(table), table, played, ("reading", i, table))


def _one_chain(stage: dict[str, Any], where: KeyPath) -> Iterator[Fault]:
    """Two paths on one output are in parallel behind it: what comes before the output is the same for both."""
    first: dict[str, tuple[int, dict[str, Any]]] = {}
    for j, path in _rows(stage, "path"):
        output = repr([path.get(key) for key in ("source", "channel", "side")])
        k, other = first.setdefault(output, (j, path))
        for key in ("filters", "delay", "gain"):
            if path.get(key) != other.get(key):
                message = f"on the same output as path {k + 1}, with other {key} before it"
                accepted = f"what path {k + 1} has, {other.get(key, 'none')!r}, or a channel of its own"
                yield (*where, "path", j, key), message, repr(path.get(key, "none")), accepted


def _fed(data: dict[str, Any], ids: Ids) -> Iterator[Fault]:
    """What hangs on what; nothing hangs on itself, by whatever way."""
    parent = {
        row["id"]: row.get("from", "")
        for table in ("distribution", "converter")
        for _, row in _rows(data, table)
        if isinstance(row.get("id"), str)
    }
    charged = {row.get("id"): row.get("charged_through", "") for _, row in _rows(data, "battery")}
    parent |= {own: by for own, by in charged.items() if isinstance(own, str) and by in ids["converter"]}
    sources = ("distribution", "battery", "converter")
    for table, sorts in (("distribution", sources), ("load", sources), ("converter", sources[:2])):
        names = [name for sort in sorts for name in ids[sort]]
        for i, row in _rows(data, table):
            start, where = row.get("from", ""), (table, i, "from")
            if not isinstance(start, str) or not start:
                continue
            if start not in names:
                alone = len(names) == len(ids[sorts[0]])
                sort = sorts[0] if alone else " or ".join(sorts)
                accepted = f"the id of a {f'[[{sort}]]' if alone else sort}: " + (", ".join(names) or _NONE_YET)
                yield where, f"no {sort} of that id", start, accepted
                continue
            seen, at = [str(row.get("id"))] if table != "load" else [], start
            while isinstance(at, str) and at and at not in seen:
                seen.append(at)
                at = parent.get(at, "")
            if isinstance(at, str) and at:
                yield where, "hangs on itself", " -> ".join((*seen, at)), "a way that ends at the battery"
    for i, row in _rows(data, "battery"):
        by = row.get("charged_through", "")
        words = (*ids["converter"], "isolator", "cable", "own charger")
        if isinstance(by, str) and by and by not in words:
            yield ("battery", i, "charged_through"), "nothing of that name charges it", by, ", ".join(words)


def _wired(data: dict[str, Any], ids: Ids, sides: Mapping[str, Any]) -> Iterator[Fault]:
    """What the tables of wires demand: openings, boxes, sides and sources that are there; nothing said twice."""
    for table in ("speaker_cable", "plug", "boot", "pair", "factory_output"):
        for i, row in _rows(data, table):
            yield from _placed(row, (table, i), ids, sides)
            for j, pin in _rows(row, "pin"):
                if "opening" in pin or "side" in pin:
                    at = {"opening": row.get("opening"), "side": row.get("side")} | pin
                    yield from _placed(at, (table, i, "pin", j), ids, sides)
    for i, row in _rows(data, "factory_output"):
        yield from _known(row.get("into"), "source", ids, ("factory_output", i, "into"))
    for i, row in _rows(data.get("factory_system"), "must_sound"):
        yield from _known(row.get("from"), "factory_output", ids, ("factory_system", "must_sound", i, "from"))
    for table in ("speaker_cable", "boot"):
        seen: set[str] = set()
        for i, row in _rows(data, table):
            place = row.get("opening") or row.get("box")
            said = repr([row.get(key) for key in ("opening", "box", "side")])
            if isinstance(place, str) and said in seen:
                yield (table, i), f"a second [[{table}]] for the same place", place, "one for each place"
            seen.add(said)


def _plug_poles(data: dict[str, Any]) -> Iterator[Fault]:
    """A pole of a speaker stands in one plug before the parts and in one behind them, no more."""
    seen: dict[str, str] = {}
    for i, plug in _rows(data, "plug"):
        for j, pin in _rows(plug, "pin"):
            opening, side = (pin.get(key, plug.get(key)) for key in ("opening", "side"))
            if pin.get("carries") not in ("+", "-") or not isinstance(opening, str):
                continue
            pole = repr((opening, side, bool(plug.get("before")), pin["carries"]))
            if pole in seen and seen[pole] != str(plug.get("id")):
                found = f"plug {plug.get('id')}, and plug {seen[pole]}"
                accepted = "one plug that feeds it; say a side, or before = true for the one before the crossover"
                yield ("plug", i, "pin", j), f"{opening} {pin['carries']} in two plugs", found, accepted
            seen[pole] = str(plug.get("id"))


def _seats(data: dict[str, Any]) -> Iterator[Fault]:
    """Who listens sits in the cabin's air, where the cabin is given; what plays may stand outside it, in a trunk."""
    vehicle = data.get("vehicle")
    try:
        cabin = CabinTable.model_validate(vehicle.get("cabin") if isinstance(vehicle, dict) else None)
    except ValidationError:  # none is given, or it is told about already
        return
    room = (cabin.length, cabin.width, cabin.height)
    size = " × ".join(q.text for q in room)
    accepted = f"a point in the cabin, which is {size}: back, right, up from its front left corner at the floor"
    for i, row in _rows(data, "seat"):
        try:
            ear = _POINT.validate_python(row.get("ear"))
        except ValidationError:
            continue
        outside = [
            f"{q.text} {way}"
            for q, end, way in zip(ear, room, _WAYS)
            if not -WALL_MM <= q.to("mm") <= end.to("mm") + WALL_MM
        ]
        if outside:
            message = f"seat {row.get('id')} lies outside the cabin"
            yield ("seat", i, "ear"), message, " and ".join(outside), accepted


# -- files ------------------------------------------------------------------------------------------------------------


def inside(path: str) -> bool:
    """Whether a path stays inside the folder it is written in."""
    pure = PurePosixPath(path.replace("\\", "/"))
    return bool(path) and not pure.is_absolute() and ".." not in pure.parts and ":" not in path and "\0" not in path


def _inside(path: str, where: KeyPath) -> Iterator[Fault]:
    if not inside(path):
        accepted = "a path inside it, such as photos/ring.toml"
        yield where, "a path that leads out of the job folder", path or '""', accepted


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
                message = f"a {key} for a response in columns"
                yield ("reading", i, key), message, str(row[key]), "a recording, or leave it out"
    if any(other.get("file") == file for k, other in _rows(data, "reading") if k < i):
        yield where, "a reading named twice", file, "each file once"


# -- drivers and openings ---------------------------------------------------------------------------------------------


def _travel(speaker: SpeakerTable, where: KeyPath) -> Iterator[Fault]:
    """A cone does not move linearly farther than it can move at all."""
    motor = speaker.motor
    if motor is None or motor.Xmax is None or motor.Xmech is None:
        return
    linear, limit = motor.Xmax.to("mm"), best_mm(motor.Xmech)
    if limit < linear - 1e-9:
        accepted = f"{linear:g} mm (Xmax) or more; leave it out if nobody measured it"
        yield where, "a mechanical limit (Xmech) below the linear excursion (Xmax)", f"{limit:g} mm", accepted


def _profile(speaker: SpeakerTable, path: KeyPath) -> Iterator[Fault]:
    depths = [best_mm(depth) for _, depth in speaker.profile or ()]
    accepted = "depths from the rim's mounting side that never fall; radius may do either"
    for j, (before, here) in enumerate(pairwise(depths), 1):
        if here < before:
            found = f"{here:g} mm after {before:g} mm"
            yield (*path, "profile", j), "a profile whose depth goes back", found, accepted
    if speaker.profile == ():
        yield (*path, "profile"), "a profile without points", "[]", "one point or more: [radius, depth]"
    if not depths or any(b < a for a, b in pairwise(depths)):
        return
    deepest = depths[-1]
    if speaker.depth is not None and abs(best_mm(speaker.depth) - deepest) > TWICE_READ_MM:
        found = f"{best_mm(speaker.depth):g} mm, where profile ends at {deepest:g} mm"
        accepted = f"{deepest:g} mm, a profile that ends at the mounting depth, or one of the two keys alone"
        yield (*path, "depth"), "a depth and a profile that contradict each other", found, accepted
    behind = [best_mm(radius) for radius, depth in speaker.profile or () if best_mm(depth) >= deepest / 2.0]
    across = 2.0 * max(behind)  # a magnet stands in the back half
    if speaker.magnet is not None and best_mm(speaker.magnet) > across + TWICE_READ_MM:
        found = f"{best_mm(speaker.magnet):g} mm, where profile is {across:g} mm across in its back half"
        accepted = f"{across:g} mm or less, a profile that goes round the magnet, or one of the two keys alone"
        yield (*path, "magnet"), "a magnet and a profile that contradict each other", found, accepted


def _back(speaker: dict[str, Any], path: KeyPath) -> Iterator[Fault]:
    """What a driver that goes into an adapter has to say of itself; a key that is there and wrong is not missing."""
    if "cutout" not in speaker:
        yield (*path, "cutout"), "this key has to be given: the driver goes into an adapter", "nothing", "its cutout"
    lacking = [n for n in ("depth", "magnet") if n not in speaker]
    if "profile" not in speaker and lacking:
        found = ", ".join(n for n in ("depth", "magnet") if n in speaker) or "none of them"
        yield path, f"the back of the driver: no {' and no '.join(lacking)}", found, "a profile, or depth and magnet"


def traced_faults(job: JobFile, traces: Mapping[str, Trace]) -> Iterator[Fault]:
    """What can be judged of a traced flange once its file is read: fixings outside it."""
    for i, opening in enumerate(job.opening):
        yield from _fixings(opening, ("opening", i), traces)


def _fixings(opening: OpeningTable, path: KeyPath, traces: Mapping[str, Trace] | None = None) -> Iterator[Fault]:
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


def _distances(measures: MeasuresTable, first: MeasuresTable, path: KeyPath) -> Iterator[Fault]:
    """Distances to a fixing that is not there, or to the edge of a hole that is not round or not entered."""
    many, hole = len(measures.fixings or first.fixings or ()), measures.hole or first.hole
    for n, row in enumerate(measures.distances or ()):
        for key, end in (("from", row.from_), ("to", row.to)):
            where = (*path, "distances", n, key)
            if end[:7] == "fixing " and not 1 <= int(end[7:]) <= many:
                yield where, "no such fixing", end, f"fixing 1 to {many}" if many else "a fixing first"
            if end == "hole edge" and (hole is None or hole.diameter is None):
                yield where, "the hole is not entered as a round one", end, 'its diameter, or "axis"'


def _outside(fixings: tuple[FixingTable, ...] | None, edge: Edge | None, sign: float, path: KeyPath) -> Iterator[Fault]:
    accepted = "a center within the flange's edge; from the driver's axis, x right and y up as seen from the cabin"
    for j, fixing in enumerate(fixings or ()):
        if edge is None or fixing.x is None:
            continue
        x, y = fixing.center_mm
        if not edge(sign * x, y):
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


def _instruments(measures: MeasuresTable, path: KeyPath) -> list[tuple[KeyPath, str | None]]:
    named: list[tuple[KeyPath, str | None]] = [
        ((*path, n, "by"), getattr(t, "by", None)) for n in ("hole", "lip", "trim") if (t := getattr(measures, n))
    ]
    rows = [
        (name, j, row.by) for name in ("behind", "distances") for j, row in enumerate(getattr(measures, name) or ())
    ]
    return named + [((*path, name, j, "by"), by) for name, j, by in rows]


def _listed(named: Iterable[tuple[KeyPath, str | None]], known: list[str]) -> Iterator[Fault]:
    none = 'none yet: add it there with what it may be out by, such as caliper = "0.05 mm"'
    for where, by in named:
        if by is not None and by not in known:
            near = get_close_matches(by, known, n=1)
            message = "an instrument that [instruments] does not list" + (f"; {near[0]!r} is near" if near else "")
            yield where, message, by, "one of " + (", ".join(known) or none)
