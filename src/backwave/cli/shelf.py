"""`backwave shelf`: openings and drivers measured on earlier jobs, kept and taken again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.errors import InputError, JobError

if TYPE_CHECKING:
    from backwave.job.shelf import Shelved

_FORMS = {
    "list": "backwave shelf",
    "save": "backwave shelf save JOB opening ID --who NAME, or speaker ID",
    "take": "backwave shelf take JOB NAME, or the path of a file",
}


def run(
    action: Annotated[str, typer.Argument(metavar="[list|save|take]", help="What to do.")] = "list",
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[JOB ...]", help="save: JOB opening|speaker ID.  take: JOB and a name or a file."),
    ] = None,
    who: Annotated[str, typer.Option(help="save: who measured it.")] = "",
    note: Annotated[str, typer.Option(help="save: what else there is to output.")] = "",
    shelf: Annotated[Path | None, typer.Option(help="The shelf's folder; else $BACKWAVE_SHELF, else yours.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Your own shelf of openings, by vehicle, and drivers: list it, save to it, take from it into a job."""
    given = words or []
    if action not in _FORMS or len(given) != {"list": 0, "save": 3, "take": 2}[action]:
        raise InputError("not a use of the shelf", " ".join((action, *given)), "; ".join(_FORMS.values()))
    if action == "list":
        _list(shelf, as_json=as_json)
    elif action == "save":
        _save(given, who, note, shelf, as_json=as_json)
    else:
        _take(given, shelf, as_json=as_json)


def _list(shelf: Path | None, *, as_json: bool) -> None:
    from backwave.job.shelf import folder, listing

    where = shelf or folder()
    if where.exists() and not where.is_dir():
        raise InputError("the shelf", output.relative(where), "a folder")
    held, out = listing(shelf), output.console()
    if as_json:
        problems = [str(p) for p in held.problems]
        output.document({"shelf": str(where), "entries": [_entry(e) for e in held.entries], "problems": problems})
        return
    if held.entries:
        heads = ("", "vehicle", "name", "who", "when", "note")
        rows = [("driver" if e.kind == "speaker" else e.kind, e.vehicle, e.path.stem, e.who, e.when, e.note)
                for e in held.entries]  # fmt: skip
        out.print(output.table(heads, [map(escape, row) for row in rows], right=()))
    else:
        out.print(f"Nothing on the shelf yet ({escape(str(where))}). Save to it: {_FORMS['save']}")
    for problem in held.problems:
        output.messages().print(f"Not readable: {escape(str(problem))}")


def _save(given: list[str], who: str, note: str, shelf: Path | None, *, as_json: bool) -> None:
    from backwave.job import load
    from backwave.job.shelf import save

    job, kind, id_ = given
    kinds = {"opening": "opening", "speaker": "speaker", "driver": "speaker"}
    if kind not in kinds:
        raise InputError("not kept on the shelf", kind, "opening or speaker")
    path = save(load(Path(job)), kinds[kind], id_, who, note, shelf=shelf)
    if as_json:
        output.document({"file": str(path.resolve())})
    else:
        output.messages().print(f"Kept: {output.relative(path)}. The file can be handed over as it is.")


def _take(given: list[str], shelf: Path | None, *, as_json: bool) -> None:
    from backwave.job.session import Session
    from backwave.job.shelf import find, read, take

    session = Session(Path(given[0]))
    entry = read(find(given[1], shelf))
    taken = take(entry, session.job)
    if problems := session.set_many(taken.changes, label=taken.label):
        raise JobError(problems)
    session.flush()
    if not session.saved:
        raise InputError("the job was edited elsewhere at this moment", given[0], "the same command once more")
    if as_json:
        output.document({"kind": entry.kind, "id": taken.id, "from": _entry(entry), "measure_again": list(taken.again)})
        return
    out = output.messages()
    out.print(f"In the job as [[{entry.kind}]] {taken.id}. Measure again on this vehicle:", markup=False)
    for line in taken.again:
        out.print(f"  • {line}", markup=False)


def _entry(entry: Shelved) -> dict[str, Any]:
    told = {key: getattr(entry, key) for key in ("kind", "id", "name", "vehicle", "who", "when", "note", "with_mm")}
    return {"file": str(entry.path.resolve()), **told}
