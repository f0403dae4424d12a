"""The work printed for a person: checklist with how far each task is, teardown, shopping list, what is odd."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from rich.markup import escape

from backwave.cli import output
from backwave.notation.measures import amount, goods

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.work.work_plan import Working

_MARK = {"done": "☑", "running": "▶", "ready": "☐", "gated": "☐", "waits": "·"}


def show(made: Working, result: Assessment) -> None:
    """Print the lists."""
    out = output.console()
    done = sum(row.done for row in made.rows)
    out.print(f"\n[bold]Checklist[/]   {done} of {len(made.rows)} done\n")
    if made.today:
        out.print("[bold]Today[/]")
        for caution in made.today:
            out.print(f"  ▲ {escape(caution)}", soft_wrap=True)
        out.print()
    for phase, group in groupby(made.rows, key=lambda row: row.task.phase):
        out.print(f"[bold]{escape(phase)}[/]")
        for row in group:
            _task(out, row)
    _teardown(out, made, result)
    _shopping(out, made, result)
    shown = [f for f in made.findings if f.check.verdict != "ok"]
    if shown:
        out.print("\n[bold]What is odd[/]\n")
        output.findings(out, shown, result.show, names=result.names)
    from backwave.dossier.work import duration

    hands, machine = sum(t.minutes for t in made.tasks), sum(t.machine_min for t in made.tasks)
    out.print(
        f"\n[dim]{duration(hands)} of work, {duration(machine)} of machines, by experience; done: "
        "backwave plan JOB --tick ID --minutes 25; on the phone: backwave open JOB, place Work; on paper: --paper A4[/]\n",
        soft_wrap=True,
    )


def _task(out: Any, row: Any) -> None:
    from backwave.dossier.work import duration

    task = row.task
    runs = f", then runs {duration(task.machine_min)}" if task.machine_min else ""
    took = "" if row.took_min is None else f", took {duration(row.took_min)}"
    out.print(
        f"  {_MARK[row.state]} {escape(task.title)}  [dim]{escape(task.who or 'anybody')}, "
        f"{duration(task.minutes)}{runs}{took}[/]",
        soft_wrap=True,
    )
    waits = [*row.waits, *(["consent to drilling"] if row.consent else [])]
    if waits and not row.done:
        out.print(f"      waits for {escape(', '.join(waits))}", soft_wrap=True)
    for words, confirmed in row.gates:
        out.print(f"      {'■' if confirmed else '□'} {escape(words)}", soft_wrap=True)
    for caution in task.cautions:
        out.print(f"      ▲ {escape(caution)}", soft_wrap=True)
    out.print(f"      [dim]{escape(task.id)}[/]", soft_wrap=True)


def _teardown(out: Any, made: Working, result: Assessment) -> None:
    for one in made.done.consents:
        word = "consents" if one.given else "does not consent any more"
        out.print(f"\n{escape(one.who)} {word} ({escape(one.when[:16])}): {escape(one.text)}", soft_wrap=True)
    if made.condition:
        out.print("\n[bold]How it was before[/]\n")
        for was in made.condition:
            out.print(f"  {escape(_where(was, result))}{escape(was.text)}{_pictures(was.photos)}", soft_wrap=True)
    if not made.teardown:
        return
    out.print("\n[bold]How it came apart[/]\n")
    for n, step in enumerate(made.teardown, 1):
        counts = [f"{m} {word}" for m, word in ((step.fasteners, "screws"), (step.clips, "clips")) if m is not None]
        told = f"  [dim]{escape(step.id)}[/]"
        mark = "☑" if step.back else "☐"
        out.print(
            f"  {n:>3}  {mark} {escape(_where(step, result))}{escape(step.text)}"
            + (f" ({', '.join(counts)})" if counts else "")
            + _pictures(step.photos)
            + told,
            soft_wrap=True,
        )
    out.print("       together again in the reverse order: backwave plan JOB --back ID --count N", soft_wrap=True)


def _where(one: Any, result: Assessment) -> str:
    return f"{result.names.get(one.place, one.place)}: " if one.place else ""


def _pictures(photos: tuple[str, ...]) -> str:
    return f"  [dim]{', '.join(photos)}[/]" if photos else ""


def _shopping(out: Any, made: Working, result: Assessment) -> None:
    out.print("\n[bold]Shopping list[/]\n")
    for group, items in groupby(made.items, key=lambda i: i.group):
        out.print(f"[bold]{escape(group)}[/]")
        for item in items:
            much = amount(item.quantity, item.unit, result.show)
            what, size = goods(group, item.what, item.size, result.show)
            cost = "" if item.price is None else f", {item.price:.2f}"
            mark = "☑" if item.have else "☐"
            out.print(
                f"  {mark} {much}  {escape(what)} {escape(size)}{cost}  [dim]{escape(item.id)}[/]", soft_wrap=True
            )
    if made.total is not None:
        out.print(f"\n  prices entered so far: {made.total:.2f}")
