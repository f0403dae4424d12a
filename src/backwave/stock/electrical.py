"""What a row of the electrical tables holds: conductors, cable sizes, fuses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.stock.rows import Row


@dataclass(frozen=True, kw_only=True)
class ConductorRow(Row):
    """What a conductor is made of."""

    resistivity_ohm_mm2_m: float  # ohm mm2/m at 20 degC
    rise_per_k: float  # 1/K, of its resistance at 20 degC
    density_kg_m3: float


@dataclass(frozen=True, kw_only=True)
class CableSizeRow(Row):
    """A standard size of single-core flexible cable."""

    series: Literal["metric", "awg", "sold"]  # "sold": taken where it is there, never chosen
    area_mm2: float
    mohm_m: float  # mohm/m, the largest at 20 degC, in plain copper
    conductor_mm: float  # over the strands
    outer_mm: float  # over a thin insulation


@dataclass(frozen=True, kw_only=True)
class FuseRow(Row):
    """One style of fuse in all its ratings."""

    ratings_a: tuple[float, ...]  # A, rising
    breaking_a: float  # A, the most it breaks
    limit_v: float  # V, up to which
    colors: str = ""  # of the body of each rating, comma between; "": they have none

    def color(self, rating_a: float) -> str:
        """Color of the body of one rating, "" where there is none."""
        colors = [c.strip() for c in self.colors.split(",")]
        return dict(zip(self.ratings_a, colors)).get(rating_a, "")


@dataclass(frozen=True, kw_only=True)
class BatteryRow(Row):
    """A chemistry of battery."""

    charged_v: float  # V by 12 V of nominal voltage: fully charged, at rest
