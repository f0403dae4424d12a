"""`backwave wire`: supply, gains, harness, the factory's wires; `backwave pair`: the guided record of a pair, behind its gate.

A gate is asked line by line; what is said stands in the job's log with its date."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.markup import escape

from backwave.cli import output
from backwave.errors import InputError, JobError, MissingError
from backwave.finding import Finding
from backwave.notation.wires import GATES, OF_THE_VEHICLE, PAIR_GATE
from backwave.report.blocks import Audience, boxes, par, sub

if TYPE_CHECKING:
    from backwave.assess import Assessment, Wires
    from backwave.job import Job, Session
    from backwave.job.gates import Gates
    from backwave.job.undo import Put


def run(
    job: output.JobFolder = Path(),
    confirmed: Annotated[
        bool, typer.Option("--speakers-off", help="Ask each line of each gain's gate, then show its voltage.")
    ] = False,
    lists: Annotated[
        bool, typer.Option("--lists", help="Every wire, what to cut, and the labels, instead of the rest.")
    ] = False,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="DIR", help="Write the drawings there as SVG.")] = None,
    as_json: output.AsJson = False,
) -> None:
    """Supply, cables, fuses, grounds and gains; the harness, its plugs and lists; what was found of the factory's wires."""
    from backwave.assess import assess, wires_json
    from backwave.assess.inputs.factory import factory_json
    from backwave.assess.power.results import harness_json
    from backwave.job import load

    read = load(job)
    result = assess(read, draws=2_000)
    made, harness, factory = result.wires, result.harness, result.factory
    if made is None and harness is None and factory is None:
        raise MissingError(
            "Nothing in this job draws current, and no path leads to a speaker",
            "Add a [[load]] for each amplifier, [supply], and a [[stage]] with its paths; docs/wires.md shows how",
        )
    if as_json:
        wired = None if harness is None else harness_json(harness)
        output.document(wires_json(made, wired, None if factory is None else factory_json(factory), read.gates))
    elif lists:
        if harness is None:
            raise MissingError("There is no harness to list", "A [[stage]] with its paths; docs/wires.md shows how")
        from backwave.report import wires as report

        told = Audience(result.show, result.names)
        output.blocks([*report.schedule(told, harness), *report.cuts(told, harness), *report.labels_of(harness)])
    else:
        show(result, read, asked(job, made) if confirmed and made is not None else read.gates)
    if plot is not None:
        output.written(*drawings(result, plot))
    found = [*(() if made is None else made.findings), *(() if factory is None else factory.findings)]
    found += [] if harness is None or not harness.begun else harness.findings
    raise output.verdict_exit(f.check for f in found)


def drawings(result: Assessment, folder: Path) -> list[Path]:
    """Write the drawings as SVG, and say which."""
    from backwave.drawing.harness import harness_svg
    from backwave.drawing.wiring import faces_svg, supply_svg

    made: dict[str, str] = {}
    if result.wires is not None:
        made["supply"] = supply_svg(result.wires, result.title, "paper", system=result.show)
    if result.harness is not None:
        made["harness"] = harness_svg(result.harness, result.title, "paper")
        if result.harness.plugs:
            made["plugs"] = faces_svg(result.harness.plugs, "Factory plugs that are kept", "paper")
    return output.save_svgs(folder, made)


def asked(job: Path, made: Wires) -> Gates:
    """Ask each line of each gain's gate; what is confirmed by then."""
    from backwave.job import Session

    session = Session(job)
    for one in made.channels:
        if one.target.test_tone_v is not None:
            output.console().print(f"\n{one.id}, before its voltage is shown:", markup=False)
            try:
                ask(session, "gain", one.id, one.about)
            except typer.Abort as error:
                output.messages().print("\nWhat was confirmed until then is written; the rest is not.", markup=False)
                if isinstance(error.__context__, KeyboardInterrupt):
                    raise
                raise typer.Exit(2) from None
    return session.job.gates


def show(made: Assessment, job: Job, gates: Gates) -> None:
    """Print supply, factory wires and harness for a person, what can hurt first, each with what was found of it."""
    from backwave.report import wires as report

    out, told = output.console(), Audience(made.show, made.names)
    out.print(f"\n[bold]{escape(made.title)}[/]   supply and wires\n")
    if made.wires is not None:
        output.blocks(report.dangers(told, made.wires))
        output.blocks([*report.supply(told, job, made.wires), *report.gains(told, made.wires, gates)])
        _findings(made.wires.findings, made)
    if made.factory is not None:
        gate = [boxes(list(PAIR_GATE.values()))] if made.factory.pairs else []
        before = "Factory wires: an airbag's igniter reads just like a speaker; before each pair"
        output.blocks([sub(before), *gate, *report.factory(told, made.factory)])
        _findings(made.factory.findings, made)
    if (harness := made.harness) is not None:
        lists = f"{len(harness.schedule)} wires; --lists prints them, --plot draws them"
        output.blocks(
            [sub("Harness of the last stage"), par(lists), *report.runs(told, harness), *report.plugs(harness)]
        )
        _findings(harness.findings if harness.begun else (), made)
    out.print()


def _findings(found: tuple[Finding, ...], result: Assessment) -> None:
    if any(f.check.verdict != "ok" for f in found):
        output.console().print()
        output.findings(found, result.show, result.names)


