"""Budgets: time, memory, and giving way; what stands inside another counts for both."""

from __future__ import annotations

import threading
import time

import pytest

from backwave.budget import Budget, OvertakenError, bounded, checkpoint, memory_bytes, within
from backwave.errors import InputError, TooMuchError


def work(seconds: float) -> None:
    """A long loop as a room has it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        checkpoint()
        time.sleep(0.001)


def test_without_a_budget_nothing_is_given_up() -> None:
    work(0.01)


def test_time_is_up_within_a_few_hundredths() -> None:
    start = time.monotonic()
    with (
        pytest.raises(TooMuchError, match=r"the fit of Rear shelf took more than 0\.05 seconds"),
        within(Budget("the fit of Rear shelf", 0.05)),
    ):
        work(20.0)
    assert time.monotonic() - start < 5.0


def test_waiting_for_the_machine_is_no_fault_of_the_job() -> None:
    def asleep(seconds: float) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            time.sleep(0.05)
            checkpoint()

    with within(Budget("the fit", 0.4)):
        asleep(1.0)
    start = time.monotonic()
    with pytest.raises(TooMuchError), within(Budget("the fit", 0.4)):
        asleep(60.0)
    assert time.monotonic() - start >= 5 * 0.4


def test_memory_is_counted_from_where_it_began() -> None:
    assert memory_bytes() > 1_000_000
    held = []

    def grow() -> None:
        for _ in range(200):
            held.append(bytearray(b"x" * 1_000_000))
            time.sleep(0.002)
            checkpoint()

    with pytest.raises(TooMuchError, match="more than 50 MB of memory"), within(Budget("a raster", 60.0, 50e6)):
        grow()
    assert 45 < len(held) < 150
    with within(Budget("another", 60.0, 50e6)):  # what is held already is no fault of the next
        work(0.1)


def test_what_the_system_does_not_give_is_too_much_as_well() -> None:
    with pytest.raises(TooMuchError, match="more memory than there is"), within(Budget("a raster", 60.0)):
        raise MemoryError


def test_an_outer_budget_counts_inside() -> None:
    gone, doing = threading.Event(), list[str]()
    threading.Timer(0.05, gone.set).start()

    def both(outer: Budget) -> None:
        with within(outer), within(Budget("the fit", 30.0)):
            doing.append(outer.doing)
            work(20.0)

    with pytest.raises(OvertakenError):
        both(Budget("all", 60.0, gone=gone.is_set))
    with pytest.raises(TooMuchError, match="all took"):
        both(Budget("all", 0.02))
    assert doing == ["the fit", "the fit"]


def test_after_it_nothing_is_left_of_it() -> None:
    with within(Budget("all", 0.0)):
        pass
    time.sleep(0.002)
    checkpoint()


def test_another_thread_has_its_own() -> None:
    failed = []

    def other() -> None:
        try:
            work(0.05)
        except TooMuchError as error:
            failed.append(error)

    with within(Budget("this one", 0.01)):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert not failed


@pytest.mark.parametrize(("count", "whole"), [(2.0, 2), (2.1, 3), (100, 100)])
def test_a_number_of_things_is_whole(count: float, whole: int) -> None:
    assert bounded("points", count, 100) == whole


@pytest.mark.parametrize("count", [100.5, 1e300, float("inf"), float("nan")])
def test_more_things_than_can_be_worked_with_are_refused_before_they_are_made(count: float) -> None:
    with pytest.raises(InputError, match="too many points of the outline"):
        bounded("points of the outline", count, 100)


def test_the_sentence_says_which_key() -> None:
    said = str(
        TooMuchError(
            "the fit of Front door, left", "more than 10 seconds", "opening.front-door.flange.diameter", "182 m"
        )
    )
    assert said == (
        "Too much to compute: the fit of Front door, left took more than 10 seconds and was given up. "
        "Change opening.front-door.flange.diameter (now 182 m)."
    )
