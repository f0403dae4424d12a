"""Records are the library's dataclasses in all but the time they take to make."""

from __future__ import annotations

import dataclasses
import inspect
import pickle
from collections.abc import Callable
from functools import cached_property
from typing import Any

import numpy as np
import pytest

from backwave import records


def made_by(dataclass: Any) -> tuple[type, ...]:
    @dataclass(frozen=True)
    class Base:
        a: int
        b: str = "b"
        c: list[int] = dataclasses.field(default_factory=list)
        d: float = dataclasses.field(default=1.0, compare=False, repr=False)

        @cached_property
        def twice(self) -> int:
            return 2 * self.a

    @dataclass(frozen=True)
    class Derived(Base):
        e: int = 7
        _: dataclasses.KW_ONLY
        f: int
        g: int = dataclasses.field(init=False, default=3)

        def __post_init__(self) -> None:
            object.__setattr__(self, "g", self.e + self.f)

    @dataclass(frozen=True, kw_only=True)
    class One:
        x: Any

    @dataclass(frozen=True, eq=False)
    class Alone:
        x: int = 1

    @dataclass(frozen=True)
    class Own:  # noqa: PLW1641 - so that the library makes it one
        x: int

        def __eq__(self, other: object) -> bool:
            return isinstance(other, Own)

        def __repr__(self) -> str:
            return "own"

    return Base, Derived, One, Alone, Own


OURS, THEIRS = made_by(records.dataclass), made_by(dataclasses.dataclass)
MAKE: tuple[Callable[..., Any], ...] = (
    lambda base, *_: base(1), lambda base, *_: base(1, c=[2], d=3.0), lambda base, *_: base(a=2, b="x"),
    lambda _, derived, *rest: derived(1, f=2), lambda _, derived, *rest: derived(1, "y", [], 2.0, 5, f=2),
    lambda _, derived, *rest: dataclasses.replace(derived(1, "y", [], 2.0, 5, f=2), f=9),
    lambda *kinds: kinds[2](x=(1, 2)), lambda *kinds: kinds[3](), lambda *kinds: kinds[4](1),
    lambda *kinds: kinds[2](x=kinds[2](x=None)),
)  # fmt: skip


@pytest.mark.parametrize(("ours", "theirs"), list(zip(OURS, THEIRS, strict=True)))
def test_a_record_is_called_and_documented_as_the_library_has_it(ours: type, theirs: type) -> None:
    assert str(inspect.signature(ours)) == str(inspect.signature(theirs)) or "factory" in str(inspect.signature(theirs))
    assert list(inspect.signature(ours).parameters) == list(inspect.signature(theirs).parameters)
    assert [f.name for f in dataclasses.fields(ours)] == [f.name for f in dataclasses.fields(theirs)]  # type: ignore[arg-type]  # they are
    assert ours.__match_args__ == theirs.__match_args__  # type: ignore[attr-defined]  # dataclasses have it
    for wrong in ({}, {"nothing": 1}):
        said = []
        for kind in (ours, theirs):
            try:
                said.append(repr(kind(**wrong)).split(" at ")[0])
            except TypeError as error:
                said.append(str(error))
        assert said[0] == said[1]


def test_records_compare_hash_and_show_as_the_library_has_it() -> None:
    ours, theirs = ([make(*kinds) for make in MAKE] for kinds in (OURS, THEIRS))
    assert [repr(one).replace("made_by", "") for one in ours] == [repr(one).replace("made_by", "") for one in theirs]
    again = [make(*OURS) for make in MAKE]
    for i, one in enumerate(ours):
        assert [one == two for two in again] == [theirs[i] == make(*THEIRS) for make in MAKE]
        assert one != theirs[i]
        assert _hashes(one, again[i]) == _hashes(theirs[i], MAKE[i](*THEIRS))


def _hashes(one: object, again: object) -> bool | None:
    try:
        return hash(one) == hash(again)
    except TypeError:
        return None  # it holds a list


def test_an_array_is_the_same_as_itself() -> None:
    array, kind = np.zeros(3), OURS[2]
    assert kind(x=array) == kind(x=array)


def test_nothing_of_a_record_can_be_changed() -> None:
    one = OURS[0](4)
    for change in (lambda: setattr(one, "a", 2), lambda: setattr(one, "new", 2), lambda: delattr(one, "a")):
        with pytest.raises(dataclasses.FrozenInstanceError):
            change()
    assert one.twice == 8
    assert one == OURS[0](4)


def test_a_record_crosses_a_process() -> None:
    from backwave.uncertainty import Error, Reading

    one = Reading("depth", 3.0, (Error("tape", "normal", 0.5),))
    assert pickle.loads(pickle.dumps(one)) == one
    assert dataclasses.asdict(one)["errors"][0]["name"] == "tape"
