"""What is to be made for one place: the part, its material and process, and what is tried or laid on with it."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.part.process import Material, Printer, SheetStock, Zone
from backwave.part.types import AdapterSpec, RingSpec, StandInSpec

__all__ = ["PartOrder"]


@dataclass(frozen=True)
class PartOrder:
    """The part that one place needs, and what is made with it.

    Parameters
    ----------
    id, side, subject, label : str, no unit
        Name of the part with its side, the side, the place it is for, and what a person calls it.
    spec : AdapterSpec, mm
        What to build.
    material : Material, no unit
        What it is made of.
    how : Printer or SheetStock, no unit
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
    how: Printer | SheetStock
    zone: Zone
    ring: RingSpec | None
    stand_in: StandInSpec | None
    check_ring: RingSpec
