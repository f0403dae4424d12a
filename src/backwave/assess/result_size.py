"""How many bytes a result holds in memory: what a bounded store of results is bounded by.

An estimate on the high side: what two results share is counted in each of them.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import numpy as np

_GEOMETRY = 400  # bytes: of a shape's own frame in the geometry library; a ring of n points adds 16 or 24 n to it
_ALONE = {kind: sys.getsizeof(kind(1)) for kind in (float, complex)} | {type(None): 0, bool: 0}


def size_of(value: object) -> int:
    """Bytes of a value and of all that it refers to, each part once.

    `value`: numbers, text, arrays, shapes, containers, dataclasses and other objects; classes and functions weigh
    nothing.
    """
    seen: set[int] = set()
    waiting: list[Any] = [value]
    total = 0
    while waiting:
        one = waiting.pop()
        kind = type(one)
        if kind in _ALONE:  # met most: each is its own, hardly ever shared
            total += _ALONE[kind]
            continue
        if id(one) in seen:
            continue
        seen.add(id(one))
        if kind is tuple or kind is list:
            total += sys.getsizeof(one)
            waiting += one
        elif isinstance(one, np.ndarray):
            total += _array(one, seen)
        elif isinstance(one, str | bytes | int | np.generic):
            total += sys.getsizeof(one)
        elif isinstance(one, Mapping):
            total += sys.getsizeof(one)
            waiting += one.keys()
            waiting += one.values()
        elif isinstance(one, tuple | set | frozenset):
            total += sys.getsizeof(one)
            waiting += one
        elif kind.__module__.startswith("shapely"):
            total += _shape(one)
        elif not callable(one):
            total += sys.getsizeof(one)
            waiting += _held(one)
    return total


def _array(array: np.ndarray[Any, Any], seen: set[int]) -> int:
    """An array's own bytes, or those of the whole array that it is a view of: the view keeps all of it alive."""
    base = array
    while isinstance(base.base, np.ndarray):
        base = base.base
    if base is not array and id(base) in seen:
        return sys.getsizeof(array)
    seen.add(id(base))
    return base.nbytes + 120


def _shape(shape: Any) -> int:
    import shapely

    return _GEOMETRY + 24 * int(shapely.get_num_coordinates(shape))


def _held(one: Any) -> list[Any]:
    """What an object's fields hold, whether they stand in a dict of its own or in slots."""
    held = list(vars(one).values()) if hasattr(one, "__dict__") else []
    return held + [getattr(one, name) for name in _slots(type(one)) if hasattr(one, name)]


_SLOTS: dict[type, tuple[str, ...]] = {}  # of each kind met: the names that stand in slots


def _slots(kind: type) -> tuple[str, ...]:
    if kind not in _SLOTS:
        found = [parent.__dict__.get("__slots__", ()) for parent in kind.__mro__]
        flat = [name for slots in found for name in ((slots,) if isinstance(slots, str) else slots)]
        _SLOTS[kind] = tuple(name for name in flat if not name.startswith("__"))
    return _SLOTS[kind]
