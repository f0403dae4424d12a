"""`[[speaker]]`: a driver, from its data sheet or measured."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, GetJsonSchemaHandler, field_validator, model_validator
from pydantic_core import CoreSchema

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import (
    Across,
    Angle,
    Dim,
    Disc,
    Hertz,
    Load,
    Measured,
    MeasuredDisc,
    Number,
    Outline,
    Point,
    Positive,
    Quality,
    Table,
    Volt,
    Whole,
    default,
    given,
    own_id,
)
from backwave.units import Quantity, parse

# above the mounting side of the rim; below it negative
FrontHeight = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "-100 mm", many=True)]


class FrontPartsTable(Table):
    """Highest points at rest above the mounting side of the rim, by how they move."""

    moving: FrontHeight | None = given("Cone or dust cap: moves by the whole excursion", None)
    crest: FrontHeight | None = given("Crest of the surround: moves by about half", None)
    fixed: FrontHeight | None = given("Post, bridge or phase plug: does not move", None)


class _FrontSchema:
    """A bare length may stand for the table; the reader turns it into `moving`."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        several = {"type": "array", "minItems": 2, "items": {"type": "string"}}
        return {"anyOf": [{"type": "string"}, several, handler(schema)]}


class SlotTable(Table):
    """A slotted hole of the frame."""

    x: Across = given("Middle, to the right, the driver seen from its front")
    y: Across = given("Middle, upward")
    width: Annotated[Quantity, Dim("length", "0.5 mm", "100 mm")] = given("Width")
    length: Positive = given("Length over its ends")
    angle: Angle = given("Direction of its length")


class BoltHolesTable(Table):
    """The holes of the driver's frame: on a circle, at coordinates, or slots."""

    count: Annotated[Whole, Field(ge=2, le=24)] | None = given("How many on the bolt circle", None)
    circle: Disc | None = given("Diameter of the bolt circle", None)
    diameter: Annotated[Quantity, Dim("length", "0.5 mm", "50 mm")] | None = given("Diameter of each hole", None)
    first: Angle | None = given("Angle of the first; left out: 0 deg", None)
    at: tuple[Point, ...] | None = given("Centers at coordinates, [[x, y], ...] in mm", None)
    slots: tuple[SlotTable, ...] = given("Slotted holes", ())

    @model_validator(mode="after")
    def _enough(self) -> BoltHolesTable:
        circle = self.count is not None and self.circle is not None
        if not (circle or self.at or self.slots):
            raise InputError("holes", "neither a circle nor coordinates", "count and circle, or at, or slots")
        if (circle or self.at) and self.diameter is None:
            raise InputError("holes", "no diameter", "diameter of the holes")
        return self


class TerminalsTable(Table):
    """The terminals, where they stand out of the basket."""

    angle: Angle | None = given("The driver's own angle, seen from its front; left out: all round", None)
    width: Measured = given("Across")
    radius: Measured = given("Axis to their outer face")
    depth: Measured = given("Their farthest point from the rim's mounting side")
    start: Measured | None = given("Their nearest point from there; left out: 15 mm before their farthest", None)


