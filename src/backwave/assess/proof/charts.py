"""Readings and predictions as charts: before, after, predicted, distortion, rattles, settings."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics import smoothed
from backwave.assess.proof.before_after import Expected, Proof, ReadingGroup, SweepPair
from backwave.drawing.chart import Chart, Series
from backwave.measure.alignment import target_curve
from backwave.measure.analysis import Distortion, onset_db
from backwave.measure.rattle import BUZZ_DB
from backwave.plain_text import file_stem

if TYPE_CHECKING:
    from backwave.assess.proof.recordings import Heard
    from backwave.assess.proof.tuning import Tuned
# 20 Hz to 19.95 kHz, on the predictions' own frequencies, so that all lines are read off together
F_HZ = 1000.0 * 10 ** (np.arange(-136, 105) / 80)
FINE = 6.0  # of an octave, as readings are drawn


def proof_charts(proof: Proof) -> dict[str, Chart]:
    """The charts of what was heard, by file name without its ending."""
    found: dict[str, Chart] = {}
    for pair in proof.pairs:
        found[f"proof-{file_stem(pair.seat)}"] = proof_chart(pair)
        if any(one.one is not None and one.one.distortion is not None for one in pair.before.heard):
            found[f"distortion-{file_stem(pair.seat)}"] = distortion_chart(pair)
            onset = onset_chart(pair)
            found |= {} if onset is None else {f"breaks-{file_stem(pair.seat)}": onset}
    for one in proof.heard:
        if one.recording is not None and one.recording.buzz is not None:
            found[f"rattle-{file_stem(one.name)}"] = rattle_chart(one)
    return found


def proof_chart(pair: SweepPair, learned: Expected | None = None) -> Chart:
    """Before, after and predicted at one seat, each against its own level from 300 Hz to 3 kHz."""
    lines = [Series("measured" if pair.after is None else "before", F_HZ, _measured(pair.before), look=0)]
    if pair.after is not None:
        lines.append(Series("after", F_HZ, _measured(pair.after), look=1))
    foreseen = pair.expected_before if pair.after is None else pair.expected_after
    if foreseen is not None:
        lines.append(_predicted(foreseen, "predicted", 2, pair.from_hz))
    if learned is not None:
        lines.append(_predicted(learned, "having learned", 3, pair.from_hz, band=False))
    top = _top(lines)  # a band may run out of the chart; a line does not
    return Chart(
        f"Before, after and predicted at the {pair.seat} seat" if pair.after is not None
        else f"Measured and predicted at the {pair.seat} seat",
        "a sixth of an octave, each against its own level from 300 Hz to 3 kHz; band: prediction, 95 %"
        + (f"; not drawn below {pair.from_hz:.0f} Hz, where a phone's own filters bend the reading" if pair.from_hz else ""),
        "dB", tuple(lines), low=top - 50.0, high=top,
    )  # fmt: skip


def distortion_chart(pair: SweepPair) -> Chart:
    """All harmonics together against the drive's frequency, of the loudest reading before and after."""
    lines, last = [], 100.0
    for k, group in enumerate(g for g in (pair.before, pair.after) if g is not None):
        found = [h.one for h in group.heard if h.one is not None and h.one.distortion is not None]
        if not found:
            continue
        loudest = max(found, key=lambda one: one.sweep_db)
        d = loudest.distortion
        assert d is not None
        thd = _on_grid(d.f_hz, d.thd_db)
        known = np.isfinite(thd)
        if known.any():
            last = max(last, float(F_HZ[known][-1]))
            lines.append(Series("before" if k == 0 else "after", F_HZ, 100 * 10 ** (thd / 20), look=k))
    return Chart(
        f"Distortion at the {pair.seat} seat", "all harmonics together against the fundamental; a gap: under the noise",
        "%", tuple(lines), high_hz=_chart_end(last), low=0.0,
    )  # fmt: skip


