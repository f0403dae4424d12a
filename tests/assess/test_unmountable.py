"""Nothing that cannot be mounted is called ok, and what can be mounted is not called anything else."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from typing import Any

import pytest
from assess.unmountable import CASES, NOTHING, Case, Edit, edited
from tomli_w import dumps

from backwave.assess import Assessment, Memo, assess
from backwave.errors import JobError
from backwave.finding import words
from backwave.job import loads

MEMO = Memo()


RANKS = ("ok", "caution", "stop")
EDIT = re.compile(
    r"\((bore|recess|threads|turn|thickness|notch|foam\.\w+)\)|[Mm]ake the bore|(thicker|thinner) adapter"
)


@cache
def judged(edits: tuple[Edit, ...]) -> Assessment:
    return assess(loads(edited(edits)), MEMO, draws=2_000)


def found(edits: tuple[Edit, ...]) -> dict[str, str]:
    """What is not ok, by id."""
    return not_ok(judged(edits))


def not_ok(result: Assessment) -> dict[str, str]:
    return {f.id: f.check.verdict for f in result.findings if f.check.verdict != "ok"}


def with_change(text: str, key: str, value: str) -> str:
    """The job with one change written into its part's table, as a person would."""
    table: dict[str, Any] = tomllib.loads(text)
    held = table["adapter"][0]
    if key.startswith("foam."):
        held, key = held.setdefault("foam", {}), key.removeprefix("foam.")
        if key in ("grooved", "back"):
            held.pop("closed", None)
    held.pop(key, None)
    if value:
        held[key] = tomllib.loads(f"x = {value}")["x"] if value[0] == "{" or value == "true" else value
    return dumps(table)


def proven(before: Assessment, text: str) -> int:
    """Every change that is offered, made: what it is offered for is better, and nothing that was none is a stop."""
    was, count = not_ok(before), 0
    for place in before.places:
        for one in place.remedies:
            if not one.key:
                continue
            after = assess(loads(with_change(text, one.key, one.value)), MEMO, draws=2_000, whole=False)
            now, held = not_ok(after), {f.id: f.check.value for f in after.findings}
            count += 1
            for name, left in zip(one.lifts, one.left, strict=True):
                at = f"{name}@{place.subject}"
                told = None if left is None else left[0]  # of the finding that it stands under, and of no other
                assert told == pytest.approx(held.get(at), abs=0.05), (one, at)
                assert RANKS.index(now.get(at, "ok")) < RANKS.index(was[at]), (one, now)
            at = f"@{place.subject}"
            new = {i for i, v in now.items() if v == "stop" and was.get(i) != "stop" and i.endswith(at)}
            assert not new, (one, new)
    return count


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
    proven(before, edited(case.bad))
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
