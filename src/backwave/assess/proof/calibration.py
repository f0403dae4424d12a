"""What a reading before teaches the prediction: leaks, cavity and cabin, fitted within bounds that are told.

The model that `measure.learn` drives is the job's own stage with other doors and another cabin, on a coarse list of
frequencies below those where door cavities have modes.  Nothing goes into the job but what a person keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics import smoothed
from backwave.assess.proof.before_after import Expected, ReadingGroup, SweepPair, expected
from backwave.assess.sound.engine import SoundEngine, outlet_piston
from backwave.assess.sound.results import DRIVE_V, F_HZ, PlannedPath
from backwave.errors import InputError
from backwave.finding import Finding
from backwave.job import Job
from backwave.job.opening import CavityTable, GapTable, OpeningTable
from backwave.measure.model_fit import MODEL_DB, Learned, ParameterShift, Unknown, check_learned, distance_db, learn
from backwave.sound.cabin import Leak, cabin_transfer
from backwave.sound.enclosures import Door, InDoor
from backwave.sound.output_network import Load, channel_response
from backwave.sound.stage import level_db
from backwave.units import Quantity, parse

Real = NDArray[np.float64]

# where the door's and the cabin's models hold and leaks matter; above, cavities have modes that nobody models
LEARN_HZ = (30.0, 400.0)
STEP = 2  # of the predictions' frequencies: 12 in an octave
ALIKE = 4.0  # of these that err together: a third of an octave
# times either way that an area nobody read may be out, and twice either way a volume (common trade practice)
WIDE = 4.0
LOSS = (0.05, 0.4)  # loss factors of cabins, from bare metal to thick carpet (from memory)
SMALLEST_M2 = 1e-4


@dataclass(frozen=True)
class _Kind:
    """One kind of unknown: the door's field and the job's key, or the cabin's."""

    field: str
    key: str
    words: str
    unit: str
    wide: float

    def of(self, opening: OpeningTable) -> Quantity | None:
        """What the job says of it."""
        table, _, name = self.key.partition(".")
        held = getattr(opening, table)
        return None if held is None else getattr(held, name)


_DOOR = (
    _Kind("holes_area", "cavity.leak", "holes left open in the skin", "cm2", WIDE),
    _Kind("trim_leak", "gap.leak", "leaks of the trim into the cabin", "cm2", WIDE),
    _Kind("cavity_volume", "cavity.volume", "volume of the cavity", "L", sqrt(WIDE)),
)
_CABIN = "vehicle.cabin"
_SI = {"cm2": 1e-4, "L": 1e-3, "": 1.0}


