"""Solids against closed forms, against manifold3d, and two dozen random ones (benchmarks/many_solids.py: as many as there is time for)."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
import shapely
from part.specs import PLAIN, full, random_spec

from backwave.errors import BuildError
from backwave.part import AdapterSpec, Groove, Material, RingSpec, shape_checks
from backwave.part.features import Prism, features
from backwave.part.solid import Built, build, build_features, build_ring, mesh, preview_mesh
from backwave.part.solid_checks import facts, solid_checks
from backwave.shape import circle, ellipse, polygon, rounded_polygon

pytestmark = [pytest.mark.kernel, pytest.mark.slow]

ASA = Material("ASA", 1270.0)  # 1.27 g/cm3, as the check value has it


def test_the_plain_ring() -> None:
    # Ring 165/140, 18 mm: pi/4 (D^2 - d^2) h = 107795.898 mm3; 136.9008 g at 1.27 g/cm3 (geometry).
    built = build(PLAIN)
    assert built.solid.volume == pytest.approx(107795.898, rel=1e-6)
    fine = mesh(built.solid)
    assert fine.volume_mm3 == pytest.approx(107795.898, rel=1e-3)
    found = facts(built, fine, ASA)
    assert found.mass_kg == pytest.approx(0.1369008, rel=1e-6)
    assert found.bounds_mm == pytest.approx((165.0, 165.0, 18.0), abs=0.05)
    assert found.wall is not None
    assert found.wall.thickness_mm == pytest.approx(12.5, abs=0.05)
    assert {c.verdict for c in solid_checks(found, PLAIN)} == {"ok"}


@pytest.mark.parametrize(
    "outline", [circle(91.0), ellipse(100.0, 94.0), rounded_polygon([(-95, -95), (95, -95), (95, 95), (-95, 95)], 30.0)]
)
def test_everything_at_once(outline: object) -> None:
    spec = full(outline)  # type: ignore[arg-type]
    built = build(spec)
    assert built.solid.is_valid
    # The plan's sections are another road to the volume; their chord error is 0.002 mm on every wall.
    assert built.solid.volume == pytest.approx(built.plan_mm3, rel=1e-4)
    fine = mesh(built.solid)
    assert fine.closed
    assert fine.volume_mm3 == pytest.approx(built.solid.volume, rel=1e-3)
    found = facts(built, fine, ASA, spec.thickness_mm - 0.5)
    assert {c.verdict for c in solid_checks(found, spec)} == {"ok"}


def test_sections_of_the_mesh_are_the_plan_s() -> None:
    """trimesh cuts the mesh; shapely lays out the plan: the same flat shapes."""
    import trimesh

    spec = replace(full(ellipse(100.0, 94.0)), lettering=None)
    made = features(spec)
    fine = mesh(build(spec).solid)
    body = trimesh.Trimesh(fine.vertices_mm, fine.triangles, process=False)
    assert body.is_watertight
    assert body.is_winding_consistent
    for z in (-1.5, 1.0, 2.5, 6.0, 13.0):
        added = shapely.union_all([p for f in made if f.add and (p := f.at(z))])
        flat = added.difference(shapely.union_all([p for f in made if not f.add and (p := f.at(z))]))
        lines = trimesh.intersections.mesh_plane(body, [0, 0, 1], [0, 0, z])
        cut = shapely.polygonize(shapely.linestrings(np.round(lines[:, :, :2], 5)))
        inside = [p for p in shapely.get_parts(cut) if flat.contains(p.representative_point())]
        assert sum(p.area for p in inside) == pytest.approx(flat.area, rel=2e-3), z


def test_manifold3d_builds_the_same_part() -> None:
    """The plan extruded by another geometry kernel altogether."""
    import manifold3d as m3

    spec = replace(full(), lettering=None, relief_mm=0.0)

    def body(f: Prism) -> m3.Manifold:
        rings = [np.asarray(f.outer.points()), *(np.asarray(o.points()) for o in f.inner)]
        flat = m3.CrossSection(rings, m3.FillRule.EvenOdd)
        low, high = (f.z0_mm, f.z1_mm) if f.add else (f.z0_mm - 0.5 * (f.z0_mm <= -3.0), f.z1_mm + 0.5)
        made = m3.Manifold.extrude(flat, high - low).translate([0.0, 0.0, low])
        assert made.status() == m3.Error.NoError
        return made

    whole = m3.Manifold()
    for f in features(spec):
        assert isinstance(f, Prism)
        if f.add:
            whole += body(f)
    for f in features(spec):
        if isinstance(f, Prism) and not f.add and f.z1_mm >= spec.top_mm:
            whole -= body(f)
        elif isinstance(f, Prism) and not f.add:  # a cut that ends inside: no overshoot upward
            whole -= body(replace(f, z1_mm=f.z1_mm - 0.5))
    assert build(spec).solid.volume == pytest.approx(whole.volume(), rel=2e-4)


def test_a_broken_edge_takes_a_chamfer_and_nothing_else() -> None:
    whole, broken = build(PLAIN).solid.volume, build(replace(PLAIN, edge_mm=1.0))
    # A 45 degree chamfer c on a rim of radius R takes pi c^2 (R - c/3) (Pappus).
    assert whole - broken.solid.volume == pytest.approx(pi * (82.5 - 1.0 / 3.0), rel=1e-4)
    assert broken.left_out == ()


def test_an_edge_that_cannot_be_broken_is_left_and_said() -> None:
    built = build(replace(full(), edge_mm=9.0))  # wider than the land
    assert built.left_out == ("outer edge at the front",)
    checks = solid_checks(facts(built, mesh(built.solid), ASA), full())
    assert [c.verdict for c in checks if c.code == "part.build"] == ["caution"]


def test_a_part_that_falls_apart_names_the_feature() -> None:
    spec = replace(PLAIN, outline=circle(82.5), grooves=())
    made = list(features(spec))
    made.append(Prism("saw cut", polygon([(-100, -1), (100, -1), (100, 1), (-100, 1)]), 0.0, 18.0))
    with pytest.raises(BuildError, match="saw cut could not be built: it leaves 2 pieces"):
        build_features(made)
    with pytest.raises(BuildError, match="nothing is left"):
        build_features([*features(spec), Prism("hole", circle(90.0), 0.0, 18.0)])


def test_a_groove_sunk_or_cut_is_the_same() -> None:
    spec = replace(PLAIN, outline=ellipse(90.0, 84.0), grooves=(Groove("back", "flange", 5.0, 3.0, 2.0),))
    sunk = build(spec).solid
    plain = [replace(f, sunk="") if isinstance(f, Prism) else f for f in features(spec)]
    cut = build_features(plain).solid
    assert sunk.volume == pytest.approx(cut.volume, rel=1e-6)


def test_rings() -> None:
    solid = build_ring(RingSpec(circle(80.0), circle(70.0), 0.6, ((75.0, 0.0, 4.0),))).solid
    assert solid.volume == pytest.approx(0.6 * pi * (6400.0 - 4900.0 - 4.0), rel=1e-6)


def test_a_preview_has_no_lettering() -> None:
    shown = preview_mesh(full())
    assert shown.closed
    assert len(shown.triangles) < len(mesh(build(full()).solid).triangles)


def attempt(spec: AdapterSpec, lettering: bool) -> tuple[Built | None, str]:
    try:
        return build(spec, lettering), ""
    except BuildError as fault:
        return None, str(fault)


@pytest.mark.parametrize("first", range(0, 24, 6))
def test_random_parts_close_or_say_why_not(first: int) -> None:
    for seed in range(first, first + 6):
        spec = random_spec(np.random.default_rng(seed))
        built, fault = attempt(spec, lettering=seed % 5 == 0)
        if built is None:
            # Only a part of which two dimensions said so beforehand may fail; the fault names the feature.
            assert any(c.verdict == "stop" for c in shape_checks(spec)), f"seed {seed}: {fault}"
            continue
        fine = mesh(built.solid)
        assert fine.closed, seed
        assert fine.volume_mm3 == pytest.approx(built.solid.volume, rel=1e-3), seed
        assert len(built.solid.solids()) == 1, seed
