"""The stack-up: seat height, what stands before it, and the thicknesses that can be made.  Millimeters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement
from math import ceil, floor
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.budget import bounded
from backwave.errors import InputError
from backwave.fit.types import DriverShape, Stack
from backwave.uncertainty import Evaluator, Reading, at_estimates

MAX_SHEETS = 20  # different ones: sums of six of them are 177,100
MAX_LAYERS = 20_000  # of a print: 60 mm in layers of 3 um
_SLACK = 1e-9  # so that 3 x 0.2 counts as 0.6


def seat_height(stack: Stack, look: Evaluator) -> NDArray[np.float64]:
    """Metal to the mounting side of the driver's rim.

    h = back gasket closed + lift of the flange + thickness - recess + driver's gasket closed
    """
    below = look(stack.gasket) + look(stack.lift)
    return below + look(stack.thickness) - look(stack.recess) + look(stack.driver_gasket)


def seat_height_mm(stack: Stack) -> float:
    """Seat height at the best estimates."""
    return float(seat_height(stack, at_estimates))


FrontPart = Literal["moving", "crest", "fixed", "rim"]
FRONT_WORDS: dict[FrontPart, str] = {
    "moving": "cone at the limit of its travel",
    "crest": "crest of the surround at half the travel",
    "fixed": "fixed part of the front",
    "rim": "rim",
}


def front_parts(driver: DriverShape) -> Iterator[tuple[FrontPart, Reading, float]]:
    """What of the driver stands before its mounting side: which part, its height, its share of the excursion.

    What moves takes all of it, the crest of the surround half (common trade practice), fixed parts none.

    `driver`, mm.
    """
    front = driver.front
    parts: tuple[tuple[FrontPart, Reading | None, float], ...] = (
        ("moving", front.moving, 1.0),
        ("crest", front.crest, 0.5),
        ("fixed", front.fixed, 0.0),
        ("rim", driver.rim, 0.0),
    )
    for part, height, share in parts:
        if height is not None:
            yield part, height, share


def layer_heights(least_mm: float, layer_mm: float, most_mm: float = 60.0) -> tuple[float, ...]:
    """Thicknesses of a print: whole layers, from the least that leaves enough material.

    InputError: no layer, or none between least and most.
    """
    if layer_mm <= 0.0:
        raise InputError("layer height", layer_mm, "more than 0 mm")
    first, last = ceil(max(least_mm, layer_mm) / layer_mm - _SLACK), floor(most_mm / layer_mm + _SLACK)
    if last < first:
        raise InputError("least thickness", least_mm, f"at most {most_mm:g} mm")
    bounded("layers", last - first + 1, MAX_LAYERS)
    return tuple(round(k * layer_mm, 6) for k in range(first, last + 1))


def sheet_sums(stock_mm: Sequence[float], least_mm: float, most_mm: float = 60.0, sheets: int = 6) -> tuple[float, ...]:
    """Thicknesses that layers of sheet stock add up to. InputError: no stock, or none of its sums lies between."""
    if not stock_mm or min(stock_mm) <= 0.0:
        raise InputError("sheet stock", list(stock_mm), "one or more thicknesses above 0 mm")
    bounded("different sheets", len(set(stock_mm)), MAX_SHEETS)
    sums = {
        round(sum(pile), 6)
        for count in range(1, sheets + 1)
        for pile in combinations_with_replacement(sorted(set(stock_mm)), count)
    }
    held = tuple(sorted(s for s in sums if least_mm - _SLACK <= s <= most_mm + _SLACK))
    if not held:
        raise InputError("sheet stock", list(stock_mm), f"layers adding up to {least_mm:g} to {most_mm:g} mm")
    return held
