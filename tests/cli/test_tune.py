"""`tune` end to end: what was bent on purpose is straightened, late and reversed outputs are found."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest
import soundfile

from backwave import acoustics
from backwave.files.recordings import write_wave
from tests.cli.command_line import DEMO
from tests.cli.command_line import run as command


def run(*args: str | Path, code: int = 0) -> CompletedProcess[str]:
    return command(*args, code=code)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sweep and two takes of a chain with a known bend, the right output 1 ms late, softer and reversed."""
    where = tmp_path_factory.mktemp("take")
    run("sweep", where / "sweep.wav", "--identified", "--length", "4 s", "--bits", "16")
    x, rate = soundfile.read(where / "sweep.wav")
    f = np.fft.rfftfreq(len(x), 1 / rate)
    bend = acoustics.peak(160.0, 6.0, 2.0).response(f) * acoustics.peak(1200.0, 4.0, 1.5).response(f)
    late = -0.5 * bend * np.exp(-2j * np.pi * f * 1e-3)
    for k in range(2):
        heard = np.fft.irfft(np.fft.rfft(x[:, 0]) * bend + np.fft.rfft(x[:, 1]) * late, len(x)) * 0.25
        heard = np.concatenate([np.zeros(3000), heard, np.zeros(3000)])
        heard += 2e-5 * np.random.default_rng(k).standard_normal(heard.size)
        write_wave(where / f"take{k}.wav", heard, rate, 24)
    return where


def test_a_known_bend_is_straightened_and_the_outputs_meet(folder: Path) -> None:
    document = json.loads(
        run(
            "tune", DEMO, "--take", folder / "take0.wav", "--take", folder / "take1.wav", "--target", "flat", "--json"
        ).stdout
    )
    left, right = document["channels"]
    assert document["places"] == 2
    # the right one is 1 ms late, 6.02 dB softer and reversed: the left one waits and comes down
    assert left["delay_ms"] == pytest.approx(1.0, abs=0.011)
    assert right["delay_ms"] == 0.0
    assert left["gain_db"] == pytest.approx(-6.0, abs=0.5)
    assert (left["invert"], right["invert"]) == (False, True)
    assert left["before_db"] > 1.0
    assert left["after_db"] < 0.4
    # two cuts where the two bends are, by about as much (the cookbook's peaks are their own inverses)
    cuts = sorted((f["f_hz"], f["gain_db"]) for f in left["filters"] if f["gain_db"] < -2)
    assert [c[0] for c in cuts] == pytest.approx([160.0, 1200.0], rel=0.06)
    assert [c[1] for c in cuts] == pytest.approx([-6.0, -4.0], abs=1.0)
    for row in left["filters"]:
        assert row["a"][0] == 1.0
        assert len(row["b"]) == 3


def test_fixed_bands_and_words_a_person_can_set(folder: Path) -> None:
    out = run("tune", DEMO, "--take", folder / "take0.wav", "--bands", "60 Hz, 160 Hz, 400 Hz, 1 kHz, 2.5 kHz").stdout
    assert "peak 160 Hz -" in out
    assert "turn it: it is reversed" in out
    assert "Predicted, not proven" in out


def test_takes_of_the_job_and_what_is_missing(folder: Path, tmp_path: Path) -> None:
    job = tmp_path / "job"
    shutil.copytree(DEMO, job)
    assert "--take" in run("tune", job, code=3).stderr
    (job / "readings").mkdir()
    for name in ("take0.wav", "sweep.json"):
        shutil.copy(folder / name, job / "readings" / name)
    text = (job / "job.toml").read_text(encoding="utf-8")
    text += '\n[[reading]]\nfile = "readings/take0.wav"\nstage = "speakers"\nseat = "driver"\n'
    (job / "job.toml").write_text(text, encoding="utf-8")
    assert json.loads(run("tune", job, "--json").stdout)["places"] == 1
    assert "house, flat" in run("tune", job, "--target", "loud", code=2).stderr
    assert "for the seat nobody" in run("tune", job, "--seat", "nobody", code=3).stderr
