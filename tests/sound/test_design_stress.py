"""Parts against what such parts are rated for: limits by hand, what to buy, who is at fault."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from backwave.notation.crossover import CrossoverPart, parse_branch
from backwave.sound.design import COIL_W, PartStress, made_of, part_check, stress_of

F = np.geomspace(20.0, 20_000.0, 300)


def stood(part: CrossoverPart, **what: float) -> PartStress:
    amounts = {"amps": 1.0, "volts": 1.0, "watts": 1.0, "music_watts": 0.1, "at_hz": 100.0} | what
    return PartStress(f"1{part.kind}", part, **amounts)


def test_a_resistor_on_a_channel_of_75_watts() -> None:
    # 75 W into 4 ohm is 17.32 V (P = V2/R); 4 ohm before 4 ohm takes I2 R = (17.32/8)^2 4 = 18.75 W, of music a tenth
    branches = (parse_branch("series R 4 ohm"),)
    (one,) = stress_of(made_of(branches, 4.0, F, "low-pass"), branches, sqrt(75 * 4))
    check = part_check(one)
    assert check.value == pytest.approx(1.875, rel=1e-9)
    assert (check.verdict, check.limit, check.unit, check.part) == ("ok", 5.0, "W", "1R")
    # of 225 W it takes three times as much: 5.625 W of music
    (one,) = stress_of(made_of(branches, 4.0, F, "low-pass"), branches, sqrt(225 * 4))
    tight = part_check(one)
    assert tight.verdict == "caution"
    assert tight.remedy is not None
    ((_, wanted, unit),) = tight.remedy.quantities
    assert wanted == pytest.approx(11.25)  # twice its heat: half is used
    assert unit == "W"


@pytest.mark.parametrize(
    ("part", "key", "limit"),
    [
        (CrossoverPart("R", 4.0), "music_watts", 5.0),
        (CrossoverPart("C", 1e-5), "volts", 100.0),
        (CrossoverPart("L", 1e-3, 0.4), "music_watts", 2.0),
    ],
)
def test_each_kind_by_its_own_limit(part: CrossoverPart, key: str, limit: float) -> None:
    assert part_check(stood(part, **{key: limit})).verdict == "ok"
    over = part_check(stood(part, **{key: limit * 1.001}))
    assert over.verdict == "caution"
    assert over.remedy is not None
    assert over.limit == limit
    assert over.value == pytest.approx(limit * 1.001)
    # what is no matter for this kind changes nothing
    other = "volts" if key == "music_watts" else "music_watts"
    assert part_check(stood(part, **{other: 1e6})).verdict == "ok"


def test_every_place_of_its_words_is_filled() -> None:
    for part in (CrossoverPart("R", 4.0), CrossoverPart("C", 1e-5), CrossoverPart("L", 1e-3, 0.4)):
        check = part_check(stood(part, volts=300.0, music_watts=30.0))
        for text in (check.title, check.remedy):
            assert text is not None
            assert text.template.format(**{name: value for name, value, _ in text.quantities})


def test_the_default_coil_is_as_hot_as_it_says() -> None:
    # A Brooks coil 40 mm across has side c = 10 mm, bore 20 mm: outside, inside and two rings are pi (40 + 20) 10
    # + pi/2 (40^2 - 20^2) = 3770 mm2; 2 W over 10 W/(m2 K) (from memory) and that surface is 53 K
    surface = (np.pi * 60 * 10 + np.pi / 2 * (40**2 - 20**2)) * 1e-6
    assert COIL_W / (10 * surface) == pytest.approx(53, abs=0.1)
