"""What is otherwise than a job says, to see what it is worth."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.notation.crossover import Branch

__all__ = ["WhatIf"]


@dataclass(frozen=True)
class WhatIf:
    """What is otherwise than the job says, to see what it is worth; changes nothing in the job.

    Parameters
    ----------
    ring : bool, no unit
        False: without the foam ring.
    holes_covered : bool, no unit
        True: every service hole of the doors' skin covered.
    high_pass : bool, no unit
        False: without any high-pass among the active filters.
    flipped : frozenset of str, no unit
        Paths, by opening or box and driver ("front-door/demo-165"), with their polarity turned.
    networks : tuple of (path, parts), no unit
        Other passive parts for a path, by the same name.
    """

    ring: bool = True
    holes_covered: bool = False
    high_pass: bool = True
    flipped: frozenset[str] = frozenset()
    networks: tuple[tuple[str, tuple[Branch, ...]], ...] = ()
