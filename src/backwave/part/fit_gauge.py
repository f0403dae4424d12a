"""The stand-in: what a driver puts behind the metal, plus margin, to try in the opening before any long print.

A plate lies on the metal; the gauge hangs from it as deep as the driver will, seated at the chosen height.  What
of the driver stands before the metal is not in it.  As a card it is the cut through the axis and the terminals.
Millimeters; z = 0 is the metal, behind it is negative, as in the adapter's own axes.
"""

from __future__ import annotations

from typing import Any

from backwave.errors import BuildError
from backwave.part.flat_patterns import FlatPart
from backwave.part.types import StandInSpec
from backwave.shape import Outline, Point, polygon

__all__ = ["HANDLE", "card", "gauge_depth_mm", "half_section", "terminal_box"]

HANDLE = 30.0  # mm the card stands out of the opening, to hold it by
CARD = 2.0  # mm


def gauge_depth_mm(spec: StandInSpec) -> float:
    """How far the gauge reaches behind the metal.

    Parameters
    ----------
    spec : StandInSpec, mm
        What it stands in for.
    """
    depth = spec.profile_mm[-1][1]
    if spec.terminals_mm is not None:
        depth = max(depth, spec.terminals_mm[3])
    return depth + spec.margin_mm - spec.seat_height_mm


def half_section(spec: StandInSpec) -> tuple[Point, ...]:
    """Half of the gauge without terminals, as (radius, z) round from the axis at the metal to the axis at its end.

    Radius and depth are both larger by the margin (corners kept square: never less than the margin off).

    Parameters
    ----------
    spec : StandInSpec, mm
        What it stands in for.

    Raises
    ------
    BuildError
        The driver does not reach behind the metal at this seat height.
    """
    import shapely

    half = shapely.normalize(_behind(spec).intersection(shapely.box(0.0, -1e4, 1e4, 0.0)))
    ring = [(float(x), float(z)) for x, z in half.exterior.coords[:-1]]
    start = max(range(len(ring)), key=lambda k: (-ring[k][0], ring[k][1]))  # highest on the axis
    return (*ring[start:], *ring[:start])  # a normal ring runs clockwise: outward along the metal first


def terminal_box(spec: StandInSpec) -> tuple[float, float, float, float] | None:
    """The terminal block with its margin: angle (deg), width, radius it reaches to, z of its end; None without.

    Parameters
    ----------
    spec : StandInSpec, mm
        What it stands in for.
    """
    if spec.terminals_mm is None:
        return None
    angle, width, radius, depth = spec.terminals_mm
    low = spec.seat_height_mm - depth - spec.margin_mm
    return (angle, width + 2.0 * spec.margin_mm, radius + spec.margin_mm, low) if low < 0.0 else None


def card(spec: StandInSpec) -> FlatPart:
    """The gauge as a card to cut out at 1:1: the terminals to the right, the handle up.

    Parameters
    ----------
    spec : StandInSpec, mm
        What it stands in for.

    Raises
    ------
    BuildError
        As for `half_section`.
    """
    import shapely

    whole = _behind(spec)
    block = terminal_box(spec)
    if block is not None:
        whole = whole.union(shapely.box(0.0, block[3], block[2], 0.0))
    wide = max(spec.rim_mm, float(whole.bounds[2]))
    whole = shapely.union_all([whole, shapely.box(-wide, 0.0, wide, HANDLE)])
    return FlatPart(f"stand-in card {spec.name}".strip(), CARD, (_outline(whole),))


def _behind(spec: StandInSpec) -> Any:
    """The driver's silhouette with its margin, as far as it is behind the metal."""
    import shapely

    h = spec.seat_height_mm
    edge = [(r, h - d) for r, d in spec.profile_mm]
    first, last = edge[0], edge[-1]
    # The silhouette ends where the rim sits: the margin in depth counts behind it alone.
    right = [(0.0, first[1]), *edge, (0.0, last[1])]
    shape = shapely.union_all([_filled(right), _filled([(-r, z) for r, z in right])])
    grown = shape.buffer(spec.margin_mm, join_style="mitre", mitre_limit=5.0) if spec.margin_mm else shape
    behind = grown.intersection(shapely.box(-1e4, -1e4, 1e4, min(0.0, h)))
    if behind.is_empty or behind.area < 1.0:
        raise BuildError("stand-in", f"the driver ends {-gauge_depth_mm(spec):.1f} mm before the metal")
    return max(shapely.get_parts(behind), key=lambda p: p.area)


def _filled(ring: list[Point]) -> Any:
    import shapely

    return shapely.make_valid(shapely.Polygon(ring))


def _outline(shape: Any) -> Outline:
    return polygon([(float(x), float(y)) for x, y in shape.exterior.simplify(0.001).coords])