class MotorTable(Table):
    """Thiele-Small and large-signal parameters."""

    Re: Load | None = given("Resistance of the coil", None)
    Le: Annotated[Quantity, Dim("inductance", "0 mH")] | None = given("Inductance of the coil", None)
    n: Annotated[Number, Field(ge=0.01, le=1)] | None = given(
        "Exponent of the coil's semi-inductance, 1 a plain coil; left out: 0.7", None
    )
    fs: Annotated[Quantity, Dim("frequency", "5 Hz", "20 kHz")] | None = given("Resonance in free air", None)
    Qms: Quality | None = given("Mechanical quality factor", None)
    Qes: Quality | None = given("Electrical quality factor", None)
    Qts: Quality | None = given("Total quality factor", None)
    Vas: Annotated[Quantity, Dim("volume")] | None = given("Equivalent volume", None)
    Sd: Annotated[Quantity, Dim("area")] | None = given("Piston area", None)
    Mms: Annotated[Quantity, Dim("mass")] | None = given("Moving mass with air", None)
    Cms: Annotated[Quantity, Dim("compliance")] | None = given("Compliance", None)
    Rms: Annotated[Quantity, Dim("mechanical resistance")] | None = given("Mechanical resistance", None)
    Bl: Annotated[Quantity, Dim("force factor")] | None = given("Force factor", None)
    Xmax: Annotated[Quantity, Dim("length", maximum="100 mm")] | None = given("Linear excursion, one way", None)
    Xmech: Annotated[Quantity | tuple[Quantity, ...], Dim("length", "0 mm", "100 mm", many=True)] | None = given(
        "Mechanical limit of excursion, one way", None
    )
    power: Annotated[Quantity, Dim("power")] | None = given("Rated power", None)


class MeasuredCurvesTable(Table):
    """What was measured of a driver: plain columns of numbers, frequency, value, and phase if there is one."""

    impedance: str | None = given("File of its impedance in free air, Hz, ohm, degrees", None)
    response: str | None = given("File of its response on its axis, Hz, dB re 20 uPa, degrees", None)
    distance: Annotated[Quantity, Dim("length", "5 mm", "20 m")] = given(
        "How far the microphone was", parse("1 m", "length")
    )
    volts: Volt = given("At its terminals", parse("2.83 V", "voltage"))
    above: Hertz = default(
        "From where the response holds: below, the room was in it", "frequency", "400 Hz", "a garage; " + PRACTICE
    )


class SpeakerTable(Table):
    """A driver."""

    id: str = own_id()
    name: str | None = given("What a person calls it; left out: its id", None)
    kind: Literal["woofer", "midrange", "tweeter", "coaxial", "subwoofer"] = given("What it is", "woofer")
    rated: Load | None = given("Rated impedance", None)
    frame: MeasuredDisc | None = given("Diameter of the frame; left out: cutout and 25 mm", None)
    cutout: MeasuredDisc | None = given("Diameter of the cutout it asks for; needed for an adapter", None)
    frame_outline: Outline | None = given(
        "Edge of a frame that is not round, the driver seen from its front: [[x, y], ...] in mm; `frame` is not read then",
        None,
    )
    cutout_outline: Outline | None = given(
        "Edge of a cutout that is not round, likewise; `cutout` is its widest then", None
    )
    depth: Measured | None = given(
        "Mounting depth, rim to the farthest point at the back; not needed with a profile", None
    )
    magnet: MeasuredDisc | None = given("Diameter of the magnet; not needed with a profile", None)
    rim: Measured | None = given("Thickness of the frame's rim", None)
    gasket: Measured | None = given("The driver's own gasket as closed", None)
    front: Annotated[FrontPartsTable | None, _FrontSchema()] = given(
        "Highest point at rest above the rim's mounting side: a length, or { moving, crest, fixed }", None
    )
    profile: tuple[tuple[Measured, Measured], ...] | None = given(
        "Back of the driver from the rim: [radius, depth from the rim's mounting side], depth never falling", None
    )
    holes: BoltHolesTable | None = given("Holes of the frame", None)
    terminals: TerminalsTable | None = given("The terminals", None)
    vent: Annotated[Quantity, Dim("length", "0 mm", "300 mm")] | None = given(
        "Diameter of a vent in the pole at the back; 0 mm: none", None
    )
    mass: Annotated[Quantity, Dim("mass")] | None = given("Mass of the driver", None)
    motor: MotorTable | None = given("Its parameters", None)
    measured: MeasuredCurvesTable | None = given("What was measured of it", None)
    by: str | None = given("Instrument its dimensions were read with; left out: from a data sheet", None)

    @field_validator("front", mode="before")
    @classmethod
    def _bare_front_moves(cls, value: Any) -> Any:
        return {"moving": value} if isinstance(value, (str, list)) else value
