"""Measures inside words, ratings of amplifiers and spans of voltage, as they are written and as they are shown.

Numbers that are computed never pass through here: they are values until a face shows them.  What does are sentences
that ship (what a key means, on what ground a default stands) and cable sizes, which are names of goods."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import log, pi, sqrt

from backwave.errors import InputError
from backwave.units import parse, show

_NUMBER = r"\d+(?:\.\d+)?"
# Goods that are sold by the millimeter everywhere keep their name.
_GOODS = r"(?! (?:nozzle|filament|thread))"
_MEASURE = re.compile(
    rf"(?<![\w.])(M{_NUMBER} × )?({_NUMBER})(?:( to | x | × )({_NUMBER}))? "
    rf"(mm/s|kg/m2|mm2|cm2|mm|cm|m|kg|g|degC|°C|L|N|kPa)(?![\w/²³]){_GOODS}"
)
# an example of a metric cable size, beside one of a gauge
_EXAMPLE = re.compile(rf'"{_NUMBER} mm2" or (?="AWG)')
_SIZE = re.compile(rf"({_NUMBER}) ?mm2")


def in_words(text: str, system: str) -> str:
    """A ready sentence with its measures in the person's units. `text`: such as "most have 1 to 2 mm, half of it
    closed"; `system`: "metric" leaves it as it is; "us" turns it into inches, pounds, Fahrenheit."""
    if system == "metric":
        return text.replace("mm2", "mm²").replace("cm2", "cm²").replace("kg/m2", "kg/m²").replace("degC", "°C")

    def turned(found: re.Match[str]) -> str:
        thread, first, between, second, unit = found.groups()
        if thread:
            return found[0]
        unit = "degC" if unit == "°C" else unit
        last = show(float(second or first), unit, system)
        return f"{show(float(first), unit, system, bare=True)}{between}{last}" if second else last

    return _MEASURE.sub(turned, _EXAMPLE.sub("", text))


def goods(group: str, what: str, size: str, system: str) -> tuple[str, str]:
    """What is to be bought and its size, as words. `system`: "metric" or "us". Names of devices stay as people typed
    them, filament is sold by the millimeter everywhere."""
    return (
        what if group == "Speakers and devices" else in_words(what, system),
        size if what.endswith("filament") else in_words(size, system),
    )


def amount(quantity: float | None, unit: str, system: str) -> str:
    """How much of something is to be bought. `quantity`, `unit`: how much; None where nobody can say."""
    if quantity is None:
        return "as needed"
    if unit not in ("g", "m", "mm2", "mm", "kg", "L"):
        return f"{quantity:g} {unit or 'pcs'}"
    return show(quantity, unit, system, 0 if unit == "mm2" else 1)


def wire_size(size: str | float | None, system: str) -> str:
    """A cable's size as the person buys it: mm² where they read metric, the gauge where they read inches. `size`, mm2:
    its name ("0.75 mm2", "AWG 16") or its cross section; returns "0.75 mm²"; "AWG 16", or "about AWG 18" for a size
    that is no gauge; "" for none."""
    if isinstance(size, str):
        found = _SIZE.fullmatch(size.strip())
        if found is None:
            return size
        size = float(found[1])
    if not size:
        return ""
    return f"{size:.3g} mm²" if system == "metric" else gauge(size)


def gauge(area_mm2: float) -> str:
    """The American wire gauge nearest to a cross section: d = 0.127 mm x 92^((36 - n) / 39) (ASTM B258). Returns "AWG
    16", "AWG 1/0"; with "about" where it is more than 3 % of the section away."""
    n = round(36.0 - 39.0 * log(sqrt(4.0 * area_mm2 / pi) / 0.127) / log(92.0))
    exact = pi / 4.0 * (0.127 * 92.0 ** ((36 - n) / 39.0)) ** 2
    name = f"AWG {n}" if n > 0 else f"AWG {1 - n}/0"
    return name if abs(area_mm2 / exact - 1.0) <= 0.03 else f"about {name}"


MAX_CHANNELS = 32
_RATING = re.compile(r"(?:(\d{1,4})\s*[x×]\s*)?(\S+\s*[mk]?W)\s+into\s+(\S.*)")


@dataclass(frozen=True)
class Rating:
    """What an amplifier is rated at."""

    channels: int  # how many channels alike
    watts: float  # W, power of one of them
    ohm: float  # ohm, into this load
    # as a person typed it, "" for one that was made here; ratings are equal whatever they were typed as
    text: str = field(default="", compare=False, repr=False)

    def __str__(self) -> str:
        return self.text or f"{self.channels} x {self.watts:g} W into {self.ohm:g} ohm"

    @property
    def volts(self) -> float:
        """The rms voltage of a full sine, V."""
        return float((self.watts * self.ohm) ** 0.5)

    def bridged(self) -> Rating:
        """Its channels joined in pairs: two channels into twice their load give the sum of their powers."""
        return Rating(self.channels // 2, 2 * self.watts, 2 * self.ohm)


def parse_rating(text: str) -> Rating:
    """A rating from its words. `text`: as written; a rating without a count is for one channel; InputError: it is
    none."""
    match = _RATING.fullmatch(text)
    if match is None:
        raise InputError("not a rating", text, '"75 W into 4 ohm" or "4 x 75 W into 4 ohm"')
    watts, ohm = parse(match[2], "power").to("W"), parse(match[3], "resistance").to("ohm")
    channels = int(match[1] or 1)
    if not (1 <= channels <= MAX_CHANNELS and 0.001 <= watts <= 20_000 and 0.1 <= ohm <= 1000):
        raise InputError("not a rating", text, f"1 to {MAX_CHANNELS} channels, 1 mW to 20 kW, 0.1 to 1000 ohm")
    return Rating(channels, watts, ohm, text)


_SPAN = re.compile(r"\s*([\d.,]+)\s*(?:V\s*)?(?:to|-|\u2013)\s*([\d.,]+)\s*V\s*")


@dataclass(frozen=True)
class VoltageSpan:
    """The supply a device stands."""

    low_v: float
    high_v: float
    text: str = field(default="", compare=False, repr=False)  # as a person typed it

    def __str__(self) -> str:
        return self.text or f"{self.low_v:g} to {self.high_v:g} V"


def parse_span(text: str) -> VoltageSpan:
    """A span of supply voltages from its words, such as "10.5 to 16 V"."""
    match = _SPAN.fullmatch(text)
    ends = [parse(f"{end} V", "voltage").to("V") for end in match.groups()] if match else [0.0, 0.0]
    if not 1 <= ends[0] < ends[1] <= 100:
        raise InputError("not a span of supply voltages", text, '"10.5 to 16 V", 1 to 100 V, the lower first')
    return VoltageSpan(ends[0], ends[1], text)
