"""What nobody read between two readings: a surface is not straight there, and may be nearer than the line.

Two readings are put in, a third and two thirds of the way, with their share of the errors of their neighbors (under
their own names, so that one gauge still errs once) and one that both have: how far pressed metal or curved glass stands
out of the straight line.  With straight pieces between them that is a bow, to an eighth of its height.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from backwave.fit.types import DepthReading, Opening
from backwave.uncertainty import Error, Reading

NOT_STRAIGHT = 0.01  # of the distance between two readings, either way; common trade practice (glass of 1.2 m radius)
NEAR_MM = 20.0  # readings nearer than that leave no room for it
_WAYS = ((1.0 / 3.0, "a third of the way"), (2.0 / 3.0, "two thirds of the way"))


def part_way(a: Reading, b: Reading, share: float, words: str, bow_mm: float = 0.0) -> Reading:
    """The reading that a straight line between two puts part of the way, with what it may be out by of its own.

    share : float, no unit: 0 at the one, 1 at the other
    `share`, 1.
    """
    sizes: dict[str, Error] = {}
    for reading, weight in ((a, 1.0 - share), (b, share)):
        for error in reading.errors:
            before = sizes[error.name].size if error.name in sizes else 0.0
            sizes[error.name] = replace(error, size=before + weight * error.size)
    span = f"from {a.name} to {b.name}"
    own = (Error(f"not straight {span}", "rectangular", bow_mm),) if bow_mm > 0.0 else ()
    value = a.value + share * (b.value - a.value)
    return Reading(f"{words} {span}", value, (*sizes.values(), *own), min(a.taken, b.taken), assumed=True)


def with_bow(spots: Sequence[DepthReading]) -> tuple[DepthReading, ...]:
    """Readings of one surface in one direction, with those between two that are far apart."""
    found: list[DepthReading] = list(spots)
    for a, b in pairwise(sorted(spots, key=lambda spot: spot.radius.value)):
        apart = b.radius.value - a.radius.value
        if apart > NEAR_MM:
            found += [
                DepthReading(
                    part_way(a.radius, b.radius, share, words),
                    part_way(a.clear, b.clear, share, words, NOT_STRAIGHT * apart),
                )
                for share, words in _WAYS
            ]
    return tuple(found)


def between_readings(opening: Opening) -> Opening:
    """The opening with every surface behind it known as well as it is: exactly where it was read, less in between."""
    return replace(opening, behind=tuple(replace(o, spots=with_bow(o.spots)) for o in opening.behind))
