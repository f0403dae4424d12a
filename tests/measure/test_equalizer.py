"""Equalizer fits on responses it has not seen, its limits, and what else is set."""

from __future__ import annotations

import time

import numpy as np
import pytest
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from measure.chain import Shape, butter, echoes, product, resonance

from backwave.acoustics import biquad, log_frequencies, smoothed
from backwave.errors import InputError
from backwave.measure.alignment import Joint, align_channels, choose_joint, settings_table, target_curve
from backwave.measure.equalizer import Equalizer, FilterLimits, _gain, check_nulls, fit_bands, fit_equalizer
from backwave.notation.crossover import Filter, parse_filter

F = log_frequencies(20.0, 20000.0, 48)
TARGET = target_curve(F)


def cabin(seed: int) -> Shape:
    rng = np.random.default_rng(seed)
    peaks = (
        resonance(
            float(np.exp(rng.uniform(np.log(50), np.log(10000)))), rng.uniform(1, 6), 10 ** (rng.uniform(-8, 8) / 20)
        )
        for _ in range(9)
    )
    late = echoes((rng.uniform(0.002, 0.01), rng.uniform(-0.35, 0.35)), (rng.uniform(0.002, 0.01), 0.25))
    return product(butter("high", 2, rng.uniform(40, 80)), *peaks, late)


def db(x: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(x))


def off_target(level: np.ndarray, fit: Equalizer) -> float:
    """By this test's own arithmetic: rms of thirds of an octave 40 Hz to 8 kHz, nulls left out, level free."""
    f = log_frequencies(40.0, 8000.0, 12)
    off = np.interp(f, F, smoothed(F, level, 3) - TARGET)
    kept = np.ones(f.size, dtype=bool)
    for n in fit.nulls:
        kept &= (f < n.low_hz * 0.98) | (f > n.high_hz * 1.02)
    off = off[kept]
    return float(np.sqrt(np.mean((off - off.mean()) ** 2)))


@pytest.mark.parametrize("seed", range(8))
def test_another_reading_comes_within_a_decibel_and_a_half(seed: int) -> None:
    """Fitted on one reading, judged on another of the same seat with its own noise (0.7 dB, third octaves apart)."""
    rng = np.random.default_rng(100 + seed)
    truth = db(cabin(seed)(F))

    def read() -> np.ndarray:
        return truth + np.interp(np.log(F), np.log(log_frequencies(20, 20000, 3)), rng.normal(0, 0.7, 29))

    fit = fit_equalizer(F, read(), TARGET, 10)
    unseen = read()
    before, after = off_target(unseen, fit), off_target(unseen + fit.gain_db(F), fit)
    assert after < 1.5
    assert after < before
    assert len(fit.filters) <= 10
    limits = FilterLimits()
    assert fit.gain_db(log_frequencies(40.0, 8000.0, 96)).max() <= limits.boost_db + 0.1
    for x in fit.filters:
        assert -limits.cut_db <= x.gain_db <= limits.boost_db
        if x.kind == "peak":
            assert x.q <= max(1.5, limits.most_q * limits.narrow_to_hz / x.f0_hz) + 1e-6
            assert limits.least_q - 0.01 <= x.q <= limits.most_q
    assert sum(max(x.gain_db, 0) for x in fit.filters) < sum(max(-x.gain_db, 0) for x in fit.filters)  # cuts preferred


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 6), st.floats(0, 6))
def test_never_worse_and_never_beyond_the_limits(seed: int, count: int, boost: float) -> None:
    """Any response, and gain that excursion leaves: none below 90 Hz, 1 dB above."""
    rng = np.random.default_rng(seed)
    level = smoothed(F, rng.normal(0, 10, F.size), 3)
    room = np.where(F < 90, 0.0, 1.0)
    fit = fit_equalizer(F, level, TARGET, count, FilterLimits(boost_db=boost), most_gain_db=room)
    assert fit.after_db <= fit.before_db + 1e-9
    grid = log_frequencies(40.0, 8000.0, 12)
    assert (fit.gain_db(grid) <= np.minimum(np.interp(grid, F, room), boost) + 0.06).all()
    assert len(fit.filters) <= count


def test_same_reading_same_settings() -> None:
    level = db(cabin(3)(F))
    assert fit_equalizer(F, level, TARGET) == fit_equalizer(F, level, TARGET)


def test_a_response_on_target_is_left_alone() -> None:
    fit = fit_equalizer(F, TARGET + 70.0, TARGET)
    assert fit.filters == ()
    assert fit.level_db == pytest.approx(70.0, abs=0.01)


def test_one_peak_is_undone_by_its_opposite() -> None:
    """Equal and opposite at the same Q is exactly flat (Audio EQ Cookbook, W3C Note 2021)."""
    fit = fit_equalizer(F, db(biquad("peak", 120.0, 6.0, 2.0).response(F)), np.zeros(F.size), 3)
    worst = max(fit.filters, key=lambda x: -x.gain_db)
    assert worst.f0_hz == pytest.approx(120.0, rel=0.03)
    assert worst.gain_db == pytest.approx(-6.0, abs=0.8)
    assert fit.after_db < 0.25


def test_a_null_is_listed_and_not_filled() -> None:
    """One reflection as strong as the sound: a comb's first null at 1/(2 t) (any acoustics text)."""
    level = db(echoes((0.004, 0.98))(F))  # 125 Hz, then 375 ...
    fit = fit_equalizer(F, level, np.zeros(F.size), 8, FilterLimits(high_hz=300.0))
    assert any(n.low_hz < 125 < n.high_hz and n.depth_db > 6 for n in fit.nulls)
    assert fit.gain_db([125.0])[0] <= 3.0
    checks = check_nulls(fit)
    assert {c.code for c in checks} == {"measure.null"}
    assert len(checks) == len(fit.nulls)


