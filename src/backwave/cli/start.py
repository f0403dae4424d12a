"""`backwave` alone says what to do next; `new`, `open`, `help`, `schema`, `shelf`: a job begun, its workbench, what its keys mean,
what earlier jobs left."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output, process
from backwave.errors import InputError, JobError, MissingError

if TYPE_CHECKING:
    from backwave.job.shelf import Shelved

_FILE = "job.toml"  # `backwave.job.FILE`, which takes half a second to load
MAX_LISTED = 20  # jobs of a folder, and keys of one name

_BEGIN = """\
backwave fits better loudspeakers into vehicles. No job in this folder yet:

  backwave open          six readings in the browser: a job in this folder
  backwave new my-van    a folder with a file to fill in, for a text editor
  backwave demo          an invented job, to look at first

At the vehicle, before the trim comes off: disconnect the battery and wait as
long as the vehicle maker's service information says.

All commands: backwave --help. What a key means: backwave help KEY
"""


def here() -> typer.Exit:
    """What to do next in this folder: start a job, choose one of several, or the next step of the one there is."""
    job, jobs = _nearest(Path.cwd())
    if job is None and not jobs:
        print(_BEGIN, end="")
        return typer.Exit()
    out = output.console()
    if job is None and len(jobs) > 1:
        out.print(f"{len(jobs)} jobs in this folder. Choose one:\n")
        output.put_table(("", ""), [(f"  backwave check {one.name}", _title(one)) for one in jobs[:MAX_LISTED]], ())
        return typer.Exit()
    return _next(job or jobs[0])


def _nearest(folder: Path) -> tuple[Path | None, list[Path]]:
    """The job that a folder is, or lies in (in its made/ or photos/); else the jobs right below it."""
    for one in (folder, *folder.parents[:2]):
        if (one / _FILE).is_file():
            return one, []
    with suppress(OSError):  # a folder that may not be read has none to choose
        return None, sorted(one for one in folder.iterdir() if one.name[0] != "." and (one / _FILE).is_file())
    return None, []


def _title(folder: Path) -> str:
    import tomllib

    try:
        return str(tomllib.loads((folder / _FILE).read_text(encoding="utf-8")).get("title", ""))
    except (OSError, ValueError):
        return "cannot be read: check says why"


def _next(folder: Path) -> typer.Exit:
    """The verdict of a job in a line, the first next step, the command."""
    from backwave.assess import assess
    from backwave.assess.next_steps import tally
    from backwave.job import load

    out, at = output.console(), "" if folder == Path.cwd() else f" {output.relative(folder)}"
    try:
        result = assess(load(folder))
    except JobError as error:
        out.print(
            f"{_FILE} is not right yet, {len(error.problems)} in all. The first:\n{escape(str(error.problems[0]))}\n"
        )
        out.print(
            f"  backwave check{at}   [dim]all of them[/]\n  backwave open{at}    [dim]the file in the browser, to put it right[/]"
        )
        return typer.Exit(error.exit_code)
    out.print(f"[bold]{escape(result.title)}[/]   {output.verdict_word(result.verdict)}   {tally(result.groups)}\n")
    found = result.next_steps()
    for step in found[:1]:
        output.put(output.said(f"Next: {step.name}: {output.fill(step.do, result.show)}", result.names.values()))
        output.put([*output.said(f"Why: {step.said(result.show)}", result.names.values(), "  "), ""])
    steps = (
        {"check": "all of it, what settles most first"}
        if found
        else {"make": "the parts", "plan": "who does what when"}
    )
    for command, does in {**steps, "open": "the same in the browser"}.items():
        out.print(f"  backwave {command + at}   [dim]{does}[/]")
    return output.verdict_exit(f.check for f in result.findings)


def help_(
    name: Annotated[str, typer.Argument(metavar="KEY", help="A key, a finding's code or a word of the trade.")] = "",
    as_json: output.AsJson = False,
) -> None:
    """What a key of job.toml, a finding or a word means: unit, bounds, what is taken where it is left out, an example."""
    from backwave.job import key_help

    found, near = key_help.look_up(name)
    if not found:
        known = ", ".join(near) or "a key of job.toml, a finding's code, a word; every key: backwave schema"
        raise InputError("nothing goes by that name", name, known)
    if as_json:
        output.document([asdict(one) for one in found])
        return
    out = output.console()
    for one in found[:MAX_LISTED]:
        out.print(f"\n[bold]{escape(one.name)}[/]  [dim]{'' if one.kind == 'key' else one.kind}[/]")
        rows = {
            "": one.meaning, "may be": "" if one.keys else one.accepted, "left out": one.default and f"{one.default}: {one.ground}".removesuffix(": "),
            "holds": ", ".join(one.keys), "note": "" if one.used else "nothing computes with it yet",
        }  # fmt: skip
        output.put_table(("", ""), [("  " + k, v) for k, v in rows.items() if v], ())
        if one.example:
            out.print(f"  such as  {escape(one.example)}", soft_wrap=True)  # whole, to be copied
    out.print()


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make.")],
    title: Annotated[str, typer.Option(help="What the job is called.")] = "",
    hole: Annotated[str, typer.Option(help='Diameter of the hole in the metal, such as "143.5 mm".')] = "",
    behind: Annotated[str, typer.Option(help="Free depth behind the metal, to the glass with the window down.")] = "",
    trim: Annotated[str, typer.Option(help="Metal to the back of the grille.")] = "",
    cutout: Annotated[str, typer.Option(help="The driver: diameter of the cutout it asks for.")] = "",
    magnet: Annotated[str, typer.Option(help="The driver: diameter of its magnet.")] = "",
    depth: Annotated[str, typer.Option(help="The driver: mounting depth, rim to the back of the magnet.")] = "",
) -> None:
    """Start a job: six readings give a first verdict; everything else has a stated default."""
    from backwave.job import starter

    path = starter.write(
        folder, title=title, hole=hole, behind=behind, trim=trim, cutout=cutout, magnet=magnet, depth=depth
    )
    out = output.messages()
    out.print(f"Wrote {output.relative(path)}. Open it in any text editor: each line says what it is.")
    out.print(f"Then: backwave check {output.relative(path.parent)}")


def open_(
    job: Annotated[Path, typer.Argument(help="The job folder; an empty one starts a new job.")] = Path(),
    port: Annotated[int, typer.Option(min=0, max=65535, help="Where it listens; 0 takes a free one.")] = 8137,
    lan: Annotated[bool, typer.Option("--lan", help="Open to the local network too, with a one-time key.")] = False,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
    tls: Annotated[
        tuple[Path, Path] | None,
        typer.Option(metavar="CERT KEY", help="Encrypt what is sent, by your certificate and its key (PEM)."),
    ] = None,
) -> None:
    """Open the workbench in the browser; it listens on this machine alone unless told otherwise."""
    from backwave.bench import serve
    from backwave.job import FILE

    folder = job.parent if job.name == FILE else job
    if not folder.is_dir():
        raise MissingError(f"There is no folder {folder}", "Make one, or write a job into it with: backwave new")
    process.give_back()  # the workbench saves what waits, and then ends by itself
    serve(folder, port=port, lan=lan, show=show, lists=_lists, tls=tls)


def _lists(job: Any, result: Any, made: Any, paper: str) -> bytes:
    """The lists of the place Work on paper, as of today."""
    from backwave.cli.plan import day
    from backwave.dossier.context import PageContext
    from backwave.dossier.pages import lists_pdf

    return lists_pdf(PageContext(job, result, made, date=day(None), paper=paper))


def schema() -> None:
    """The JSON Schema of job.toml, for an editor that checks as you type."""
    from backwave.job import schema as schemas

    print(json.dumps(schemas.json_schema(), indent=2, ensure_ascii=False))


_FORMS = {
    "list": "backwave shelf",
    "save": "backwave shelf save JOB opening ID --who NAME, or speaker ID",
    "take": "backwave shelf take JOB NAME, or the path of a file",
}


def shelf_(
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
        output.put_table(heads, rows, ())
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
