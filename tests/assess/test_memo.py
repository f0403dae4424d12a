"""The memo: equal contents give one name, different contents another, and nothing is computed twice."""

from __future__ import annotations

import resource
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from backwave.assess.memo import Memo, digest

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3).map(tuple) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=8,
)


@dataclass(frozen=True)
class Held:
    name: str
    points: NDArray[np.float64]


def shape_of(value: object) -> str:
    """Equality that tells 1, 1.0, True and -0.0 apart, as the digest must."""
    if isinstance(value, float):
        return value.hex()
    if isinstance(value, tuple):
        return "(" + ",".join(shape_of(v) for v in value) + ")"
    if isinstance(value, dict):
        return "{" + ",".join(f"{k!r}:{shape_of(v)}" for k, v in sorted(value.items())) + "}"
    return repr(value)


@given(VALUES, VALUES)
def test_one_name_for_equal_contents_and_another_for_others(a: object, b: object) -> None:
    assert (digest(a) == digest(b)) == (shape_of(a) == shape_of(b))


def test_arrays_count_by_their_bytes_and_shape() -> None:
    held = Held("ring", np.arange(6.0))
    assert digest(held) == digest(replace(held, points=np.arange(6.0)))
    assert digest(held) != digest(replace(held, points=np.arange(6.0).reshape(2, 3)))
    assert digest(held) != digest(replace(held, points=np.nextafter(np.arange(6.0), 9)))


def test_the_name_is_the_same_in_another_process() -> None:
    code = "from backwave.assess.memo import digest; print(digest({'b': 1.5, 'a': (1, 'x')}, frozenset({'p', 'q'})))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    assert out == digest({"a": (1, "x"), "b": 1.5}, frozenset({"q", "p"}))


def test_a_value_without_stable_content_is_refused() -> None:
    with pytest.raises(TypeError, match="no digest for object"):
        digest(object())


calls: list[int] = []


def square(x: int) -> int:
    calls.append(x)
    return x * x


def test_nothing_is_computed_twice_and_the_oldest_goes_first() -> None:
    memo, _ = Memo(room=2), calls.clear()
    assert [memo.call(square, x) for x in (2, 2, 3, 2, 4, 2, 3)] == [4, 4, 9, 4, 16, 4, 9]
    assert calls == [2, 3, 4, 3]  # 3 was the least lately used when 4 came


def zeros(count: int) -> Held:
    return Held("zeros", np.zeros(count))


def test_it_is_bounded_by_bytes_too() -> None:
    memo = Memo(room=4096, most_bytes=1_000_000)
    for count in range(10_000, 10_100):
        memo.call(zeros, count)  # 80 kB each
        assert memo.bytes <= 1_000_000
    misses = memo.misses
    memo.call(zeros, 10_099)
    memo.call(zeros, 10_088)
    assert memo.misses == misses, "the last dozen are kept"
    memo.call(zeros, 10_080)
    assert memo.misses == misses + 1, "what came before is not"


def test_what_is_larger_than_all_the_room_is_handed_on_and_not_kept() -> None:
    memo = Memo(most_bytes=1_000_000)
    memo.call(zeros, 100)
    assert memo.call(zeros, 200_000).points.size == 200_000
    assert memo.bytes < 10_000
    memo.call(zeros, 100)
    assert memo.hits == 1, "and nothing had to go for it"


def chopped(number: int) -> list[Held]:
    """Many small arrays, no two of one size: what is left of them when they go is in pieces."""
    return [Held("piece", np.zeros(500 + (number * 37 + k * 13) % 1500)) for k in range(400)]


@pytest.mark.skipif(sys.platform != "linux", reason="needs /proc")
def test_the_process_stays_as_small_as_the_bound_says() -> None:
    def memory() -> int:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * resource.getpagesize()

    memo = Memo(room=4096, most_bytes=50_000_000)
    before, kept = memory(), []
    for number in range(300):  # 1.2 GB in all
        memo.call(chopped, number)
        kept.append(np.zeros(100))
    assert memory() - before < 120_000_000


def test_what_was_dropped_is_given_back_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[int] = []
    monkeypatch.setattr("backwave.assess.memo._give_back", lambda: given.append(memo.bytes))
    memo = Memo(room=4096, most_bytes=10_000_000)
    for count in range(100_000, 100_112):  # 800 kB each: some 80 MB are dropped
        memo.call(zeros, count)
    assert len(given) == 2
