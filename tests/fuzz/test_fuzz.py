"""Job files that nobody would write: each is a job or a problem with its line; each job gets a verdict.

`python -m benchmarks fuzz` does the same for as many as there is time for, each in a process that may be stopped.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fuzz.mutators import DEMO, bases, dims, mutated
from fuzz.trial import Outcome, tried_load, tried_whole

LOADS = 600
CHECKS = 32
PARTS = 4  # so that workers share them


def failures(seeds: range, trial: Callable[[int], Outcome]) -> tuple[list[str], set[str]]:
    outcomes = {seed: trial(seed) for seed in seeds}
    bad = [f"seed {seed}: {o.kind} ({o.seconds:.1f} s) {o.words}" for seed, o in outcomes.items() if not o.fine]
    return bad, {o.kind for o in outcomes.values()}


@pytest.mark.parametrize("part", range(PARTS))
def test_a_job_file_is_read_or_refused_in_words(part: int) -> None:
    bad, kinds = failures(range(part, LOADS, PARTS), lambda seed: tried_load(mutated(seed))[0])
    assert not bad, "\n".join(bad)
    assert kinds == {"job", "JobError"}


@pytest.mark.parametrize("part", range(PARTS))
def test_what_is_read_gets_a_verdict(part: int) -> None:
    bad, kinds = failures(
        range(part, CHECKS, PARTS), lambda seed: tried_whole(mutated(seed, near=True), DEMO, drawn=seed % 5 == 0)
    )
    assert not bad, "\n".join(bad)
    assert "verdict" in kinds


def test_the_mutators_reach_every_key_and_are_the_same_each_time() -> None:
    assert len(dims()) > 150
    assert mutated(7) == mutated(7)
    assert len({mutated(seed) for seed in range(50)} - set(bases())) > 40


def test_a_fault_is_seen() -> None:
    class Broken(str):
        __slots__ = ()

        def removeprefix(self, *_: object) -> str:  # type: ignore[override]
            raise ZeroDivisionError("planted")

    assert tried_load(Broken("format = 1"))[0].kind.startswith("ZeroDivisionError")
