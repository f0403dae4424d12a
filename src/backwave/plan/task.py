"""One thing to do."""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "by experience; common trade practice"


@dataclass(frozen=True)
class Task:
    """One thing to do, in words a beginner follows."""

    id: str  # its name in the log, and what to do
    title: str
    phase: str = ""  # the part of the work it stands under
    who: str = ""
    minutes: float = 15.0  # min, how long a person is busy with it
    machine_min: float = 0.0  # how long a machine then runs by itself
    after: tuple[str, ...] = ()  # ids of what comes before
    tools: tuple[str, ...] = ()  # what is needed and what is used up
    consumables: tuple[str, ...] = ()
    gates: tuple[str, ...] = ()  # what has to be true before it begins
    cautions: tuple[str, ...] = ()  # where it can hurt
    drills: bool = False  # something of the vehicle is drilled or cut: it waits until somebody has consented
    source: str = PRACTICE  # where its time is from
    why: str = ""  # what it is good for, in one sentence
