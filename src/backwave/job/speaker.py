"""`[[speaker]]` and what holds it: `[[adapter]]`, and what that is made with, `[printer]` and `[sheet]`."""

from __future__ import annotations

import re
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
    Flag,
    Hertz,
    LengthOrAuto,
    Load,
    Measured,
    MeasuredDisc,
    Number,
    Outline,
    Point,
    Positive,
    Quality,
    Table,
    Thin,
    Volt,
    Whole,
    always,
    default,
    given,
    own_id,
    word,
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


Bed = Annotated[Quantity, Dim("length", "20 mm", "3 m")]
Turn = Annotated[Quantity | str, Dim("angle", words=("auto",), turning=True)]
Notch = Annotated[Quantity | str, Dim("angle", words=("terminals",))]


class FoamTable(Table):
    """The gasket behind and the ring in front."""

    back: Thin = default("Back gasket, free", "length", "3 mm", "a common strip; " + PRACTICE)
    closed: Thin | None = given("Back gasket as closed; left out: half of `back`, or 0 in a groove", None)
    grooved: Flag | None = given(
        "The back gasket lies in a groove, so that the plate bottoms on the metal; left out: flat, unless only a "
        "groove opens the window",
        None,
    )
    ring: Annotated[Quantity | str, Dim("length", maximum="100 mm", words=("auto", "none"))] = given(
        'Free height of the ring in front, "auto" or "none"', "auto"
    )
    compression: Annotated[Quantity, Dim("ratio", "0.1 %", "90 %")] = default(
        "Compression the ring is chosen for", "ratio", "15 %", "10 to 20 %; " + PRACTICE
    )
    width: Annotated[Quantity, Dim("length", maximum="300 mm")] | None = given(
        "Width of the ring; left out: what the rim and the land leave", None
    )
    grade: str = word("Grade of the ring by ASTM D1056", "2A0", "the softest closed cell; " + PRACTICE)
    back_grade: str | None = given("Grade of the back gasket; left out: 2A0", None)
    back_width: Annotated[Quantity, Dim("length", "1 mm", "300 mm")] | None = given(
        "Width of the back gasket, a strip round the hole; left out: 8 mm, or in a groove its height", None
    )


class SpigotTable(Table):
    """A collar at the back that reaches into the hole and centers the part."""

    length: Annotated[Quantity, Dim("length", maximum="300 mm")] = given("From the part's back face to its end")
    gap: Thin = default("Play to the hole's edge all round", "length", "0.5 mm", PRACTICE)


class CollarTable(Table):
    """A raised ring in front that the foam stands on."""

    height: Annotated[Quantity, Dim("length", maximum="300 mm")] = given("Above the part's front face")
    width: Annotated[Quantity, Dim("length", maximum="300 mm")] = given("Width of the ring")


