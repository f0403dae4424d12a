"""How it came apart, step by step, and how it goes together again: the reverse, with counts that come out even."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = ["Count", "TeardownStep", "counts", "reassembly"]


@dataclass(frozen=True)
class TeardownStep:
    """One step of the teardown.

    Parameters
    ----------
    id : str, no unit
        Its name in the log.
    text, place : str, no unit
        What came off and how; where ("" for anywhere).
    fasteners, clips : int or None, no unit
        How many screws, bolts and nuts came out, how many clips; None where nobody counted.
    photos : tuple of str, no unit
        Paths inside the job folder.
    when, by : str, no unit
        When it was written down, and by whom.
    back : bool, no unit
        It is together again.
    fasteners_back, clips_back : int or None, no unit
        How many went back in; None where nobody counted.
    """

    id: str
    text: str
    place: str = ""
    fasteners: int | None = None
    clips: int | None = None
    photos: tuple[str, ...] = ()
    when: str = ""
    by: str = ""
    back: bool = False
    fasteners_back: int | None = None
    clips_back: int | None = None


@dataclass(frozen=True)
class Count:
    """Fasteners or clips of a place: what came out and what went back.

    Parameters
    ----------
    place : str, no unit
        Where.
    kind : "fasteners" or "clips", no unit
        What is counted.
    out, back : int, no unit
        How many came out; how many went back in.
    whole : bool, no unit
        Every counted step of the place is together again.
    """

    place: str
    kind: str
    out: int
    back: int
    whole: bool

    @property
    def even(self) -> bool:
        """As many went back as came out."""
        return self.out == self.back


def reassembly(steps: Sequence[TeardownStep]) -> tuple[TeardownStep, ...]:
    """The steps in the order in which it goes together: the last that came off is the first that goes on.

    Parameters
    ----------
    steps : sequence of TeardownStep, no unit
        As it came apart.
    """
    return tuple(reversed(steps))


def counts(steps: Iterable[TeardownStep]) -> tuple[Count, ...]:
    """What came out and what went back, place by place; only what was counted.

    Parameters
    ----------
    steps : iterable of TeardownStep, no unit
        Of all places.
    """
    held = list(steps)
    found = []
    for place in dict.fromkeys(step.place for step in held):
        own = [step for step in held if step.place == place]
        for kind in ("fasteners", "clips"):
            pairs = [(getattr(step, kind), getattr(step, f"{kind}_back"), step.back) for step in own]
            counted = [pair for pair in pairs if pair[0] is not None or pair[1] is not None]
            if counted:
                out, back = (sum(pair[n] or 0 for pair in counted) for n in (0, 1))
                found.append(Count(place, kind, out, back, all(pair[2] for pair in counted)))
    return tuple(found)
