"""A place: an opening on one side, mirrored and with its own readings, so that nothing after this hears of sides.

The opening is measured on its first side; the second is its mirror image (x to -x, cabin y to width - y).  What
stands under `[opening.right]` was measured there and is not mirrored.  The driver is never mirrored.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from backwave.job.load import Job
from backwave.job.opening import MeasuresTable, OpeningTable
from backwave.job.trace import Trace
from backwave.units import Quantity

Point = tuple[float, float]


@dataclass(frozen=True)
class Place:
    """An opening on one side."""

    opening: OpeningTable  # with the overrides of this side applied
    side: str  # "left", "right", or "" where there is just one
    mirrored: bool
    own: frozenset[str]  # keys that were measured on this side
    trace: Trace | None = None  # mm, the traced flange, if it has one
    cabin_width_m: float | None = None

    @property
    def subject(self) -> str:
        """The opening and its side: "front-door.left"."""
        return f"{self.opening.id}.{self.side}" if self.side else self.opening.id

    @property
    def name(self) -> str:
        """What a person calls it: "Front door, left"."""
        words = self.opening.name or self.opening.id.replace("-", " ").replace("_", " ")
        words = words[:1].upper() + words[1:]
        return f"{words}, {self.side}" if self.side else words

    def key(self, field: str) -> str:
        """Where a field was read, for its reading's name: "behind" or "right.behind"."""
        return f"{self.side}.{field}" if field in self.own else field

    def x(self, field: str, x_mm: float) -> float:
        """A coordinate of a field, as it lies on this side, in mm."""
        return -x_mm if self._turned(field) else x_mm

    def angle_deg(self, field: str, angle: Quantity | None) -> float | None:
        """An angle of a field, as it lies on this side, from +x toward +y, in degrees."""
        if angle is None:
            return None
        degrees = angle.to("deg")
        return (180.0 - degrees) % 360.0 if self._turned(field) else degrees % 360.0

    def points(self, field: str, points: tuple[Point, ...]) -> tuple[Point, ...]:
        """Points of a field, as they lie on this side."""
        return tuple((self.x(field, x), y) for x, y in points)

    @property
    def position_m(self) -> tuple[float, float, float] | None:
        """Where it is in the cabin, in meters; None where not said."""
        at = self.opening.at
        if at is None:
            return None
        x, y, z = (q.to("m") for q in at)
        if self._turned("at"):
            if self.cabin_width_m is None:
                return None
            y = self.cabin_width_m - y
        return x, y, z

    def _turned(self, field: str) -> bool:
        return self.mirrored and field not in self.own


def places(job: Job) -> tuple[Place, ...]:
    """Every opening on every side, in the order of the file."""
    cabin = job.file.vehicle.cabin
    width = None if cabin is None else cabin.width.to("m")
    return tuple(_place(job, opening, side, width) for opening in job.file.opening for side in opening.sides or ("",))


_BY_KEY = ("trim", "factory", "cavity", "gap")  # what an override leaves out of these is that of the first side


def _merged(opening: OpeningTable, override: MeasuresTable) -> dict[str, Any]:
    changes = {name: getattr(override, name) for name in override.model_fields_set}
    for name in _BY_KEY:
        own, first = changes.get(name), getattr(opening, name)
        if own is not None and first is not None:
            changes[name] = first.model_copy(update={k: getattr(own, k) for k in own.model_fields_set})
    return changes


def _place(job: Job, opening: OpeningTable, side: str, width: float | None) -> Place:
    override: MeasuresTable | None = getattr(opening, side) if side else None
    own = frozenset(override.model_fields_set) if override is not None else frozenset()
    merged = opening if override is None else opening.model_copy(update=_merged(opening, override))
    flange = merged.flange
    trace = job.traces.get(flange.traced) if flange is not None and flange.traced is not None else None
    return Place(merged, side, bool(side) and side != opening.sides[0], own, trace, width)
