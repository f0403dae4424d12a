"""`[[opening]]`: the hole, what is behind and before it, how the factory fixed its own."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import (
    Across,
    Angle,
    AnyLength,
    Dim,
    Disc,
    Flag,
    Hertz,
    Length,
    Measured,
    MeasuredDisc,
    Outline,
    Positive,
    Table,
    Thick,
    Whole,
    default,
    given,
    own_id,
    word,
)
from backwave.units import Quantity

Deep = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "0 mm", "3 m", many=True)]
Area = Annotated[Quantity, Dim("area", "0 cm2")]


class HoleTable(Table):
    """The hole in the metal."""

    diameter: MeasuredDisc | None = given("Diameter of a round hole", None)
    outline: Outline | None = given("Edge of a hole that is not round: [[x, y], ...] in mm", None)
    by: str | None = given("Instrument it was read with", None)

    @model_validator(mode="after")
    def _one(self) -> HoleTable:
        if (self.diameter is None) == (self.outline is None):
            raise InputError("a hole", "both or neither", "either diameter or outline")
        return self


def _exactly_one(table: Table, what: str, none: str, *keys: str) -> None:
    said = [key for key in keys if getattr(table, key) is not None]
    if len(said) != 1:
        raise InputError(what, " and ".join(said) or none, f"one of {', '.join(keys)}")


class FlangeTable(Table):
    """The factory part's footprint on the metal, which the adapter keeps: exactly one way of saying it."""

    diameter: Disc | None = given("Round", None)
    ellipse: tuple[Disc, Disc] | None = given("Width and height of an ellipse", None)
    corners: Outline | None = given("Corners of a polygon, [[x, y], ...] in mm, rounded by `rounding`", None)
    rounding: Length | None = given("Radius of the polygon's corners", None)
    outline: Outline | None = given("Measured points all round, [[x, y], ...] in mm", None)
    traced: str | None = given("File of a traced outline, such as photos/ring.toml", None)

    @model_validator(mode="after")
    def _one(self) -> FlangeTable:
        _exactly_one(self, "a flange", "nothing", "diameter", "ellipse", "corners", "outline", "traced")
        for name in ("corners", "outline"):
            points = getattr(self, name)
            if points is not None and len(points) < 3:
                raise InputError(f"a flange's {name}", f"{len(points)} points", "three points or more")
        return self


class FixingTable(Table):
    """One of the factory's own fixing points in the metal."""

    x: Across | None = given("To the right of the axis, as seen from the cabin; left out: by `distances`", None)
    y: Across | None = given("Above the axis; left out: by `distances`", None)
    angle: Angle | None = given(
        "About where it is, such as 12 o'clock, where `distances` place it; that of the first one is taken as it is",
        None,
    )
    hole: Annotated[Quantity, Dim("length", "0.5 mm", "50 mm")] = given("Diameter of the hole or thread in the metal")
    head: Thick | None = given("Diameter of the screw's head; left out: by the screw that fits the hole", None)
    height: Thick | None = given("Height of the screw's head; left out: by the screw that fits the hole", None)
    stands: Thick | None = given("How far a stud or pin stands out of the metal", None)
    holds: Literal["rivet nut", "sheet nut", "expansion nut", "bolt", "self-tap", "stud", "hook", "pin"] = word(
        "How it holds", "sheet nut", "the commonest; " + PRACTICE
    )
    metal: Literal["steel", "plastic"] = word("What it is fixed in", "steel", "the commonest; " + PRACTICE)

    @model_validator(mode="after")
    def _both(self) -> FixingTable:
        if (self.x is None) != (self.y is None):
            raise InputError("a fixing", "x or y alone", "both, or neither where `distances` place it")
        return self

    @property
    def center_mm(self) -> tuple[float, float]:
        """Its middle; places of a job have no fixing without one."""
        assert self.x is not None
        assert self.y is not None
        return self.x.to("mm"), self.y.to("mm")


