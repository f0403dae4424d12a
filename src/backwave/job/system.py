"""Tables that later rooms compute with: sources, stages, boxes, supply, wires, readings, crew.

They are read and checked now, so that a job file written today stays valid; nothing computes with them yet.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator

from backwave.errors import InputError
from backwave.job.fields import AnyLength, Dim, Number, Positive, Table, Whole, given
from backwave.units import Quantity, parse

__all__ = [
    "Alternator",
    "Battery",
    "Box",
    "Cable",
    "Crew",
    "Load",
    "Path",
    "ReadingFile",
    "Source",
    "Stage",
    "Supply",
    "Wire",
]

_POWER = re.compile(r"(?:(\d+)\s*[x×]\s*)?(\S+\s*[mk]?W)\s+into\s+(\S.*)")
_HOURS = re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) ([01]\d|2[0-3]):[0-5]\d-(([01]\d|2[0-3]):[0-5]\d|24:00)")
_BRANCH = re.compile(r"(series|shunt)\s+(.+)")
_PART = re.compile(r"([RLC])\s+(\S+\s+\S+)(?:\s+(\S+\s+\S+))?")
_PARTS: dict[str, str] = {"R": "resistance", "L": "inductance", "C": "capacitance"}
_FILTER = re.compile(r"(high-pass|low-pass|all-pass|peak|low-shelf|high-shelf)\s+(\S+\s+k?Hz)\b.*")

Ohm = Annotated[Quantity, Dim("resistance", above=0)]
Volt = Annotated[Quantity, Dim("voltage", above=0)]
Ampere = Annotated[Quantity, Dim("current", above=0)]
Kelvin = Annotated[Quantity, Dim("temperature")]


class Source(Table):
    """Where the signal comes from."""

    id: str = Field(description="Its name in this file", min_length=1)
    kind: Literal["bridge", "amplifier", "factory"] = given(
        "Straight off the supply, by rating, or as measured", used=False
    )
    supply: Volt | None = given("Supply voltage", None, used=False)
    resistance: Ohm | None = given("Output resistance", None, used=False)
    lowest_load: Ohm | None = given("Least rated load", None, used=False)
    power: str | None = given('Rating, such as "4 x 75 W into 4 ohm"', None, used=False)

    @field_validator("power")
    @classmethod
    def _rating(cls, text: str | None) -> str | None:
        match = None if text is None else _POWER.fullmatch(text)
        if text is not None and match is None:
            raise InputError("not a rating", text, '"75 W into 4 ohm" or "4 x 75 W into 4 ohm"')
        if match is not None:
            parse(match[2], "power")
            parse(match[3], "resistance")
        return text


class Path(Table):
    """One output to one speaker."""

    source: str = given("Which source")
    channel: str = given("Which channel of it", used=False)
    side: Literal["left", "right"] | None = given("Which side; left out: one output for each", None, used=False)
    opening: str | None = given("Which opening", None)
    box: str | None = given("Which box, instead of an opening", None)
    speaker: str = given("Which driver")
    network: tuple[str, ...] = given("Passive parts from source to speaker", (), used=False)
    filters: tuple[str, ...] = given("Active filters", (), used=False)
    delay: Annotated[Quantity, Dim("time", least=0)] | None = given("Delay", None, used=False)
    gain: Annotated[Quantity, Dim("level")] | None = given("Gain", None, used=False)
    polarity: Literal[1, -1] = given("1, or -1 for reversed", 1, used=False)

    @field_validator("network")
    @classmethod
    def _network(cls, network: tuple[str, ...]) -> tuple[str, ...]:
        for branch in network:
            _check_branch(branch)
        return network

    @field_validator("filters")
    @classmethod
    def _filters(cls, filters: tuple[str, ...]) -> tuple[str, ...]:
        for text in filters:
            match = _FILTER.fullmatch(text)
            if match is None:
                accepted = "high-pass, low-pass, all-pass, peak, low-shelf or high-shelf, and a frequency"
                raise InputError("not a filter", text, f'{accepted}: "high-pass 80 Hz LR4"')
            parse(match[2], "frequency")
        return filters


def _check_branch(branch: str) -> None:
    """Refuse what is no branch of a passive network: parts in series (+) or in parallel (|)."""
    accepted = '"series" or "shunt" and parts: "series L 0.40 mH 0.15 ohm", "shunt R 3.3 ohm + C 26 uF"'
    match = _BRANCH.fullmatch(branch.strip())
    if match is None:
        raise InputError("not a branch of a network", branch, accepted)
    for text in re.split(r"[+|]", match[2]):
        part = _PART.fullmatch(text.strip())
        if part is None or (part[3] and part[1] != "L"):
            raise InputError("not a part of a network", text.strip(), accepted)
        parse(part[2], _PARTS[part[1]])
        if part[3]:
            parse(part[3], "resistance")


class Stage(Table):
    """A stage of the work that is worth hearing by itself."""

    id: str = Field(description="Its name in this file", min_length=1)
    title: str | None = given("What a person calls it", None, used=False)
    path: tuple[Path, ...] = given("Outputs to speakers", (), used=False)


class Box(Table):
    """A box for a driver."""

    id: str = Field(description="Its name in this file", min_length=1)
    kind: Literal["closed", "vented"] = given("Closed or vented", used=False)
    volume: Annotated[Quantity, Dim("volume", above=0)] = given("Air inside", used=False)
    at: tuple[AnyLength, AnyLength, AnyLength] | None = given("Where it stands", None, used=False)


class Battery(Table):
    """The battery."""

    voltage: Volt | None = given("At rest", None, used=False)
    capacity: Annotated[Quantity, Dim("capacity", above=0)] | None = given("Capacity", None, used=False)
    resistance: Ohm | None = given("Inner resistance", None, used=False)


class Alternator(Table):
    """The alternator."""

    current: Ampere | None = given("Rated", None, used=False)
    idle: Ampere | None = given("At idle", None, used=False)


class Supply(Table):
    """The vehicle's supply."""

    battery: Battery | None = given("The battery", None, used=False)
    alternator: Alternator | None = given("The alternator", None, used=False)
    vehicle: Ampere | None = given("What the vehicle itself draws", None, used=False)


