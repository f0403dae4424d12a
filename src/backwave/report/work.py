"""Chapters of the work: checklist, shopping list, and what was written down as it was taken apart."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from backwave.notation.measures import amount, goods, in_words
from backwave.plan.work_state import Condition
from backwave.report.blocks import Audience, Block, Cell, caution, cell, par, small, step, sub, table

if TYPE_CHECKING:
    from backwave.assess.work.work_plan import Working
    from backwave.plan import Item
    from backwave.plan.work_state import Standing, TeardownStep


def duration(minutes: float) -> str:
    """Minutes as a person says them: "45 min", "6 h 40"."""
    whole = round(minutes)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h" + (f" {whole % 60:02d}" if whole % 60 else "")


def today(working: Working) -> list[Block]:
    """Where it can hurt in what is done now or next."""
    lines = [caution(words) for words in working.today]
    return [sub("Today"), *lines] if lines else []


def checklist(working: Working) -> list[Block]:
    """Everything to do, with a box to tick."""
    hands, machine = sum(t.minutes for t in working.tasks), sum(t.machine_min for t in working.tasks)
    alone = f", and {duration(machine)} in which a machine or a glue works by itself" if machine else ""
    words = (
        f"{len(working.tasks)} tasks, {duration(hands)} of work{alone}. Times are by experience. Top to bottom is an "
        "order in which everything can be done; start the long prints as soon as what stands before them is ticked."
    )
    marks = "□ a line that has to be true before the task begins   ■ confirmed   ▲ where it can hurt"
    blocks = [par(words), small(marks)]
    for phase, group in groupby(working.rows, key=lambda row: row.task.phase):
        rows = [task(row) for row in group]
        blocks += [sub(phase or "To do"), table(" | task *1 | who | time >", rows)]
    return blocks


def task(row: Standing) -> list[Cell]:
    """A task: its box, what it is with its gates and cautions, who, how long."""
    one, waits = row.task, [*row.waits, *(["consent to drilling"] if row.consent else [])]
    ref = one.id + (f", waits for {', '.join(waits)}" if waits and not row.done else "")
    gates = (f"{'■' if confirmed else '□'} {words}" for words, confirmed in row.gates)
    tools = "; ".join((*one.tools, *one.consumables))
    runs = f"runs {duration(one.machine_min)}" if one.machine_min else ""
    took = "" if row.took_min is None else f"took {duration(row.took_min)}"
    return [
        cell(tick=row.done), cell(one.title, one.why, *gates, *(f"▲ {words}" for words in one.cautions), tools, ref=ref),
        one.who or "anybody", cell(duration(one.minutes), runs, took),
    ]  # fmt: skip


def shopping(told: Audience, working: Working, kinds: Collection[str] = ()) -> list[Block]:
    """Everything to buy, kind by kind, or some `kinds` of it without what they cost."""
    rows: list[list[Cell]] = []
    for group, items in groupby(working.items, key=lambda item: item.group):
        rows += [[group], *(thing(told, item) for item in items)] if not kinds or group in kinds else []
    head = "have | what *1.6 | size *1 | how much > | size is by *0.9"
    if working.total is None or kinds:
        return [table(head, [row[:5] for row in rows])] if rows else []
    return [table(f"{head} | price >", rows), par(f"Prices entered so far: {working.total:.2f}")]


def thing(told: Audience, item: Item) -> list[Cell]:
    """A thing to buy: whether it is there, what for, its size, how much, by what, its price."""
    what, size = goods(item.group, item.what, item.size, told.system)
    return [
        cell(tick=item.have), cell(what, in_words("; ".join(item.why), told.system), ref=item.id), size,
        amount(item.quantity, item.unit, told.system), item.source, "" if item.price is None else f"{item.price:.2f}",
    ]  # fmt: skip


def teardown(told: Audience, made: Working, photos: Mapping[str, str], lost: Mapping[str, str]) -> list[Block]:
    """What was written down on the way; nothing where nothing was. `photos`: keys of the pictures that can be shown, by
    their paths; `lost`: why another cannot."""
    blocks: list[Block] = []

    if made.done.consents:
        rows: list[list[Cell]] = [
            [cell(tick=one.given), one.who, one.text + ("" if one.given else " (taken back)"), _day(one.when)]
            for one in made.done.consents
        ]
        blocks += [sub("Consent"), table("given | by *0.6 | to what *1.6 | when", rows)]
    if made.condition:
        blocks += [sub("Condition before the work"), *_steps(told, made.condition, photos, lost)]
    if made.teardown:
        words = "In order; the counts have to come out even on reassembly."
        blocks += [sub("As it was taken apart"), small(words, sticky=True), *_steps(told, made.teardown, photos, lost)]
        blocks += [sub("Reassembly, in reverse order"), _together(told, made)]
        out = sum((one.fasteners or 0) + (one.clips or 0) for one in made.teardown)
        if out:
            back = sum((one.fasteners_back or 0) + (one.clips_back or 0) for one in made.teardown)
            rest = f"refitted so far: {back}" if back else "refitted: ________"
            blocks.append(par(f"Screws and clips that came out: {out}; {rest}"))
    return blocks


def _steps(
    told: Audience, notes: Sequence[Condition | TeardownStep], photos: Mapping[str, str], lost: Mapping[str, str]
) -> list[Block]:
    blocks = []
    for n, one in enumerate(notes, 1):
        counts = "" if isinstance(one, Condition) else _counts(one.fasteners, one.clips)
        where = told.name(one.place) if one.place else ""
        about = ", ".join(filter(None, (where, _day(one.when), one.by, counts and f"out: {counts}")))
        pictures = [(photos[path], path.rpartition("/")[2]) for path in one.photos if path in photos]
        blocks.append(step(str(n), one.text, about, pictures, one.id))
    gone = dict.fromkeys(path for one in notes for path in one.photos if path in lost)
    words = "; ".join(f"{path}: {lost[path]}" for path in gone)
    return [*blocks, small(f"Photographs that could not be put in: {words}.")] if gone else blocks


def _together(told: Audience, made: Working) -> Block:
    """The reverse, with a box for each step and its counts."""
    numbers = {one.id: n for n, one in enumerate(made.teardown, 1)}
    rows: list[list[Cell]] = [
        [
            cell(tick=one.back), str(numbers[one.id]), cell(one.text, told.name(one.place) if one.place else ""),
            _counts(one.fasteners, one.clips),
            _counts(one.fasteners_back, one.clips_back) or ("________" if one.fasteners or one.clips else ""),
        ]
        for one in made.reassembly
    ]  # fmt: skip
    return table(" | step | back in its place *1 | came out > | went back >", rows)


def _counts(fasteners: int | None, clips: int | None) -> str:
    words = [] if fasteners is None else [f"{fasteners} fastener{'s' * (fasteners != 1)}"]
    words += [] if clips is None else [f"{clips} clip{'s' * (clips != 1)}"]
    return ", ".join(words)


def _day(when: str) -> str:
    """A date and time to the minute, as it was written."""
    return when.replace("T", " ")[:16]