def test_where_places_differ_no_filter_is_narrow() -> None:
    fit = fit_equalizer(F, db(cabin(5)(F)), TARGET, 10, spread_db=np.full(F.size, 8.0))
    assert max(x.q for x in fit.filters) <= 1.5


def test_fixed_bands() -> None:
    """A head unit's octave bands, set in whole decibels: exactly what was put in comes back as its opposite."""
    centers = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0]
    wrong = db(biquad("peak", 250.0, 5.0, 1.4).response(F) * biquad("peak", 2000.0, 3.0, 1.4).response(F))
    fit = fit_bands(F, wrong, np.zeros(F.size), centers)
    gains = {x.f0_hz: x.gain_db for x in fit.filters}
    assert gains.get(250.0) in (-6.0, -5.0, -4.0)
    assert gains.get(2000.0) in (-4.0, -3.0, -2.0)
    assert all(g == round(g) for g in gains.values())
    assert fit.after_db < 0.6 < fit.before_db
    assert set(gains) <= set(centers)


def test_fast_enough_for_ten_filters() -> None:
    """2 s is the limit; a shared machine gets three times that here, the benchmark measures it."""
    start = time.perf_counter()
    fit_equalizer(F, db(cabin(1)(F)), TARGET, 10)
    assert time.perf_counter() - start < 6.0


def test_curve_of_the_fit_is_that_of_the_filters() -> None:
    x = np.log(F)
    for k, kind in enumerate(("peak", "low shelf", "high shelf")):
        rows = np.array([[k, np.log(300.0), -7.0, np.log(0.8)]])
        assert _gain(rows, x) == pytest.approx(db(biquad(kind, 300.0, -7.0, 0.8).response(F)), abs=1e-9)  # type: ignore[arg-type]


def test_table_in_words_and_coefficients() -> None:
    """Peaking 120 Hz Q 4 -5 dB at 48 kHz, worked out by hand from the Audio EQ Cookbook (W3C Note 2021)."""
    fit = Equalizer(
        (Filter("peak", 120.0, "", -5.0, 4.0), Filter("high-shelf", 5000.0, "", -3.0, 0.7)), 0.0, 1.0, 1.0, ()
    )
    rows = settings_table(fit)
    assert rows[0].b == pytest.approx((0.9988570902, -1.9945310729, 0.9959200735), abs=1e-9)
    assert rows[0].a == pytest.approx((1.0, -1.9945310729, 0.9947771637), abs=1e-9)
    assert [parse_filter(r.words) for r in rows] == list(fit.filters)
    for r in rows:
        w, h = scipy.signal.freqz(r.b, r.a, worN=[100.0, 120.0, 1000.0], fs=48000)
        assert db(h) == pytest.approx(db(r.filter.response(w)), abs=0.01)


def test_channels_arrive_together_and_equally_loud() -> None:
    left, right, sub = align_channels(("left", "right", "sub"), (0.0, 0.0015, 0.004), (70.0, 68.2, 75.0), (1, -1, 0))
    assert (left.delay_ms, right.delay_ms, sub.delay_ms) == pytest.approx((4.0, 2.5, 0.0))
    assert left.delay_cm == pytest.approx(4.0e-3 * 343.2 * 100)
    assert (left.gain_db, right.gain_db, sub.gain_db) == (-2.0, 0.0, -7.0)
    assert (left.invert, right.invert, sub.invert) == (False, True, False)
    with pytest.raises(InputError):
        align_channels(("a", "b"), (0.0, 0.2), (70.0, 70.0))
    with pytest.raises(InputError):
        align_channels(("a",), (0.0, 0.1), (70.0,))


def test_joint_with_the_right_polarity_and_delay_wins() -> None:
    """LR4 sums flat in polarity, LR2 inverted (Linkwitz 1976, JAES 24(1):2-8), when nothing is late."""
    flat = np.ones(F.size, dtype=complex)

    def joint(name: str, invert: bool, delay: float = 0.0) -> Joint:
        low, high = (Filter(k, 2000.0, name) for k in ("low-pass", "high-pass"))
        return Joint((low,), (high,), 2000.0, invert, delay)

    for name, invert in (("LR4", False), ("LR2", True)):
        ranked = choose_joint(F, flat, flat, [joint(name, True), joint(name, False)])
        assert ranked[0].joint.invert is invert
        assert ranked[0].sum_db == pytest.approx(np.zeros(F.size), abs=1e-6)
        assert ranked[1].worst_db < -6
    late = flat * np.exp(-2j * np.pi * F * -0.0002)  # the upper channel is nearer
    ranked = choose_joint(F, flat, late, [joint("LR4", False, d) for d in (0.0, 0.0002, 0.0004)])
    assert ranked[0].joint.delay_s == 0.0002


@pytest.mark.parametrize(
    "call",
    [
        lambda: fit_equalizer(F, TARGET, TARGET, 50), lambda: FilterLimits(low_hz=100, high_hz=50),
        lambda: fit_equalizer(F[:5], TARGET[:5], TARGET[:5]), lambda: fit_bands(F, TARGET, TARGET, []),
        lambda: target_curve(F, [(100.0, 0.0), (50.0, 0.0)]), lambda: choose_joint(F, F, F, []),
        lambda: fit_equalizer(F, TARGET, TARGET, 3, most_gain_db=np.full(F.size, -1.0)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
