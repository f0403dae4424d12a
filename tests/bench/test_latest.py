"""One kind of work in a thread: only the latest counts, and what does not end is left behind."""

from __future__ import annotations

import threading
import time

from bench.waiting import until

from backwave.bench.background import MAX_LEFT, Latest, Turn
from backwave.budget import Budget, OvertakenError, checkpoint, within


def test_what_waits_is_replaced_and_the_last_is_done() -> None:
    latest, begun, go, done = Latest("test"), threading.Event(), threading.Event(), list[int]()

    def first(turn: Turn) -> None:
        begun.set()
        go.wait(10)

    latest.start(first)
    begun.wait(10)
    for n in range(5):
        latest.start(lambda turn, n=n: done.append(n))
    go.set()
    until(lambda: done)
    time.sleep(0.05)
    assert done == [4]
    until(lambda: latest.busy_s == 0.0)
    latest.start(lambda turn: done.append(9))
    until(lambda: done == [4, 9])


def test_short_work_is_not_given_up_for_something_newer() -> None:
    latest, asked, done = Latest("test"), list[bool](), threading.Event()
    begun = threading.Event()

    def short(turn: Turn) -> None:
        begun.set()
        time.sleep(0.02)
        asked.append(turn.gone())

    latest.start(short)
    begun.wait(10)
    latest.start(lambda turn: done.set())
    assert done.wait(10)
    assert asked == [False]


def test_long_work_gives_way_at_its_next_checkpoint() -> None:
    latest, ended, begun, done = Latest("test"), list[str](), threading.Event(), threading.Event()

    def long(turn: Turn) -> None:
        begun.set()
        try:
            with within(Budget("a long loop", 60.0, gone=turn.gone)):
                for _ in range(60_000):
                    checkpoint()
                    time.sleep(0.001)
        except OvertakenError:
            ended.append("gave way")

    latest.start(long)
    begun.wait(10)
    time.sleep(0.15)
    start = time.monotonic()
    latest.start(lambda turn: done.set())
    assert done.wait(10)
    assert ended == ["gave way"]
    assert time.monotonic() - start < 1.0  # 0.01 s on a machine that has nothing else to do


def test_what_has_no_checkpoint_is_left_behind_and_its_answer_goes_nowhere() -> None:
    latest, free, begun, done, over = (
        Latest("test"),
        threading.Event(),
        threading.Event(),
        threading.Event(),
        list[bool](),
    )

    def stuck(turn: Turn) -> None:
        begun.set()
        free.wait(60)
        over.append(turn.over)

    latest.start(stuck)
    begun.wait(10)
    start = time.monotonic()
    latest.start(lambda turn: done.set())
    assert done.wait(10)
    assert time.monotonic() - start < 2.0  # 0.2 s likewise
    assert not over
    free.set()
    until(lambda: over)
    assert over == [True]


def test_no_more_threads_are_left_behind_than_a_few() -> None:
    latest, free, begun = Latest("test"), threading.Event(), list[int]()

    def stuck(turn: Turn) -> None:
        begun.append(1)
        free.wait(60)

    for _ in range(MAX_LEFT + 4):
        latest.start(stuck)
        time.sleep(0.25)
    assert 2 <= len(begun) <= MAX_LEFT + 1
    done = threading.Event()
    latest.start(lambda turn: done.set())
    free.set()
    assert done.wait(10)  # the latest comes once one of them has ended


def test_stopped_by_a_person() -> None:
    latest, free, begun, done = Latest("test"), threading.Event(), threading.Event(), threading.Event()
    turns = []

    def stuck(turn: Turn) -> None:
        turns.append(turn)
        begun.set()
        free.wait(60)

    latest.start(stuck)
    begun.wait(10)
    assert latest.busy_s > 0.0
    latest.stop()
    assert latest.busy_s == 0.0
    assert turns[0].gone()
    latest.start(lambda turn: done.set())
    assert done.wait(10)
    free.set()


def test_work_that_fails_does_not_end_it(capsys) -> None:  # type: ignore[no-untyped-def]
    latest, done = Latest("test"), threading.Event()

    def wrong(turn: Turn) -> None:
        raise ValueError("of the test")

    latest.start(wrong)
    until(lambda: latest.busy_s == 0.0)
    latest.start(lambda turn: done.set())
    assert done.wait(10)
    assert "of the test" in capsys.readouterr().err
