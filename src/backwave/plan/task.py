"""What is to be done and what is to be bought: tasks, the plain facts they follow from, any tasks as a person changes them in
an order in which they can be done; wants of many places merged into one row for each thing of one size."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter

from backwave.errors import InputError


@dataclass(frozen=True)
class Want:
    """One place's need of one thing."""

    group: str  # "Fasteners", "heat-set insert", "M4"
    what: str
    size: str
    quantity: float | None  # in `unit`, how much; None for as much as it takes
    unit: str = ""  # "" for pieces, "g", "m", "mm2"
    why: str = ""
    source: str = ""  # standard or table its size is from, or "common trade practice"


@dataclass(frozen=True)
class Item:
    """One row of the shopping list."""

    id: str  # its name in the log, and what it is
    group: str
    what: str
    size: str
    quantity: float | None  # in `unit`, how much; None for as much as it takes
    unit: str  # "" for pieces, "g", "m", "mm2"
    why: tuple[str, ...] = field(default=())
    source: str = ""  # where its size is from
    have: bool = False
    price: float | None = None  # for all of it, as entered, in whatever money the person thinks in


def shopping(
    wants: Iterable[Want], have: Iterable[str] = (), prices: Mapping[str, float] | None = None
) -> tuple[Item, ...]:
    """Wants merged: one row for each thing of one size, in the order they came, groups kept together."""
    had, priced = set(have), prices or {}
    rows: dict[str, Item] = {}
    for want in wants:
        if want.quantity is not None and want.quantity <= 0:
            continue
        name = _slug(f"{want.what} {want.size}")
        old = rows.get(name)
        if old is None:
            old = rows[name] = Item(
                name, want.group, want.what, want.size, want.quantity, want.unit, (), want.source, name in had,
                priced.get(name),
            )  # fmt: skip
        elif old.quantity is not None and want.quantity is not None:
            old = replace(old, quantity=old.quantity + want.quantity)
        rows[name] = replace(old, why=tuple(dict.fromkeys((*old.why, *((want.why,) if want.why else ())))))
    groups = list(dict.fromkeys(row.group for row in rows.values()))
    return tuple(sorted(rows.values(), key=lambda row: groups.index(row.group)))


def price(text: str) -> float:
    """A price as a person writes it, without a currency: 3.50, 3,50, 1,234.50, 1.234,50, 1 234,50. The last mark
    followed by one, two or four digits is the decimal sign. One mark alone before three digits may be either, and is
    asked back. InputError: A currency, less than nothing, no number, one that may be read in two ways."""
    given = re.sub(r"(?<=\d)[ \u00a0\u202f'’](?=\d{3}(\D|$))", "", text.strip())
    if re.fullmatch(r"\d{1,3}([.,])\d{3}", given) and not given.startswith("0"):
        whole = re.sub(r"\D", "", given)
        apart = f"{given[:-4]}.{given[-3:]}"
        raise InputError("a price that may be read in two ways", text, f"{whole}.00 or {apart}0")
    for thousands, decimal in ((",", "."), (".", ",")):
        grouped = rf"[1-9]\d{{0,2}}(\{thousands}\d{{3}})+(\{decimal}\d{{1,4}})?|\d{{1,9}}(\{decimal}\d{{1,4}})?"
        if re.fullmatch(grouped, given):
            return float(given.replace(thousands, "").replace(decimal, "."))
    raise InputError("not a price", text, "a number alone, such as 3.50 or 3,50")


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9.]+", "-", text.lower().replace("½", ".5")).strip("-")


@dataclass(frozen=True)
class Task:
    """One thing to do, in words a beginner follows."""

    id: str  # its name in the log, and what to do
    title: str
    phase: str = ""  # the part of the work it stands under
    who: str = ""
    minutes: float = 15.0  # min, how long a person is busy with it
    machine_min: float = 0.0  # how long a machine then runs by itself
    after: tuple[str, ...] = ()  # ids of what comes before
    tools: tuple[str, ...] = ()  # what is needed and what is used up
    consumables: tuple[str, ...] = ()
    gates: tuple[str, ...] = ()  # what has to be true before it begins
    cautions: tuple[str, ...] = ()  # where it can hurt
    drills: bool = False  # something of the vehicle is drilled or cut: it waits until somebody has consented
    source: str = "by experience; common trade practice"  # where its time is from
    why: str = ""  # what it is good for, in one sentence


@dataclass(frozen=True)
class PlaceFact:
    """Somewhere a driver goes, on one side."""

    id: str  # "front-door.left", and what a person calls it
    name: str
    zone: str  # "door", "dash", "pillar", "shelf", "cargo", "box" and so on
    driver: str
    again: tuple[str, ...] = ()  # what has to be read again before the part is made, in whole sentences
    parts: tuple[str, ...] = ()  # ids of the parts it needs; empty where the driver goes straight in
    tweeter: bool = False
    network: bool = False
    fasteners: int | None = None  # the factory's own fixings in the metal; None where nobody counted them


