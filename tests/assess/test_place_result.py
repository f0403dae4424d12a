"""A place's result is one value that everything reads: nothing alive in it, nothing computed from it twice."""

from __future__ import annotations

import pickle
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

import pytest
from pydantic import BaseModel

import backwave
from backwave.assess import Assessment, Memo, PlaceResult, assess
from backwave.assess.memo import digest
from backwave.drawing.dimensions import Figures
from backwave.drawing.face import face_sheet, face_svg
from backwave.drawing.section import section_svg
from backwave.drawing.section_parts import SectionCut
from backwave.drawing.sheet import Circle, Poly
from backwave.finding import Ledger
from backwave.job import Job, Place, load, loads
from backwave.plain_text import file_stem
from backwave.stock import Stock

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job"
TEXT = (DEMO / "job.toml").read_text(encoding="utf-8")
ROOT = Path(backwave.__file__).parent


@cache
def demo() -> Assessment:
    return assess(load(DEMO), draws=4_000)


def values(value: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Everything that a value holds, with where."""
    yield path, value
    if is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from values(getattr(value, field.name), f"{path}.{field.name}")
    elif isinstance(value, tuple):
        for i, item in enumerate(value):
            yield from values(item, f"{path}[{i}]")


@pytest.mark.parametrize("number", range(3))
def test_it_is_a_value(number: int) -> None:
    place = demo().places[number]
    twin = pickle.loads(pickle.dumps(place))
    assert digest(twin) == digest(place)
    alive = [
        path
        for path, value in values(place, place.subject)
        if isinstance(value, BaseModel | Stock | Ledger | Memo | Job | Place | dict | list | set) or callable(value)
    ]
    assert alive == []


def test_what_is_made_belongs_to_its_place() -> None:
    result = demo()
    assert [part.subject for part in result.parts] == [place.subject for place in result.places]
    for place in result.places:
        assert place.part.spec is place.spec
        assert place.fit.seat_height_mm == pytest.approx(place.seat_height_mm)


def test_the_hole_leaves_the_job_once() -> None:
    """Clearance, spigot, gauge and drawing all stand on the one reading: the mean of the list."""
    text = TEXT.replace('hole    = { diameter = "', 'hole    = { diameter = ["143 mm", "145 mm", "', 1).replace(
        '", by = "caliper" }', '"], by = "caliper" }', 1
    )
    place = assess(loads(text), draws=500).places[0]
    hole = place.opening.hole
    assert hole is not None
    assert hole.taken == 3
    assert place.opening.hole_radius_mm == hole.value / 2
    assert place.part.stand_in is not None
    assert place.part.stand_in.rim_mm > hole.value / 2
    assert SectionCut(place, False, Figures("metric"), (0.0, 40.0)).hole == {
        "up": hole.value / 2,
        "down": hole.value / 2,
    }
    hidden = [m for m in face_sheet(place).marks if isinstance(m, Poly) and m.look == "hidden"]
    scale = next(m for m in face_sheet(place).marks if isinstance(m, Circle) and m.look == "body-driver").radius / (
        place.frame_mm / 2
    )
    across = [max(x for x, _ in m.points) - min(x for x, _ in m.points) for m in hidden]
    assert max(across) / scale == pytest.approx(hole.value)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_its_drawings_speak_the_units_of_the_person(system: str) -> None:
    for place in demo().places:
        for svg in (section_svg(place, "paper", system=system), face_svg(place, "paper", system=system)):
            bare = svg.replace(place.speaker_name, "")
            assert (" mm" in bare) == (system == "metric"), place.subject
            assert bool(re.search(r"\d in\b", bare)) == (system == "us"), place.subject


def test_a_clearance_is_drawn_on_the_side_where_it_is() -> None:
    """Two things of one word, one above and one below: the gap is drawn at the nearer."""
    text = TEXT.replace(
        "behind  = [",
        'behind  = [ { what = "beam", radius = "40 mm", clear = "200 mm", angle = "90 deg" },\n'
        '{ what = "beam", radius = "40 mm", clear = "62 mm", angle = "270 deg" },\n',
        1,
    )
    assert text != TEXT
    place = assess(loads(text), draws=500).places[0]
    gap = next(g for g in SectionCut(place, False, Figures("metric"), (0.0, 40.0)).gaps if g.name == "beam")
    assert gap.a[1] < 0


def test_no_result_is_a_drawing() -> None:
    kinds = {type(value).__module__ for place in demo().places for _, value in values(place)}
    assert not [kind for kind in kinds if kind.startswith("backwave.drawing")]
    assert isinstance(demo().places[0], PlaceResult)


def test_parts_whose_names_run_together_have_folders_of_their_own() -> None:
    """Opening a with speaker b-c, and opening a-b with speaker c: both are a-b-c."""
    blocks = re.split(r"\n(?=\[\[)", TEXT)

    def block(table: str, id_: str) -> str:
        return next(b for b in blocks if b.startswith(f"[[{table}]]") and re.search(rf'^\w+ *= "{id_}"', b, re.M))

    wall, driver, part = (block("opening", "cargo-wall"), block("speaker", "demo-130"), block("adapter", "cargo-wall"))
    text = "format = 1\ntitle = 'twins'\n\n[instruments]\ncaliper = '0.05 mm'\ngauge = '0.3 mm'\n"
    for opening, speaker in (("a", "b-c"), ("a-b", "c")):
        text += "\n" + wall.replace('"cargo-wall"', f'"{opening}"')
        text += "\n" + driver.replace('"demo-130"', f'"{speaker}"')
        text += "\n" + part.replace('"cargo-wall"', f'"{opening}"').replace('"demo-130"', f'"{speaker}"')
    found = assess(loads(text), draws=1_000, whole=False).parts
    assert [part.subject for part in found] == ["a", "a-b"]
    assert len({file_stem(part.id) for part in found}) == 2
    assert all(part.id.startswith("a-b-c-") for part in found)
    alone = assess(loads(text.replace('"b-c"', '"b-d"')), draws=1_000, whole=False).parts
    assert [part.id for part in alone] == ["a-b-d", "a-b-c"]  # nothing is added where nothing runs together
