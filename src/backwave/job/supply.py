"""The supply and what it feeds, more than one source, the ways of the signal, tests, and who works: crew."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from backwave.errors import InputError
from backwave.job.fields import (
    Ampere,
    CableSize,
    Dim,
    Drawn,
    Flag,
    FuseStyle,
    Number,
    Power,
    Run,
    Supplied,
    SupplySpan,
    Table,
    Volt,
    Whole,
    always,
    given,
    own_id,
    word,
)
from backwave.stock import refuse_unsold
from backwave.units import Quantity

_HOURS = re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) ([01]\d|2[0-3]):[0-5]\d-(([01]\d|2[0-3]):[0-5]\d|24:00)")

Celsius = Annotated[Quantity, Dim("temperature")]


class BatteryTable(Table):
    """The battery."""

    voltage: Supplied | None = given("At rest; left out: 12.6 V", None)
    capacity: Annotated[Quantity, Dim("capacity")] | None = given("Capacity at 20 hours", None)
    resistance: Annotated[Quantity, Dim("resistance", "0.01 mohm", "1 ohm")] | None = given(
        "Inner resistance; left out: 5 mohm, on the safe side for a fuse", None
    )
    kind: Literal["lead-acid", "agm", "lithium"] = word("Its chemistry", "lead-acid", "the commonest")


class AlternatorTable(Table):
    """The alternator, or the converter of an electric vehicle."""

    current: Ampere | None = given("At speed", None)
    idle: Drawn | None = given("At idle", None)
    converter: Flag = given("It is the converter of an electric vehicle", False)


class SupplyTable(Table):
    """The vehicle's supply."""

    system: Literal["12 V", "24 V"] = word("Nominal voltage", "12 V", "cars and vans")
    running: Supplied | None = given("At the battery, engine running; left out: 14.4 V", None)
    battery: BatteryTable = always(BatteryTable, "The battery")
    alternator: AlternatorTable = always(AlternatorTable, "The alternator")
    vehicle: Drawn | None = given("What the vehicle itself draws, engine running", None)
    off: Drawn | None = given("What it draws while somebody listens with the engine off; left out: 3 A", None)
    fuse_at: Run | None = given("How far along the cable from the battery the main fuse sits", None)
    sleeved: Flag | None = given("The cable up to the main fuse runs in a sleeve all the way", None)
    body: Literal["steel", "aluminum", "plastic"] = word("What grounds are bolted to", "steel", "the commonest")
    sensor: Flag | None = given("A current sensor sits on the battery's negative post", None)
    grounds: Annotated[Whole, Field(ge=1, le=50)] | None = given("At how many points the devices are grounded", None)
    apart: Flag | None = given("Signal and power run on different sides of the vehicle", None)


class CableTable(Table):
    """A run of cable, with the fuse at its head."""

    length: Run | None = given("One way; left out: guessed, with what the guess does", None)
    material: Literal["copper", "copper-clad aluminum"] = word("Conductor", "copper", "what should be bought")
    insulation: Celsius | None = given("What the insulation stands; left out: 70 degC", None)
    ambient: Celsius | None = given("Hottest air around it; left out: 60 degC", None)
    bundle: Annotated[Whole, Field(ge=1, le=40)] = given("Loaded cables that touch, this one counted", 1)
    size: CableSize = given('The size that is there already, such as "16 mm2" or "AWG 4"; left out: chosen', "")
    fuse: Ampere | None = given("The fuse that is there already; left out: chosen", None)
    style: FuseStyle = given('Kind of fuse, such as "blade"; left out: the first that breaks a short', "")
    hinge: Literal["none", "door", "tailgate"] = given("A hinge that it runs through", "none")
    fine_strand: Flag | None = given("Of fine strands, where it bends at a hinge", None)
    guarded: Flag | None = given("In a gaiter or sleeve at that hinge, with slack that neither pulls nor chafes", None)

    @model_validator(mode="after")
    def _sold(self) -> CableTable:
        if self.fuse is not None:
            refuse_unsold(self.fuse.to("A"), self.style)
        return self


class DistributionTable(Table):
    """A block where one feed becomes several."""

    id: str = own_id()
    from_: str = Field(
        "",
        alias="from",
        description="The [[distribution]], [[battery]] or [[converter]] it hangs on; left out: the starter battery",
    )
    feed: CableTable = always(CableTable, "Cable to it")


