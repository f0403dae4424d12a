"""A harness over several pages: what fits stays whole, and no text is lost or cut where it does not."""

from __future__ import annotations

import re

import pytest

from backwave.assess.power.results import Harnessed
from backwave.drawing.harness import harness_pages, harness_sheet
from backwave.drawing.styles import TEXTS
from backwave.power.harness import Device
from tests.drawing.demo_harness import harness
from tests.drawing.reading import font, written

A4 = (260.0, 147.0)  # a page on its side, less its title


def rows(channels: int, chain: int = 3, joined: bool = True) -> Harnessed:
    """So many rows of so many devices, all of them on one amplifier, or each row by itself."""
    devices = [Device("amp", "source", tuple(f"{n}+" for n in range(channels)))] if joined else []
    wires = []
    for n in range(channels):
        before = f"amp.{n}+" if joined else None
        for k in range(chain):
            name = f"d{n}-{k}"
            devices.append(Device(name, "part", ("in", "out"), f"device {k} of row {n}"))
            if before is not None:
                wires.append((before, f"{name}.in", f"w{n}-{k} GY/RD 0.75"))
            before = f"{name}.out"
    return harness(devices, wires)


def scale(page: object) -> float:
    """Millimeters a sheet unit, from the picture itself."""
    box = re.search(r'viewBox="[\d.]+ [\d.]+ ([\d.]+) ([\d.]+)"', page.svg)  # type: ignore[attr-defined]
    assert box is not None
    return page.width_mm / float(box[1])  # type: ignore[attr-defined,no-any-return]


def test_a_small_harness_is_one_page_not_blown_up() -> None:
    (page,) = harness_pages(rows(2), "of a test", *A4)
    assert page.caption == ""
    assert page.width_mm < A4[0]
    assert page.height_mm < A4[1]


@pytest.mark.parametrize(("channels", "chain", "joined"), [(24, 3, True), (4, 14, True), (24, 8, True), (30, 2, False)])
def test_every_text_of_a_large_one_stands_whole_on_a_page_and_can_be_read(
    channels: int, chain: int, joined: bool
) -> None:
    made = rows(channels, chain, joined)
    pages = harness_pages(made, "of a test", *A4)
    assert len(pages) > 1
    seen: set[str] = set()
    for page in pages:
        assert page.width_mm <= A4[0] + 1e-6
        assert page.height_mm <= A4[1] + 1e-6
        # ISO 3098-1: 1,8 mm is the least nominal size of lettering
        capitals = font(False).getbbox("H", anchor="ls")[1] / -1000
        assert TEXTS["note"].size * capitals * scale(page) >= 1.8 - 1e-6
        seen |= {one.text for one in written(page.svg)}
    wanted = (
        {mark.text for mark, _ in harness_sheet(made, "of a test").texts()}
        if joined
        else {d.id for d in made.harness.devices}
    )
    assert not wanted - seen


def test_a_window_holds_no_text_outside_it() -> None:
    for page in harness_pages(rows(24), "of a test", *A4):
        box = re.search(r'viewBox="([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+)"', page.svg)
        assert box is not None
        x, y, w, h = map(float, box.groups())
        found = written(page.svg)  # by the font's own ink
        assert found
        for one in found:
            assert x <= one.left < one.right <= x + w, one
            assert y <= one.top < one.bottom <= y + h, one
