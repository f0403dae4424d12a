"""Readings of a job against its predictions: what changed, what is learned, what is set, and whether it kept its word.

The recordings are made by `assess.simulated` from a van whose truth the job does not know; what is tested is that the
way back (sweep, clock, deconvolution, means, fits) finds it, not that the model is right.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import pytest

from backwave.assess import engine_of, predict
from backwave.assess.proof.before_after import Proof, paired, proof_json, proof_of
from backwave.assess.proof.calibration import Lesson, learned_of, lesson_json
from backwave.assess.proof.charts import proof_charts, settings_chart
from backwave.assess.proof.recordings import Flaws, hear, simulated
from backwave.assess.proof.tuning import Tuned, checked, joined, kept_settings, settings_of, takes_of
from backwave.assess.sound.results import Prediction
from backwave.errors import InputError
from backwave.job import Job, loads, toml_edit
from backwave.measure.analysis import Recording, read_recording
from backwave.measure.signals import signal_of
from backwave.report import proof as report
from backwave.report.blocks import Audience

TRUTH = {
    "opening.front-door.cavity.leak": "48 cm2",
    "opening.front-door.gap.leak": "22 cm2",
    "opening.front-door.cavity.volume": "33 L",
    "vehicle.cabin.loss": 0.22,
}
PLAYED = signal_of("response", identified=True, length_s=1.5).description
FLAWS = Flaws(31.0, -80.0, 0.8, 0.4, 0.01, 0.005)


@cache
def text() -> str:
    """The demo job's text without its readings."""
    whole = (files("backwave.cli") / "demo_job" / "job.toml").read_text(encoding="utf-8")
    return whole[: whole.index("[[reading]]")]


def job_of(rows: tuple[tuple[str, str, str], ...], more: str = "") -> Job:
    """The demo job with these readings: name, stage, further keys."""
    said = "".join(
        f'\n[[reading]]\nfile = "readings/{name}.wav"\nstage = "{stage}"\nseat = "driver"\n{keys}'
        for name, stage, keys in rows
    )
    return loads(text() + said + more)


@cache
def believed() -> Prediction:
    made = predict(loads(text()))
    assert made is not None
    return made


@cache
def true() -> Prediction:
    said = text()
    for key, value in TRUTH.items():
        said = toml_edit.with_key(said, key, value)
    made = predict(loads(said))
    assert made is not None
    return made


@cache
def taken(stage: str, seed: int) -> Recording:
    return read_recording(simulated(true(), stage, 0, PLAYED, flaws=FLAWS, seed=seed), 48000.0, PLAYED)


def reader(file: str, *_: Any, **__: Any) -> Recording:
    """readings/STAGE-SEED.wav"""
    stage, _, seed = file.removeprefix("readings/").removesuffix(".wav").rpartition("-")
    if stage == "broken":
        raise InputError("the recording", "silence", "a louder one")
    return taken(stage, int(seed))


PAIRS = tuple((f"{stage}-{k}", stage, "") for stage in ("factory", "subwoofer") for k in (1, 2))


@cache
def proof() -> Proof:
    job = job_of(PAIRS)
    return proof_of(job, believed(), hear(job, reader))


@cache
def lesson() -> Lesson:
    return learned_of(engine_of(loads(text())), proof().pairs[0])


