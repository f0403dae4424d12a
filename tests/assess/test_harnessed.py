"""The harness of a job: from its last stage, with named wires, crossed wires caught, unknown pins named."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backwave.assess import Assessment, Memo, assess
from backwave.assess.harnessed import harness_json, harness_view
from backwave.drawing import harness_sheet, overlaps
from backwave.job import loads

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
MEMO = Memo()


def assessed(wires: str = "") -> Assessment:
    return assess(loads(TEXT + wires), MEMO, draws=500)


def test_the_demo_is_wired_by_its_last_stage() -> None:
    made = assessed().harness
    assert made is not None
    document = harness_json(made)
    json.dumps(document, allow_nan=False)
    ends = {(w["from"], w["to"]) for w in document["wires"]}
    # two crossovers of two ways, one for each side, and a subwoofer without one: 2 x (2 + 4) + 2 wires
    assert len(document["wires"]) == 14
    assert ("amp.1+", "crossover-left.in+") in ends
    assert ("crossover-left.woofer+", "front-door-left.+") in ends
    assert ("bass-amp.1+", "under-seat.+") in ends
    doors = [w for w in document["wires"] if "front-door" in w["to"]]
    assert all(w["boot"] for w in doors)  # the hinge boot is the worst hour
    assert len(document["labels"]) == 28
    assert overlaps(harness_sheet(harness_view(made, "Demo"))) == []
    assert [f.id for f in made.findings if f.check.verdict != "ok"] == ["wire.length@harness"]


def test_nobody_who_has_not_begun_is_asked_for_lengths() -> None:
    assert not [f for f in assessed().findings if f.subject == "harness"]
    begun = assessed(
        '\n[[wire]]\nid = "w3"\nfrom = "crossover-left.woofer+"\nto = "front-door-left.+"\ncolor = "GY/RD"\nlength = "1.2 m"\n'
    )
    assert "wire.length@harness" in [f.id for f in begun.findings]
    assert begun.harness is not None
    row = next(w for w in harness_json(begun.harness)["wires"] if w["from"] == "crossover-left.woofer+")
    assert (row["length_m"], row["color"], row["guessed"]) == (1.2, "GY/RD", False)


def test_a_crossed_pair_is_caught() -> None:
    crossed = "".join(
        f'\n[[wire]]\nid = "x{k}"\nfrom = "crossover-left.woofer{a}"\nto = "front-door-left.{b}"\n'
        for k, (a, b) in enumerate((("+", "-"), ("-", "+")))
    )
    found = [f for f in assessed(crossed).findings if f.check.code == "wire.polarity" and f.check.verdict != "ok"]
    assert found
    assert found[0].check.remedy is not None


@pytest.mark.parametrize(
    ("wire", "words"),
    [
        ('from = "crossover-left.wofer+"\nto = "front-door-left.+"', "wofer"),
        ('from = "crossover-left.woofer+"\nto = "front-door-left.+"\ncolor = "QQ"', "QQ"),
    ],
)
def test_unknown_pins_and_colors_are_named(wire: str, words: str) -> None:
    result = assessed(f'\n[[wire]]\nid = "w"\n{wire}\n')
    (found,) = [f for f in result.findings if f.id == "wire.open.given@harness"]
    assert words in str(found.check.title.quantities)
    assert result.harness is None
    assert result.wires is not None  # all else stands
