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
        """A value of the file as a quantity, a tuple of readings, or a word."""
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
            raise QuantityError("a direction where an amount of turning is meant", value, 'degrees, such as "12 deg"')
        self.bounds.check(quantity)
        return quantity


@dataclass(frozen=True)
class Written:
    """How what has a notation of its own is read: once, into a value that keeps what was typed."""

    kind: type  # of the value; its text is what `str` gives
    parse: Callable[[str], Any]
    or_nothing: bool = False  # an empty text stands for nothing, as a form leaves it

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        return {"type": "string"}

    def read(self, value: Any) -> Any:
        """The value that stands in the file."""
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

AnyLength = Annotated[Quantity, Dim("length", "-30 m", "30 m")]  # A place in the cabin
# A place on the face of an opening or a driver
Across = Annotated[Quantity, Dim("length", "-1000 mm", "1000 mm")]
Length = Annotated[Quantity, Dim("length", "0 mm")]
Positive = Annotated[Quantity, Dim("length")]
# A thickness, a gap, the diameter of a screw: what a hand covers
Thin = Annotated[Quantity, Dim("length", "0 mm", "100 mm")]
Thick = Annotated[Quantity, Dim("length", "0.1 mm", "100 mm")]  # the same, where there has to be some of it
# A diameter of a hole or part that a driver goes into
Disc = Annotated[Quantity, Dim("length", "5 mm", "1000 mm")]
MeasuredDisc = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "5 mm", "1000 mm", many=True)]
Run = Annotated[Quantity, Dim("length", "1 mm", "60 m")]  # A wire from one end of a vehicle to the other
LengthOrAuto = Annotated[Quantity | str, Dim("length", maximum="300 mm", words=("auto",))]
# A length that was measured: one reading, with its own uncertainty or its instrument's, or several
Measured = Annotated[Quantity | tuple[Quantity, ...], Dim("length", "0 mm", many=True)]
Load = Annotated[Quantity, Dim("resistance", "0.1 ohm", "1 kohm")]  # A loudspeaker as a load
Ohm = Annotated[Quantity, Dim("resistance")]
Volt = Annotated[Quantity, Dim("voltage")]
Supplied = Annotated[Quantity, Dim("voltage", "5 V", "60 V")]  # the voltage of a supply
Ampere = Annotated[Quantity, Dim("current")]
Drawn = Annotated[Quantity, Dim("current", "0 A")]  # A current that may be none
Hertz = Annotated[Quantity, Dim("frequency")]
Angle = Annotated[Quantity, Dim("angle")]

# Text is not a number here: "4" where 4 is meant is an error, not a guess.
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
Whole = Annotated[int, Strict()]
Flag = Annotated[bool, Strict()]
# A size that is sold, as people write it; kept as the table names it
CableSize = Annotated[str, AfterValidator(cable_size)]
FuseStyle = Annotated[str, AfterValidator(fuse_style)]
Quality = Annotated[Number, Field(ge=0.01, le=1000)]  # A quality factor
_Across = Annotated[Number, Field(ge=-1000, le=1000)]
Point = tuple[_Across, _Across]  # A point of an outline, in millimeters
# A frequency in Hz and a level in dB
LevelPoint = tuple[Annotated[Number, Field(gt=0, le=100_000)], Annotated[Number, Field(ge=-200, le=200)]]


def _within_a_meter(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    for axis, way in ((0, "wide"), (1, "high")):
        across = [p[axis] for p in points]
        if across and max(across) - min(across) > 1000:
            raise InputError(f"an outline too {way}", f"{max(across) - min(across):g} mm", "up to 1000 mm")
    return points


Outline = Annotated[tuple[Point, ...], AfterValidator(_within_a_meter)]  # the edge of a part, up to 1 m across


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

    `value`: its default where leaving it out says nothing about the world (None, empty lists).
    """
    return Field(value, description=meaning, json_schema_extra=None if used else {"x-used": False})


def word(meaning: str, value: str, why: str) -> Any:
    """A key that takes a word, whose absence is filled by one that is shown as assumed."""
    return Field(value, description=meaning, json_schema_extra={"x-assumed": why})


def default(meaning: str, dimension: str, text: str, why: str) -> Any:
    """A key whose absence is filled by a number that is shown as assumed."""
    return Field(parse(text, dimension), description=meaning, json_schema_extra={"x-assumed": why})