class LoadTable(Table):
    """Something that draws current; a load and a source of one id are one device."""

    id: str = own_id()
    from_: str = Field(
        "",
        alias="from",
        description="The [[distribution]], [[battery]] or [[converter]] it hangs on; left out: the starter battery",
    )
    voltage: SupplySpan | None = given('The supply it stands, such as "10.5 to 16 V"; left out: that', None)
    half: Flag = given("It takes 12 V from one of the two batteries of a 24 V vehicle", False)
    power: Power | None = given('Rating, such as "2 x 50 W into 4 ohm"; left out: that of the source of its id', None)
    current: Ampere | None = given("What it draws, where that is known; in place of a rating", None)
    efficiency: Annotated[Number, Field(ge=0.05, le=1)] | None = given(
        "Power out over power in; left out: by class", None
    )
    amplifier_class: Literal["AB", "D"] = Field(
        "D",
        alias="class",
        description="Class of its output stage",
        json_schema_extra={"x-assumed": "most that are sold"},
    )
    crest: Annotated[Quantity, Dim("level", "0 dB", "40 dB")] | None = given(
        "Peak over rms of what is played; left out: 12 dB", None
    )
    regulated: Flag = given("Its own supply holds the power when the voltage sags", False)
    fuses: tuple[Ampere, ...] = given("Its own fuses", ())
    turn_on: Literal["lead", "signal", "none"] = word("What turns it on", "lead", "the usual way")
    feed: CableTable = always(CableTable, "Cable from the battery or distribution")
    ground: CableTable | None = given("Cable to ground; left out: 0.5 m of the feed's size", None)


class CableTestTable(Table):
    """What was measured on a run of cable as it was bought or built."""

    id: str = own_id()
    run: str = given("The distribution or load whose cable it is")
    part: Literal["feed", "ground", "path"] = word(
        "The feed, the ground or return lead, or the path from the device's ground terminal to the battery's minus",
        "feed",
        "the usual one",
    )
    strand_length: Run | None = given("Bare strand on the scale: its length", None)
    strand_mass: Annotated[Quantity, Dim("mass", "0.1 g", "100 kg")] | None = given(
        "Its mass, all insulation off", None
    )
    current: Ampere | None = given("A known current through the whole run, such as 10 A", None)
    drop: Annotated[Quantity, Dim("voltage", "0 V", "30 V")] | None = given("The drop along it at that current", None)

    @model_validator(mode="after")
    def _whole(self) -> CableTestTable:
        for one, other in (("strand_length", "strand_mass"), ("current", "drop")):
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                raise InputError(f"cable test {self.id}", f"{one} or {other} alone", f"both {one} and {other}")
        if self.part == "path" and self.strand_mass is not None:
            raise InputError(f"cable test {self.id}", "strand of a ground path", "current and drop")
        return self


class SupplyTestTable(Table):
    """What the finished supply reads."""

    rest: Supplied | None = given("At the battery's posts, engine off for an hour", None)
    running: Supplied | None = given("At the battery's posts, engine running", None)
    main_fuse_last: Flag | None = given("The main fuse went in last, after every joint was made and pulled at", None)


class CrewTable(Table):
    """Who works, when, with what."""

    people: tuple[str, ...] = given("Names", ())
    hours: tuple[str, ...] = given('Times, such as "Fri 18:00-23:00"', (), used=False)
    printers: Annotated[Whole, Field(ge=0, le=100)] = given("How many printers", 1, used=False)

    @field_validator("hours")
    @classmethod
    def _hours(cls, hours: tuple[str, ...]) -> tuple[str, ...]:
        for text in hours:
            if not _HOURS.fullmatch(text):
                raise InputError("not a span of hours", text, '"Fri 18:00-23:00"')
        return hours


