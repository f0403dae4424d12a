"""The least wall, measured on meshes that manifold3d made: an independent library, walls known by construction."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin

import manifold3d
import numpy as np
import pytest

from backwave.part.solid import Mesh
from backwave.part.solid_checks import least_wall


def as_mesh(solid: manifold3d.Manifold) -> Mesh:
    assert solid.status() == manifold3d.Error.NoError
    raw = solid.to_mesh()
    return Mesh(np.asarray(raw.vert_properties, float)[:, :3], np.asarray(raw.tri_verts, np.int64))


def cylinder(radius: float, height: float, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> manifold3d.Manifold:
    return manifold3d.Manifold.cylinder(height, radius, radius, 256).translate([x, y, z])


def box(x: float, y: float, z: float) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube([x, y, z], True)


def test_a_slab() -> None:
    found = least_wall(as_mesh(box(40.0, 30.0, 2.0)))
    assert found is not None
    assert found.thickness_mm == pytest.approx(2.0)
    assert found.upright
    side = least_wall(as_mesh(box(1.5, 30.0, 20.0)))
    assert side is not None
    assert side.thickness_mm == pytest.approx(1.5)
    assert not side.upright


def test_a_hole_near_the_rim() -> None:
    # Ring 82.5/70, a hole of 5.6 whose edge is 1.3 mm from the rim: 82.5 - 78.4 - 2.8.
    ring = cylinder(82.5, 18.0) - cylinder(70.0, 20.0, z=-1.0) - cylinder(2.8, 20.0, 78.4, 0.0, -1.0)
    found = least_wall(as_mesh(ring))
    assert found is not None
    assert found.thickness_mm == pytest.approx(82.5 - 78.4 - 2.8, abs=0.05)  # facets of a 256-sided circle
    assert hypot(found.at_mm[0] - 78.4, found.at_mm[1]) < 6.0


def test_a_floor_under_a_blind_hole() -> None:
    found = least_wall(as_mesh(box(30.0, 30.0, 10.0) - cylinder(4.0, 20.0, z=-4.2)))
    assert found is not None
    assert found.thickness_mm == pytest.approx(0.8)
    assert found.upright


def test_a_leaning_wall_is_thinnest_at_its_thin_end() -> None:
    # A cone bored 30 mm at the bottom, 20 mm at the top, in a pipe of radius 31: 1 mm left at the bottom.
    pipe = cylinder(31.0, 10.0) - manifold3d.Manifold.cylinder(10.0, 30.0, 20.0, 256)
    found = least_wall(as_mesh(pipe))
    assert found is not None
    assert 0.9 < found.thickness_mm < 1.2
    assert found.at_mm[2] < 0.1


def test_a_corner_is_no_wall_and_a_gap_is_no_wall() -> None:
    # Two slots 0.5 mm wide: the material between is 6 mm; the slots themselves are air.
    block = box(40.0, 20.0, 20.0)
    for x in (-3.25, 3.25):
        block -= box(0.5, 30.0, 30.0).translate([x, 0.0, 18.0])
    found = least_wall(as_mesh(block))
    assert found is not None
    assert found.thickness_mm == pytest.approx(6.0)


@pytest.mark.parametrize("seed", range(8))
def test_holes_anywhere(seed: int) -> None:
    rng = np.random.default_rng(seed)
    plate, edges = cylinder(60.0, 8.0), []
    spots: list[tuple[float, float, float]] = []
    while len(spots) < 5:
        r, a, d = rng.uniform(0.0, 50.0), rng.uniform(0.0, 360.0), rng.uniform(2.0, 6.0)
        x, y = r * cos(radians(a)), r * sin(radians(a))
        if all(hypot(x - u, y - v) > d + e + 0.8 for u, v, e in spots) and r + d < 59.2:
            spots.append((x, y, d))
            plate -= cylinder(d, 10.0, x, y, -1.0)
    edges += [60.0 - hypot(x, y) - d for x, y, d in spots]
    edges += [hypot(a[0] - b[0], a[1] - b[1]) - a[2] - b[2] for k, a in enumerate(spots) for b in spots[k + 1 :]]
    found = least_wall(as_mesh(plate))
    assert found is not None
    # Rays start in the middles of facets: not every wall is met at its thinnest point, none is missed by much.
    assert found.thickness_mm == pytest.approx(min(*edges, 8.0), rel=0.05, abs=0.1)


def test_closed_open_and_inside_out() -> None:
    good = as_mesh(box(10.0, 10.0, 10.0))
    assert good.closed
    assert good.volume_mm3 == pytest.approx(1000.0)
    assert good.bounds_mm == ((-5.0, -5.0, -5.0), (5.0, 5.0, 5.0))
    assert not Mesh(good.vertices_mm, good.triangles[:-1]).closed
    assert not Mesh(good.vertices_mm, np.vstack((good.triangles[:-1], good.triangles[-1:, ::-1]))).closed
    assert Mesh(good.vertices_mm, good.triangles[:, ::-1]).volume_mm3 == pytest.approx(-1000.0)
    assert as_mesh(cylinder(10.0, 5.0)).volume_mm3 == pytest.approx(pi * 500.0, rel=2e-4)
