"""Quantities: what people write, against pint as an outside oracle."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave import units
from backwave.errors import QuantityError

_PINT = {
    "in2": "inch**2", "ft2": "ft**2", "cm2": "cm**2", "mm2": "mm**2", "m2": "m**2", "m3": "m**3", "cm3": "cm**3",
    "mm3": "mm**3", "in3": "inch**3", "ft3": "ft**3", "l": "liter", "ml": "milliliter", "um": "micrometer",
    "mil": "thou", "ohm": "ohm", "mohm": "milliohm", "kohm": "kiloohm", "uH": "microhenry", "uF": "microfarad",
    "us": "microsecond", "lb/ft2": "pound/ft**2", "in/s": "inch/s", "ft/s2": "foot/s**2", "min": "minute", "h": "hour", "Ah": "ampere*hour", "mAh": "milliampere*hour",
    "lbf": "lbf", "kg/m3": "kg/m**3", "g/cm3": "g/cm**3", "kg/m2": "kg/m**2", "g/m2": "g/m**2", "m/s2": "m/s**2",
    "gn": "standard_gravity", "Tm": "tesla*meter", "N/A": "newton/ampere", "Ns/m": "newton*second/meter",
    "um/N": "micrometer/newton", "1": "dimensionless", "%": "percent", "degC": "degC", "degF": "degF",
    "1/K": "1/kelvin", "um/m/K": "micrometer/meter/kelvin", "K": "kelvin", "F": "farad", "H": "henry", "L": "liter",
}  # fmt: skip

ureg = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("dimension", [d for d in units.DIMENSIONS if d != "level"])
def test_every_conversion_agrees_with_pint(dimension: str) -> None:
    names = units.units_of(dimension)
    for a in names:
        for b in names:
            ours = units.convert(7.25, a, b)
            theirs = ureg.Quantity(7.25, _PINT.get(a, a)).to(_PINT.get(b, b)).magnitude
            assert ours == pytest.approx(theirs, rel=1e-12), (a, b)


@pytest.mark.parametrize(
    ("text", "dimension", "unit", "value", "half", "u"),
    [
        ("71 mm", "length", "mm", 71.0, None, None),
        ("6 1/2 in", "length", "mm", 165.1, None, None),
        ('6-1/2"', "length", "mm", 165.1, None, None),
        ("58 ± 1 mm", "length", "mm", 58.0, 1.0, None),
        ("58 mm ± 1 mm", "length", "mm", 58.0, 1.0, None),
        ("5.8 cm +- 1 mm", "length", "mm", 58.0, 1.0, None),
        ("71 mm u 0.4 mm", "length", "mm", 71.0, None, 0.4),
        ("−69.715 mm", "length", "mm", -69.715, None, None),
        (".5 mm", "length", "mm", 0.5, None, None),
        ("3.1 Ω", "resistance", "ohm", 3.1, None, None),
        ("13.5 L", "volume", "L", 13.5, None, None),
        ("15 %", "ratio", "1", 0.15, None, None),
        ("105 °C", "temperature", "degC", 105.0, None, None),
    ],
)
def test_what_people_write(
    text: str, dimension: str, unit: str, value: float, half: float | None, u: float | None
) -> None:
    quantity = units.parse(text, dimension)
    assert quantity.to(unit) == pytest.approx(value, rel=1e-15)
    assert quantity.half_to(unit) == (None if half is None else pytest.approx(half))
    assert quantity.u_to(unit) == (None if u is None else pytest.approx(u))
    assert quantity.text == text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("71", "without a unit"),
        ("71 kg", "a mass where a length is meant"),
        ("7,5 mm", "decimal comma"),
        ("about 70 mm", "not a length"),
        ("1/0 in", "zero below"),
        ("71 furlong", "unknown unit 'furlong'"),
        ("71 ± -1 mm", "cannot be negative"),
        ("1e999 mm", "too large"),
        ("", "not a length"),
    ],
)
def test_what_is_refused_and_why(text: str, says: str) -> None:
    with pytest.raises(QuantityError, match=says):
        units.parse(text, "length")


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12 o'clock", 90),
        ("3 o'clock", 0),
        ("4 o'clock", 330),
        ("8 o’clock", 210),
        ("7:30 O'Clock", 225),
        ("4.5 oclock", 315),
    ],
)
def test_a_direction_on_a_clock_is_an_angle_from_three_toward_twelve(text: str, degrees: float) -> None:
    quantity = units.parse(text, "angle")
    assert quantity.to("deg") == pytest.approx(degrees)
    assert quantity.on_a_clock
    assert quantity.text == text


@pytest.mark.parametrize(
    ("text", "dimension", "what", "accepted"),
    [
        ("13 o'clock", "angle", "no hour on a clock's face", "o'clock"),
        ("0 o'clock", "angle", "no hour on a clock's face", "o'clock"),
        ("4 o'clock", "length", "an unknown unit", "a length"),
        ("45", "angle", "an angle without a unit", "4 o'clock"),
        ("45 mm", "angle", "a length where an angle is meant", "45 deg"),
        ("143,5 mm", "length", "a decimal comma", 'a decimal point: "143.5 mm"'),
        ("1,234.5 mm", "length", "a decimal comma", "a decimal point: a length such as"),
    ],
)
def test_slips_are_told_in_plain_words(text: str, dimension: str, what: str, accepted: str) -> None:
    with pytest.raises(QuantityError) as caught:
        units.parse(text, dimension)
    assert what in caught.value.what
    assert accepted in caught.value.accepted


@given(st.decimals(-10_000, 10_000, places=3, allow_nan=False))
def test_millimeters_come_back_to_the_last_bit(number: object) -> None:
    quantity = units.parse(f"{number} mm", "length")
    assert quantity.to("mm") == float(str(number))


@given(st.text(max_size=30), st.sampled_from(units.DIMENSIONS))
def test_any_text_is_a_quantity_or_a_quantity_error(text: str, dimension: str) -> None:
    caught: QuantityError | None = None
    try:
        units.parse(text, dimension)
    except QuantityError as error:
        caught = error
    assert caught is None or (caught.what and caught.accepted)


def test_shown_in_the_system_chosen() -> None:
    assert units.show(14.53, "mm") == "14.5 mm"
    assert units.show(14.53, "mm", "us") == "0.572 in"
    assert units.show(-0.001, "mm") == "0.0 mm"
    assert units.show(70, "degC", "us") == "158 °F"
    assert units.show(0.25, "ohm") == "0.250 Ω"


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1e300, "mm", "1e+300 mm"), (-1e300, "dB", "-1e+300 dB"), (1e-300, "A", "1e-300 A"), (5e-324, "", "4.94e-324"),
        (1e-300, "mm", "0.0 mm"), (float("inf"), "dB", "∞ dB"), (float("-inf"), "dB", "-∞ dB"), (float("nan"), "V", "no number"),
    ],
)  # fmt: skip
def test_a_number_of_any_size_is_shown_short(value: float, unit: str, words: str) -> None:
    assert units.show(value, unit) == words
    assert len(units.show(value, unit, "us")) < 30
