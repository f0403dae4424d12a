"""Who listens sits in the cabin's air, where the cabin is given; what plays may stand outside it, in a trunk, and is then left out and said."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import TypeAdapter, ValidationError

from backwave.job.cross_checks import Fault
from backwave.job.fields import AnyLength
from backwave.job.model import CabinTable
from backwave.units import Quantity

Path = tuple[str | int, ...]

WALL_MM = 10.0  # how far outside a point on a wall may be read: the cabin is a box, and a tape no ruler
_POINT: TypeAdapter[tuple[Quantity, Quantity, Quantity]] = TypeAdapter(tuple[AnyLength, AnyLength, AnyLength])
_WAYS = ("back from the front", "right of the left side", "above the floor")


def cabin_faults(data: dict[str, Any]) -> Iterator[Fault]:
    """Every seat that lies outside the cabin; what is wrong by itself is passed over.

    `data`: the file's content, not yet known to be right.
    """
    vehicle = data.get("vehicle")
    try:
        cabin = CabinTable.model_validate(vehicle.get("cabin") if isinstance(vehicle, dict) else None)
    except ValidationError:  # none is given, or it is told about already
        return
    sides = (cabin.length, cabin.width, cabin.height)
    room = " × ".join(q.text for q in sides)
    for what, path, value in _points(data):
        try:
            point = _POINT.validate_python(value)
        except ValidationError:
            continue
        wrong = [
            f"{q.text} {way}"
            for q, side, way in zip(point, sides, _WAYS)
            if not -WALL_MM <= q.to("mm") <= side.to("mm") + WALL_MM
        ]
        if wrong:
            accepted = f"a point in the cabin, which is {room}: back, right, up from its front left corner at the floor"
            yield path, f"{what} lies outside the cabin", " and ".join(wrong), accepted


def _points(data: dict[str, Any]) -> Iterator[tuple[str, Path, Any]]:
    """What lies somewhere in the cabin, with its key and what stands there."""
    for i, row in _rows(data, "seat"):
        yield f"seat {row.get('id')}", ("seat", i, "ear"), row.get("ear")


def _rows(data: dict[str, Any], table: str) -> list[tuple[int, dict[str, Any]]]:
    rows = data.get(table)
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []
