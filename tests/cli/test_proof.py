"""`read JOB`, `tune JOB` and `impedance` end to end, on the demo's recordings and on a jig made by computation."""

from __future__ import annotations

import json
import shutil
import tomllib
from importlib.resources import files
from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest
import soundfile

from backwave.cli.demo import record
from backwave.files.recordings import write_wave
from backwave.job import load
from tests.cli.command_line import run as command


def run(*args: str | Path, code: int = 0) -> CompletedProcess[str]:
    return command(*args, code=code)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo job with its recordings, as `backwave demo` makes them."""
    folder = tmp_path_factory.mktemp("demo") / "job"
    folder.mkdir()
    text = (files("backwave.cli") / "demo_job" / "job.toml").read_text(encoding="utf-8")
    assert "makes these by computation" in text[text.index("what was recorded at the seat") :]  # and says what they are
    (folder / "job.toml").write_text(text, encoding="utf-8")
    written = record(folder, load(folder))
    assert len(written) == 4
    assert record(folder, load(folder)) == []  # what is there stays
    return folder


def test_before_after_and_predicted_and_what_is_learned(demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(demo, folder)
    done = run("read", folder, "--keep", "--json", "--plot", tmp_path / "charts")
    document = json.loads(done.stdout)
    seat = document["seats"]["driver"]
    assert (seat["before"], seat["after"]) == ("factory", "subwoofer")
    bands = {row["band"]: row for row in seat["bands"]}
    assert set(bands) == {"deep bass", "mid-bass", "vocal", "presence", "air"}
    for row in bands.values():
        assert row["changed"] == (abs(row["change_db"]) > 2 * row["u_db"])
        assert row["as_predicted"]
    # the new drivers distort a third as much at one level, as the recordings were made
    bass = next(d for d in seat["distortion"] if d["band"] == "mid-bass")
    assert bass["at_db"] is not None
    assert bass["changed"]
    assert bass["after_db"] < bass["before_db"] - 6
    lesson = document["learned"]["driver"]
    assert lesson["unseen"]["after_db"] < lesson["unseen"]["before_db"]
    assert {p.name for p in (tmp_path / "charts").iterdir()} == {
        "proof-driver.svg", "distortion-driver.svg", "breaks-driver.svg",
    }  # fmt: skip
    cavity = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))["opening"][0]["cavity"]
    assert " u " in cavity["volume"]  # what was learned, with its doubt
    words = run("read", demo).stdout
    assert "none (±" in words
    assert "20 to 60 Hz" in words


def test_what_was_set_goes_into_the_job(demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(demo, folder)
    told = run("tune", folder, "--keep").stderr
    assert "kept: tune.kept" in told
    assert "under-seat: not among the outputs" in told
    job = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))
    assert job["tune"]["kept"] == ["subwoofer"]
    stage = next(s for s in job["stage"] if s["id"] == "subwoofer")
    assert any(f.startswith("peak") for f in stage["path"][0]["filters"])
    assert "already" in run("tune", folder, "--keep").stderr
    words = " ".join(run("read", folder).stdout.split())
    assert "recorded before its settings" in words
    ways = json.loads(run("tune", folder, "--join", "left,right", "--json").stdout)["ways"]
    assert ways[0]["f_hz"] > 0
    assert "lower and upper" in run("tune", folder, "--join", "left", code=2).stderr


def test_a_job_without_recordings_says_how_to_begin(tmp_path: Path) -> None:
    run("new", tmp_path / "job")
    assert "backwave sweep" in run("read", tmp_path / "job", code=3).stderr
    assert "job folder" in run("read", tmp_path / "one.wav", "--learn", code=2).stderr


# -- impedance ---------------------------------------------------------------------------------------------------------

TRUE = {"Re": 3.4, "fs": 60.0, "Qms": 3.5, "Qes": 0.60}
VAS, SD, MMS = (12e-3, 133e-4, 14.710144e-3)  # by Small 1972, as worked out by hand in tests/measure/test_impedance.py


def driver(f: np.ndarray, fs: float = 60.0, Qms: float = 3.5, Qes: float = 0.6) -> np.ndarray:
    """Small 1972, eq. 1 of the impedance, and the coil of Leach 2002: this test's own."""
    f = np.maximum(f, 0.5)
    coil = 0.012 * (2j * np.pi * f) ** 0.72
    return 3.4 + 3.4 * Qms / Qes / (1 + 1j * Qms * (f / fs - fs / f)) + coil


