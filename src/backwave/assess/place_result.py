"""What one place comes to: its dimensions, its fit, its part, as frozen values that everything else reads.

A place is an opening on one side with the driver that goes into it.  `Dimensions` is what the sound needs and the fit
starts from; `PlaceResult` adds what was judged and what is made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import blake2b
from math import atan2, degrees, hypot

from backwave.finding import Check, Message, Verdict, worst
from backwave.fit import Advice, DriverShape, Fit, Margins, Opening, ScrewTail, Stack, seat_height_mm
from backwave.fit.bolt_pattern import BoltedJoint, Hole
from backwave.fit.clocking import Clocking
from backwave.fit.coverage import unread_behind
from backwave.fit.foam import FoamRing
from backwave.fit.gasket import BackGasket, FlangeLift
from backwave.fit.laps import FlangeLap
from backwave.fit.screw import HEAD_BELOW_MM, ChosenScrew, Threads
from backwave.fit.screw_holes import SLEEVE_PLAY_MM, Washer
from backwave.fit.types import PlaceChoice
from backwave.part.order import PartOrder
from backwave.part.types import AdapterSpec, Fixing, Thread
from backwave.stock import FixingRow, SleeveRow
from backwave.uncertainty import exact

TRY_MM = 10.0
MAGNET_SHARE = 0.75  # most of a driver's mass is its magnet, so far back of its depth; common trade practice
MOST_SAID = 3  # changes in one remedy
HEAD_PLAY_MM = 1.0  # counterbore over head, in diameter; common trade practice


@dataclass(frozen=True)
class MetalFixing:
    """One of the metal's fixings, as the adapter meets it."""

    x_mm: float  # its place on this side
    y_mm: float
    row: FixingRow  # how it holds
    read_mm: float  # its hole or thread in the metal, as read
    hole_mm: float  # hole through the adapter; 0: none, for a pin or a hook
    head_mm: float  # screw head or nut, its washer included; 0: none
    height_mm: float
    socket_mm: float = 0.0  # outside of the socket wrench that has to get in
    over_mm: float = 0.0  # the surface over the head below the front face: the recess, under a sunk driver
    stands_mm: float | None = None  # a stud or pin out of the metal
    washer: Washer | None = None  # under the head
    sleeve: SleeveRow | None = None  # round the screw, through the part
    pocket_mm: float = 0.0  # diameter and depth of a pocket in the back; 0: none
    pocket_depth_mm: float = 0.0
    screw: ChosenScrew | None = None  # chosen once the thickness is known

    @property
    def round_mm(self) -> float:
        """Diameter of what the screw goes through: its sleeve, or its hole in the part."""
        return self.hole_mm if self.sleeve is None else self.sleeve.inner_mm + SLEEVE_PLAY_MM

    @property
    def counterbore_mm(self) -> float:
        """Diameter of the counterbore: head or wrench, and play."""
        return max(self.head_mm, self.socket_mm) + HEAD_PLAY_MM if self.head_mm else self.hole_mm

    @property
    def depth_mm(self) -> float:
        """Depth of the counterbore from the front face: at least so that the head ends below the face over it."""
        least = self.over_mm + self.height_mm + HEAD_BELOW_MM if self.head_mm else 0.0
        return least if self.screw is None else max(least, self.screw.depth_mm)


@dataclass(frozen=True)
class Screws:
    """Everything that is screwed."""

    threads: Threads  # what the driver's screws go into
    thread: Thread  # a thread for the driver, at the axis; placed where its holes are
    metal: tuple[MetalFixing, ...]  # the metal's fixings
    rim_mm: float  # the driver's rim, its own gasket as closed, and what both may be out by, either way
    gasket_mm: float
    rim_error_mm: float
    mass_kg: float | None  # the driver's; None: not entered
    washer: Washer | None = None  # under the heads on the driver's rim
    driver: ChosenScrew | None = None  # the driver's screw; chosen once the thickness is known

    @property
    def thread_hole_mm(self) -> float:
        """Largest diameter cut for a driver's thread."""
        return max(self.thread.hole_mm, self.thread.nut_flats_mm)

    @property
    def over_rim_mm(self) -> float:
        """Diameter of what stands up on the driver's rim at each of its holes: a head, or a washer; 0: nothing."""
        head = 0.0 if self.driver is None else self.driver.head_mm
        return max(head, 0.0 if self.washer is None else self.washer.outer_mm)

    def tails(self, owner: str) -> tuple[ScrewTail, ...]:
        """Screw ends behind the metal, as the fit wants them; `owner` is the opening's id, for their readings."""
        found = []
        for i, m in enumerate(self.metal, 1):
            if m.screw is None or m.screw.tail_mm <= 0.0:
                continue
            radius = exact(f"{owner}.screw {i}.radius", hypot(m.x_mm, m.y_mm))
            length = exact(f"{owner}.screw {i}.tail", m.screw.tail_mm)
            found.append(ScrewTail(radius, length, degrees(atan2(m.y_mm, m.x_mm)) % 360.0, f"screw {i}"))
        return tuple(found)