def test_what_changed_is_what_the_van_did() -> None:
    """Each band's change against that of the truth's own levels (by this test's arithmetic), within what is stated."""
    (pair,) = proof().pairs
    assert (pair.before.stage, pair.after and pair.after.stage) == ("factory", "subwoofer")
    stages = {s.id: s.levels for s in true().stages}
    for row in pair.bands:
        assert row.change is not None
        assert row.predicted is not None
        means = []
        for stage in ("factory", "subwoofer"):
            levels = stages[stage]
            f, y = levels.f_hz, levels.level[0]

            def mean(low: float, high: float, f: np.ndarray = f, y: np.ndarray = y) -> float:
                inside = (f >= low) & (f <= high)
                return float(10 * np.log10(np.mean(10 ** (y[inside] / 10))))

            means.append(mean(row.low_hz, row.high_hz) - mean(300.0, 3000.0))
        assert abs(row.change.change_db - (means[1] - means[0])) < 2.5 * row.change.u_db
        assert row.change.real == (abs(row.change.change_db) > 2 * row.change.u_db)
    assert not [f for f in proof().findings if f.check.verdict == "stop"]
    tables = [b for b in report.numbers(Audience("metric", {}), pair) if b["kind"] == "table"]
    assert len(tables) == 2
    assert all(len(row) == len(table["head"]) for table in tables for row in table["rows"])


def test_below_150_hz_a_phone_is_held_against_other_readings_alone() -> None:
    """The same recordings, said to be a phone's: what changed stands as it was, what is predicted is not drawn there."""
    made = proof_of(
        job := job_of(tuple((n, s, 'recorder = "phone"\n') for n, s, _ in PAIRS)), believed(), hear(job, reader)
    )
    (pair,), (other,) = made.pairs, proof().pairs
    assert [row.change for row in pair.bands] == [row.change for row in other.bands]
    assert [row.predicted for row in pair.bands] == [
        row.predicted for row in other.bands
    ]  # of the change: alike for both
    assert {row.predicted_after for row in pair.ends} == {None}
    name = next(name for name in proof_charts(made) if name.startswith("proof-"))
    drawn, whole = (next(s for s in proof_charts(one)[name].series if s.name == "predicted") for one in (made, proof()))
    f = np.asarray(drawn.f_hz)
    for ours, theirs in ((drawn.value, whole.value), (drawn.low, whole.low), (drawn.high, whole.high)):
        assert np.isnan(np.asarray(ours)[f < 150]).all()
        assert np.isfinite(np.asarray(theirs)[(f > 40) & (f < 150)]).any()
        assert np.array_equal(np.asarray(ours)[f >= 150], np.asarray(theirs)[f >= 150], equal_nan=True)
    assert "150 Hz" in proof_charts(made)[name].subtitle
    with pytest.raises(InputError, match="phone"):
        learned_of(engine_of(job), pair)


def test_two_readings_of_one_thing_differ_by_nothing() -> None:
    job = job_of((PAIRS[0], PAIRS[1]))
    made = proof_of(job, believed(), hear(job, reader))
    group = made.groups[0]
    lone = [replace(group, heard=(h,)) for h in group.heard]
    assert group.mean.repeats == 1
    same = paired(lone[0], lone[1], believed())
    for row in same.bands:
        assert row.change is not None
        assert not row.change.real
        assert row.predicted is None  # one stage against itself: nothing was promised
    (alone,) = made.pairs
    assert alone.after is None
    assert all(row.change is None for row in alone.bands)


def test_a_bad_reading_spoils_no_other_and_says_what_to_do() -> None:
    job = job_of((("broken-1", "factory", ""), *PAIRS))
    made = proof_of(job, believed(), hear(job, reader))
    assert len(made.pairs) == 1
    (bad,) = [f for f in made.findings if f.check.code == "measure.reading"]
    assert (bad.subject, bad.check.verdict) == ("broken-1", "caution")
    assert bad.check.remedy is not None
    document = proof_json(made)
    assert [r["used"] for r in document["readings"]] == [False, True, True, True, True]
    homeless = loads(text() + '\n[[reading]]\nfile = "readings/factory-1.wav"\nseat = "driver"\n')
    found = proof_of(homeless, believed(), hear(homeless, reader)).findings
    assert any(f.check.part == "stage" for f in found)


def test_a_file_that_cannot_be_read_is_named_once() -> None:
    def broken(file: str, *_: Any, **__: Any) -> Recording:
        raise InputError(file, "no sound file", "WAV")

    (check,) = hear(job_of(PAIRS[:1]), broken)[0].checks
    assert [value for _, value, _ in check.title.quantities] == ["readings/factory-1.wav", "no sound file", "WAV"]


