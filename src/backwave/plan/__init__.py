"""The work as lists: what is done in which order, and what has to be bought for it.

    checklist    the tasks that follow from plain facts about a job, in an order in which they can be done
    ordered      any tasks in such an order; tasks that wait for each other are named
    edited       tasks as a person changed them
    shopping     one row for each thing to buy, merged, with what wants it
    price        a price as a person writes it

From: places, parts, stages and loads as small frozen values; no job file.  Units: minutes of work, millimeters in
names that say so, the unit of each shopping row beside its number.  Times are by experience, no schedule is solved.
A room: stands on the ground floor alone.
"""

from __future__ import annotations

from backwave.plan.edit import Edit, edited, ordered
from backwave.plan.facts import Facts, LoadFact, PartFact, PlaceFact, StageFact
from backwave.plan.shopping import Item, Want, price, shopping
from backwave.plan.task import Task
from backwave.plan.tasks import checklist

__all__ = [
    "Edit",
    "Facts",
    "Item",
    "LoadFact",
    "PartFact",
    "PlaceFact",
    "StageFact",
    "Task",
    "Want",
    "checklist",
    "edited",
    "ordered",
    "price",
    "shopping",
]
