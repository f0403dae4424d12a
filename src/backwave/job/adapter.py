"""`[[adapter]]`, `[printer]`, `[sheet]`: what to make, and on what."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import Dim, Disc, Flag, LengthOrAuto, Table, Thin, Whole, default, given, word
from backwave.units import Quantity, parse

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

    length: Annotated[Quantity, Dim("length", maximum="300 mm")] = given("How far it reaches behind the face")
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
    foam: FoamTable = Field(default_factory=FoamTable, description="Gasket and ring")
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
