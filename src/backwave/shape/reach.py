"""How far a length may reach before nothing is drawn, counted or rastered from it.

The job's model has a bound for each key; this is the fence behind it, for whoever uses the rooms without a job.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass

import numpy as np

from backwave.errors import InputError
from backwave.uncertainty import Reading

# A kilometer: squares and cubes of it are still exact enough, and no raster is made any finer for it
MAX_MM = 1e6


def within_reach(what: str, value: object) -> None:
    """Refuse a length beyond `MAX_MM`, or one that is no number, anywhere in a value.

    `value`, mm: A number, a `Reading`, an array, a tuple of such, or a dataclass of such; its angles are not
    looked at; InputError: there is one.
    """
    if isinstance(value, bool | str) or value is None:
        return
    if isinstance(value, float | int):
        if not -MAX_MM <= value <= MAX_MM:
            raise InputError(what, f"{float(value):.3g} mm", f"lengths up to {MAX_MM / 1e6:g} km")
    elif isinstance(value, Reading):
        within_reach(what, value.value)
        within_reach(f"{what}: what it may be out by", value.bound)
    elif isinstance(value, np.ndarray):
        if value.size and not np.abs(value).max() <= MAX_MM:
            raise InputError(what, "a length that is too large or no number", f"lengths up to {MAX_MM / 1e6:g} km")
    elif isinstance(value, tuple):
        for one in value:
            within_reach(what, one)
    elif is_dataclass(value):
        for field in fields(value):
            if not field.name.endswith("_deg"):
                words = field.name.removesuffix("_mm").replace("_", " ")
                within_reach(f"{what}: {words}", getattr(value, field.name))
