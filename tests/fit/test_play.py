"""Where the driver ends up by the play of its bolts, against bolts put at random into their holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backwave.fit import judge
from backwave.fit.bolt_pattern import IN_METAL, BoltedJoint, off_axis, play_check
from tests.fit.shop import driver, opening, stack

# M5 in 5.5, three fixings read to 0.3 mm; M4 in 5.0.
JOINTS = (BoltedJoint("part on the metal", 0.5, 0.3, 3), BoltedJoint("driver on the part", 1.0))


def bolts(count: int) -> np.ndarray:
    """Distances off the axis: each joint anywhere in its circle, the pattern by the mean of its holes."""
    rng = np.random.default_rng(9)

    def anywhere(radius: float) -> np.ndarray:
        points = rng.uniform(-radius, radius, (3 * count, 2))
        return points[np.hypot(*points.T) <= radius][:count]

    pattern = rng.uniform(-0.3, 0.3, (count, 3, 2)).mean(axis=1)
    return np.hypot(*(anywhere(0.25) + anywhere(0.5) + pattern).T)


def test_play_is_that_of_bolts_put_in_at_random() -> None:
    check = play_check(JOINTS, off_axis("door", JOINTS), 1.0)
    found = {line.symbol: line.value for line in check.working}
    true = bolts(200_000)
    assert found["e"] == pytest.approx(true.mean(), abs=0.01)
    assert found["e95"] == pytest.approx(np.quantile(true, 0.95), abs=0.02)
    assert (found["e"], found["e95"]) == pytest.approx((0.38, 0.68), abs=0.03)  # worked out elsewhere
    assert check.verdict == "ok"
    wide = (JOINTS[0], BoltedJoint("driver on the part", 2.0))
    assert play_check(wide, off_axis("door", wide), 1.0).verdict == "caution"


def test_play_is_in_the_holes_room_and_in_its_chance() -> None:
    """A driver of radius 66 at the metal in a hole with 0.6 and 1.0 mm to spare all round."""
    across, up = off_axis("door", JOINTS)
    for spare in (0.6, 1.0):
        o = opening(half=0.0)
        assert o.hole is not None
        radius = 66.0 + (14.0 - 13.5) / 14.0 * 4.0  # where the shop's driver passes a seat height of 13.5
        o = replace(o, hole=replace(o.hole, value=2.0 * (radius + spare), errors=()))
        tight = judge(o, driver(), replace(stack(12.0), off_x=across, off_y=up), draws=50_000).clearance("hole")
        sure = judge(o, driver(), stack(12.0), draws=1_000).clearance("hole")
        assert tight is not None
        assert sure is not None
        assert sure.chance_clear == 1.0
        assert tight.estimate.value == pytest.approx(sure.estimate.value) == pytest.approx(spare)
        assert tight.chance_clear == pytest.approx(float((bolts(100_000) < spare).mean()), abs=0.01)
        assert tight.worst_mm <= spare - 0.75  # both joints at their edges


def test_bolts_loose_in_the_metal_are_told_of_though_the_hole_has_room_for_them() -> None:
    for play, verdict in ((1.9, "ok"), (2.0, "caution")):
        joints = (*JOINTS, BoltedJoint(IN_METAL, play))
        check = play_check(joints, off_axis("door", joints), 5.0)
        assert check.verdict == verdict
        said = "" if check.remedy is None else check.remedy.template
        assert ("spigot" in said) == (verdict == "caution")
