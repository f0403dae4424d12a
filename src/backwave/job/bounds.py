"""What a quantity of a job may plausibly be: a minimum and a maximum by its kind, narrower where a key says so.

Generous enough for a bus, a supply of 24 V and an 18 inch woofer; close enough that a slipped unit or decimal point
is a sentence, and that nothing behind the model has to count with a part of 182 m.  The figures are trade practice,
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from backwave.errors import QuantityError
from backwave.units import Quantity, an, convert, parse, show, units_of

MAX_LETTERS = 200  # of a name, a title, a path
MAX_ROWS = 200  # of a table, and items of a list
MAX_POINTS = 2_000  # of an outline, and pairs of numbers

# minimum and maximum of each kind of quantity where the key says no other
KINDS: dict[str, tuple[str, str]] = {
    "length": ("0.01 mm", "1000 mm"),
    "angle": ("-360 deg", "360 deg"),
    "area": ("0.01 cm2", "2 m2"),
    "volume": ("1 mL", "2000 L"),
    "mass": ("0.01 g", "100 kg"),
    "time": ("1 us", "10 s"),
    "frequency": ("1 Hz", "100 kHz"),
    "resistance": ("0.01 mohm", "10 kohm"),
    "inductance": ("0.1 uH", "100 mH"),
    "capacitance": ("1 nF", "1 F"),
    "voltage": ("1 mV", "100 V"),
    "current": ("1 mA", "1000 A"),
    "power": ("1 mW", "10 kW"),
    "capacity": ("0.1 Ah", "1000 Ah"),
    "surface density": ("10 g/m2", "50 kg/m2"),
    "speed": ("0.1 mm/s", "5 m/s"),
    "level": ("-120 dB", "160 dB"),
    "ratio": ("0.01 %", "100 %"),
    "compliance": ("1 um/N", "100 mm/N"),
    "force factor": ("0.1 Tm", "100 Tm"),
    "mechanical resistance": ("0.001 kg/s", "100 kg/s"),
    "temperature": ("-40 degC", "300 degC"),
}

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
        """Refuse a quantity beyond the bounds, or one that is less certain than a reading can be.

        QuantityError: with the unit that was meant, where another one explains it.
        """
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
