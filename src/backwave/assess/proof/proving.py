"""Whether it worked: readings before and after beside what was predicted.

proven       an assessment with what the job's readings say: what a face calls
proof_of     the readings, gathered by stage and seat, compared in pairs
with_proof   an assessment with that, and with the findings that follow
expected     what was predicted of one stage at one seat
paired       two groups of readings compared
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import hypot
from typing import TYPE_CHECKING

from backwave.acoustics import BANDS
from backwave.assess.proof.before_after import BandRow, EndRow, Expected, Proof, ReadingGroup, SweepPair
from backwave.assess.proof.read_recordings import FACTORY, Heard, Reader, hear
from backwave.errors import InputError
from backwave.finding import PRACTICE, VERDICTS, CalculationLine, Check, Finding, Message, worst
from backwave.job import Job
from backwave.measure.averaging import (
    ANCHOR_HZ,
    Gathered,
    LevelDifference,
    MatchedDistortion,
    compare,
    gather,
    match_distortion,
    summary,
)

if TYPE_CHECKING:
    from backwave.assess.result import Assessment
    from backwave.assess.sound.results import PlayedStage, Prediction

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
            said = Message("{why}", (("why", str(error), ""),))
            check = Check(
                "measure.reading", "caution", said, remedy=Message("Record the whole sweep again"), part="mean"
            )
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


def proven(
    job: Job, result: Assessment, read: Reader, progress: Callable[[float, str], None] | None = None
) -> Assessment:
    """An assessment with what the job's readings say; as it was where the job has none.
    `progress`: told the share that is done and the file at hand; what it raises ends the work.
    """
    if not job.file.reading:
        return result
    return with_proof(result, proof_of(job, result.prediction, hear(job, read, progress)))


def with_proof(result: Assessment, proof: Proof) -> Assessment:
    """The same assessment with what the readings say."""
    findings = sorted((*result.findings, *proof.findings), key=lambda f: -VERDICTS.index(f.check.verdict))
    names = {one.name: one.row.file for one in proof.heard} | {
        f"{pair.seat}-seat": f"{pair.seat.replace('-', ' ').capitalize()} seat" for pair in proof.pairs
    }
    return replace(
        result, findings=tuple(findings), verdict=worst([f.check.verdict for f in findings]),
        names=names | result.names, proof=proof,
    )  # fmt: skip


def expected(prediction: Prediction | None, stage: str, seat: str) -> Expected | None:
    """What was predicted of a stage at a seat; None where nothing was."""
    if prediction is None or seat not in prediction.cabin.seats:
        return None
    k = prediction.cabin.seats.index(seat)
    one = next((s for s in prediction.stages if s.id == stage), None)
    return None if one is None else _expected(one, k)


def _expected(one: PlayedStage, seat: int) -> Expected:
    levels = one.levels
    inside = (levels.f_hz >= 20) & (levels.f_hz <= 20000)
    f, level = levels.f_hz[inside], levels.level[seat, inside]
    told = summary(f, level)
    low, high = (side[seat, inside] - told.anchor_db for side in (levels.low, levels.high))
    return Expected(one.id, one.title, f, level - told.anchor_db, low, high, levels.beyond[inside], told)


def paired(
    before: ReadingGroup, after: ReadingGroup | None, prediction: Prediction | None, kept: Sequence[str] = ()
) -> SweepPair:
    """Two groups of one seat compared.
    A stage whose settings were kept in the job after it was recorded is predicted with them: nothing to compare with.
    """
    if any(g is not None and g.stage in kept and not g.tuned for g in (before, after)):
        prediction = None
    first = expected(prediction, before.stage, before.seat)
    last = None if after is None else expected(prediction, after.stage, after.seat)
    one, other = before.mean, None if after is None else after.mean
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
    return SweepPair(before.seat, before, after, first, last, bands, _ends(one, other, first, last), distortion)


def _promised(
    prediction: Prediction | None, before: ReadingGroup, after: ReadingGroup
) -> dict[str, tuple[float, float, float]]:
    """What was predicted of each band's change, each stage against its own anchor.
    The anchor's own doubt is added in full: what both share is not made use of, so the band is rather too wide.
    """
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
    def told(mean: Gathered | None, name: str) -> float | None:
        return None if mean is None else getattr(mean.summary, name)

    def foreseen(of: Expected | None, name: str) -> float | None:
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
            foreseen(first, key) if seen else None, foreseen(last, key) if seen else None,
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
    return Check(
        "measure.tuned", "caution",
        Message("{stage} was recorded before its settings; with them on nobody has recorded it", (("stage", group.title, ""),)),
        remedy=Message("Set them, record again at the same places, and add the [[reading]] with tuned = true"),
        sources=(PRACTICE,), part=f"{group.stage}-since",
    )  # fmt: skip


def _no_stage(one: Heard) -> Check:
    return Check(
        "measure.reading", "caution", Message("{file} belongs to no stage", (("file", one.row.file, ""),)),
        remedy=Message('Say stage = "factory" for how it was, or the id of a stage'), sources=(PRACTICE,),
        key="stage", part="stage",
    )  # fmt: skip