@pytest.fixture(scope="module")
def jig(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Recordings over 10 ohm: the driver, the same with 10 g on its cone, both inputs at one point."""
    where = tmp_path_factory.mktemp("jig")
    run("sweep", where / "sweep.wav", "--kind", "jig", "--length", "4 s", "--bits", "16", "--identified")
    x, rate = soundfile.read(where / "sweep.wav", always_2d=True)
    sent = np.concatenate([np.zeros(9000), x[:, 0], np.zeros(9000)])
    f = np.fft.rfftfreq(sent.size, 1 / rate)
    loaded = np.sqrt(MMS / (MMS + 0.010))  # the resonance and both qualities follow the mass (Small 1972)
    shapes = {"driver": driver(f), "mass": driver(f, 60 * loaded, 3.5 / loaded, 0.6 / loaded), "match": None}
    for k, (name, z) in enumerate(shapes.items()):
        second = np.fft.rfft(sent) * 0.97 * (1.0 if z is None else z / (10.0 + z))
        both = np.stack([sent, np.fft.irfft(second, sent.size)], axis=1)
        both += 2e-5 * np.random.default_rng(k).standard_normal(both.shape)
        write_wave(where / f"{name}.wav", both, rate, 24)
    return where


def test_nothing_is_read_before_the_gate(jig: Path) -> None:
    asked = run("impedance", jig / "driver.wav", "--resistor", "10 ohm", code=3)
    assert "Unplug the driver" in asked.stderr
    assert not asked.stdout
    run("impedance", jig / "driver.wav", "--resistor", "10 ohm", "--volts", "0.5 V", code=3)
    loud = run("impedance", jig / "driver.wav", "--resistor", "10 ohm", "--volts", "4 V", "--unplugged", code=1)
    assert "1.00 V or less" in loud.stderr
    assert not loud.stdout


def test_a_known_driver_comes_back_and_goes_into_its_record(jig: Path, demo: Path, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(demo, folder)
    passed = ("--resistor", "10 ± 0.05 ohm", "--volts", "0.5 V", "--unplugged", "--match", jig / "match.wav")
    second = ("--mass-recording", jig / "mass.wav", "--mass", "10 ± 0.05 g")
    document = json.loads(run("impedance", jig / "driver.wav", *passed, *second, "--area", "133 cm2", "--json").stdout)
    motor = document["motor"]
    for key, name in (("Re_ohm", "Re"), ("fs_hz", "fs"), ("Qms", "Qms"), ("Qes", "Qes")):
        assert abs(motor[key]["value"] - TRUE[name]) < 3 * motor[key]["u"] + 0.003 * TRUE[name]
    vas = document["suspension"]["Vas_m3"]
    assert abs(vas["value"] - VAS) < 3 * vas["u"]
    assert vas["u"] < 0.05 * VAS
    kept = run(
        "impedance", jig / "driver.wav", *passed, *second, "--job", folder, "--speaker", "demo-165", "--keep",
        "--plot", tmp_path / "z.svg",
    )  # fmt: skip
    assert "standard uncertainty" in kept.stdout
    assert (tmp_path / "z.svg").read_text(encoding="utf-8").startswith("<svg")
    row = next(s for s in load(folder).file.speaker if s.id == "demo-165")
    assert row.motor is not None
    assert row.motor.fs is not None
    assert row.motor.fs.to("Hz") == pytest.approx(60.0, rel=0.01)
    assert row.motor.Vas is not None
    assert row.motor.Vas.u is not None
    assert row.measured is not None
    assert row.measured.impedance == "readings/demo-165-impedance.txt"
    json.loads(run("predict", folder, "--json").stdout)  # and the predictions take it


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--mass-recording", "mass.wav"), "--mass"),
        (("--mass-recording", "mass.wav", "--mass", "10 g"), "--area"),
        (("--mass-recording", "mass.wav", "--box-recording", "mass.wav"), "one of them"),
        (("--keep",), "--job"),
    ],
)
def test_what_the_jig_lacks_is_asked_for(jig: Path, args: tuple[str, ...], words: str) -> None:
    said = [str(jig / a) if a.endswith(".wav") else a for a in args]
    passed = ("--resistor", "10 ohm", "--volts", "0.5 V", "--unplugged")
    assert words in run("impedance", jig / "driver.wav", *passed, *said, code=2).stderr


def test_a_rattle_is_told_with_where_to_listen_and_whether_it_is_gone(tmp_path: Path) -> None:
    """Noise in step with the sweep between 85 and 105 Hz, then a fiftieth of it: 34 dB less (20 log10 50)."""
    run(
        "sweep",
        tmp_path / "sweep.wav",
        "--kind",
        "rattle",
        "--identified",
        "--driver",
        "woofer",
        "--length",
        "20 s",
        "--bits",
        "16",
    )
    x, rate = soundfile.read(tmp_path / "sweep.wav", always_2d=True)
    record = json.loads((tmp_path / "sweep.json").read_text(encoding="utf-8"))
    event = next(e for e in record["events"] if e["kind"] == "sweep")
    t = (np.arange(len(x)) - event["start"]) / rate
    f = 20.0 * (300.0 / 20.0) ** (np.clip(t, 0, 20) / 20.0)  # Farina 2000: the frequency rises exponentially
    inside = (f > 85) & (f < 105) & (t > 0) & (t < 20)
    rng = np.random.default_rng(1)
    for name, part in (("before", 0.1), ("after", 0.002)):
        heard = 0.4 * x.sum(axis=1) + inside * part * 0.2 * rng.standard_normal(len(x))
        heard = np.concatenate([np.zeros(9000), heard, np.zeros(9000)]) + 1e-6 * rng.standard_normal(len(x) + 18000)
        write_wave(tmp_path / f"{name}.wav", heard, rate, 24)
    told = json.loads(run("read", tmp_path / "before.wav", "--json").stdout)["rattle"]["spots"]
    assert len(told) == 1
    assert 80 < told[0]["from_hz"] < 95
    assert 95 < told[0]["to_hz"] < 110
    start = event["start"] / rate + 9000 / rate
    assert told[0]["from_s"] == pytest.approx(start + 20 * np.log(85 / 20) / np.log(15), abs=0.5)
    words = " ".join(run("read", tmp_path / "after.wav", "--against", tmp_path / "before.wav").stdout.split())
    change = float(words.split("Hz) it is ")[1].split(" dB")[0])
    assert change == pytest.approx(-34.0, abs=4.0)
