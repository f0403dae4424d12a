"""What is to be made for one place: the part, its material and process, and what is tried or laid on with it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace

from backwave.errors import BuildError, InputError
from backwave.finding import Check
from backwave.part.features import Loop, radial_section
from backwave.part.fit_gauge import cards
from backwave.part.flat_patterns import FlatPart, flat_ring, sheet_layers
from backwave.part.types import AdapterSpec, Material, Printer, RingSpec, SheetStock, StandInSpec, Zone
from backwave.shape import Outline, circle

# what cannot be built as it is meant: no reason overrides it
NOT_BUILT = frozenset({"fit.seat", "part.bed", "mount.held.cup"})

NOT_MADE = "STOPPED: this is to try, not the part. Enter what it did, then make again"


@dataclass(frozen=True)
class PartOrder:
    """The part that one place needs, and what is made with it."""

    id: str  # name of the part, with its side
    side: str
    subject: str  # the place it is for
    label: str  # what a person calls it
    spec: AdapterSpec  # what to build
    material: Material
    how: Printer | SheetStock
    zone: Zone  # where it lives
    ring: RingSpec | None  # foam, at its free height
    stand_in: StandInSpec | None  # the dummy to try first
    check_ring: RingSpec  # the test ring: outline and holes, a few layers thick
    metal_hole: Outline | None = None  # the hole in the metal, as measured; None: it was not
    stopped: tuple[Check, ...] = ()  # what stops its place, or was found on its solid
    flags: tuple[str, ...] = ()  # what it rests on without a reading, in a few words, such as "terminals not measured"
    anyway: str = ""  # a person's reason to make it although it is stopped

    @property
    def refused(self) -> tuple[Check, ...]:
        """What cannot be built as it is meant, whatever the reason."""
        return tuple(check for check in self.stopped if check.name in NOT_BUILT)

    @property
    def final(self) -> bool:
        """Whether the part itself is made; its dummy, test ring and template always are: they settle a stop."""
        return not self.stopped or bool(self.anyway and not self.refused)

    @property
    def mark(self) -> str:
        """What stands on everything that was made of it against a stop; "" otherwise."""
        return f"STOPPED: made anyway: {self.anyway}" if self.stopped and self.final else ""

    @property
    def marks(self) -> tuple[str, ...]:
        """All that stands on it beside its name."""
        return (*((self.mark,) if self.mark else ()), *self.flags)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What stands on every sheet of its paper."""
        return self.marks if self.final else (NOT_MADE, *self.flags)

    def radial_section(self, angle_deg: float) -> tuple[tuple[Loop, tuple[Loop, ...]], ...]:
        """Its material in a half-plane from the axis, see `backwave.part.features`."""
        return radial_section(self.spec, angle_deg)

    def on_paper(self) -> tuple[FlatPart, ...]:
        """What goes onto paper at 1:1: its face or its layers, the foam ring, the dummy's cards. Of a part that is
        stopped there are the test ring and the cards alone."""
        found: list[FlatPart] = []
        if self.final and isinstance(self.how, SheetStock):
            with suppress(BuildError, InputError):  # the part's own finding says so
                found += sheet_layers(self.spec, self.how)
        else:
            found.append(replace(flat_ring(self.check_ring), made=False))
        shown = () if self.metal_hole is None else (("the hole in the metal, as measured", self.metal_hole),)
        found = [replace(flat, whose=_whose(self.spec), shown=shown) for flat in found]
        if self.ring is not None and self.final:
            foam = flat_ring(self.ring)  # its holes are cut: nobody drills foam
            found.append(replace(foam, cut=(*foam.cut, *(circle(d / 2.0, x, y) for x, y, d in foam.drill)), drill=()))
        if self.stand_in is not None:
            with suppress(BuildError):  # and the dummy's
                found += cards(self.stand_in)
        return tuple(found)


def _whose(spec: AdapterSpec) -> tuple[tuple[float, float, str], ...]:
    """What each round hole is for."""
    return (
        (0.0, 0.0, "the part's bore"),
        *((f.x_mm, f.y_mm, "the vehicle's fixing") for f in spec.fixings if f.hole_mm),
        *((t.x_mm, t.y_mm, f"the speaker's screw, {t.kind} {t.size}") for t in spec.threads),
    )
