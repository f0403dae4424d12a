"""What a result weighs, held against what the allocator says (tracemalloc, Python's own)."""

from __future__ import annotations

import gc
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
import shapely

from backwave.assess.memo import size_of


@dataclass(frozen=True)
class Plain:
    name: str
    rows: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Slotted:
    name: str
    rows: tuple[object, ...]


MADE: dict[str, Callable[[], object]] = {
    "array": lambda: np.linspace(0.0, 1.0, 50_000),
    "view of an array": lambda: np.linspace(0.0, 1.0, 50_000)[::1000],
    "object full of arrays": lambda: Plain("a", tuple(np.full(200, float(n)) for n in range(300))),
    "nested objects": lambda: tuple(Plain(f"name {n}", (float(n), f"word {n}", None)) for n in range(2_000)),
    "objects with slots": lambda: tuple(Slotted(f"name {n}", (float(n), f"word {n}")) for n in range(2_000)),
    "mapping": lambda: {f"key {n}": [float(n), float(2 * n)] for n in range(2_000)},
}


@pytest.mark.parametrize("name", MADE)
def test_it_is_what_the_allocator_says(name: str) -> None:
    MADE[name]()
    gc.collect()
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        made = MADE[name]()
        taken = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    assert 0.8 * taken < size_of(made) < 1.5 * taken


def test_what_is_held_twice_counts_once() -> None:
    points = np.zeros(10_000)
    assert size_of((points, points, points[::2])) < 1.1 * points.nbytes


def test_a_shape_weighs_its_points() -> None:
    """The geometry library's own memory is not Python's; at least two floats a point (WKB has as many)."""
    ring = shapely.Point(0, 0).buffer(10, quad_segs=5_000)
    assert size_of(ring) >= len(shapely.to_wkb(ring))
    assert size_of(ring) < 2 * len(shapely.to_wkb(ring))
