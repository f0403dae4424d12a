"""What is shown at once after an edit: by first order, close to what is drawn, and never said to be better."""

from __future__ import annotations

from functools import reduce
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from bench.conftest import demo

from backwave.assess import Memo, assess, provisional
from backwave.bench.page_frame import overall
from backwave.fit.clearance import Model
from backwave.fit.coverage import between_readings
from backwave.job import Session, loads
from backwave.uncertainty import Error, Reading, drawn, first_order, sensitivities
from tests.random_doors import random_door, written

EDITS = ((("adapter", 0, "thickness"), "12.0 mm"), (("opening", 0, "trim", "clear"), "35.5 mm"))


@pytest.mark.parametrize(("key", "value"), EDITS)
def test_its_intervals_are_those_of_the_draws_within_their_tolerance(
    tmp_path: Path, key: tuple[str | int, ...], value: str
) -> None:
    """JCGM 101:2008, 8.1: ends to half of the last of two digits of u would be 0.005 mm; a third of u is asked."""
    session, memo = Session(demo(tmp_path / "job")), Memo()
    before = assess(session.job, memo)
    assert session.set(key, value) == ()
    at_once, after = provisional(session.job, before, memo), provisional(session.job, before, memo, at_once=False)
    assert at_once.preliminary
    assert not after.preliminary
    assert [place.preliminary for place in at_once.places] == [True, key[0] == "adapter", False]
    assert overall(at_once) in ("checking", "stop")
    for soon, late in zip(at_once.places, after.places):
        shift = soon.seat_height_mm - late.seat_height_mm  # the thickness is chosen anew afterwards
        for a, b in zip(soon.fit.clearances, late.fit.clearances):
            assert a.name == b.name
            moved = 0.0 if a.code == "fit.hole" else a.rises * shift
            assert a.estimate.value - moved == pytest.approx(
                b.estimate.value, abs=1e-6 if a.code != "fit.hole" else 1.0
            )
            if a.code != "fit.hole" or not shift:
                assert a.estimate.low - moved == pytest.approx(b.estimate.low, abs=b.estimate.u / 3.0)
                assert a.estimate.low - moved < b.estimate.low + 0.1


def test_play_about_its_middle_counts_at_a_kink() -> None:
    """The distance of two normal coordinates is Rayleigh's: its 97.5 % point lies at 2.716 of their u."""
    x, y = (Reading(name, 0.0, (Error(name, "normal", 0.2),)) for name in ("x", "y"))
    model = lambda look: np.atleast_2d(-np.hypot(look(x), look(y)))  # noqa: E731
    for kinks, wanted in ((False, 0.0), (True, 0.2 * sqrt(2.0))):
        _, slopes = sensitivities(model, (x, y), kinks=kinks)
        assert float(first_order((x, y), slopes[0])) == pytest.approx(wanted, abs=1e-6)
    assert 1.96 * 0.2 * sqrt(2.0) == pytest.approx(0.2 * sqrt(-2.0 * np.log(0.025)), rel=0.03)


@pytest.mark.parametrize("seed", [200, 204, 211])
def test_what_cannot_be_nearest_is_left_out_of_the_draws_and_of_nothing_else(seed: int) -> None:
    rng = np.random.default_rng(seed)
    place = assess(loads(written(random_door(rng), rng)), Memo(), draws=500, whole=False).places[0]
    tails = place.screws.tails(place.opening_id)
    model = Model(between_readings(place.opening), place.driver, place.stack, place.margins, place.turn_deg, tails)
    for look in (drawn(4_000), drawn(500, seed=1)):
        whole = [reduce(np.fmin, (values for _, values in term.candidates(look))) for term in model.terms()]
        fewer = sum(1 for term in model.terms() for _ in term.candidates(look, least=True))
        assert fewer < 0.7 * sum(1 for term in model.terms() for _ in term.candidates(look))
        assert np.array_equal(model(look), np.stack(np.broadcast_arrays(*(np.atleast_1d(row) for row in whole))))
