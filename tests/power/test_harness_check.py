"""Each fault by its own code, made by hand on a harness that was right."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from backwave.finding import Check, words
from backwave.notation.crossover import parse_branch
from backwave.power.cable import choose_cable
from backwave.power.harness import Harness, Lead, PathSpec, Plug, Wire
from backwave.power.harness_build import harness_of
from backwave.power.harness_check import check_harness
from backwave.power.harness_leads import stands_a
from backwave.power.types import CableRun

WOOFER = tuple(map(parse_branch, ("series L 0.39 mH 0.2 ohm", "shunt R 3.9 ohm + C 22 uF")))
TWEETER = tuple(map(parse_branch, ("series R 1.5 ohm", "series C 10 uF", "shunt L 0.27 mH 0.15 ohm")))
CAP = (parse_branch("series C 4.7 uF"),)


def path(place: str, side: Any, channel: str, kind: str = "woofer", **more: Any) -> PathSpec:
    return PathSpec("amp", channel, "demo", place, side, kind=kind, **more)


PATHS = (
    path("front-door", "left", "1", network=WOOFER),
    path("dash", "left", "1", "tweeter", network=TWEETER),
    path("front-door", "right", "2", network=WOOFER),
    path("dash", "right", "2", "tweeter", network=TWEETER),
    path("rear", "left", "3"),
    path("pillar", "left", "4", "tweeter", network=CAP),
)
LEADS = (
    Lead("block", "amp", "amp", "supply", 0.4, 10, 50, 90),
    Lead("amp", "ground", "body", "amp", 0.4, 10),
    Lead("head-unit", "turn-on", "amp", "remote", 4, 0.75, 1),
)


def measured(harness: Harness) -> Harness:
    return replace(harness, wires=tuple(replace(w, length_m=w.length_m or 1.0) for w in harness.wires))


RIGHT = measured(harness_of(PATHS, (), LEADS))


def swapped(*pairs: tuple[str, str], harness: Harness = RIGHT) -> Harness:
    """Every wire end on the first pin of a pair goes to the second, and the other way round."""
    to = {a: b for pair in pairs for a, b in (pair, pair[::-1])}
    wires = tuple(
        replace(w, from_pin=to.get(w.from_pin, w.from_pin), to_pin=to.get(w.to_pin, w.to_pin)) for w in harness.wires
    )
    return replace(harness, wires=wires)


def faults(harness: Harness) -> dict[tuple[str, str], str]:
    return {(c.code, c.part): c.verdict for c in check_harness(harness) if c.verdict != "ok"}


def one(harness: Harness, code: str) -> Check:
    (check,) = [c for c in check_harness(harness) if c.code == code]
    return check


def test_a_right_harness_says_so_topic_by_topic() -> None:
    checks = check_harness(RIGHT)
    assert all(c.verdict == "ok" for c in checks)
    assert {c.code for c in checks} >= {"wire.polarity", "wire.sides", "wire.tweeter", "wire.thin", "wire.crossover"}


def test_polarity() -> None:
    assert faults(swapped(("rear-left.+", "rear-left.-"))) == {("wire.polarity", "rear-left"): "caution"}
    through = swapped(("crossover-left.woofer+", "crossover-left.woofer-"))
    assert faults(through) == {("wire.polarity", "front-door-left"): "caution"}
    # Twice over is in phase again, and at the box's input both of its drivers turn.
    assert not faults(swapped(("crossover-left.woofer+", "crossover-left.woofer-"), ("front-door-left.+", "front-door-left.-")))  # fmt: skip
    both = faults(swapped(("crossover-left.in+", "crossover-left.in-")))
    assert set(both) == {("wire.polarity", "front-door-left"), ("wire.polarity", "dash-left")}


def test_polarity_reversed_on_purpose() -> None:
    paths = (replace(PATHS[4], polarity=-1),)
    meant = measured(harness_of(paths))
    assert not faults(meant)
    assert faults(swapped(("rear-left.+", "rear-left.-"), harness=meant)) == {("wire.polarity", "rear-left"): "caution"}


def test_sides_and_channels() -> None:
    crossed = swapped(("amp.1+", "amp.2+"), ("amp.1-", "amp.2-"))
    names = {"front-door-left", "front-door-right", "dash-left", "dash-right"}
    assert faults(crossed) == {("wire.sides", name): "caution" for name in names}
    rear = swapped(("amp.1+", "amp.3+"), ("amp.1-", "amp.3-"))
    assert {code for code, _ in faults(rear)} == {"wire.channel"}


def test_both_poles_on_one_output() -> None:
    found = faults(swapped(("amp.1-", "amp.3-")))
    assert set(found) == {("wire.poles", n) for n in ("front-door-left", "dash-left", "rear-left")}


def test_two_amplifiers_on_one_speaker_and_a_leg_on_the_body_are_stops() -> None:
    other = (*PATHS, PathSpec("bass-amp", "1", "demo", "cargo", "right"))
    made = measured(harness_of(other, (), (*LEADS, Lead("bass-amp", "ground", "body", "bass-amp", 0.4, 10))))
    assert faults(made) == {}
    crossed = faults(swapped(("rear-left.-", "cargo-right.-"), harness=made))
    assert crossed[("wire.poles", "rear-left")] == crossed[("wire.poles", "cargo-right")] == "stop"
    for leg in ("rear-left.-", "amp.3-", "crossover-left.in-"):
        grounded = replace(made, wires=(*made.wires, Wire("slip", leg, "body.amp")))
        found = [c for c in check_harness(grounded) if c.code == "wire.short"]
        assert [c.verdict for c in found] == ["stop"]
        assert leg in words(found[0].title)


def test_crossover_outputs_swapped_is_a_stop_for_the_tweeter() -> None:
    found = faults(
        swapped(
            ("crossover-left.woofer+", "crossover-left.tweeter+"), ("crossover-left.woofer-", "crossover-left.tweeter-")
        )
    )
    assert found[("wire.tweeter", "dash-left")] == "stop"
    assert found[("wire.crossover", "front-door-left")] == "caution"


def test_crossover_input_and_output_swapped() -> None:
    found = faults(
        swapped(("crossover-left.in+", "crossover-left.woofer+"), ("crossover-left.in-", "crossover-left.woofer-"))
    )
    assert ("wire.crossover", "front-door-left") in found
    assert "backward" in next(
        c.title.template for c in check_harness(swapped(("crossover-left.in+", "crossover-left.woofer+")))
        if c.code == "wire.crossover"
    )  # fmt: skip


def test_a_tweeter_past_its_capacitor() -> None:
    to = {"part pillar-left.in": "pillar-left.+"}
    kept = tuple(w for w in RIGHT.wires if w.from_pin != "part pillar-left.out")
    bare = replace(RIGHT, wires=tuple(replace(w, to_pin=to.get(w.to_pin, w.to_pin)) for w in kept))
    check = next(c for c in check_harness(bare) if c.code == "wire.tweeter")
    assert (check.verdict, check.part) == ("stop", "pillar-left")
    assert check.remedy is not None
    # Beside it is as bad as past it.
    wires = (*RIGHT.wires, Wire("jumper", "part pillar-left.in", "part pillar-left.out"))
    assert faults(replace(RIGHT, wires=wires))[("wire.tweeter", "pillar-left")] == "stop"
    # The capacitor turned round, or moved to the minus leg, still protects.
    assert ("wire.tweeter", "pillar-left") not in faults(swapped(("part pillar-left.in", "part pillar-left.out")))


@pytest.mark.parametrize(("protected", "verdict"), [(False, "stop"), (True, "caution")])
def test_a_tweeter_with_no_capacitor_planned(protected: bool, verdict: str) -> None:
    harness = measured(harness_of((path("pillar", "left", "4", "tweeter", protected=protected),)))
    assert faults(harness) == {("wire.tweeter", "pillar-left"): verdict}


def test_what_hides_in_a_plug() -> None:
    plug = Plug("dash plug", carries=CAP[0])
    alone = measured(harness_of((path("dash", "left", "1", "tweeter", plug=plug),)))
    assert not faults(alone)
    assert one(alone, "wire.hidden").verdict == "ok"
    beside = measured(harness_of((path("dash", "left", "1", "tweeter", plug=plug, network=CAP),)))
    assert faults(beside) == {("wire.hidden", "dash-left"): "caution"}


def test_a_contact_with_two_wires_and_one_with_none() -> None:
    twice = replace(RIGHT, wires=(*RIGHT.wires, replace(RIGHT.wires[0], id="copy")))
    assert {code for code, _ in faults(twice)} == {"wire.pin"}
    open_ = replace(RIGHT, wires=RIGHT.wires[1:])
    assert {code for code, _ in faults(open_)} == {"wire.open"}


def test_joined_outputs_are_a_stop() -> None:
    joined = replace(RIGHT, wires=(*RIGHT.wires, Wire("x", "amp.1+", "amp.1-")))
    assert one(joined, "wire.short").verdict == "stop"


def test_a_lead_that_joins_a_speaker_is_a_stop() -> None:
    found = faults(swapped(("amp.supply", "rear-left.+")))
    assert found[("wire.feed", "amp.supply")] == "stop"


def test_a_wire_thinner_than_its_fuse() -> None:
    thin = replace(RIGHT, wires=(*RIGHT.wires[:-1], replace(RIGHT.wires[-1], fuse_a=30.0)))
    check = one(thin, "wire.thin")
    assert check.verdict == "stop"
    assert check.value is not None
    assert check.value < 30
    unsaid = replace(RIGHT, wires=(*RIGHT.wires[:-1], replace(RIGHT.wires[-1], area_mm2=None)))
    assert one(unsaid, "wire.thin").verdict == "caution"


@pytest.mark.parametrize("area", [0.75, 1.5, 2.5, 6, 16])
def test_what_a_wire_stands_is_what_the_cable_says(area: float) -> None:
    """Two roads: the choice of cables, tested against published ampacities, in the same place."""
    run = CableRun(1.0, 1.0, insulation_degc=70, ambient_degc=60, size=f"{area:g} mm2", body=False)
    assert stands_a(area) == pytest.approx(choose_cable(run, 1.0).ampacity_a)
    assert stands_a(area + 0.02 * area) == stands_a(area)
    assert stands_a(0.1) == 0


def test_lengths_are_asked_for_with_what_a_guess_does() -> None:
    check = one(harness_of((replace(PATHS[4], area_mm2=1.5),)), "wire.length")
    assert check.verdict == "caution"
    # 58 m/(ohm mm2) (IEC 60028): 1 m of pair in 1.5 mm2 is 2/(58 x 1.5) = 23.0 mohm.
    assert {n: v for n, v, _ in check.title.quantities}["ohm"] == pytest.approx(0.02299, abs=1e-5)


def test_every_stop_says_what_to_do() -> None:
    for first in range(0, len(RIGHT.wires) - 1, 3):
        a, b = RIGHT.wires[first], RIGHT.wires[first + 1]
        for check in check_harness(swapped((a.to_pin, b.to_pin))):
            assert check.verdict == "ok" or check.remedy is not None
