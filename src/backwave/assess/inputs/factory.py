"""Pairs found and what the factory system does, as the job records them, and what follows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from math import inf
from typing import Any

from backwave.assess.inputs.plugs import refused
from backwave.errors import InputError
from backwave.finding import PRACTICE, Check, Finding, Message, words
from backwave.job import Job, Place
from backwave.job.gates import about, has_reading
from backwave.job.wiring import FactoryOutputTable, PairTable
from backwave.notation.wires import CELL_RATED_V, PAIR_GATE, POP_S
from backwave.power.factory_output import FactoryPair, FactorySystem, check_factory
from backwave.power.signal_way import Confirmed, PairReading, PairSays, read_pair


@dataclass(frozen=True)
class PairFound:
    """A pair of factory wires."""

    table: PairTable
    subject: str  # the place it was traced to, or "factory"
    says: PairSays  # what its readings allow to say
    missing: tuple[str, ...]  # lines of the gate nobody confirmed


@dataclass(frozen=True)
class FactoryRecord:
    """What is known of the factory's wires and system."""

    pairs: tuple[PairFound, ...]
    outputs: tuple[FactoryOutputTable, ...]  # as the job has them
    system: FactorySystem | None  # the system as the room takes it; None where nobody recorded anything of it
    findings: tuple[Finding, ...]


def factory_record(job: Job, here: dict[str, Place]) -> FactoryRecord | None:
    """What is known of the factory's wires and system; None where nobody recorded anything.

    JobError: readings that cannot be.
    """
    file = job.file
    if not (file.pair or file.factory_output or file.factory_system):
        return None
    pairs = tuple(_pair(job, n, row, here) for n, row in enumerate(file.pair))
    findings = [Finding(check, pair.subject) for pair in pairs for check in pair.says.checks]
    findings += [Finding(check, pair.subject) for pair in pairs for check in _against_plug(job, pair)]
    system = None
    if file.factory_output or file.factory_system:
        system = _system(job)
        senses = bool(file.load) and all(load.turn_on != "lead" for load in file.load)
        findings += [Finding(check, "factory") for check in check_factory(system, senses)]
        findings += _not_used(job)
    return FactoryRecord(pairs, tuple(job.gates.counted(row) for row in file.factory_output), system, tuple(findings))


def _pair(job: Job, number: int, row: PairTable, here: dict[str, Place]) -> PairFound:
    what, gates = about("pair", row), job.gates
    unvouched = bool(gates.unvouched("pair", row))
    counts = has_reading("pair", row) and not unvouched
    said = gates.held("pair", row.id, what, datetime.now(UTC))
    ticked = {key: counts or key in said for key in PAIR_GATE}
    ohm, cone = (row.resistance, row.cone) if counts else (None, None)
    colors = row.colors or (None, None)
    try:
        read = PairReading(
            row.id,
            Confirmed(row.id, **ticked),
            colors[0],
            colors[1],
            row.ends_at,
            row.capacitor,
            None if ohm is None else inf if isinstance(ohm, str) else ohm.to("ohm"),
            0.0 if row.leads is None else row.leads.to("ohm"),
            cone or "",
            CELL_RATED_V if row.cell is None else row.cell.to("V"),
            POP_S if row.held is None else row.held.to("s"),
            "a" if row.plus == "first" else "b" if row.plus == "second" else "",
            row.by_marks,
            unvouched,
        )
    except InputError as error:
        raise refused(error, job, ("pair", number)) from None
    subject = f"{row.opening}.{row.side}" if row.side else row.opening or "factory"
    return PairFound(row, subject if subject in here else "factory", read_pair(read), read.confirmed.missing())


def _against_plug(job: Job, pair: PairFound) -> list[Check]:
    """The plug of that speaker says the same of plus and minus, or one of them is wrong."""
    row, plus = pair.table, pair.says.plus
    if row.colors is None or row.opening is None or plus == "cannot tell":
        return []
    wire = row.colors[0] if plus == "a" else row.colors[1]
    for table in job.file.plug:
        for pin in table.pin:
            mine = (pin.opening or table.opening, pin.side or table.side) in (
                (row.opening, row.side),
                (row.opening, None),
            )
            if table.before or not mine or pin.carries != "+" or pin.color is None:
                continue
            if pin.color != wire:
                names = (
                    ("pair", row.id, ""),
                    ("wire", str(wire), ""),
                    ("plug", table.id, ""),
                    ("color", str(pin.color), ""),
                )
                said = Message("Pair {pair} says that plus is {wire}; plug {plug} has {color} on its plus", names)
                remedy = Message("Look at the plug again, base color first; until then this door may be out of phase")
                return [Check("wire.plug", "caution", said, remedy=remedy, sources=(PRACTICE,), key=f"plug.{table.id}", part=f"{table.id}-{row.id}")]  # fmt: skip
    return []


