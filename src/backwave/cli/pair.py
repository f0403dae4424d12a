"""`backwave pair`: the guided record of one pair of factory wires, its gate before anything is read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from backwave.cli import output
from backwave.errors import InputError, JobError

if TYPE_CHECKING:
    from backwave.job import Session
    from backwave.job.edits import Put
    from backwave.job.wiring import PairTable

__all__ = ["run"]


def run(
    job: Annotated[Path, typer.Argument(help="The job folder.")] = Path(),
    pair: Annotated[str, typer.Argument(metavar="PAIR", help="Which [[pair]]; left out: all are listed.")] = "",
) -> None:
    """Find a factory pair: each line of its gate is asked for, then what may be read; the job file takes the answers."""
    from backwave.job import Session

    session = Session(job)  # the answers go into the job as it is read here, or not at all
    rows = {row.id: row for row in session.job.file.pair}
    if not pair:
        _told(job)
        raise typer.Exit(0)
    if pair not in rows:
        known = ", ".join(rows) or "none yet; add [[pair]] with its id, opening, side, colors and ends_at"
        raise InputError("no pair of that id", pair, known)
    row = rows[pair]
    out = output.console()
    out.print(
        f"Pair {pair}: an airbag's igniter reads just like a speaker. The vehicle maker's service information comes first.\n",
        markup=False,
    )
    answers = _gate(row)
    refused = [key for key, yes in answers.items() if not yes]
    held = row.resistance is not None or row.cone is not None
    if refused and held:
        raise InputError(
            f"a line of the gate of pair {pair}",
            "not so",
            "as it was: a reading stands on it; take the reading out first",
        )
    _write(session, pair, {"confirmed": answers})  # before anything is read, and whatever becomes of the readings
    if refused:
        out.print("\nNothing may be read on this pair yet. Put the meter away.", markup=False)
    else:
        try:
            found = _readings(session, row)
        except typer.Abort as error:
            output.messages().print("\nThe gate is written, no reading is.", markup=False)
            if isinstance(error.__context__, KeyboardInterrupt):
                raise
            raise typer.Exit(2) from None
        _write(session, pair, found)
    _told(job, pair)


def _gate(row: PairTable) -> dict[str, bool]:
    """Every line, until one is not so; a line after it is not so either."""
    from backwave.notation.wire_gate import PAIR_GATE

    answers = dict.fromkeys(PAIR_GATE, False)
    for key, words in PAIR_GATE.items():
        answers[key] = typer.confirm(f"{words}?", default=False)
        if not answers[key]:
            break
    return answers


def _readings(session: Session, row: PairTable) -> dict[str, Any]:
    """What the meter shows; a cell on a woofer alone.  Enter leaves a thing as it is; what does not do is asked again."""
    from backwave.job.edits import tried

    asked = [
        ("resistance", 'The meter across the pair, such as "3.9 ohm", or open'),
        ("leads", "Its leads touching each other"),
    ]
    if row.ends_at == "woofer" and not row.capacitor:
        asked.append(("cone", "One 1.5 V cell for half a second, its plus on the first wire: out, in or still"))
    found: dict[str, Any] = {}
    for key, words in asked:
        while said := typer.prompt(words, default="", show_default=False).strip():
            try:
                tried(
                    session.text, session.folder, _puts(session, row.id, found | {key: said}), "pair", session.job
                )
            except JobError as error:
                output.messages().print(f"{error}\nOnce more, or Enter to leave it out.", markup=False)
            else:
                found[key] = said
                break
    return found


def _puts(session: Session, pair: str, said: dict[str, Any]) -> list[Put]:
    from backwave.job.edits import Put

    number = [row.id for row in session.job.file.pair].index(pair)
    return [Put(("pair", number, key), value) for key, value in said.items()]


def _write(session: Session, pair: str, said: dict[str, Any]) -> None:
    """One step of undo, on the job as it was read; where somebody has changed one of these keys since, nothing."""
    from backwave.job.disk import refuse_moved

    changes = _puts(session, pair, said)
    refuse_moved(session.folder, [(one.path, one.written) for one in changes], session.job)
    problems = session.set_many(changes, label="pair")
    if problems:
        raise JobError(tuple(problems))
    session.flush()
    if not session.saved:
        raise InputError("edited elsewhere meanwhile", str(session.folder), "the same command once more")


def _told(folder: Path, only: str = "") -> None:
    """What the readings allow to output."""
    from backwave.assess.inputs.factory import factory_record
    from backwave.job import load

    read = load(folder)
    record = factory_record(read, {})
    out = output.console()
    for one in () if record is None else record.pairs:
        if only in ("", one.table.id):
            check = one.says.checks[0]
            remedy = output.fill(check.remedy, read.file.show)
            out.print(f"{output.verdict_word(check.verdict)}  ", end="")
            out.print(output.fill(check.title, read.file.show) + (f" → {remedy}" if remedy else ""), markup=False)
    if not read.file.pair:
        out.print(
            "No pair is recorded yet: add [[pair]] with its id, opening, side, colors and ends_at.", markup=False
        )
