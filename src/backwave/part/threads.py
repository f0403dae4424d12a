"""The least thickness that a part's threads, screw heads, recess and grooves leave enough material in."""

from __future__ import annotations

from backwave.part.types import AdapterSpec

__all__ = ["FLOOR", "HEAD_FLOOR", "least_thickness"]

FLOOR = 1.2  # mm left under a blind hole or a groove, six layers of 0.2; common trade practice
HEAD_FLOOR = 3.0  # mm that a fixing's head presses on, or a nut pulls against; common trade practice


def least_thickness(spec: AdapterSpec) -> float:
    """The least thickness that threads, counterbores, recess and grooves leave enough material in.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter; its own thickness is not looked at.
    """
    need = [FLOOR + spec.recess_mm]
    for x in spec.threads:
        if x.kind == "nut":
            need.append(spec.recess_mm + x.nut_height_mm + HEAD_FLOOR)
        elif x.depth_mm > 0.0:
            need.append(spec.recess_mm + max(x.depth_mm, x.engagement_mm) + FLOOR)
        else:
            need.append(spec.recess_mm + x.engagement_mm)
    need += [f.counterbore_depth_mm + HEAD_FLOOR for f in spec.fixings if f.counterbore_depth_mm > 0.0]
    back = max((g.depth_mm for g in spec.grooves if g.face == "back"), default=0.0)
    front = [g.depth_mm + spec.recess_mm * (g.along == "bore") for g in spec.grooves if g.face == "front"]
    need.append(back + max(front, default=spec.recess_mm) + FLOOR)
    return max(need)
