"""Where millimeters of the part lie on the sheet: one scale for both directions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from backwave.drawing.sheet import Point


@dataclass(frozen=True)
class Frame:
    """A place and a scale."""

    x0: float  # sheet units, where the part's origin lies
    y0: float  # sheet units
    scale: float  # sheet units per mm, the same both ways

    def at(self, x_mm: float, y_mm: float) -> Point:
        """A point of the part, y up, on the sheet. Returns (x, y) sheet units."""
        return self.x0 + x_mm * self.scale, self.y0 - y_mm * self.scale

    def all(self, points_mm: Iterable[Point]) -> list[Point]:
        """Several points."""
        return [self.at(x, y) for x, y in points_mm]