class MoreBatteryTable(Table):
    """A battery beside the starter battery, or a bank of capacitors."""

    id: str = own_id()
    kind: Literal["lead-acid", "AGM", "lithium", "capacitors"] = given("What it is")
    voltage: Supplied | None = given("At rest; left out: by its kind", None)
    resistance: Annotated[Quantity, Dim("resistance", "0.01 mohm", "1 ohm")] | None = given(
        "Inner resistance; left out: by its kind, on the safe side for a fuse", None
    )
    capacity: Annotated[Quantity, Dim("capacity")] | None = given("Capacity at 20 hours", None)
    capacitance: Annotated[Quantity, Dim("capacitance", "0.01 F", "5000 F")] | None = given(
        "Of a bank of capacitors", None
    )
    place: Literal["hood", "cabin", "cargo", "outside"] = given("Where it sits: cargo counts as the cabin's air")
    feed: CableTable = always(CableTable, "Cable to it from the starter battery or its charger, fuse at its start")
    fuse: Ampere | None = given("The fuse at its own end of that cable", None)
    style: FuseStyle = given("Kind of that fuse; left out: the least that breaks its own short circuit", "")
    charged_through: str = given(
        'What joins it to the starter battery: the id of a [[converter]], "isolator", "cable" or "own charger"; left out: asked for',
        "",
    )
    sealed: Flag | None = given("Sealed: gel or glass mat, no caps", None)
    vented: Flag | None = given("Its vent leads outside", None)
    strapped: Flag | None = given("Strapped down", None)
    boxed: Flag | None = given("In a closed box", None)
    hood_allowed: Flag | None = given("Its maker allows it under the hood", None)
    cold_stop: Flag | None = given("It is not charged below 0 degC: its own electronics or its charger see to it", None)
    cut_out: Supplied | None = given("Where its own electronics end a discharge; left out: by its kind", None)
    most: Ampere | None = given("The most that its own electronics let through", None)
    precharge: Annotated[Quantity, Dim("resistance", "0.1 ohm", "10 kohm")] | None = given(
        "Resistor that a bank of capacitors is charged and discharged through", None
    )


class ConverterTable(Table):
    """A converter from one direct voltage to another: a charger of a second battery, or 12 V from 24 V."""

    id: str = own_id()
    from_: str = Field(
        "", alias="from", description="The [[battery]] or [[distribution]] that feeds it; left out: the starter battery"
    )
    input: Supplied = given('Nominal voltage it takes, such as "12 V" or "24 V"')
    output: Supplied = given("Voltage it gives")
    current: Ampere = given("The most that it gives")
    efficiency: Annotated[float, Field(ge=0.3, le=1)] | None = given("Power out over power in; left out: 0.9", None)
    feed: CableTable = always(CableTable, "Cable to its input, fuse at its head")
    fuse: Ampere | None = given("The fuse at its output", None)
    lithium: Flag | None = given("It has a charging profile for lithium", None)


class SignalTable(Table):
    """A way of the signal that is no factory output with `into`: from what, through what, into which input."""

    from_: str = Field(alias="from", description="The [[source]] it comes from")
    output: Literal["pre-out", "speaker wires", "digital"] = given("Of what kind that output is")
    loudest: Volt | None = given("Its clean output at the largest clean volume, rms", None)
    through: str = given('What is between, in your own words, such as "line transformer"; left out: a cable alone', "")
    isolated: Flag | None = given("What is between is a transformer, or the input is differential", None)
    into: str = given("The [[source]] that takes it")
    input: Literal["pre-in", "speaker-level", "digital"] = given("Which of its inputs")


class HandOverTable(Table):
    """What was tested before the vehicle is given back."""

    asleep_before: Drawn | None = given("What the vehicle drew asleep before the work", None)
    asleep_after: Drawn | None = given("The same after it", None)
    waited: Annotated[Quantity, Dim("time", "0 s", "48 h")] | None = given(
        "How long it had been left alone then; 20 to 40 min until the last control unit sleeps", None
    )
    latched: Flag | None = given(
        "Doors and hood were latched (by hand, where they stood open), the key out of reach", None
    )
    turn_on_off: Flag | None = given("The turn-on lead was dead with the ignition off", None)
    whine: Flag | None = given("A whine or hum was heard with the engine running, volume low, lamps and fan on", None)
    in_phase: tuple[str, ...] = given(
        "Openings whose two sides were heard or measured in phase: both woofers, mono, near each other", ()
    )

    @field_validator("in_phase")
    @classmethod
    def _once(cls, names: tuple[str, ...]) -> tuple[str, ...]:
        if len(set(names)) != len(names):
            raise InputError("openings in phase", ", ".join(names), "each once")
        return names
