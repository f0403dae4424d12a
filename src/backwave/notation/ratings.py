"""Ratings of amplifiers as they are written in a job: "4 x 75 W into 4 ohm".  Ground floor."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from backwave.errors import InputError
from backwave.units import parse

MAX_CHANNELS = 32
_SHAPE = re.compile(r"(?:(\d{1,4})\s*[x×]\s*)?(\S+\s*[mk]?W)\s+into\s+(\S.*)")


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
    """A rating from its words.

    `text`: as written; a rating without a count is for one channel; InputError: it is none.
    """
    match = _SHAPE.fullmatch(text)
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
