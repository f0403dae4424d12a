"""More than one source, where the signal comes from, and what is tested before the vehicle is given back."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from backwave.errors import InputError
from backwave.job.fields import Ampere, Dim, Drawn, Flag, FuseStyle, Supplied, Table, Volt, given, own_id
from backwave.job.supply import CableTable
from backwave.units import Quantity


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
    feed: CableTable = Field(
        default_factory=CableTable, description="Cable to it from the starter battery or its charger, fuse at its start"
    )
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
    feed: CableTable = Field(default_factory=CableTable, description="Cable to its input, fuse at its head")
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