def test_a_copy_of_a_recording_is_no_repeat() -> None:
    """The mean, and how well it repeats, stay those of the one."""
    job = job_of((("factory-1", "factory", ""), ("copied-factory-1", "factory", "")))
    one = proof_of(job_of(PAIRS[:1]), believed(), hear(job_of(PAIRS[:1]), reader)).groups[0].mean
    heard = hear(job, lambda file, *_, **__: replace(reader(file.replace("copied-", ""))))
    made = proof_of(job, believed(), heard)
    assert (made.groups[0].mean.takes, made.groups[0].mean.u_db) == (1, one.u_db)
    said = [f.check for f in made.findings if f.check.code == "measure.reading"]
    assert [(c.verdict, c.title.template.partition(": ")[2]) for c in said] == [("caution", "it is counted once")]


def test_progress_rises_and_ends_the_work_where_asked() -> None:
    job, told = job_of(PAIRS), []
    hear(job, reader, lambda share, file: told.append((share, file)))
    assert [share for share, _ in told] == sorted(share for share, _ in told)
    assert told[-1][0] == 1.0

    class Enough(Exception):  # noqa: N818 - no error
        pass

    def stop(share: float, file: str) -> None:
        if share > 0.4:
            raise Enough

    with pytest.raises(Enough):
        hear(job, reader, stop)


def test_learning_finds_the_van_and_helps_on_what_it_has_not_seen() -> None:
    """The truth lies within what is stated of each unknown that moved, and the later stage comes out nearer."""
    made = lesson()
    assert made.learned.after_db < made.learned.before_db
    assert made.unseen is not None
    stage, was, now = made.unseen
    assert stage == "subwoofer"
    assert now < was
    truth = {"cavity.leak": 48.0, "gap.leak": 22.0, "cavity.volume": 33.0, "cabin.loss": 0.22}
    moved = [one for one in made.taught if one.moved]
    assert moved
    for one in moved:
        value = next((v for key, v in truth.items() if one.key.endswith(key)), None)
        if value is not None:
            assert one.low * 0.97 <= value <= one.high * 1.03, one
        assert one.least <= one.low <= one.value <= one.high <= one.most
    still = [one for one in made.taught if not one.moved]
    assert all(one.value == pytest.approx(one.was) for one in still)
    assert {one.key for one in moved} == set(made.changes)
    assert made.expected is not None
    table, *words = report.learned(Audience("metric", {}), made)
    assert [row[0] for row in table["rows"]] == [one.words for one in made.taught]
    assert "has not seen" in " ".join(block["text"] for block in words)
    assert lesson_json(made)["unknowns"][0]["key"] == made.taught[0].key
    changed = text()
    for key, value in made.changes.items():
        changed = toml_edit.with_key(changed, key, value)
    loads(changed)  # what is kept is a job that is right


@cache
def set_by() -> Tuned:
    job = job_of(PAIRS)
    return settings_of(job, believed(), takes_of(proof()))


def test_settings_stay_within_their_limits_and_the_prediction_s_room() -> None:
    made = set_by()
    assert made.limited
    assert [one.setting.name for one in made.outputs] == ["left", "right"]
    for one in made.outputs:
        f = one.f_hz[(one.f_hz > 40) & (one.f_hz < 8000)]
        assert one.equalizer.gain_db(f).max() <= 3.0 + 0.1
        assert one.equalizer.after_db <= one.equalizer.before_db
        assert one.equalizer.after_db < 1.5
        assert settings_chart(made, one.setting.name).series
    own = job_of(PAIRS, '\n[tune]\ntarget = [[40, 0], [8000, 0]]\nfilters = 3\nboost = "0 dB"\n')
    flat = settings_of(own, believed(), takes_of(proof()))
    for one in flat.outputs:
        assert len(one.rows) <= 3
        assert max((r.filter.gain_db for r in one.rows), default=0.0) <= 0
    with pytest.raises(InputError, match="none that can be used"):
        takes_of(proof(), "speakers")
    with pytest.raises(InputError, match="none that can be used"):
        takes_of(None)


