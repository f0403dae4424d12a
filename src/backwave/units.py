"""Quantities as people write them, and as each display shows them.

A closed table of units; `pint` is the oracle in the test, not a dependency.  Factors are exact fractions, so
that "71 mm" in millimeters is 71 to the last bit.  Ground floor: imports only `errors`."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite, isnan, log10, pi
from pathlib import Path

from backwave.errors import QuantityError


@dataclass(frozen=True)
class _Unit:
    dimension: str
    factor: Fraction  # SI value of one of it
    offset: Fraction = Fraction(0)  # SI value of its zero (temperatures)


_UNITS: dict[str, _Unit] = {}
_SPELLINGS: dict[str, str] = {}
_EXAMPLES: dict[str, str] = {}
for _row in Path(__file__).with_name("units.txt").read_text(encoding="utf-8").splitlines()[2:]:
    _kind, _EXAMPLES[_kind], _cells = _row.split(" | ")
    for _cell in _cells.split("; "):
        _head, _, _others = _cell.partition(" = ")
        _name, _, _factor = _head.rpartition(" ")
        _one, _, _zero = _factor.partition("+")
        _UNITS[_name] = _Unit(_kind, Fraction(pi) / 180 if _name == "deg" else Fraction(_one), Fraction(_zero or 0))
        _SPELLINGS |= dict.fromkeys(_others.split(", ") if _others else (), _name)

MAX_QUANTITY = 120  # letters of a quantity
DIMENSIONS: tuple[str, ...] = tuple(dict.fromkeys(unit.dimension for unit in _UNITS.values()))

_MAX = 1e18  # no quantity of the trade, in any of its units, comes near
_NUMBER = r"[+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+\-]?\d+)?"
_FRACTION = r"[+\-−]?(?:\d+[ \-])?\d+/\d+"
_VALUE = re.compile(rf"\s*({_FRACTION}|{_NUMBER})\s*(.*)$", re.DOTALL)
_HALVES = re.compile(r"(\d?) *([¼½¾⅓⅔⅛⅜⅝⅞])")
_CLOCK = re.compile(r"\s*(\d{1,2})(?::([0-5]\d)|(\.\d{1,3})|)\s*o['’]?\s?clock\s*", re.IGNORECASE)
_SURE = re.compile(r"±|\+-|\+/-|(?<=\s)u(?=\s)")


@dataclass(frozen=True)
class Quantity:
    """A number with its unit and how sure it is, as it was written."""

    text: str
    value: float  # `unit`
    unit: str  # the unit it was written in, spelled as in our table
    dimension: str
    half: float | None = None  # `unit`, half-width it may be out by either way ("± 1 mm")
    u: float | None = None  # `unit`, standard uncertainty ("u 0.4 mm")
    fractional: bool = False  # written as a fraction of an inch, as trade sizes are

    def __str__(self) -> str:
        return self.text

    @property
    def on_a_clock(self) -> bool:
        """Written as a direction on a clock's face; its value is in degrees, from 3 o'clock toward 12."""
        return self.dimension == "angle" and self.text.rstrip().lower().endswith("clock")

    def to(self, unit: str) -> float:
        """The value in another unit."""
        return convert(self.value, self.unit, unit)

    def half_to(self, unit: str) -> float | None:
        """The half-width in another unit."""
        return None if self.half is None else _scale(self.half, self.unit, unit)

    def u_to(self, unit: str) -> float | None:
        """The standard uncertainty in another unit."""
        return None if self.u is None else _scale(self.u, self.unit, unit)


def in_unit(quantity: Quantity | None, unit: str) -> float | None:
    """A quantity in a unit; None where nobody gave it."""
    return None if quantity is None else quantity.to(unit)


def clock(angle_deg: float) -> str:
    """A direction on a clock's face, to half an hour: 0 degrees is 3 o'clock, 90 is 12."""
    halves = round((90.0 - angle_deg) % 360.0 / 15.0) % 24
    hour = halves // 2 or 12
    return f"{hour}:30" if halves % 2 else f"{hour} o'clock"


def an(kind: str) -> str:
    """A kind of quantity with its article."""
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def units_of(dimension: str) -> tuple[str, ...]:
    """The units a dimension can be written in."""
    return tuple(name for name, unit in _UNITS.items() if unit.dimension == dimension and name != "1")


def parse(text: str, dimension: str) -> Quantity:
    """Read a quantity such as "71 mm", "6 1/2 in", "58 ± 1 mm", "71 mm u 0.4 mm". QuantityError: not a quantity, no
    unit, an unknown unit, or one of another kind."""
    example = _EXAMPLES.get(dimension) or f"a number and one of {', '.join(units_of(dimension)[:4])}"
    if not isinstance(text, str):
        raise QuantityError(f"{an(dimension)} needs a unit, written as text", text, example)
    if len(text) > MAX_QUANTITY:
        raise QuantityError(f"not {an(dimension)}: {len(text):,} letters", text[:40] + "...", example)
    if dimension == "angle" and (clock := _CLOCK.fullmatch(text)):
        hour = int(clock[1]) + int(clock[2] or 0) / 60.0 + float(clock[3] or 0.0)
        if not 0.0 < hour < 13.0:
            raise QuantityError("no hour on a clock's face", text, example)
        return Quantity(text, (90.0 - 30.0 * hour) % 360.0, "deg", dimension)
    plain = _HALVES.sub(_spelled, text)
    sure = _SURE.search(plain)
    mark = sure[0] if sure else ""
    main, spread = (plain[: sure.start()].strip(), plain[sure.end() :].strip()) if sure else (plain.strip(), "")
    value, unit, fractional = _number_and_unit(main, text, dimension, example, unit_from=spread)
    half = u = None
    if mark:
        size, size_unit, _ = _number_and_unit(spread, text, dimension, example, unit_from=unit)
        size = _scale(size, size_unit, unit)
        if size < 0:
            raise QuantityError("an uncertainty cannot be negative", text, example)
        half, u = (None, size) if mark == "u" else (size, None)
    return Quantity(text, value, unit, dimension, half, u, fractional)


def _number_and_unit(part: str, text: str, dimension: str, example: str, unit_from: str) -> tuple[float, str, bool]:
    match = _VALUE.match(part)
    if match is None:
        raise QuantityError(f"not {an(dimension)}", text, example)
    number, rest = match[1].replace("−", "-"), match[2].strip()
    if re.match(r",\d", rest):
        pointed = re.sub(r"(?<=\d),(?=\d)", ".", text)
        told = f'a decimal point: "{pointed}"' if pointed.count(".") == 1 else "a decimal point: " + example
        raise QuantityError("a decimal comma", text, told)
    fractional = "/" in number
    try:
        value = _fraction(number) if fractional else float(number)
    except ZeroDivisionError:
        raise QuantityError("a fraction with zero below", text, example) from None
    if not abs(value) <= _MAX:
        raise QuantityError("too large a number", text, example)
    if not rest and unit_from:  # "58 ± 1 mm": the unit stands once, at the end (or was given before)
        last = _VALUE.match(unit_from)
        rest = (last[2] if last else unit_from).strip()
    if not rest:
        if dimension == "ratio":
            return value, "1", fractional
        raise QuantityError(f"{an(dimension)} without a unit", text, example)
    name = _SPELLINGS.get(rest, rest)
    unit = _UNITS.get(name)
    if unit is None:
        near = _near(rest, dimension)
        raise QuantityError(f"an unknown unit {rest!r}{near and f'; nearest: {near}'}", text, example)
    if unit.dimension != dimension:
        raise QuantityError(f"{an(unit.dimension)} where {an(dimension)} is meant", text, example)
    return value, name, fractional


def _spelled(found: re.Match[str]) -> str:
    """A fraction that is one character, as digits: "5½" is "5 1/2"."""
    part = unicodedata.normalize("NFKC", found[2]).replace("\u2044", "/")
    return f"{found[1]} {part}" if found[1] else part


def _near(name: str, dimension: str) -> str:
    """The unit of a kind that is written like this but for its letters' size; "" where there is none or several."""
    like = {
        unit
        for written, unit in ((n, _SPELLINGS.get(n, n)) for n in (*_UNITS, *_SPELLINGS))
        if written.lower() == name.lower() and _UNITS[unit].dimension == dimension
    }
    return like.pop() if len(like) == 1 else ""


