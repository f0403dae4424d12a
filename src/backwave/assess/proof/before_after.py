"""What readings say beside what was predicted, as values: groups of readings, pairs of them, each number with its doubt.

Everything is told against each curve's own level from 300 Hz to 3 kHz: a microphone that nobody calibrated knows no
other.  A difference within twice its standard uncertainty is called none.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.assess.proof.read_recordings import Heard
from backwave.finding import Finding
from backwave.measure.averaging import Gathered, MatchedDistortion
from backwave.measure.bands import LevelDifference, Summary

__all__ = ["BandRow", "EndRow", "Expected", "Proof", "ReadingGroup", "SweepPair", "proof_json"]

Real = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ReadingGroup:
    """Readings of one stage at one seat.

    Parameters
    ----------
    stage, seat, title : str, no unit
        Which, and what a person calls the stage.
    tuned : bool, no unit
        Taken with the settings that `tune` gave.
    heard : tuple of Heard, no unit
        The readings.
    mean : Gathered, dB
        Their mean.
    """

    stage: str
    seat: str
    title: str
    tuned: bool
    heard: tuple[Heard, ...]
    mean: Gathered


@dataclass(frozen=True, eq=False)
class Expected:
    """What was predicted of a stage at a seat, against its own anchor.

    Parameters
    ----------
    stage, title : str, no unit
        Which.
    f_hz, level_db, low_db, high_db : (n_freq,) float, Hz and dB
        The prediction and its band of 95 %.
    beyond : (n_freq,) bool, no unit
        Where only the band is known.
    summary : Summary, no unit
        In few numbers.
    """

    stage: str
    title: str
    f_hz: Real
    level_db: Real
    low_db: Real
    high_db: Real
    beyond: NDArray[np.bool_]
    summary: Summary


@dataclass(frozen=True)
class BandRow:
    """One band before and after.

    Parameters
    ----------
    name : str, no unit
        Of the band.
    low_hz, high_hz : float, Hz
        Its limits.
    before_db, after_db : float or None, dB
        Against the anchor; None where the reading does not reach, or there is none.
    change : LevelDifference or None, dB
        After less before.
    predicted : (value, low, high) or None, dB
        What was predicted of the change, with its band of 95 %.
    """

    name: str
    low_hz: float
    high_hz: float
    before_db: float | None
    after_db: float | None
    change: LevelDifference | None
    predicted: tuple[float, float, float] | None

    @property
    def as_predicted(self) -> bool | None:
        """Whether the change is what was predicted, as far as both are known; None without either, no unit."""
        if self.change is None or self.predicted is None:
            return None
        value, low, high = self.predicted
        return abs(self.change.change_db - value) <= 2 * hypot(self.change.u_db, (high - low) / 4)


@dataclass(frozen=True)
class EndRow:
    """Extension or smoothness, before and after.

    Parameters
    ----------
    name, unit : str, no unit
        "extension down", "extension up" in Hz; "smoothness" in dB.
    before, after : float or None, `unit`
        None where the curve ends before it falls.
    u : float, octave or dB
        Standard uncertainty of the difference: octaves where the unit is Hz.
    predicted_before, predicted_after : float or None, `unit`
        Of the predictions.
    """

    name: str
    unit: str
    before: float | None
    after: float | None
    u: float
    predicted_before: float | None
    predicted_after: float | None

    @property
    def change(self) -> float | None:
        """After against before: octaves where the unit is Hz, else a difference."""
        if self.before is None or self.after is None:
            return None
        return float(np.log2(self.after / self.before)) if self.unit == "Hz" else self.after - self.before

    @property
    def real(self) -> bool:
        """Whether it is more than readings do, no unit."""
        change = self.change
        return change is not None and abs(change) > 2 * self.u


@dataclass(frozen=True, eq=False)
class SweepPair:
    """Before and after at one seat.

    Parameters
    ----------
    seat : str, no unit
        Which.
    before : ReadingGroup, no unit
        The readings of the earlier stage.
    after : ReadingGroup or None, no unit
        Those of the later one; None where there is one stage alone.
    expected_before, expected_after : Expected or None, dB
        What was predicted of each stage.
    bands : tuple of BandRow, dB
        By band.
    ends : tuple of EndRow, Hz and dB
        Extension and smoothness.
    distortion : tuple of MatchedDistortion, dB
        By range of the drive.
    """

    seat: str
    before: ReadingGroup
    after: ReadingGroup | None
    expected_before: Expected | None
    expected_after: Expected | None
    bands: tuple[BandRow, ...]
    ends: tuple[EndRow, ...]
    distortion: tuple[MatchedDistortion, ...]


@dataclass(frozen=True, eq=False)
class Proof:
    """What the readings of a job say.

    Parameters
    ----------
    heard : tuple of Heard, no unit
        Each reading.
    groups : tuple of ReadingGroup, no unit
        By stage and seat, in the order of the stages.
    pairs : tuple of SweepPair, no unit
        The first stage that was heard against the last, at each seat.
    findings : tuple of Finding, no unit
        Of the readings, and of what was promised.
    """

    heard: tuple[Heard, ...]
    groups: tuple[ReadingGroup, ...]
    pairs: tuple[SweepPair, ...]
    findings: tuple[Finding, ...]


def proof_json(proof: Proof) -> dict[str, Any]:
    """The readings compared, as JSON.

    Parameters
    ----------
    proof : Proof, no unit
        From `proving.proof_of`.
    """
    return {
        "readings": [
            {"file": one.row.file, "stage": one.stage or None, "seat": one.seat or None, "used": one.one is not None}
            for one in proof.heard
        ],
        "groups": [
            {
                "stage": g.stage, "seat": g.seat, "tuned": g.tuned, "takes": g.mean.takes, "places": g.mean.places,
                "f_hz": _list(g.mean.f_hz, 3), "magnitude_db": _list(g.mean.level_db),
                "spread_db": _list(g.mean.spread_db),
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
                "change_db": None if row.change is None else round(row.change.change_db, 2),
                "u_db": None if row.change is None else round(row.change.u_db, 2),
                "changed": None if row.change is None else row.change.real,
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


def _round(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), 2)


def _list(values: Any, places: int = 2) -> list[float | None]:
    return [round(float(v), places) if np.isfinite(v) else None for v in values]
