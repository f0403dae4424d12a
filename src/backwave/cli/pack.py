"""`backwave pack`: the dossier, one PDF and a folder to hand over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output
from backwave.cli.check import heard
from backwave.cli.make import progress
from backwave.cli.plan import day, folder_of, paper_size
from backwave.cli.wire import asked
from backwave.errors import JobError, Problem
from backwave.files.handover import Owner, refuse_foreign
from backwave.files.photos import pictures_in

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.dossier.pack import Packed
    from backwave.job import Job


def run(
    job: output.JobFolder = Path(),
    out: Annotated[Path | None, typer.Option(help="Where to; left out: made/dossier in the job.")] = None,
    paper: Annotated[str, typer.Option(help="A4 or Letter.")] = "A4",
    date: Annotated[str | None, typer.Option(help="The date on every page, 2026-03-14; left out: today.")] = None,
    parts: Annotated[bool, typer.Option("--parts/--no-parts", help="Make the parts that are not made yet.")] = True,
    speakers_off: Annotated[
        bool,
        typer.Option(
            "--speakers-off", help="Ask each line of each gain's gate; what is confirmed is printed with its voltage."
        ),
    ] = False,
    as_json: output.AsJson = False,
) -> None:
    """Typeset the dossier and pack the folder: drawings, 1:1 templates, wiring, lists, parts, customer's page."""
    from backwave.assess import assess
    from backwave.assess.work.log_codec import done_of
    from backwave.job import load, log

    when, paper = day(date), paper_size(paper)
    loaded = load(job)
    written = log.read(folder_of(job))
    done_of(written)  # what cannot be read is told before anything is worked out
    _revisions(written)
    result = heard(loaded, assess(loaded), quiet=as_json)
    if speakers_off and result.wires is not None:
        loaded = replace(loaded, gates=asked(job, result.wires))
    packed, judged = build(loaded, result, folder_of(job), out, paper, when, make_parts=parts)
    if as_json:
        files = {name: str((packed.folder / name).resolve()) for name in packed.files}
        output.document(
            {
                "folder": str(packed.folder.resolve()), "revision": packed.revision, "date": when, "files": files,
                "kept": dict(packed.kept), "left": list(packed.left),
            }
        )  # fmt: skip
    else:
        show(packed)
    raise typer.Exit(1 if judged.verdict == "stop" else 0)


def build(
    job: Job,
    result: Assessment,
    folder: Path,
    out: Path | None = None,
    paper: str = "A4",
    date: str = "",
    *,
    make_parts: bool = True,
) -> tuple[Packed, Assessment]:
    """Pack a job: parts that are missing are made first; says what was packed, and what was found with the solids."""
    from backwave.assess import made_digest, with_comparisons, with_reasons, with_solids
    from backwave.assess.work.log_codec import done_of
    from backwave.assess.work.work_plan import working
    from backwave.dossier.context import PageContext, photographs
    from backwave.dossier.pack import pack
    from backwave.files.manifest import read_kept
    from backwave.job import FILE, log
    from backwave.make import make

    made = folder / "made"
    written = log.read(folder)
    done = done_of(written)
    where = out if out is not None else made / "dossier"
    inside = where.resolve().is_relative_to(made.resolve())
    earlier = None if inside else frozenset(str(row.get("job")) for row in _revisions(written))
    owner = Owner(result.title, job.digest, earlier)
    refuse_foreign(where, owner)  # before anything is worked out
    result = with_reasons(result, written, read_kept(made))

    def entries() -> dict[str, Any]:
        """Parts that were made from these numbers, and whose files are there."""
        kept = read_kept(made)
        same = [p.id for p in result.parts if kept.get(p.id, {}).get("made") == made_digest(p)]
        held = {name: kept[name]["entry"] for name in same}
        return {
            name: entry for name, entry in held.items() if all((made / f).is_file() for f in entry["files"].values())
        }

    there = entries()
    missing = [part.id for part in result.parts if part.id not in there]
    if missing and make_parts:
        output.messages().print(f"making {', '.join(missing)}", soft_wrap=True)
        make(job, result, made, only=missing, paper=paper, watch=progress)
        there = entries()
    kept = read_kept(made)
    judged = with_comparisons(job, with_solids(result, kept))
    revision, row = _revision(written, job.digest, date)
    work = working(job, judged, kept, done, pictures_in(folder), log.torn(folder))
    photos = photographs(work, folder)
    for name, why in photos.lost.items():
        output.messages().print(f"left out: {name}: {why}", soft_wrap=True, markup=False)
    told = PageContext(job, judged, work, revision, date, paper, there, photos)
    toml = (folder / FILE).read_bytes() if (folder / FILE).is_file() else b""

    packed = pack(told, where, toml, made, _progress(), owner)
    if row is not None:
        log.add(folder, lambda _: [("revision", row)])
    return packed, judged


def _progress() -> Callable[[str], None]:
    """Says what is being done: every step on a terminal, what it is a step of elsewhere."""
    out = output.messages()

    def tell(words: str) -> None:
        if out.is_terminal or ":" not in words:
            out.print(f"{words} …", soft_wrap=True, markup=False)

    return tell


def _revision(written: dict[str, Any], digest: str, date: str) -> tuple[str, dict[str, Any] | None]:
    """Which revision this is, and the log's row if it is a new one: a job file that has changed since the last pack."""
    rows = _revisions(written)
    if rows and rows[-1].get("job") == digest:
        return str(rows[-1]["number"]), None
    number = 1 + max((row["number"] for row in rows), default=0)
    return str(number), {"number": number, "job": digest, "date": date}


def _revisions(written: dict[str, Any]) -> list[dict[str, Any]]:
    """The rows [[revision]] of a log; all that is wrong with them at once."""
    from backwave.job import log

    rows = written.get("revision", [])
    if not isinstance(rows, list):
        raise JobError(
            (Problem(log.LOG, None, "revision", repr(rows)[:60], "rows [[revision]]", "not a list of rows"),)
        )
    accepted, message = "number = a whole number, 1 or more", "not the row of a revision"
    problems = []
    for n, row in enumerate(rows):
        number = row.get("number") if isinstance(row, dict) else row
        if not isinstance(row, dict) or not isinstance(number, int) or isinstance(number, bool) or number < 1:
            problems.append(Problem(log.LOG, None, f"revision[{n}]", repr(number)[:60], accepted, message))
    if problems:
        raise JobError(tuple(problems))
    return rows


def show(packed: Packed) -> None:
    """Say where to look."""
    out = output.console()
    words = {
        "dossier.pdf": "the dossier; its last pages are at 1:1",
        "customer.pdf": "a page for who drives it",
        "public/page.pdf": "a page to show others, with nothing private on it",
        "lists/shopping.csv": "what to buy",
        "contents.txt": "every file with its digest",
    }
    out.print(f"\n[bold]Dossier, revision {packed.revision}[/]")
    for name, what in words.items():
        out.print(f"  {output.relative(packed.folder / name)}  {what}", soft_wrap=True)
    out.print(f"  [dim]{len(packed.files)} files in all[/]\n")
    for name, kept in packed.kept.items():
        out.print(f"{name} was not as an earlier pack left it; it is kept as {kept}", soft_wrap=True, markup=False)
    for name in packed.left:
        out.print(f"{name} was changed since it was packed; it stays", soft_wrap=True, markup=False)
