"""The mesh that is printed: holes wider by what was asked, everything else where it was, larger by what it shrinks."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from backwave.part.solid import build, mesh, printed_mesh
from backwave.part.types import Printer
from tests.part.specs import full

pytestmark = [pytest.mark.kernel, pytest.mark.slow]


def test_holes_are_widened_and_nothing_else() -> None:
    spec = replace(full(), lettering=None, notches=())
    drawn = mesh(build(spec).solid)
    made = printed_mesh(drawn, spec, Printer(hole_extra_mm=0.4))
    assert made.closed
    moved = np.hypot(*(made.vertices_mm - drawn.vertices_mm)[:, :2].T)
    assert made.vertices_mm[:, 2] == pytest.approx(drawn.vertices_mm[:, 2])
    assert set(np.round(moved, 6)) == {0.0, 0.2}  # half of what was added to the diameter
    # Rings of plastic that are gone: fixings 5.5 to 5.9 and 10 to 10.4, inserts 5.6 to 6.0, over their heights.
    f, t = spec.fixings[0], spec.threads[0]
    deep = f.counterbore_depth_mm
    gone = 3 * pi / 4.0 * ((5.9**2 - 5.5**2) * (spec.thickness_mm - deep) + (10.4**2 - 10.0**2) * deep)
    gone += 4 * pi / 4.0 * (6.0**2 - 5.6**2) * t.depth_mm
    assert drawn.volume_mm3 - made.volume_mm3 == pytest.approx(gone, rel=0.02)  # facets of a round hole


def test_scale_is_what_the_print_will_shrink_by() -> None:
    spec = replace(full(), lettering=None)
    drawn = mesh(build(spec).solid)
    made = printed_mesh(drawn, spec, Printer(shrinkage=0.005))
    assert made.volume_mm3 == pytest.approx(drawn.volume_mm3 * 1.005**3)
    assert np.array_equal(made.triangles, drawn.triangles)


def test_nothing_asked_nothing_done() -> None:
    spec = replace(full(), lettering=None)
    drawn = mesh(build(spec).solid)
    assert printed_mesh(drawn, spec, Printer()) is drawn