class DistanceTable(Table):
    """One distance as a person measures it, to place fixings by: between centers or between edges."""

    from_: str = Field(alias="from", description='Where it begins: "fixing 1", "hole edge", "axis"')
    to: str = given("Where it ends")
    centre: Measured | None = given("From center to center; at the hole's edge, to the edge", None)
    edge: Measured | None = given("Between the edges that face each other", None)
    across: Measured | None = given("Over both, from outer edge to outer edge", None)
    by: str | None = given("Instrument it was measured with", None)

    @model_validator(mode="after")
    def _one(self) -> DistanceTable:
        _exactly_one(self, "a distance", "none", "centre", "edge", "across")
        ends = (self.from_, self.to)
        known = all(e in ("axis", "hole edge") or (e[:7] == "fixing " and e[7:].isdigit()) for e in ends)
        if not known or self.from_ == self.to or not any(e[:6] == "fixing" for e in ends):
            raise InputError(
                "a distance", " to ".join(ends), 'from one of "fixing 1", "hole edge", "axis" to another fixing'
            )
        return self


class BehindTable(Table):
    """Free depth behind the face, read at one radius."""

    radius: Measured = given("Distance from the axis")
    clear: Deep = given("Free depth behind the face there, the minimum at this radius")
    by: str | None = given("Instrument it was read with", None)
    what: Literal["glass", "carriage", "rail", "beam", "loom", "metal"] = word(
        "What is there", "glass", "the one that breaks"
    )
    window: Literal["up", "half", "down"] | None = given("Where the window stood", None)
    angle: Angle | None = given(
        "Direction as you face the opening, such as 4 o'clock; it holds 30° either way. "
        "Leave it out only if you looked for the minimum all round",
        None,
    )


class PanelTable(Table):
    """The trim panel as a wall that moves."""

    area: Annotated[Quantity, Dim("area")] | None = given("Its area", None)
    mass: Annotated[Quantity, Dim("surface density")] | None = given("Its mass by area", None)
    resonance: Hertz | None = given("Where it resonates", None)
    at: tuple[AnyLength, AnyLength, AnyLength] | None = given(
        "Its middle in the cabin, where its leak sounds too; left out: the opening's place", None
    )


class TrimTable(Table):
    """The trim panel in front."""

    clear: Measured | None = given("Face of the metal to the back of the grille", None)
    land: Measured | None = given("Face of the metal to what the foam ring presses on; left out: the grille", None)
    by: str | None = given("Instrument both were read with", None)
    grille: Disc | None = given("Diameter of the open grille", None)
    open_area: Annotated[Quantity, Dim("ratio")] | None = given("Open share of the grille; left out: 40 %", None)
    grille_hole: Thick | None = given("Diameter of the grille's holes; left out: 4 mm", None)
    grille_thickness: Thick | None = given("Thickness of the grille; left out: 2 mm", None)
    panel: PanelTable | None = given("The trim panel as it gives way to pressure", None)
    inner: Disc | None = given("Inner diameter of the flat that the foam presses on", None)
    outer: Disc | None = given("Outer diameter of the flat that the foam presses on", None)


class FactoryTable(Table):
    """The factory's own loudspeaker."""

    height: Positive | None = given("With its own foam, face to top", None)
    mass: Annotated[Quantity, Dim("mass")] | None = given("Weighed", None, used=False)
    capacitor: Annotated[Quantity, Dim("capacitance")] | None = given(
        "In series with a factory tweeter, often its whole crossover", None
    )


class HolesTable(Table):
    """Holes left open, counted by what fits through them."""

    finger: Annotated[Whole, Field(ge=0, le=99)] = given("A finger", 0)
    fist: Annotated[Whole, Field(ge=0, le=99)] = given("A fist", 0)
    hand: Annotated[Whole, Field(ge=0, le=99)] = given("A flat hand", 0)


class CavityTable(Table):
    """The door behind the skin."""

    volume: Annotated[Quantity, Dim("volume")] | None = given("Volume", None)
    leak: Area | None = given("Area of the holes left open in the skin", None)
    holes: HolesTable | None = given("The same, counted; either one", None)
    outside: Area | None = given("Area of drains and slots to the outside", None)


class GapTable(Table):
    """The space between trim and skin."""

    volume: Annotated[Quantity, Dim("volume")] | None = given("Volume", None)
    leak: Area | None = given("Area of its leaks into the cabin", None)


class MountingTable(Table):
    """A speaker that is not mounted flat on the opening's axis."""

    tilt: Annotated[Quantity, Dim("angle", "0 deg", "90 deg", turning=True)] = default(
        "How far the speaker leans", "angle", "0 deg", "mounted flat"
    )
    toward: Angle | None = given("Direction in which its front leans, such as 6 o'clock", None)
    offset: tuple[Across, Across] | None = given("Its middle off the opening's axis: right, up", None)


