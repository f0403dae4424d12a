"""Nothing that cannot be mounted is called ok, and what can be mounted is not called anything else."""

from __future__ import annotations

import re
from functools import cache

import pytest
from assess.unmountable import CASES, NOTHING, Case, Edit, edited

from backwave.assess import Assessment, Memo, assess
from backwave.errors import JobError
from backwave.finding import words
from backwave.job import loads
from tests.remedies_work import faults, not_ok

MEMO = Memo()


EDIT = re.compile(
    r"\((bore|recess|threads|turn|thickness|notch|foam\.\w+)\)|[Mm]ake the bore|(thicker|thinner) adapter"
)


@cache
def judged(edits: tuple[Edit, ...]) -> Assessment:
    return assess(loads(edited(edits)), MEMO, draws=2_000)


def found(edits: tuple[Edit, ...]) -> dict[str, str]:
    """What is not ok, by id."""
    return not_ok(judged(edits))


def test_there_are_enough_of_them() -> None:
    assert len(CASES) >= 40
    assert len({case.kind for case in CASES}) >= 15
    assert len({case.bad for case in CASES}) == len(CASES)


def test_the_door_they_start_from_is_sound() -> None:
    assert found(NOTHING) == {}


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind}: {case.why}")
def test_what_cannot_be_mounted_is_told_by_its_code(case: Case) -> None:
    wrong = found(case.bad)
    assert [code for code, verdict in wrong.items() if code.startswith(case.code) and verdict == case.verdict], wrong


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind}: {case.why}")
def test_every_change_that_is_offered_helps_and_no_other_is_named(case: Case) -> None:
    before = judged(case.bad)
    assert faults(before, edited(case.bad), MEMO, 2_000)[1] == []
    for f in before.open_findings:
        place = next((p for p in before.places if p.subject == f.subject), None)
        if place is not None and f.check.remedy is not None and EDIT.search(words(f.check.remedy)):
            assert [one for one in place.remedies if f.check.name in one.lifts], words(f.check.remedy)


@pytest.mark.parametrize("case", [c for c in CASES if c.good], ids=lambda case: f"{case.kind}: {case.why}")
def test_its_sound_twin_has_no_finding(case: Case) -> None:
    # A sheet that must not be laser cut is told of every such sheet.
    assert {code for code in found(case.good) if not code.startswith("part.laser")} == set()


@pytest.mark.parametrize("limit", ["0 mm", "1 mm", "5.4 mm"])
def test_a_cone_that_can_go_less_far_than_it_goes_is_refused(limit: str) -> None:
    text = edited((('Xmech = "9 mm"', f'Xmech = "{limit}"'),))
    with pytest.raises(JobError, match=r"(?s)Xmech.*5\.5 mm \(Xmax\) or more"):
        loads(text)
    assert loads(edited((('Xmech = "9 mm"', 'Xmech = "5.5 mm"'),)))
