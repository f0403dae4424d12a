"""Results kept under the digest of what went in, so that an edit recomputes only what depends on it.

`digest` goes through dataclasses by field, floats by their bits, arrays by their bytes.  A frozen dataclass
that holds an array can be neither hashed nor compared, so `functools.lru_cache` will not do.  The store is bounded by
how many bytes its results hold, estimated on the high side: what two results share is counted in each of them."""

from __future__ import annotations

import struct
import sys
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from contextlib import suppress
from dataclasses import fields, is_dataclass
from enum import Enum
from hashlib import blake2b
from threading import Lock
from typing import Any, ParamSpec, Protocol, TypeVar

import numpy as np

from backwave.budget import checkpoint

_GEOMETRY = 400  # bytes: of a shape's own frame in the geometry library; a ring of n points adds 16 or 24 n to it
_ALONE = {kind: sys.getsizeof(kind(1)) for kind in (float, complex)} | {type(None): 0, bool: 0}


def size_of(value: object) -> int:
    """Bytes of a value and of all that it refers to, each part once. `value`: numbers, text, arrays, shapes,
    containers, dataclasses and other objects; classes and functions weigh nothing."""
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
        how = _HOW.get(kind) or _HOW.setdefault(kind, _how(one))
        if how == "array":
            total += _array(one, seen)
        elif how == "shape":
            total += _shape(one)
        elif how != "code":
            total += sys.getsizeof(one)
            if how == "items":
                waiting += one
            elif how == "mapping":
                waiting += [*one.keys(), *one.values()]
            elif how == "object":
                waiting += _held(one)
    return total


_HOW: dict[type, str] = {}  # each kind met: what of it is counted


def _how(one: object) -> str:
    kinds = (
        (np.ndarray, "array"), (str | bytes | int | np.generic, "flat"), (Mapping, "mapping"),
        (tuple | list | set | frozenset, "items"),
    )  # fmt: skip
    plain = "shape" if type(one).__module__.startswith("shapely") else "code" if callable(one) else "object"
    return next((how for kind, how in kinds if isinstance(one, kind)), plain)


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


P = ParamSpec("P")
T = TypeVar("T")
MAX_BYTES = 96_000_000
GIVE_BACK = 32_000_000  # bytes of dropped results


class _Sink(Protocol):
    def update(self, data: bytes, /) -> None: ...


def digest(*values: object) -> str:
    """A name for values that is the same for equal contents, on any machine. `values`: numbers, text, None, tuples,
    lists, mappings, arrays, enums, dataclasses, functions (by name); TypeError: A value of a kind that has no stable
    content."""
    sink = blake2b(digest_size=16)
    for value in values:
        _feed(sink, value)
    return sink.hexdigest()


_FIELDS: dict[type, tuple[bytes, tuple[str, ...]]] = {}  # of each dataclass met: its name, its fields


def _feed(sink: _Sink, value: Any) -> None:
    """What is met most, by its exact kind; the rest as `_feed_other` finds it.  Both write the same."""
    kind = type(value)
    if kind is float:
        sink.update(b"f" + struct.pack("<d", value))
    elif kind is str:
        written = value.encode()
        sink.update(b"s%d;" % len(value) + written)
    elif kind is tuple or kind is list:
        sink.update(b"t%d;" % len(value))
        for item in value:
            _feed(sink, item)
    elif kind in _FIELDS:
        name, names = _FIELDS[kind]
        sink.update(name)
        for key in names:
            _feed(sink, getattr(value, key))
    elif kind is int:
        sink.update(b"i%d;" % value)
    else:
        _feed_other(sink, value)


def _feed_other(sink: _Sink, value: Any) -> None:
    match value:
        case None | bool():
            sink.update(f"b{value}".encode())
        case Enum():
            sink.update(f"e{type(value).__qualname__}.{value.name}".encode())
        case int():
            sink.update(f"i{value};".encode())
        case float():
            sink.update(b"f" + struct.pack("<d", value))
        case complex():
            sink.update(b"c" + struct.pack("<dd", value.real, value.imag))
        case str():
            sink.update(f"s{len(value)};".encode() + value.encode())
        case bytes():
            sink.update(f"y{len(value)};".encode() + value)
        case np.ndarray():
            sink.update(f"a{value.dtype.str}{value.shape}".encode() + np.ascontiguousarray(value).tobytes())
        case np.generic():
            _feed(sink, value.item())
        case tuple() | list():
            sink.update(f"t{len(value)};".encode())
            for item in value:
                _feed(sink, item)
        case frozenset() | set():
            sink.update(f"u{len(value)};".encode())
            for part in sorted(digest(item) for item in value):
                sink.update(part.encode())
        case Mapping():
            sink.update(f"m{len(value)};".encode())
            for key in sorted(value, key=repr):
                _feed(sink, key)
                _feed(sink, value[key])
        case _ if is_dataclass(value) and not isinstance(value, type):
            kind = type(value)
            name = f"d{kind.__module__}.{kind.__qualname__};".encode()
            _FIELDS[kind] = name, tuple(field.name for field in fields(value))
            _feed(sink, value)
        case _ if callable(value) and hasattr(value, "__qualname__"):
            sink.update(f"g{value.__module__}.{value.__qualname__};".encode())
        case _:
            raise TypeError(f"no digest for {type(value).__name__}: give it plain values")


class Memo:
    """A store of results, bounded by their number and by their bytes; the least lately used goes first. `most_bytes`:
    how much memory they may hold together, as `size_of` estimates it; a single result above it is not kept."""

    def __init__(self, room: int = 512, most_bytes: int = MAX_BYTES) -> None:
        self._room, self._most = room, most_bytes
        self._kept: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._lock = Lock()
        self._dropped = 0  # bytes, since memory was last given back
        self.hits = self.misses = 0
        self.bytes = 0
        """How much memory the results that are kept hold together, in bytes."""

    def call(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """The function's result, computed unless it is kept; arrays in what goes in must not change later. `function`:
        A pure function; its `version` attribute, if any, is part of the name."""
        name = digest(function, getattr(function, "version", 0), args, kwargs)
        return self.keep(name, lambda: function(*args, **kwargs))

    def kept(self, name: Hashable) -> Any:
        """The result of that name, or None."""
        with self._lock:
            return self._kept.get(name, (None, 0))[0]

    def keep(self, name: Hashable, make: Callable[[], T]) -> T:
        """The result of that name, made unless it is kept."""
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                self.hits += 1
                result: T = self._kept[name][0]
                return result
        checkpoint()
        result = make()
        size = size_of((name, result))
        with self._lock:
            self.misses += 1
            if size <= self._most:
                self.bytes += size - self._kept.pop(name, (None, 0))[1]
                self._kept[name] = result, size
            while len(self._kept) > self._room or self.bytes > self._most:
                gone = self._kept.popitem(last=False)[1][1]
                self.bytes -= gone
                self._dropped += gone
            full = self._dropped > GIVE_BACK
            self._dropped = 0 if full else self._dropped
        if full:
            _give_back()
        return result


def _give_back() -> None:
    """Hand the memory of results that were dropped back to the system: GNU's allocator keeps it in pieces otherwise."""
    if sys.platform != "linux":
        return
    import ctypes

    with suppress(OSError, AttributeError):  # another C library: it has no such call
        ctypes.CDLL(None).malloc_trim(0)  # 10 ms for some hundred MB
