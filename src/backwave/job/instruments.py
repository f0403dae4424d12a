"""From a quantity as written to a reading with its error terms: the rules of "how sure".

- an explicit ± or u is that reading's own error, independent of all others;
- an instrument's half-width is shared by all readings of one opening that name the instrument: one draw for all;
- a reading that names none takes the default for its kind, or `[instruments] default`, shared in the same way;
- a list is its mean, with its scatter of its own and the instrument once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from backwave.uncertainty import Error, Reading, mean, mean_reading
from backwave.units import Quantity

Kind = Literal["metal", "depth", "trim", "sheet"]
Written = Quantity | tuple[Quantity, ...]  # one reading, or several of the same thing

# half-width in mm that a reading may be out by when it names no instrument, by kind; common trade practice
DEFAULTS: dict[Kind, tuple[float, str]] = {
    "metal": (0.3, "pressed, painted metal, whatever the caliper"),
    "depth": (1.0, "a depth found through a hole"),
    "trim": (1.0, "putty between skin and trim"),
    "sheet": (0.5, "a dimension of a data sheet"),
}


def best_mm(written: Written) -> float:
    """The best estimate of a measured length, in millimeters: the reading, or the mean of several."""
    return written.to("mm") if isinstance(written, Quantity) else mean([q.to("mm") for q in written])


@dataclass(frozen=True)
class Bench:
    """The instruments on the bench, for the readings of one opening or one driver."""

    owner: str  # the opening's or the driver's id: readings of one owner share an instrument's error
    half_mm: Mapping[str, float]  # what each instrument may be out by, either way
    default_by: str | None = None  # the instrument that a reading was made with which names none

    def read(self, name: str, written: Written, kind: Kind, by: str | None = None) -> Reading:
        """A measured length as a reading in millimeters."""
        full = f"{self.owner}.{name}"
        if isinstance(written, tuple):
            return mean_reading(full, [q.to("mm") for q in written], self._instrument(full, kind, by))
        half, u = written.half_to("mm"), written.u_to("mm")
        if half is not None:
            return Reading(full, written.to("mm"), (Error(full, "rectangular", half),))
        if u is not None:
            return Reading(full, written.to("mm"), (Error(full, "normal", u),))
        return Reading(full, written.to("mm"), (self._instrument(full, kind, by),))

    def assumed(
        self, name: str, value_mm: float, half_mm: float, plausible_mm: tuple[float, float] | None = None
    ) -> Reading:
        """A length nobody gave: its default, what that is out by in the chances, and what it may plausibly be."""
        full = f"{self.owner}.{name}"
        errors = (Error(full, "rectangular", half_mm),) if half_mm else ()
        if plausible_mm is not None:  # a default is plausible itself
            plausible_mm = min(plausible_mm[0], value_mm), max(plausible_mm[1], value_mm)
        return Reading(full, value_mm, errors, assumed=True, plausible=plausible_mm)

    def default_of(self, kind: Kind) -> tuple[float, str]:
        """Half-width of a reading that names no instrument, in mm, and the ground for it."""
        if "default" in self.half_mm:
            return self.half_mm["default"], "[instruments] default"
        return DEFAULTS[kind]

    def _instrument(self, full: str, kind: Kind, by: str | None) -> Error:
        if kind != "sheet":
            by = by or self.default_by
        if by is not None:
            return Error(f"{self.owner}:{by}", "rectangular", self.half_mm[by])
        half = self.default_of(kind)[0]
        # A data sheet's dimensions are rounded and printed one by one: nothing is shared between them.
        return Error(full if kind == "sheet" else f"{self.owner}:{kind}", "rectangular", half)
