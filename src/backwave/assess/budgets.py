"""What each computation of an assessment may take, and which key to look at where that is not enough.

A fit takes a tenth of a second and a few megabytes, with all its choices up to two; the limits lie well above, so that
only a number that is far off meets them, on any machine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log10

from pydantic import BaseModel

from backwave.budget import Budget
from backwave.job import Job, Place
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.units import Quantity, convert

DRAWS = 100_000  # of what is judged for good
FIT_S, SOUND_S, SUPPLY_S = 25.0, 60.0, 20.0
# What is usual of each kind, as a middle of its powers of ten; kinds without a row are not looked at.
_USUAL = {
    "length": (0.05, "m"), "area": (1e-3, "m2"), "volume": (0.02, "m3"), "mass": (0.1, "kg"), "frequency": (300.0, "Hz"),
    "resistance": (4.0, "ohm"), "inductance": (1e-3, "H"), "capacitance": (2e-5, "F"), "voltage": (10.0, "V"),
    "current": (20.0, "A"), "power": (100.0, "W"), "level": (60.0, "dB"), "time": (0.1, "s"),
}  # fmt: skip


def fit_budget(place: Place, adapter: AdapterTable, speaker: SpeakerTable) -> Budget:
    """What the fit of one place may take."""
    rows = {
        f"opening.{place.opening.id}": place.opening, f"speaker.{speaker.id}": speaker,
        f"adapter.{adapter.id}" if adapter.id else "adapter": adapter,
    }  # fmt: skip
    return _Named(f"the fit of {place.name}", FIT_S, rows)


def table_budget(what: str, seconds: float, job: Job, *tables: str) -> Budget:
    """What a computation from whole tables of the job may take."""
    rows: dict[str, BaseModel] = {}
    for name in tables:
        held = getattr(job.file, name)
        for number, row in enumerate(held if isinstance(held, tuple) else (held,)):
            if isinstance(row, BaseModel):
                rows[f"{name}.{getattr(row, 'id', '') or number}" if isinstance(held, tuple) else name] = row
    return _Named(what, seconds, rows)


def odd_number(rows: Mapping[str, BaseModel]) -> tuple[str, str]:
    """The key of the number that is furthest from what is usual of its kind, and the number; twice "" for none."""
    numbers = ((_far(q), key, q) for name, row in rows.items() for key, q in _quantities(name, row))
    far, key, quantity = max(numbers, key=lambda found: found[0], default=(0.0, "", None))
    return (key, str(quantity)) if far > 0.0 else ("", "")


class _Named(Budget):
    """A budget that looks for the odd number only when it is used up."""

    def __init__(self, what: str, seconds: float, rows: Mapping[str, BaseModel]) -> None:
        super().__init__(what, seconds)
        self._rows = rows

    def blame(self) -> tuple[str, str]:
        return odd_number(self._rows)


def _quantities(key: str, value: object) -> Iterator[tuple[str, Quantity]]:
    if isinstance(value, Quantity):
        yield key, value
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _quantities(f"{key}.{name.rstrip('_')}", getattr(value, name))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from _quantities(key, one)


def _far(quantity: Quantity) -> float:
    """Powers of ten from what is usual of its kind."""
    if quantity.dimension not in _USUAL or not quantity.value:
        return 0.0
    usual, unit = _USUAL[quantity.dimension]
    try:
        return abs(log10(abs(convert(quantity.value, quantity.unit, unit)) / usual))
    except (OverflowError, ValueError):
        return 1e3
