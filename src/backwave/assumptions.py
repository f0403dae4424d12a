"""What nobody gave and what stands in for it: numbers with their units, each with its ground.  Ground floor: pure values.

A default is noted where it is used.  Only faces format it, in the units that the person reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from backwave.finding import Message, words
from backwave.units import show


@dataclass(frozen=True)
class Assumed:
    """A value nobody gave, and what was taken for it."""

    key: str  # what was not given: its key in the job, or as its owner names it ("feed.insulation")
    # `unit`, what was taken; a Text where words stand with the number, or where there are several ("{value} ±
    # {half}")
    value: float | str | Message
    unit: str
    why: str
    places: int | None = None  # decimals of the metric display; None shows up to six figures


@dataclass
class Ledger:
    """What was assumed on the way, each thing once."""

    assumed: dict[str, Assumed] = field(default_factory=dict)

    def note(self, key: str, value: float | str | Message, unit: str, why: str, places: int | None = None) -> None:
        """Note a default that was used."""
        self.take([Assumed(key, value, unit, why, places)])

    def take(self, others: Iterable[Assumed], owner: str = "") -> None:
        """Note what a room assumed, or all that another ledger holds."""
        for one in others:
            self.assumed.setdefault(owner + one.key, replace(one, key=owner + one.key) if owner else one)


def value_words(one: Assumed, system: str | None = None) -> str:
    """What was taken, as a text."""
    if isinstance(one.value, str):
        return one.value
    if isinstance(one.value, Message):
        return words(one.value, system or "metric")
    plain = f"{one.value:g}" if one.places is None else f"{one.value:.{one.places}f}"
    if system is None or "e" in plain:
        return f"{plain} {one.unit}".strip()
    return show(one.value, one.unit, system, len(plain.partition(".")[2]))
