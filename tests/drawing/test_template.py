"""The 1:1 template: every line on some sheet, every sheet with its bars, its block and its seams."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.drawing.sheet import Circle, Poly, Sheet, overlaps
from backwave.drawing.template import BAR_WORDS, PAPERS, TemplateHole, TemplateView, template_sheets, template_svg
from backwave.errors import InputError
from tests.drawing.demo_places import polar
from tests.drawing.reading import faults
from tests.drawing.strategies import lengths, prose


def loop(radius: float) -> tuple[tuple[float, float], ...]:
    return tuple(polar(radius, k) for k in range(360))


ADAPTER = TemplateView(
    "Night-round delivery van",
    "adapter, front door",
    "left",
    "3",
    cut_mm=(loop(91.0),),
    holes=(
        TemplateHole(0, 0, 142, "cut", "bore"),
        TemplateHole(0, 80.5, 5.5, label="fixing"),
        TemplateHole(-69.715, -40.25, 5.5, label="fixing"),
        *(TemplateHole(*polar(78, 90 * k + 20), 5.6, label="insert") for k in range(4)),
    ),
    notes=("Print at 100 %, without fitting to the page. Cut on the middle of the line.",),
)


def runs(sheet: Sheet, look: str) -> list[tuple[tuple[float, float], ...]]:
    return [m.points for m in sheet.marks if isinstance(m, Poly) and m.look == look]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_door_adapter_fits_one_sheet_at_its_size(paper: str) -> None:
    (sheet,) = template_sheets(ADAPTER, paper)
    assert (sheet.width, sheet.height) == PAPERS[paper]
    xs = [x for run in runs(sheet, "cut") for x, _ in run]
    ys = [y for run in runs(sheet, "cut") for _, y in run]
    assert max(xs) - min(xs) == pytest.approx(182.0)
    assert max(ys) - min(ys) == pytest.approx(182.0)
    (svg,) = template_svg(ADAPTER, paper)
    w, h = PAPERS[paper]
    assert f'width="{w:g}mm" height="{h:g}mm" viewBox="0 0 {w:g} {h:g}"' in svg  # a unit is a millimeter
    assert overlaps(sheet) == []
    assert faults(svg) == []


@given(
    prose,
    prose,
    st.lists(prose, max_size=3),
    st.lists(st.tuples(lengths(-200, 200), lengths(-200, 200), lengths(1, 200), prose), min_size=1, max_size=9),
)
@settings(max_examples=40, deadline=None)
def test_every_sheet_is_whole_and_legible(
    job: str, part: str, notes: list[str], holes: list[tuple[float, float, float, str]]
) -> None:
    view = TemplateView(
        job, part, "right", "1", holes=tuple(TemplateHole(x, y, d, label=n) for x, y, d, n in holes), notes=tuple(notes)
    )
    for sheet in template_sheets(view):
        assert overlaps(sheet) == []
        assert any(BAR_WORDS in mark.text for mark, _ in sheet.texts())
        bars = [run for run in runs(sheet, "edge") if len(run) == 2]
        assert sum(abs(a[0] - b[0]) == pytest.approx(100.0) and a[1] == b[1] for a, b in bars) == 1
        assert sum(abs(a[1] - b[1]) == pytest.approx(100.0) and a[0] == b[0] for a, b in bars) == 1
        for mark in sheet.marks:
            if isinstance(mark, Poly):
                assert all(0 <= x <= sheet.width and 0 <= y <= sheet.height for x, y in mark.points)


def test_a_large_part_is_tiled_whole_and_its_seams_meet() -> None:
    # A field of strokes, each of a length of its own, so that it is known again on any sheet.
    places = [(float(x), float(y)) for x in range(-190, 186, 5) for y in range(-130, 131, 5)]
    strokes = {round(1 + 0.0005 * n, 4): place for n, place in enumerate(places)}
    view = TemplateView(
        "job", "field", "", "1", mark_mm=tuple(((x, y), (x + d, y)) for d, (x, y) in strokes.items()), centers_mm=()
    )
    sheets = template_sheets(view)
    assert len(sheets) == 4
    found: set[tuple[float, float]] = set()
    crosses: list[set[tuple[float, float]]] = []
    for sheet in sheets:
        seen = {strokes[d]: a for a, b in runs(sheet, "hidden") if (d := round(b[0] - a[0], 4)) in strokes}
        found |= set(seen)
        # Where the part's zero lies on this sheet: the same from every stroke on it, so it is drawn at 1:1.
        zeros = np.array([(a[0] - x, a[1] + y) for (x, y), a in seen.items()])
        assert np.ptp(zeros, axis=0).max() < 1e-9
        # Its register marks in the part's own millimeters.
        marks = [m for m in sheet.marks if isinstance(m, Circle) and m.radius == 2.5]
        crosses.append({(round(m.x - zeros[0, 0], 6), round(zeros[0, 1] - m.y, 6)) for m in marks})
    assert found == set(places)
    for one, other in ((0, 1), (2, 3), (0, 2), (1, 3)):
        assert len(crosses[one] & crosses[other]) == 2  # the two marks of a seam are the same two points


def test_the_smaller_number_of_sheets_wins() -> None:
    wide = TemplateView("job", "strip", "", "1", cut_mm=(((-130, -40), (130, -40), (130, 40), (-130, 40)),))
    (sheet,) = template_sheets(wide)
    assert sheet.width > sheet.height


def test_holes_are_listed_with_their_diameters() -> None:
    (sheet,) = template_sheets(ADAPTER)
    text = " ".join(mark.text for mark, _ in sheet.texts()).replace("\u00a0", " ")
    assert "a: 1 \u00d7 \u2300 142.0 mm, cut, bore" in text
    assert "b: 2 \u00d7 \u2300 5.5 mm, drill, fixing" in text
    assert "c: 4 \u00d7 \u2300 5.6 mm, drill, insert" in text
    assert len(re.findall(r"\bup\b", text)) == 1


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="A4 or Letter"):
        template_sheets(ADAPTER, "A9")
    with pytest.raises(InputError, match="something to cut or drill"):
        template_sheets(TemplateView("job", "nothing", "", "1"))


def test_a_part_that_takes_a_million_sheets_is_refused_before_one_is_drawn() -> None:
    with pytest.raises(InputError, match="look for a length that is far too large"):
        template_sheets(replace(ADAPTER, cut_mm=(loop(91_000.0),)))
    assert len(template_sheets(replace(ADAPTER, cut_mm=(loop(500.0),)))) <= 60
