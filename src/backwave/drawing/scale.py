"""Where millimeters of the part lie on the sheet: one scale for both directions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from backwave.drawing.sheet import Point

__all__ = ["Frame"]


@dataclass(frozen=True)
class Frame:
    """A place and a scale.

    Parameters
    ----------
    x0, y0 : float, sheet units
        Where the part's origin lies.
    scale : float, sheet units per mm
        The same both ways.
    """

    x0: float
    y0: float
    scale: float

    def at(self, x_mm: float, y_mm: float) -> Point:
        """A point of the part, y up, on the sheet.

        Parameters
        ----------
        x_mm, y_mm : float, mm
            The point; in a section z and the signed radius.

        Returns
        -------
        (x, y), sheet units
        """
        return self.x0 + x_mm * self.scale, self.y0 - y_mm * self.scale

    def all(self, points_mm: Iterable[Point]) -> list[Point]:
        """Several points.

        Parameters
        ----------
        points_mm : iterable of (x, y) float, mm
            The points.
        """
        return [self.at(x, y) for x, y in points_mm]