def test_kept_settings_do_what_they_promised_on_a_new_reading() -> None:
    """Kept in the job, played through the truth, recorded anew: within 1.5 dB of the target, near the promise."""
    job, made = job_of(PAIRS), set_by()
    kept = kept_settings(job, "subwoofer", made)
    names = [name for name, _ in kept.left]
    assert names == ["under-seat"]  # the subwoofer's own output was not recorded alone
    said = text()
    for path, value in kept.changes:
        key = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path).lstrip(".")
        said = toml_edit.with_key(said, key, value)
    assert kept_settings(loads(said), "subwoofer", made).changes == ()  # once is enough
    for key, value in TRUTH.items():
        said = toml_edit.with_key(said, key, value)
    after = predict(loads(said))
    assert after is not None
    new = read_recording(simulated(after, "subwoofer", 0, PLAYED, flaws=FLAWS, seed=7), 48000.0, PLAYED)

    def read(file: str, *args: Any, **more: Any) -> Recording:
        return new if "tuned" in file else reader(file, *args, **more)

    again = job_of((*PAIRS, ("tuned-1", "subwoofer", "tuned = true\n")))
    heard = proof_of(again, believed(), hear(again, read))
    found = checked(made, takes_of(heard, tuned=True))
    assert len(found) == 2
    for one in found:
        assert one.check.verdict == "ok", one.check
        off = {name: value for name, value, _ in one.check.title.quantities}["now"]
        assert float(off) < 1.5
    # the old reading, taken for the new one, breaks the promise
    wrong = job_of((*PAIRS, ("subwoofer-3", "subwoofer", "tuned = true\n")))
    spoiled = checked(made, takes_of(proof_of(wrong, believed(), hear(wrong, reader)), tuned=True))
    assert any(one.check.verdict == "caution" for one in spoiled)


def test_a_stage_set_since_is_not_compared_with_what_it_was() -> None:
    job = job_of(PAIRS, '\n[tune]\nkept = ["subwoofer"]\n')
    made = proof_of(job, believed(), hear(job, reader))
    assert all(row.predicted is None for row in made.pairs[0].bands)
    assert [f.check.part for f in made.findings if f.check.code == "measure.tuned"] == ["subwoofer-since"]


def test_ways_to_join_are_ranked_by_the_measured_sum() -> None:
    read = taken("subwoofer", 1).read
    ways = joined(read, "left", "right")
    assert 0 < len(ways) <= 5
    scores = [w.adds_db + w.worst_db for w in ways]
    assert scores == sorted(scores, reverse=True)
    with pytest.raises(InputError, match="left"):
        joined(read, "left", "nobody")


def test_charts_read_off_together() -> None:
    for chart in proof_charts(proof()).values():
        first = np.asarray(chart.series[0].f_hz)
        for line in chart.series:
            np.testing.assert_array_equal(line.f_hz, first)
            value = np.asarray(line.value, dtype=float)
            assert np.isfinite(value).any()


def test_same_readings_same_answer() -> None:
    job = job_of(PAIRS)
    again = settings_of(job, believed(), takes_of(proof()))
    assert [o.rows for o in again.outputs] == [o.rows for o in set_by().outputs]
    assert simulated(true(), "factory", 0, PLAYED, flaws=FLAWS, seed=1).tobytes() == (
        simulated(true(), "factory", 0, PLAYED, flaws=FLAWS, seed=1).tobytes()
    )
    with pytest.raises(InputError, match="stage"):
        simulated(true(), "nobody", 0, PLAYED)
    with pytest.raises(InputError, match="full scale"):
        simulated(true(), "factory", 0, PLAYED, full_scale_db=70.0)
