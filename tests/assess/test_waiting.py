"""One number that nobody read is one question, and what waits for it is still no more than a caution."""

from __future__ import annotations

import pytest
from assess.unmountable import NOTHING, Edit, edited

from backwave.assess import Assessment, Memo, assess, check_json
from backwave.finding import words
from backwave.job import loads

MEMO = Memo()
SIX = """
format = 1
title = "Six"
[[opening]]
id = "door"
sides = ["left", "right"]
zone = "door"
hole = { diameter = "143.5 mm" }
behind = [{ radius = "0 mm", clear = "41 mm", what = "glass", window = "down" }]
trim = { clear = "62.5 mm" }
[[speaker]]
id = "woofer"
cutout = "138 mm"
magnet = "95 mm"
depth = "55 mm"
[[adapter]]
opening = "door"
speaker = "woofer"
material = "ASA"
"""


def judged(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=4_000)


def test_six_readings_ask_for_each_number_once() -> None:
    result = judged(SIX)
    asked = [f.id for f in result.open_findings]
    assert not [f for f in result.findings if f.check.verdict == "stop"]
    assert len(asked) <= 9
    assert asked.count("fit.assumed.terminals@door.left") == 1
    assert not [one for one in asked if one.startswith(("fit.grille", "fit.hole", "fit.glass", "fit.read-once"))]
    assert "fit.assumed.rim@door.left" in asked
    said = {f.id: words(f.check.title) for f in result.open_findings}
    assert "the hole's edge" in said["fit.assumed.terminals@door.left"]
    assert "the grille" in said["fit.assumed.front@door.left"]
    assert "the glass" in said["fit.coverage.up-half@door.left"]
    assert "the foam ring" in said["fit.assumed.rim@door.left"]


def test_what_waits_keeps_value_chance_and_caution_and_names_a_question_that_is_open() -> None:
    result = judged(SIX)
    open_ids = {f.id for f in result.open_findings}
    assert result.waiting
    for f in result.waiting:
        assert f.check.verdict == "caution"
        assert set(f.check.waits) <= open_ids
    grille = next(f for f in result.findings if f.id == "fit.grille@door.left")
    assert grille.check.verdict == "caution"
    assert grille.check.value is not None
    assert grille.check.chance is not None
    told = {f["id"]: f for f in check_json(result)["findings"]}
    assert told["fit.grille@door.left"]["waits_for"] == ["fit.assumed.front@door.left"]


@pytest.mark.parametrize(
    ("answer", "gone"),
    [
        ('front = "9 mm"', "fit.assumed.front"),
        ('rim = "5 mm"', "fit.assumed.rim"),
        ('motor = { Xmech = "9 mm" }', "fit.assumed.motor.Xmech"),
        ('terminals = { angle = "225 deg", width = "34 mm", radius = "60 mm", depth = "26 mm", start = "9 mm" }',
         "fit.assumed.terminals"),
    ],
)  # fmt: skip
def test_an_answer_takes_its_question_away(answer: str, gone: str) -> None:
    before, after = judged(SIX), judged(SIX.replace('depth = "55 mm"', f'depth = "55 mm"\n{answer}'))
    assert [f for f in before.findings if f.check.name == gone and f.check.verdict == "caution"]
    assert not [f for f in after.findings if f.check.name == gone and f.check.verdict != "ok"]
    assert not [f for f in after.findings if any(one.startswith(f"{gone}@") for one in f.check.waits)]


def test_a_stop_waits_for_nothing() -> None:
    result = judged(SIX.replace('"41 mm"', '"20 mm"').replace('"62.5 mm"', '"20 mm"'))
    stops = [f for f in result.findings if f.check.verdict == "stop"]
    assert stops
    assert not [f for f in stops if f.check.waits]
    assert set(stops) <= set(result.open_findings)


def test_a_side_read_by_itself_asks_for_itself() -> None:
    own = 'sides = ["left", "right"]'
    read = '{ radius = "0 mm", clear = "44 mm", what = "glass", window = "down" }'
    result = judged(SIX.replace(own, f"{own}\nright = {{ behind = [{read}] }}"))
    asked = {f.id for f in result.open_findings}
    assert {"fit.coverage.up-half@door.left", "fit.coverage.up-half@door.right"} <= asked
    assert "fit.assumed.terminals@door.right" not in asked


CASES: dict[str, tuple[Edit, ...]] = {
    "fit.assumed.rim": (('rim       = "5.2 mm"\n', ""),),
    "fit.flat.inner": (('land = "32 mm", grille = "150 mm"', 'land = "32 mm"'),),
}


@pytest.mark.parametrize("code", CASES)
def test_a_rim_or_the_flats_edge_that_nobody_entered_is_asked_for(code: str) -> None:
    found = {f.check.name: f.check for f in judged(edited(CASES[code])).open_findings}
    assert found[code].verdict == "caution"
    assert found[code].remedy is not None
    assert not judged(edited(NOTHING)).open_findings


def test_a_cone_that_stays_below_the_flat_wherever_it_begins_asks_nothing() -> None:
    near = judged(
        edited((*CASES["fit.flat.inner"], ('land = "32 mm"', 'land = "44 mm"'), ('ring = "auto"', 'ring = "none"')))
    )
    assert not [f for f in near.findings if f.check.code == "fit.flat" and f.check.verdict != "ok"]
