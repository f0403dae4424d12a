"""`sweep` and `read` end to end: what was played, recorded on another clock, comes back."""

from __future__ import annotations

import json
from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest
import soundfile

from backwave.files.recordings import write_wave
from tests.cli.command_line import run as command


def run(*args: str | Path, code: int = 0) -> CompletedProcess[str]:
    return command(*args, code=code)


@pytest.fixture
def played(tmp_path: Path) -> Path:
    run("sweep", tmp_path / "sweep.wav", "--identified", "--length", "3 s", "--bits", "16")
    return tmp_path


def recorded(folder: Path, gain: tuple[float, float] = (0.5, 0.5), later: int = 0, noise: float = 1e-4) -> Path:
    x, rate = soundfile.read(folder / "sweep.wav")
    heard = gain[0] * x[:, 0] + gain[1] * np.roll(x[:, 1], later)
    quiet = np.zeros(4000)
    heard = np.concatenate([quiet, heard, quiet])
    heard = heard + noise * np.random.default_rng(3).standard_normal(heard.size)
    return write_wave(folder / "take.wav", heard, rate, 16)


def test_what_was_played_comes_back(played: Path) -> None:
    take = recorded(played, (0.5, -0.25), 96)
    document = json.loads(run("read", take, "--json").stdout)
    keys = {"f_hz", "magnitude_db", "phase_deg", "delay_s", "clock_ppm", "polarity", "distortion", "snr_db"}
    assert keys <= set(document)
    left, right = document["channels"]["left"], document["channels"]["right"]
    assert document["delay_s"] is None
    assert abs(document["clock_ppm"]) < 0.1
    # 96 samples of 48 kHz are 2 ms; half the level is 6.02 dB; the sign was turned (definitions)
    assert right["delay_s"] == pytest.approx(2e-3, abs=2e-6)
    assert right["polarity"] == -1
    f = np.array(left["f_hz"])
    inside = (f > 50) & (f < 12_000)
    apart = np.array(left["magnitude_db"])[inside] - np.array(right["magnitude_db"])[inside]
    np.testing.assert_allclose(apart, 6.02, atol=0.15)
    text = run("read", take, "--plot", played / "chart.svg").stdout
    assert "reversed" in text
    assert "2.000 ms" in text
    assert (played / "chart.svg").read_text(encoding="utf-8").startswith("<svg")


def test_the_first_sound_is_quiet_until_the_drivers_are_known(tmp_path: Path) -> None:
    out = run("sweep", tmp_path / "first.wav", "--length", "2 s")
    assert "peaks at -40.0 dB" in out.stdout
    x, _ = soundfile.read(tmp_path / "first.wav")
    assert np.abs(x).max() == pytest.approx(0.01, rel=0.02)  # -40 dB of full scale
    run("sweep", tmp_path / "known.wav", "--length", "2 s", "--identified")
    y, _ = soundfile.read(tmp_path / "known.wav")
    assert np.abs(y).max() == pytest.approx(10 ** (-12 / 20), rel=0.02)


@pytest.mark.parametrize("kind", ["beeps", "noise", "tone", "rattle", "polarity", "jig"])
def test_every_kind_is_written_with_its_description(kind: str, tmp_path: Path) -> None:
    known = ("--identified", "--driver", "woofer") if kind in ("rattle", "polarity") else ()
    run("sweep", tmp_path / "one.wav", "--kind", kind, "--length", "4 s", *known)
    record = json.loads((tmp_path / "one.json").read_text(encoding="utf-8"))
    assert record["kind"] in (kind, "take")
    x, _ = soundfile.read(tmp_path / "one.wav")
    top = np.abs(x).max()
    assert 0.2 < top <= 0.26 if known else 0 < top <= 0.06
    if kind in ("rattle", "polarity"):  # nothing but bass: nobody sends it where a tweeter may be
        assert "--identified" in run("sweep", tmp_path / "two.wav", "--kind", kind, code=2).stderr


def test_the_first_sound_stays_within_the_drivers_band(tmp_path: Path) -> None:
    """Before anybody confirms which driver speaks: -40 dB, and no bass to a tweeter (the issue's own gate)."""
    for driver, low, high in (("", 300.0, 3000.0), ("tweeter", 2500.0, 20000.0), ("subwoofer", 20.0, 200.0)):
        said = () if not driver else ("--driver", driver)
        run("sweep", tmp_path / "first.wav", "--length", "2 s", *said, "--low", "20 Hz")
        record = json.loads((tmp_path / "first.json").read_text(encoding="utf-8"))
        assert (record["sweep"]["f1_hz"], record["sweep"]["f2_hz"]) == (low, high)
        x, rate = soundfile.read(tmp_path / "first.wav")
        power = np.abs(np.fft.rfft(x[:, 0])) ** 2
        f = np.fft.rfftfreq(len(x), 1 / rate)
        assert power[f < low / 2].sum() < 1e-4 * power.sum()
    assert "woofer" in run("sweep", tmp_path / "x.wav", "--driver", "horn", code=2).stderr