class Cable(Table):
    """A run of cable."""

    length: Positive = given("One way", used=False)
    material: str = given("Conductor", "copper", used=False)
    insulation: Kelvin | None = given("What the insulation stands", None, used=False)
    ambient: Kelvin | None = given("Around it", None, used=False)


class Load(Table):
    """Something that draws current; a load and a source of one id are one device."""

    id: str = Field(description="Its name in this file", min_length=1)
    efficiency: Annotated[Number, Field(gt=0, le=1)] | None = given("Power out over power in", None, used=False)
    fuses: tuple[Ampere, ...] = given("Its own fuses", (), used=False)
    feed: Cable | None = given("Cable from the battery", None, used=False)
    ground: Cable | None = given("Cable to ground", None, used=False)


class Wire(Table):
    """A wire of the harness."""

    id: str = Field(description="Its name in this file", min_length=1)
    from_: str = Field(alias="from", description="device.pin it leaves", json_schema_extra={"x-used": False})
    to: str = given("device.pin it goes to", used=False)
    color: str | None = given("IEC 60757 letters or words, base first, then stripe", None, used=False)
    length: Positive | None = given("Length", None, used=False)


class ReadingFile(Table):
    """A recording or response taken at a seat."""

    file: str = given("Path inside the job folder")
    stage: str | None = given('Which stage, or "factory"', None, used=False)
    seat: str | None = given("Which seat", None)


class Crew(Table):
    """Who works, when, with what."""

    people: tuple[str, ...] = given("Names", (), used=False)
    hours: tuple[str, ...] = given('Times, such as "Fri 18:00-23:00"', (), used=False)
    printers: Annotated[Whole, Field(ge=0)] = given("How many printers", 1, used=False)

    @field_validator("hours")
    @classmethod
    def _hours(cls, hours: tuple[str, ...]) -> tuple[str, ...]:
        for text in hours:
            if not _HOURS.fullmatch(text):
                raise InputError("not a span of hours", text, '"Fri 18:00-23:00"')
        return hours