@dataclass(frozen=True)
class FoamResult:
    """The foam of one place."""

    front: FoamRing | None  # mm, the ring in front; None where it could not be worked out, or there is none
    back: BackGasket | None  # mm, the gasket between part and metal
    land_mm: float | None  # face of the metal to what the ring presses on; None where that was not measured
    checks: tuple[Check, ...]


@dataclass(frozen=True, eq=False)
class Dimensions:
    """One driver in one opening on one side, in lengths: nothing is judged yet."""

    opening: Opening  # mm
    driver: DriverShape  # mm
    margins: Margins  # mm
    frame_mm: float  # diameter of the driver's frame
    holes: tuple[Hole, ...]  # mm, the driver's holes, not turned; () where they are not known
    screws: Screws  # mm
    clocking: Clocking | None  # deg and mm, the turn of the driver; None where there is nothing to turn against
    stack: Stack  # mm
    least_mm: float  # thickness that threads and heads leave at least
    layers_mm: tuple[float, ...]  # the sheets it is made of; none for a print
    taken: PlaceChoice  # mm and deg, what was taken of all that could be chosen
    choice: Message | None  # mm, how the thickness was chosen; None where it was given
    foam: FoamResult  # mm
    spec: AdapterSpec  # mm
    lift: FlangeLift | None  # mm, what its gasket lifts the flange by
    joints: tuple[BoltedJoint, ...]  # mm

    @property
    def turn_deg(self) -> float:
        """The turn, 0 where there is nothing to turn against."""
        return self.clocking.angle_deg if self.clocking is not None else 0.0

    @property
    def seat_height_mm(self) -> float:
        """Seat height at the best estimates."""
        return seat_height_mm(self.stack)

    @property
    def back_closed_mm(self) -> float:
        """What the gasket behind adds to the seat height as closed; 0 without one, or with one in a groove."""
        return self.stack.gasket.value


ALLOWED = ("N", "MPa")  # of a load a change raises what is allowed, and leaves the load


@dataclass(frozen=True)
class Remedy:
    """A single change of the part that was tried and helps."""

    key: str  # of the part's table: "foam.grooved"
    value: str  # what to write there; "": leave it out
    what: Message  # the change in words, its verb in front
    lifts: tuple[str, ...]  # findings that it lifts: "fit.grille", "part.insert-wall.driver-hole-1"
    # of each of them then: value, unit, and whether it is still a caution; None where nothing is said of it any more
    left: tuple[tuple[float | None, str, bool] | None, ...]
    stops_left: int

    def words(self, number: int, lifted: str) -> Message:
        """The change and what it leaves of one that it lifts, its quantities named apart by a number."""
        named = [(f"{name}{number}", value, unit) for name, value, unit in self.what.quantities]
        text = self.what.template
        for name, _, _ in self.what.quantities:
            text = text.replace(f"{{{name}}}", f"{{{name}{number}}}")
        value, unit, still = dict(zip(self.lifts, self.left)).get(lifted) or (None, "", False)
        if value is not None and unit:
            text += f": {{left{number}}} {'allowed ' if unit in ALLOWED else ''}then" + (
                ", still a caution" if still else ""
            )
            named.append((f"left{number}", value, unit))
        return Message(text, tuple(named))


