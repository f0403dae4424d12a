"""Several readings become one: repeatability, places, distortion at one level."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.acoustics import log_frequencies
from backwave.errors import InputError
from backwave.measure.analysis import Distortion
from backwave.measure.averaging import PRIOR_DOF, REPEAT_DB, One, gather, match_distortion, pooled

F = log_frequencies(20.0, 20000.0, 48)


def one(level: float = 80.0, tilt: float = 0.0, **more: object) -> One:
    return One(F, level + tilt * np.log2(F / 1000), **more)  # type: ignore[arg-type]


def drive(thd_db: float) -> Distortion:
    f = log_frequencies(20.0, 2000.0, 12)
    levels = np.full((4, f.size), -120.0)
    levels[0] = thd_db
    return Distortion(f, (2, 3, 4, 5), levels, np.full((4, f.size), -150.0), np.full(f.size, thd_db))


def test_scatter_of_repeats_is_pooled_with_what_is_usual() -> None:
    """Worked by hand: (3 x 1^2 + 2)/(3 + 1) and the square root (pooled variance, JCGM 100:2008, 4.2.4 note and H.3)."""
    assert pooled([[4.0, 6.0]], 1.0) == pytest.approx(np.sqrt((PRIOR_DOF + 2.0) / (PRIOR_DOF + 1)))
    assert pooled([[4.0]], 1.0) == 1.0  # one reading says nothing of its own scatter
    draws = np.random.default_rng(1).normal(0, 2.0, 5000)
    assert pooled([draws.tolist()], 1.0) == pytest.approx(2.0, rel=0.05)  # many outweigh it


def test_repeats_and_places() -> None:
    made = gather([one(place="a"), one(place="a"), one(place="b")])
    assert (made.takes, made.places, made.repeats) == (3, 2, 1)
    for u in made.u_db.values():
        assert 0 < u < REPEAT_DB  # three readings know a band better than one
    assert gather([one()]).u_db["mid-bass"] == pytest.approx(REPEAT_DB)
    with pytest.raises(InputError, match="one or more"):
        gather([])
    with pytest.raises(InputError, match="octave"):
        gather([one(), One(F[:40], np.zeros(40)), One(F[-40:], np.zeros(40))])


def test_levels_are_free_unless_all_are_calibrated() -> None:
    """Two recorders 20 dB apart show one curve; two calibrated ones the mean of their powers (definition)."""
    free = gather([one(60.0, 1.0), one(80.0, 1.0)])
    np.testing.assert_allclose(free.level_db, one(60.0, 1.0).level_db, atol=1e-6)
    np.testing.assert_allclose(free.spread_db, 0.0, atol=1e-6)
    told = gather([one(60.0, calibrated=True, place="a"), one(80.0, calibrated=True, place="b")])
    np.testing.assert_allclose(told.level_db, 10 * np.log10((1e6 + 1e8) / 2), atol=1e-6)


def test_distortion_is_compared_at_one_level_and_only_there() -> None:
    """A second harmonic rises by a decibel for each decibel (a square law): 80 dB against 86 dB differ by 6."""
    quiet = [one(80.0, calibrated=True, distortion=drive(-40.0), sweep_db=-18.0),
             one(86.0, calibrated=True, distortion=drive(-34.0), sweep_db=-12.0)]  # fmt: skip
    loud = [one(83.0, calibrated=True, distortion=drive(-37.0), sweep_db=-18.0),
            one(89.0, calibrated=True, distortion=drive(-31.0), sweep_db=-12.0)]  # fmt: skip
    rows = {row.name: row for row in match_distortion(quiet, loud)}
    row = rows["mid-bass"]
    assert row.at_db == pytest.approx(86.0, abs=0.01)
    assert row.before_db == pytest.approx(-34.0, abs=0.05)
    assert row.after_db == pytest.approx(-34.0, abs=0.05)
    assert not row.real  # the same driver, louder
    worse = [one(86.0, calibrated=True, distortion=drive(-20.0), sweep_db=-12.0)]
    assert {r.name: r.real for r in match_distortion(quiet, worse)}["mid-bass"]
    unknown = match_distortion([one(distortion=drive(-40.0))], [one(distortion=drive(-20.0))])
    assert all(r.at_db is None and not r.real for r in unknown)  # nobody knows the levels: never called real
    assert match_distortion([one()], [one(distortion=drive(-20.0))]) == ()
