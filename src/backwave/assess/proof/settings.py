"""Settings in the job: which readings they are worked out from, which paths they go into, whether they kept their word.

settings_of    delays, levels and filters of a stage at a seat, within what the prediction leaves
kept_settings  the keys of the job that hold them, and what no key can hold
checked        the new reading against what was promised
joined         ways to join two outputs, best first, by the measured sum
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backwave.assess.proof.before_after import Proof, ReadingGroup
from backwave.assess.proof.tuning import Tuned, tuned_of
from backwave.assess.sound.results import F_HZ, volume_db
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Finding, Message
from backwave.job import Job
from backwave.job.signal_chain import StageTable, TuneTable
from backwave.measure.alignment import JoinedSum, choose_joint, joints_between, target_curve
from backwave.measure.analysis import TakeRead
from backwave.measure.bands import REPEAT_DB
from backwave.measure.equalizer import FilterLimits
from backwave.measure.smoothing import smoothed
from backwave.notation.filters import write_filter

if TYPE_CHECKING:
    from backwave.assess.sound.results import Prediction

JOIN_DB = 12.0  # two outputs overlap where neither is this much below the other


@dataclass(frozen=True)
class KeptSettings:
    """How settings go into the job."""

    changes: tuple[tuple[tuple[str | int, ...], Any], ...]  # what to write; None takes a key out
    left: tuple[tuple[str, str], ...]  # what no key can hold


def takes_of(proof: Proof | None, stage: str = "", seat: str = "", *, tuned: bool = False) -> ReadingGroup:
    """The readings from which settings are worked out: of the last stage that has any.

    InputError: there is none.
    """
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
    """Delays, levels and filters toward the job's target, within what the prediction leaves.

    InputError: recordings that cannot be set by.
    """
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
    for one in tuned.outputs:
        name = one.setting.name
        numbers = _paths(table, name, alone=len(tuned.outputs) == 1)
        if not numbers:
            why = "no path of that side, channel or place; write the sweep with such names (--outputs)"
            left.append((name, why))
            continue
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
    untouched = set(range(len(table.path))) - {
        k for one in tuned.outputs for k in _paths(table, one.setting.name, alone=len(tuned.outputs) == 1)
    }
    for k in sorted(untouched):
        path = table.path[k]
        left.append((path.opening or path.box or "", "not among the outputs that were recorded: it stays as it is"))
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
    """Ways to join two outputs of one take, by the measured sum, best first.

    InputError: an output that did not sound, or two that overlap nowhere.
    """
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
