"""One thing to do."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PRACTICE", "Task"]

PRACTICE = "by experience; common trade practice"


@dataclass(frozen=True)
class Task:
    """One thing to do, in words a beginner follows.

    Parameters
    ----------
    id, title : str, no unit
        Its name in the log, and what to do.
    phase : str, no unit
        The part of the work it stands under.
    who : str, no unit
        Who does it; "" for anybody.
    minutes : float, min
        How long a person is busy with it.
    machine_min : float, min
        How long a machine then runs by itself.
    after : tuple of str, no unit
        Ids of what comes before.
    tools, consumables : tuple of str, no unit
        What is needed and what is used up.
    gates : tuple of str, no unit
        What has to be true before it begins.
    cautions : tuple of str, no unit
        Where it can hurt.
    drills : bool, no unit
        Something of the vehicle is drilled or cut: it waits until somebody has consented.
    source : str, no unit
        Where its time is from.
    why : str, no unit
        What it is good for, in one sentence.
    """

    id: str
    title: str
    phase: str = ""
    who: str = ""
    minutes: float = 15.0
    machine_min: float = 0.0
    after: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    consumables: tuple[str, ...] = ()
    gates: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    drills: bool = False
    source: str = PRACTICE
    why: str = ""
