"""What nobody read between two readings: a surface is not straight there, and half-way it may be nearer than the line.

A reading half-way is put in, with the errors of its two neighbors (half of each, under their own names, so that one
gauge still errs once) and one of its own: how far pressed metal or curved glass stands out of the straight line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from backwave.fit.types import DepthReading, Opening
from backwave.uncertainty import Error, Reading

__all__ = ["NOT_STRAIGHT", "between_readings", "halfway", "with_halfway"]

NOT_STRAIGHT = (
    0.01  # of the distance between two readings, either way; common trade practice (glass of 1.2 m radius)
)
NEAR_MM = 20.0  # readings nearer than that leave no room for it


def halfway(a: Reading, b: Reading, own_mm: float = 0.0) -> Reading:
    """The reading that a straight line between two puts half-way, with what it may be out by of its own."""
    sizes: dict[str, Error] = {}
    for error in (*a.errors, *b.errors):
        before = sizes[error.name].size if error.name in sizes else 0.0
        sizes[error.name] = replace(error, size=before + error.size / 2.0)
    name = f"half-way from {a.name} to {b.name}"
    own = (Error(f"{name}: not straight", "rectangular", own_mm),) if own_mm > 0.0 else ()
    return Reading(name, (a.value + b.value) / 2.0, (*sizes.values(), *own), min(a.taken, b.taken), assumed=True)


def with_halfway(spots: Sequence[DepthReading]) -> tuple[DepthReading, ...]:
    """Readings of one surface in one direction, with those half-way between two that are far apart."""
    inward = sorted(spots, key=lambda spot: spot.radius.value)
    found: list[DepthReading] = list(spots)
    for a, b in pairwise(inward):
        apart = b.radius.value - a.radius.value
        if apart > NEAR_MM:
            found.append(
                DepthReading(halfway(a.radius, b.radius), halfway(a.clear, b.clear, NOT_STRAIGHT * apart))
            )
    return tuple(found)


def between_readings(opening: Opening) -> Opening:
    """The opening with every surface behind it known as well as it is: exactly where it was read, less in between."""
    return replace(opening, behind=tuple(replace(o, spots=with_halfway(o.spots)) for o in opening.behind))
