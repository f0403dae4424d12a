"""The supply as a tree: nothing touches, everything is there, on the demo and on random trees."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.assess import Memo, Wires
from backwave.assess.power.supply import wires_of
from backwave.drawing.sheet import overlaps
from backwave.drawing.wiring import supply_sheet, supply_svg
from backwave.finding import Check, Finding, Ledger, Message, Verdict
from backwave.job import load
from tests.drawing.demo_places import DEMO

words = st.text("abcdefghij klmno-pqrst", min_size=1, max_size=30).filter(str.strip)


@cache
def demo() -> Wires:
    made = wires_of(load(DEMO), Ledger(), Memo())
    assert made is not None
    return made


def found(verdict: Verdict, subject: str) -> Finding:
    return Finding(Check("power.cable", verdict, Message("Test"), remedy=Message("Test")), subject)


@st.composite
def trees(draw: st.DrawFn) -> Wires:
    depth = {"": 0}
    nodes, findings = [], []
    for k in range(draw(st.integers(1, 12))):
        parent = draw(st.sampled_from([name for name, d in depth.items() if d < 3]))
        depth[f"b{k}"] = depth[parent] + 1
        like = draw(st.sampled_from(demo().tree.nodes))
        name = draw(st.just("") | words | st.sampled_from([load.name for load in demo().peaks[-1].loads]))
        cable = replace(
            like.cable, size=draw(st.sampled_from(["", "25 mm2", "AWG 4"])), drop_v=draw(st.none() | st.just(0.3))
        )
        fuse = replace(like.fuse, rating_a=draw(st.none() | st.just(80.0)))
        fitted = draw(st.booleans())
        nodes.append(replace(like, id=f"b{k}", parent=parent, load=name, cable=cable, fuse=fuse, fitted=fitted))
        findings.append(found(draw(st.sampled_from(("ok", "caution", "stop"))), f"b{k}"))
    return replace(demo(), tree=replace(demo().tree, nodes=tuple(nodes)), findings=tuple(findings))


@settings(max_examples=60, deadline=None)
@given(trees(), words, st.booleans())
def test_no_text_touches_another_and_every_branch_is_there(wires: Wires, title: str, compact: bool) -> None:
    sheet = supply_sheet(wires, title, compact=compact)
    assert overlaps(sheet) == []
    text = supply_svg(wires, title, compact=compact)
    shown = "".join("".join(mark.text.split()) for mark, _ in sheet.texts())  # however its lines are broken
    for node in wires.tree.nodes:
        assert "".join((node.load or node.id).split()) in shown
    # a fuse is a rectangle with the line through it (IEC 60617-7): one for each branch that has one
    assert text.count('hollow"') == sum(node.fitted for node in wires.tree.nodes)


@pytest.mark.parametrize("compact", [False, True])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_demo_says_what_each_branch_does_in_the_units_of_the_person(system: str, compact: bool) -> None:
    sheet = supply_sheet(demo(), "Demo", compact=compact, system=system)
    assert overlaps(sheet) == []
    text = " ".join(mark.text for mark, _ in sheet.texts()).replace("\u00a0", " ")
    assert ("°F" in text, "°C" in text) == (system == "us", system == "metric")
    for said in ("battery, ", "fuse ", "sized for ", "drops ", "at rated power, engine running"):
        assert said in text, said


def test_a_fault_is_seen_by_shape_and_not_by_color_alone() -> None:
    node = demo().tree.nodes[0]
    tree = replace(demo().tree, nodes=(node,))
    wrong, fine = (
        supply_svg(replace(demo(), tree=tree, findings=(found(verdict, node.id),)), "") for verdict in ("stop", "ok")
    )  # type: ignore[arg-type]
    assert wrong.count("<path") > fine.count("<path")