class AdapterTable(Table):
    """A part between the metal and a driver."""

    id: str | None = given("Its name; left out: opening and speaker", None)
    opening: str = given("Which opening")
    speaker: str = given("Which driver")
    process: Literal["print", "sheet"] = word(
        "Printed, or cut from layers of sheet stock", "print", "the commonest; " + PRACTICE
    )
    material: str = given("A material of the stock table, or of your own")
    thickness: LengthOrAuto = given('The part\'s own, between its two faces, or "auto"', "auto")
    recess: Thin = default("How far the driver's seat is sunk into the front face", "length", "0 mm", "a seat on top")
    threads: str = given(
        'What the driver\'s screws go into: "insert M4", "insert M4 short", "nut M4", "screw ST4.2", or "auto": an '
        "insert, unless only another opens the window",
        "auto",
    )
    bore: Disc | None = given("Diameter of the through-bore; left out: the cutout and 1 mm", None)
    relief: Thin | None = given("Chamfer behind the cone; left out: a third of the thickness, at most 6 mm", None)
    turn: Turn = given('Added to every angle of the driver, or "auto"', "auto")
    gap: Thin = default("Least distance between a driver's hole and a fixing, edge to edge", "length", "3 mm", PRACTICE)
    terminals_to: Annotated[Quantity | str, Dim("angle", words=("down", "up", "left", "right"))] = given(
        "Where the terminals should end up, if the holes leave a choice; down is off the drip line", "down"
    )
    foam: FoamTable = always(FoamTable, "Gasket and ring")
    spigot: SpigotTable | None = given("A collar into the hole", None)
    collar: CollarTable | None = given("A raised ring for the foam to stand on", None)
    notch: Notch | None = given(
        'A notch for the wires at this angle of the first side, or "terminals": wherever these end up', None
    )
    screw: str | None = given('Screw into the metal, such as "M5"; left out: by the fixing\'s hole', None)
    sealed: Flag = given("A sheet part sealed all over against water", False)

    @field_validator("threads")
    @classmethod
    def _threads(cls, text: str) -> str:
        if text != "auto" and not re.fullmatch(r"insert M\d+(\.\d)?( short)?|nut M\d+(\.\d)?|screw ST\d\.\d", text):
            raise InputError("not a thread", text, '"auto", "insert M4", "insert M4 short", "nut M4" or "screw ST4.2"')
        return text

    @field_validator("screw")
    @classmethod
    def _screw(cls, text: str | None) -> str | None:
        if text is not None and not re.fullmatch(r"M\d+(\.\d)?|ST\d\.\d", text):
            raise InputError("not a screw", text, '"M5" or "ST4.8"')
        return text


class PrinterTable(Table):
    """The printer."""

    bed: tuple[Bed, Bed, Bed] = Field(
        default_factory=lambda: (parse("220 mm", "length"), parse("220 mm", "length"), parse("250 mm", "length")),
        description="Width, depth and height it prints",
        json_schema_extra={"x-assumed": "a common size"},
    )
    layer: Annotated[Quantity, Dim("length", "0.01 mm", "3 mm")] = default(
        "Height of a layer", "length", "0.2 mm", "a common setting"
    )
    accuracy: Annotated[Quantity, Dim("length", "0 mm", "2 mm")] = default(
        "What a printed thickness may be out by, either way",
        "length",
        "0.1 mm",
        "half a layer; measure one; " + PRACTICE,
    )
    line: Annotated[Quantity, Dim("length", "0.05 mm", "10 mm")] = default(
        "Width of a line", "length", "0.45 mm", "for a 0.4 mm nozzle; a common setting"
    )
    walls: Annotated[Whole, Field(ge=1, le=100)] = Field(
        default=6,
        description="Walls all round",
        json_schema_extra={"x-assumed": "a ring that does not ring; " + PRACTICE},
    )
    hole_compensation: Annotated[Quantity, Dim("length", "0 mm", "5 mm")] = default(
        "Holes are made larger by this in diameter", "length", "0.2 mm", PRACTICE
    )
    shrinkage: Annotated[Quantity, Dim("ratio", "0 %", "20 %")] | None = given(
        "How much a print shrinks; left out: nothing is scaled", None
    )
    filament: Annotated[Quantity, Dim("length", "0.5 mm", "10 mm")] = default(
        "Diameter of the filament", "length", "1.75 mm", "the commoner of two"
    )
    speed: Annotated[Quantity, Dim("speed")] = default("Speed of a wall", "speed", "60 mm/s", "a common setting")


class SheetTable(Table):
    """Sheet stock on hand."""

    stock: tuple[Annotated[Quantity, Dim("length", "0.1 mm", "100 mm")], ...] = given(
        "Thicknesses on hand; left out: those the material is sold in", ()
    )
    accuracy: Annotated[Quantity, Dim("length", "0 mm", "5 mm")] = default(
        "What the thickness of a sheet may be out by, either way",
        "length",
        "0.3 mm",
        "boards; measure yours; " + PRACTICE,
    )
    cutter: Literal["saw", "router", "laser"] = given("What it is cut with", "saw")
