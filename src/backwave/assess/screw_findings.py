"""What is found of everything that is screwed at one place: screws, holes, metal, loads."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from backwave.assess.place_result import Dimensions
from backwave.finding import Check
from backwave.fit import Opening
from backwave.fit.fixing_load import FixingPoint, fixing_checks, metal_checks, missing_checks
from backwave.fit.screw_holes import driver_hole_checks, metal_hole_checks
from backwave.shape import polygon
from backwave.stock import Stock

__all__ = ["screws_found"]

MAGNET_SHARE = 0.75  # most of a driver's mass is its magnet, so far back of its depth; common trade practice


def screws_found(stock: Stock, sized: Dimensions, part_kg: float) -> tuple[Check, ...]:
    """Screws, their holes, the metal they sit in, and what holds at a slam."""
    screws, spec = sized.screws, sized.spec
    found: list[Check] = []
    if screws.driver is not None and sized.holes:
        found = [screws.driver.check, *driver_hole_checks(stock, screws.driver, sized.holes)]
    longest: dict[str, tuple[float, Check]] = {}
    for m in screws.metal:
        if m.screw is not None:
            key = f"{m.row.holds} {m.screw.size} {m.screw.length_mm} {m.screw.check.verdict}"
            if key not in longest or m.screw.tail_mm > longest[key][0]:
                longest[key] = (m.screw.tail_mm, m.screw.check)
    for i, (_, check) in enumerate(longest.values(), 1):
        found.append(replace(check, part="metal" if len(longest) == 1 else f"metal-{i}"))
    points = [
        FixingPoint(m.x_mm, m.y_mm, m.row, f"fixing {i}", _edge_mm(sized.opening, m.x_mm, m.y_mm))
        for i, m in enumerate(screws.metal, 1)
    ]
    found += metal_checks(points)
    found += metal_hole_checks(stock, [(p.name, m.row, m.read_mm) for p, m in zip(points, screws.metal)])
    behind = spec.seat_z_mm - MAGNET_SHARE * sized.driver.profile[-1][1].value
    middle = spec.thickness_mm / 2.0
    if not points or screws.mass_kg is None:
        return (*found, *missing_checks(points, part_kg, middle, behind))
    assert sized.opening.skin is not None  # measured or a noted default
    total = screws.mass_kg + part_kg
    z = (screws.mass_kg * behind + part_kg * middle) / total
    return (*found, *fixing_checks(points, total, (0.0, 0.0, z), sized.opening.skin.value))


def _edge_mm(opening: Opening, x_mm: float, y_mm: float) -> float | None:
    """From a point in the metal to the edge of the hole, negative inside the hole; None where that was not read."""
    if opening.hole is not None:
        return hypot(x_mm, y_mm) - opening.hole.value / 2.0
    if opening.outline_mm is None:
        return None
    return -polygon([(float(x), float(y)) for x, y in opening.outline_mm]).inside_mm(x_mm, y_mm)
