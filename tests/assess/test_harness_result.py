"""The harness of a job: from its last stage, with named wires, crossed wires caught, unknown pins and colors refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backwave.assess import Assessment, Memo, assess
from backwave.assess.power.results import harness_json
from backwave.drawing.harness import harness_sheet
from backwave.drawing.sheet import overlaps
from backwave.errors import JobError
from backwave.job import loads

TEXT = (Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml").read_text(encoding="utf-8")
BEGUN = TEXT.index("# ---- the factory's wires")
READ = TEXT.index("# ---- what was recorded at the seat")
BARE = TEXT[:BEGUN] + TEXT[READ:]
"""The demo before anybody looked at its wires."""
MEMO = Memo()


def assessed(text: str) -> Assessment:
    return assess(loads(text), MEMO, draws=500)


def wire(**keys: str) -> str:
    return "\n[[wire]]\n" + "".join(f'{key.rstrip("_")} = "{value}"\n' for key, value in keys.items())


def test_the_bare_paths_give_every_wire() -> None:
    made = assessed(BARE).harness
    assert made is not None
    document = harness_json(made)
    json.dumps(document, allow_nan=False)
    ends = {(w["from"], w["to"]) for w in document["wires"]}
    # two crossovers of two ways, one a side, and a subwoofer without one: 2 x (2 + 4) + 2 wires;
    # supply, ground and turn-on of two amplifiers, and the feed of their block: 2 x 3 + 1
    assert len(document["wires"]) == 14 + 7
    assert ("amp.1+", "crossover-left.in+") in ends
    assert ("crossover-left.woofer+", "front-door-left.+") in ends
    assert ("bass-amp.1+", "under-seat.+") in ends
    doors = [w for w in document["wires"] if "front-door" in w["to"]]
    assert all(w["boot"] for w in doors)  # the hinge boot is the worst hour
    assert len(document["labels"]) == 2 * len(document["wires"])
    assert overlaps(harness_sheet(made, "Demo")) == []


def test_nobody_who_has_not_begun_is_asked_for_lengths() -> None:
    assert not [f for f in assessed(BARE).findings if f.check.code.startswith("wire.")]
    row = wire(id="w3", from_="crossover-left.woofer+", to="front-door-left.+", color="GY/RD", length="1.2 m")
    begun = assessed(BARE + row)
    assert "wire.length@harness" in [f.id for f in begun.findings]
    assert begun.harness is not None
    said = {w["from"]: w for w in harness_json(begun.harness)["wires"]}
    row_made = said["crossover-left.woofer+"]
    assert (row_made["length_m"], row_made["color"], row_made["guessed"]) == (1.2, "GY/RD", False)
    assert said["crossover-left.woofer-"]["length_m"] == 1.2  # its twin runs beside it
    assert said["crossover-left.woofer-"]["color"] is None


def test_a_crossed_pair_is_caught() -> None:
    crossed = "".join(
        wire(id=f"x{k}", from_=f"crossover-left.woofer{a}", to=f"front-door-left.{b}")
        for k, (a, b) in enumerate((("+", "-"), ("-", "+")))
    )
    findings = assessed(BARE + crossed).findings
    found = [f for f in findings if f.check.code == "wire.polarity" and f.check.verdict != "ok"]
    assert found
    assert found[0].check.remedy is not None


def test_unknown_pins_are_refused_all_at_once_with_their_lines() -> None:
    """JOB-FILE: what is no pin is an error with line, key, found, accepted and the nearest; so it is not a finding."""
    text = BARE + wire(id="w", from_="crossover-left.wofer+", to="front-door-left.+")
    text += wire(id="v", from_="crossover-left.woofer-", to="front-dor-left.-")
    with pytest.raises(JobError) as error:
        assessed(text)
    lines = text.split("\n")
    found = {p.found: p for p in error.value.problems}
    assert set(found) == {"crossover-left.wofer+", "front-dor-left.-"}
    for said, problem in found.items():
        assert said in lines[(problem.line or 0) - 1]
    assert found["crossover-left.wofer+"].nearest == "crossover-left.woofer+"
    assert "crossover-left.tweeter+" in found["crossover-left.wofer+"].accepted
    assert "front-door-left.-" in found["front-dor-left.-"].accepted + found["front-dor-left.-"].nearest


def test_unknown_colors_are_refused_at_load() -> None:
    """The list of IEC 60757 is closed: a color outside it is bad input wherever a color stands, all of them at once."""
    text = BARE + wire(id="w", from_="a.1", to="b.2", color="QQ") + wire(id="v", from_="a.1", to="b.2", color="ornge")
    text += '\n[[plug]]\nid = "p"\nopening = "dash"\npin = [{ number = "1", color = "GR" }]\n'
    with pytest.raises(JobError) as error:
        loads(text)
    said = str(error.value)
    for word in ("qq", "ornge", "gr", "nearest: OG (orange)", "BK black, BN brown"):
        assert word in said