@dataclass(frozen=True)
class PartFact:
    """A part to make."""

    id: str
    name: str  # what a person calls it
    process: str  # "print" or "sheet"
    material: str
    fumes: str = ""  # what its fumes do
    machine_min: float | None = None  # how long the printer runs; None where that is not known
    inserts: int = 0  # heat-set inserts to set
    insert: str = ""  # their size, "M4"
    ring: bool = False  # a foam ring in front
    gasket: bool = False  # a gasket behind
    stand_in: bool = False  # a dummy to try first
    layers: int = 0  # of sheet to glue; 0 for a print
    stopped: bool = False  # it is not to be made until what stops it is settled
    mark: str = ""  # why it is made all the same


@dataclass(frozen=True)
class StageFact:
    """A stage of the work."""

    id: str  # its id, and what a person calls it
    name: str
    places: tuple[str, ...] = ()  # ids of the places that get their driver in this stage
    loads: tuple[str, ...] = ()  # ids of the devices that come in with this stage
    boxes: tuple[str, ...] = ()  # names of the boxes that come in with this stage


@dataclass(frozen=True)
class LoadFact:
    """Something that draws current."""

    id: str  # its id, and what a person calls it
    name: str
    fuse: str = ""  # the fuse at the head of its cable, such as "80 A blade"; "" where the one before it does
    channels: tuple[str, ...] = ()  # outputs whose gain is to be set


@dataclass(frozen=True)
class PlanInputs:
    """Everything the checklist follows from."""

    places: tuple[PlaceFact, ...] = ()  # where drivers go
    parts: tuple[PartFact, ...] = ()
    stages: tuple[StageFact, ...] = ()  # in the order they are done; a job without stages fits everything at once
    loads: tuple[LoadFact, ...] = ()
    # who works: the one who knows the trade first; empty stands for "lead" and "helper"
    people: tuple[str, ...] = ()
    battery: bool = False  # the main fuse and cable from the battery are part of the work


OWN = "entered by you"


@dataclass(frozen=True)
class Edit:
    """A change to a task, or a task of one's own."""

    id: str  # the task; one that is not there yet is added
    title: str | None = None  # new words; None leaves them
    who: str | None = None
    minutes: float | None = None  # min, A time of one's own; None leaves it
    after: tuple[str, ...] | None = None  # what comes before; None leaves it
    drop: bool = False  # the task is left out; what waited for it waits for what it waited for


def edited(tasks: Sequence[Task], edits: Iterable[Edit]) -> tuple[Task, ...]:
    """Tasks with a person's changes, in an order in which they can be done. InputError: A new task without words, one
    that waits for an unknown task, tasks that wait for each other."""
    held = {task.id: task for task in tasks}
    for edit in edits:
        if edit.drop:
            gone = held.pop(edit.id, None)
            if gone is not None:
                held = {k: replace(t, after=_without(t.after, gone)) for k, t in held.items()}
            continue
        if edit.id not in held and not edit.title:
            raise InputError("a task of your own without a title", edit.id, "a title")
        if edit.minutes is not None and not 0 < edit.minutes < 60 * 24 * 7:
            raise InputError(f"minutes of {edit.id}", edit.minutes, "more than 0, less than a week")
        old = held.get(edit.id) or Task(edit.id, edit.title or "", phase="of your own", minutes=15.0, source=OWN)
        new = replace(
            old, title=edit.title or old.title, who=old.who if edit.who is None else edit.who,
            minutes=old.minutes if edit.minutes is None else edit.minutes,
            after=old.after if edit.after is None else edit.after,
        )  # fmt: skip
        held[edit.id] = new if new == old else replace(new, source=OWN)
    return ordered(tuple(held.values()))


def _without(after: tuple[str, ...], gone: Task) -> tuple[str, ...]:
    if gone.id not in after:
        return after
    return tuple(dict.fromkeys(n for name in after for n in (gone.after if name == gone.id else (name,))))


def ordered(tasks: Sequence[Task]) -> tuple[Task, ...]:
    """Tasks in an order in which they can be done: as given, as far as what comes before allows. InputError: an id used
    twice, a wait for something unknown, tasks that wait for each other (all of them named)."""
    place = {task.id: n for n, task in enumerate(tasks)}
    if len(place) < len(tasks):
        ids = [task.id for task in tasks]
        raise InputError("tasks of one id", next(n for n in ids if ids.count(n) > 1), "each id once")
    for task in tasks:
        unknown = [name for name in task.after if name not in place]
        if unknown:
            raise InputError(f"{task.id} waits for what is not on the list", ", ".join(unknown), "ids of tasks")
    sorter = TopologicalSorter({task.id: task.after for task in tasks})
    try:
        sorter.prepare()
    except CycleError as error:
        ring = " waits for ".join(reversed(error.args[1]))
        raise InputError("tasks that wait for each other", ring, "an order in which each can be done") from None
    done: list[Task] = []
    ready: list[int] = []
    while sorter.is_active():
        ready = sorted([*ready, *(place[name] for name in sorter.get_ready())])
        first = ready.pop(0)
        done.append(tasks[first])
        sorter.done(tasks[first].id)
    return tuple(done)
