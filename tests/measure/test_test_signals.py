"""Noise, pulses, tones and beeps, and what gates them."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.measure.signals import channel_beeps, first_sound, hearing, level_tone, pink_noise, polarity_pulses


def test_pink_noise_has_the_same_power_in_every_octave() -> None:
    noise = pink_noise(48000, 4.0, -20.0)
    assert 20 * np.log10(np.sqrt(np.mean(noise**2))) == pytest.approx(-20.0, abs=0.01)
    power = np.abs(np.fft.rfft(noise)) ** 2
    f = np.fft.rfftfreq(noise.size, 1 / 48000)
    octaves = [power[(f >= a) & (f < 2 * a)].sum() for a in (50, 100, 400, 1600, 6400)]
    assert 10 * np.log10(np.array(octaves) / octaves[0]) == pytest.approx(np.zeros(5), abs=0.15)
    assert (pink_noise(48000, 1.0) == pink_noise(48000, 1.0)).all()


def test_pulses_push_one_way() -> None:
    pulses = polarity_pulses(44100, 4)
    assert pulses.min() == 0.0
    assert pulses.max() == pytest.approx(10 ** (-12 / 20), rel=1e-3)
    assert int((np.diff((pulses > 0.1).astype(int)) == 1).sum()) == 4


def test_tone_is_pure_and_soft_at_its_ends() -> None:
    tone = level_tone(48000, 100.0, 2.0, -6.0)
    assert abs(tone[0]) < 1e-6
    assert np.abs(tone).max() == pytest.approx(10 ** (-6 / 20), rel=1e-3)
    middle = tone[24000:72000]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(middle.size)))
    assert int(np.argmax(spectrum)) == 100


def test_beeps_count_the_outputs_in_their_own_band() -> None:
    beeps = channel_beeps(48000, ((40.0, 100.0), (2000.0, 8000.0)))
    silence = np.zeros(4000)
    for count, column in enumerate(beeps.T, start=1):
        level = np.convolve(np.concatenate([silence, np.abs(column)]), np.ones(2000) / 2000, "same")
        assert int((np.diff((level > 1e-3).astype(int)) == 1).sum()) == count
    assert np.abs(beeps).max() <= 10 ** (-40 / 20)
    assert not ((np.abs(beeps[:, 0]) > 0) & (np.abs(beeps[:, 1]) > 0)).any()


def test_first_sound_is_quiet_until_confirmed() -> None:
    assert first_sound(-40.0, False).verdict == "ok"
    loud = first_sound(-12.0, False)
    assert loud.verdict == "stop"
    assert loud.remedy is not None
    assert first_sound(-12.0, True).verdict == "ok"


@pytest.mark.parametrize(("level", "minutes"), [(85, 480), (88, 240), (94, 60), (100, 15), (115, 0.46875)])
def test_allowed_time(level: float, minutes: float) -> None:
    """NIOSH 98-126 (1998), table 1-1."""
    assert hearing(1.0, level).limit == pytest.approx(60 * minutes)


def test_hearing_gate() -> None:
    assert hearing(10.0).verdict == "caution"
    assert hearing(10.0, 80.0).verdict == "ok"
    assert hearing(10.0, 101.0).verdict == "caution"
    assert hearing(60.0, 118.0).verdict == "stop"


@pytest.mark.parametrize(
    "call",
    [
        lambda: pink_noise(48000, 1.0, -3.0), lambda: pink_noise(48000, 7200.0), lambda: level_tone(48000, 23000.0),
        lambda: level_tone(48000, 100.0, 1.0, 3.0), lambda: polarity_pulses(48000, 0),
        lambda: channel_beeps(48000, ((100.0, 40.0),)), lambda: pink_noise(48000, 1.0, -20.0, (30000.0, 40000.0)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
