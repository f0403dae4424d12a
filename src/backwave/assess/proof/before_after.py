"""Whether it worked: readings before and after beside what was predicted.

Everything is told against each curve's own level from 300 Hz to 3 kHz: a microphone that nobody calibrated knows no
other.  Each number has its doubt; a difference within twice its standard uncertainty is called none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics import BANDS
from backwave.assess.proof.recordings import FACTORY, Heard
from backwave.assess.sound.results import listed
from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Finding, Message, check_of
from backwave.job import Job
from backwave.measure.averaging import (
    ANCHOR_HZ,
    Gathered,
    LevelDifference,
    MatchedDistortion,
    Summary,
    compare,
    gather,
    match_distortion,
    summary,
)

if TYPE_CHECKING:
    from backwave.assess.sound.results import Prediction


Real = NDArray[np.float64]
# below it a phone's own filters, which nobody publishes, bend what it records (from memory); its readings are still alike
PHONE_HZ = 150.0


@dataclass(frozen=True, eq=False)
class ReadingGroup:
    """Readings of one stage at one seat."""

    stage: str
    seat: str
    title: str
    tuned: bool  # taken with the settings that `tune` gave
    heard: tuple[Heard, ...]
    mean: Gathered  # dB

    @property
    def from_hz(self) -> float:
        """From where on it can be held against a prediction, Hz."""
        phones = (one.row.recorder == "phone" and one.row.microphone is None for one in self.heard)
        return PHONE_HZ if any(phones) else 0.0


@dataclass(frozen=True, eq=False)
class Expected:
    """What was predicted of a stage at a seat, against its own anchor."""

    stage: str
    title: str
    f_hz: Real  # (n_freq,), the prediction and its band of 95 %
    level_db: Real  # (n_freq,)
    low_db: Real  # (n_freq,)
    high_db: Real  # (n_freq,)
    beyond: NDArray[np.bool_]  # (n_freq,), where only the band is known
    summary: Summary


@dataclass(frozen=True)
class BandRow:
    """One band before and after."""

    name: str
    low_hz: float
    high_hz: float
    before_db: float | None  # against the anchor; None where the reading does not reach, or there is none
    after_db: float | None
    change: LevelDifference | None  # dB, after less before
    # (value, low, high) dB, what was predicted of the change, with its band of 95 %
    predicted: tuple[float, float, float] | None

    @property
    def as_predicted(self) -> bool | None:
        """Whether the change is what was predicted, as far as both are known; None without either."""
        if self.change is None or self.predicted is None:
            return None
        value, low, high = self.predicted
        return abs(self.change.change_db - value) <= 2 * hypot(self.change.u_db, (high - low) / 4)


@dataclass(frozen=True)
class EndRow:
    """Extension or smoothness, before and after."""

    name: str  # "extension down", "extension up" in Hz; "smoothness" in dB
    unit: str
    before: float | None  # `unit`, None where the curve ends before it falls
    after: float | None  # `unit`
    u: float  # octave or dB, standard uncertainty of the difference: octaves where the unit is Hz
    predicted_before: float | None  # `unit`
    predicted_after: float | None  # `unit`

    @property
    def change(self) -> float | None:
        """After against before: octaves where the unit is Hz, else a difference."""
        if self.before is None or self.after is None:
            return None
        return float(np.log2(self.after / self.before)) if self.unit == "Hz" else self.after - self.before

    @property
    def real(self) -> bool:
        """Whether it is more than readings do."""
        change = self.change
        return change is not None and abs(change) > 2 * self.u


@dataclass(frozen=True, eq=False)
class SweepPair:
    """Before and after at one seat."""

    seat: str
    before: ReadingGroup  # the readings of the earlier stage
    after: ReadingGroup | None  # those of the later one; None where there is one stage alone
    expected_before: Expected | None  # dB, what was predicted of each stage
    expected_after: Expected | None  # dB
    bands: tuple[BandRow, ...]  # dB
    ends: tuple[EndRow, ...]  # Hz and dB
    distortion: tuple[MatchedDistortion, ...]  # dB

    @property
    def from_hz(self) -> float:
        """From where on both can be held against a prediction, Hz."""
        return max(self.before.from_hz, 0.0 if self.after is None else self.after.from_hz)


@dataclass(frozen=True, eq=False)
class Proof:
    """What the readings of a job say."""

    heard: tuple[Heard, ...]
    groups: tuple[ReadingGroup, ...]  # by stage and seat, in the order of the stages
    pairs: tuple[SweepPair, ...]  # the first stage that was heard against the last, at each seat
    findings: tuple[Finding, ...]  # of the readings, and of what was promised


def proof_json(proof: Proof) -> dict[str, Any]:
    """The readings compared, as JSON."""
    return {
        "readings": [
            {"file": one.row.file, "stage": one.stage or None, "seat": one.seat or None, "used": one.one is not None}
            for one in proof.heard
        ],
        "groups": [
            {
                "stage": g.stage, "seat": g.seat, "tuned": g.tuned, "takes": g.mean.takes, "places": g.mean.places,
                "f_hz": listed(g.mean.f_hz, 3), "magnitude_db": listed(g.mean.level_db),
                "spread_db": listed(g.mean.spread_db),
            }
            for g in proof.groups
        ],
        "seats": {pair.seat: _pair_json(pair) for pair in proof.pairs},
    }  # fmt: skip


def _pair_json(pair: SweepPair) -> dict[str, Any]:
    return {
        "before": pair.before.stage,
        "after": None if pair.after is None else pair.after.stage,
        "bands": [
            {
                "band": row.name, "from_hz": row.low_hz, "to_hz": row.high_hz, "before_db": _round(row.before_db),
                "after_db": _round(row.after_db),
                **_change_json(row.change),
                "predicted_db": None if row.predicted is None else [round(v, 2) for v in row.predicted],
                "as_predicted": row.as_predicted,
            }
            for row in pair.bands
        ],
        "ends": [
            {
                "name": row.name, "unit": row.unit, "before": _round(row.before), "after": _round(row.after),
                "u": round(row.u, 3), "changed": row.real, "predicted_before": _round(row.predicted_before),
                "predicted_after": _round(row.predicted_after),
            }
            for row in pair.ends
        ],
        "distortion": [
            {
                "band": row.name, "from_hz": row.low_hz, "to_hz": row.high_hz, "before_db": round(row.before_db, 1),
                "after_db": round(row.after_db, 1), "u_db": round(row.u_db, 2), "at_db": _round(row.at_db),
                "changed": row.real,
            }
            for row in pair.distortion
        ],
    }  # fmt: skip


def _change_json(change: LevelDifference | None) -> dict[str, Any]:
    if change is None:
        return dict.fromkeys(("change_db", "u_db", "changed"))
    return {"change_db": round(change.change_db, 2), "u_db": round(change.u_db, 2), "changed": change.real}


def _round(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), 2)


SOURCES = ("JCGM 100:2008, 5.1", PRACTICE)


def proof_of(job: Job, prediction: Prediction | None, heard: Sequence[Heard]) -> Proof:
    """What the readings of a job say."""
    order = [FACTORY, *(s.id for s in job.file.stage if s.id != FACTORY)]
    titles = {FACTORY: "As it was"} | {s.id: s.title or s.id for s in job.file.stage}
    findings = [finding for one in heard for finding in one.findings]
    groups: list[ReadingGroup] = []
    keys: dict[tuple[int, bool, str], list[Heard]] = {}
    for one in heard:
        if one.one is None:
            continue
        if not one.stage:
            findings.append(Finding(_no_stage(one), one.name))
            continue
        keys.setdefault((order.index(one.stage), one.row.tuned, one.seat), []).append(one)
    for (k, tuned, seat), rows in sorted(keys.items(), key=lambda item: item[0]):
        title = titles[order[k]] + (", tuned" if tuned else "")
        try:
            mean = gather([row.one for row in rows if row.one is not None])
        except InputError as error:
            why, again = (("why", str(error), ""),), "Record the whole sweep again"
            check = check_of("measure.reading", "caution", "{why}", again, why, sources=(), part="mean")
            findings.append(Finding(check, rows[0].name))
            continue
        groups.append(ReadingGroup(order[k], seat, title, tuned, tuple(rows), mean))
    now = groups[-1].stage if groups else ""
    past = {one.name for one in heard if one.stage != now}
    findings = [_history(f) if f.subject in past else f for f in findings]
    pairs = []
    for seat in dict.fromkeys(group.seat for group in groups):
        here = [group for group in groups if group.seat == seat]
        before, after = here[0], here[-1] if len(here) > 1 else None
        pairs.append(paired(before, after, prediction, job.file.tune.kept))
        findings += _promises(pairs[-1])
        last = after or before
        if last.stage in job.file.tune.kept and not last.tuned:
            findings.append(Finding(_set_since(last), f"{seat}-seat"))
    return Proof(tuple(heard), tuple(groups), tuple(pairs), tuple(findings))


def expected(prediction: Prediction | None, stage: str, seat: str) -> Expected | None:
    """What was predicted of a stage at a seat; None where nothing was."""
    if prediction is None or seat not in prediction.cabin.seats:
        return None
    k = prediction.cabin.seats.index(seat)
    one = next((s for s in prediction.stages if s.id == stage), None)
    if one is None:
        return None
    levels = one.levels
    inside = (levels.f_hz >= 20) & (levels.f_hz <= 20000)
    f, level = levels.f_hz[inside], levels.level[k, inside]
    told = summary(f, level)
    low, high = (side[k, inside] - told.anchor_db for side in (levels.low, levels.high))
    return Expected(one.id, one.title, f, level - told.anchor_db, low, high, levels.beyond[inside], told)


def paired(
    before: ReadingGroup, after: ReadingGroup | None, prediction: Prediction | None, kept: Sequence[str] = ()
) -> SweepPair:
    """Two groups of one seat compared. A stage whose settings were kept in the job after it was recorded is predicted
    with them: nothing to compare with."""
    if any(g is not None and g.stage in kept and not g.tuned for g in (before, after)):
        prediction = None
    first = expected(prediction, before.stage, before.seat)
    last = None if after is None else expected(prediction, after.stage, after.seat)
    one, other = before.mean, None if after is None else after.mean
    own = max(before.from_hz, 0.0 if after is None else after.from_hz) > 0.0
    changes: dict[str, LevelDifference] = {}
    if other is not None:
        changes = {d.name: d for d in compare(one.summary, other.summary, one.u_db, other.u_db)}
    promised = {} if after is None else _promised(prediction, before, after)
    bands = tuple(
        BandRow(
            name, low, high, one.summary.levels_db.get(name),
            None if other is None else other.summary.levels_db.get(name), changes.get(name), promised.get(name),
        )
        for name, (low, high) in BANDS.items()
    )  # fmt: skip
    distortion: tuple[MatchedDistortion, ...] = ()
    if after is not None:
        distortion = match_distortion(*([h.one for h in g.heard if h.one is not None] for g in (before, after)))
    return SweepPair(
        before.seat,
        before,
        after,
        first,
        last,
        bands,
        _ends(one, other, None if own else first, None if own else last),
        distortion,
    )


def _promised(
    prediction: Prediction | None, before: ReadingGroup, after: ReadingGroup
) -> dict[str, tuple[float, float, float]]:
    """What was predicted of each band's change, each stage against its own anchor. The anchor's own doubt is added in
    full: what both share is not made use of, so the band is rather too wide."""
    from backwave.sound.stage import band_difference

    if prediction is None or before.seat not in prediction.cabin.seats:
        return {}
    seat = prediction.cabin.seats.index(before.seat)
    played = {one.id: one.levels for one in prediction.stages}
    if before.stage not in played or after.stage not in played or before.stage == after.stage:
        return {}
    one, other = played[before.stage], played[after.stage]
    anchor = band_difference(one, other, *ANCHOR_HZ, seat)
    found = {}
    for name, limits in BANDS.items():
        band = band_difference(one, other, *limits, seat)
        value = band.delta - anchor.delta
        down = hypot(band.delta - band.low, anchor.high - anchor.delta)
        up = hypot(band.high - band.delta, anchor.delta - anchor.low)
        found[name] = (value, value - down, value + up)
    return found


def _ends(one: Gathered, other: Gathered | None, first: Expected | None, last: Expected | None) -> tuple[EndRow, ...]:
    def told(of: Gathered | Expected | None, name: str) -> float | None:
        return None if of is None else getattr(of.summary, name)

    rows = []
    for name, unit, key, u in (
        ("extension down", "Hz", "low_hz", "u_low"), ("extension up", "Hz", "high_hz", "u_high"),
        ("smoothness", "dB", "smooth_db", "u_smooth_db"),
    ):  # fmt: skip
        # above where cones are pistons no line is predicted, so neither is where it ends, nor how smooth it is
        seen = key == "low_hz"
        rows.append(EndRow(
            name, unit, told(one, key), told(other, key),
            hypot(getattr(one, u), 0.0 if other is None else getattr(other, u)),
            told(first, key) if seen else None, told(last, key) if seen else None,
        ))  # fmt: skip
    return tuple(rows)


def _promises(pair: SweepPair) -> list[Finding]:
    """Of each band: whether it changed as was predicted."""
    found = []
    for row in pair.bands:
        agrees = row.as_predicted
        if agrees is None or row.change is None or row.predicted is None:
            continue
        words = (
            ("band", row.name, ""), ("change", row.change.change_db, "dB"), ("predicted", row.predicted[0], "dB"),
        )  # fmt: skip
        text = "{band} changed by {change}, as predicted ({predicted})" if agrees else (
            "{band} changed by {change}; {predicted} was predicted")  # fmt: skip
        found.append(Finding(Check(
            "measure.promise", "ok" if agrees else "caution", Message(text, words),
            value=row.change.change_db, unit="dB", low=row.change.change_db - 2 * row.change.u_db,
            high=row.change.change_db + 2 * row.change.u_db,
            remedy=None if agrees else Message(
                "Look for a leak round the ring, a reversed wire, a setting that differs; then let the prediction "
                "learn from the reading before"),
            working=(
                CalculationLine("d", "after less before, each against its own 300 Hz to 3 kHz", row.change.change_db, "dB"),
                CalculationLine("u", "standard uncertainty from the readings' repeatability", row.change.u_db, "dB"),
                CalculationLine("p", "what was predicted of it", row.predicted[0], "dB"),
                CalculationLine("p-", "2.5 % point of the prediction", row.predicted[1], "dB"),
                CalculationLine("p+", "97.5 % point of the prediction", row.predicted[2], "dB"),
            ),
            sources=SOURCES, part=row.name.replace(" ", "-"),
        ), f"{pair.seat}-seat"))  # fmt: skip
    return found


def _history(finding: Finding) -> Finding:
    """What broke up in a stage that is over calls for nothing any more."""
    check = finding.check
    if check.code != "measure.distortion" or check.verdict == "ok":
        return finding
    return Finding(replace(check, verdict="ok", remedy=None), finding.subject)


def _set_since(group: ReadingGroup) -> Check:
    return check_of(
        "measure.tuned", "caution", "{stage} was recorded before its settings; no recording with them on yet",
        "Set them, record again at the same places, and add the [[reading]] with tuned = true",
        (("stage", group.title, ""),), part=f"{group.stage}-since",
    )  # fmt: skip


def _no_stage(one: Heard) -> Check:
    return check_of(
        "measure.reading", "caution", "{file} belongs to no stage",
        'Say stage = "factory" for how it was, or the id of a stage', (("file", one.row.file, ""),), key="stage", part="stage",
    )  # fmt: skip
