"""Chapters of the work: the checklist, the shopping list, the sources."""

from __future__ import annotations

from itertools import groupby

from backwave.dossier.blocks import Cell, Chapter, cell, columns, par, small, sub, table
from backwave.dossier.context import TEMPLATE, PageContext
from backwave.files.pdf import typeset
from backwave.notation.measures import amount, goods, in_words


def duration(minutes: float) -> str:
    """Minutes as a person says them: "45 min", "6 h 40"."""
    whole = round(minutes)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h" + (f" {whole % 60:02d}" if whole % 60 else "")


def checklist(told: PageContext) -> Chapter:
    """Everything to do, with a box to tick."""
    working = told.working
    hands, machine = sum(t.minutes for t in working.tasks), sum(t.machine_min for t in working.tasks)
    chapter = Chapter(
        "Checklist",
        [
            par(
                f"{len(working.tasks)} tasks, {duration(hands)} of work"
                + (f", and {duration(machine)} in which a machine or a glue works by itself" if machine else "")
                + ". Times are by experience. Top to bottom is an order in which everything can be done; start the "
                "long prints as soon as what stands before them is ticked."
            ),
            small("□ a line that has to be true before the task begins   ▲ where it can hurt"),
        ],
    )
    ticks = working.done.ticks
    for phase, group in groupby(working.tasks, key=lambda t: t.phase):
        rows: list[list[Cell]] = []
        for task in group:
            tick = ticks.get(task.id)
            tools = "; ".join((*task.tools, *task.consumables))
            took = "" if tick is None or tick.minutes is None else f"took {duration(tick.minutes)}"
            rows.append(
                [
                    cell(tick=tick is not None and tick.done),
                    cell(
                        task.title, task.why, *(f"□ {gate}" for gate in task.gates), *(f"▲ {c}" for c in task.cautions),
                        tools, bold=False,
                    ),
                    task.who or "anybody",
                    cell(
                        duration(task.minutes),
                        f"runs {duration(task.machine_min)}" if task.machine_min else "", took,
                    ),
                ]
            )  # fmt: skip
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
    head = {"have": 0.0, "what": 1.6, "size": 1.0, "how much": 0.0, "size is by": 0.9} | (
        {"price": 0.0} if priced else {}
    )
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
    lines = sorted(
        {in_words(line, told.system) for line in named | steps if not line.startswith("the ")}, key=str.casefold
    )
    return Chapter(
        "Sources",
        [
            par(
                "What the findings and the lists name as their source. The working behind each finding names, beside "
                "every number, where it is from: backwave why JOB ID."
            ),
            columns(lines) if lines else par("None: nothing was judged."),
        ],
        flow=True,
    )


_STANDARDS = ("ISO ", "IEC ", "ASTM ", "JCGM ", "DIN ", "EN ", "SAE ", "ANSI")


def lists_pdf(told: PageContext) -> bytes:
    """The checklist and the shopping list by themselves."""
    chapters = [checklist(told), shopping_list(told)]
    data = told.data("Lists") | {"chapters": [c.data for c in chapters], "masthead": True}
    return typeset(TEMPLATE, data, stamp=told.stamp)
