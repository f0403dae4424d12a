"""What the job's tables are made of: quantities as written and what they may plausibly be, words, the base of every table.

Bounds are generous enough for a bus, a supply of 24 V and an 18 inch woofer; close enough that a slipped unit or decimal
point is a sentence, and that nothing behind the model has to count with a part of 182 m.  Trade practice, from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetCoreSchemaHandler, Strict
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from backwave.errors import InputError, QuantityError
from backwave.notation.crossover import Branch, Filter, parse_branch, parse_filter
from backwave.notation.measures import Rating, VoltageSpan, parse_rating, parse_span
from backwave.notation.wires import WireColor, parse_color
from backwave.stock import cable_size, fuse_style
from backwave.uncertainty import mean
from backwave.units import MAX_QUANTITY, Quantity, an, convert, parse, show, units_of

MAX_LETTERS = 200  # of a name, a title, a path
MAX_ROWS = 200  # of a table, and items of a list
MAX_POINTS = 2_000  # of an outline, and pairs of numbers

# minimum and maximum of each kind of quantity where the key says no other
KINDS: dict[str, tuple[str, str]] = {
    "length": ("0.01 mm", "1000 mm"), "angle": ("-360 deg", "360 deg"), "area": ("0.01 cm2", "2 m2"),
    "volume": ("1 mL", "2000 L"), "mass": ("0.01 g", "100 kg"), "time": ("1 us", "10 s"),
    "frequency": ("1 Hz", "100 kHz"), "resistance": ("0.01 mohm", "10 kohm"), "inductance": ("0.1 uH", "100 mH"),
    "capacitance": ("1 nF", "1 F"), "voltage": ("1 mV", "100 V"), "current": ("1 mA", "1000 A"),
    "power": ("1 mW", "10 kW"), "capacity": ("0.1 Ah", "1000 Ah"), "surface density": ("10 g/m2", "50 kg/m2"),
    "speed": ("0.1 mm/s", "5 m/s"), "level": ("-120 dB", "160 dB"), "ratio": ("0.01 %", "100 %"),
    "compliance": ("1 um/N", "100 mm/N"), "force factor": ("0.1 Tm", "100 Tm"),
    "mechanical resistance": ("0.001 kg/s", "100 kg/s"), "temperature": ("-40 degC", "300 degC"),
}  # fmt: skip

_SPREAD = 0.25  # of the range: what a reading may be out by
_TRIED = {"length": ("mm", "cm", "in", "m")}  # units a slip is most often in; else all of the kind
_SLIP = 8.0  # how far beyond a bound a number is no longer an odd one of the same unit
_LAST = 1e-9  # of a bound: the last digits of a conversion


@dataclass(frozen=True)
class Bounds:
    """From where to where a quantity may lie, both ends included."""

    dimension: str
    minimum: str
    maximum: str

    def __str__(self) -> str:
        low, high = (parse(end, self.dimension) for end in (self.minimum, self.maximum))
        start = self.minimum.removesuffix(f" {low.unit}") if low.unit == high.unit else self.minimum
        return f"{start} to {self.maximum}"

    @cached_property
    def _ends(self) -> tuple[str, float, float]:
        unit = parse(self.maximum, self.dimension).unit
        return unit, parse(self.minimum, self.dimension).to(unit), parse(self.maximum, self.dimension).to(unit)

    def check(self, quantity: Quantity) -> None:
        """Refuse a quantity beyond the bounds, or one that is less certain than a reading can be. QuantityError: with
        the unit that was meant, where another one explains it."""
        unit, low, high = self._ends
        value, kind = quantity.to(unit), self.dimension
        if not low - _LAST * abs(low) <= value <= high + _LAST * abs(high):
            what = f"a negative {kind}" if value < 0 <= low else f"too {'small' if value < low else 'large'} {an(kind)}"
            raise QuantityError(what + self._meant(quantity), quantity.text, f"{an(kind)} from {self}")
        allowed = _SPREAD * (high - low)
        if max(quantity.half_to(unit) or 0.0, quantity.u_to(unit) or 0.0) > allowed:
            what = f"too large an uncertainty of {an(kind)}"
            raise QuantityError(what, quantity.text, f"up to {show(allowed, unit)} either way")

    def _meant(self, quantity: Quantity) -> str:
        """ "; did you mean 182 mm?" where the number is far out, and right in another unit; near a bound it is just odd."""
        unit, low, high = self._ends
        value = quantity.to(unit)
        if low < value / _SLIP < high or low < value * _SLIP < high:
            return ""
        for other in (unit, *_TRIED.get(self.dimension, units_of(self.dimension))):
            if other != quantity.unit and low <= convert(quantity.value, other, unit) <= high:
                return f"; did you mean {quantity.value:.10g} {other}?"
        return ""


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


def rising(points: tuple[tuple[float, float], ...], what: str = "levels") -> tuple[tuple[float, float], ...]:
    """Points in the order of their frequency, which begins above zero; refused by name where they are not."""
    for (low, _), (high, _) in zip(((0.0, 0.0), *points), points):
        if not high > low:
            raise InputError(f"{what} whose frequency does not rise", high, f"more than {low:g} Hz")
    return points


Levels = Annotated[tuple[LevelPoint, ...], AfterValidator(rising)]  # a curve: levels at frequencies that rise
Outline = Annotated[tuple[Point, ...], AfterValidator(_within_a_meter)]  # the edge of a part, up to 1 m across


class Table(BaseModel):
    """A table of the job file: unknown keys are errors, nothing changes after reading."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True, str_max_length=MAX_LETTERS
    )


def keys_of(table: type[BaseModel]) -> dict[str, FieldInfo]:
    """The keys of a table as they stand in the file."""
    return {info.alias or name: info for name, info in table.model_fields.items()}


def table_in(annotation: Any) -> type[BaseModel] | None:
    """The table that a key holds, alone or in a list; None where it holds something else."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, UnionType, tuple, Annotated):
        return next((t for a in get_args(annotation) if (t := table_in(a)) is not None), None)
    return None


def own_id() -> Any:
    """The key that names a row."""
    return Field(description="Its name in this file", min_length=1, max_length=60)


def given(meaning: str, value: Any = ..., *, used: bool = True) -> Any:
    """A key with its meaning; without a value it has to be given, with None it may be left out. `value`: its default
    where leaving it out says nothing about the world (None, empty lists)."""
    return Field(value, description=meaning, json_schema_extra=None if used else {"x-used": False})


def always(table: type[Table], meaning: str) -> Any:
    """A table that is there whether it is written or not, with its own defaults."""
    return Field(default_factory=table, description=meaning)


def word(meaning: str, value: str, why: str) -> Any:
    """A key that takes a word, whose absence is filled by one that is shown as assumed."""
    return Field(value, description=meaning, json_schema_extra={"x-assumed": why})


def default(meaning: str, dimension: str, text: str, why: str) -> Any:
    """A key whose absence is filled by a number that is shown as assumed."""
    return Field(parse(text, dimension), description=meaning, json_schema_extra={"x-assumed": why})


def best_mm(written: Quantity | tuple[Quantity, ...]) -> float:
    """The best estimate of a measured length, in millimeters: the reading, or the mean of several."""
    return written.to("mm") if isinstance(written, Quantity) else mean([q.to("mm") for q in written])
