"""Wires, plugs, pairs behind their gate, and what was seen and recorded of the factory's own system."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import (
    Across,
    Angle,
    CableSize,
    Color,
    ColorOrNone,
    Dim,
    Flag,
    Hertz,
    Length,
    Levels,
    Load,
    PassiveBranch,
    Run,
    Table,
    Volt,
    Whole,
    given,
    own_id,
    word,
)
from backwave.notation.crossover import Branch
from backwave.notation.wires import CELL_RATED_V, PAIR_GATE, POP_S, refuse_unsafe
from backwave.units import Quantity


class WireTable(Table):
    """A wire of the harness: what is known of one that backwave generates, or one that goes another way."""

    id: str = own_id()
    from_: str = Field(alias="from", description="device.pin it leaves, as `backwave wire` lists them")
    to: str = given("device.pin it goes to")
    color: ColorOrNone = given("IEC 60757 letters or words, base first, then stripe", None)
    length: Run | None = given("Length; also that of its twin, where nobody gave the twin one", None)
    size: CableSize = given('Its size, such as "1.5 mm2" or "AWG 16"', "")
    material: Literal["copper", "copper-clad aluminum", ""] = given(
        "Conductor, of a supply or ground lead; left out: as its cable says", ""
    )


class SpeakerCableTable(Table):
    """The run from an output, or from its crossover's box, to a speaker or its factory plug."""

    opening: str | None = given("Which opening it goes to", None)
    box: str | None = given("Which box, instead of an opening", None)
    side: Literal["left", "right"] | None = given("Which side; left out: each", None)
    length: Run | None = given("One way; left out: guessed, with what the guess does", None)
    size: CableSize = given(
        'The size that is there or bought, such as "1.5 mm2" or "AWG 16"; left out: the least whose loss passes', ""
    )
    material: Literal["copper", "copper-clad aluminum"] = word("Conductor", "copper", "what should be bought")

    @model_validator(mode="after")
    def _somewhere(self) -> SpeakerCableTable:
        if (self.opening is None) == (self.box is None):
            raise InputError("a speaker cable", "to nowhere, or to two places", "either opening or box")
        return self


class PinTable(Table):
    """A contact of a plug with what it carries."""

    number: str = given("As molded on the plug")
    carries: str = given('"+" or "-" of a speaker; anything else in your own words', "")
    color: ColorOrNone = given("Of the factory wire: IEC 60757 letters or words, base first, then stripe", None)
    opening: str | None = given("Whose speaker, where a plug serves several; left out: the plug's", None)
    side: Literal["left", "right"] | None = given("On which side; left out: the plug's", None)
    hides: PassiveBranch | None = given('A series part hidden in the plug there, such as "series C 4.7 uF"', None)
    bridged: Flag = given("That part is bridged or taken out", False)

    @field_validator("hides")
    @classmethod
    def _in_line(cls, hides: Branch | None) -> Branch | None:
        if hides is not None and hides.place != "series":
            raise InputError("what a plug hides", str(hides), 'a series part: "series C 4.7 uF"')
        return hides


class FactoryTerminalsTable(Table):
    """Where the factory speaker's own terminals sat, which its lead reached."""

    depth: Across = given("Behind the metal; negative: in front of it")
    radius: Length | None = given("From the opening's axis; left out: 60 mm", None)
    angle: Angle | None = given("Direction as you face the opening; left out: the worst, opposite the new ones", None)


