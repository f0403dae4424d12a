"""What the factory system does: one record a pair of output wires, and what must still sound at hand-over."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from backwave.errors import InputError
from backwave.job.fields import Dim, Flag, Hertz, LevelPoint, Load, Table, Volt, given, own_id
from backwave.units import Quantity


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
    quiet: tuple[LevelPoint, ...] = given("Levels of a sweep at a low volume: [[Hz, dB], ...]", ())
    quiet_at: str = given("Where the volume stood then, as the display says", "")
    loud: tuple[LevelPoint, ...] = given("The same at a high volume", ())
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

    @field_validator("quiet", "loud")
    @classmethod
    def _rising(cls, levels: tuple[LevelPoint, ...]) -> tuple[LevelPoint, ...]:
        for (low, _), (high, _) in zip(((0.0, 0.0), *levels), levels):
            if not high > low:
                raise InputError("levels whose frequency does not rise", high, f"more than {low:g} Hz")
        return levels

    @model_validator(mode="after")
    def _band(self) -> FactoryOutputTable:
        if self.band is not None and not self.band[0].to("Hz") < self.band[1].to("Hz"):
            found = f"{self.band[0].text} to {self.band[1].text}"
            raise InputError(f"band of factory output {self.id}", found, "its lower end first")
        return self
