"""Where a loudspeaker breaks up, and distortion compared at one level."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.measure.analysis import Distortion, check_overload, matched, onset_db, overload_ranges

F = np.array([30.0, 40.0, 60.0, 80.0, 120.0, 200.0])


def row(*thd: float) -> Distortion:
    values = np.array(thd)
    return Distortion(F, (2, 3), np.stack([values, values - 200]), np.full((2, F.size), -70.0), values)


def test_stretches_above_the_limit() -> None:
    found = overload_ranges(row(-10, -15, -25, np.nan, -19, -40))
    assert found == ((30.0, 40.0, -10.0), (120.0, 120.0, -19.0))
    assert overload_ranges(row(*[-30.0] * 6)) == ()


def test_level_at_which_it_breaks_up() -> None:
    """Third-order distortion rises 2 dB a decibel (x^3 against x): -40 dB at 60 dB reaches -20 dB at 70."""
    rows = [
        row(*(base + 2 * (level - 60) for base in (-40, -30, -60, -200, -10, np.nan))) for level in (60, 66, 72, 78)
    ]
    got = onset_db([60.0, 66.0, 72.0, 78.0], rows)
    assert got[:2] == pytest.approx([70.0, 65.0])
    assert np.isnan(got[[2, 3, 5]]).all()  # -60 dB at 60 dB is -24 dB at 78: not reached, and not extrapolated
    assert got[4] == 60.0
    with pytest.raises(InputError):
        onset_db([60.0], rows[:1])


def test_distortion_is_compared_at_one_level_and_not_beyond() -> None:
    assert matched([70.0, 80.0], [-50.0, -30.0], 75.0) == pytest.approx(-40.0)
    with pytest.raises(InputError):
        matched([70.0, 80.0], [-50.0, -30.0], 90.0)


def test_where_it_breaks_up_is_said_and_what_to_do() -> None:
    f = np.array([30.0, 40.0, 50.0, 60.0, 70.0])
    empty = np.zeros((0, 5))
    rows = check_overload("left", Distortion(f, (), empty, empty, np.array([-30.0, -14.0, -10.0, -25.0, -19.0])))
    assert [(c.verdict, c.part) for c in rows] == [("caution", "left-40-hz"), ("caution", "left-70-hz")]
    assert rows[0].value == pytest.approx(100 * 10**-0.5)  # -10 dB is 31.6 % (definition)
    assert all(c.remedy for c in rows)
    (fine,) = check_overload("left", Distortion(f, (), empty, empty, np.full(5, -40.0)))
    assert (fine.verdict, fine.value) == ("ok", pytest.approx(1.0))
    assert check_overload("left", Distortion(f, (), empty, empty, np.full(5, np.nan))) == ()
