"""A recording whole: what was played decides what is looked for."""

from __future__ import annotations

import numpy as np
import pytest
from measure.chain import Path, cabin_like, record

from backwave.errors import InputError
from backwave.measure.analysis import hunts_rattles, read_recording
from backwave.measure.rattle import check_rattle
from backwave.measure.sweep import Sweep, describe, plan_take, take_signal

SLOW = plan_take(outputs=("all-doors",), sweep=Sweep(20.0, 300.0, 20.0, -12.0))
QUICK = plan_take(outputs=("left",), sweep=Sweep(length_s=2.0))


def test_a_slow_low_sweep_hunts_rattles_and_a_response_does_not() -> None:
    assert hunts_rattles(SLOW)
    assert not hunts_rattles(QUICK)
    assert not hunts_rattles(plan_take(sweep=Sweep(20.0, 300.0, 2.0)))  # too quick for its periods to be compared
    signal = take_signal(SLOW)
    clean = record(signal, 48000, [Path(cabin_like())], snr_db=55).samples
    rng = np.random.default_rng(4)
    level = np.abs(np.convolve(np.abs(clean), np.ones(480) / 480, "same"))
    noise = rng.normal(0, 1, clean.size) * level * 0.2
    event = SLOW.sweeps[0]
    t = np.arange(clean.size) / 48000 - 0.7313 - event.start / 48000
    drive = SLOW.sweep.f1_hz * np.exp(np.clip(t, 0, 20) / SLOW.sweep.L)
    buzzing = clean + np.where((drive > 85) & (drive < 105) & (t > 0) & (t < 20), noise, 0.0)
    heard = read_recording(buzzing, 48000.0, describe(SLOW))
    assert heard.buzz is not None
    (found,) = [c for c in check_rattle(heard.buzz) if c.verdict != "ok"]
    at = {name: value for name, value, _ in found.title.quantities}["f"]
    assert 83 < float(at) < 107
    quiet = read_recording(clean, 48000.0, describe(SLOW))
    assert quiet.buzz is not None
    assert [c.verdict for c in check_rattle(quiet.buzz)] == ["ok"]


def test_a_channel_is_chosen_and_a_wrong_one_refused() -> None:
    good = record(take_signal(QUICK), 48000, [Path(cabin_like())], snr_db=60).samples
    both = np.stack([np.random.default_rng(2).normal(0, 0.1, good.size), good], axis=1)
    assert read_recording(both, 48000.0, describe(QUICK), channel=2).buzz is None
    with pytest.raises(InputError, match="no pilot"):
        read_recording(both, 48000.0, describe(QUICK), channel=1)
    with pytest.raises(InputError, match="1 to 2"):
        read_recording(both, 48000.0, describe(QUICK), channel=3)
    with pytest.raises(InputError, match="description"):
        read_recording(good, 48000.0, {"kind": "noise"})
