"""What can be chosen for one driver in one opening, as one value."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlaceChoice:
    """One choice of turn, thickness, thread and gasket; screw lengths and the ring's strips follow from it."""

    threads: str  # as `threads` of the job says it: "insert M4 short"
    grooved: bool  # the back gasket lies in a groove, not flat
    turn_deg: float | None  # added to every angle of the driver; None: no holes to turn
    thickness_mm: float  # the part's own
    notch_deg: float | None = None  # direction of the notch on this side; None: no notch
