"""The way in of a driver that has to be tilted, against solids of an outside kernel at every step of it."""

from __future__ import annotations

import manifold3d as m3
import numpy as np
import pytest

from backwave.fit.assembly import Block, Passage, Revolved
from backwave.fit.tilt_in import MAX_TILT_DEG, Tilt, way_in

FRAME, SEAT, SKIN = 83.0, 12.0, 0.8
PROFILE = ((66.0, 0.0), (60.0, 14.0), (46.0, 34.0), (46.0, 60.0))
FAR = 300.0


def passages(bore: float, hole: float = 75.0) -> tuple[Passage, ...]:
    return Passage("hole", -SKIN, 0.0, hole, hole), Passage("bore", 0.0, SEAT, bore, bore)


def tried(bore: float, radius: float, start: float = 14.0, depth: float = 30.0) -> Tilt | None:
    return way_in(Revolved(PROFILE, SEAT), FRAME, Block(radius, 30.0, start, depth, 0.0), passages(bore))


def solid(radius: float, start: float, depth: float) -> m3.Manifold:
    """Revolved basket, frame and a block of terminals; the mounting side at z = 0, its back below."""
    outline = [(0.0, 0.0), *((r, -d) for r, d in PROFILE), (0.0, -PROFILE[-1][1])]
    basket = m3.Manifold.revolve(m3.CrossSection([np.array(outline[::-1])], m3.FillRule.Positive), 96)
    frame = m3.Manifold.cylinder(4.0, FRAME, FRAME, 96)
    block = m3.Manifold.cube((radius, 30.0, depth - start)).translate((0.0, -15.0, -depth))
    return basket + frame + block


def part(bore: float, hole: float = 75.0) -> m3.Manifold:
    def ring(z: float, height: float, inner: float) -> m3.Manifold:
        outer = m3.Manifold.cylinder(height, FAR, FAR, 96) - m3.Manifold.cylinder(height, inner, inner, 180)
        return outer.translate((0.0, 0.0, z))

    return ring(0.0, SEAT, bore) + ring(-SKIN, SKIN, hole)


def overlap(at: tuple[float, float, float], body: m3.Manifold, made: m3.Manifold) -> float:
    tilt, x, z = at
    return float((body.rotate((0.0, tilt, 0.0)).translate((x, 0.0, z)) ^ made).volume())


@pytest.mark.parametrize(("bore", "radius"), [(67.5, 70.0), (67.5, 73.0), (69.0, 76.0)])
def test_every_step_of_the_way_is_clear_as_solids(bore: float, radius: float) -> None:
    way = tried(bore, radius)
    assert way is not None
    assert 0.0 < way.most_deg <= MAX_TILT_DEG
    body, made = solid(radius, 14.0, 30.0), part(bore)
    assert overlap((0.0, 0.0, SEAT + 10.0), body, made) > 100.0  # straight in, its terminals hit
    assert way.path[0] == (0.0, 0.0, SEAT)
    for one, following in zip(way.path, way.path[1:]):
        between = tuple((a + b) / 2.0 for a, b in zip(one, following))
        assert overlap(following, body, made) < 1.0
        assert overlap(between, body, made) < 1.0  # half-way between two steps: within the room that is kept
    for up in range(60):  # its terminals are out: the rest goes on by itself, straightened on the way
        assert overlap((0.0, 0.0, SEAT + 30.0 + up), solid(1.0, 14.0, 30.0), made) < 1.0


def test_terminals_that_reach_too_far_go_in_at_no_tilt() -> None:
    assert tried(67.5, 100.0) is None
    body, made = solid(100.0, 14.0, 30.0), part(67.5)
    rng = np.random.default_rng(1)
    for _ in range(60):  # half-way in, as solids, nowhere is there room either
        at = (rng.uniform(0.0, 40.0), rng.uniform(-30.0, 30.0), SEAT + rng.uniform(4.0, 20.0))
        assert overlap(at, body, made) > 0.5


def test_no_way_at_all_is_said_only_where_half_a_millimeter_more_would_not_do() -> None:
    back, walls = Revolved(PROFILE, SEAT), passages(67.5)
    kept, given = (
        [bool(way_in(back, FRAME, Block(r, 30.0, 14.0, 30.0, 0.0), walls, room)) for r in range(72, 92)]
        for room in (0.5, -0.5)
    )
    assert all(b for a, b in zip(kept, given) if a)
    assert sum(kept) < sum(given) < len(given)


def test_what_passes_straight_needs_no_tilt() -> None:
    way = tried(72.0, 64.0)
    assert way is not None
    assert way.most_deg == 0.0


@pytest.mark.filterwarnings("error")
def test_a_frame_narrower_than_its_basket_is_worked_out_in_real_numbers() -> None:
    way_in(Revolved(PROFILE, SEAT), 62.0, Block(70.0, 30.0, 14.0, 30.0, 0.0), passages(67.5))
