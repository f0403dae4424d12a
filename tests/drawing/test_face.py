"""The face: to scale, legible, turned the right way."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, hypot

import pytest
from hypothesis import given, settings

from backwave.drawing import FaceView, face_sheet, face_svg, overlaps
from backwave.drawing.sheet import ArcStroke, Circle, Poly
from tests.drawing.demo_views import free_form, front
from tests.drawing.reading import faults, written
from tests.drawing.strategies import faces

EXAMPLES = {"ok": front(), "stop": front(0.0, "stop"), "free-form": free_form()}


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("compact", [False, True])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_no_text_touches_another(name: str, compact: bool, system: str) -> None:
    view = EXAMPLES[name]
    assert overlaps(face_sheet(view, compact=compact, system=system)) == []
    assert faults(face_svg(view, compact=compact, system=system)) == []


@given(faces())
@settings(max_examples=60, deadline=None)
def test_no_text_touches_another_on_any_flange(view: FaceView) -> None:
    for compact in (False, True):
        assert overlaps(face_sheet(view, compact=compact)) == []


def circles(view: FaceView, look: str) -> list[Circle]:
    return [m for m in face_sheet(view).marks if isinstance(m, Circle) and m.look == look]


def test_scale_and_place() -> None:
    view = front()
    frame = circles(view, "edge")[0]
    scale = frame.radius / view.frame_radius_mm
    fixings = [c for c in circles(view, "hollow-edge") if c.radius == pytest.approx(5.5 / 2 * scale)]
    assert len(fixings) == 3
    for c, fix in zip(fixings, view.fixings, strict=True):
        assert (c.x - frame.x) / scale == pytest.approx(fix.x_mm)  # right stays right
        assert (frame.y - c.y) / scale == pytest.approx(fix.y_mm)  # up is up
    outline = next(m for m in face_sheet(view).marks if isinstance(m, Poly) and m.look == "edge" and m.closed)
    reach = [hypot(x - frame.x, y - frame.y) / scale for x, y in outline.points]
    assert min(reach) == pytest.approx(91.0)
    assert max(reach) == pytest.approx(91.0)


def test_allowed_turns_repeat_round_the_ring_and_the_pointer_stands_at_the_turn() -> None:
    view = replace(front(turn=20.0), mark_deg=10.0)
    sheet = face_sheet(view)
    arcs = [(m.start_deg, m.end_deg) for m in sheet.marks if isinstance(m, ArcStroke)]
    assert arcs == [(18.0 + 90 * k, 62.0 + 90 * k) for k in range(4)]
    center = circles(view, "edge")[0]
    pointer = next(
        m for m in sheet.marks
        if isinstance(m, Poly) and m.look == "change" and len(m.points) == 2
    )  # fmt: skip
    (x, y) = pointer.points[1]
    assert degrees(atan2(center.y - y, x - center.x)) == pytest.approx(30.0)


def test_it_says_side_view_and_turn() -> None:
    texts = [t.text for t in written(face_svg(front()))]
    assert {"left", "up", "seen from the cabin", "turn 20\u00b0"} <= set(texts)
    assert "no turn keeps the gap" in [t.text for t in written(face_svg(front(0.0, "stop")))]
    small = replace(front(), bore_radius_mm=20.0)
    assert any("seen from the cabin" in t.text for t in written(face_svg(small)))


def test_terminals_are_hidden_lines_behind() -> None:
    hidden = [m for m in face_sheet(replace(front(), hole_mm=())).marks if isinstance(m, Poly) and m.look == "hidden"]
    assert len(hidden) == 1
    center = circles(front(), "edge")[0]
    scale = center.radius / 83.0
    middle = [sum(v) / 4 for v in zip(*hidden[0].points, strict=True)]
    assert degrees(atan2(center.y - middle[1], middle[0] - center.x)) % 360 == pytest.approx(245.0)
    assert hypot(middle[0] - center.x, middle[1] - center.y) / scale == pytest.approx(53.0)


@pytest.mark.parametrize("arc", [(120.0, 420.0), (200.0, 250.0), (0.0, 360.0)])
def test_where_nothing_was_measured_behind_is_hatched_and_nowhere_else(arc: tuple[float, float]) -> None:
    assert not [m for m in face_sheet(front()).marks if isinstance(m, Poly) and m.look == "hatch-unknown"]
    view = replace(front(), unread_deg=(arc,))
    lines = [m for m in face_sheet(view).marks if isinstance(m, Poly) and m.look == "hatch-unknown"]
    assert len(lines) > 5
    center = circles(view, "edge")[0]
    for line in lines:
        x, y = (sum(v) / 2 for v in zip(*line.points, strict=True))
        direction = degrees(atan2(center.y - y, x - center.x))
        assert (direction - arc[0] + 2.0) % 360.0 <= arc[1] - arc[0] + 4.0
