"""STEP: read back whole, and refused when the kernel writes something else than it has."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from backwave.errors import BuildError
from backwave.files.solid_files import read_step, write_step
from backwave.part.solid import build
from backwave.part.types import AdapterSpec
from backwave.shape import circle, smooth

pytestmark = [pytest.mark.kernel, pytest.mark.slow]

TURN = np.linspace(0.0, 2.0 * pi, 24, endpoint=False)
RADIUS = 90.0 + 2.0 * np.cos(3.0 * TURN)
FREE = smooth(np.column_stack((RADIUS * np.cos(TURN), RADIUS * np.sin(TURN))))


def test_a_ring_comes_back_with_its_closed_form_volume(tmp_path: Path) -> None:
    found = write_step(build(AdapterSpec(circle(82.5), 18.0, 70.0)).solid, tmp_path / "ring.step", "ring")
    # pi/4 (165^2 - 140^2) 18 = 107795.898 mm3; a ring has four faces.
    assert found.volume_read_mm3 == pytest.approx(107795.898, rel=1e-8)
    assert found.faces == found.faces_read == 4
    text = (tmp_path / "ring.step").read_text()
    # ISO 10303-21: the header names the schema, here that of ISO 10303-214; lengths in millimeters.
    assert text.startswith("ISO-10303-21;")
    assert "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }" in text
    assert "SI_UNIT(.MILLI.,.METRE.)" in text
    assert "'ring'" in text
    assert [p.name for p in tmp_path.iterdir()] == ["ring.step"]


def test_same_part_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_step(build(AdapterSpec(circle(82.5), 18.0, 70.0)).solid, tmp_path / f"{name}.step", "ring")
    assert (tmp_path / "a.step").read_bytes() == (tmp_path / "b.step").read_bytes()


def test_a_free_form_ring_comes_back(tmp_path: Path) -> None:
    built = build(AdapterSpec(FREE, 12.0, 60.0, relief_mm=3.0))
    found = write_step(built.solid, tmp_path / "free.step")
    assert found.faces == found.faces_read
    assert found.volume_read_mm3 == pytest.approx(found.volume_mm3, rel=1e-6)
    # Outline by Green's theorem, less a cylinder and what a 45 degree chamfer of 3 mm takes off the bore.
    frustum = pi * 3.0 / 3.0 * (63.0**2 + 63.0 * 60.0 + 60.0**2)
    assert found.volume_read_mm3 == pytest.approx(FREE.area_mm2 * 12.0 - pi * 60.0**2 * 9.0 - frustum, rel=1e-6)
    assert len(read_step(tmp_path / "free.step").solids()) == 1


def test_faces_that_are_lost_are_an_error_and_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import build123d

    solid = build(AdapterSpec(circle(82.5), 18.0, 70.0)).solid
    other = build(AdapterSpec(circle(82.5), 18.0, 70.0, recess_mm=2.0, seat_mm=75.0)).solid
    true = build123d.export_step

    def loses(_: object, path: str, **__: object) -> bool:
        return bool(true(other, path))

    monkeypatch.setattr(build123d, "export_step", loses)
    with pytest.raises(BuildError, match="4 faces written, 6 read back"):
        write_step(solid, tmp_path / "ring.step")
    assert not list(tmp_path.iterdir())


def test_two_bodies_are_not_one_part(tmp_path: Path) -> None:
    from build123d import Compound, Solid

    pair = Compound([Solid.make_box(1, 1, 1), Solid.make_box(1, 1, 1).moved(build_location(5.0))])
    with pytest.raises(BuildError, match="2 bodies"):
        write_step(pair, tmp_path / "pair.step")
    assert not list(tmp_path.iterdir())


def build_location(x: float) -> object:
    from build123d import Location

    return Location((x, 0.0, 0.0))
