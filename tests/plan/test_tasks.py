"""The checklist: what comes before what, gates, edits, and tasks that wait for each other."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.notation.wires import PAIR_GATE
from backwave.plan import Edit, LoadFact, PartFact, PlaceFact, PlanInputs, StageFact, Task, checklist, edited, ordered

DOOR = PlaceFact("door.left", "Door, left", "door", "A woofer", ("Read the glass again",), ("ring",), network=True)
RING = PartFact("ring", "Door, left", "print", "ASA", "fumes", 400.0, 4, "M4", True, True, True)
WHOLE = PlanInputs(
    (DOOR, PlaceFact("box", "Box", "box", "A subwoofer")),
    (RING,),
    (
        StageFact("was", "As it was"),
        StageFact("first", "Drivers", ("door.left",)),
        StageFact("second", "Amplifier and box", ("box",), ("amp",), ("Box, closed, 14 L",)),
        StageFact("third", "Settings"),
    ),
    (LoadFact("amp", "Amplifier", "80 A strip", ("amp.1", "amp.2")),),
    battery=True,
)


def ids(tasks: tuple[Task, ...]) -> list[str]:
    return [task.id for task in tasks]


def before(tasks: tuple[Task, ...], name: str) -> set[str]:
    """Everything that has to be done before a task, through others."""
    held = {task.id: task for task in tasks}
    found: set[str] = set()
    left = list(held[name].after)
    while left:
        one = left.pop()
        if one not in found:
            found.add(one)
            left += held[one].after
    return found


def test_the_order_is_the_trade_s() -> None:
    # Common trade practice: stand-in before the long print, test before the trim, battery off before a plug is parted,
    # the vehicle recorded as it came before it is opened.
    tasks = checklist(WHOLE)
    assert {"try-ring", "again-door.left-1", "survey-door.left", "strip-door.left", "battery-off", "consent"} <= before(
        tasks, "print-ring"
    )
    assert {
        "print-ring",
        "inserts-ring",
        "foam-ring",
        "identify-door.left",
        "quiet-door.left",
        "network-door.left",
    } <= before(tasks, "fit-door.left")
    assert {"wire-door.left", "power-first", "test-first"} <= before(tasks, "trim-door.left")
    assert "measure-was" in before(tasks, "battery-off")
    assert {"tune-first", "cable-second"} <= before(tasks, "mount-amp")
    assert {"power-second"} <= before(tasks, "gain-second")
    assert {"gain-second"} <= before(tasks, "test-second")
    assert before(tasks, "hand-over") >= {"warnings", "tune-third", "trim-door.left"}


def test_what_can_injure_is_a_gate_not_a_note() -> None:
    held = {task.id: task for task in checklist(WHOLE)}
    gates = " ".join(held["identify-door.left"].gates)
    assert all(word in gates for word in ("unplugged plug", "yellow", "Every battery", "airbag", "both ends"))
    assert held["identify-door.left"].gates == tuple(PAIR_GATE.values())
    assert any("airbag" in gate for gate in held["power-first"].gates)
    assert any("speaker of this amplifier is disconnected" in gate for gate in held["gain-second"].gates)
    assert any("behind every hole" in gate for gate in held["mount-amp"].gates)
    assert any("resistance alone" in words for words in held["identify-door.left"].cautions)
    moved = [task for task in held.values() if "window up" in task.title or "window all" in task.title]
    assert [task.id for task in moved] == ["survey-door.left", "try-ring"]
    assert all(any("airbag and seat connector closed" in words for words in task.cautions) for task in moved)


def test_every_task_says_why_and_what_it_takes() -> None:
    for task in checklist(WHOLE):
        assert task.why.endswith("."), task.id
        assert task.who, task.id
        assert task.minutes > 0, task.id
        assert "experience" in task.source, task.id
    # a reason of its own for the recording of the vehicle as it came
    held = {task.id: task for task in checklist(WHOLE)}
    assert held["measure-was"].why != held["measure-first"].why


def test_a_box_is_not_stripped_and_an_empty_job_is_no_work_on_a_vehicle() -> None:
    names = ids(checklist(WHOLE))
    assert "strip-box" not in names
    assert "fit-box" in names
    assert "battery-off" not in ids(checklist(PlanInputs()))


def test_a_part_from_sheet_is_cut_and_not_printed() -> None:
    sheet = PartFact("ring", "Door, left", "sheet", "plywood", layers=2)
    names = ids(checklist(PlanInputs((DOOR,), (sheet,))))
    assert "cut-ring" in names
    assert "print-ring" not in names
    assert "foam-ring" not in names


@given(st.integers(0, 12), st.integers(1, 4), st.booleans(), st.booleans())
@settings(max_examples=40, deadline=None)
def test_every_task_comes_after_what_it_waits_for(count: int, stages: int, printed: bool, door: bool) -> None:
    zone = "door" if door else "pillar"
    places = tuple(PlaceFact(f"p{n}", f"P {n}", zone, "driver", (), (f"q{n}",)) for n in range(count))
    parts = tuple(
        PartFact(f"q{n}", f"P {n}", "print" if printed else "sheet", "x", inserts=n % 3) for n in range(count)
    )
    row = tuple(
        StageFact(f"s{k}", f"S {k}", tuple(p.id for n, p in enumerate(places) if n % stages == k))
        for k in range(stages)
    )
    tasks = checklist(PlanInputs(places, parts, row))
    place = {name: n for n, name in enumerate(ids(tasks))}
    assert len(place) == len(tasks)
    assert all(place[name] < place[task.id] for task in tasks for name in task.after)
    assert sum(name.startswith("fit-") for name in place) == count
    assert all(task.minutes > 0 and task.title for task in tasks)


def test_tasks_that_wait_for_each_other_are_named() -> None:
    ring = (Task("a", "A", after=("c",)), Task("b", "B", after=("a",)), Task("c", "C", after=("b",)))
    with pytest.raises(
        InputError,
        match=r"a waits for c waits for b waits for a|b waits for a waits for c waits for b|c waits for b waits for a waits for c",
    ):
        ordered(ring)
    with pytest.raises(InputError, match="a waits for a"):
        ordered((Task("a", "A", after=("a",)),))
    with pytest.raises(InputError, match=r"not on the list.*nowhere"):
        ordered((Task("a", "A", after=("nowhere",)),))
    with pytest.raises(InputError, match="one id"):
        ordered((Task("a", "A"), Task("a", "B")))


def test_edits_change_add_and_drop() -> None:
    tasks = checklist(WHOLE)
    own = Edit("fetch", "Fetch the vehicle", minutes=20, after=("consent",))
    changed = edited(tasks, [own, Edit("shop", minutes=30.0, who="both"), Edit("try-ring", drop=True)])
    held = {task.id: task for task in changed}
    assert (held["shop"].minutes, held["shop"].who, held["shop"].source) == (30.0, "both", "entered by you")
    assert held["fetch"].after == ("consent",)
    assert "try-ring" not in held
    # what waited for the dropped task waits for what that one waited for
    assert {"survey-door.left", "again-door.left-1"} <= set(held["print-ring"].after)
    with pytest.raises(InputError, match="without a title"):
        edited(tasks, [Edit("new")])
    with pytest.raises(InputError, match="minutes"):
        edited(tasks, [Edit("shop", minutes=-1)])
    with pytest.raises(InputError, match="wait for each other"):
        edited(tasks, [Edit("consent", after=("hand-over",))])
