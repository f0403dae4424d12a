"""A hundred random installations judged by the room and by a walk of its own; the score is shown able to fall."""

from __future__ import annotations

import pytest

from tests.power.random_supply import score


def test_a_hundred_installations_are_judged_as_by_the_own_walk() -> None:
    """Twenty thousand: python -m benchmarks supply 20000."""
    counted, wrong = score(14, 100)
    assert not wrong, (len(wrong), wrong[:3])
    assert counted["conductors"] > 300
    assert counted["fuses"] > 100
    assert counted["of several sources"] > 200
    assert counted["sound"] == 50
    assert counted["sound with a stop"] == 0
    assert counted["sound with a caution"] <= 1


def test_the_score_falls_when_a_fuse_that_is_not_fitted_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mistake that was: the rating of every fuse before a cable, whether it is there or not."""
    monkeypatch.setattr("backwave.power.protection.SHORT_TIME_K", 500.0)
    monkeypatch.setattr("backwave.power.protection.through_a", lambda made: {c.id: 5.0 for c in made.conductors})
    _, wrong = score(14, 12)
    assert wrong
