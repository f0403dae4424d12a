"""Does this driver fit this opening, how sure is that, and how thick must the adapter be?

Computes the stack-up (seat height), every clearance with its uncertainty, the joint chance that all are kept, the
window of seat heights, the thickness to choose, and the one reading worth taking again.

    choose_thickness    the thickness with the best joint chance of keeping all margins
    judge               everything about one driver in one opening, in one frozen result
    advise              which one reading to take again, and with what

From: readings (`backwave.uncertainty.Reading`) of the opening, the driver and the stack, as frozen dataclasses.
Units: millimeters and degrees.  Knows no job file, no side, no display.  A seat is flat and on the opening's
axis; one that is not is a `stop` that says so.  Obstacles are surfaces behind the face, piecewise linear in
radius; what was not read is not known, and is said.  Floor: a room, standing on the ground alone.
"""

from __future__ import annotations

from backwave.fit.clearance import layer_heights, seat_height_mm, sheet_sums
from backwave.fit.evaluate import judge
from backwave.fit.reading_checks import INSTRUMENTS, advise
from backwave.fit.types import (
    Advice,
    Choice,
    Clearance,
    DepthReading,
    DriverShape,
    Fit,
    FrontHeights,
    GaugeTrial,
    Instrument,
    Margins,
    Obstacle,
    Opening,
    ScrewTail,
    Stack,
    Terminals,
    Vent,
    Window,
)
from backwave.fit.window import choose_thickness

__all__ = [
    "INSTRUMENTS", "Advice", "Choice", "Clearance", "DepthReading", "DriverShape", "Fit", "FrontHeights", "GaugeTrial",
    "Instrument", "Margins", "Obstacle", "Opening", "ScrewTail", "Stack", "Terminals", "Vent", "Window", "advise",
    "choose_thickness", "judge", "layer_heights", "seat_height_mm", "sheet_sums",
]  # fmt: skip
