"""A job whose readings were all taken behind their gates: what a test of something else starts from."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from backwave.job import Job
from backwave.job.gates import Gates, GateWord, about, has_reading, reading, rows
from backwave.notation.wires import GATES, OF_THE_VEHICLE

WHEN, LATER = datetime(2026, 1, 2, 9, tzinfo=UTC), datetime(2026, 1, 2, 10, tzinfo=UTC)


def confirmed(job: Job) -> Job:
    """The same job, every line of every gate confirmed before its reading."""
    words, taken = [], []
    for gate, row in rows(job.file):  # outputs after the pairs: the battery is on again
        when = WHEN if gate == "pair" else LATER
        if not has_reading(gate, row):
            continue
        for line in GATES[gate]:
            whole = line in OF_THE_VEHICLE
            words.append(
                GateWord(
                    "vehicle" if whole else gate,
                    "" if whole else row.id,
                    line,
                    True,
                    "" if whole else about(gate, row),
                    when,
                )
            )
        taken.append(GateWord(gate, row.id, "", True, reading(gate, row), when))
    return replace(job, gates=Gates(tuple(words), tuple(taken)))
