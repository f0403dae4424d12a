"""The least thickness that a part's threads, screw heads, recess and grooves leave enough material in."""

from __future__ import annotations

from collections.abc import Sequence

from backwave.part.types import Fixing, Groove, Thread

FLOOR = 1.2  # mm left under a blind hole or a groove, six layers of 0.2; common trade practice
HEAD_FLOOR = 3.0  # mm that a fixing's head presses on, or a nut pulls against; common trade practice


def least_thickness(
    recess_mm: float,
    threads: Sequence[Thread],
    fixings: Sequence[Fixing] = (),
    grooves: Sequence[Groove] = (),
    under_mm: float = 0.0,
) -> float:
    """The least thickness that threads, counterbores, recess and grooves leave enough material in.

    `recess_mm` is the depth of the driver's seat below the front face, `under_mm` that of a groove under a thread.
    """
    need = [FLOOR + recess_mm]
    for x in threads:
        if x.kind == "nut":
            need.append(recess_mm + x.nut_height_mm + HEAD_FLOOR)
        elif x.depth_mm > 0.0:
            need.append(recess_mm + max(x.depth_mm, x.engagement_mm) + under_mm + FLOOR)
        else:
            need.append(recess_mm + x.engagement_mm)
    need += [f.counterbore_depth_mm + HEAD_FLOOR + f.pocket_depth_mm for f in fixings if f.counterbore_depth_mm > 0.0]
    need += [f.pocket_depth_mm + FLOOR for f in fixings if f.pocket_depth_mm > 0.0]
    back = max((g.depth_mm for g in grooves if g.face == "back"), default=0.0)
    front = [g.depth_mm + recess_mm * (g.along == "bore") for g in grooves if g.face == "front"]
    need.append(back + max(front, default=recess_mm) + FLOOR)
    return max(need)
