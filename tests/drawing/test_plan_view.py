"""The vehicle from above: to scale, front up, legible, nothing left out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from backwave.drawing.plan_view import PlanEar, PlanPlace, PlanView, plan_sheet, plan_svg
from backwave.drawing.sheet import Circle, Poly, overlaps
from tests.drawing.reading import faults, paths, written
from tests.drawing.strategies import lengths, prose, verdicts

VAN = PlanView(
    "Night-round delivery van",
    "cabin from above, four openings and a box",
    "stop",
    "one thing stops the work",
    "",
    1450.0,
    1700.0,
    (PlanEar("driver", (950.0, 420.0)), PlanEar("passenger", (950.0, 1280.0)), PlanEar("helper", None)),
    (
        PlanPlace("front-door left", (500.0, 60.0), "ok", "glass clears by 11 mm", "opening", (0, 1), (165, 165)),
        PlanPlace("front-door right", (500.0, 1640.0), "caution", "read once", "opening", (0, -1), (165, 165)),
        PlanPlace("dash left", (180.0, 230.0), "stop", "no protection", "opening", (0.8, 0.5), (60, 60)),
        PlanPlace("dash right", (180.0, 1470.0), "ok", "", "opening", None, (60, 60)),
        PlanPlace("under-seat", (1200.0, 1200.0), None, "closed, 14 L", "box", (0, -1), (320, 360)),
        PlanPlace("rear shelf", None, "caution", "depth not read"),
    ),
    ("Places are as the job file has them.",),
)
BARE = PlanView("", "", "ok", "", "", None, None)


def points() -> st.SearchStrategy[tuple[float, float] | None]:
    return st.none() | st.tuples(lengths(-300, 3000), lengths(-300, 2500)) | st.tuples(lengths(0, 300), lengths(0, 300))


@st.composite
def plans(draw: DrawFn) -> PlanView:
    place = st.builds(
        PlanPlace,
        prose,
        points(),
        st.none() | verdicts,
        prose,
        st.sampled_from(("opening", "box")),
        st.none() | st.tuples(lengths(-1, 1), lengths(-1, 1)),
        st.none() | st.tuples(lengths(10, 600), lengths(10, 600)),
    )
    return PlanView(
        *draw(st.tuples(prose, prose, verdicts, prose, prose)),
        draw(st.none() | lengths(300, 6000)),
        draw(st.none() | lengths(300, 3000)),
        tuple(draw(st.lists(st.builds(PlanEar, prose, points()), max_size=5))),
        tuple(draw(st.lists(place, max_size=12))),
        tuple(draw(st.lists(prose, max_size=2))),
    )


@pytest.mark.parametrize("view", [VAN, BARE])
@pytest.mark.parametrize("compact", [False, True])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_no_text_touches_another(view: PlanView, compact: bool, system: str) -> None:
    assert overlaps(plan_sheet(view, compact=compact, system=system)) == []
    assert faults(plan_svg(view, compact=compact, system=system)) == []


@given(plans())
@settings(max_examples=60, deadline=None)
def test_no_text_touches_another_in_any_vehicle(view: PlanView) -> None:
    for compact in (False, True):
        sheet = plan_sheet(view, compact=compact)
        assert overlaps(sheet) == []
        for mark in sheet.marks:  # nothing drawn leaves the sheet either
            if isinstance(mark, Poly):
                assert all(0 <= x <= sheet.width and 0 <= y <= sheet.height for x, y in mark.points), mark
            if isinstance(mark, Circle):
                assert mark.radius <= mark.x <= sheet.width - mark.radius, mark
                assert mark.radius <= mark.y <= sheet.height - mark.radius, mark


def middle(mark: Poly) -> tuple[float, float]:
    return sum(x for x, _ in mark.points) / len(mark.points), sum(y for _, y in mark.points) / len(mark.points)


@pytest.mark.parametrize("compact", [False, True])
def test_a_place_typed_wrongly_is_drawn_outside_where_it_was_put(compact: bool) -> None:
    sheet = plan_sheet(replace(VAN, ears=(PlanEar("far", (-900.0, -400.0)),)), compact=compact)
    marks = [m for m in sheet.marks if isinstance(m, Poly)]
    left, top = min(p for m in marks if m.look == "edge" for p in m.points)
    scale = (max(p for m in marks if m.look == "edge" for p in m.points)[0] - left) / 1700
    head = middle(next(m for m in marks if len(m.points) == 36))
    assert head == pytest.approx((left - 400 * scale, top - 900 * scale))
    plate = next(m for m in marks if m.look == "plate")
    assert head[1] - 80 * scale > max(y for _, y in plate.points)


@pytest.mark.parametrize("compact", [False, True])
def test_to_scale_with_the_front_up_and_the_left_at_the_left(compact: bool) -> None:
    marks = [m for m in plan_sheet(VAN, compact=compact).marks if isinstance(m, Poly)]
    walls = [m for m in marks if m.look == "edge"]
    left, top = min(p for m in walls for p in m.points)
    right, bottom = max(p for m in walls for p in m.points)
    scale = (right - left) / 1700
    assert (bottom - top) / 1450 == pytest.approx(scale)
    heads = [middle(m) for m in marks if m.look == "hollow" and len(m.points) == 36]
    assert heads == [pytest.approx((left + y * scale, top + x * scale)) for x, y in ((950.0, 420.0), (950.0, 1280.0))]
    box = next(m for m in marks if m.look == "hollow" and len(m.points) == 4 and m.closed)
    assert middle(box) == pytest.approx((left + 1200 * scale, top + 1200 * scale))
    wide, tall = (max(p[k] for p in box.points) - min(p[k] for p in box.points) for k in (0, 1))
    assert (wide / scale, tall / scale) == pytest.approx((360, 320))
    bar = next(m for m in walls if m.points[0][0] == m.points[1][0] == pytest.approx(left + 60 * scale))
    assert abs(bar.points[0][1] - bar.points[1][1]) == pytest.approx(165 * scale)
    assert middle(bar)[1] == pytest.approx(top + 500 * scale)


def test_arrows_point_the_way_an_opening_faces() -> None:
    """A tweeter at the front left that looks back and to the right: on the sheet down and to the right."""
    shafts = [m.points for m in plan_sheet(VAN).marks if isinstance(m, Poly) and m.look == "gap" and not m.closed]
    ways = [(round(b[0] - a[0], 3), round(b[1] - a[1], 3)) for a, b in shafts]
    assert ways[0] == (28.0, 0.0)
    assert ways[1] == (-28.0, 0.0)
    assert ways[2][1] / ways[2][0] == pytest.approx(0.8 / 0.5, rel=1e-3)
    assert ways[2][0] > 0


def test_every_name_verdict_and_word_is_written_and_a_missing_place_is_said() -> None:
    for compact in (False, True):
        texts = " | ".join(t.text for t in written(plan_svg(VAN, compact=compact)))
        for name in ("driver", "passenger", "front-door left", "front-door right", "dash left", "under-seat"):
            assert name in texts
        for words in ("ok: glass clears by 11 mm", "caution: read once", "stop: no protection", "closed, 14 L"):
            assert words in texts
        assert "rear shelf: caution: depth not read, place not said" in texts.replace(" | ", " ")
        assert "helper: place not said" in texts
        assert "front" in texts


def test_verdicts_stand_at_their_places_in_shapes_of_their_own() -> None:
    sheet = plan_sheet(VAN)
    # One beside the words and one in the vehicle: two of dash left and the plate's; two of the right door.
    assert sum(isinstance(m, Poly) and m.look == "wrong-body" for m in sheet.marks) == 3
    assert sum(isinstance(m, Poly) and m.look == "wrong-plate" for m in sheet.marks) == 2
    rings = [m for m in sheet.marks if isinstance(m, Circle) and m.look == "ok-plate"]
    assert len(rings) == 4
    inside = [m for m in rings if m.radius == pytest.approx(9.5)]
    assert len(inside) == 2


def test_dimensions_are_those_of_the_cabin_and_dashes_say_what_is_not_known() -> None:
    texts = [t.text for t in written(plan_svg(VAN))]
    assert {"width 170\u00a0cm", "length 145\u00a0cm"} <= set(texts)
    assert {"width 66.93\u00a0in", "length 57.09\u00a0in"} <= {t.text for t in written(plan_svg(VAN, system="us"))}
    half = plan_svg(PlanView("", "", "ok", "", "", None, 1700.0))
    assert any(t.text.startswith("cabin's length not said") for t in written(half))
    assert len(paths(half, "hidden")) == 2
    assert not any(t.text.startswith("length") for t in written(half))
