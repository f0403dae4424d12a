"""Ratings of amplifiers as people write them."""

from __future__ import annotations

import pytest

from backwave.errors import InputError
from backwave.notation.measures import Rating, parse_rating


@pytest.mark.parametrize(
    ("text", "channels", "watts", "ohm"),
    [
        ("4 x 75 W into 4 ohm", 4, 75, 4),
        ("250 W into 4 ohm", 1, 250, 4),
        ("2×1.2 kW into 2 Ω", 2, 1200, 2),
        ("1 x 500 mW into 32 ohms", 1, 0.5, 32),
    ],
)
def test_a_rating_is_channels_power_and_load(text: str, channels: int, watts: float, ohm: float) -> None:
    found = parse_rating(text)
    assert (found.channels, found.watts, found.ohm) == (channels, pytest.approx(watts), pytest.approx(ohm))
    assert str(found) == text  # it goes back as it was typed
    assert parse_rating(str(Rating(channels, watts, ohm))) == found  # however it was typed


def test_a_bridged_pair_gives_the_sum_of_two_powers_at_twice_the_voltage() -> None:
    # Two outputs of opposite voltage on one load: 2 U across 2 R is U^2/R from each of the two.
    one, two = parse_rating("4 x 75 W into 2 ohm"), parse_rating("4 x 75 W into 2 ohm").bridged()
    assert (two.channels, two.watts, two.ohm) == (2, 150, 4)
    assert two.volts == pytest.approx(2 * one.volts)
    assert one.volts == pytest.approx(12.2474, abs=1e-4)  # root of 75 W x 2 ohm


@pytest.mark.parametrize("text", ["", "loud", "75 W", "75 V into 4 ohm", "4 75 W into 4 ohm", "75 W into 4 mm"])
def test_what_is_no_rating_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_rating(text)
