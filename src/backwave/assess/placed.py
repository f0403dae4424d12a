"""What one place came to: its fit, its part, and every number nobody gave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backwave.drawing import FaceView, SectionView
    from backwave.fit import Fit
    from backwave.fit.clocking import Clocking
    from backwave.fit.foam import FoamRing
    from backwave.part.process import Material, Printer, Sheet, Zone
    from backwave.part.types import AdapterSpec, RingSpec, StandInSpec

__all__ = ["PlaceFit", "PlacePart"]


@dataclass(frozen=True)
class PlaceFit:
    """One driver in one opening on one side: the fit and the numbers that go with it.

    Parameters
    ----------
    opening, side, subject : str, no unit
        The opening's id, "left", "right" or "", and both together ("front-door.left").
    speaker : str, no unit
        The driver's id.
    fit : Fit, mm
        Clearances, chances, the window.
    clocking : Clocking or None, deg and mm
        The turn of the driver; None where there is nothing to turn against.
    ring : FoamRing or None, mm
        The foam ring in front; None where it could not be worked out.
    section : SectionView, mm
        The cut.
    face : FaceView, mm
        The view from the front.
    """

    opening: str
    side: str
    subject: str
    speaker: str
    fit: Fit
    clocking: Clocking | None
    ring: FoamRing | None
    section: SectionView
    face: FaceView


@dataclass(frozen=True)
class PlacePart:
    """The part that one place needs, and what is made with it.

    Parameters
    ----------
    id, side, subject, label : str, no unit
        Name of the part with its side, the side, the place it is for, and what a person calls it.
    spec : AdapterSpec, mm
        What to build.
    material : Material, no unit
        What it is made of.
    how : Printer or Sheet, no unit
        How it is made.
    zone : Zone, degC
        Where it lives.
    ring : RingSpec or None, mm
        The foam ring, at its free height.
    stand_in : StandInSpec or None, mm
        The gauge to try first.
    check_ring : RingSpec, mm
        Outline and holes, a few layers thick.
    """

    id: str
    side: str
    subject: str
    label: str
    spec: AdapterSpec
    material: Material
    how: Printer | Sheet
    zone: Zone
    ring: RingSpec | None
    stand_in: StandInSpec | None
    check_ring: RingSpec
