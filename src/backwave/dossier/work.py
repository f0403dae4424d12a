"""Chapters of the work: what was taken apart, what is bought, made, measured and done."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from backwave.dossier.context import TEMPLATE, Chapter, PageContext
from backwave.files.pdf import typeset
from backwave.notation.measures import amount, goods, in_words
from backwave.report.blocks import Block, Cell, cell, columns, par, small, step, sub, table


def duration(minutes: float) -> str:
    """Minutes as a person says them: "45 min", "6 h 40"."""
    whole = round(minutes)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h" + (f" {whole % 60:02d}" if whole % 60 else "")


def checklist(told: PageContext) -> Chapter:
    """Everything to do, with a box to tick."""
    working = told.working
    hands, machine = sum(t.minutes for t in working.tasks), sum(t.machine_min for t in working.tasks)
    alone = f", and {duration(machine)} in which a machine or a glue works by itself" if machine else ""
    words = (
        f"{len(working.tasks)} tasks, {duration(hands)} of work{alone}. Times are by experience. Top to bottom is an "
        "order in which everything can be done; start the long prints as soon as what stands before them is ticked."
    )
    marks = "□ a line that has to be true before the task begins   ▲ where it can hurt"
    chapter = Chapter("Checklist", [par(words), small(marks)])
    ticks = working.done.ticks
    for phase, group in groupby(working.tasks, key=lambda t: t.phase):
        rows: list[list[Cell]] = []
        for task in group:
            tick = ticks.get(task.id)
            tools = "; ".join((*task.tools, *task.consumables))
            lines = (task.why, *(f"□ {gate}" for gate in task.gates), *(f"▲ {c}" for c in task.cautions), tools)
            runs = f"runs {duration(task.machine_min)}" if task.machine_min else ""
            took = "" if tick is None or tick.minutes is None else f"took {duration(tick.minutes)}"
            done = cell(tick=tick is not None and tick.done)
            times = cell(duration(task.minutes), runs, took)
            rows.append([done, cell(task.title, *lines), task.who or "anybody", times])
        chapter.blocks += [sub(phase or "To do"), table({"": 0, "task": 1, "who": 0, "time": 0}, rows, right=(3,))]
    return chapter


def shopping_list(told: PageContext) -> Chapter:
    """Everything to buy."""
    working = told.working
    priced = working.total is not None
    chapter = Chapter("Shopping list", flow=True)
    rows: list[list[Cell]] = []
    for item in working.items:
        much = amount(item.quantity, item.unit, told.system)
        what, size = goods(item.group, item.what, item.size, told.system)
        row: list[Cell] = [
            cell(tick=item.have), cell(what, in_words("; ".join(item.why), told.system)), size, much, item.source,
        ]  # fmt: skip
        rows.append([*row, "" if item.price is None else f"{item.price:.2f}"] if priced else row)
    head = {"have": 0.0, "what": 1.6, "size": 1.0, "how much": 0.0, "size is by": 0.9}
    head |= {"price": 0.0} if priced else {}
    chapter.blocks.append(table(head, rows, right=(3, 5) if priced else (3,), tight=True))
    if priced:
        chapter.blocks.append(par(f"Prices entered so far: {working.total:.2f}"))
    return chapter


def sources(told: PageContext) -> Chapter:
    """What the numbers rest on."""
    result = told.result
    checks = [f.check for f in (*result.findings, *result.cautions)]
    named = {s for c in checks for s in c.sources} | {i.source for i in told.working.items if i.source}
    steps = {s.source for c in checks for s in c.working if any(word in s.source for word in _STANDARDS)}
    named = {in_words(line, told.system) for line in named | steps if not line.startswith("the ")}
    words = (
        "What the findings and the lists name as their source. The working behind each finding names, beside "
        "every number, where it is from: backwave why JOB ID."
    )
    lines = columns(sorted(named, key=str.casefold)) if named else par("None: nothing was judged.")
    return Chapter("Sources", [par(words), lines], flow=True)


_STANDARDS = ("ISO ", "IEC ", "ASTM ", "JCGM ", "DIN ", "EN ", "SAE ", "ANSI")


def lists_pdf(told: PageContext) -> bytes:
    """The checklist and the shopping list by themselves."""
    chapters = [checklist(told), shopping_list(told)]
    data = told.data("Lists") | {"chapters": [c.data for c in chapters], "masthead": True}
    return typeset(TEMPLATE, data, stamp=told.stamp)


def teardown(told: PageContext) -> Chapter | None:
    """What was written down on the way; None where nothing was."""
    made = told.working
    if not (made.teardown or made.condition or made.done.consents):
        return None
    chapter = Chapter("Teardown record", flow=True)
    for name, picture in told.photos.there.items():
        chapter.pictures[_file(told, name)] = picture
    if made.done.consents:
        chapter.blocks += [sub("Consent"), _consents(told)]
    if made.condition:
        chapter.blocks.append(sub("Condition before the work"))
        chapter.blocks += [
            step(str(n), one.text, _about(told, one.place, one.when, one.by), _pictures(told, one.photos))
            for n, one in enumerate(made.condition, 1)
        ]
        chapter.blocks += _missing(told, [p for one in made.condition for p in one.photos])
    if made.teardown:
        words = "In order. It goes together in the reverse order, and the counts have to come out even."
        chapter.blocks += [sub("As it came apart"), small(words, sticky=True)]
        for n, one in enumerate(made.teardown, 1):
            counts = _counts(one.fasteners, one.clips)
            about = _about(told, one.place, one.when, one.by, counts and f"out: {counts}")
            chapter.blocks.append(step(str(n), one.text, about, _pictures(told, one.photos)))
        chapter.blocks += _missing(told, [p for one in made.teardown for p in one.photos])
        chapter.blocks += [sub("As it goes together"), _together(told)]
        out = sum((one.fasteners or 0) + (one.clips or 0) for one in made.teardown)
        if out:
            back = sum((one.fasteners_back or 0) + (one.clips_back or 0) for one in made.teardown)
            rest = f"gone back in so far: {back}" if back else "gone back in: ________"
            chapter.blocks.append(par(f"Screws and clips that came out: {out}; {rest}"))
    return chapter


def _consents(told: PageContext) -> Block:
    rows: list[list[Cell]] = [
        [cell(tick=one.given), one.who, one.text + ("" if one.given else " (taken back)"), _day(one.when)]
        for one in told.working.done.consents
    ]
    return table({"given": 0, "by": 0.6, "to what": 1.6, "when": 0}, rows)


def _together(told: PageContext) -> Block:
    """The reverse, with a box for each step and its counts."""
    steps = told.working.teardown
    numbers = {one.id: n for n, one in enumerate(steps, 1)}
    rows: list[list[Cell]] = [
        [
            cell(tick=one.back), str(numbers[one.id]), cell(one.text, told.name(one.place) if one.place else ""),
            _counts(one.fasteners, one.clips),
            _counts(one.fasteners_back, one.clips_back) or ("________" if one.fasteners or one.clips else ""),
        ]
        for one in told.working.reassembly
    ]  # fmt: skip
    return table({"": 0, "step": 0, "back in its place": 1, "came out": 0, "went back": 0}, rows, right=(3, 4))


def _counts(fasteners: int | None, clips: int | None) -> str:
    words = [] if fasteners is None else [f"{fasteners} fastener{'s' * (fasteners != 1)}"]
    words += [] if clips is None else [f"{clips} clip{'s' * (clips != 1)}"]
    return ", ".join(words)


def _about(told: PageContext, place: str, when: str, by: str, *more: str) -> str:
    return ", ".join(part for part in (told.name(place) if place else "", _day(when), by, *more) if part)


def _day(when: str) -> str:
    """A date and time to the minute, as it was written."""
    return when.replace("T", " ")[:16]


def _pictures(told: PageContext, names: Iterable[str]) -> list[tuple[str, str]]:
    return [(_file(told, name), name.rpartition("/")[2]) for name in names if name in told.photos.there]


def _file(told: PageContext, name: str) -> str:
    return f"photo{list(told.photos.there).index(name)}.jpg"


def _missing(told: PageContext, names: list[str]) -> list[Block]:
    lines = [f"{name}: {told.photos.lost[name]}" for name in dict.fromkeys(names) if name in told.photos.lost]
    return [small("Photographs that could not be put in: " + "; ".join(lines) + ".")] if lines else []
