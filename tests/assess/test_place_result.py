"""A place's result is one value that everything reads: nothing alive in it, nothing computed from it twice."""

from __future__ import annotations

import ast
import pickle
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pydantic import BaseModel

import backwave
from backwave.assess import Assessment, Memo, PlaceResult, assess
from backwave.assess.memo import digest
from backwave.assess.place_views import face_view, section_view
from backwave.assumptions import Ledger
from backwave.drawing import face_svg, section_svg
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
    assert section_view(place).hole_up_mm == hole.value / 2
    reach = max(float(np.hypot(x, y)) for x, y in face_view(place).hole_mm)
    assert reach == pytest.approx(hole.value / 2)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_its_drawings_speak_the_units_of_the_person(system: str) -> None:
    for place in demo().places:
        for svg in (
            section_svg(section_view(place, system), "paper", system=system),
            face_svg(face_view(place, system), "paper", system=system),
        ):
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
    gap = next(c for c in section_view(place).clearances if c.name == "beam")
    assert gap.a_mm[1] < 0


DRAW = {"section_view", "face_view"}
DRAWN = {"section_svg", "section_sheet", "face_svg", "face_sheet", "kept"}


def test_only_drawings_read_what_drawings_are_told() -> None:
    """What fills a drawing goes into the drawing, at once or through one name; nothing else is read from it."""
    users = {}
    for path in ROOT.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") in DRAW]
        if calls:
            users[path.relative_to(ROOT).as_posix()] = (tree, calls)
    assert set(users) == {
        "bench/pages/face.py", "bench/pages/section.py", "dossier/drawings.py", "dossier/pack.py",
        "dossier/showcase_page.py", "make.py",
    }  # fmt: skip
    for name, (tree, calls) in users.items():
        drawn = {
            id(argument)
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in DRAWN | {"replace"}
            for argument in node.args
        }
        named = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Assign) and len(node.targets) == 1}
        assert all(id(call) in drawn | named for call in calls), name
        fields_read = {"seat", "driver", "clearances", "obstacles", "skin_mm", "foam", "turn_deg", "fixings"}
        held = {
            target.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign) and node.value in calls
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        read = {
            node.attr
            for node in ast.walk(tree)
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in held
        }
        assert not read & fields_read, name


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
