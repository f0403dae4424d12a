"""`backwave plan`: the checklist, the teardown and the shopping list; all that is said of them is kept in log.toml."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from backwave.cli import output
from backwave.errors import InputError

Names = list[str] | None
Paths = list[Path] | None


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    tick: Annotated[Names, typer.Option(help="This task is done; may be given several times.")] = None,
    untick: Annotated[Names, typer.Option(help="This task is not done after all.")] = None,
    confirm: Annotated[Names, typer.Option(help="All that has to be so before this task begins is so.")] = None,
    start: Annotated[str | None, typer.Option(help="Work on this task begins now.")] = None,
    stop: Annotated[str | None, typer.Option(help="Work on this task ends now.")] = None,
    minutes: Annotated[float | None, typer.Option(help="How long the ticked task took, or takes.")] = None,
    add: Annotated[str | None, typer.Option(help="A task of your own, in words.")] = None,
    change: Annotated[str | None, typer.Option(help="Change this task: --title, --who, --minutes, --after.")] = None,
    title: Annotated[str | None, typer.Option(help="New words for the changed task.")] = None,
    who: Annotated[str | None, typer.Option(help="Who does the added or changed task.")] = None,
    after: Annotated[Names, typer.Option(help="What comes before the added or changed task.")] = None,
    drop: Annotated[Names, typer.Option(help="Leave this task out.")] = None,
    consent: Annotated[str | None, typer.Option(metavar="WHO", help="This person consents to drilling; with --text.")] = None,
    text: Annotated[str, typer.Option(help="What is consented to.")] = "",
    before: Annotated[str | None, typer.Option(help="How something was before the work; with --place, --photo.")] = None,
    note: Annotated[str | None, typer.Option(help="How something came apart: the next step of the teardown.")] = None,
    place: Annotated[str, typer.Option(help="Where: front-door.left")] = "",
    count: Annotated[int | None, typer.Option(help="Screws, bolts and nuts that came out, or went back.")] = None,
    clips: Annotated[int | None, typer.Option(help="Clips that came out, or went back.")] = None,
    photo: Annotated[Paths, typer.Option(help="A picture of it; may be given several times.")] = None,
    back: Annotated[str | None, typer.Option(metavar="STEP", help="This step of the teardown is together again.")] = None,
    have: Annotated[Names, typer.Option(help="This row of the shopping list is there already.")] = None,
    need: Annotated[Names, typer.Option(help="This row is not there after all.")] = None,
    price: Annotated[Names, typer.Option(help="What a row costs: ID=3.50")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Take back what was said here last.")] = False,
    redo: Annotated[bool, typer.Option("--redo", help="Say again what was taken back.")] = False,
    by: Annotated[str, typer.Option(help="Who says all this.")] = "",
    csv: Annotated[Path | None, typer.Option(help="Also the shopping list as a CSV file.")] = None,
    paper: Annotated[str | None, typer.Option(help="Also a PDF of the lists: A4 or Letter.")] = None,
    date: Annotated[str | None, typer.Option(help="The date on the paper, 2026-03-14; left out: today.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
) -> None:  # fmt: skip
    """Who does what in which order, how it came apart, what has to be bought; nothing is scheduled to the hour yet."""
    from backwave.assess import assess, with_reasons
    from backwave.assess.work.log_codec import added, done_of_words, words_of
    from backwave.assess.work.log_codec import price as read_price
    from backwave.assess.work.work_plan import shopping_table, working, working_json
    from backwave.atomic_write import write_whole
    from backwave.cli.plan_show import show
    from backwave.cli.plan_words import Spokesperson
    from backwave.files.manifest import read_kept
    from backwave.files.photos import pictures_in
    from backwave.job import load, log
    from backwave.plain_text import csv_bytes

    beside = [name for name, said in (("--photo", photo), ("--place", place)) if said]
    if beside and before is None and note is None:
        raise InputError(f"{' and '.join(beside)} without what it shows", "", "--note TEXT or --before TEXT with it")
    if minutes is not None and not tick and add is None and change is None:
        raise InputError("--minutes without its task", minutes, "--tick, --add or --change with it")
    folder = folder_of(job)
    loaded = load(job)
    kept = read_kept(folder / "made")
    told, torn = words_of(log.read(folder)), log.torn(folder)
    result = with_reasons(
        assess(loaded, draws=2_000), log.read(folder), kept
    )  # no task follows from the last digit of a chance

    def work(words: Any) -> Any:
        return working(loaded, result, kept, done_of_words(words), pictures_in(folder), torn)

    one = Spokesperson(told, work, by)
    if undo or redo:
        one.back(redo)
    if consent is not None:
        if not text.strip():
            raise InputError("consent without what it is to", consent, "--text 'four holes in each door skin'")
        one.consent(consent, text)
    for name in confirm or []:
        one.confirm(name)
    if stop is not None:
        one.stop(stop)
    took = minutes if add is None and change is None else None  # the time is then the other's
    for name in tick or []:
        one.tick(name, took)
    for name in untick or []:
        one.say("tick", one.task(name), {"done": False})
    if start is not None:
        one.start(start)
    for name in drop or []:
        one.say("task", one.task(name), {"drop": True})
    fields = {"who": who, "minutes": minutes, "after": None if after is None else tuple(map(one.task, after))}
    if add is not None:
        one.say("task", _free(add, [row.task.id for row in one.made.rows]), {"title": add, **fields})
    if change is not None:
        one.say("task", one.task(change), {"title": title, **fields})
    for name in have or []:
        one.item(name, {"have": True})
    for name in need or []:
        one.item(name, {"have": False})
    for row in price or []:
        name, sign, amount = row.partition("=")
        if not sign:
            raise InputError("a price without its row", row, "ID=3.50")
        one.item(name, {"price": read_price(amount)})
    if back is not None:
        one.refit(back, count, clips)
    if before is not None:
        one.note(before, "condition", place, (None, None), photo or [], folder)
    if note is not None:
        one.note(note, "", place, (count, clips), photo or [], folder)
    if one.new:
        log.add(folder, lambda held: added(held.sections, one.new))
    if csv is not None:
        write_whole(csv, csv_bytes(shopping_table(one.made.items)))
        output.messages().print(output.relative(csv), soft_wrap=True)
    if paper is not None:
        _paper(loaded, result, one.made, paper, date, folder)
    if as_json:
        output.document(working_json(one.made))
    else:
        show(one.made, result)


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


def _free(title: str, known: list[str]) -> str:
    stem = "own-" + ("-".join("".join(c if c.isalnum() else " " for c in title.lower()).split()[:4]) or "task")
    names = (stem if n == 1 else f"{stem}-{n}" for n in range(1, len(known) + 2))
    return next(name for name in names if name not in known)


def _paper(loaded: Any, result: Any, made: Any, paper: str, date: str | None, folder: Path) -> None:
    from backwave.atomic_write import write_whole
    from backwave.dossier.context import PageContext
    from backwave.dossier.work import lists_pdf

    if paper not in ("A4", "Letter"):
        raise InputError("paper", paper, "A4 or Letter")
    told = PageContext(loaded, result, made, date=day(date), paper=paper)
    path = write_whole(folder / "made" / "lists.pdf", lists_pdf(told))
    output.messages().print(output.relative(path), soft_wrap=True)
