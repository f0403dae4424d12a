"""From takes at a seat to what is set: delay, level and polarity of each output, and its filters toward a target.

tuned_of       from takes at one seat
settings_of    for a stage of a job, within what the prediction leaves
kept_settings  the keys of the job that hold them, and what no key can hold
checked        the new reading against what was promised
joined         ways to join two outputs, best first, by the measured sum"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics import band_level, smoothed
from backwave.assess.proof.before_after import Proof, ReadingGroup
from backwave.assess.sound.results import F_HZ, volume_db
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Finding, Message
from backwave.job import Job
from backwave.job.signal_chain import StageTable, TuneTable
from backwave.measure.alignment import (
    HOUSE_CURVE,
    ChannelSetting,
    JoinedSum,
    SettingRow,
    align_channels,
    choose_joint,
    joints_between,
    settings_table,
    target_curve,
)
from backwave.measure.analysis import TakeRead, place_average
from backwave.measure.averaging import REPEAT_DB
from backwave.measure.equalizer import Equalizer, FilterLimits, check_nulls, fit_bands, fit_equalizer
from backwave.notation.crossover import write_filter

if TYPE_CHECKING:
    from backwave.assess.sound.results import Prediction

# targets by name, Hz and dB: a preference (common trade practice)
TARGETS: dict[str, tuple[tuple[float, float], ...]] = {"house": HOUSE_CURVE, "flat": ((20.0, 0.0), (20000.0, 0.0))}
MATCH_HZ = (300.0, 3000.0)  # where outputs are matched in level, as far as both play it
_FALLEN_DB = 8.0
_DIP_OCTAVES = 0.5
_CLEAR_DB = 10.0  # signal over noise below which a band is not used
JOIN_DB = 12.0  # two outputs overlap where neither is this much below the other


@dataclass(frozen=True, eq=False)
class TunedOutput:
    """One output."""

    setting: ChannelSetting  # delay, level, polarity
    equalizer: Equalizer  # dB, its filters, and what they do
    rows: tuple[SettingRow, ...]  # the same in words and as coefficients
    checks: tuple[Check, ...]
    f_hz: NDArray[np.float64]  # (n_freq,), the mean response that was corrected
    level_db: NDArray[np.float64]  # (n_freq,)
    # (float, float), between which: as far as it plays, is clear of the noise, and the limits go
    band_hz: tuple[float, float]

    @property
    def promised_db(self) -> NDArray[np.float64]:
        """The mean response with the filters, dB."""
        return np.asarray(self.level_db + self.equalizer.gain_db(self.f_hz))


@dataclass(frozen=True, eq=False)
class Tuned:
    """What is set on a processor."""

    outputs: tuple[TunedOutput, ...]
    places: int  # how many takes round the head stand behind it
    rate_hz: float  # the processor's, for the coefficients
    target: str
    points: tuple[tuple[float, float], ...] = ()  # Hz and dB
    # whether excursion and headroom of the prediction were respected; False where nothing was predicted
    limited: bool = False


def tuned_of(
    reads: Sequence[TakeRead], target: str | Sequence[tuple[float, float]] = "house", count: int = 8,
    bands_hz: tuple[float, ...] = (), rate_hz: float = 48000.0, limits: FilterLimits | None = None,
    room: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
) -> Tuned:  # fmt: skip
    """Settings from one or more takes of the same sweep at one seat. `reads`: one for each place round the head, the
    first in its middle; `limits`: what filters may do, its band aside; None is the room's own; `room` (frequencies,
    gains): gain that excursion and headroom leave at each frequency; None: nobody predicted it."""
    if isinstance(target, str) and target not in TARGETS:
        raise InputError("target", target, ", ".join(TARGETS))
    points = TARGETS[target] if isinstance(target, str) else tuple(target)
    if not reads:
        raise InputError("takes", 0, "one or more recordings of the sweep")
    first = [one for one in reads[0].responses if one.name != "all"] or list(reads[0].responses)
    means = {one.name: place_average(reads, one.name) for one in first}
    low, high = MATCH_HZ
    levels = []
    for one in first:
        f, level, _ = means[one.name]
        span = max(low, float(f[0])), min(high, float(f[-1]))
        levels.append(band_level(f, level, *(span if span[0] < span[1] / 1.2 else (float(f[0]), float(f[-1])))))
    polarities = [1, *(one.polarity for one in first[1:])]
    settings = align_channels([one.name for one in first], [one.delay_s or 0.0 for one in first], levels, polarities)
    outputs = []
    for one, setting in zip(first, settings, strict=True):
        f, level, spread = means[one.name]
        use = _clear(one.f_hz, one.snr_db, f)
        wanted = target_curve(f, points)
        held = limits or FilterLimits()
        low = max(held.low_hz, use[0], _reach(f, level - wanted))
        own = replace(held, low_hz=low, high_hz=min(held.high_hz, use[1]))
        gain = None if room is None else np.maximum(np.interp(np.log(f), np.log(room[0]), room[1]), 0.0)
        if bands_hz:
            made = fit_bands(f, level, wanted, bands_hz, limits=own, most_gain_db=gain)
        else:
            made = fit_equalizer(f, level, wanted, count, own, spread if len(reads) > 1 else None, gain)
        checks = (*check_nulls(made), *_held_back(f, gain, own))
        table, span = settings_table(made, rate_hz), (own.low_hz, own.high_hz)
        outputs.append(TunedOutput(setting, made, table, checks, f, level, span))
    name = target if isinstance(target, str) else "your own"
    return Tuned(tuple(outputs), len(reads), rate_hz, name, points, room is not None)


def _reach(f: NDArray[np.float64], off_db: NDArray[np.float64]) -> float:
    """How far down an output plays, Hz: a filter must not pull all else down to what lies below. From the middle
    downward, until it stays more than `_FALLEN_DB` below what it is there; narrow dips are passed over."""
    level = smoothed(f, off_db, 3)
    middle = (f >= MATCH_HZ[0]) & (f <= MATCH_HZ[1])
    level = level - float(np.median(level[middle] if middle.any() else level))
    standing = np.flatnonzero(level > -_FALLEN_DB)
    start = int(np.searchsorted(f, 400.0))
    edge = min(start, f.size - 1)
    for k in standing[standing <= start][::-1]:
        if np.log2(f[edge] / f[k]) > _DIP_OCTAVES:
            break
        edge = int(k)
    return float(f[edge])


def _held_back(f: NDArray[np.float64], gain: NDArray[np.float64] | None, limits: FilterLimits) -> tuple[Check, ...]:
    """Where boost was held below what the equalizer may do, by excursion or headroom."""
    if gain is None:
        return ()
    short = (gain < limits.boost_db - 0.05) & (f >= limits.low_hz) & (f <= limits.high_hz)
    if not short.any():
        return ()
    at = f[short]
    return (Check(
        "measure.headroom", "ok",
        Message("boost from {low} to {high} was held back: there is no room for it at the level asked", (
            ("low", float(at[0]), "Hz"), ("high", float(at[-1]), "Hz"))),
        value=float(gain[short].min()), limit=limits.boost_db, unit="dB", sources=(PRACTICE,),
        part="boost",
    ),)  # fmt: skip


def _clear(f_hz: NDArray[np.float64], snr_db: NDArray[np.float64], f: NDArray[np.float64]) -> tuple[float, float]:
    """The widest range in which the reading is clear of the noise."""
    clear = f[np.interp(np.log(f), np.log(f_hz), snr_db) > _CLEAR_DB]
    at = clear if clear.size else f
    return float(at[0]), float(at[-1])


def tuned_json(made: Tuned) -> dict[str, Any]:
    """The settings as JSON."""
    return {
        "target": made.target, "places": made.places, "rate_hz": made.rate_hz,
        "target_points": [list(point) for point in made.points], "headroom_respected": made.limited,
        "channels": [_output_json(one) for one in made.outputs],
    }  # fmt: skip


def _output_json(one: TunedOutput) -> dict[str, Any]:
    setting = one.setting
    return {
        "output": setting.name, "delay_ms": setting.delay_ms, "delay_cm": setting.delay_cm, "gain_db": setting.gain_db,
        "invert": setting.invert, "from_hz": round(one.band_hz[0], 1), "to_hz": round(one.band_hz[1], 1),
        "before_db": round(one.equalizer.before_db, 2), "after_db": round(one.equalizer.after_db, 2),
        "filters": [
            {
                "words": row.words, "kind": row.filter.kind, "f_hz": round(row.filter.f0_hz, 1),
                "gain_db": round(row.filter.gain_db, 2), "q": round(row.filter.q, 3), "b": list(row.b), "a": list(row.a),
            }
            for row in one.rows
        ],
        "left_out": [
            {"from_hz": round(n.low_hz, 1), "to_hz": round(n.high_hz, 1), "depth_db": round(n.depth_db, 1)}
            for n in one.equalizer.nulls
        ],
    }  # fmt: skip


@dataclass(frozen=True)
class KeptSettings:
    """How settings go into the job."""

    changes: tuple[tuple[tuple[str | int, ...], Any], ...]  # what to write; None takes a key out
    left: tuple[tuple[str, str], ...]  # what no key can hold


def takes_of(proof: Proof | None, stage: str = "", seat: str = "", *, tuned: bool = False) -> ReadingGroup:
    """The readings from which settings are worked out: of the last stage that has any."""
    groups = [
        g for g in (() if proof is None else proof.groups)
        if g.tuned == tuned and stage in ("", g.stage) and seat in ("", g.seat) and any(h.recording for h in g.heard)
    ]  # fmt: skip
    if not groups:
        which = " ".join(f"of {name}" for name in (stage, seat) if name)
        raise InputError(
            f"recordings to set by {which}".strip(), "none that can be used",
            "a [[reading]] of the sweep, each output alone, at the seat",
        )  # fmt: skip
    return groups[-1]


def settings_of(job: Job, prediction: Prediction | None, group: ReadingGroup, wish: TuneTable | None = None) -> Tuned:
    """Delays, levels and filters toward the job's target, within what the prediction leaves."""
    wish = wish or job.file.tune
    plain = FilterLimits()
    limits = FilterLimits(
        boost_db=plain.boost_db if wish.boost is None else wish.boost.to("dB"),
        cut_db=plain.cut_db if wish.cut is None else wish.cut.to("dB"),
    )
    played = next((s for s in (prediction.stages if prediction else ()) if s.id == group.stage), None)
    room = None if played is None else (F_HZ, played.loud.gain_db - volume_db(played))
    reads = [h.recording.read for h in group.heard if h.recording is not None]
    bands = tuple(q.to("Hz") for q in wish.bands)
    rate = 48000.0 if wish.rate is None else wish.rate.to("Hz")
    return tuned_of(reads, wish.target, wish.filters, bands, rate, limits, room)


