"""Asking a gate on the terminal, line by line; what is said stands in the job's log with its date."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import typer

from backwave.cli import output

if TYPE_CHECKING:
    from backwave.job import Session


def ask(session: Session, gate: str, of: str, what: str) -> bool:
    """Ask each line that does not hold, until one is not so; whether all of them hold now.  A no is always written."""
    from backwave.notation.wires import GATES, OF_THE_VEHICLE

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
