"""What the job's tables are made of: quantities as written, words, and the base every table stands on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler, Strict
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from backwave.errors import InputError, QuantityError
from backwave.job.bounds import KINDS, MAX_LETTERS, Bounds
from backwave.notation.crossover import Branch, parse_branch
from backwave.notation.filters import Filter, parse_filter
from backwave.notation.ratings import Rating, VoltageSpan, parse_rating, parse_span
from backwave.notation.wire_color import WireColor, parse_color
from backwave.stock.sold import cable_size, fuse_style
from backwave.units import MAX_QUANTITY, Quantity, parse

__all__ = [
    "Across",
    "Ampere",
    "Angle",
    "AnyLength",
    "CableSize",
    "Color",
    "ColorOrNone",
    "Dim",
    "Disc",
    "Drawn",
    "Flag",
    "FuseStyle",
    "Hertz",
    "Length",
    "LengthOrAuto",
    "LevelPoint",
    "Load",
    "Measured",
    "MeasuredDisc",
    "Number",
    "Ohm",
    "Outline",
    "PassiveBranch",
    "Point",
    "Positive",
    "Power",
    "Quality",
    "Run",
    "SignalFilter",
    "Supplied",
    "SupplySpan",
    "Table",
    "Thick",
    "Thin",
    "Volt",
    "Whole",
    "Written",
    "default",
    "given",
    "own_id",
    "word",
]


@dataclass(frozen=True)
class Dim:
    """How a quantity is read and what may stand in its place."""

    dimension: str  # one of `units.DIMENSIONS`
    minimum: str = ""  # the bounds, as written, both included; "": those of its kind
    maximum: str = ""
    many: bool = False  # a list of readings of the same thing is accepted
    words: tuple[str, ...] = ()  # accepted instead, such as "auto"
    turning: bool = False  # an angle by which something is turned: no direction on a clock's face

    @cached_property
    def bounds(self) -> Bounds:
        """From where to where it may lie."""
        low, high = KINDS[self.dimension]
        return Bounds(self.dimension, self.minimum or low, self.maximum or high)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        one: dict[str, Any] = {"type": ["string", "number"] if self.dimension == "ratio" else "string"}
        one["maxLength"] = MAX_QUANTITY
        one["x-dimension"] = self.dimension
        one["x-minimum"], one["x-maximum"] = self.bounds.minimum, self.bounds.maximum
        if self.words:
            one["examples"] = list(self.words)
        if self.many:
            return {"anyOf": [one, {"type": "array", "minItems": 2, "items": one}]}
        return one

    def read(self, value: Any) -> Quantity | tuple[Quantity, ...] | str:
        """A value of the file as a quantity, a tuple of readings, or a word.

        Parameters
        ----------
        value : object, no unit
            What stands in the file.
        """
        if isinstance(value, str) and value in self.words:
            return value
        if isinstance(value, Quantity):
            return value
        if self.many and isinstance(value, (list, tuple)):
            if len(value) < 2:
                raise QuantityError("a list of one reading", value, "the reading itself, or two or more of them")
            return tuple(self._one(v) for v in value)
        return self._one(value)

    def _one(self, value: Any) -> Quantity:
        if self.dimension == "ratio" and isinstance(value, (int, float)) and not isinstance(value, bool):
            value = repr(value)
        quantity = parse(value, self.dimension)
        if self.turning and quantity.on_a_clock:
            raise QuantityError(
                "a direction where an amount of turning is meant", value, 'degrees, such as "12 deg"'
            )
        self.bounds.check(quantity)
        return quantity


@dataclass(frozen=True)
class Written:
    """How what has a notation of its own is read: once, into a value that keeps what was typed.

    Parameters
    ----------
    kind : type, no unit
        Of the value; its text is what `str` gives.
    parse : callable of (str), no unit
        Its parser.
    or_nothing : bool, no unit
        An empty text stands for nothing, as a form leaves it.
    """

    kind: type
    parse: Callable[[str], Any]
    or_nothing: bool = False

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        return {"type": "string"}

    def read(self, value: Any) -> Any:
        """The value that stands in the file.

        Parameters
        ----------
        value : object, no unit
            What stands there.
        """
        if isinstance(value, self.kind):
            return value
        if not isinstance(value, str):
            raise PydanticCustomError("string_type", "not text")
        if len(value) > MAX_LETTERS:
            raise InputError("too long a text", f"{len(value):,} letters", f"up to {MAX_LETTERS}")
        return None if self.or_nothing and not value else self.parse(value)


PassiveBranch = Annotated[Branch, Written(Branch, parse_branch)]
SignalFilter = Annotated[Filter, Written(Filter, parse_filter)]
Power = Annotated[Rating, Written(Rating, parse_rating)]
SupplySpan = Annotated[VoltageSpan, Written(VoltageSpan, parse_span)]
Color = Annotated[WireColor, Written(WireColor, parse_color)]
ColorOrNone = Annotated[WireColor, Written(WireColor, parse_color, or_nothing=True)] | None

AnyLength = Annotated[Quantity, Dim("length", "-30 m", "30 m")]
"""A place in the cabin."""
Across = Annotated[Quantity, Dim("length", "-1000 mm", "1000 mm")]
"""A place on the face of an opening or a driver."""
Length = Annotated[Quantity, Dim("length", "0 mm")]
Positive = Annotated[Quantity, Dim("length")]
Thin = Annotated[Quantity, Dim("length", "0 mm", "100 mm")]
"""A thickness, a gap, the diameter of a screw: what a hand covers."""
Thick = Annotated[Quantity, Dim("length", "0.1 mm", "100 mm")]
"""The same, where there has to be some of it."""
Disc = Annotated[Quantity, Dim("length", "5 mm", "1000 mm")]
"""A diameter of a hole or part that a driver goes into."""
MeasuredDisc = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "5 mm", "1000 mm", many=True)]
Run = Annotated[Quantity, Dim("length", "1 mm", "60 m")]
"""A wire from one end of a vehicle to the other."""
LengthOrAuto = Annotated[Quantity | str, Dim("length", maximum="300 mm", words=("auto",))]
Measured = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "0 mm", many=True)]
"""A length that was measured: one reading, with its own uncertainty or its instrument's, or several."""
Load = Annotated[Quantity, Dim("resistance", "0.1 ohm", "1 kohm")]
"""A loudspeaker as a load."""
Ohm = Annotated[Quantity, Dim("resistance")]
Volt = Annotated[Quantity, Dim("voltage")]
Supplied = Annotated[Quantity, Dim("voltage", "5 V", "60 V")]
"""The voltage of a supply."""
Ampere = Annotated[Quantity, Dim("current")]
Drawn = Annotated[Quantity, Dim("current", "0 A")]
"""A current that may be none."""
Hertz = Annotated[Quantity, Dim("frequency")]
Angle = Annotated[Quantity, Dim("angle")]

