"""Speaker and screws as solids against the part as a solid: what is ok must not overlap, in place or on the way in.

The part comes from our own solid; the overlaps are computed by manifold3d.  The speaker is revolved from the numbers of the
job, not from anything the fit worked out; z = 0 is the part's back face, up is toward the cabin.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import manifold3d as m3
import numpy as np

from backwave.assess import PlaceResult
from backwave.part.solid import build, mesh

TOUCH_MM3 = 1.0  # of facets that touch: circles are polygons
FAR = 200.0


def _part(place: PlaceResult) -> m3.Manifold:
    fine = mesh(build(place.spec, lettering=False).solid)
    made = m3.Manifold(m3.Mesh(fine.vertices_mm.astype(np.float32), fine.triangles.astype(np.uint32)))
    assert made.status() == m3.Error.NoError
    return made


def _cylinder(x: float, y: float, bottom: float, top: float, diameter: float) -> m3.Manifold:
    return m3.Manifold.cylinder(top - bottom, diameter / 2, diameter / 2, 96).translate((x, y, bottom))


def _body(profile: list[tuple[float, float]], rim_z: float, swept: bool) -> m3.Manifold:
    """The speaker behind its rim; swept: with all the room that it passes through on its way in."""
    points = [(r, rim_z - d) for r, d in profile]
    if swept:  # at each height, the widest of what comes through it
        fine = [
            (r0 + (r1 - r0) * t, z0 + (z1 - z0) * t)
            for (r0, z0), (r1, z1) in pairwise(points)
            for t in np.linspace(0, 1, 30)
        ]
        widest, passed = 0.0, []
        for r, z in reversed(fine):
            widest = max(widest, r)
            passed.append((widest, z))
        points = [*reversed(passed)]
    ring = [(0.0, points[0][1]), (0.0, points[-1][1]), *reversed(points)]
    return m3.Manifold.revolve(m3.CrossSection([np.array(ring)], m3.FillRule.Positive), 128)


def overlaps(place: PlaceResult, speaker: Any) -> dict[str, float]:
    """Volumes in mm3 that two solids share though they must not, by what it is; {} where all is clear."""
    part, spec = _part(place), place.spec
    rim_z = spec.seat_z_mm + place.stack.driver_gasket.value
    profile = [(r.to("mm"), d.to("mm")) for r, d in ((_best(r), _best(d)) for r, d in speaker.profile)]
    held = speaker.terminals
    found = {
        "speaker": (part ^ _body(profile, rim_z, swept=False)).volume(),
        "its way in": (part ^ _body(profile, rim_z, swept=True)).volume(),
    }
    if held is not None:
        width, out, end = (_best(q).to("mm") for q in (held.width, held.radius, held.depth))
        start = _best(held.start).to("mm") if held.start is not None else 0.0
        block = m3.Manifold.cube((out, width, end - start)).translate((0.0, -width / 2, rim_z - end))
        found["terminals"] = (part ^ block.rotate((0.0, 0.0, _angle(held) + place.turn_deg))).volume()
    screws = place.screws
    if screws.driver is not None and screws.driver.length_mm is not None:
        size = float(screws.driver.size.lstrip("MST"))
        head = rim_z + screws.rim_mm  # on the rim
        for one in spec.threads:
            shank = _cylinder(one.x_mm, one.y_mm, head - screws.driver.length_mm, head, size)
            found[f"screw of {one.name}"] = (part ^ shank).volume() if one.kind != "screw" else 0.0
    for n, one in enumerate(screws.metal, 1):
        chosen = one.screw
        if chosen is None or chosen.length_mm is None:
            continue
        seat = spec.thickness_mm - one.depth_mm
        size = float(chosen.size.lstrip("MST"))
        whole = _cylinder(one.x_mm, one.y_mm, seat - chosen.length_mm, seat, size) + _cylinder(
            one.x_mm, one.y_mm, seat, seat + chosen.head_height_mm, chosen.head_mm
        )
        found[f"screw of fixing {n}"] = (part ^ whole).volume()
        found[f"head of fixing {n} under the frame"] = (
            _cylinder(one.x_mm, one.y_mm, seat, seat + chosen.head_height_mm, chosen.head_mm)
            ^ _cylinder(0.0, 0.0, rim_z, rim_z + screws.rim_mm, place.frame_mm)
        ).volume()
    return {what: volume for what, volume in found.items() if volume > TOUCH_MM3}


def _best(quantity: Any) -> Any:
    return quantity[0] if isinstance(quantity, tuple) else quantity


def _angle(held: Any) -> float:
    return 0.0 if held.angle is None else float(held.angle.to("deg"))
