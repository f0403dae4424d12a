"""What nobody gave and what stands in for it: numbers with their units, each with its ground.  Ground floor: pure values.

A default is noted where it is used.  Only faces format it, in the units that the person reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from backwave.finding import Message, words
from backwave.units import show

__all__ = ["PRACTICE", "Assumed", "Ledger", "value_words"]

PRACTICE = "common trade practice"


@dataclass(frozen=True)
class Assumed:
    """A value nobody gave, and what was taken for it.

    Parameters
    ----------
    key : str, no unit
        What was not given: its key in the job, or as its owner names it ("feed.insulation").
    value : float, str or Message, `unit`
        What was taken; a Text where words stand with the number, or where there are several ("{value} ± {half}").
    unit : str, no unit
        Unit of a number, "" for none.
    why : str, no unit
        On what ground.
    places : int or None, no unit
        Decimals of the metric display; None shows up to six figures.
    """

    key: str
    value: float | str | Message
    unit: str
    why: str
    places: int | None = None


@dataclass
class Ledger:
    """What was assumed on the way, each thing once.

    Parameters
    ----------
    assumed : dict of str to Assumed, no unit
        By key.
    """

    assumed: dict[str, Assumed] = field(default_factory=dict)

    def note(self, key: str, value: float | str | Message, unit: str, why: str, places: int | None = None) -> None:
        """Note a default that was used.

        Parameters
        ----------
        key, unit, why, places : as of `Assumed`, no unit
            The job key, the unit, the ground, the decimals.
        value : float, str or Message, `unit`
            What stands in.
        """
        self.take([Assumed(key, value, unit, why, places)])

    def take(self, others: Iterable[Assumed], owner: str = "") -> None:
        """Note what a room assumed, or all that another ledger holds.

        Parameters
        ----------
        others : iterable of Assumed, no unit
            What was assumed; the first that was noted under a key stands.
        owner : str, no unit
            Put before each key: "load.amp.".
        """
        for one in others:
            self.assumed.setdefault(owner + one.key, replace(one, key=owner + one.key) if owner else one)


def value_words(one: Assumed, system: str | None = None) -> str:
    """What was taken, as a text.

    Parameters
    ----------
    one : Assumed, no unit
        What was assumed.
    system : "metric", "us" or None, no unit
        The system a person reads in; None for programs: metric, units spelled as in a job file.
    """
    if isinstance(one.value, str):
        return one.value
    if isinstance(one.value, Message):
        return words(one.value, system or "metric")
    plain = f"{one.value:g}" if one.places is None else f"{one.value:.{one.places}f}"
    if system is None or "e" in plain:
        return f"{plain} {one.unit}".strip()
    return show(one.value, one.unit, system, len(plain.partition(".")[2]))