def kept_settings(job: Job, stage: str, tuned: Tuned) -> KeptSettings:
    """The keys that hold the settings: filters are added to those of the paths, delay and gain to what they have."""
    number = next((k for k, s in enumerate(job.file.stage) if s.id == stage), None)
    if number is None:
        return KeptSettings((), ((stage, "no [[stage]] of the job: set it by hand, from the table"),))
    if stage in job.file.tune.kept:
        why = "its settings are in the job already; to keep others, undo them and take it out of tune.kept"
        return KeptSettings((), ((stage, why),))
    table = job.file.stage[number]
    changes: list[tuple[tuple[str | int, ...], Any]] = []
    left: list[tuple[str, str]] = []
    played: set[int] = set()
    for one in tuned.outputs:
        name = one.setting.name
        numbers = _paths(table, name, alone=len(tuned.outputs) == 1)
        if not numbers:
            left.append((name, "no path of that side, channel or place; write the sweep with such names (--outputs)"))
            continue
        played |= set(numbers)
        added = [row.words for row in one.rows]
        for k in numbers:
            path, where = table.path[k], ("stage", number, "path", k)
            if added:
                changes.append(((*where, "filters"), [*map(str, path.filters), *added]))
            delay = one.setting.delay_ms + (0.0 if path.delay is None else path.delay.to("ms"))
            gain = one.setting.gain_db + (0.0 if path.gain is None else path.gain.to("dB"))
            if one.setting.delay_ms:
                changes.append(((*where, "delay"), f"{delay:.4g} ms"))
            if one.setting.gain_db:
                changes.append(((*where, "gain"), f"{gain:.4g} dB"))
            if one.setting.invert:
                changes.append(((*where, "polarity"), None if path.polarity == -1 else -1))
    if changes:
        changes.append((("tune", "kept"), [*job.file.tune.kept, stage]))
    untouched = (path for k, path in enumerate(table.path) if k not in played)
    why = "not among the outputs that were recorded: it stays as it is"
    left += [(path.opening or path.box or "", why) for path in untouched]
    return KeptSettings(tuple(changes), tuple(dict.fromkeys(left)))


