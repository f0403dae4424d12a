"""`backwave plan`: the checklist, the teardown and the shopping list; all that is said of them is kept in log.toml."""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.atomic_write import write_whole
from backwave.cli import output
from backwave.errors import InputError
from backwave.files.photos import pictures_in
from backwave.plain_text import csv_bytes
from backwave.plan import Word
from backwave.report.blocks import Audience, sub

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.work.work_plan import Working

AT = "cli"


def run(
    job: output.JobFolder = Path(),
    tick: Annotated[list[str] | None, typer.Option(help="This task is done; may be given several times.")] = None,
    minutes: Annotated[float | None, typer.Option(help="How long the ticked task took.")] = None,
    confirm: Annotated[
        list[str] | None, typer.Option(help="All that has to be so before this task begins is so.")
    ] = None,
    consent: Annotated[
        str | None, typer.Option(metavar="WHO", help="This person consents to drilling; with --text.")
    ] = None,
    text: Annotated[str, typer.Option(help="What is consented to.")] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take back what was said here last.")] = False,
    by: Annotated[str, typer.Option(help="Who says all this.")] = "",
    csv: Annotated[Path | None, typer.Option(help="Also the shopping list as a CSV file.")] = None,
    paper: Annotated[str | None, typer.Option(help="Also a PDF of the lists: A4 or Letter.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Who does what in which order, how it was taken apart, what has to be bought; all else is entered on the page Work."""
    from backwave.assess import assess, with_reasons
    from backwave.assess.work.log_codec import added, done_of_words, words_of
    from backwave.assess.work.work_plan import shopping_table, working, working_json
    from backwave.files.manifest import read_kept
    from backwave.job import load, log

    if minutes is not None and not tick:
        raise InputError("--minutes without its task", minutes, "--tick with it")
    folder, loaded = folder_of(job), load(job)
    kept = read_kept(folder / "made")
    told, torn = words_of(log.read(folder)), log.torn(folder)
    # no task follows from the last digit of a chance
    result = with_reasons(assess(loaded, draws=2_000), log.read(folder), kept)

    def work(words: tuple[Word, ...]) -> Working:
        return working(loaded, result, kept, done_of_words(words), pictures_in(folder), torn)

    entries = LogEntries(told, work, by)
    if undo:
        entries.undo()
    if consent is not None:
        if not text.strip():
            raise InputError("consent without what it is to", consent, "--text 'four holes in each door skin'")
        entries.say("consent", f"{AT}-{secrets.token_hex(4)}", {"given": True, "who": consent, "text": text})
    for name in confirm or []:
        for gate in entries.row(entries.task(name)).unconfirmed:
            entries.say("gate", name, {"done": True}, gate)
    for name in tick or []:
        entries.say("tick", entries.free(name), {"done": True, "minutes": minutes})
    made = entries.made
    if entries.new:
        log.add(folder, lambda held: added(held.sections, entries.new))
    if csv is not None:
        output.written(write_whole(csv, csv_bytes(shopping_table(made.items))))
    if paper is not None:
        from backwave.dossier.context import PageContext
        from backwave.dossier.pages import lists_pdf

        page = PageContext(loaded, result, made, paper=paper_size(paper), date=day(None))
        output.written(write_whole(folder / "made" / "lists.pdf", lists_pdf(page)))
    if as_json:
        output.document(working_json(made))
    else:
        show(made, result)


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


def paper_size(paper: str) -> str:
    """A size of paper that there are pages for."""
    if paper not in ("A4", "Letter"):
        raise InputError("paper", paper, "A4 or Letter")
    return paper


class LogEntries:
    """What was said at the command line, as words for the log: each over all that is known by then. `work` gives the
    working that follows from words; `words` is what the log says so far."""

    def __init__(self, words: tuple[Word, ...], work: Callable[[tuple[Word, ...]], Working], by: str) -> None:
        self.words, self.work, self.by = words, work, by
        self.made = work(words)
        self.new: list[Word] = []

    def say(self, kind: str, id_: str, fields: Mapping[str, Any], part: str = "") -> None:
        """One more word; what follows from it is worked out, and refuses it where it cannot be."""
        from backwave.assess.work.log_codec import judged, rows_of, spoken

        now = datetime.datetime.now().astimezone().isoformat(timespec="milliseconds")
        told = {name: value for name, value in fields.items() if value is not None}
        word = spoken(self.words, (kind, id_, part), told, f"{AT}-{secrets.token_hex(6)}", now, self.by)
        self.made = self.work((*self.words, word))
        _, why = judged({"kind": kind, **rows_of(word)})
        if why:
            raise InputError(f"nothing was kept of {kind} {id_!r}: {why}")
        self.words = (*self.words, word)
        self.new.append(word)

    def task(self, name: str) -> str:
        """A task's id, if there is such a task; the nearest ones are told where there is none."""
        names = [row.task.id for row in self.made.rows]
        if name not in names:
            near = ", ".join(get_close_matches(name, names, 3, 0.5))
            raise InputError("no such task", name, near or f"an id that `backwave plan` shows ({len(names)} of them)")
        return name

    def row(self, name: str) -> Any:
        """How far a task is."""
        return next(row for row in self.made.rows if row.task.id == name)

    def free(self, name: str) -> str:
        """A task's id, if nothing has to come before it."""
        row = self.row(self.task(name))
        if row.waits:
            raise InputError(f"{name} waits for others", ", ".join(row.waits), "these ticked first")
        if row.consent:
            consent = "--consent WHO --text 'what may be drilled'"
            raise InputError(f"{name} drills, and nobody has consented yet", "", consent)
        if row.unconfirmed:
            open_ = "; ".join(row.unconfirmed)
            raise InputError(f"before {name} this has to be so", open_, f"--confirm {name}, when it is")
        return name

    def undo(self) -> None:
        """Take back the last word spoken here."""
        from backwave.assess.work.log_codec import undone

        word = undone(self.words, AT)
        if word is None:
            raise InputError("nothing to take back", "", "something said here before")
        self.say("back", word.key, {"done": True})


def show(made: Working, result: Assessment) -> None:
    """Print the checklist with how far each task is, teardown, shopping list, what is odd."""
    from backwave.report import work as report

    out, told = output.console(), Audience(result.show, result.names)
    done = sum(row.done for row in made.rows)
    out.print(f"\n[bold]Checklist[/]   {done} of {len(made.rows)} done")
    photos = {path: path for path in made.pictures}
    output.blocks([*report.today(made), *report.checklist(made), *report.teardown(told, made, photos, {})])
    output.blocks([sub("Shopping list"), *report.shopping(told, made)])
    if any(f.check.verdict != "ok" for f in made.findings):
        out.print("\n[bold]What is odd[/]\n")
        output.findings(made.findings, result.show, result.names)
    out.print(
        "\n[dim]Done: backwave plan JOB --tick ID --minutes 25; on the phone: backwave open JOB, place Work; on paper: "
        "--paper A4[/]\n",
        soft_wrap=True,
    )
