"""A surface between two readings: on their line but for a bow, with the errors it shares with them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backwave.fit.coverage import between_readings
from backwave.uncertainty import drawn
from tests.fit.shop import obstacle, opening


def test_a_surface_is_on_the_line_but_for_a_bow_that_both_thirds_share() -> None:
    read = obstacle([(0.0, 58.0), (60.0, 55.0), (70.0, 54.0)], 1.0)
    spots = between_readings(replace(opening(), behind=(read,))).behind[0].spots
    assert [s.radius.value for s in spots] == [0.0, 20.0, 40.0, 60.0, 70.0]  # none between 60 and 70: too near
    assert [s.clear.value for s in spots] == pytest.approx([58.0, 57.0, 56.0, 55.0, 54.0])
    look = drawn(4000)
    first, third, two_thirds, last = (look(s.clear) for s in spots[:4])
    bow = third - (2.0 * first + last) / 3.0
    assert np.abs(bow).max() == pytest.approx(0.6, abs=0.001)  # one hundredth of 60 mm
    assert two_thirds - (first + 2.0 * last) / 3.0 == pytest.approx(bow)


def test_one_gauge_still_errs_once() -> None:
    read = obstacle([(0.0, 58.0), (60.0, 55.0)], 1.0)
    shared = replace(read, spots=tuple(replace(s, clear=replace(s.clear, errors=tuple(
        replace(e, name="gauge") for e in s.clear.errors))) for s in read.spots))  # fmt: skip
    third = between_readings(replace(opening(), behind=(shared,))).behind[0].spots[1].clear
    assert {e.name: e.size for e in third.errors}["gauge"] == pytest.approx(1.0)