@pytest.mark.parametrize("kind", ["rattle", "polarity", "tone", "noise"])
def test_who_has_heard_a_driver_says_which(kind: str, tmp_path: Path) -> None:
    asked = ("sweep", tmp_path / "x.wav", "--kind", kind, "--length", "2 s", "--identified")
    assert "driver that was heard" in run(*asked, code=2).stderr
    assert not (tmp_path / "x.wav").exists()


@pytest.mark.parametrize("known", [(), ("--identified",)])
@pytest.mark.parametrize("kind", ["rattle", "polarity"])
def test_no_bass_and_no_loud_tone_on_a_tweeters_output(kind: str, known: tuple[str, ...], tmp_path: Path) -> None:
    run("sweep", tmp_path / "x.wav", "--kind", kind, "--driver", "tweeter", *known, code=2)
    loud = ("sweep", tmp_path / "x.wav", "--kind", "tone", "--tone", "60 Hz", "--driver", "tweeter", "--level", "0 dB")
    assert "burns its coil" in run(*loud, "--identified", code=2).stderr
    run(*loud, "--length", "2 s")  # nobody has confirmed it: -40 dB, and at the lowest of its own band
    x, rate = soundfile.read(tmp_path / "x.wav")
    assert np.abs(x).max() == pytest.approx(0.01, rel=0.02)
    assert np.argmax(np.abs(np.fft.rfft(x[:, 0]))) * rate / len(x) == pytest.approx(2500.0, rel=0.01)


def test_a_jig_is_quiet_until_its_driver_lies_on_the_bench(tmp_path: Path) -> None:
    jig = ("sweep", tmp_path / "x.wav", "--kind", "jig", "--level", "-6 dB", "--length", "2 s")
    for known, peak in (((), -40.0), (("--identified",), -6.0)):
        said = run(*jig, *known).stdout
        x, _ = soundfile.read(tmp_path / "x.wav")
        assert 20 * np.log10(np.abs(x).max()) == pytest.approx(peak, abs=0.1)
        assert f"peaks at {peak:.1f} dB" in said  # what is told is what was written


def test_noise_on_a_tweeters_output_stays_in_its_band(tmp_path: Path) -> None:
    run("sweep", tmp_path / "x.wav", "--kind", "noise", "--driver", "tweeter", "--identified", "--length", "4 s")
    x, rate = soundfile.read(tmp_path / "x.wav")
    power, f = np.abs(np.fft.rfft(x[:, 0])) ** 2, np.fft.rfftfreq(len(x), 1 / rate)
    assert power[f < 1250].sum() < 1e-3 * power.sum()


@pytest.mark.parametrize(
    ("change", "words"),
    [("silent", "silen"), ("short", "pilot"), ("text", "sound file"), ("gone", "not there"), ("loud", "clip")],
)
def test_bad_recordings_say_what_to_do(played: Path, change: str, words: str) -> None:
    take = recorded(played)
    x, rate = soundfile.read(take)
    if change == "silent":
        write_wave(take, np.zeros(x.size), rate)
    elif change == "short":
        write_wave(take, x[: rate * 3], rate)
    elif change == "text":
        take.write_text("this is no sound", encoding="utf-8")
    elif change == "gone":
        take.unlink()
    elif change == "loud":
        write_wave(take, np.clip(x * 40, -1, 1), rate)
    done = command("read", take)
    assert words in (done.stdout + done.stderr).lower()


def test_without_the_description_it_says_where_it_is(played: Path) -> None:
    take = recorded(played)
    (played / "sweep.json").unlink()
    assert "--sweep" in run("read", take, code=3).stderr
    (played / "sweep.json").write_text("[1]", encoding="utf-8")
    assert "beside the sweep" in run("read", take, code=2).stderr
    assert "ends in .wav" in run("sweep", played / "x.mp3", code=2).stderr


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--outputs", ""], "1 to 8 names"),
        (["--outputs", ",".join("abcdefghi")], "1 to 8 names"),
        (["--kind", "tone", "--tone", "0 Hz"], "10 Hz to 22 kHz"),
        (["--kind", "tone", "--tone", "30 kHz", "--identified"], "10 Hz to 22 kHz"),
    ],
)
def test_a_sweep_that_cannot_be_is_refused(tmp_path: Path, options: list[str], words: str) -> None:
    assert words in run("sweep", tmp_path / "x.wav", *options, code=2).stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", ["noise", "beeps"])
@pytest.mark.parametrize("driver", ["", "tweeter", "subwoofer"])
def test_nothing_peaks_above_the_first_sound_before_a_driver_is_known(kind: str, driver: str, tmp_path: Path) -> None:
    said = () if not driver else ("--driver", driver)
    run("sweep", tmp_path / "x.wav", "--kind", kind, "--length", "4 s", *said)
    x, _ = soundfile.read(tmp_path / "x.wav")
    assert 20 * np.log10(np.abs(x).max()) <= -39.9
