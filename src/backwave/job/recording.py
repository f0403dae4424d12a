"""`[[reading]]` and `[tune]`: what was recorded at a seat, and toward what the sound is set."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from backwave.errors import InputError
from backwave.job.fields import Dim, Flag, Hertz, LevelPoint, Number, Table, Whole, given
from backwave.units import Quantity

FOLDER = "readings"  # where recordings and responses lie in a job folder
# endings of recordings; what a file really is, its content says
SOUNDS = (".wav", ".flac", ".ogg", ".oga", ".opus", ".aif", ".aiff")
# endings of responses: columns of Hz, dB, and degrees if there are
COLUMNS = (".txt", ".csv", ".tsv", ".frd", ".dat")

Correction = Annotated[Quantity, Dim("level", "0 dB", "60 dB")]


class ReadingTable(Table):
    """A recording of the sweep, or a response, taken at a seat."""

    file: str = given("Path inside the job folder, under readings/: WAV, FLAC or OGG, or columns of Hz and dB")
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
        for (low, _), (high, _) in zip(((0.0, 0.0), *target), target):
            if not high > low:
                raise InputError("a target whose frequency does not rise", high, f"more than {low:g} Hz")
        return target
