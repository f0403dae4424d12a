"""Twins are one line and nothing is lost; the next step is what settles most a minute, and settles what it says."""

from __future__ import annotations

import pytest
from assess.test_demo import TEXT
from assess.test_waiting import SIX

from backwave.assess import Assessment, Memo, assess, check_json
from backwave.assess.next_steps import STOP_COUNTS, NextStep, grouped, next_steps, tally
from backwave.finding import ANSWERS, CODES, Check, Finding, Message, Verdict, words
from backwave.job import loads, toml_edit

MEMO = Memo()
NAMES = {"door.left": "Door, left", "door.right": "Door, right", "dash": "Dash"}


def judged(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=4_000)


@pytest.fixture(scope="module")
def demo() -> Assessment:
    return assess(loads(TEXT), MEMO)


def found(subject: str, verdict: Verdict = "caution", part: str = "", *, code: str = "fit.screw", free: float = 2.0,
          do: str = "Take a longer one", waits: tuple[str, ...] = ()) -> Finding:  # fmt: skip
    said = Message("Screw {n}: {free} short", (("n", part, ""), ("free", free, "mm")))
    return Finding(Check(code, verdict, said, free, 0.0, "mm", remedy=Message(do), part=part, waits=waits), subject)


def test_what_differs_in_side_or_number_alone_is_one_line_with_the_range_of_its_numbers() -> None:
    twins = [found("door.left", part="1"), found("door.right", part="1", free=3.0), found("door.left", part="2")]
    other = [found("dash", part="1"), found("door.left", "stop", "3"), found("door.left", part="4", do="Drill")]
    groups = grouped([*twins, *other], NAMES)
    assert [len(g.findings) for g in groups] == [1, 3, 1, 1]
    assert groups[0].check.verdict == "stop"
    one = groups[1]
    assert one.name == "Door, both sides"
    assert words(one.check.title) == "Screw 1 and 2: 2.0 mm to 3.0 mm short"
    assert one.findings[0].subject == "door.right", "the furthest from its limit first"
    assert one.check.value == 3.0
    assert set(one.ids) == {f.id for f in twins}


@pytest.mark.parametrize("text", [TEXT, SIX])
def test_no_finding_is_lost_and_none_stands_twice(text: str) -> None:
    result = judged(text)
    ids = [id_ for group in result.groups for id_ in group.ids]
    assert sorted(ids) == sorted(f.id for f in result.findings)
    assert sorted(len(ids) for ids in (set(ids),)) == [len(result.findings)]
    ranks = [("stop", "caution", "ok").index(group.check.verdict) for group in result.groups]
    assert ranks == sorted(ranks)
    assert len(result.open_groups) < len([f for f in result.findings if f.check.verdict != "ok"])
    lines = {(g.name, words(g.check.title)) for g in result.groups if g.check.verdict != "ok"}
    assert len(lines) == len([g for g in result.groups if g.check.verdict != "ok"]), "two lines that say the same"


def test_a_twin_that_waits_for_the_first_side_stands_with_it() -> None:
    group = next(g for g in judged(SIX).groups if "fit.assumed.terminals@door.left" in g.ids)
    assert group.ids == ("fit.assumed.terminals@door.left", "fit.assumed.terminals@door.right")
    assert group.name.endswith("both sides")
    assert group.is_open


def test_a_stop_counts_as_ten_cautions_and_a_gate_comes_first() -> None:
    stop = found("dash", "stop", do="Make it thinner")
    many = [
        found("door.left", code=code, do=f"Measure for {code}") for code in ("power.length", "wire.length", "fit.reach")
    ]
    gate = found("dash", part="pair", code="wire.pair", do="Confirm the lines of its gate")
    slow = found("dash", code="power.sleep", do="Wait")
    steps = next_steps([slow, *many, stop, gate], NAMES, {})
    assert [s.kind for s in steps] == ["confirm", "change", *["measure"] * 3, "measure"]
    assert [s.stops for s in steps][:2] == [0, 1]
    assert steps[-1].settles == (slow.id,)
    minutes = steps[1].minutes
    assert STOP_COUNTS / minutes > 1 / steps[2].minutes > 1 / steps[-1].minutes


def test_one_action_that_several_findings_ask_for_is_one_row() -> None:
    asked = found("dash", code="fit.reach", do="Measure the depth")
    same = found("dash", code="job.missing", do="Measure the depth")
    waits = [found("dash", part=p, code="fit.glass", do="Measure", waits=(asked.id, same.id)) for p in "abc"]
    other = found("dash", code="fit.grille", do="Measure", waits=(asked.id, "fit.hole@elsewhere"))
    (step,) = next_steps([asked, same, *waits, other], NAMES, {})
    assert set(step.settles) == {asked.id, same.id, *(f.id for f in waits)}
    assert step.waiting == 3


def test_a_clear_dummy_settles_what_its_row_says(demo: Assessment) -> None:
    step = next(s for s in demo.next_steps() if s.part)
    assert len(step.settles) >= 3
    place = next(p for p in demo.places if p.part.id == step.part)
    assert place.part.stand_in is not None
    tried = {"outcome": "clear", "travel": True, "code": place.part.stand_in.code}
    after = assess(loads(toml_edit.with_key(TEXT, f"opening.{place.subject}.stand_in", tried)), MEMO)
    still = {f.id for f in after.findings if f.check.verdict != "ok"}
    assert not still & set(step.settles)


def test_every_open_issue_but_what_is_only_worth_knowing_has_its_step(demo: Assessment) -> None:
    settled = {id_ for step in demo.next_steps() for id_ in step.settles}
    left = [g for g in demo.open_groups if not settled & set(g.ids)]
    assert {g.kind for g in left} <= {"know"}
    told = check_json(demo)["next"]
    assert [row["settles"] for row in told] == [list(step.settles) for step in demo.next_steps()]
    assert all(row["do"] and row["why"] and row["minutes"] > 0 for row in told)


def test_every_code_is_answered_by_something_known() -> None:
    assert set(ANSWERS) == set(CODES)
    assert {kind for kind, _ in ANSWERS.values()} <= {
        "",
        "confirm",
        "measure",
        "enter",
        "change",
        "print",
        "buy",
        "know",
    }
    assert all(minutes > 0 for kind, minutes in ANSWERS.values() if kind not in ("", "know"))


def test_nothing_entered_is_not_all_well() -> None:
    assert tally(()) == "nothing entered yet"
    assert tally(grouped([found("dash", "ok")], NAMES)) == "nothing open, 1 check ok"
    assert isinstance(judged('format = 1\ntitle = "x"\n').next_steps()[0], NextStep)
