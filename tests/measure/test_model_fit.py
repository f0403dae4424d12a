"""Learning from a reading: models with known truth, what cannot be known, and a reading it has not seen."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.measure.model_fit import Unknown, check_learned, distance_db, learn

F = np.geomspace(20, 500, 80)


def closed(values: np.ndarray, boost: float = 0.0) -> np.ndarray:
    """A second-order high-pass, fc and Q (Small 1972, JAES 20(10):798-808), and a shelf of cabin gain below a corner."""
    fc, q, corner = values[:3]
    s = 1j * F / fc
    gain = 1 + (corner / F) ** 2
    return (
        20 * np.log10(np.abs(s**2 / (1 + s / q + s**2))) + 10 * np.log10(gain) + boost * np.exp(-((F - 90) ** 2) / 400)
    )


UNKNOWNS = (
    Unknown("corner", 60.0, 30.0, 150.0),
    Unknown("damping", 0.7, 0.3, 2.0),
    Unknown("cabin", 60.0, 20.0, 120.0),
)
TRUTH = np.array([95.0, 1.1, 75.0])


def test_known_truth_comes_back_whatever_the_level() -> None:
    for offset in (0.0, 83.0):
        got = learn(closed, UNKNOWNS, closed(TRUTH) + offset, 0.05)
        assert got.values == pytest.approx(TRUTH, rel=0.02)
        assert got.offset_db == pytest.approx(offset, abs=0.1)
        assert got.after_db < 0.1 < got.before_db
        assert all(m.moved for m in got.unknowns)
        assert got.shift_db > 1.0


@pytest.mark.slow
def test_intervals_cover() -> None:
    """Truth drawn from the bounds, noise as stated: 95 % intervals hold it as often, or a little more."""
    rng = np.random.default_rng(4)
    inside, total = 0, 0
    for _ in range(60):
        truth = np.array([u.value(rng.uniform(0.05, 0.95)) for u in UNKNOWNS])
        got = learn(closed, UNKNOWNS, closed(truth) + rng.normal(0, 1.0, F.size), 1.0)
        for m, t in zip(got.unknowns, truth, strict=True):
            inside += m.low <= t <= m.high
            total += 1
    assert inside / total > 0.95 - 3 * np.sqrt(0.95 * 0.05 / total) - 0.02


def test_what_the_reading_does_not_move_is_said_and_left_alone() -> None:
    unknowns = (*UNKNOWNS, Unknown("leak far away", 20.0, 10.0, 40.0))
    got = learn(lambda v: closed(v[:3]), unknowns, closed(TRUTH), 0.5)
    last = got.unknowns[3]
    assert not last.moved
    assert last.narrowed == pytest.approx(1.0, abs=0.01)
    assert last.value == pytest.approx(20.0)
    assert [c.part for c in check_learned(got)] == ["leak-far-away"]


def test_a_level_is_never_learned_from() -> None:
    """An unknown that only moves the level is one with the offset."""
    unknowns = (*UNKNOWNS, Unknown("sensitivity", 0.0, -10.0, 10.0, ratio=False))
    got = learn(lambda v: closed(v[:3]) + v[3], unknowns, closed(TRUTH) + 5.0, 0.5)
    assert not got.unknowns[3].moved


def test_a_bound_is_kept_and_told() -> None:
    unknowns = (Unknown("corner", 60.0, 30.0, 80.0), *UNKNOWNS[1:])
    got = learn(closed, unknowns, closed(TRUTH), 0.2)
    assert got.values[0] <= 80.0
    assert got.unknowns[0].at_bound
    assert check_learned(got)[0].verdict == "caution"


def test_what_was_learned_before_helps_after() -> None:
    """Learned with one driver in the same door, judged on another it has not seen (Q and corner scaled alike)."""
    rng = np.random.default_rng(8)

    def after(values: np.ndarray) -> np.ndarray:
        return closed(np.array([values[0] * 0.8, values[1] * 0.7, values[2]]))

    start = np.array([u.start for u in UNKNOWNS])
    gains = []
    for _ in range(10):
        truth = np.array([u.value(rng.uniform(0.1, 0.9)) for u in UNKNOWNS])
        got = learn(closed, UNKNOWNS, closed(truth, boost=2.0) + rng.normal(0, 1, F.size), 1.5)
        unseen = after(truth) + rng.normal(0, 1, F.size)
        gains.append(distance_db(after(start), unseen) - distance_db(after(np.array(got.values)), unseen))
    assert np.mean(gains) > 0.5
    assert min(gains) > -0.6


def test_same_reading_same_answer() -> None:
    reading = closed(TRUTH) + np.random.default_rng(1).normal(0, 1, F.size)
    assert learn(closed, UNKNOWNS, reading) == learn(closed, UNKNOWNS, reading)


def test_correlated_errors_count_less() -> None:
    reading = closed(TRUTH)
    one, eight = learn(closed, UNKNOWNS, reading, 1.0), learn(closed, UNKNOWNS, reading, 1.0, correlated=8)
    assert all(a.narrowed < b.narrowed for a, b in zip(one.unknowns, eight.unknowns, strict=True))


@pytest.mark.parametrize(
    "call",
    [
        lambda: Unknown("x", 5.0, 6.0, 7.0), lambda: Unknown("x", 0.0, 0.0, 1.0), lambda: Unknown("x", 1.0, 2.0, 1.0),
        lambda: learn(closed, (), closed(TRUTH)), lambda: learn(lambda v: v, UNKNOWNS, closed(TRUTH)),
        lambda: learn(lambda v: closed(v) * np.nan, UNKNOWNS, closed(TRUTH)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(InputError):
        call()  # type: ignore[operator]
