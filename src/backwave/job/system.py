"""Tables that later rooms compute with: supply, loads, wires, readings, crew.

They are read and checked now, so that a job file written today stays valid; nothing computes with them yet.
"""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import Field, field_validator

from backwave.errors import InputError
from backwave.job.fields import Dim, Number, Positive, Table, Whole, given
from backwave.units import Quantity

__all__ = ["Alternator", "Battery", "Cable", "Crew", "Load", "ReadingFile", "Supply", "Wire"]

_HOURS = re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) ([01]\d|2[0-3]):[0-5]\d-(([01]\d|2[0-3]):[0-5]\d|24:00)")

Ohm = Annotated[Quantity, Dim("resistance", above=0)]
Volt = Annotated[Quantity, Dim("voltage", above=0)]
Ampere = Annotated[Quantity, Dim("current", above=0)]
Kelvin = Annotated[Quantity, Dim("temperature")]


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
