"""What the readings say as rows of words, for every face: before, after, changed, predicted; what was learned; what to set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backwave.assess.proof.before_after import BandRow, EndRow, SweepPair
from backwave.measure.averaging import MatchedDistortion
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess.proof.lesson import Lesson
    from backwave.assess.proof.tuning import Tuned

PAIR_HEADS = ("", "before", "after", "changed by", "predicted")
LEARNED_HEADS = ("", "so far", "learned", "95 %", "sought within")
SETTING_HEADS = ("output", "delay", "as a way", "level", "polarity")
MINUS = "\u2212"


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}".replace("-", MINUS)


def pair_rows(pair: SweepPair) -> list[tuple[str, ...]]:
    """Bands, extension, smoothness and distortion, a row each, under `PAIR_HEADS`."""
    return [
        *(_band(row) for row in pair.bands),
        *(_end(row, alone=pair.after is None) for row in pair.ends),
        *(_distortion(row) for row in pair.distortion),
    ]


def _band(row: BandRow) -> tuple[str, ...]:
    changed = ""
    if row.change is not None:
        u = f"± {2 * row.change.u_db:.1f} dB"
        changed = f"{_signed(row.change.change_db)} {u}" if row.change.real else f"none ({u})"
    seen = "" if row.predicted is None else "{} ({} … {})".format(*map(_signed, row.predicted))
    values = ("" if v is None else f"{_signed(v)} dB" for v in (row.before_db, row.after_db))
    return (f"{row.name}, {row.low_hz:g} to {row.high_hz:g} Hz", *values, changed, seen)


def _end(row: EndRow, *, alone: bool) -> tuple[str, ...]:
    def said(value: float | None) -> str:
        return "beyond" if value is None else f"{value:.0f} Hz" if row.unit == "Hz" else f"{value:.1f} dB"

    changed = "" if row.change is None else "changed" if row.real else "none"
    seen = "" if row.predicted_after is None else said(row.predicted_after)
    return (row.name, said(row.before), "" if alone else said(row.after), changed, seen)


def _distortion(row: MatchedDistortion) -> tuple[str, ...]:
    at = "" if row.at_db is None else f" at {row.at_db:.0f} dB"
    changed = "levels differ" if row.at_db is None else "changed" if row.real else "none"
    before, after = (f"{100 * 10 ** (v / 20):.1f} %" for v in (row.before_db, row.after_db))
    return (f"distortion, {row.name}{at}", before, after, changed, "")


def learned_rows(lesson: Lesson, system: str = "metric") -> list[tuple[str, ...]]:
    """What became of each unknown, under `LEARNED_HEADS`."""

    def shown(value: float, unit: str) -> str:
        return show(value, unit, system) if unit in ("cm2", "L") else f"{value:.3g} {unit}".strip()

    rows: list[tuple[str, ...]] = []
    for one in lesson.taught:
        unit = one.unit
        now = shown(one.value, unit) + (" (at its bound)" if one.at_bound else "")
        rows.append((
            one.words, shown(one.was, unit), now if one.moved else "not moved",
            f"{shown(one.low, unit)} … {shown(one.high, unit)}" if one.moved else "", f"{shown(one.least, unit)} … {shown(one.most, unit)}",
        ))  # fmt: skip
    return rows


def learned_words(lesson: Lesson) -> tuple[str, ...]:
    """How much the prediction moved, and how well it does now, in sentences."""
    said = [
        f"The prediction moved by {lesson.shift_db:.1f} dB; it was {lesson.before_db:.1f} dB from this reading, now "
        f"{lesson.after_db:.1f} dB (rms, 30 to 400 Hz, level free)."
    ]
    if lesson.unseen is not None:
        stage, was, now = lesson.unseen
        said.append(f"On the reading of {stage}, which it has not seen: {was:.1f} dB before, {now:.1f} dB now.")
    still = [one.words for one in lesson.taught if not one.moved]
    if still:
        said.append(f"The reading says nothing of: {'; '.join(still)}.")
    return tuple(said)


def setting_rows(made: Tuned, system: str = "metric") -> list[tuple[str, ...]]:
    """Delay, level and polarity of each output, under `SETTING_HEADS`."""
    return [
        (
            one.setting.name, f"{one.setting.delay_ms:.2f} ms", show(one.setting.delay_cm, "cm", system, 1),
            f"{_signed(one.setting.gain_db)} dB", "turn it: it is reversed" if one.setting.invert else "as it is",
        )
        for one in made.outputs
    ]  # fmt: skip