class PlugTable(Table):
    """A factory plug that is kept: each contact with what it carries, as found."""

    id: str = own_id()
    opening: str | None = given("Whose speaker it feeds", None)
    side: Literal["left", "right"] | None = given("On which side; left out: the same on each", None)
    before: Flag = given("It sits before the crossover's parts; else right before the speaker", False)
    wires: Literal["factory", "new"] = word(
        "What feeds it: the vehicle's own wires, or new ones", "factory", "a plug that is kept; " + PRACTICE
    )
    size: CableSize = given('Size of the factory wires, such as "0.75 mm2" or "AWG 18", as read off their jacket', "")
    contacts: Annotated[Whole, Field(ge=2, le=200)] | None = given(
        "How many contacts; left out: the highest number of its pins", None
    )
    rows: Annotated[Whole, Field(ge=1, le=20)] = given("In how many rows", 1)
    keyed: str = given("What keeps it from going in the wrong way round, in your own words", "")
    lead: Run | None = given("Length of the factory lead from where it is held to the plug", None)
    slack: Annotated[Quantity, Dim("length", "0 mm", "10 m")] | None = given(
        "Slack that lead had at the factory speaker; left out: none", None
    )
    terminals: FactoryTerminalsTable | None = given("Where the factory speaker's terminals sat", None)
    pin: tuple[PinTable, ...] = given("Its contacts", ())

    @model_validator(mode="after")
    def _contacts(self) -> PlugTable:
        twice = [name for name, n in Counter(p.number for p in self.pin).items() if n > 1]
        if twice:
            raise InputError(f"contacts of plug {self.id} named twice", ", ".join(twice), "each number once")
        if self.contacts is not None and self.rows > self.contacts:
            raise InputError(f"rows of plug {self.id}", self.rows, f"1 to {self.contacts}")
        poles = Counter((p.opening, p.side, p.carries) for p in self.pin if p.carries in ("+", "-"))
        for opening, side, pole in poles:
            whose = " ".join(filter(None, (opening or self.opening, side or self.side)))
            if poles[opening, side, pole] > 1:
                raise InputError(f"contacts {pole} of {whose} in plug {self.id}", poles[opening, side, pole], "one")
            if (opening, side, "-" if pole == "+" else "+") not in poles:
                found = f"{pole} alone"
                raise InputError(f"poles of {whose} in plug {self.id}", found, 'one pin "+" and one pin "-"')
            parts = [
                str(p.hides) for p in self.pin if (p.opening, p.side) == (opening, side) and p.hides and not p.bridged
            ]
            if len(parts) > 1:
                raise InputError(
                    f"parts hidden in both legs of {whose} in plug {self.id}", " and ".join(parts), "one of them"
                )
            if (opening or self.opening) is None:
                raise InputError(f"plug {self.id}", "a speaker's pin without an opening", "opening = its speaker's")
        return self


class BootTable(Table):
    """The boot at a door's hinge, which wires to the door go through."""

    opening: str = given("Which opening is in that door")
    also: tuple[str, ...] = given("Other openings behind the same boot", ())
    side: Literal["left", "right"] | None = given("On which side; left out: the same on each", None)
    bore: Annotated[Quantity, Dim("length", "1 mm", "300 mm")] | None = given(
        "Inner diameter where it is narrowest", None
    )
    loom: Annotated[Quantity, Dim("length", "0 mm", "300 mm")] | None = given(
        "Diameter of what runs through it already", None
    )
    room: Annotated[Whole, Field(ge=0, le=500)] | None = given(
        "How many more wires went through when it was tried; outranks bore and loom", None
    )


class GateTable(Table):
    """Of an older job file: read, and counted for nothing. What is confirmed stands in log.toml, with its date."""

    traced: Flag = given(PAIR_GATE["traced"], False)
    not_yellow: Flag = given(PAIR_GATE["not_yellow"], False)
    not_airbag: Flag = given(PAIR_GATE["not_airbag"], False)
    battery_off: Flag = given(PAIR_GATE["battery_off"], False)
    unplugged: Flag = given(PAIR_GATE["unplugged"], False)


