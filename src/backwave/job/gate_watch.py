"""What an edit does to gates: a reading is refused before its gate, kept with its date behind it, and voided by what changes.

`Session` calls `refused` before an edit is taken, and `followed` once it is on disk.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from backwave.errors import Problem
from backwave.job.gates import EVERY, READINGS, TABLES_OF, about, add, has_reading, reading, rows
from backwave.notation.wire_gate import GATES

if TYPE_CHECKING:
    from backwave.job.load import Job


def refused(before: Job, after: Job) -> tuple[Problem, ...]:
    """What an edit reads that may not be read now: its gate does not hold.  To take a reading out is always allowed."""
    now = datetime.now(UTC)
    for gate, table in TABLES_OF.items():
        old, new = getattr(before.file, table), getattr(after.file, table)
        by_id = {row.id: row for row in old}
        for number, row in enumerate(new):
            was = by_id.get(row.id, old[number] if number < len(old) else None)  # or it has a new name
            if was is row:
                continue
            read = [k for k in READINGS[gate] if getattr(row, k) not in (None, (), getattr(was, k, None))]
            missing = after.gates.missing(gate, row.id, about(gate, row), now) if read else ()
            if missing:
                accepted = "a reading after: " + "; ".join(GATES[gate][line] for line in missing)
                what = "not confirmed: nothing may be read here yet"
                return (after.problem((table, number, read[0]), what, getattr(row, read[0]), accepted),)
    return ()


def followed(folder: Path, before: Job, after: Job) -> None:
    """Put into the log what a saved edit means for the gates.

    What was confirmed for a row that is now another, or gone, is void; a reading entered while every line holds was taken.

    JobError, OSError: the log cannot be read or written.
    """
    was = {(gate, row.id): row for gate, row in rows(before.file)}
    now = {(gate, row.id): row for gate, row in rows(after.file)}
    for (gate, of), row in was.items():
        new = now.get((gate, of))
        if new is row:
            continue
        known = any((w.gate, w.of) == (gate, of) and w.yes for w in after.gates.words)
        if known and (new is None or about(gate, new) != about(gate, row)):
            add(folder, gate, of, about(gate, row), {EVERY: False})
    moment = datetime.now(UTC)
    for (gate, of), row in now.items():
        old = was.get((gate, of))
        if old is row or not has_reading(gate, row):
            continue
        read = reading(gate, row)
        fresh = old is None or reading(gate, old) != read
        if fresh and not after.gates.missing(gate, of, about(gate, row), moment):
            add(folder, gate, of, about(gate, row), {}, read)
