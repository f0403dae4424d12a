"""Runs to the speakers: what each pair loses, what that does to damping and crossover, the least size that will do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from backwave.assess.inputs.source import rated_v, resistance_of
from backwave.assess.memo import Memo
from backwave.assumptions import Ledger
from backwave.finding import PRACTICE, Check, Finding, Message
from backwave.job import Job
from backwave.job.wiring import SpeakerCableTable as CableTable
from backwave.notation.crossover import Branch, CrossoverPart, Group
from backwave.power.cable import GUESS_M
from backwave.power.harness import PathSpec
from backwave.power.speaker_cable import SpeakerCable, speaker_cable


@dataclass(frozen=True)
class SpeakerRun:
    """A run to a speaker."""

    subject: str  # where it goes: "front-door.left", or the box
    speaker: str
    output: str
    cable: SpeakerCable | None  # what the pair does; None where nobody rated the driver
    there: bool  # the vehicle's own wires
    findings: tuple[Finding, ...]


def cable_at(job: Job, target: str, side: str) -> CableTable | None:
    """The run to a place; the one that names its side outranks the one for each."""
    rows = [r for r in job.file.speaker_cable if target in (r.opening, r.box) and r.side in (None, side or None)]
    return max(rows, key=lambda r: r.side is not None, default=None)


def speaker_run(
    job: Job, path: PathSpec, length_m: float | None, size: str, there: bool, ledger: Ledger, memo: Memo
) -> SpeakerRun:
    """One run."""
    subject = f"{path.place}.{path.side}" if path.side else path.place
    speaker = next(s for s in job.file.speaker if s.id == path.speaker)
    source = next(s for s in job.file.source if s.id == path.source)
    table = cable_at(job, path.place, path.side)
    output = f"{path.source} {path.channel}"
    if speaker.rated is None:
        said = Message("Nobody rated {speaker}: what its cable loses cannot be told", (("speaker", path.speaker, ""),))
        check = Check(
            "power.speaker-cable", "caution", said, remedy=Message("Its rated impedance, from its data sheet"),
            sources=(PRACTICE,), key=f"speaker.{path.speaker}.rated", part=path.speaker,
        )  # fmt: skip
        return SpeakerRun(subject, path.speaker, output, None, there, (Finding(check, subject),))
    load = speaker.rated.to("ohm")
    if length_m is None:
        ledger.note(f"speaker_cable {subject}: length", GUESS_M, "m", "a guess: measure along the way the pair goes")
    if not size:
        ledger.note(
            f"speaker_cable {subject}: size", "chosen", "", "the least whose loss passes, and which stands the output"
        )
    volts = rated_v(source, ledger)
    made: SpeakerCable = memo.call(
        speaker_cable,
        length_m,
        load,
        size,
        None if speaker.motor is None or speaker.motor.Re is None else speaker.motor.Re.to("ohm"),
        resistance_of(source, ledger) * (2 if source.bridged else 1) + sum(map(_in_line_ohm, path.network)),
        "copper" if table is None else table.material,
        current_a=None if volts is None else volts / load,
        series=_series(job),
    )
    findings = tuple(Finding(replace(c, part=f"{c.part} {path.speaker}".strip()), subject) for c in made.checks)
    return SpeakerRun(subject, path.speaker, output, made, there, findings)


def _series(job: Job) -> Literal["metric", "awg"]:
    return "awg" if job.file.show == "us" else "metric"


def _in_line_ohm(branch: Branch) -> float:
    """Resistance that a branch in line puts before the speaker: coils' own and resistors; 0 for what else there is."""

    def ohm(what: CrossoverPart | Group) -> float:
        if isinstance(what, CrossoverPart):
            return what.value if what.kind == "R" else what.ohm
        return sum(ohm(one) for one in what.parts) if what.how == "series" else 0.0

    return ohm(branch.what) if branch.place == "series" else 0.0
