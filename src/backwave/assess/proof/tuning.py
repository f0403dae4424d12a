"""From takes at a seat to what is set: delay, level and polarity of each output, and its filters toward a target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Message
from backwave.measure import (
    TakeRead,
    align_channels,
    fit_bands,
    fit_equalizer,
    place_average,
    settings_table,
    target_curve,
)
from backwave.measure.alignment import HOUSE_CURVE, ChannelSetting, SettingRow
from backwave.measure.equalizer import Equalizer, FilterLimits, check_nulls
from backwave.measure.smoothing import band_level, smoothed

# targets by name, Hz and dB: a preference (common trade practice)
TARGETS: dict[str, tuple[tuple[float, float], ...]] = {"house": HOUSE_CURVE, "flat": ((20.0, 0.0), (20000.0, 0.0))}
MATCH_HZ = (300.0, 3000.0)  # where outputs are matched in level, as far as both play it
_FALLEN_DB = 8.0
_DIP_OCTAVES = 0.5
_CLEAR_DB = 10.0  # signal over noise below which a band is not used


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
    reads: Sequence[TakeRead],
    target: str | Sequence[tuple[float, float]] = "house",
    count: int = 8,
    bands_hz: tuple[float, ...] = (),
    rate_hz: float = 48000.0,
    limits: FilterLimits | None = None,
    room: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
) -> Tuned:
    """Settings from one or more takes of the same sweep at one seat.

    `reads`: one for each place round the head, the first in its middle; `limits`: what filters may do, its band
    aside; None is the room's own; `room` (frequencies, gains): gain that excursion and headroom leave at each
    frequency; None: nobody predicted it; InputError: an unknown target, or an output that did not sound in every
    take.
    """
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
    settings = align_channels(
        [one.name for one in first],
        [one.delay_s or 0.0 for one in first],
        levels,
        [1 if k == 0 else one.polarity for k, one in enumerate(first)],
    )
    outputs = []
    for one, setting in zip(first, settings, strict=True):
        f, level, spread = means[one.name]
        use = _clear(one.f_hz, one.snr_db, f)
        wanted = target_curve(f, points)
        held = limits or FilterLimits()
        low = max(held.low_hz, use[0], _reach(f, level - wanted))
        own = replace(held, low_hz=low, high_hz=min(held.high_hz, use[1]))
        gain = None if room is None else np.maximum(np.interp(np.log(f), np.log(room[0]), room[1]), 0.0)
        made = (
            fit_bands(f, level, wanted, bands_hz, limits=own, most_gain_db=gain)
            if bands_hz
            else fit_equalizer(f, level, wanted, count, own, spread if len(reads) > 1 else None, gain)
        )
        checks = (*check_nulls(made), *_held_back(f, gain, own))
        outputs.append(
            TunedOutput(setting, made, settings_table(made, rate_hz), checks, f, level, (own.low_hz, own.high_hz))
        )
    name = target if isinstance(target, str) else "your own"
    return Tuned(tuple(outputs), len(reads), rate_hz, name, points, room is not None)


def _reach(f: NDArray[np.float64], off_db: NDArray[np.float64]) -> float:
    """How far down an output plays, Hz: a filter must not pull all else down to what lies below.

    From the middle downward, until it stays more than `_FALLEN_DB` below what it is there; narrow dips are passed over.
    """
    level = smoothed(f, off_db, 3)
    middle = (f >= MATCH_HZ[0]) & (f <= MATCH_HZ[1])
    level = level - float(np.median(level[middle])) if middle.any() else level - float(np.median(level))
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
    clear = np.interp(np.log(f), np.log(f_hz), snr_db) > _CLEAR_DB
    if not clear.any():
        return float(f[0]), float(f[-1])
    at = np.flatnonzero(clear)
    return float(f[at[0]]), float(f[at[-1]])


def tuned_json(made: Tuned) -> dict[str, Any]:
    """The settings as JSON."""
    return {
        "target": made.target,
        "places": made.places,
        "rate_hz": made.rate_hz,
        "target_points": [list(point) for point in made.points],
        "headroom_respected": made.limited,
        "channels": [
            {
                "output": one.setting.name,
                "delay_ms": one.setting.delay_ms,
                "delay_cm": one.setting.delay_cm,
                "gain_db": one.setting.gain_db,
                "invert": one.setting.invert,
                "from_hz": round(one.band_hz[0], 1),
                "to_hz": round(one.band_hz[1], 1),
                "before_db": round(one.equalizer.before_db, 2),
                "after_db": round(one.equalizer.after_db, 2),
                "filters": [
                    {
                        "words": row.words, "kind": row.filter.kind, "f_hz": round(row.filter.f0_hz, 1),
                        "gain_db": round(row.filter.gain_db, 2), "q": round(row.filter.q, 3),
                        "b": list(row.b), "a": list(row.a),
                    }
                    for row in one.rows
                ],
                "left_out": [
                    {"from_hz": round(n.low_hz, 1), "to_hz": round(n.high_hz, 1), "depth_db": round(n.depth_db, 1)}
                    for n in one.equalizer.nulls
                ],
            }
            for one in made.outputs
        ],
    }  # fmt: skip
