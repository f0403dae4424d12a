"""What each stage will bring: a job's stages become levels at the seats, with bands, limits and comparisons.

The fit gives the lengths (seat height, closed foam, bore); nobody types them again.  Everything that costs time goes
through the memo, so that an edit of a gain solves no network."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from backwave.acoustics import Air
from backwave.assess.inputs.enclosures import Mounts, WhatIf, on_wall, plan_stage, point_m
from backwave.assess.inputs.signal_path import outputs_of, unit_of
from backwave.assess.memo import Memo, digest
from backwave.assess.sound.results import (
    AUDIBLE,
    DRIVE_V,
    F_HZ,
    Cabin,
    Outputs,
    PlannedChannel,
    PlannedPath,
    PlayedStage,
)
from backwave.finding import PRACTICE, Check, Finding, Ledger
from backwave.job import Job, Place
from backwave.job.signal_chain import StageTable
from backwave.sound.cabin import CABIN_LOSS, BoxCabin, Leak, Piston, Transfer, cabin_transfer, free_transfer
from backwave.sound.driver import Unit
from backwave.sound.output_network import ChannelResponse, LoadResponse, Outlet, channel_response
from backwave.sound.stage import BandDifference, StageLimits, Voice, band_difference, loudest, stage_levels

if TYPE_CHECKING:
    from backwave.assess.place_result import Dimensions

_WITHIN_DB = 10.0  # two sources overlap where neither is this much below the other
CABIN_LEAK_CM2 = 20.0
_LEAK_GAP, _LEAK_DEEP = 2e-3, 20e-3  # of a door seal (common trade practice)
FREE_SEAT = "1 m, half space"
Column = tuple[str, str, Piston]  # an outlet: whose it is, what kind, where


@dataclass(frozen=True, eq=False)
class SoundEngine:
    """Plays any stage of a job any way; whoever asks what-ifs holds one.  Frozen: any number of threads may use it."""

    job: Job
    here: Mapping[str, Place]  # openings on their sides
    sized: Mapping[tuple[str, str], Dimensions]  # mm, lengths and areas from the fit
    units: Mapping[str, Unit | None]
    outputs: Mapping[str, Outputs | None]
    cabin: Cabin
    memo: Memo
    findings: tuple[Finding, ...] = ()
    air: Air = field(default_factory=Air)
    # m, every outlet of every stage, in the order of the columns of the cabin's transfer
    columns: tuple[Column, ...] = ()

    def plan(
        self, stage: StageTable, what_if: WhatIf | None = None, ledger: Ledger | None = None, missing: list[Finding] | None = None
    ) -> tuple[PlannedChannel, ...]:  # fmt: skip
        """A stage laid out."""
        notes = Ledger() if ledger is None else ledger
        mounts = Mounts(self.job, self.here, self.sized, notes, self.cabin.space, [] if missing is None else missing)
        return plan_stage(stage, what_if or WhatIf(), self.units, self.outputs, self.here, mounts)


def engine_from(
    job: Job, here: Mapping[str, Place], sized: Mapping[tuple[str, str], Dimensions], ledger: Ledger, memo: Memo
) -> SoundEngine:
    """Read what the predictions need from a job."""
    findings: list[Finding] = []
    used = [path for stage in job.file.stage for path in stage.path]
    units: dict[str, Unit | None] = {}
    for speaker in job.file.speaker:
        if speaker.id in {path.speaker for path in used}:
            units[speaker.id], checks = unit_of(job, speaker, F_HZ, ledger, memo)
            findings += [Finding(check, speaker.id) for check in checks]
    outputs: dict[str, Outputs | None] = {}
    for source in job.file.source:
        if source.id in {path.source for path in used}:
            made = outputs_of(source, ledger)
            if isinstance(made, Check):
                findings.append(Finding(made, source.id))
            outputs[source.id] = None if isinstance(made, Check) else made
    engine = SoundEngine(job, here, sized, units, outputs, _cabin(job, ledger), memo)
    # every outlet of every stage is numbered, so that stages can be compared outlet by outlet
    columns: dict[Column, int] = {}
    for stage in job.file.stage:
        plan = engine.plan(stage, None, ledger, findings)
        for channel, solved in zip(plan, _solved(engine, plan)[1], strict=True):
            for path, load in zip(channel.paths, solved.loads, strict=True):
                _outlets(engine.cabin, path, load, columns)
    return replace(engine, findings=tuple(findings), columns=tuple(columns))


def _cabin(job: Job, ledger: Ledger) -> Cabin:
    given, seats = job.file.vehicle.cabin, job.file.seat
    if given is None or not seats:
        lacking = "a cabin" if given is None else "a seat"
        ledger.note("seat", FREE_SEAT, "", f"{lacking} was not given: each driver in a baffle in the open, heard alone")
        return Cabin(None, (FREE_SEAT,))
    if given.leak is None:
        ledger.note("vehicle.cabin.leak", CABIN_LEAK_CM2, "cm2", f"door seals and vents; {PRACTICE}")
    for name, meters in (("height", _LEAK_GAP), ("depth", _LEAK_DEEP)):
        ledger.note(f"vehicle.cabin: {name} of the leak's slits", meters * 1e3, "mm", f"a door seal; {PRACTICE}")
    if given.loss is None:
        ledger.note("vehicle.cabin.loss", CABIN_LOSS, "", "a trimmed cabin, 0.1 to 0.25; from memory")
    area = CABIN_LEAK_CM2 * 1e-4 if given.leak is None else given.leak.to("m2")
    space = BoxCabin(given.length.to("m"), given.width.to("m"), given.height.to("m"))
    return Cabin(
        space, tuple(seat.id for seat in seats), tuple(on_wall(space, point_m(seat.ear)) for seat in seats),
        CABIN_LOSS if given.loss is None else given.loss, Leak(area, _LEAK_GAP, _LEAK_DEEP) if area > 0 else None,
    )  # fmt: skip


def play(
    engine: SoundEngine, stage: StageTable, what_if: WhatIf | None = None, together: bool = False
) -> PlayedStage | None:
    """A stage as it plays, as the job has it or otherwise; None where nothing of it can be predicted."""
    plan = engine.plan(stage, what_if)
    if not plan:
        return None
    keys, channels = _solved(engine, plan)
    held = {column: n for n, column in enumerate(engine.columns)}  # a what-if may open one more, for itself alone
    drives = tuple(DRIVE_V * c.outputs.on.response(F_HZ) * c.chain.response(F_HZ) for c in plan)

    def voice(k: int, j: int, path: PlannedPath) -> Voice:
        unit = path.load.unit
        gain = path.polarity * (np.ones(len(F_HZ), complex) if unit.correction is None else unit.correction)
        limits = StageLimits(unit.x_max, unit.power_w, plan[k].outputs.on.clip_v)
        outlets = _outlets(engine.cabin, path, channels[k].loads[j], held)
        return Voice(path.name, path.label, k, j, outlets, gain, unit.limit_hz(engine.air), limits)

    voices = tuple(voice(k, j, path) for k, channel in enumerate(plan) for j, path in enumerate(channel.paths))
    off = tuple(replace(v, limits=replace(v.limits, clip_v=plan[v.channel].outputs.off.clip_v)) for v in voices)
    columns = tuple(held)
    spots = tuple([(one[0], one[1]) for one in columns].index((subject, kind)) for subject, kind, _ in columns)
    said = [
        (key, c.chain, c.outputs.on.levels, [(p.name, p.label, p.polarity) for p in c.paths])
        for key, c in zip(keys, plan, strict=True)
    ]
    name = digest("levels", said, columns, engine.cabin, engine.air, together)
    levels = engine.memo.keep(
        name, lambda: stage_levels(channels, drives, voices, _transfer(engine, columns), spots, together)
    )
    return PlayedStage(
        stage.id, stage.title or stage.id, stage.level.to("dB"), plan, channels, drives, voices, levels,
        loudest(channels, drives, voices), loudest(channels, drives, off),
    )  # fmt: skip


def solved_channels(engine: SoundEngine, stage: StageTable) -> tuple[tuple[PlannedChannel, ChannelResponse], ...]:
    """Every output of a stage as the job has it, solved for one volt."""
    plan = engine.plan(stage)
    return tuple(zip(plan, _solved(engine, plan)[1], strict=True))


def _solved(
    engine: SoundEngine, plan: tuple[PlannedChannel, ...]
) -> tuple[tuple[str, ...], tuple[ChannelResponse, ...]]:
    """Each output solved, and the digest of what it is: worked out once, for this and for what hangs on it."""

    def one(channel: PlannedChannel) -> tuple[str, ChannelResponse]:
        what = (channel.outputs.on.resistance, tuple(p.load for p in channel.paths), engine.air)
        key = digest(channel_response, *what)
        return key, engine.memo.keep(key, lambda: channel_response(F_HZ, *what))

    found = [one(channel) for channel in plan]
    return tuple(key for key, _ in found), tuple(solved for _, solved in found)


def outlet_piston(cabin: Cabin, path: PlannedPath, n: int, outlet: Outlet) -> Piston:
    """Where and how large the nth outlet of a path is in the cabin."""
    at = path.points[min(n, len(path.points) - 1)]
    # a leak or a panel that moves is spread out: as a point it is heard alike from everywhere
    radius = outlet.radius if outlet.kind in ("cone", "grille", "port") else 0.0
    if cabin.space is None or at is None:
        return Piston((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), radius)
    return Piston(at, cabin.space.inward(at), radius)


def _outlets(cabin: Cabin, path: PlannedPath, load: LoadResponse, columns: dict[Column, int]) -> tuple[int, ...]:
    """Columns of a path's outlets in the cabin's transfer; new ones are numbered as they come."""
    outlets = ((o.kind, outlet_piston(cabin, path, n, o)) for n, o in enumerate(load.outlets))
    return tuple(columns.setdefault((path.subject, *one), len(columns)) for one in outlets)


def _transfer(engine: SoundEngine, columns: tuple[Column, ...]) -> Transfer:
    cabin, pistons = engine.cabin, tuple(piston for _, _, piston in columns)
    if cabin.space is None:
        return engine.memo.call(free_transfer, F_HZ, pistons, 1.0, engine.air)
    branches = () if cabin.leak is None else (cabin.leak,)
    return engine.memo.call(cabin_transfer, F_HZ, cabin.space, pistons, cabin.ears, cabin.loss, branches, engine.air)


def turned(engine: SoundEngine, stage: StageTable, one: PlayedStage) -> Iterator[tuple[str, BandDifference]]:
    """For each path and the next one below it: that path turned round, with all above it, less as it is. Returns (str,
    BandDifference) dB: at the first seat, added with phase, where the two are about as loud."""
    labels = sorted(dict.fromkeys(voice.label for voice in one.voices), key=lambda label: _middle_hz(one, label))
    as_it_is = play(engine, stage, together=True) if len(labels) > 1 else None
    for k in range(1, len(labels)):
        span = overlap(one, labels[k - 1], labels[k])
        if span is None or as_it_is is None:
            continue
        other = play(engine, stage, WhatIf(flipped=frozenset(labels[k:])), together=True)
        assert other is not None
        yield labels[k], band_difference(as_it_is.levels, other.levels, *span)


def overlap(one: PlayedStage, lower: str, upper: str) -> tuple[float, float] | None:
    """Where two paths are about as loud as each other at the first seat, Hz; None where they never are."""
    below, above = (_energy(one, label) for label in (lower, upper))
    mid = (F_HZ > 200) & (F_HZ < 2000)
    near = (np.abs(10 * np.log10(above / below)) < _WITHIN_DB) & AUDIBLE
    near &= below + above > 0.01 * 10 ** (one.levels.level[0, mid] / 10).mean()
    if not near.any():
        return None
    # the run round the place where they are most alike
    at = int(np.argmin(np.where(near, np.abs(np.log(above / below)), np.inf)))
    low = high = at
    while low > 0 and near[low - 1]:
        low -= 1
    while high < len(F_HZ) - 1 and near[high + 1]:
        high += 1
    return float(F_HZ[low]), float(F_HZ[high])


def _energy(one: PlayedStage, label: str) -> np.ndarray:
    names = [voice.name for voice in one.voices if voice.label == label]
    return np.asarray(sum(10 ** (one.levels.alone[name][0] / 10) for name in names))


def _middle_hz(one: PlayedStage, label: str) -> float:
    energy = _energy(one, label)
    return float(np.exp((np.log(F_HZ) * energy).sum() / energy.sum()))
