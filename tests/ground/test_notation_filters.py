"""Filters as written: the words, and that they mean what `acoustics` computes (checked there against the cookbook)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave import acoustics
from backwave.errors import InputError
from backwave.notation.crossover import Filter, parse_filter, write_filter

F = np.geomspace(20.0, 20_000.0, 50)


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("high-pass 80 Hz LR4", acoustics.crossover(F, "high-pass", "LR4", 80.0)),
        ("low-pass 2.5 kHz BW3", acoustics.crossover(F, "low-pass", "BW3", 2500.0)),
        ("high-pass 60 Hz Q 1.1", acoustics.high_pass(60.0, 1.1).response(F)),
        ("peak 160 Hz -3 dB Q 2", acoustics.peak(160.0, -3.0, 2.0).response(F)),
        ("peak 160 Hz \u22123 dB Q 2", acoustics.peak(160.0, -3.0, 2.0).response(F)),
        ("low-shelf 100 Hz +3,5 dB S 0.9", acoustics.low_shelf(100.0, 3.5, acoustics.shelf_q(0.9, 3.5)).response(F)),
        ("high-shelf 6 kHz -2 dB Q 0.7", acoustics.high_shelf(6000.0, -2.0, 0.7).response(F)),
        ("all-pass 120 Hz Q 0.7", acoustics.all_pass(120.0, 0.7).response(F)),
    ],
)
def test_the_words_mean_the_filter(text: str, same: np.ndarray) -> None:
    np.testing.assert_allclose(parse_filter(text).response(F), same, rtol=1e-12)


@pytest.mark.parametrize(
    ("text", "accepted"),
    [
        ("high-pass 80 Hz", "LR4"), ("high-pass 80 Hz LR3", "LR6"), ("high-pass 80 Hz -3 dB LR4", "alignment"),
        ("peak 100 Hz Q 1", "gain"), ("peak 100 Hz -3 dB", "Q"), ("all-pass 100 Hz BW2", "Q"), ("notch 50 Hz", "peak"),
        ("low-shelf 100 Hz +3 dB", "slope"), ("peak 100 Hz -3 dB Q 0", "0.0001 to 10000"), ("peak 0 Hz -3 dB Q 1", "above 0"),
    ],
)  # fmt: skip
def test_what_is_no_filter_says_what_would_be(text: str, accepted: str) -> None:
    with pytest.raises(InputError) as error:
        parse_filter(text)
    assert accepted in str(error.value)


@given(
    st.sampled_from(["peak", "low-shelf", "high-shelf"]), st.floats(15, 18_000), st.floats(-12, 12), st.floats(0.3, 8)
)
def test_written_and_read_again(kind: str, f0: float, gain: float, q: float) -> None:
    made = Filter(kind, f0, "", gain, q)
    again = parse_filter(write_filter(made))
    assert again.f0_hz == pytest.approx(f0, abs=0.0501)  # half a tenth, and what floats make of it
    assert (again.kind, again.gain_db, again.q) == (kind, pytest.approx(gain, abs=0.05), pytest.approx(q, rel=1e-3))
