"""The work as lists: what is done in which order, and what has to be bought for it.

    checklist    the tasks that follow from plain facts about a job, in an order in which they can be done
    ordered      any tasks in such an order; tasks that wait for each other are named
    edited       tasks as a person changed them
    work_state   ticks, times, consent, teardown as they stand after all that was said
    said         what counts of all that was said about the work: merged by key and time, contradictions kept
    standing     how far each task is: done, ready, what it waits for
    reassembly   the teardown backwards, with counts that come out even
    shopping     one row for each thing to buy, merged, with what wants it
    price        a price as a person writes it

From: places, parts, stages and loads as small frozen values; no job file.  Units: minutes of work, millimeters in
names that say so, the unit of each shopping row beside its number.  Times are by experience, no schedule is solved.
A room: stands on the ground floor alone.
"""

from __future__ import annotations

from backwave.plan.event_log import Record, Word, merged, moment, own, said, spoken, undone
from backwave.plan.task import (
    Edit,
    Item,
    LoadFact,
    PartFact,
    PlaceFact,
    PlanInputs,
    StageFact,
    Task,
    Want,
    edited,
    ordered,
    price,
    shopping,
)
from backwave.plan.tasks import checklist
from backwave.plan.work_state import (
    Count,
    Standing,
    TeardownStep,
    TimedRun,
    counts,
    reassembly,
    standing,
    todays_cautions,
)

__all__ = [
    "Count", "Edit", "Item", "LoadFact", "PartFact", "PlaceFact", "PlanInputs", "Record", "StageFact", "Standing",
    "Task", "TeardownStep", "TimedRun", "Want", "Word", "checklist", "counts", "edited", "merged",
    "moment", "ordered", "own", "price", "reassembly", "said", "shopping", "spoken", "standing", "todays_cautions",
    "undone",
]  # fmt: skip