class SeatTable(Table):
    """The older way to say `mounting`: an offset without a direction."""

    tilt: Annotated[Quantity, Dim("angle", "-90 deg", "90 deg", turning=True)] = default(
        "Lean of the seat", "angle", "0 deg", "a flat seat"
    )
    offset: Annotated[Quantity, Dim("length", "-300 mm", "300 mm")] = default(
        "Distance off the opening's axis", "length", "0 mm", "a seat on the axis"
    )


class LipTable(Table):
    """Metal turned up round the edge of the hole, toward the listener."""

    height: Measured = given("How far it stands above the face")
    width: Measured = given("How far it reaches outward from the hole's edge")
    by: str | None = given("Instrument both were read with", None)


class StandInTable(Table):
    """What the dummy did in the opening; outranks every reading."""

    code: str | None = given("The code on it, such as KXMT-17.4; left out: nobody knows which one it was", None)
    outcome: Literal["clear", "touched"] = given("clear, or touched")
    where: str = given("Where it touched, in your own words", "")
    travel: Flag = given(
        "It stayed clear over one slow full travel of the window, the glass pushed toward it by hand", False
    )


class MeasuresTable(Table):
    """What can be measured on a side of its own."""

    at: tuple[AnyLength, AnyLength, AnyLength] | None = given(
        "Where it is: back from the front of the cabin's air, right of its left side, above the floor", None
    )
    hole: HoleTable | None = given("The hole in the metal", None)
    lip: LipTable | None = given("A lip round the hole", None)
    skin: Measured | None = given("Thickness of the metal", None)
    flange: FlangeTable | None = given("The factory part's footprint", None)
    fixings: tuple[FixingTable, ...] | None = given("The factory's own fixing points in the metal", None)
    distances: tuple[DistanceTable, ...] | None = given(
        "Distances between fixings, or to the hole's edge, that place fixings without x and y", None
    )
    behind: tuple[BehindTable, ...] | None = given("Free depth behind the face at a radius from the axis", None)
    trim: TrimTable | None = given("The trim panel in front", None)
    window: Literal["moves", "none"] | None = given(
        "Whether a window moves behind it; left out: it does where glass was measured, and in a door it is asked", None
    )
    factory: FactoryTable | None = given("The factory's loudspeaker", None)
    cavity: CavityTable | None = given("The door behind the skin", None)
    gap: GapTable | None = given("The space between trim and skin", None)
    mounting: MountingTable | None = given("A speaker that is tilted, or off the opening's axis", None)
    seat: SeatTable | None = given("The older name of `mounting`", None)
    stand_in: StandInTable | None = given("What the dummy did", None)

    @model_validator(mode="after")
    def _one_mounting(self) -> MeasuresTable:
        if self.mounting is not None and self.seat is not None:
            raise InputError("mounting", "mounting and seat, its older name", "mounting alone")
        return self


class OpeningTable(MeasuresTable):
    """An opening, measured on its first side and mirrored for the second."""

    id: str = own_id()
    name: str | None = given("What a person calls it; left out: its id", None)
    sides: tuple[Literal["left", "right"], ...] = given(
        "The sides it is on, the measured one first; left out: just one", ()
    )
    zone: Literal["door", "dash", "under-dash", "pillar", "shelf", "floor", "cargo"] = word(
        "How hot it gets", "door", "the commonest place"
    )
    held_by: Literal["screws", "clips", "glue", "ring", "cup"] | None = given(
        "What holds the driver: screws, clips, glue, a retaining ring, or its own cup; left out: its screw holes", None
    )
    door: Literal["open", "sheet", "carrier", "sealed"] | None = given(
        "Kind of door, for what nobody measured: open holes, a sheet over them, a plastic carrier, sealed; "
        "left out: sheet",
        None,
    )
    left: MeasuresTable | None = given("What was measured on the left by itself", None)
    right: MeasuresTable | None = given("What was measured on the right by itself", None)

    @model_validator(mode="after")
    def _sides(self) -> OpeningTable:
        if len(set(self.sides)) != len(self.sides):
            raise InputError("sides", list(self.sides), '["left", "right"], each once')
        for side in ("left", "right"):
            if getattr(self, side) is not None and side not in self.sides:
                raise InputError(f"an override for the {side}", list(self.sides), f'sides that include "{side}"')
        return self
