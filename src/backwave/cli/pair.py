"""`backwave pair`: the guided record of one pair of factory wires, its gate before anything is read.

A gate is asked line by line; what is said stands in the job's log with its date."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output
from backwave.errors import InputError, JobError
from backwave.notation.wires import GATES, OF_THE_VEHICLE

if TYPE_CHECKING:
    from backwave.job import Session
    from backwave.job.undo import Put


def run(
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
        _show(job)
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
        _write(session, _puts(session, TABLES_OF[gate], pair, found))
    _show(job, pair)


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


def _write(session: Session, changes: list[Put]) -> None:
    """One step of undo, on the job as it was read; where somebody has changed one of these keys since, nothing."""
    from backwave.job.disk import refuse_moved

    refuse_moved(session.folder, [(one.path, one.written) for one in changes], session.job)
    problems = session.set_many(changes, label="pair")
    if problems:
        raise JobError(tuple(problems))
    session.flush()
    if not session.saved:
        raise InputError("edited elsewhere meanwhile", str(session.folder), "the same command once more")


def _show(folder: Path, only: str = "") -> None:
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
