"""How it came apart, step by step, and how it goes together again: the reverse, with counts that come out even."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class TeardownStep:
    """One step of the teardown."""

    id: str  # its name in the log
    text: str  # what came off and how; where ("" for anywhere)
    place: str = ""
    # how many screws, bolts and nuts came out, how many clips; None where nobody counted
    fasteners: int | None = None
    clips: int | None = None
    photos: tuple[str, ...] = ()  # paths inside the job folder
    when: str = ""  # when it was written down, and by whom
    by: str = ""
    back: bool = False
    fasteners_back: int | None = None  # how many went back in; None where nobody counted
    clips_back: int | None = None


@dataclass(frozen=True)
class Count:
    """Fasteners or clips of a place: what came out and what went back."""

    place: str
    kind: str
    out: int  # how many came out; how many went back in
    back: int
    whole: bool  # every counted step of the place is together again

    @property
    def even(self) -> bool:
        """As many went back as came out."""
        return self.out == self.back


def reassembly(steps: Sequence[TeardownStep]) -> tuple[TeardownStep, ...]:
    """The steps in the order in which it goes together: the last that came off is the first that goes on."""
    return tuple(reversed(steps))


def counts(steps: Iterable[TeardownStep]) -> tuple[Count, ...]:
    """What came out and what went back, place by place; only what was counted."""
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
