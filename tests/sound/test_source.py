"""Outputs and the active chain, by closed forms."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from backwave.acoustics import crossover
from backwave.errors import InputError
from backwave.notation.crossover import parse_filter
from backwave.sound.output_network import Chain, Output, amplifier, bridge

F = np.geomspace(20.0, 20_000.0, 40)


def test_a_bridge_clips_at_the_supply() -> None:
    # A bridge swings to +- the supply: peak power into R is V^2/R, mean V^2/(2 R); 14.4 V into 4 ohm is 25.9 W.
    ideal = bridge(14.4, 1e-9, loss_v=0.0)
    assert ideal.clip_v**2 / 4 == pytest.approx(25.92)
    real = bridge(14.4, 0.3)
    assert real.clip_v == pytest.approx(13.4 / sqrt(2))
    assert bridge(12.4).clip_v < real.clip_v
    with pytest.raises(InputError, match="supply"):
        bridge(0.9)


def test_an_amplifier_gives_its_rating_into_its_load() -> None:
    made = amplifier(75.0, 4.0, 0.05)
    assert (made.clip_v * 4.0 / 4.05) ** 2 / 4.0 == pytest.approx(75.0)


def test_a_factory_output_bends_the_signal_as_it_was_measured() -> None:
    made = Output(6.0, 0.3, levels=((50.0, -12.0), (200.0, 0.0)))
    h = 20 * np.log10(made.response([10.0, 50.0, 100.0, 200.0, 5000.0]))
    assert h == pytest.approx([-12, -12, -6, 0, 0])  # halfway in log frequency is halfway in dB
    assert Output(5.0, 0.1).response(F) == pytest.approx(1.0)
    for levels in (((200.0, 0.0), (50.0, 0.0)), ((0.0, 0.0), (50.0, 0.0))):
        with pytest.raises(InputError):
            Output(6.0, 0.3, levels=levels)
    for clip, own in ((0.0, 0.1), (5.0, -1.0), (float("nan"), 0.1)):
        with pytest.raises(InputError):
            Output(clip, own)


def test_the_chain_is_the_product_of_what_is_in_it() -> None:
    chain = Chain((parse_filter("high-pass 80 Hz LR4"), parse_filter("peak 160 Hz -3 dB Q 2")), 1.7e-3, -1.5)
    h = chain.response(F)
    alone = crossover(F, "high-pass", "LR4", 80.0) * parse_filter("peak 160 Hz -3 dB Q 2").response(F)
    np.testing.assert_allclose(np.abs(h), np.abs(alone) * 10 ** (-1.5 / 20), rtol=1e-12)
    np.testing.assert_allclose(h / alone, 10 ** (-1.5 / 20) * np.exp(-2j * np.pi * F * 1.7e-3), rtol=1e-9)
    assert Chain().response(F) == pytest.approx(1.0)
