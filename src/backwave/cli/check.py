"""`backwave check` and `why`: every finding, worst first, and the working behind one of them."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backwave.cli import output
from backwave.cli.output import escape
from backwave.errors import InputError
from backwave.finding import CODES, Finding, sentences, value_words
from backwave.notation.measures import in_words
from backwave.report.blocks import Audience, par, small, working

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.next_steps import NextStep
    from backwave.job import Job
    from backwave.plan import Standing

MAX_STEPS, MAX_LINES = 5, 60  # shown without being asked


def run(
    job: output.JobFolder = Path(),
    as_json: output.AsJson = False,
    all_: Annotated[bool, typer.Option("--all", help="Show what is ok and every assumed value as well.")] = False,
    wide: Annotated[bool, typer.Option("--wide", help="Do not fold lines.")] = False,
) -> None:
    """Judge the job: what to do next, then what else is open, with value, limit and remedy."""
    from backwave.assess import check_json
    from backwave.job import load

    loaded = load(job)
    result = _judged(loaded, job)
    tasks = _tasks(loaded, job, result)
    if as_json:
        output.document(check_json(result, tasks))
    else:
        show(result, all_=all_, wide=wide, tasks=tasks)
    raise typer.Exit(1 if result.verdict == "stop" else 0)


def heard(job: Job, result: Assessment, *, quiet: bool = False) -> Assessment:
    """An assessment with what the job's readings say."""
    if not job.file.reading or job.folder is None:
        return result
    from backwave.assess import proven
    from backwave.files.recordings import Takes

    with output.reading_bar(quiet=quiet) as tell:
        return proven(job, result, Takes(job.folder), tell)


def _judged(loaded: Job, job: Path) -> Assessment:
    """A job's assessment, with what `make` measured on its solids and what its readings say."""
    from backwave.assess import assess, with_solids
    from backwave.files.manifest import read_kept

    return with_solids(heard(loaded, assess(loaded)), read_kept((loaded.folder or job) / "made"))


def _tasks(loaded: Job, job: Path, result: Assessment) -> Sequence[Standing]:
    """The plan's tasks and how far they are, by the job's log."""
    from backwave.assess.work.log_codec import done_of_words, words_of
    from backwave.assess.work.work_plan import working
    from backwave.files.manifest import read_kept
    from backwave.job import log

    folder = loaded.folder or job
    return working(loaded, result, read_kept(folder / "made"), done_of_words(words_of(log.read(folder)))).rows


def show(result: Assessment, *, all_: bool, wide: bool = False, tasks: Sequence[Standing] = ()) -> None:
    """Print an assessment for a person: what to do next, what else is open, how much is ok."""
    from backwave.assess.next_steps import tally

    system, names = result.show, result.names
    head = (
        f"\n[bold]{escape(result.title)}[/]   {output.verdict_word(result.verdict)}   {escape(tally(result.groups))}\n"
    )
    steps = result.next_steps(tasks)
    shown = steps if all_ else steps[:MAX_STEPS]
    lines = head.split("\n")
    if shown:
        lines.append("[bold]Next[/]" + (f" ({len(shown)} of {len(steps)})" if len(shown) < len(steps) else ""))
    lines += [line for number, step in enumerate(shown, 1) for line in _step(number, step, system, names, wide)]
    above = set() if all_ else {id_ for step in shown for id_ in step.settles}
    told = [g for g in result.groups if all_ or (g.is_open and not above.issuperset(g.ids))]
    foot = _foot(result, all_, wide)
    if told:
        lines += ["", f"[bold]{'Every check' if all_ else 'Also open' if shown else 'Open issues'}[/]"]
        each = [output.finding_lines(group, system, names, wide=wide) for group in told]
        rests = [
            output.said(f"{len(told) - n} more, see --all: {output.unbroken(i for g in told[n:] for i in g.ids)}", wide=wide)
            for n in range(len(told))
        ]  # fmt: skip
        blocks = sum(g.check.verdict == "stop" for g in told)  # these are never folded
        room = MAX_LINES - len(lines) - len(foot)
        fits = (n for n in range(len(told), blocks, -1) if sum(map(len, each[:n])) + len((*rests, [])[n]) <= room)
        most = len(told) if all_ or wide else next(fits, blocks)
        lines += [line for one in each[:most] for line in one] + [*rests, []][most]
    output.put([*lines, *foot])