@dataclass(frozen=True, eq=False)
class PlaceResult(Dimensions):
    """Everything that one place comes to."""

    # the opening's id, "left", "right" or "", both together ("front-door.left"), and what a person calls it
    opening_id: str
    side: str
    subject: str
    name: str
    speaker_id: str  # the driver's id, and what a person calls it
    speaker_name: str
    fit: Fit  # mm, clearances, chances, the window
    advice: Advice | None  # which reading to take again; None where all is well
    part: PartOrder  # mm
    # what was found of the clearances, of driver, part and metal going together, of the holes, and of screws and
    # part
    fit_checks: tuple[Check, ...]
    mount_checks: tuple[Check, ...]
    hole_checks: tuple[Check, ...]
    part_checks: tuple[Check, ...]
    lap: FlangeLap | None = None  # mm, of the flange on metal where it is least; None: the hole was not measured
    remedies: tuple[Remedy, ...] = ()  # single changes that were tried and help, the best first

    @property
    def checks(self) -> tuple[Check, ...]:
        """Everything that was found, each with the changes that lift it for a remedy where some were tried."""
        return tuple(self._remedied(check) for check in self._found)

    def _remedied(self, check: Check) -> Check:
        helps = [one for one in self.remedies if check.name in one.lifts][:MOST_SAID]
        if not helps:
            return check
        said = [one.words(n, check.name) for n, one in enumerate(helps, 1)]
        template = "; or ".join(one.template for one in said)
        if len(said) > 1:
            template = "Any one of these helps: " + template
        quantities = tuple(q for one in said for q in one.quantities)
        besides = check.tries and helps[0].key and check.code.startswith(("mount.", "fit.flange", "fit.screw"))
        if besides and check.remedy is not None:
            first = check.remedy.template  # what can be measured or done by hand besides
            template += "; or " + first[:1].lower() + first[1:]
            quantities += check.remedy.quantities
        return replace(check, remedy=Message(template[:1].upper() + template[1:], quantities))

    @property
    def _found(self) -> tuple[Check, ...]:
        flange = () if self.lift is None else (self.lift.check,)
        foam = (*self.foam.checks, *flange)
        return (*self.fit_checks, *self.mount_checks, *self.hole_checks, *foam, *self.part_checks)

    @property
    def not_measured(self) -> tuple[str, ...]:
        """What was not entered and may decide whether it fits ("terminals"): stands on part, drawing and file name."""
        return tuple(c.part for c in self.fit_checks if c.code == "fit.assumed" and c.verdict != "ok")

    def holds(self, fixing: Fixing) -> str:
        """How one of the metal's fixings holds, in words."""
        return self.screws.metal[int(fixing.name.rsplit(maxsplit=1)[1]) - 1].row.holds

    @property
    def unread(self) -> tuple[Check, ...]:
        """What was not read behind the metal in some state of the window; none where a dummy proved it."""
        return tuple(c for c in self.fit.checks if c.code == "fit.coverage" and c.verdict != "ok")

    @property
    def unread_deg(self) -> tuple[tuple[float, float], ...]:
        """The sectors in which that is so, from and to, counterclockwise, each once."""
        arcs = (arc for state in unread_behind(self.opening) for arc in state.arcs_deg)
        return tuple(dict.fromkeys(arcs)) if self.unread else ()

    @property
    def preliminary(self) -> bool:
        """Whether it was judged by first order alone, so far."""
        return bool(self.fit.clearances) and not self.fit.draws

    @property
    def fit_verdict(self) -> Verdict:
        """Whether it clears: the worst of what was found of the clearances."""
        return worst([check.verdict for check in self.fit_checks])

    @property
    def heights_to_try_mm(self) -> tuple[float, float]:
        """Seat heights between which a person may try: as far either way of the one chosen."""
        seat = self.fit.seat_height_mm
        return max(0.0, round(seat - TRY_MM)), round(seat + TRY_MM)

    @property
    def hole_verdict(self) -> Verdict:
        """Whether the holes meet."""
        return worst([check.verdict for check in self.hole_checks])


def stopped_too(place: PlaceResult, checks: Sequence[Check]) -> PlaceResult:
    """The same place; what else stops it stops its part."""
    stops = tuple(check for check in checks if check.verdict == "stop")
    return replace(place, part=replace(place.part, stopped=(*place.part.stopped, *stops))) if stops else place


def named_apart(places: Sequence[PlaceResult]) -> list[PlaceResult]:
    """The same places; parts whose names run together (opening a, speaker b-c; opening a-b, speaker c) get a digest each."""
    ids = [place.part.id for place in places]
    found = []
    for place in places:
        if ids.count(place.part.id) > 1:
            own = "\n".join((place.opening_id, place.speaker_id, place.side))
            tail = blake2b(own.encode("utf-8", "surrogatepass"), digest_size=4).hexdigest()
            place = replace(place, part=replace(place.part, id=f"{place.part.id}-{tail}"))
        found.append(place)
    return found
