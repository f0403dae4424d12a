"""What readings say beside what was predicted, as values: groups of readings, pairs of them, and what was learned.

Everything is told against each curve's own level from 300 Hz to 3 kHz: a microphone that nobody calibrated knows no
other.  Each number has its doubt; a difference within twice its standard uncertainty is called none.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.assess.proof.read_recordings import Heard
from backwave.assess.sound.results import listed
from backwave.finding import Finding
from backwave.measure.averaging import Gathered, LevelDifference, MatchedDistortion, Summary
from backwave.measure.model_fit import Learned

Real = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ReadingGroup:
    """Readings of one stage at one seat."""

    stage: str
    seat: str
    title: str
    tuned: bool  # taken with the settings that `tune` gave
    heard: tuple[Heard, ...]
    mean: Gathered  # dB


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
    narrowed: float  # how wide its doubt is now, against before

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
    learned: Learned
    # root mean square between prediction and this reading, level free, 30 to 400 Hz, before and after learning
    before_db: float
    after_db: float
    shift_db: float  # by how much the prediction itself moved
    # (stage, before, after) dB, the same distances for the later stage's reading, which the fit has not seen
    unseen: tuple[str, float, float] | None
    expected: Expected | None  # dB, the prediction of the later stage (or of this one) with what was learned
    findings: tuple[Finding, ...]  # what the reading did not move, or drove to its bound

    @property
    def changes(self) -> dict[str, str | float]:
        """What goes into the job to keep it: keys and values of what the reading moved."""
        return {one.key: one.written for one in self.taught if one.moved}