def pair(
    job: output.JobFolder = Path(),
    pair: Annotated[
        str, typer.Argument(metavar="PAIR", help="Which [[pair]] or [[factory_output]]; left out: all are listed.")
    ] = "",
) -> None:
    """Find a factory pair, or read a factory output: each line of its gate is asked for, then what may be read."""
    from backwave.job import Session
    from backwave.job.gates import READINGS, TABLES_OF, about, rows

    session = Session(job)  # the answers go into the job as it is read here, or not at all
    guarded = {row.id: (gate, row) for gate, row in rows(session.job.file)}
    if not pair:
        _show_pairs(job)
        raise typer.Exit(0)
    if pair not in guarded:
        known = ", ".join(guarded) or "none yet; add [[pair]] with its id, opening, side, colors and ends_at"
        raise InputError("no pair or factory output of that id", pair, known)
    gate, row = guarded[pair]
    out = output.console()
    danger = (
        "an airbag's igniter reads just like a speaker" if gate == "pair" else "its wires are live while they are read"
    )
    out.print(f"{pair}: {danger}. The vehicle maker's service information comes first.\n", markup=False, soft_wrap=True)
    what = about(gate, row)
    if not ask(session, gate, pair, what):
        out.print("\nNothing may be read here yet. Put the meter away.", markup=False)
    else:
        try:
            if unvouched := session.job.gates.unvouched(gate, row):
                held = {key: getattr(row, key) for key in READINGS[gate] if getattr(row, key) not in (None, ())}
                stands = ", ".join(f"{key} {getattr(value, 'text', value)}" for key, value in held.items())
                if typer.confirm(f"In the job stands: {stands}. Was it read with all of this so?", default=False):
                    session.confirm(gate, pair, what, {}, unvouched)
            found = _readings(session, gate, row)
        except typer.Abort as error:
            output.messages().print("\nThe gate is written, no reading is.", markup=False)
            if isinstance(error.__context__, KeyboardInterrupt):
                raise
            raise typer.Exit(2) from None
        _write_readings(session, _puts(session, TABLES_OF[gate], pair, found))
    _show_pairs(job, pair)


def ask(session: Session, gate: str, of: str, what: str) -> bool:
    """Ask each line that does not hold, until one is not so; whether all of them hold now.  A no is always written."""
    held = session.job.gates.held(gate, of, what, datetime.now(UTC))
    for line, words in GATES[gate].items():
        if line in OF_THE_VEHICLE and line in held:
            since = held[line].astimezone().strftime("%H:%M")
            output.console().print(f"{words}: confirmed at {since}", markup=False, soft_wrap=True)
            if typer.confirm("Still so?", default=False):
                continue
            session.confirm(gate, of, what, {line: False})
            return False
        yes = bool(typer.confirm(f"{words}?", default=False))
        session.confirm(gate, of, what, {line: yes})
        if not yes:
            return False
    return not session.job.gates.missing(gate, of, what, datetime.now(UTC))  # somebody may have said no meanwhile


def _readings(session: Session, gate: str, row: Any) -> dict[str, Any]:
    """What the meter shows; a cell on a woofer alone.  Enter leaves a thing as it is; what does not do is asked again."""
    from backwave.job.gates import TABLES_OF
    from backwave.job.undo import tried

    asked = {
        "resistance": 'The meter across the pair, such as "3.9 ohm", or open',
        "leads": "Its leads touching each other",
    }
    if gate == "output":
        asked = {
            "loudest": 'AC volts between its two wires at the largest clean volume, such as "7.5 V"',
            "offset": 'DC volts between its two wires, such as "10 mV"',
        }
    elif row.ends_at == "woofer" and not row.capacitor:
        asked["cone"] = "One 1.5 V cell for half a second, its plus on the first wire: out, in or still"
    found: dict[str, Any] = {}
    for key, words in asked.items():
        while said := typer.prompt(words, default="", show_default=False).strip():
            try:
                puts = _puts(session, TABLES_OF[gate], row.id, found | {key: said})
                tried(session.text, session.folder, puts, "pair", session.job)
            except JobError as error:
                output.messages().print(f"{error}\nOnce more, or Enter to leave it out.", markup=False)
            else:
                found[key] = said
                break
    return found


def _puts(session: Session, table: str, of: str, said: dict[str, Any]) -> list[Put]:
    from backwave.job.undo import Put

    number = [row.id for row in getattr(session.job.file, table)].index(of)
    return [Put((table, number, key), value) for key, value in said.items()]


def _write_readings(session: Session, changes: list[Put]) -> None:
    """One step of undo, on the job as it was read; where somebody has changed one of these keys since, nothing."""
    from backwave.job.disk import refuse_moved

    refuse_moved(session.folder, [(one.path, one.written) for one in changes], session.job)
    problems = session.set_many(changes, label="pair")
    if problems:
        raise JobError(tuple(problems))
    session.flush()
    if not session.saved:
        raise InputError("edited elsewhere meanwhile", str(session.folder), "the same command once more")


def _show_pairs(folder: Path, only: str = "") -> None:
    """What the readings allow to say."""
    from backwave.assess.inputs.factory import factory_record
    from backwave.job import load

    read = load(folder)
    out, record, system = output.console(), factory_record(read, {}), read.file.show
    if record is not None:
        checks = [(one.table.id, one.says.checks[0]) for one in record.pairs]
        checks += [(f.check.part, f.check) for f in record.findings if f.check.code == "wire.live"]
        for of, check in checks:
            if only in ("", of):
                remedy = output.fill(check.remedy, system)
                out.print(f"{output.verdict_word(check.verdict)}  ", end="")
                out.print(output.fill(check.title, system) + (f" → {remedy}" if remedy else ""), markup=False)
    if not (read.file.pair or read.file.factory_output):
        out.print("No pair is recorded yet: add [[pair]] with its id, opening, side, colors and ends_at.", markup=False)
