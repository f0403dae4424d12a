"""Something long beside the page: told how far it is, stopped where asked, overtaken by what is newer."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import pytest
from bench.waiting import until

from backwave.bench.background import Errand
from backwave.errors import InputError

Tell = Callable[[float, str], None]


@pytest.fixture
def errand() -> Iterator[Errand]:
    one = Errand(lambda: None)
    yield one
    one.close()


def test_what_came_of_it_is_told_once(errand: Errand) -> None:
    made: list[int] = []

    def work(tell: Tell) -> int:
        tell(0.5, "half")
        return 7

    errand.begin(work, made.append)
    until(lambda: made)
    assert made == [7]
    until(lambda: errand.share is None)
    assert (errand.what, errand.problem, errand.stopped) == ("half", "", False)


def test_stopped_at_its_next_step(errand: Errand) -> None:
    going, go_on = threading.Event(), threading.Event()
    made: list[str] = []

    def work(tell: Tell) -> str:
        tell(0.1, "first")
        going.set()
        go_on.wait(20)
        tell(0.2, "second")
        return "done"

    errand.begin(work, made.append)
    assert going.wait(20)
    errand.stop()
    assert (errand.share, errand.stopped) == (None, True)
    go_on.set()
    errand.begin(lambda _: "after", made.append)
    until(lambda: made)
    assert made == ["after"]
    assert errand.what == ""


def test_what_is_wrong_is_said(errand: Errand) -> None:
    def work(_: Tell) -> None:
        raise InputError("recording", "silence", "a louder one")

    errand.begin(work, lambda _: pytest.fail("nothing came of it"))
    until(lambda: errand.problem)
    assert "silence" in errand.problem
    assert errand.share is None