def _not_used(job: Job) -> list[Finding]:
    """Outputs with readings that no gate vouches for."""
    found = []
    for row in job.file.factory_output:
        if job.gates.counted(row) is not row:
            said = Message("Factory output {output}: what was read on it is not confirmed and not used", (("output", row.id, ""),))  # fmt: skip
            remedy = Message(
                "Confirm the lines of its gate (backwave pair, or Factory wires), then read it again or say that it was read so"
            )
            check = Check("wire.live", "caution", said, remedy=remedy, sources=(PRACTICE,), key=f"factory_output.{row.id}", part=row.id)  # fmt: skip
            found.append(Finding(check, "factory"))
    return found


def _system(job: Job) -> FactorySystem:
    sources = {source.id: source for source in job.file.source}
    pairs = []
    for n, as_written in enumerate(job.file.factory_output):
        row = job.gates.counted(as_written)
        takes = None if row.into is None else sources[row.into]
        try:
            pairs.append(
                FactoryPair(
                    row.id,
                    row.group,
                    None if row.band is None else row.band[0].to("Hz"),
                    None if row.band is None else row.band[1].to("Hz"),
                    row.quiet,
                    row.loud,
                    None if row.loudest is None else row.loudest.to("V"),
                    row.polarity,
                    None if row.phase is None else row.phase.to("deg"),
                    None if row.offset is None else row.offset.to("V"),
                    row.bridge_tied,
                    None if row.rated is None else row.rated.to("ohm"),
                    _new_ohm(job, row),
                    row.detects_load,
                    takes is None,
                    None if takes is None or takes.input is None else (takes.input[0].to("V"), takes.input[1].to("V")),
                    None if takes is None else takes.differential,
                )
            )
        except InputError as error:
            raise refused(error, job, ("factory_output", n)) from None
    table = job.file.factory_system
    try:
        return FactorySystem(
            tuple(pairs),
            None if table is None else table.accessory,
            None if table is None else table.microphones,
            () if table is None else tuple((m.what, m.from_ or "") for m in table.must_sound),
        )
    except InputError as error:
        raise refused(error, job, ("factory_system",)) from None


def _new_ohm(job: Job, row: FactoryOutputTable) -> float | None:
    """Rated load of what hangs on this output now, where a speaker stays on it."""
    if row.into is not None or row.opening is None or not job.file.stage:
        return None
    kinds = {source.id: source.kind for source in job.file.source}
    for path in job.file.stage[-1].path:
        if path.opening == row.opening and path.side in (None, row.side) and kinds[path.source] != "amplifier":
            rated = next(s.rated for s in job.file.speaker if s.id == path.speaker)
            return None if rated is None else rated.to("ohm")
    return None


def factory_json(record: FactoryRecord) -> dict[str, Any]:
    """Pairs and the factory system as JSON; what may not be read on a pair yet stands in "gate"."""
    system = record.system
    return {
        "pairs": [
            {
                "id": pair.table.id, "subject": pair.subject, "colors": list(map(str, pair.table.colors or ())) or None,
                "gate": [PAIR_GATE[key] for key in pair.missing],
                "found": pair.says.found, "plus": {"a": "first", "b": "second"}.get(pair.says.plus),
                "coil": pair.says.coil,
                "coil_ohm": None if pair.says.coil_ohm in (None, float("inf")) else round(pair.says.coil_ohm or 0.0, 3),
                "says": words(pair.says.checks[0].title),
            }
            for pair in record.pairs
        ],
        "outputs": [
            {
                "id": one.id, "group": one.group or None, "low_hz": one.low_hz, "high_hz": one.high_hz, "loudest_v": one.loud_v,
                "polarity": one.polarity, "phase_deg": one.phase_deg, "offset_v": one.offset_v, "bridge_tied": one.bridge_tied,
                "rated_ohm": one.rated_ohm, "detects_load": one.detects_load,
            }
            for one in (() if system is None else system.pairs)
        ],
        "accessory": None if system is None else system.accessory,
        "microphones": None if system is None else system.microphones,
        "must_sound": [{"what": w, "output": o or None} for w, o in (() if system is None else system.must_sound)],
        "findings": [finding.id for finding in record.findings],
    }  # fmt: skip
