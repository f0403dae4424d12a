"""What can be chosen for one driver in one opening, as one value."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class GasketKind:
    """How the back gasket is laid."""

    grooved: bool  # in a groove, not flat
    width_mm: float | None = None  # of a flat strip that is narrower than the usual; None: the usual, or as told


@dataclass(frozen=True)
class PlaceChoice:
    """One choice of turn, thickness, thread and gasket; screw lengths and the ring's strips follow from it."""

    threads: str  # as `threads` of the job says it: "insert M4 short"
    gasket: GasketKind
    turn_deg: float | None  # added to every angle of the driver; None: no holes to turn
    thickness_mm: float  # the part's own
    notch_deg: float | None = None  # direction of the notch on this side; None: no notch

    @property
    def grooved(self) -> bool:
        """Whether the back gasket lies in a groove."""
        return self.gasket.grooved

    @property
    def kinds(self) -> tuple[str, GasketKind]:
        """Thread and gasket: what both sides of a vehicle should share."""
        return self.threads, self.gasket
