"""Places from distances: against geometry that is known, and against a slip of the pen."""

from __future__ import annotations

from itertools import combinations
from math import atan2, degrees, hypot, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.shape.positions import Dot, Span, located

HOLE = 71.75
CIRCLE = 80.5  # three fixings a third of a turn apart lie on it: sqrt(3) x 80.5 = 139.430 mm from each other
THREE = {"fixing 1": (0.0, 80.5), "fixing 2": (-69.715, -40.25), "fixing 3": (69.715, -40.25)}
RADIUS = 2.75


def dots(places: dict[str, tuple[float, float]], rough_deg: float = 0.0) -> dict[str, Dot]:
    """With the directions as a fitter says them; all but the first out by so much."""
    return {
        name: Dot(RADIUS, None, degrees(atan2(y, x)) + (rough_deg if n else 0.0))
        for n, (name, (x, y)) in enumerate(places.items())
    }


def measured(places: dict[str, tuple[float, float]], u_mm: float = 0.3) -> list[Span]:
    """Every distance there is, between centers; and from each to the hole's edge, between edges."""
    found = [
        Span(a, b, hypot(places[a][0] - places[b][0], places[a][1] - places[b][1]), u_mm)
        for a, b in combinations(places, 2)
    ]
    return found + [Span(a, "hole edge", hypot(*places[a]) - HOLE - RADIUS, u_mm, -1) for a in places]


def test_three_fixings_as_a_person_measures_them() -> None:
    apart = sqrt(3.0) * CIRCLE
    spans = [Span(a, b, apart, 0.3) for a, b in combinations(THREE, 2)]
    spans += [Span("fixing 1", "hole edge", 80.5 - 71.75 - 2.75, 0.3, -1)]  # 6.0 mm from edge to edge
    found = located(dots(THREE, rough_deg=20.0), HOLE, spans)
    # The triangle is known, and one of its corners lies on the axis; the rest of it can still swing about that corner.
    assert set(found.loose) == {"fixing 2", "fixing 3"}
    spans += [Span("fixing 2", "hole edge", 6.0, 0.3, -1)]
    found = located(dots(THREE, rough_deg=20.0), HOLE, spans)
    assert found.loose == ()
    for name, (x, y) in THREE.items():
        assert found.at_mm[name][:2] == pytest.approx((x, y), abs=0.01)
    assert found.misfit_mm < 0.01
    assert found.wrong == ()


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(55, 110), st.floats(-12, 12)), min_size=3, max_size=6), st.integers(0, 2**31))
def test_known_geometry_comes_back(radii: list[tuple[float, float]], seed: int) -> None:
    """Fixings anywhere about the hole; readings out by what they may be; places within what is said of them."""
    places = {}
    for n, (r, off) in enumerate(radii):
        deg = np.radians(90.0 - 360.0 * n / len(radii) + (off if n else 0.0))
        places[f"fixing {n + 1}"] = (r * float(np.cos(deg)), r * float(np.sin(deg)))
    rng = np.random.default_rng(seed)
    exact = measured(places)
    noisy = [Span(s.a, s.b, s.mm + float(rng.normal(0.0, 0.1)), 0.1, s.ends) for s in exact]
    for spans, within in ((exact, 0.01), (noisy, None)):
        found = located(dots(places, rough_deg=10.0), HOLE, spans)
        for name, (x, y) in places.items():
            fx, fy, u = found.at_mm[name]
            assert hypot(fx - x, fy - y) < (within or 6.0 * sqrt(2.0) * u + 0.01)


def test_across_and_axis() -> None:
    spans = [
        Span("fixing 1", "axis", 80.5, 0.3), Span("fixing 2", "axis", 80.5, 0.3),
        Span("fixing 1", "fixing 2", sqrt(3.0) * CIRCLE + 2 * RADIUS, 0.3, +1),  # outer edge to outer edge
    ]  # fmt: skip
    two = {name: THREE[name] for name in ("fixing 1", "fixing 2")}
    found = located(dots(two, rough_deg=15.0), 0.0, spans)
    assert found.at_mm["fixing 2"][:2] == pytest.approx(THREE["fixing 2"], abs=0.01)


@pytest.mark.parametrize("slip", range(6))
def test_one_distance_mistyped_is_named(slip: int) -> None:
    """139.4 typed as 149.4: with every distance measured, whichever it is."""
    square = {"fixing 1": (0.0, 80.0), "fixing 2": (-80.0, 0.0), "fixing 3": (0.0, -80.0), "fixing 4": (80.0, 0.0)}
    spans = measured(square)
    spans[slip] = Span(spans[slip].a, spans[slip].b, spans[slip].mm + 10.0, 0.3, spans[slip].ends)
    found = located(dots(square, rough_deg=8.0), HOLE, spans)
    assert found.wrong == (slip,)
    assert found.wrong_mm == pytest.approx(10.0, abs=1.0)
    assert found.misfit_mm > 0.3
    assert max(u for _, _, u in found.at_mm.values()) > 1.0, "how sure says that they do not agree"


def test_where_nothing_tells_which_it_is_none_is_named() -> None:
    """One distance more than needed: all of them fit equally badly."""
    spans = [Span(a, b, sqrt(3.0) * CIRCLE, 0.3) for a, b in combinations(THREE, 2)]
    spans += [Span(name, "axis", CIRCLE, 0.3) for name in THREE]
    spans[0] = Span(spans[0].a, spans[0].b, spans[0].mm + 12.0, 0.3)
    found = located(dots(THREE), 0.0, spans)
    assert found.wrong == tuple(range(6))


def test_without_a_direction_nothing_has_a_place() -> None:
    found = located({name: Dot(RADIUS) for name in THREE}, HOLE, measured(THREE))
    assert set(found.loose) == set(THREE)
    assert found.at_mm == {}


def test_places_that_are_known_are_checked() -> None:
    fixed = {name: Dot(RADIUS, place) for name, place in THREE.items()}
    spans = measured(THREE)
    assert located(fixed, HOLE, spans).wrong == ()
    spans[1] = Span(spans[1].a, spans[1].b, spans[1].mm + 5.0, 0.3)
    assert located(fixed, HOLE, spans).wrong == (1,)
