"""The second side of a pair, where it was not measured itself: what it may differ from the first one by."""

from __future__ import annotations

from dataclasses import replace

from backwave.fit import DepthReading, Opening
from backwave.job import Place
from backwave.uncertainty import Error, Reading

__all__ = ["DIFFERS_MM", "with_difference"]

DIFFERS_MM = {"behind": 1.0, "trim": 0.5, "hole": 0.2}
"""Either way, in mm, by key of the opening: another regulator, other clips, one press tool; common trade practice."""


def with_difference(place: Place, opening: Opening) -> Opening:
    """The opening with that doubt in whatever was read on the first side alone; all depths behind differ together."""
    taken = {key for key in DIFFERS_MM if place.mirrored and key not in place.own}
    if not taken:
        return opening

    def wider(key: str, reading: Reading) -> Reading:
        error = Error(f"{place.opening.id}.{key}: the other side", "rectangular", DIFFERS_MM[key])
        return replace(reading, errors=(*reading.errors, error))

    changes: dict[str, object] = {}
    if "behind" in taken:
        changes["behind"] = tuple(
            replace(o, spots=tuple(DepthReading(s.radius, wider("behind", s.clear)) for s in o.spots))
            for o in opening.behind
        )
    if "trim" in taken and opening.trim_clear is not None:
        changes["trim_clear"] = wider("trim", opening.trim_clear)
    if "hole" in taken:
        key = "hole" if opening.hole is not None else "outline_error"
        changes[key] = wider("hole", opening.hole or opening.outline_error)
    return replace(opening, **changes)  # type: ignore[arg-type]
