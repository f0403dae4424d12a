"""`backwave plan`: the checklist and the shopping list; ticks, times, prices and notes kept in log.toml."""

from __future__ import annotations

import datetime
from difflib import get_close_matches
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import say
from backwave.errors import InputError

if TYPE_CHECKING:
    from backwave.assess.working import Working

__all__ = ["day", "folder_of", "run", "show"]

Names = list[str] | None


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    tick: Annotated[Names, typer.Option(help="This task is done; may be given several times.")] = None,
    untick: Annotated[Names, typer.Option(help="This task is not done after all.")] = None,
    minutes: Annotated[float | None, typer.Option(help="How long the ticked task took.")] = None,
    add: Annotated[str | None, typer.Option(help="A task of your own, in words.")] = None,
    change: Annotated[str | None, typer.Option(help="Change this task: its --minutes, --after, --who.")] = None,
    who: Annotated[str | None, typer.Option(help="Who does the added or changed task.")] = None,
    after: Annotated[Names, typer.Option(help="What comes before the added or changed task.")] = None,
    drop: Annotated[Names, typer.Option(help="Leave this task out.")] = None,
    have: Annotated[Names, typer.Option(help="This row of the shopping list is there already.")] = None,
    price: Annotated[Names, typer.Option(help="What a row costs: ID=3.50")] = None,
    note: Annotated[str | None, typer.Option(help="How something came apart.")] = None,
    place: Annotated[str, typer.Option(help="Where the note was made.")] = "",
    count: Annotated[int | None, typer.Option(help="Screws and clips that came out with it.")] = None,
    paper: Annotated[str | None, typer.Option(help="Also a PDF of both lists: A4 or Letter.")] = None,
    date: Annotated[str | None, typer.Option(help="The date on the paper, 2026-03-14; left out: today.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:
    """Who does what in which order, and what has to be bought; nothing is scheduled to the hour yet."""
    from backwave.assess import assess
    from backwave.assess.done import Edit, Note, Tick, done_of, sections_of
    from backwave.assess.working import working, working_json
    from backwave.files.kept import read_kept
    from backwave.job import load, log

    folder = folder_of(job)
    loaded = load(job)
    kept = read_kept(folder / "made")
    written = log.read(folder)
    done = done_of(written)
    result = assess(loaded, draws=2_000)  # no task follows from the last digit of a chance
    made = working(loaded, result, kept, done)
    known = [task.id for task in made.tasks]
    now = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    took = minutes if add is None and change is None else None  # the time is then the other's
    changes: list[Tick | Edit | Note] = [Tick(_known(n, known, "task"), True, now, took) for n in tick or []]
    changes += [Tick(_known(n, known, "task"), False, now) for n in untick or []]
    changes += [Edit(_known(n, known, "task"), drop=True) for n in drop or []]
    before = None if after is None else tuple(_known(n, known, "task") for n in after)
    if add is not None:
        changes.append(Edit(_free(add, known), add, who, minutes, before))
    if change is not None:
        changes.append(Edit(_known(change, known, "task"), None, who, minutes, before))
    if note is not None:
        changes.append(Note(note, now, place, count))
    new: dict[str, Any] = {}
    for one in changes:
        new |= sections_of(written | new, one)
    new |= _items(written, have or [], price or [], [item.id for item in made.items])
    if new:
        made = working(loaded, result, kept, done_of(written | new))  # refuses before anything is written
        log.write(folder, new)
    if paper is not None:
        _paper(loaded, result, made, paper, date, folder)
    if as_json:
        say.document(working_json(made))
    else:
        show(made)


def folder_of(job: Path) -> Path:
    """The folder of a job, told by itself or by its file."""
    return job.parent if job.name == "job.toml" else job


def day(text: str | None) -> str:
    """A date as it stands on the pages: the one given, or today."""
    if text is None:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError("a date", text, "year-month-day, such as 2026-03-14") from None


def _known(name: str, known: list[str], what: str) -> str:
    if name not in known:
        near = get_close_matches(name, known, 3, 0.5)
        raise InputError(
            f"no such {what}", name, ", ".join(near) or f"an id that `backwave plan` shows ({len(known)} of them)"
        )
    return name


def _free(title: str, known: list[str]) -> str:
    stem = "own-" + ("-".join("".join(c if c.isalnum() else " " for c in title.lower()).split()[:4]) or "task")
    names = (stem if n == 1 else f"{stem}-{n}" for n in range(1, len(known) + 2))
    return next(name for name in names if name not in known)


def _items(written: dict[str, Any], have: list[str], prices: list[str], known: list[str]) -> dict[str, Any]:
    """The [[item]] rows with what was said now."""
    from backwave.assess.done import price as read_price

    if not have and not prices:
        return {}
    rows = {row["id"]: dict(row) for row in written.get("item", [])}
    for name in have:
        rows.setdefault(_known(name, known, "row of the shopping list"), {"id": name})["have"] = True
    for text in prices:
        name, sign, amount = text.partition("=")
        if not sign:
            raise InputError("a price without its row", text, "ID=3.50")
        rows.setdefault(_known(name, known, "row of the shopping list"), {"id": name})["price"] = read_price(
            amount
        )
    return {"item": list(rows.values())}


def _paper(loaded: Any, result: Any, made: Working, paper: str, date: str | None, folder: Path) -> None:
    from backwave.dossier.told import Told
    from backwave.dossier.worked import lists_pdf
    from backwave.whole import write_whole

    if paper not in ("A4", "Letter"):
        raise InputError("paper", paper, "A4 or Letter")
    told = Told(loaded, result, made, date=day(date), paper=paper)
    path = write_whole(folder / "made" / "lists.pdf", lists_pdf(told))
    say.messages().print(say.relative(path), soft_wrap=True)


def show(made: Working) -> None:
    """Print both lists for a person."""
    from rich.markup import escape

    from backwave.dossier.worked import duration

    out, ticks = say.console(), made.done.ticks
    done = sum(t.id in ticks and ticks[t.id].done for t in made.tasks)
    out.print(f"\n[bold]Checklist[/]   {done} of {len(made.tasks)} done\n")
    for phase, group in groupby(made.tasks, key=lambda t: t.phase):
        out.print(f"[bold]{escape(phase)}[/]")
        for task in group:
            mark = "☑" if task.id in ticks and ticks[task.id].done else "☐"
            runs = f", then runs {duration(task.machine_min)}" if task.machine_min else ""
            who = task.who or "anybody"
            out.print(
                f"  {mark} {escape(task.title)}  [dim]{escape(who)}, {duration(task.minutes)}{runs}[/]",
                soft_wrap=True,
            )
            for gate in task.gates:
                out.print(f"      □ {escape(gate)}", soft_wrap=True)
            for caution in task.cautions:
                out.print(f"      ▲ {escape(caution)}", soft_wrap=True)
            out.print(f"      [dim]{escape(task.id)}[/]", soft_wrap=True)
    out.print("\n[bold]Shopping list[/]\n")
    for group, items in groupby(made.items, key=lambda i: i.group):
        out.print(f"[bold]{escape(group)}[/]")
        for item in items:
            amount = "as needed" if item.quantity is None else f"{item.quantity:g} {item.unit or 'pcs'}"
            cost = "" if item.price is None else f", {item.price:.2f}"
            mark = "☑" if item.have else "☐"
            out.print(
                f"  {mark} {amount}  {escape(item.what)} {escape(item.size)}{cost}  [dim]{escape(item.id)}[/]",
                soft_wrap=True,
            )
    if made.total is not None:
        out.print(f"\n  prices entered so far: {made.total:.2f}")
    hands, machine = sum(t.minutes for t in made.tasks), sum(t.machine_min for t in made.tasks)
    out.print(
        f"\n[dim]{duration(hands)} of work, {duration(machine)} of machines, by experience; done: "
        "backwave plan JOB --tick ID --minutes 25; lists on paper: --paper A4[/]\n",
        soft_wrap=True,
    )
