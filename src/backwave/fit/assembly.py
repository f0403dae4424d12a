"""One driver, its part and the metal as they would be put together: what `mounting` judges.

The opening's axes: z = 0 is the face of the metal, z out of it.  Millimeters, degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

from backwave.finding import Verdict
from backwave.fit.bodies import Body, Passage
from backwave.fit.bolt_pattern import Hole
from backwave.fit.types import DriverShape, Margins, Opening
from backwave.shape import Outline, circle, polygon
from backwave.stock import LapRow
from backwave.uncertainty import Reading


def at_end(reading: Reading, side: int) -> float:
    """A reading as entered (0), or at the low (-1) or high (1) end of what it may plausibly be; in its own unit."""
    end = reading.value
    if side and reading.assumed and reading.plausible is not None:
        end = reading.plausible[side > 0]
    return end + side * reading.bound


@dataclass(frozen=True)
class Doubted:
    """A room or a lap: as entered, and its least and greatest plausible value."""

    value_mm: float
    low_mm: float
    high_mm: float

    def verdict(self, wanted_mm: float = 0.0) -> Verdict:
        """`stop` only where no plausible value leaves anything, `ok` only where all leave what is wanted."""
        if self.high_mm < -1e-9:
            return "stop"
        return "ok" if self.low_mm >= wanted_mm - 1e-9 else "caution"


@dataclass(frozen=True)
class Lip:
    """Metal turned up round the edge of the hole."""

    height: Reading  # mm above the face
    width: Reading  # mm outward from the hole's edge


@dataclass(frozen=True)
class Mounting:
    """One driver, its part and the metal."""

    opening: Opening
    driver: DriverShape
    margins: Margins
    kind: str  # "woofer", "tweeter" ...
    frame: Reading  # mm, diameter
    cutout: Reading  # mm, diameter of the cutout the driver asks for
    holes: tuple[Hole, ...]  # of the driver, not turned; () where they are not known
    turn_deg: float
    seat_mm: float  # metal to the mounting side of the rim
    land_mm: float  # metal to the face of the part that the rim lies on
    flange: Body
    passages: tuple[Passage, ...]  # of the part, from the back to the front
    laps: tuple[LapRow, ...]  # what has to lie on what, by how much
    frame_edge: Outline | None = None  # of a frame that is not round, not turned; `frame` is its narrowest then
    cutout_edge: Outline | None = None  # likewise
    terminal_start: Reading | None = None  # mm from the mounting side to where the terminals begin
    spigot: Body | None = None
    collar: Body | None = None
    grooves: tuple[Body, ...] = ()  # for the back gasket
    heads: tuple[Body, ...] = ()  # counterbores in the front face
    lip: Lip | None = None
    lip_room: Body | None = None  # relief in the back of the part, for the lip
    collar_meets: Reading | None = None  # mm from the metal to what stands before a collar without a foam ring
    trim_outer_mm: float | None = None  # diameter of the flat that the foam presses on
    mass_kg: float | None = None  # of the driver; None: not weighed
    held_by: str = ""  # "screws", "clips", "glue", "ring"; "": not entered

    def lap(self, name: str) -> LapRow:
        """The row that says how far one thing has to lie on another."""
        return next(row for row in self.laps if row.name == name)

    @property
    def hole_edge(self) -> Outline | None:
        """The edge of the hole in the metal at the best estimate."""
        if self.opening.hole is not None:
            return circle(self.opening.hole.value / 2.0)
        points = self.opening.outline_mm
        return None if points is None else polygon([(float(x), float(y)) for x, y in points])

    @property
    def hole_doubt_mm(self) -> float:
        """How far that edge may be from where it was read, either way."""
        hole = self.opening.hole
        return hole.bound / 2.0 if hole is not None else self.opening.outline_error.bound
