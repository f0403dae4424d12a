"""Recordings of a job: read once, kept as plain arrays, read anew where anything of them differs."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from backwave.errors import InputError, MissingError
from backwave.files import recordings
from backwave.files.recordings import Takes, read_sound, write_flac, write_wave
from backwave.measure.sweep import Sweep, describe, plan_take, take_signal

TAKE = plan_take(outputs=("left",), sweep=Sweep(length_s=1.0))


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "readings").mkdir()
    sound = 0.4 * np.concatenate([np.zeros(9000), take_signal(TAKE)[:, 0], np.zeros(9000)])
    sound += np.random.default_rng(1).normal(0, 1e-4, sound.size)
    write_flac(tmp_path / "readings" / "one.flac", sound, 48000)
    (tmp_path / "readings" / "sweep.json").write_text(json.dumps(describe(TAKE)), encoding="utf-8")
    return tmp_path


def same(a: object, b: object) -> bool:
    """By this test's own walk."""
    if dataclasses.is_dataclass(a) and not isinstance(a, type):
        return type(a) is type(b) and all(same(getattr(a, f.name), getattr(b, f.name)) for f in dataclasses.fields(a))
    if isinstance(a, np.ndarray):
        return isinstance(b, np.ndarray) and np.array_equal(a, b, equal_nan=a.dtype.kind in "fc")
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(same, a, b))
    return a == b


def test_kept_whole_and_not_read_twice(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = Takes(job)("readings/one.flac")
    (kept,) = (job / "made" / ".cache" / "readings").glob("*.npz")
    monkeypatch.setattr(recordings, "read_sound", lambda *_: pytest.fail("it was read a second time"))
    assert same(Takes(job)("readings/one.flac"), first)
    monkeypatch.undo()
    kept.write_bytes(kept.read_bytes()[:500])  # cut short: read anew, and no error
    assert same(Takes(job)("readings/one.flac"), first)


def test_what_differs_is_read_anew(job: Path) -> None:
    read = Takes(job)
    plain = read("readings/one.flac").read.responses[0]
    curve = (np.array([20.0, 20000.0]), np.array([3.0, 3.0]))
    corrected = read("readings/one.flac", microphone=curve).read.responses[0]
    np.testing.assert_allclose(plain.magnitude_db - corrected.magnitude_db, 3.0, atol=1e-9)
    softer = 0.5 * read_sound(job / "readings/one.flac").samples
    write_flac(job / "readings" / "one.flac", softer, 48000)
    again = Takes(job)("readings/one.flac").read.responses[0]
    inside = (plain.f_hz > 50) & (plain.f_hz < 15000)
    np.testing.assert_allclose((plain.magnitude_db - again.magnitude_db)[inside], 6.02, atol=0.05)


def test_a_recordings_own_description_goes_before_the_common_one(job: Path) -> None:
    (job / "readings" / "one.json").write_text("[]", encoding="utf-8")
    with pytest.raises(InputError, match=r"one\.json"):
        Takes(job)("readings/one.flac")
    assert Takes(job)("readings/one.flac", sweep="readings/sweep.json").read.responses


def test_what_is_not_there_or_elsewhere(job: Path) -> None:
    with pytest.raises(MissingError, match=r"gone\.wav"):
        Takes(job)("readings/gone.wav")
    with pytest.raises(InputError, match="way out"):
        Takes(job)("../one.flac")
    (job / "readings" / "sweep.json").unlink()
    with pytest.raises(MissingError, match="--sweep"):
        Takes(job)("readings/one.flac")
    (job / "readings" / "sweep.json").write_text("{", encoding="utf-8")
    with pytest.raises(InputError, match="not JSON"):
        Takes(job)("readings/one.flac")


def test_flac_holds_what_a_wave_of_16_bit_holds(job: Path) -> None:
    x = np.sin(np.arange(4800) / 7.0) * 0.5
    a = read_sound(write_flac(job / "a.flac", x, 48000)).samples
    b = read_sound(write_wave(job / "b.wav", x, 48000, 16)).samples
    np.testing.assert_array_equal(a, b)
    with pytest.raises(InputError, match="full scale"):
        write_flac(job / "c.flac", 3 * x, 48000)