@dataclass(frozen=True)
class Taught:
    """One unknown, in the units of its key."""

    key: str  # the job's key, and what a person calls it
    words: str
    unit: str
    # `unit`, value so far; best estimate now with its 95 % interval; the bounds within which it was sought
    was: float
    value: float  # `unit`
    low: float  # `unit`
    high: float  # `unit`
    least: float  # `unit`
    most: float  # `unit`
    moved: bool  # whether the reading says anything of it, and whether it ran into a bound
    at_bound: bool

    @property
    def written(self) -> str | float:
        """As it goes into the job: with its standard uncertainty where the key takes one."""
        if not self.unit:
            return float(f"{self.value:.2g}")
        return f"{self.value:.3g} {self.unit} u {max((self.high - self.low) / 3.92, 1e-3 * self.value):.2g} {self.unit}"


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a reading taught, and how well it does on one it has not seen."""

    seat: str
    stage: str
    taught: tuple[Taught, ...]  # one for each unknown
    learned: Learned  # how far the prediction is from this reading, before and after, and by how much it moved
    # (stage, before, after) dB, the same distances for the later stage's reading, which the fit has not seen
    unseen: tuple[str, float, float] | None
    expected: Expected | None  # dB, the prediction of the later stage (or of this one) with what was learned
    findings: tuple[Finding, ...]  # what the reading did not move, or drove to its bound

    @property
    def changes(self) -> dict[str, str | float]:
        """What goes into the job to keep it: keys and values of what the reading moved."""
        return {one.key: one.written for one in self.taught if one.moved}


def learned_of(engine: SoundEngine, pair: SweepPair, progress: Callable[[float], None] | None = None) -> Lesson:
    """What the reading before teaches, tried on the reading after."""
    cabin = engine.cabin
    if pair.expected_before is None or cabin.space is None or cabin.leak is None:
        raise InputError(
            "what is to be learned from", pair.before.title,
            "a stage of the job that is predicted at this seat: a cabin that leaks, the driver that was in the door, its source",
        )  # fmt: skip
    seat = cabin.seats.index(pair.seat)
    before = _Model(engine, pair.before.stage, seat)
    unknowns, keys = _unknowns(engine, before.doors)
    f, reading = before.f_hz, _reading(pair.before, before.f_hz)
    doubt = np.hypot(MODEL_DB, max(pair.before.mean.u_db.values(), default=0.0))
    calls = 0

    def model(values: Real) -> Real:
        nonlocal calls
        calls += 1
        if progress is not None:
            progress(min(0.9, 1 - 0.99**calls))
        return before(dict(zip(keys, values.tolist(), strict=True)))

    known = np.isfinite(reading)
    if known.sum() < 12 or pair.before.from_hz:  # leaks and cavity show where a phone cannot be believed
        found = "a phone's, which bends what is below 150 Hz" if pair.before.from_hz else f"{known.sum()} points of it"
        raise InputError("reading to learn from", found, "one from 30 to 400 Hz, or with the microphone's correction")
    got = learn(lambda v: model(v)[known], unknowns, reading[known], np.full(known.sum(), doubt), ALIKE)
    taught = tuple(_taught(m, key) for m, key in zip(got.unknowns, keys, strict=True))
    start, now = (dict(zip(keys, vs, strict=True)) for vs in ([u.start for u in unknowns], got.values))
    unseen = None
    if pair.after is not None and pair.expected_after is not None:
        after = _Model(engine, pair.after.stage, seat)
        heard = _reading(pair.after, f)
        there = np.isfinite(heard) & (f >= pair.after.from_hz)
        if there.sum() >= 12:
            was, better = (distance_db(after(values)[there], heard[there]) for values in (start, now))
            unseen = (pair.after.stage, was, better)
    later = pair.before.stage if pair.after is None or pair.expected_after is None else pair.after.stage
    lesson = Lesson(
        pair.seat, pair.before.stage, taught, got, unseen, None,
        tuple(Finding(check, f"{pair.seat}-seat") for check in check_learned(got)),
    )  # fmt: skip
    if progress is not None:
        progress(0.93)
    return replace(lesson, expected=_again(engine.job, lesson, later))


class _Model:
    """Levels of one stage at one seat, whatever its doors and its cabin are."""

    def __init__(self, engine: SoundEngine, stage: str, seat: int) -> None:
        low, high = (int(np.searchsorted(F_HZ, f)) for f in LEARN_HZ)
        self._pick = slice(low, high + 1, STEP)
        self.f_hz = F_HZ[self._pick]
        self._engine, self._seat = engine, seat
        self._plan = engine.plan(next(s for s in engine.job.file.stage if s.id == stage))
        self._drives = [DRIVE_V * c.outputs.on.response(self.f_hz) * c.chain.response(self.f_hz) for c in self._plan]
        self.doors = {
            path.path.opening: path.load.mount.door
            for channel in self._plan for path in channel.paths
            if path.path.opening is not None and isinstance(path.load.mount, InDoor)
        }  # fmt: skip

    def __call__(self, values: dict[str, float]) -> Real:
        """Levels with these values, by their keys, dB."""
        engine, pistons, flows = self._engine, [], []
        for channel, drive in zip(self._plan, self._drives, strict=True):
            loads = tuple(self._load(path, values) for path in channel.paths)
            solved = channel_response(self.f_hz, channel.outputs.on.resistance, loads, engine.air, spread=False)
            for path, load, found in zip(channel.paths, loads, solved.loads, strict=True):
                gain = path.polarity * (1.0 if load.unit.correction is None else load.unit.correction)
                for n, outlet in enumerate(found.outlets):
                    pistons.append(outlet_piston(engine.cabin, path, n, outlet))
                    flows.append(found.flow[n] * drive * gain)
        cabin = engine.cabin
        assert cabin.space is not None
        assert cabin.leak is not None
        leak = Leak(values.get(f"{_CABIN}.leak", cabin.leak.area), cabin.leak.gap, cabin.leak.length)
        there = engine.memo.call(
            cabin_transfer, self.f_hz, cabin.space, tuple(pistons), cabin.ears,
            values.get(f"{_CABIN}.loss", cabin.loss), (leak,), engine.air,
        )  # fmt: skip
        power = there.mean_square(np.stack(flows, axis=1)[None])[0]
        return np.asarray(level_db(np.maximum(power[:, self._seat], 1e-30)))

    def _load(self, path: PlannedPath, values: dict[str, float]) -> Load:
        load = path.load
        residual, correction = (
            None if x is None else x[self._pick] for x in (load.unit.residual, load.unit.correction)
        )
        unit = replace(load.unit, residual=residual, correction=correction)
        mount = load.mount
        if isinstance(mount, InDoor):
            other = {k.field: values[key] for k in _DOOR if (key := f"opening.{path.path.opening}.{k.key}") in values}
            mount = replace(mount, door=replace(mount.door, **other))
        return replace(load, unit=unit, mount=mount)


def _unknowns(engine: SoundEngine, doors: Mapping[str, Door]) -> tuple[list[Unknown], list[str]]:
    """What may move, within which bounds, and the keys it has in the job."""
    found, keys = [], []
    openings = {o.id: o for o in engine.job.file.opening}
    for name, door in doors.items():
        opening = openings[name]
        for kind in _DOOR:
            start, given = max(float(getattr(door, kind.field)), SMALLEST_M2), kind.of(opening)
            wide = kind.wide
            sure = None if given is None else given.half_to(kind.unit) or (2 * (given.u_to(kind.unit) or 0.0))
            if given is not None and sure:  # somebody said how sure
                wide = min(wide, 1 + 2 * sure / given.to(kind.unit))
            label = f"{(opening.name or name).replace('-', ' ')}: {kind.words}"
            found.append(Unknown(label, start, start / wide, start * wide))
            keys.append(f"opening.{name}.{kind.key}")
    cabin = engine.cabin
    assert cabin.leak is not None
    loss = min(max(cabin.loss, LOSS[0]), LOSS[1])
    found.append(Unknown("cabin: loss of its modes", loss, *LOSS))
    area = cabin.leak.area
    found.append(Unknown("cabin: leak of seals and vents", area, area / WIDE, area * WIDE))
    return found, [*keys, f"{_CABIN}.loss", f"{_CABIN}.leak"]


def _reading(group: ReadingGroup, f: Real) -> Real:
    """The reading at the model's frequencies, a sixth of an octave; nan where it does not reach."""
    mean = group.mean
    level = smoothed(mean.f_hz, mean.level_db, 6)
    return np.asarray(np.interp(np.log(f), np.log(mean.f_hz), level, left=np.nan, right=np.nan))


