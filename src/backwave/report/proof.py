"""Chapters of the proof: before, after and predicted at each seat; what the readings taught; what is set on a processor."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from backwave.report.blocks import Audience, Block, Cell, cell, items, listing, par, signed, small, sub, table

if TYPE_CHECKING:
    from backwave.assess import Proof
    from backwave.assess.proof.before_after import EndRow, ReadingGroup, SweepPair
    from backwave.assess.proof.calibration import Lesson
    from backwave.assess.proof.tuning import Tuned
    from backwave.finding import Check, Finding

_ONE = (
    "One stage was recorded, so that nothing can be compared yet. Missing is a recording of another stage at this seat: "
    "the same sweep, the same place of the microphone, the same volume."
)
_HOW = (
    "Each curve against its own mean from 300 Hz to 3 kHz, since no microphone here is calibrated; ± twice the standard "
    "uncertainty of the readings; none: no more than readings differ by; predicted: of the change, with its 95 %."
)


def head(pair: SweepPair) -> list[Block]:
    """What is compared at a seat."""
    after = "" if pair.after is None else f", then {pair.after.title}"
    title = sub(f"At the {pair.seat} seat: {pair.before.title}{after}")
    return [title, par(_ONE)] if pair.after is None else [title]


def numbers(told: Audience, pair: SweepPair) -> list[Block]:
    """Bands, extension and smoothness, and how often each stage was recorded."""
    groups = (("before", pair.before), ("after", pair.after))
    many = "; ".join(_many(word, group) for word, group in groups if group is not None)
    return [_bands(pair), *_ends(told, pair), small(f"{_HOW} {many.capitalize()}.")]


def _many(word: str, group: ReadingGroup) -> str:
    mean = group.mean
    if mean.takes == 1:
        return f"{word}: one recording"
    return f"{word}: {mean.takes} recordings at {'one place' if mean.places == 1 else f'{mean.places} places'}"


def _bands(pair: SweepPair) -> Block:
    """Band by band."""
    rows: list[list[Cell]] = []
    for row in pair.bands:
        change = ""
        if row.change is not None:
            width = f"± {2 * row.change.u_db:.1f}"
            change = f"{signed(row.change.change_db)} {width}" if row.change.real else f"none ({width})"
        seen: Cell = ""
        if row.predicted is not None:
            value, low, high = row.predicted
            words = {True: "as predicted", False: "not as predicted", None: ""}[row.as_predicted]
            seen = cell(f"{signed(value)}  ({signed(low)} … {signed(high)})", words)
        name = cell(row.name, f"{row.low_hz:g} to {row.high_hz:g} Hz")
        levels = ("" if level is None else signed(level) for level in (row.before_db, row.after_db))
        rows.append([name, *levels, change, seen])
    return table("band *1.2 | before, dB > | after, dB > | changed by, dB *0.9 > | predicted, dB *1.2 >", rows)


def _ends(told: Audience, pair: SweepPair) -> list[Block]:
    """Extension and smoothness."""
    rows: list[list[Cell]] = []
    for end in pair.ends:
        change = ""
        if pair.after is not None and end.change is not None:
            unit = "octaves" if end.unit == "Hz" else end.unit
            width = f"± {2 * end.u:.1f} {unit}"
            change = f"{signed(end.change)} {width}" if end.real else f"none ({width})"
        after = "" if pair.after is None else _end(told, end, end.after)
        seen = "" if end.predicted_after is None else told.show(end.predicted_after, end.unit)
        rows.append([end.name, _end(told, end, end.before), after, change, seen])
    return [table("*1.2 | before > | after > | changed by *0.9 > | predicted after *1.2 >", rows)] if rows else []


def _end(told: Audience, row: EndRow, value: float | None) -> str:
    return "beyond the sweep" if value is None else told.show(value, row.unit)


def distortion(pair: SweepPair) -> list[Block]:
    rows: list[list[Cell]] = []
    for one in pair.distortion:
        before, after = (f"{100 * 10 ** (v / 20):.1f} %" for v in (one.before_db, one.after_db))
        at = "each at the level it was taken at" if one.at_db is None else f"both at {one.at_db:.0f} dB"
        change = "not comparable" if one.at_db is None else "changed" if one.real else "none"
        rows.append([cell(one.name, f"{one.low_hz:g} to {one.high_hz:g} Hz"), before, after, at, change])
    return [table("distortion *1.2 | before > | after > | level *0.9 | changed *0.6", rows)] if rows else []


def recordings(told: Audience, proof: Proof) -> list[Block]:
    """Each recording, and what is to be said of it."""
    rows: list[list[Cell]] = []
    for one in proof.heard:
        said = [told.say(check.title) for check in one.checks if check.verdict != "ok"]
        stage = "as it was" if one.stage == "factory" else told.name(one.stage) if one.stage else "not entered"
        use = "used" if one.one is not None else "for rattles" if one.recording is not None else "not used"
        rows.append([cell(one.row.file, *said), stage, cell(one.seat or "not entered", one.row.place or ""), use])
    return listing("Recordings", "file *1.6 | stage *1 | seat | ", rows)


def learned(told: Audience, lesson: Lesson) -> list[Block]:
    """What became of each unknown, how much the prediction moved, and how well it does now."""

    def shown(value: float, unit: str) -> str:
        return told.show(value, unit) if unit in ("cm2", "L") else f"{value:.3g} {unit}".strip()

    rows: list[list[Cell]] = []
    for one in lesson.taught:
        now, ends, bounds = (
            " … ".join(shown(v, one.unit) for v in span)
            for span in ((one.value,), (one.low, one.high), (one.least, one.most))
        )
        now = (now + " (at its bound)" * one.at_bound) if one.moved else "not moved"
        rows.append([one.words, shown(one.was, one.unit), now, ends if one.moved else "", bounds])
    made = lesson.learned
    said = [
        f"The prediction moved by {made.shift_db:.1f} dB; it was {made.before_db:.1f} dB from this reading, now "
        f"{made.after_db:.1f} dB (rms, 30 to 400 Hz, level free)."
    ]
    if lesson.unseen is not None:
        stage, was, then = lesson.unseen
        said.append(f"On the reading of {stage}, which it has not seen: {was:.1f} dB before, {then:.1f} dB now.")
    if still := [one.words for one in lesson.taught if not one.moved]:
        said.append(f"The reading says nothing of: {'; '.join(still)}.")
    return [table("*1.2 | so far > | learned > | 95 % > | sought within >", rows), *map(small, said)]


def settings(told: Audience, made: Tuned) -> list[Block]:
    """Delay, level and polarity of each output."""
    rows = [
        [
            one.setting.name, f"{one.setting.delay_ms:.2f} ms", told.show(one.setting.delay_cm, "cm", 1),
            f"{signed(one.setting.gain_db)} dB", "turn it: it is reversed" if one.setting.invert else "as it is",
        ]
        for one in made.outputs
    ]  # fmt: skip
    places = "one recording" if made.places == 1 else f"the mean of {made.places} recordings round the head"
    words = f"From {places}, toward the target “{made.target}” (a preference). Delay and level first:"
    return [par(words), table("output *1 | delay > | distance > | level > | polarity *1", rows)]


def filters(told: Audience, made: Tuned, output: str) -> list[Block]:
    """The filters of one output, as they are entered and as they go into the job."""
    one = next(o for o in made.outputs if o.setting.name == output)
    eq, (low, high) = one.equalizer, one.band_hz
    rows = [
        [row.words, f"{row.filter.f0_hz:.0f} Hz", f"{signed(row.filter.gain_db)} dB", f"{row.filter.q:.2f}"]
        for row in one.rows
    ]
    quoted = ", ".join(f'"{row.words}"' for row in one.rows)
    return [
        sub(output, 3),
        par(
            f"From {low:.0f} to {high:.0f} Hz {eq.before_db:.1f} dB from the target, {eq.after_db:.1f} dB with these "
            f"{len(rows)} filters (thirds of an octave, rms; what cannot be filled is left out)."
        ),
        *([table("filter *1 | at > | gain > | Q >", rows), small(f"filters = [{quoted}]")] if rows else []),
        *_checks(told, one.checks),
    ]  # fmt: skip


def outlook(told: Audience, made: Tuned, found: Iterable[Finding]) -> list[Block]:
    """What the settings do not know, or what the reading with the settings on found."""
    proven = _checks(told, (one.check for one in found))
    one = "One place only: take some more a hand's breadth round the head; what differs there no filter fixes."
    blind = "Nothing is predicted of this stage: excursion and headroom are not looked at."
    open_ = "Predicted, not proven: set it, record again at the same places, and add the reading with tuned = true. Coefficients: backwave tune --json."
    words = [one] * (made.places == 1) + [blind] * (not made.limited) + [open_] * (not proven)
    return [*map(small, words), *([sub("With the settings on", 3), *proven] if proven else [])]  # fmt: skip


def _checks(told: Audience, found: Iterable[Check]) -> list[Block]:
    lines = [cell(told.say(c.title), f"→ {told.say(c.remedy)}" if c.remedy else "", mark=c.verdict) for c in found]
    return [items(lines)] if lines else []
