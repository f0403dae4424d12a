"""How far a task is, and the teardown with its reverse."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from backwave.plan import Count, Task, TeardownStep, TimedRun, counts, reassembly, standing, todays_cautions

TASKS = (
    Task("a", "A", gates=("So", "And so"), cautions=("Hot",)),
    Task("b", "B", after=("a",), cautions=("Sharp",)),
    Task("c", "C", drills=True, cautions=("Loud", "Hot")),
)


def test_a_task_waits_then_asks_then_is_ready_then_runs_then_is_done() -> None:
    def state(**told: object) -> str:
        return " ".join(row.state for row in standing(TASKS, **told))  # type: ignore[arg-type]

    assert state() == "gated waits waits"
    assert state(gates={("a", "So")}) == "gated waits waits"  # every gate, in its own words
    assert state(gates={("a", "So"), ("b", "And so")}) == "gated waits waits"
    both = {("a", "So"), ("a", "And so")}
    assert state(gates=both) == "ready waits waits"
    assert state(gates=both, runs={"a": [TimedRun("2026-03-14T10:00")]}) == "running waits waits"
    assert state(gates=both, done={"a"}) == "done ready waits"
    assert state(gates=both, done={"a", "b"}, consent=True) == "done done ready"


def test_today_shows_the_cautions_of_what_is_next_and_no_others() -> None:
    assert todays_cautions(standing(TASKS)) == ("Hot",)
    assert todays_cautions(standing(TASKS, {"a"}, consent=True)) == ("Sharp", "Loud", "Hot")
    assert todays_cautions(standing(TASKS, {"a", "b", "c"})) == ()


def test_ticked_early_is_seen() -> None:
    a, b, c = standing(TASKS, {"b", "c"})
    assert (a.early, b.early, c.early) == (False, True, True)
    assert standing(TASKS, {"a"})[0].early  # its gates were never confirmed


def test_time_is_as_told_else_the_sum_of_its_stretches() -> None:
    runs = {"a": [TimedRun("x", "y", 12.0), TimedRun("y", "z", 3.5), TimedRun("z")]}
    assert standing(TASKS, runs=runs)[0].took_min == 15.5
    assert standing(TASKS, {"a"}, runs=runs, minutes={"a": 40.0})[0].took_min == 40.0
    assert standing(TASKS)[0].took_min is None


STEPS = st.lists(
    st.builds(
        TeardownStep, st.uuids().map(str), st.just("off"), st.sampled_from(["left", "right", ""]), st.none() | st.integers(0, 9),
        st.none() | st.integers(0, 9),
    ),
    max_size=8,
)  # fmt: skip


@given(STEPS)
def test_reassembly_is_the_reverse_and_of_it_the_teardown(steps: list[TeardownStep]) -> None:
    assert reassembly(reassembly(steps)) == tuple(steps)
    assert [s.id for s in reassembly(steps)] == [s.id for s in steps][::-1]


@given(STEPS)
def test_all_back_as_counted_comes_out_even(steps: list[TeardownStep]) -> None:
    back = [
        TeardownStep(s.id, s.text, s.place, s.fasteners, s.clips, (), "", "", True, s.fasteners, s.clips) for s in steps
    ]
    assert all(count.even and count.whole for count in counts(back))
    assert sum(c.out for c in counts(steps)) == sum((s.fasteners or 0) + (s.clips or 0) for s in steps)
    assert not any(count.whole for count in counts(steps))


def test_what_nobody_counted_is_not_made_up() -> None:
    steps = (
        TeardownStep("1", "A", "left", 4, None, back=True, fasteners_back=3),
        TeardownStep("2", "B", "left", 2, 7),
        TeardownStep("3", "C", "right"),
    )
    assert counts(steps) == (Count("left", "fasteners", 6, 3, False), Count("left", "clips", 7, 0, False))
