"""What is otherwise than a job says, to see what it is worth."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.notation.crossover import Branch


@dataclass(frozen=True)
class WhatIf:
    """What is otherwise than the job says, to see what it is worth; changes nothing in the job."""

    ring: bool = True  # false: without the foam ring
    holes_covered: bool = False  # true: every service hole of the doors' skin covered
    high_pass: bool = True  # false: without any high-pass among the active filters
    # paths, by opening or box and driver ("front-door/demo-165"), with their polarity turned
    flipped: frozenset[str] = frozenset()
    networks: tuple[tuple[str, tuple[Branch, ...]], ...] = ()  # other passive parts for a path, by the same name