def _step(number: int, step: NextStep, system: str, names: dict[str, str], wide: bool) -> list[str]:
    whose = f"{step.name}: " if step.name else ""
    head = f"{number}. {whose}{output.fill(step.do, system)}"
    own = output.unbroken(step.settles[: len(step.settles) - step.waiting])
    runs = f" + {step.machine_min:.0f} min printing" if step.machine_min else ""
    facts = [f"{step.minutes:.0f} min{runs}", step.command.replace(" ", output.GLUE), own]
    facts += [f"{step.waiting} waiting"] if step.waiting else []
    return [
        *output.said(head, names.values(), "", "   ", "bold", wide),
        *output.said(f"Why: {step.said(system)}", names.values(), "   ", "   ", wide=wide),
        *output.said(" · ".join(filter(None, facts)), (), "   ", "   ", "dim", wide),
    ]


def _foot(result: Assessment, all_: bool, wide: bool) -> list[str]:
    """What can hurt, by name or with --all in full; what was assumed; where to read on."""
    system, lines = result.show, list[str]()
    if result.cautions:
        lines += ["", "[bold]Before anything is taken apart or drilled[/]"]
        named = "; ".join(dict.fromkeys(CODES[c.check.code] for c in result.cautions))
        said = [sentences(c.check, system) for c in result.cautions] if all_ else [f"{named} (what to do: --all)"]
        lines += [line for one in said for line in output.said(f"▲ {one}", (), "  ", "    ", wide=wide)]
        lines += output.said("The vehicle maker's service information goes before all of this.", (), "  ", wide=wide)
    if not all_:
        return [
            *lines,
            f"[dim]Working: backwave why JOB ID; what waits, is ok, or assumed ({len(result.assumed)}): --all[/]",
        ]
    if result.assumed:
        lines += ["", "[bold]Assumed, because not entered[/]"]
    for item in result.assumed:
        value, why = value_words(item, system), in_words(item.why, system)
        lines += output.said(f"{item.key} = {value}  ({why})", (), "  ", "    ", wide=wide)
    return [*lines, ""]


def why(
    job: Annotated[Path, typer.Argument(help="The job folder.")],
    name: Annotated[str, typer.Argument(metavar="ID", help="A finding's id, or its beginning, as check prints it.")],
    as_json: output.AsJson = False,
) -> None:
    """Show the working behind one finding: the formula, the numbers that went in, and where each is from."""
    from backwave.assess import finding_json
    from backwave.job import load

    result = _judged(load(job), job)
    found = _pick(result.findings, name)
    if as_json:
        output.document([finding_json(f) for f in found] if len(found) > 1 else finding_json(found[0]))
        return
    told, out = Audience(result.show, result.names), output.console()
    for finding in found:
        check = finding.check
        out.print(f"\n{output.verdict_word(check.verdict)}  [bold]{escape(told.name(finding.subject))}[/]")
        answered = [small(f"Answered in job.toml at {check.key}")] if check.key else []
        output.blocks([par(told.say(check.title)), *working(told, check), *answered])


def _pick(findings: tuple[Finding, ...], name: str) -> list[Finding]:
    """The finding of that id, or all whose id begins so."""
    exactly = [f for f in findings if f.id == name]
    found = exactly or [f for f in findings if f.id.startswith(name)]
    if not found:
        ids = [f.id for f in findings]
        near = ", ".join(difflib.get_close_matches(name, ids, n=4, cutoff=0.3) or ids[:4])
        raise InputError("no finding of that id", name, f"an id that `backwave check` prints, such as {near}")
    return found
