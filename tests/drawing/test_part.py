"""The part's sheet: true circles, every size it is made by, letters that can be read, and what stands on it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from backwave.drawing.part import part_sheet, part_svg
from backwave.drawing.sheet import Circle, Sheet, overlaps
from backwave.drawing.styles import TEXTS
from backwave.finding import Check, Message
from backwave.part.flat_patterns import check_ring
from backwave.part.order import PartOrder
from backwave.part.types import AdapterSpec, Collar, Material, Printer, Zone
from backwave.shape import circle, ellipse
from tests.part.specs import full

CAPITALS = 0.729  # of the em, in the font of the drawings (DejaVu Sans)


def order(spec: AdapterSpec, **more: Any) -> PartOrder:
    return PartOrder(
        "front-door.left", "left", "front-door.left", "Front door, left", spec, Material("ASA", 1070.0, 90.0),
        Printer(), Zone("door", 70.0), None, None, check_ring(spec), **more,
    )  # fmt: skip


def sheet(spec: AdapterSpec, **more: Any) -> tuple[Sheet, list[str]]:
    made = part_sheet(order(spec, **more))
    return made, [mark.text for mark, _ in made.texts()]


@pytest.mark.parametrize(
    ("radius", "scale", "size"), [(95.0, "1:2.5", "⌀190.0"), (92.0, "1:2", "⌀184.0"), (150.0, "1:5", "⌀300.0")]
)
def test_a_round_flange_is_a_circle_with_its_diameter_at_the_largest_scale_that_fits(
    radius: float, scale: str, size: str
) -> None:
    made, words = sheet(full(circle(radius), radius))
    assert size in words
    assert not [word for word in words if re.fullmatch(r"\d+\.\d", word) and abs(float(word) - 2 * radius) < 0.3]
    assert any(f"face {scale}" in word for word in words)
    ratio = 1.0 / float(scale.partition(":")[2])
    assert any(isinstance(m, Circle) and m.radius == pytest.approx(radius * ratio) for m in made.marks)
    assert overlaps(made) == []


def test_every_size_that_it_is_made_by_stands_on_it() -> None:
    spec = replace(full(), recess_mm=2.0, seat_mm=80.0, collar=Collar(82.0, 85.0, 3.0))
    made, words = sheet(spec)
    text = "\n".join(words)
    for wanted in (
        "bore ⌀142.0", "seat ⌀160.0", "collar inside ⌀164.0", "collar outside ⌀170.0", "spigot ⌀153.0", "⌀182.0",
        "groove 3.0 × 2.0 deep", "Chamfer of 3.0 mm × 45°", "ISO 2768-m",
    ):  # fmt: skip
        assert wanted in text.replace("\n", " ") or wanted in text, wanted
    assert overlaps(made) == []


def test_a_flange_that_is_not_round_has_its_width_and_its_height() -> None:
    made, words = sheet(full(ellipse(100.0, 92.0)))
    assert {"200.0", "184.0"} <= set(words)
    assert overlaps(made) == []


def test_capitals_are_tall_enough_to_read() -> None:
    for spec in (full(), full(ellipse(100.0, 92.0))):
        made, _ = sheet(spec)
        least = min(TEXTS[mark.look].size for mark, _ in made.texts()) * made.text_unit * CAPITALS
        assert least >= 1.8, least  # ISO 3098-1


def test_what_it_is_made_against_stands_at_the_head() -> None:
    stop = Check("fit.glass", "stop", Message("Would touch"), remedy=Message("Raise it"))
    made, words = sheet(full(), stopped=(stop,), anyway="the window stays shut", flags=("terminals not measured",))
    assert "STOPPED: made anyway: the window stays shut" in words
    assert "terminals not measured" in words
    assert overlaps(made) == []
    plain, _ = sheet(full())
    assert made.height > plain.height
    assert "STOPPED" in part_svg(order(full(), stopped=(stop,), anyway="so"), "paper")