def _paths(stage: StageTable, output: str, *, alone: bool) -> list[int]:
    """Numbers of the paths that an output of the sweep plays: by side, channel, place or driver."""
    found = [
        k for k, p in enumerate(stage.path)
        if output in (p.side, p.channel, p.opening, p.box, p.speaker, f"{p.opening}.{p.side}")
    ]  # fmt: skip
    if not found and alone:
        return list(range(len(stage.path)))
    # what is before an output is the same for all of its paths
    outputs = {(p.source, p.channel, p.side) for k, p in enumerate(stage.path) if k in found}
    return [k for k, p in enumerate(stage.path) if (p.source, p.channel, p.side) in outputs]


def checked(before: Tuned, group: ReadingGroup) -> tuple[Finding, ...]:
    """A new reading, with the settings on, against what they promised."""
    reads = [h.recording.read for h in group.heard if h.recording is not None]
    found = []
    for one in before.outputs:
        same = [r for read in reads for r in read.responses if r.name == one.setting.name]
        if not same:
            continue
        eq = one.equalizer
        use = (one.f_hz >= one.band_hz[0]) & (one.f_hz <= one.band_hz[1])
        f = one.f_hz[use]
        level = np.mean([np.interp(np.log(f), np.log(r.f_hz), r.smoothed_db(3)) for r in same], axis=0)
        promised = smoothed(one.f_hz, one.promised_db, 3)[use]
        target = target_curve(f, before.points)
        for null in eq.nulls:  # what was left out then is left out now
            keep = (f < null.low_hz) | (f > null.high_hz)
            f, level, promised, target = f[keep], level[keep], promised[keep], target[keep]
        off, miss = level - promised, level - target
        apart, now = float(np.std(off)), float(np.std(miss))
        good = apart <= 2 * REPEAT_DB
        found.append(Finding(Check(
            "measure.tuned", "ok" if good else "caution",
            Message("{output}: {now} from the target, {apart} from what the settings promised", (
                ("output", one.setting.name, ""), ("now", now, "dB"), ("apart", apart, "dB"))),
            value=apart, limit=2 * REPEAT_DB, unit="dB", part=one.setting.name.replace(".", "-"),
            remedy=None if good else Message(
                "Compare the processor's settings with the table, filter by filter: the sign of a gain, Q against "
                "bandwidth, the channel; then record at the same places again"),
            sources=(PRACTICE,),
        ), f"{group.seat}-seat"))  # fmt: skip
    return tuple(found)