class PairTable(Table):
    """A pair of factory wires, what was confirmed before it was touched, and what was read on it."""

    id: str = own_id()
    opening: str | None = given("The opening at whose plug it ends, as traced by eye", None)
    side: Literal["left", "right"] | None = given("On which side", None)
    colors: tuple[Color, Color] | None = given("Of its two wires; the cell's plus goes on the first", None)
    ends_at: Literal["woofer", "tweeter", "unknown"] = word(
        "The speaker at whose plug it ends, as seen", "unknown", "nobody has said"
    )
    capacitor: Flag | None = given("A capacitor in line was seen; left out: nobody could look", None)
    confirmed: GateTable = Field(
        default_factory=GateTable,
        description="Of an older job file; counted for nothing. `backwave pair`, or the page, asks each line and dates it in log.toml",
    )
    resistance: Annotated[Quantity | str, Dim("resistance", "0 ohm", "100000 kohm", words=("open",))] | None = given(
        "What the meter shows across it, or open; it counts once its gate was confirmed", None
    )
    leads: Annotated[Quantity, Dim("resistance", "0 ohm", "1 kohm")] | None = given(
        "What the meter shows with its leads touching each other; left out: 0", None
    )
    cone: Literal["out", "in", "still"] | None = given(
        "What the cone did at the cell; woofers only; it counts once its gate was confirmed", None
    )
    cell: Annotated[Quantity, Dim("voltage")] | None = given("The cell; left out: 1.5 V", None)
    held: Annotated[Quantity, Dim("time", "1 ms", "1 h")] | None = given(
        "How long the cell was on; left out: half a second", None
    )
    plus: Literal["first", "second"] | None = given("Which wire it was taken to be; left out: what the cone said", None)
    by_marks: Flag = given("Plus was read off the speaker's own marks and followed by eye", False)

    @model_validator(mode="after")
    def _gate(self) -> PairTable:
        if self.resistance is not None or self.cone is not None:
            refuse_unsafe(
                self.id,
                self.colors or (),
                self.ends_at,
                self.capacitor,
                None if self.cone is None else CELL_RATED_V if self.cell is None else self.cell.to("V"),
                POP_S if self.held is None else self.held.to("s"),
            )
        if self.leads is not None and self.leads.to("ohm") > 2:
            raise InputError("resistance of the meter's leads", self.leads.text, "0 to 2 ohm: clean the tips")
        return self


class MustSoundTable(Table):
    """Something that has to sound at hand-over."""

    what: str = given('Such as "door chime", "parking tones", "phone"')
    from_: str | None = Field(
        None, alias="from", description="The [[factory_output]] it comes from; left out: nobody knows"
    )


class FactorySystemTable(Table):
    """The factory system as a whole."""

    accessory: Flag | None = given("There is a line that is live only while the system plays", None)
    microphones: Flag | None = given("It cancels noise, or makes engine sound, with microphones in the cabin", None)
    must_sound: tuple[MustSoundTable, ...] = given("What has to sound at hand-over", ())


class FactoryOutputTable(Table):
    """What was recorded of one pair of factory output wires; what nobody has looked at is left out, and asked for."""

    id: str = own_id()
    group: str = given("The signal it is part of: outputs of one group are bands of one signal", "")
    opening: str | None = given("Whose speaker it feeds", None)
    side: Literal["left", "right"] | None = given("On which side", None)
    into: str | None = given("The [[source]] that takes its signal now; left out: it keeps its speaker", None)
    band: tuple[Hertz, Hertz] | None = given("Where its band begins and ends, by a sweep", None)
    quiet: Levels = given("Levels of a sweep at a low volume: [[Hz, dB], ...]", ())
    quiet_at: str = given("Where the volume stood then, as the display says", "")
    loud: Levels = given("The same at a high volume", ())
    loud_at: str = given("Where the volume stood then: the largest clean step", "")
    loudest: Volt | None = given("The loudest that comes out between its two wires, rms", None)
    polarity: Literal[1, -1] | None = given("Against the first of its group", None)
    phase: Annotated[Quantity, Dim("angle")] | None = given(
        "Against the next higher band of its group, at their crossover, both in one take", None
    )
    offset: Annotated[Quantity, Dim("voltage", "-50 V", "50 V")] | None = given(
        "Direct current between its two wires", None
    )
    bridge_tied: Flag | None = given("Both wires swing; neither may be grounded", None)
    rated: Load | None = given("Rated load of the factory speaker on it", None)
    detects_load: Flag | None = given("It mutes or sets a fault when its speaker is missing", None)

    @model_validator(mode="after")
    def _band(self) -> FactoryOutputTable:
        if self.band is not None and not self.band[0].to("Hz") < self.band[1].to("Hz"):
            found = f"{self.band[0].text} to {self.band[1].text}"
            raise InputError(f"band of factory output {self.id}", found, "its lower end first")
        return self
