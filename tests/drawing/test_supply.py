"""The supply as a tree: nothing touches, everything is there, on the demo and on random trees."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.drawing.sheet import overlaps
from backwave.drawing.supply import SupplyRun, SupplyView, supply_sheet, supply_svg

words = st.text("abcdefghij klmno-pqrst", min_size=1, max_size=30).filter(str.strip)


@st.composite
def views(draw: st.DrawFn) -> SupplyView:
    count = draw(st.integers(1, 12))
    depth = {"": 0}
    runs = []
    for k in range(count):
        parents = [name for name, d in depth.items() if d < 3]
        parent = draw(st.sampled_from(parents))
        depth[f"b{k}"] = depth[parent] + 1
        runs.append(
            SupplyRun(
                f"b{k}", parent, draw(words), draw(st.booleans()), "25 mm², 0.40 m", draw(words),
                draw(st.sampled_from(["", "80 A strip", "15 A blade light blue"])), draw(st.sampled_from(["", "14.1 V"])),
                draw(st.sampled_from(["ok", "caution", "stop"])),
            )
        )  # fmt: skip
    return SupplyView("Supply", draw(words), "ok", draw(words), "battery, 12.6 V", tuple(runs), (draw(words),))


@settings(max_examples=60, deadline=None)
@given(views(), st.booleans())
def test_no_text_touches_another_and_every_branch_is_there(view: SupplyView, compact: bool) -> None:
    sheet = supply_sheet(view, compact=compact)
    assert overlaps(sheet) == []
    text = supply_svg(view, compact=compact)
    shown = "".join("".join(mark.text.split()) for mark, _ in sheet.texts())  # however its lines are broken
    for run in view.runs:
        assert "".join(run.name.split()) in shown
    # a fuse is a rectangle with the line through it (IEC 60617-7): one for each run that has one
    assert text.count('hollow"') == sum(bool(run.fuse) for run in view.runs)


def test_a_fault_is_seen_by_shape_and_not_by_color_alone() -> None:
    run = SupplyRun("a", "", "amp", True, "6 mm²", "", "80 A strip", "", "stop")
    wrong = supply_svg(SupplyView("Supply", "", "stop", "too thin", "battery", (run,)))
    fine = supply_svg(
        SupplyView("Supply", "", "ok", "", "battery", (SupplyRun("a", "", "amp", True, "6 mm²", "", "", "", "ok"),))
    )
    assert wrong.count("<path") > fine.count("<path")
