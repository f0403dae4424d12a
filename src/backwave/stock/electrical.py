"""What a row of the electrical tables holds: conductors, cable sizes, fuses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.stock.rows import Row

__all__ = ["CableSizeRow", "ConductorRow", "FuseRow"]


@dataclass(frozen=True, kw_only=True)
class ConductorRow(Row):
    """What a conductor is made of.

    Parameters
    ----------
    name, source, standing, note : str, no unit
        As of every row.
    resistivity_ohm_mm2_m : float, ohm mm2/m
        At 20 degC.
    rise_per_k : float, 1/K
        By which its resistance at 20 degC grows.
    """

    resistivity_ohm_mm2_m: float
    rise_per_k: float


@dataclass(frozen=True, kw_only=True)
class CableSizeRow(Row):
    """A standard size of single-core flexible cable.

    Parameters
    ----------
    name, source, standing, note : str, no unit
        As of every row.
    series : "metric" or "awg", no unit
        Which series it belongs to.
    area_mm2 : float, mm2
        Cross section of the conductor.
    mohm_m : float, mohm/m
        Largest resistance at 20 degC in plain copper.
    conductor_mm, outer_mm : float, mm
        Diameter of the stranded conductor and over a thin insulation.
    """

    series: Literal["metric", "awg"]
    area_mm2: float
    mohm_m: float
    conductor_mm: float
    outer_mm: float


@dataclass(frozen=True, kw_only=True)
class FuseRow(Row):
    """One style of fuse in all its ratings.

    Parameters
    ----------
    name, source, standing, note : str, no unit
        As of every row.
    ratings_a : tuple of float, A
        Rising.
    breaking_a : float, A
        Largest current it breaks.
    limit_v : float, V
        Largest voltage it breaks it at.
    colors : str, no unit
        Color of the body of each rating, in their order, comma between; "" where they have none.
    """

    ratings_a: tuple[float, ...]
    breaking_a: float
    limit_v: float
    colors: str = ""

    def color(self, rating_a: float) -> str:
        """Color of the body of one rating, "" where there is none.

        Parameters
        ----------
        rating_a : float, A
            One of `ratings_a`.
        """
        colors = [c.strip() for c in self.colors.split(",")]
        return dict(zip(self.ratings_a, colors)).get(rating_a, "")