def _fraction(number: str) -> float:
    sign = -1 if number.startswith("-") else 1
    whole, _, part = number.lstrip("+-").replace("-", " ").rpartition(" ")
    return float(sign * (Fraction(whole or 0) + Fraction(part)))


def convert(value: float, unit: str, to: str) -> float:
    """A value in another unit of the same dimension. QuantityError: units unknown or of different dimensions."""
    if unit == to:
        return value
    a, b = _pair(unit, to)
    if a.offset or b.offset:
        return float((Fraction(value) * a.factor + a.offset - b.offset) / b.factor)
    return _scale(value, unit, to)


def _scale(value: float, unit: str, to: str) -> float:
    a, b = _pair(unit, to)
    ratio = a.factor / b.factor
    # One rounding only: 71 mm -> 0.071 m and back is the same number a person wrote.
    return (
        value * ratio.numerator / ratio.denominator if ratio.denominator < 1 << 53 else float(Fraction(value) * ratio)
    )


def _pair(unit: str, to: str) -> tuple[_Unit, _Unit]:
    for name in (unit, to):
        if name not in _UNITS:
            raise QuantityError("an unknown unit", name, ", ".join(_UNITS))
    a, b = _UNITS[unit], _UNITS[to]
    if a.dimension != b.dimension:
        raise QuantityError(f"cannot turn {an(a.dimension)} into {an(b.dimension)}", f"{unit} to {to}", "one dimension")
    return a, b