# Text is not a number here: "4" where 4 is meant is an error, not a guess.
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
Whole = Annotated[int, Strict()]
Flag = Annotated[bool, Strict()]
CableSize = Annotated[str, AfterValidator(cable_size)]
"""A size that is sold, as people write it; kept as the table names it."""
FuseStyle = Annotated[str, AfterValidator(fuse_style)]
Quality = Annotated[Number, Field(ge=0.01, le=1000)]
"""A quality factor."""
_Across = Annotated[Number, Field(ge=-1000, le=1000)]
Point = tuple[_Across, _Across]
"""A point of an outline, in millimeters."""
LevelPoint = tuple[Annotated[Number, Field(gt=0, le=100_000)], Annotated[Number, Field(ge=-200, le=200)]]
"""A frequency in Hz and a level in dB."""


def _within_a_meter(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    for axis, way in ((0, "wide"), (1, "high")):
        across = [p[axis] for p in points]
        if across and max(across) - min(across) > 1000:
            raise InputError(f"an outline too {way}", f"{max(across) - min(across):g} mm", "up to 1000 mm")
    return points


Outline = Annotated[tuple[Point, ...], AfterValidator(_within_a_meter)]
"""The edge of a part, up to 1 m across."""


class Table(BaseModel):
    """A table of the job file: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True, str_max_length=MAX_LETTERS
    )


def own_id() -> Any:
    """The key that names a row."""
    return Field(description="Its name in this file", min_length=1, max_length=60)


def given(meaning: str, value: Any = ..., *, used: bool = True) -> Any:
    """A key with its meaning; without a value it has to be given, with None it may be left out.

    Parameters
    ----------
    meaning : str, no unit
        What it means, for the reference page and the schema.
    value : object, no unit
        Its default where leaving it out says nothing about the world (None, empty lists).
    used : bool, no unit
        False where nothing computes with it yet.
    """
    return Field(value, description=meaning, json_schema_extra=None if used else {"x-used": False})


def word(meaning: str, value: str, why: str) -> Any:
    """A key that takes a word, whose absence is filled by one that is shown as assumed.

    Parameters
    ----------
    meaning, value, why : str, no unit
        What it means, the word, and on what ground.
    """
    return Field(value, description=meaning, json_schema_extra={"x-assumed": why})


def default(meaning: str, dimension: str, text: str, why: str) -> Any:
    """A key whose absence is filled by a number that is shown as assumed.

    Parameters
    ----------
    meaning : str, no unit
        What it means.
    dimension : str, no unit
        One of `units.DIMENSIONS`.
    text : str, no unit
        The default, as a person would write it.
    why : str, no unit
        On what ground.
    """
    return Field(parse(text, dimension), description=meaning, json_schema_extra={"x-assumed": why})
