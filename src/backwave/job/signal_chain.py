"""What plays and what was heard: `[[source]]`, `[[stage]]`, `[[box]]`; `[[reading]]` at a seat, and `[tune]`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from backwave.errors import InputError
from backwave.finding import PRACTICE
from backwave.job.fields import (
    AnyLength,
    Dim,
    Flag,
    Hertz,
    LevelPoint,
    Levels,
    Load,
    Number,
    Ohm,
    PassiveBranch,
    Positive,
    Power,
    Quality,
    SignalFilter,
    Supplied,
    Table,
    Volt,
    Whole,
    default,
    given,
    own_id,
    rising,
)
from backwave.notation.measures import Rating
from backwave.units import Quantity

Outer = Annotated[Quantity, Dim("length", "10 mm", "3 m")]


class SourceTable(Table):
    """Where the signal comes from."""

    id: str = own_id()
    kind: Literal["bridge", "amplifier", "factory"] = given("Straight off the supply, by rating, or as measured")
    supply: Supplied | None = given("Supply voltage with the engine on; left out: 14.4 V", None)
    engine_off: Supplied | None = given("Supply voltage with the engine off; left out: 12.4 V", None)
    loss: Volt | None = given("Of the supply, what a bridge cannot swing to; left out: 1 V", None)
    resistance: Ohm | None = given("Output resistance; left out: 0.3 ohm for a bridge, 0.05 ohm for an amplifier", None)
    lowest_load: Load | None = given("Least rated load", None)
    power: Power | None = given('Rating, such as "4 x 75 W into 4 ohm"', None)
    bridged: Flag = given(
        "Its channels are joined in pairs, one load on each pair; rating, resistance and least load stay one channel's own",
        False,
    )
    input: tuple[Volt, Volt] | None = given("Least and most at its input for full output, rms", None)
    differential: Flag | None = given(
        "Its input is differential, or a transformer stands before it; a bridge-tied output needs that", None
    )
    clip: Volt | None = given("Greatest clean sine of a factory output, rms", None)
    levels: Levels = given("What a factory output does to the signal: [[Hz, dB], ...]", ())

    @property
    def rated(self) -> Rating | None:
        """Rating of its outputs as they are used: joined in pairs where it is bridged."""
        return None if self.power is None else self.power.bridged() if self.bridged else self.power

    @model_validator(mode="after")
    def _in_pairs(self) -> SourceTable:
        if self.bridged and (self.kind != "amplifier" or self.power is None or self.power.channels % 2):
            found = f"{self.kind}, {self.power or 'no power'}"
            raise InputError(f"bridged source {self.id}", found, 'an amplifier of an even number of channels: "2 x 75 W into 2 ohm"')  # fmt: skip
        return self

    @field_validator("input")
    @classmethod
    def _least_first(cls, limits: tuple[Quantity, Quantity] | None) -> tuple[Quantity, Quantity] | None:
        if limits is not None and not limits[0].to("V") < limits[1].to("V"):
            raise InputError("input", f"{limits[0].text} to {limits[1].text}", "the least first")
        return limits


class PathTable(Table):
    """One output to one speaker."""

    source: str = given("Which source")
    channel: str = given("Which channel of it")
    side: Literal["left", "right"] | None = given("Which side; left out: one output for each", None)
    opening: str | None = given("Which opening", None)
    box: str | None = given("Which box, instead of an opening", None)
    speaker: str = given("Which driver")
    network: tuple[PassiveBranch, ...] = given("Passive parts from source to speaker", ())
    filters: tuple[SignalFilter, ...] = given("Active filters", ())
    delay: Annotated[Quantity, Dim("time", "0 ms", "200 ms")] | None = given("Delay; left out: none", None)
    gain: Annotated[Quantity, Dim("level", "-60 dB", "60 dB")] | None = given("Gain; left out: 0 dB", None)
    polarity: Literal[1, -1] = given("1, or -1 for reversed", 1)


class StageTable(Table):
    """A stage of the work that is worth hearing by itself."""

    id: str = own_id()
    title: str | None = given("What a person calls it; left out: its id", None)
    level: Annotated[Quantity, Dim("level", "40 dB", "140 dB")] = default(
        "How loud it is to play at the first seat, over 200 Hz to 2 kHz", "level", "90 dB", "loud music; " + PRACTICE
    )
    path: tuple[PathTable, ...] = given("Outputs to speakers", ())


class PortTable(Table):
    """The port of a vented box: a round tube."""

    diameter: Positive = given("Inner diameter")
    count: Annotated[Whole, Field(ge=1, le=8)] = given("How many", 1)
    length: Annotated[Quantity, Dim("length", "1 mm", "5 m")] | None = given(
        "Length; left out: what the tuning asks for", None
    )


class BoxTable(Table):
    """A box for a driver."""

    id: str = own_id()
    kind: Literal["closed", "vented"] = given("Closed or vented")
    volume: Annotated[Quantity, Dim("volume", "50 mL")] = given("Air inside, net")
    at: tuple[AnyLength, AnyLength, AnyLength] | None = given("Where its driver stands in the cabin", None)
    tuning: Annotated[Quantity, Dim("frequency", "5 Hz", "1000 Hz")] | None = given("Tuning of a vented box", None)
    port: PortTable | None = given("Port of a vented box", None)
    leak_q: Quality | None = given("Leakage quality; left out: 20 for a closed box, 7 for a vented one", None)
    absorption_q: Quality | None = given("Absorption quality; left out: none, an empty box", None)
    panel: Annotated[Quantity, Dim("length", "0.5 mm", "100 mm")] | None = given(
        "Thickness of its panels; left out: 18 mm", None
    )
    width: Outer | None = given("Outer width; left out: free", None)
    height: Outer | None = given("Outer height; left out: free", None)
    depth: Outer | None = given("Outer depth; left out: free", None)

    @model_validator(mode="after")
    def _vent(self) -> BoxTable:
        lacking = [name for name in ("tuning", "port") if getattr(self, name) is None]
        if self.kind == "vented" and lacking:
            raise InputError("a vented box", f"no {' and no '.join(lacking)}", "its tuning and its port")
        if self.kind == "closed" and len(lacking) < 2:
            raise InputError("a closed box", "a tuning or a port", 'kind = "vented", or neither')
        return self


FOLDER = "readings"  # where recordings and responses lie in a job folder
# endings of recordings; what a file really is, its content says
SOUNDS = (".wav", ".flac", ".ogg", ".oga", ".opus", ".aif", ".aiff")
# endings of responses: columns of Hz, dB, and degrees if there are
COLUMNS = (".txt", ".csv", ".tsv", ".frd", ".dat")

Correction = Annotated[Quantity, Dim("level", "0 dB", "60 dB")]


class ReadingTable(Table):
    """A recording of the sweep, or a response, taken at a seat."""

    file: str = given("Path inside the job folder, under readings/: WAV, FLAC, AIFF or OGG, or columns of Hz and dB")
    stage: str | None = given('Which stage, or "factory"', None)
    seat: str | None = given("Which seat; left out: the first", None)
    place: str | None = given(
        'Where round the head, such as "left ear"; readings of several places are averaged, readings of one place are '
        "repeats; left out: the middle",
        None,
    )
    sweep: str | None = given(
        "Description of what was played; left out: the one beside it, of its name or sweep.json", None
    )
    channel: Annotated[Whole, Field(ge=1, le=8)] | None = given(
        "Channel of the recording, from 1; left out: the first that is alive", None
    )
    recorder: Literal["phone", "other"] | None = given(
        "What recorded it: a phone's own filters bend what is below 150 Hz, so that there it is compared with other "
        "readings alone; left out: another recorder",
        None,
    )
    microphone: str | None = given(
        "File of the microphone's correction: columns of Hz and dB that it reads too much", None
    )
    calibration: Annotated[Quantity, Dim("level", "0 dB", "200 dB")] | None = given(
        "Sound pressure level of a sine that fills the recording; left out: levels are relative", None
    )
    tuned: Flag = given("Taken with the settings that `tune` gave, to see whether they do what they promised", False)


class TuneTable(Table):
    """Toward what the sound is set, and with what; a target is a preference."""

    target: Literal["house", "flat"] | tuple[LevelPoint, ...] = given(
        '"house" (more bass, against road noise), "flat", or points of your own: [[Hz, dB], ...]', "house"
    )
    filters: Annotated[Whole, Field(ge=0, le=20)] = given("Most filters on each output", 8)
    boost: Correction | None = given("Most boost of all filters together; left out: 3 dB", None)
    cut: Correction | None = given("Most cut of one filter; left out: 12 dB", None)
    bands: tuple[Hertz, ...] = given("Bands of an equalizer that has only these; left out: filters are free", ())
    kept: tuple[str, ...] = given(
        "Stages whose paths hold what `tune` gave: their readings without `tuned` were taken before", ()
    )
    rate: Annotated[Quantity, Dim("frequency", "8 kHz", "1000 kHz")] | None = given(
        "The processor's sampling rate, for coefficients; left out: 48 kHz", None
    )

    @field_validator("target")
    @classmethod
    def _rising(cls, target: str | tuple[tuple[Number, Number], ...]) -> str | tuple[tuple[Number, Number], ...]:
        if isinstance(target, str):
            return target
        if len(target) < 2:
            raise InputError("a target of one point", target, "two points or more, or a word")
        return rising(target, "a target")