def _taught(m: ParameterShift, key: str) -> Taught:
    kind = next((k for k in _DOOR if key.endswith(f".{k.key}") and key.startswith("opening.")), None)
    unit = kind.unit if kind is not None else "cm2" if key.endswith("leak") else ""
    si, u = _SI[unit], m.unknown
    return Taught(
        key, u.name, unit, u.start / si, m.value / si, m.low / si, m.high / si, u.low / si, u.high / si, m.moved, m.at_bound
    )  # fmt: skip


def _again(job: Job, lesson: Lesson, stage: str) -> Expected | None:
    """The prediction of a stage as it will be when what was learned is kept."""
    from backwave.assess.pipeline import predict

    file = job.file
    openings = list(file.opening)
    cabin = file.vehicle.cabin
    for key, written in lesson.changes.items():
        table, _, rest = key.partition(".")
        if table == "opening":
            name, part, field = rest.split(".")
            k = next(i for i, o in enumerate(openings) if o.id == name)
            held = getattr(openings[k], part) or (CavityTable() if part == "cavity" else GapTable())
            value = parse(str(written), "area" if field == "leak" else "volume")
            openings[k] = openings[k].model_copy(update={part: held.model_copy(update={field: value})})
        elif cabin is not None:
            field = key.rpartition(".")[2]
            value = float(written) if field == "loss" else parse(str(written), "area")  # type: ignore[assignment]
            cabin = cabin.model_copy(update={field: value})
    stages = tuple(s for s in file.stage if s.id == stage)
    vehicle = file.vehicle.model_copy(update={"cabin": cabin})
    changed = file.model_copy(update={"opening": tuple(openings), "stage": stages, "vehicle": vehicle})
    return expected(predict(replace(job, file=changed)), stage, lesson.seat)


def lesson_json(lesson: Lesson) -> dict[str, Any]:
    """What was learned, as JSON."""
    made = lesson.learned
    return {
        "stage": lesson.stage, "before_db": round(made.before_db, 2), "after_db": round(made.after_db, 2),
        "shift_db": round(made.shift_db, 2),
        "unseen": None if lesson.unseen is None
        else {"stage": lesson.unseen[0], "before_db": round(lesson.unseen[1], 2), "after_db": round(lesson.unseen[2], 2)},
        "unknowns": [
            {
                "key": one.key, "unit": one.unit, "was": one.was, "value": one.value, "low": one.low, "high": one.high,
                "least": one.least, "most": one.most, "moved": one.moved, "at_bound": one.at_bound,
            }
            for one in lesson.taught
        ],
    }  # fmt: skip
