"""The part in two dimensions: volumes and sections against closed forms."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi, sqrt

import pytest
from part.specs import PLAIN, full

from backwave.errors import BuildError, InputError
from backwave.part import AdapterSpec, Collar, Fixing, Groove, Notch, RingSpec, Spigot, Thread, section
from backwave.part.features import features, inner_walls, nut_pocket, plan_volume_mm3, radial_section, ring_features
from backwave.part.types import LipRelief
from backwave.shape import circle, ellipse

CLOSE = 1e-4  # relative: sections are polygons with a chord error of 0.002 mm


def volume(spec: AdapterSpec) -> float:
    return plan_volume_mm3(features(spec, lettering=False))


def test_the_plain_ring() -> None:
    # pi/4 (165^2 - 140^2) 18 = 107795.898 mm3 (geometry).
    assert volume(PLAIN) == pytest.approx(107795.898, rel=CLOSE)


def test_each_feature_takes_or_adds_what_its_form_says() -> None:
    whole = volume(PLAIN)
    frustum = pi / 3.0 * 3.0 * (73.0**2 + 73.0 * 70.0 + 70.0**2) - pi * 70.0**2 * 3.0
    assert whole - volume(replace(PLAIN, relief_mm=3.0)) == pytest.approx(frustum, rel=2e-3)
    recess = pi * (76.0**2 - 70.0**2) * 2.5
    assert whole - volume(replace(PLAIN, recess_mm=2.5, seat_mm=76.0)) == pytest.approx(recess, rel=2e-3)
    spigot = pi * (74.0**2 - 70.0**2) * 4.0
    assert volume(replace(PLAIN, spigot=Spigot(74.0, 4.0))) - whole == pytest.approx(spigot, rel=2e-3)
    groove = pi * (77.5**2 - 74.5**2) * 2.0
    assert whole - volume(replace(PLAIN, grooves=(Groove("back", "flange", 6.5, 3.0, 2.0),))) == pytest.approx(
        groove, rel=2e-3
    )
    fixing = Fixing(76.0, 0.0, 5.5, 10.0, 6.0)
    hole = pi / 4.0 * (5.5**2 * 12.0 + 10.0**2 * 6.0)
    assert whole - volume(replace(PLAIN, fixings=(fixing,))) == pytest.approx(hole, rel=2e-3)
    nut = Thread(0.0, 76.0, "nut", "M4", 4.5, nut_flats_mm=7.3, nut_height_mm=3.4)
    # A regular hexagon of width f across flats has the area sqrt(3)/2 f^2 (geometry).
    taken = sqrt(3.0) / 2.0 * 7.3**2 * 3.4 + pi / 4.0 * 4.5**2 * (18.0 - 3.4)
    assert whole - volume(replace(PLAIN, threads=(nut,))) == pytest.approx(taken, rel=2e-3)
    blind = Thread(0.0, 76.0, "insert", "M4", 5.6, 9.0)
    assert whole - volume(replace(PLAIN, threads=(blind,))) == pytest.approx(pi / 4 * 5.6**2 * 9.0, rel=3e-3)


def test_a_nut_pocket_is_as_wide_as_its_nut_and_turns_a_flat_to_the_axis() -> None:
    pocket = nut_pocket(Thread(50.0, 50.0, "nut", "M4", 4.5, nut_flats_mm=7.3, nut_height_mm=3.4))
    assert pocket.area_mm2 == pytest.approx(sqrt(3.0) / 2.0 * 7.3**2)
    # Toward the axis the edge is half the width across flats away.
    assert pocket.inside_mm(50.0, 50.0) == pytest.approx(7.3 / 2.0)
    near = min(hypot(x, y) for x, y in pocket.points())
    assert hypot(50.0, 50.0) - near < 7.3 / 2.0 + 0.6


def test_a_thin_spigot_is_dropped() -> None:
    kept, thin = replace(PLAIN, spigot=Spigot(70.9, 3.0)), replace(PLAIN, spigot=Spigot(70.8, 3.0))
    assert kept.keeps_spigot
    assert not thin.keeps_spigot
    assert volume(thin) == volume(PLAIN)
    # The relief widens the bore inside the spigot too.
    assert not replace(kept, relief_mm=0.5).keeps_spigot


def test_a_section_is_the_material_at_a_height() -> None:
    spec = replace(full(), lettering=None)
    # From the back: in the groove, above it in the flange, in the spigot.
    at = {z: section(spec, z).area for z in (-1.0, 1.0, 3.5, 13.0)}
    assert at[-1.0] < at[1.0] < at[3.5]
    flange = pi * (91.0**2 - 71.0**2)
    assert at[13.0] < flange
    assert section(spec, 14.5).is_empty


def test_what_cannot_be_laid_out_is_named() -> None:
    with pytest.raises(BuildError, match="tilted seat"):
        features(replace(PLAIN, tilt_deg=5.0))
    with pytest.raises(BuildError, match="notch at 30 deg"):
        features(replace(PLAIN, notches=(Notch(30.0, 150.0, 3.0),)))
    with pytest.raises(BuildError, match="groove"):
        features(replace(PLAIN, outline=ellipse(90.0, 80.0), grooves=(Groove("back", "flange", 85.0, 3.0, 2.0),)))


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"thickness_mm": -1.0}, "thickness"),
        ({"recess_mm": 2.0, "seat_mm": 60.0}, "recessed seat"),
        ({"recess_mm": 18.0, "seat_mm": 75.0}, "recess"),
        ({"bore_mm": 0.0}, "bore"),
    ],
)
def test_numbers_that_make_no_part_are_refused(change: dict[str, float], what: str) -> None:
    with pytest.raises(InputError, match=what):
        replace(PLAIN, **change)


def test_a_ring() -> None:
    ring = RingSpec(circle(80.0), circle(70.0), 6.0, ((75.0, 0.0, 4.0),))
    assert plan_volume_mm3(ring_features(ring)) == pytest.approx(6.0 * pi * (6400.0 - 4900.0 - 4.0), rel=1e-3)


def test_the_inner_walls_are_the_inside_of_the_cut_through_the_axis() -> None:
    """The nearest material to the axis at each height, out of the flat pieces of the section itself."""
    import shapely

    for spec in (full(), replace(full(), spigot=None, recess_mm=3.0, seat_mm=82.5), replace(full(), relief_mm=0.0),
                 replace(full(), collar=Collar(82.5, 88.0, 4.0))):  # fmt: skip
        cut = shapely.union_all([shapely.Polygon(outer, holes) for outer, holes in radial_section(spec, 60.0)])
        for name, z0, r0, z1, r1 in inner_walls(spec):
            for share in (0.02, 0.5, 0.98):
                z = z0 + share * (z1 - z0)
                ray = shapely.LineString([(0.0, z), (200.0, z)])
                assert cut.intersection(ray).bounds[0] == pytest.approx(r0 + share * (r1 - r0), abs=5e-3), (name, z)


def test_a_relief_for_a_lip_is_sunk_into_the_back_beside_the_spigot() -> None:
    base = replace(full(), notches=(), grooves=(), fixings=(), threads=())
    lipped = replace(base, lip=LipRelief(circle(79.0), 2.0))
    ring = pi * (79.0**2 - 76.5**2) * 2.0
    assert volume(base) - volume(lipped) == pytest.approx(ring, rel=2e-3)
    bare = replace(base, spigot=None, relief_mm=0.0)
    step = pi * (79.0**2 - 71.0**2) * 2.0
    assert volume(bare) - volume(replace(bare, lip=LipRelief(circle(79.0), 2.0))) == pytest.approx(step, rel=2e-3)