def joined(read: TakeRead, lower: str, upper: str, count: int = 5) -> tuple[JoinedSum, ...]:
    """Ways to join two outputs of one take, by the measured sum, best first."""
    named = {one.name: one for one in read.responses}
    for name in (lower, upper):
        if name not in named:
            raise InputError("output", name, ", ".join(named))
    one, other = named[lower], named[upper]
    f = one.f_hz[(one.f_hz >= other.f_hz[0]) & (one.f_hz <= other.f_hz[-1])]
    levels = [np.interp(np.log(f), np.log(r.f_hz), r.smoothed_db(3)) for r in (one, other)]
    near = np.abs(levels[0] - levels[1]) < JOIN_DB
    if not near.any():
        raise InputError(
            f"{lower} and {upper}", "they overlap nowhere", "outputs that play one range, recorded without crossovers"
        )
    zero = one.impulse.arrival_s
    late = (other.delay_s or 0.0) - (one.delay_s or 0.0)
    ways = joints_between(float(f[near][0]), float(f[near][-1]), delays_s=tuple(dict.fromkeys((0.0, -late))))
    return choose_joint(f, one.impulse.spectrum(f, zero), other.impulse.spectrum(f, zero), ways)[:count]


def joint_json(one: JoinedSum) -> dict[str, Any]:
    """One way to join two outputs, as JSON."""
    joint = one.joint
    return {
        "f_hz": joint.f0_hz, "lower": [write_filter(x) for x in joint.low],
        "upper": [write_filter(x) for x in joint.high], "invert": joint.invert,
        "delay_ms": round(1e3 * joint.delay_s, 3), "adds_db": round(one.adds_db, 2), "worst_db": round(one.worst_db, 2),
    }  # fmt: skip