_US = {"mm": ("in", 3), "m": ("ft", 2), "cm": ("in", 2), "kg": ("lb", 2), "g": ("oz", 2), "degC": ("degF", 0),
       "N": ("lbf", 1), "N m": ("lbf in", 1), "kPa": ("psi", 2), "mm2": ("in2", 2), "cm2": ("in2", 2), "L": ("in3", 0), "mm3": ("in3", 3),
       "m3": ("ft3", 1), "kg/m2": ("lb/ft2", 2), "mm/s": ("in/s", 1), "m2": ("ft2", 2), "cm3": ("in3", 2), "m/s2": ("ft/s2", 0)}  # fmt: skip
_METRIC_PLACES = {
    "N m": 2, "mm": 1, "deg": 1, "N": 0, "kg": 2, "g": 0, "degC": 0, "%": 0, "mm3": 0, "kPa": 1, "m": 2, "L": 1,
}  # fmt: skip
_SIGNS = {"deg": "°", "degC": "°C", "degF": "°F", "ohm": "Ω", "um": "µm", "uF": "µF", "uH": "µH", "us": "µs",
          "mm2": "mm²", "cm2": "cm²", "cm3": "cm³", "mm3": "mm³", "m/s2": "m/s²", "ft/s2": "ft/s²", "m2": "m²", "ft2": "ft²", "in2": "in²", "in3": "in³", "m3": "m³", "ft3": "ft³",
          "kg/m2": "kg/m²", "lb/ft2": "lb/ft²", "N m": "N·m", "lbf in": "lbf·in"}  # fmt: skip
_TIGHT = {"deg", "%"}
_LARGE, _SMALL = 1e12, 1e-12  # beyond these a number is shown by its power of ten


def show(value: float, unit: str, system: str = "metric", places: int | None = None, *, bare: bool = False) -> str:
    """A number as a person sees it, in the system they chose."""
    if places is None:
        places = _METRIC_PLACES.get(unit)
    if system == "us" and unit == "K":  # a difference of temperatures
        value, unit = 1.8 * value, "degF"
    if system == "us" and unit in _US:
        to, us_places = _US[unit]
        value, unit, places = convert(value, unit, to), to, us_places
    if not isfinite(value):
        text = "no number" if isnan(value) else "∞" if value > 0 else "-∞"
        return text if bare or unit in ("", "1") or isnan(value) else f"{text} {_SIGNS.get(unit, unit)}"
    if abs(value) >= _LARGE or (places is None and 0 < abs(value) < _SMALL):  # not hundreds of zeros
        text = f"{value:.3g}"
    else:
        if places is None:
            places = 0 if value == 0 else max(0, 2 - int(log10(abs(value)) // 1))
        text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    if bare or unit in ("", "1"):
        return text
    return text + ("" if unit in _TIGHT else " ") + _SIGNS.get(unit, unit)
