"""The section: to scale, legible, and saying what the place's result says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from backwave.assess import PlaceResult
from backwave.drawing.callouts import Medium
from backwave.drawing.section import section_sheet, section_svg
from backwave.drawing.sheet import Circle, Poly, overlaps, to_svg
from tests.drawing.demo_places import clearance, collision, door, fit, mm, read, tweeter
from tests.drawing.reading import faults, paths, written
from tests.drawing.strategies import sections

NAMES = ("ok", "caution", "stop", "tweeter")
MEDIA: tuple[Medium, ...] = ("paper", "screen", "phone")


def example(name: str) -> PlaceResult:
    return {"ok": lambda: door("ok"), "caution": door, "stop": collision, "tweeter": tweeter}[name]()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("medium", MEDIA)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_no_text_touches_another(name: str, medium: Medium, system: str) -> None:
    sheet = section_sheet(example(name), medium=medium, system=system)
    assert overlaps(sheet) == []
    assert faults(to_svg(sheet)) == []  # read back with the font's own widths


@given(sections())
@settings(max_examples=60, deadline=None)
def test_no_text_touches_another_in_any_door(place: PlaceResult) -> None:
    for medium in MEDIA:
        assert overlaps(section_sheet(place, medium=medium)) == []


@given(sections())
@settings(max_examples=15, deadline=None)
def test_nothing_is_drawn_off_the_sheet(place: PlaceResult) -> None:
    # Clearances of a random place may lie anywhere: without them.
    for medium in MEDIA:
        sheet = section_sheet(replace(place, fit=replace(place.fit, clearances=())), medium=medium)
        for mark in sheet.marks:
            if isinstance(mark, Poly):
                inside = all(-1 <= x <= sheet.width + 1 and -1 <= y <= sheet.height + 1 for x, y in mark.points)
                assert inside, (medium, mark.look)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("medium", MEDIA)
def test_a_millimeter_is_the_same_both_ways(name: str, medium: Medium) -> None:
    place = example(name)
    place = replace(place, opening=replace(place.opening, skin=mm(3.0)), spec=replace(place.spec, spigot=None))
    half = medium == "phone"
    metal = paths(to_svg(section_sheet(place, medium=medium)), "solid")  # the metal is the only thing drawn solid
    assert len(metal) == (1 if half else 2)
    xs = [x for x, _ in metal[0]]
    across = (max(xs) - min(xs)) / 3.0
    assert place.opening.hole is not None
    if half:
        wide = place.spec.outline.bounds_mm[2]
        reach = wide + max(6.0, 0.1 * wide)
        ys = [y for _, y in metal[0]]
        up = (max(ys) - min(ys)) / (reach - place.opening.hole.value / 2)
    else:
        tops, bottoms = ([y for _, y in sheet] for sheet in metal)
        up = (min(bottoms) - max(tops)) / place.opening.hole.value
    assert across == pytest.approx(up, rel=1e-3)


def test_a_gap_is_drawn_as_long_as_it_is() -> None:
    place = door("ok")
    place = replace(
        place,
        opening=replace(place.opening, skin=mm(4.0)),
        fit=fit(14.5, [clearance("x", 30.0, 1.0, -10.0, 30.0)], None),
    )
    svg = section_svg(place)
    (metal, _) = paths(svg, "solid")
    scale = (max(x for x, _ in metal) - min(x for x, _ in metal)) / 4.0
    gaps = [p for p in paths(svg, "gap") if len(p) == 2 and p[0][1] == p[1][1]]
    assert any(abs(b[0] - a[0]) / scale == pytest.approx(30.0, abs=0.01) for a, b in gaps)


def test_verdicts_differ_in_word_and_shape() -> None:
    shapes = {}
    for verdict in ("ok", "caution", "stop"):
        place = replace(door("ok"), fit=fit(14.5, (), None), fit_checks=(read(verdict),))  # type: ignore[arg-type]
        sheet = section_sheet(place)
        words = [mark.text for mark, _ in sheet.texts()]
        assert any(w.startswith({"ok": "OK", "caution": "Caution", "stop": "Stop"}[verdict]) for w in words)
        plate = next(n for n, m in enumerate(sheet.marks) if isinstance(m, Poly) and m.look == "plate")
        mark = sheet.marks[plate + 1]
        shapes[verdict] = "circle" if isinstance(mark, Circle) else len(mark.points)  # type: ignore[union-attr]
    assert shapes == {"ok": "circle", "caution": 3, "stop": 8}


def test_what_was_not_measured_is_said_and_hatched() -> None:
    place = door()
    svg = section_svg(place)
    assert "not measured" in [t.text for t in written(svg)]
    assert paths(svg, "hatch-unknown")
    far = replace(place.opening.behind[0].spots[1], radius=mm(140.0))
    glass = replace(place.opening.behind[0], spots=(place.opening.behind[0].spots[0], far))
    svg = section_svg(replace(place, opening=replace(place.opening, behind=(glass,))))
    assert "not measured" not in [t.text for t in written(svg)]
    assert not paths(svg, "hatch-unknown")


def test_figures_stand_on_it() -> None:
    texts = [t.text.replace("\u00a0", " ") for t in written(section_svg(door()))]
    for words in (
        "glass 6.2 mm", "5.3 \u2026 7.1, margin 5.0", "stand-off 14.5 mm",
        "13.2 \u2026 16.0 mm keeps both margins",
        "metal to grille 37.0 mm \u00b1 1.0", "18.0 mm free, 15.3 mm closed", "58.0 mm free on the axis",
        "the tightest place was measured only once",
    ):  # fmt: skip
        assert words in texts
    assert "no stand-off keeps both margins" in [t.text for t in written(section_svg(collision()))]


def test_what_is_missing_is_said_to_be_missing() -> None:
    place = door()
    bare = replace(
        place, opening=replace(place.opening, behind=(), trim_clear=None), fit=fit(14.5, (), None, judged=False),
        foam=replace(place.foam, front=None, land_mm=None),
    )  # fmt: skip
    for medium in MEDIA:
        sheet = section_sheet(bare, medium=medium)
        texts = {t.text for t in written(to_svg(sheet))}
        assert {"grille: not measured", "depth behind: not measured", "stand-offs: not judged yet"} <= texts
        assert overlaps(sheet) == []


def test_inches_where_asked() -> None:
    assert "mm" in " ".join(t.text for t in written(section_svg(tweeter())))
    texts = " ".join(t.text for t in written(section_svg(door(), system="us")))
    assert "mm" not in texts.replace("Demo 165 mm woofer", "")


def test_others_are_not_told_what_the_part_is_made_of() -> None:
    place = door()
    for made in (place.part.material.name, "14.5 mm ASA"):
        assert made in section_svg(place)
        assert made not in section_svg(place, public=True)


def test_a_phone_shows_the_half_that_is_worst_and_says_so() -> None:
    """Measures stand on the drawing with their intervals; what finds no room there stands beside it, never nowhere."""
    place = door("ok")
    low = clearance("rail", -5.5, 3.0, -49.5, 46.0, 270.0)
    place = replace(place, fit=fit(14.5, (*place.fit.clearances, low), (13.2, 16.0)))
    sheet = section_sheet(place, medium="phone")
    texts = [t.text for t in written(to_svg(sheet))]
    assert any(note.endswith("in the half that is not drawn") for note in sheet.notes)  # the glass, above
    assert {"rail \u22125.5\u00a0mm", "\u22126.4 \u2026 \u22124.6", "terminals"} <= set(texts)  # they lie below
    sheet = section_sheet(door("ok"), medium="phone")
    said = " ".join([*(t.text for t in written(to_svg(sheet))), *sheet.notes])
    for name in (
        "grille",
        "trim",
        "foam ring",
        "metal 0.8",
        "screw tail",
        "back gasket",
        "glass",
        "cone at full excursion",
    ):
        assert name in said
    assert sheet.width == 390


@pytest.mark.parametrize("medium", ["screen", "phone"])
def test_a_sheet_on_a_screen_stays_where_it_is(medium: Medium) -> None:
    """Moved within its scale of stand-offs, nothing but what moves is drawn elsewhere."""
    place = door("ok")
    moved = replace(
        place, stack=replace(place.stack, thickness=mm(15.0)), fit=fit(16.5, place.fit.clearances, (13.2, 16.0))
    )
    sheets = [section_sheet(one, medium=medium, heights_mm=(5.0, 25.0)) for one in (place, moved)]
    assert len({(s.width, s.height) for s in sheets}) == 1
    metal, its = ([m for m in s.marks if isinstance(m, Poly) and m.look == "solid"] for s in sheets)
    assert metal == its


def test_the_same_place_gives_the_same_bytes() -> None:
    assert section_svg(door()) == section_svg(door())


def test_themes_change_colors_alone() -> None:
    light, dark = section_svg(door(), "light"), section_svg(door(), "dark")
    body = [svg.split("</style>")[1] for svg in (light, dark)]
    assert body[0] == body[1]
    assert light != dark
