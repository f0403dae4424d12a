"""The face: to scale, legible, turned the right way."""

from __future__ import annotations

import re
from dataclasses import replace
from math import atan2, degrees, hypot

import pytest
from hypothesis import given, settings

from backwave.assess import PlaceResult
from backwave.drawing.callouts import Medium
from backwave.drawing.face import face_sheet, face_svg
from backwave.drawing.sheet import ArcStroke, Circle, Poly, overlaps, to_svg
from backwave.finding import Check, Message
from backwave.fit.assembly import Doubted
from backwave.fit.bolt_pattern import Hole
from backwave.fit.laps import FlangeLap
from tests.drawing.demo_places import behind, door, free_form, mm, polar, stopped
from tests.drawing.reading import faults, written
from tests.drawing.strategies import faces

NAMES = ("ok", "stop", "free-form")
MEDIA: tuple[Medium, ...] = ("paper", "screen", "phone")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_no_text_touches_another(name: str, medium: Medium, system: str) -> None:
    place = {"ok": door, "stop": stopped, "free-form": free_form}[name]()
    sheet = face_sheet(place, medium=medium, system=system)
    assert overlaps(sheet) == []
    assert faults(to_svg(sheet)) == []


@given(faces())
@settings(max_examples=60, deadline=None)
def test_no_text_touches_another_on_any_flange(place: PlaceResult) -> None:
    for medium in MEDIA:
        assert overlaps(face_sheet(place, medium=medium)) == []


def circles(place: PlaceResult, look: str) -> list[Circle]:
    return [m for m in face_sheet(place).marks if isinstance(m, Circle) and m.look == look]


def test_scale_and_place() -> None:
    place = door()
    frame = circles(place, "edge")[0]
    scale = frame.radius / (place.frame_mm / 2)
    fixings = [c for c in circles(place, "hollow-edge") if c.radius == pytest.approx(5.5 / 2 * scale)]
    assert len(fixings) == 3
    for c, fix in zip(fixings, place.spec.fixings, strict=True):
        assert (c.x - frame.x) / scale == pytest.approx(fix.x_mm)  # right stays right
        assert (frame.y - c.y) / scale == pytest.approx(fix.y_mm)  # up is up
    outline = next(m for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "edge" and m.closed)
    reach = [hypot(x - frame.x, y - frame.y) / scale for x, y in outline.points]
    assert min(reach) == pytest.approx(91.0, abs=0.06)  # a circle in chords
    assert max(reach) == pytest.approx(91.0, abs=0.06)


def test_allowed_turns_repeat_round_the_ring_and_the_pointer_stands_at_the_turn() -> None:
    place = replace(door(), holes=tuple(Hole(*polar(78.0, 90 * k + 10), 5.0) for k in range(4)))
    sheet = face_sheet(place)
    arcs = [(m.start_deg, m.end_deg) for m in sheet.marks if isinstance(m, ArcStroke)]
    assert arcs == [pytest.approx((18.0 + 90 * k, 62.0 + 90 * k)) for k in range(4)]
    center = circles(place, "edge")[0]
    pointer = next(
        m for m in sheet.marks
        if isinstance(m, Poly) and m.look == "change" and len(m.points) == 2
    )  # fmt: skip
    (x, y) = pointer.points[1]
    assert degrees(atan2(center.y - y, x - center.x)) == pytest.approx(30.0)


def test_it_says_side_view_and_turn() -> None:
    texts = [t.text.replace("\u00a0", " ") for t in written(face_svg(door()))]
    assert {
        "left",
        "up",
        "seen from the cabin",
        "rotation 20\u00b0",
        "Demo 165 mm woofer, 4 holes on a 156 mm circle",
    } <= set(texts)
    assert "no rotation keeps the gap" in [t.text for t in written(face_svg(stopped()))]
    loose = [t.text for t in written(face_svg(replace(door(), clocking=None)))]
    assert "OK: nothing for the holes to meet" in loose
    assert "no rotation keeps the gap" not in loose
    place = door()
    small = replace(place, spec=replace(place.spec, bore_mm=20.0))
    assert any("seen from the cabin" in t.text for t in written(face_svg(small)))


def test_the_least_lap_of_the_flange_is_dimensioned_where_it_is() -> None:
    place = door()
    ends = (polar(71.75, 30.0), polar(78.0, 30.0))
    place = replace(place, clocking=None, lap=FlangeLap(Doubted(6.25, 5.0, 7.5), 5.0, 30.0, ends))
    texts = [t.text.replace("\u00a0", " ") for t in written(face_svg(place))]
    assert re.search(r"flange on metal 6\.[23] mm", " ".join(texts))
    assert "margin 5.0" in texts
    center = circles(place, "edge")[0]
    scale = center.radius / 83.0
    gaps = [m.points for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "gap" and len(m.points) == 2]
    assert any(
        all((x - center.x, center.y - y) == pytest.approx((scale * u, scale * v)) for (x, y), (u, v) in zip(run, ends))
        for run in gaps
    )
    assert not [t for t in written(face_svg(replace(place, lap=None))) if t.text.startswith("flange on metal")]


def test_terminals_are_hidden_lines_behind() -> None:
    place = door()
    place = replace(place, opening=replace(place.opening, hole=None))
    hidden = [m for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "hidden"]
    assert len(hidden) == 1
    center = circles(place, "edge")[0]
    scale = center.radius / 83.0
    middle = [sum(v) / 4 for v in zip(*hidden[0].points, strict=True)]
    assert degrees(atan2(center.y - middle[1], middle[0] - center.x)) % 360 == pytest.approx(245.0)
    assert hypot(middle[0] - center.x, middle[1] - center.y) / scale == pytest.approx(53.0)


@pytest.mark.parametrize("angle", [None, 90.0, 225.0])
def test_where_nothing_was_measured_behind_is_hatched_and_nowhere_else(angle: float | None) -> None:
    place = door()
    assert not [m for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "hatch-unknown"]
    rows = () if angle is None else (behind("rail", ((40.0, 60.0),), "", angle),)
    coverage = Check("fit.coverage", "caution", Message("Not all read"))
    place = replace(
        place, opening=replace(place.opening, behind=rows, skin=mm(1.0)), fit=replace(place.fit, checks=(coverage,))
    )
    lines = [m for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "hatch-unknown"]
    assert len(lines) > 5
    (arc,) = place.unread_deg
    assert arc == (
        (0.0, 360.0) if angle is None else pytest.approx(((angle + 30.0) % 360.0, (angle + 30.0) % 360.0 + 300.0))
    )
    center = circles(place, "edge")[0]
    for line in lines:
        x, y = (sum(v) / 2 for v in zip(*line.points, strict=True))
        direction = degrees(atan2(center.y - y, x - center.x))
        assert (direction - arc[0] + 2.0) % 360.0 <= arc[1] - arc[0] + 4.0