def onset_chart(pair: SweepPair) -> Chart | None:
    """How loud the fundamental is where distortion passes a tenth, by frequency; None without readings at two volumes."""
    lines, calibrated, last = [], True, 100.0
    for k, group in enumerate(g for g in (pair.before, pair.after) if g is not None):
        by_level = {
            round(h.one.sweep_db, 1): h.one for h in group.heard if h.one is not None and h.one.distortion is not None
        }
        if len(by_level) < 2:
            continue
        rows = [by_level[level] for level in sorted(by_level)]
        own = [_thd_on_grid(row.distortion) for row in rows if row.distortion is not None]
        # what a sweep at 0 dB would be at the seat, from the loudest reading
        loud = rows[-1]
        level = _on_grid(loud.f_hz, smoothed(loud.f_hz, loud.level_db, 3.0))
        onset = onset_db(sorted(by_level), own) + level - loud.sweep_db
        if np.isfinite(onset).sum() > 3:
            lines.append(Series("before" if k == 0 else "after", F_HZ, onset, look=k))
            calibrated = calibrated and loud.calibrated
            last = max(last, float(F_HZ[np.isfinite(onset)][-1]))
    if not lines:
        return None
    return Chart(
        f"Where it distorts at the {pair.seat} seat",
        "fundamental at which all harmonics together are a tenth of it; a gap: not reached"
        + ("" if calibrated else "; levels are relative"),
        "dB", tuple(lines), high_hz=_chart_end(last),
    )  # fmt: skip


def _chart_end(last_hz: float) -> float:
    """Where a frequency axis ends that reaches so far."""
    return next((f for f in (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0) if f >= last_hz), 10000.0)


def _top(lines: Sequence[Series]) -> float:
    """Where a level axis ends that all lines stay below, a whole ten."""
    return 10.0 * ceil((max(float(np.nanmax(np.asarray(s.value, dtype=float))) for s in lines) + 1) / 10)


def _on_grid(f: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """A curve at the charts' own frequencies; nan where it does not reach."""
    return np.asarray(np.interp(np.log(F_HZ), np.log(f), y, left=np.nan, right=np.nan))


def _thd_on_grid(d: Distortion) -> Distortion:
    """All harmonics together at the charts' own frequencies."""
    return Distortion(F_HZ, (), np.zeros((0, F_HZ.size)), np.zeros((0, F_HZ.size)), _on_grid(d.f_hz, d.thd_db))


def rattle_chart(one: Heard) -> Chart:
    """What does not repeat with the drive of a slow sweep."""
    assert one.recording is not None
    buzz = one.recording.buzz
    assert buzz is not None
    clear = np.where(buzz.level_db > buzz.noise_db + 6.0, buzz.index_db, np.nan)
    limit = np.full(buzz.f_hz.size, BUZZ_DB)
    return Chart(
        f"What rattles: {one.row.file}",
        "sound that does not repeat with the drive, against all of it; a gap: under the noise of the place", "dB of all",
        (Series("rattle", buzz.f_hz, clear, look=0), Series("heard beside music", buzz.f_hz, limit, look=4)),
        low_hz=20.0, high_hz=500.0 if buzz.f_hz[-1] <= 500.0 else 1000.0, low=-60.0, high=0.0, step=10.0,
    )  # fmt: skip


def settings_chart(made: Tuned, output: str) -> Chart:
    """One output as it was measured, as its filters promise it, and the target."""
    one = next(o for o in made.outputs if o.setting.name == output)
    measured, promised = (
        _on_grid(one.f_hz, smoothed(one.f_hz, level, FINE) - one.equalizer.level_db)
        for level in (one.level_db, one.promised_db)
    )
    lines = (
        Series("measured", F_HZ, measured, look=0), Series("with these settings", F_HZ, promised, look=1),
        Series("target", F_HZ, target_curve(F_HZ, made.points), look=4),
    )  # fmt: skip
    top = _top(lines)
    return Chart(
        f"{output}: toward the target", "a sixth of an octave, the filters alone; the target is a preference", "dB",
        lines, low=top - 50.0, high=top, marks=tuple(("left out", n.f_hz) for n in one.equalizer.nulls[:4]),
    )  # fmt: skip


def _measured(group: ReadingGroup) -> NDArray[np.float64]:
    mean = group.mean
    return _on_grid(mean.f_hz, smoothed(mean.f_hz, mean.level_db, FINE) - mean.summary.anchor_db)


def _predicted(one: Expected, name: str, look: int, from_hz: float, *, band: bool = True) -> Series:
    def at(y: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where(from_hz > F_HZ, np.nan, np.interp(np.log(F_HZ), np.log(one.f_hz), y))

    beyond = at(one.beyond.astype(float)) > 0.5
    return Series(
        name, F_HZ, np.where(beyond, np.nan, at(one.level_db)),
        at(one.low_db) if band else None, at(one.high_db) if band else None, look,
    )  # fmt: skip
