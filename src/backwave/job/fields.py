"""What the job's tables are made of: quantities as written, words, and the base every table stands on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, Strict
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from backwave.errors import QuantityError
from backwave.notation.crossover import Branch, parse_branch
from backwave.notation.filters import Filter, parse_filter
from backwave.notation.ratings import Rating, parse_rating
from backwave.notation.wire_color import WireColor, parse_color
from backwave.units import Quantity, convert, parse

__all__ = [
    "AnyLength",
    "Color",
    "ColorOrNone",
    "Dim",
    "Flag",
    "Length",
    "LengthOrAuto",
    "Measured",
    "Number",
    "PassiveBranch",
    "Point",
    "Positive",
    "Power",
    "SignalFilter",
    "Table",
    "Whole",
    "Written",
    "default",
    "given",
    "word",
]


@dataclass(frozen=True)
class Dim:
    """How a quantity is read and what may stand in its place.

    Parameters
    ----------
    dimension : str, no unit
        One of `units.DIMENSIONS`.
    least : float or None, SI unit of the dimension
        Nothing below it is accepted.
    above : float or None, SI unit of the dimension
        Nothing at or below it is accepted.
    many : bool, no unit
        A list of readings of the same thing is accepted.
    words : tuple of str, no unit
        Words accepted instead, such as "auto".
    """

    dimension: str
    least: float | None = None
    above: float | None = None
    many: bool = False
    words: tuple[str, ...] = ()

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: Any) -> dict[str, Any]:
        one: dict[str, Any] = {"type": ["string", "number"] if self.dimension == "ratio" else "string"}
        one["x-dimension"] = self.dimension
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
        if self.words and value in self.words:
            return str(value)
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
        number = (
            convert(quantity.value, quantity.unit, _SI[self.dimension])
            if self.dimension in _SI
            else quantity.value
        )
        for limit, bad, words in (
            (self.above, self.above is not None and number <= self.above, "above"),
            (self.least, self.least is not None and number < self.least, "not below"),
        ):
            if bad and limit is not None:
                what = "a negative" if number < 0 and limit == 0 else "too small a"
                raise QuantityError(
                    f"{what} {self.dimension}", quantity.text, f"a {self.dimension} {words} {limit:g}"
                )
        return quantity


_SI = {
    "length": "m", "area": "m2", "volume": "m3", "mass": "kg", "time": "s", "frequency": "Hz", "resistance": "ohm",
    "inductance": "H", "capacitance": "F", "voltage": "V", "current": "A", "power": "W", "ratio": "1",
}  # fmt: skip


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
        return None if self.or_nothing and not value else self.parse(value)


PassiveBranch = Annotated[Branch, Written(Branch, parse_branch)]
SignalFilter = Annotated[Filter, Written(Filter, parse_filter)]
Power = Annotated[Rating, Written(Rating, parse_rating)]
Color = Annotated[WireColor, Written(WireColor, parse_color)]
ColorOrNone = Annotated[WireColor, Written(WireColor, parse_color, or_nothing=True)] | None

AnyLength = Annotated[Quantity, Dim("length")]
Length = Annotated[Quantity, Dim("length", least=0)]
Positive = Annotated[Quantity, Dim("length", above=0)]
LengthOrAuto = Annotated[Quantity | str, Dim("length", above=0, words=("auto",))]
Measured = Annotated[Quantity | tuple[Quantity, ...], Dim("length", least=0, many=True)]
"""A length that was measured: one reading, with its own uncertainty or its instrument's, or several."""

# Text is not a number here: "4" where 4 is meant is an error, not a guess.
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
Whole = Annotated[int, Strict()]
Flag = Annotated[bool, Strict()]
Point = tuple[Number, Number]
"""A point of an outline, in millimeters."""


class Table(BaseModel):
    """A table of the job file: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True)


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
