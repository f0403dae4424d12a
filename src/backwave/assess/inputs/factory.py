"""What the vehicle has of its own: factory plugs that are kept, pairs of wires and outputs, as far as they were read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from math import cos, hypot, inf, radians, sin
from typing import TYPE_CHECKING, Any

from backwave.errors import InputError, JobError
from backwave.finding import PRACTICE, CalculationLine, Check, Finding, Ledger, Verdict, check_of, words
from backwave.job import Job, Place
from backwave.job.gates import about, has_reading
from backwave.job.wiring import FactoryOutputTable, PairTable, PinTable
from backwave.job.wiring import PlugTable as PlugTable
from backwave.notation.wires import CELL_RATED_V, LETTERS, PAIR_GATE, POP_S, THEIRS, names_theirs
from backwave.power.cable import sizes_of
from backwave.power.factory_output import FactoryPair, FactorySystem, check_factory
from backwave.power.harness import END_M, LeadReach, Plug, lead_reach, series_farad
from backwave.power.signal_way import Confirmed, PairReading, PairSays, read_pair
from backwave.units import in_unit

if TYPE_CHECKING:
    from backwave.assess.place_result import Dimensions

ADAPTER_M = 0.10  # adapter between a kept plug and the new terminals, at least (common trade practice)
RADIUS_MM = 60.0
MAKER = "vehicle maker's service information comes first"


@dataclass(frozen=True)
class KeptPlug:
    """A kept plug in one path."""

    plug: Plug
    table: PlugTable
    checks: tuple[Check, ...] = ()  # what was found of its lead


def area_of(size: str) -> float | None:
    """Cross section of a size in mm2; None for ""."""
    return next((row.area_mm2 for row in sizes_of() if row.name == size), None)


def plug_at(
    job: Job, place: Place, before: bool, sized: Dimensions | None, kind: str, ledger: Ledger
) -> KeptPlug | None:
    """The plug that feeds the speaker of a place; the one that names its side outranks the one for each. `sized`: the
    new driver as it sits there; None where nobody fits one by an adapter."""
    found: list[tuple[bool, PlugTable, list[PinTable]]] = []
    for table in job.file.plug:
        mine = [p for p in table.pin if p.carries in ("+", "-") and (p.opening or table.opening) == place.opening.id]
        for exact in (True, False) if table.before is before else ():
            wanted = (place.side if exact else None) or None
            pins = [p for p in mine if (p.side or table.side or None) == wanted]
            if pins:
                found.append((exact, table, pins))
                break
    if not found:
        return None
    exact, table, pins = max(found, key=lambda f: f[0])
    plus, minus = (next(p for p in pins if p.carries == pole) for pole in "+-")
    hiding = next((p for p in (plus, minus) if p.hides and not p.bridged), None)
    numbers = [int(p.number) for p in table.pin if p.number.isdecimal()]
    bridged = next((p for p in (plus, minus) if p.hides and p.bridged), None)
    said = [f"keyed: {table.keyed}"] if table.keyed else []
    said += [f"{bridged.hides.words} in it is bridged"] if bridged is not None and bridged.hides else []
    reach, checks = (None, ()) if before else _reach(table, place, sized, ledger)
    if not before:
        adapter = max(ADAPTER_M, 0.0 if reach is None else reach.short_m)
        if adapter == ADAPTER_M:
            why = f"from the plug to the new terminals; {PRACTICE}"
            ledger.note(f"plug.{table.id}: adapter", 1000.0 * ADAPTER_M, "mm", why)
    name = table.id if (exact and place.side) or not place.side else f"{table.id}-{place.side}"
    plug = Plug(
        name, plus.number, minus.number, carries=None if hiding is None else hiding.hides, before=before,
        contacts=table.contacts or max([len(table.pin), 2, *numbers]), rows=table.rows, at="-" if hiding is minus else "+",
        there=table.wires == "factory", color_plus=plus.color, color_minus=minus.color,
        area_mm2=area_of(table.size), adapter_m=None if before else adapter, words="; ".join(said),
    )  # fmt: skip
    return KeptPlug(plug, table, checks)


def _reach(
    table: PlugTable, place: Place, sized: Dimensions | None, ledger: Ledger
) -> tuple[LeadReach | None, tuple[Check, ...]]:
    """Whether the factory lead reaches the new terminals, in the worst direction."""
    if sized is None or place.opening.id != table.opening:
        return None, ()
    terminals = sized.driver.terminals
    needed = (
        ("the length of its lead", table.lead), ("where the factory terminals sat", table.terminals), ("the new driver's terminals", terminals),
    )  # fmt: skip
    lacking = " and ".join(n for n, v in needed if v is None)
    if lacking:
        said = "Not measured at plug {plug}: {lacking}. Whether it reaches at the new height cannot be told"
        remedy = "Measure it at the factory speaker before that goes into its bag"
        return None, (
            _check("caution", said, remedy, table.id, "wire.reach", (PRACTICE,), plug=table.id, lacking=lacking),
        )
    assert table.lead is not None
    assert table.terminals is not None
    assert terminals is not None
    from backwave.fit import seat_height_mm

    old = table.terminals
    depth, radius = old.depth.to("mm"), RADIUS_MM if old.radius is None else old.radius.to("mm")
    if old.radius is None:
        ledger.note(f"plug.{table.id}.terminals.radius", RADIUS_MM, "mm", f"a speaker of 165 mm; {PRACTICE}")
    angle = in_unit(old.angle, "deg")
    if angle is not None and place.mirrored and table.side is None:
        angle = 180.0 - angle
    new_depth, new_radius = terminals.depth.value, terminals.radius.value
    turned = None if sized.clocking is None else sized.clocking.terminals_deg
    across = radius + new_radius  # opposite, where nobody said
    if angle is not None and turned is not None:
        a, b = radians(angle), radians(turned)
        across = hypot(radius * cos(a) - new_radius * cos(b), radius * sin(a) - new_radius * sin(b))
    seat = seat_height_mm(sized.stack)
    out = seat - new_depth + depth
    slack = 0.0 if table.slack is None else table.slack.to("mm")
    reach = lead_reach(table.lead.to("m"), out, across, slack)
    short = 1e3 * reach.short_m
    names = (
        ("plug", table.id, ""), ("lead", table.lead.to("mm"), "mm"), ("moved", hypot(out, across), "mm"), ("short", short, "mm"),
        ("end", 1e3 * END_M, "mm"), ("adapter", 1e3 * reach.adapter_m, "mm"),
        ("cut", 1e3 * (max(ADAPTER_M, reach.short_m) + 2 * END_M), "mm"),
    )  # fmt: skip
    remedy = "Make a lead of at least {adapter} from plug to new terminals, {end} at each end included; the cut list has {cut}"
    check = check_of(
        "wire.reach", "caution" if short else "ok",
        "Plug {plug}: the terminals move {moved}, " + ("and its lead is {short} short" if short else "which the slack of its lead makes up for"),
        remedy if short else "", names, (short, 0.0, "mm"),
        (
            CalculationLine("h", "stand-off", seat, "mm", "the part's thickness and its gaskets"),
            CalculationLine("z1", "new terminals, behind the rim", new_depth, "mm", "driver"),
            CalculationLine("z0", "factory terminals, behind the metal", depth, "mm", "reading"),
            CalculationLine("r", "across the face" + ("" if angle is not None and turned is not None else ", at the worst: opposite"), across, "mm"),
            CalculationLine("s", "slack at the factory speaker", slack, "mm", "reading" if table.slack is not None else "taken for none"),
            CalculationLine("sqrt((h - z1 + z0)^2 + r^2) - s", "short, in the worst direction (triangle inequality)", short, "mm"),
        ),
        ("triangle inequality", PRACTICE), f"plug.{table.id}", table.id,
    )  # fmt: skip
    return reach, (check,)


def plug_farads(job: Job, opening: str | None, side: str) -> list[float]:
    """Capacitors in line, F, in the plugs kept there, that nobody bridged; inf for another part."""
    return [
        series_farad(pin.hides) for table in job.file.plug for pin in table.pin if opening is not None
        and (pin.opening or table.opening) == opening and (pin.side or table.side) in (None, side)
        and pin.hides is not None and not pin.bridged
    ]  # fmt: skip


def plug_checks(job: Job) -> list[Check]:
    """What the contacts of all plugs say by themselves: what is not ours, colors nobody read, sides that differ."""
    return [check for table in job.file.plug for check in _contacts(table)] + _sides(job)


def _contacts(table: PlugTable) -> list[Check]:
    found = []

    def say(verdict: Verdict, said: str, remedy: str, part: str = "", **names: str) -> None:
        part = f"{table.id}-{part}" if part else table.id
        found.append(_check(verdict, said, remedy, part, "wire.plug", (PRACTICE, MAKER), plug=table.id, **names))

    ours = [p for p in table.pin if p.carries in ("+", "-")]
    for code, kept_for in THEIRS.items():
        on = [p.number for p in ours if p.color and code in p.color.letters]
        if on:
            based = any(p.color and p.color.base == code for p in ours)
            said = f"Contact {{n}} of plug {{plug}} is {{color}}: so are lines of {kept_for}"
            remedy = "Connect and measure nothing there; the vehicle maker's service information says what it is"
            say("stop" if based else "caution", said, remedy, LETTERS[code], n=", ".join(on), color=LETTERS[code])
        # of another circuit: the base color, or green-and-yellow; a stripe alone is too common
        colored = [(p.number, p.color) for p in table.pin if p not in ours and p.color]
        beside = [n for n, color in colored if color.base == code or (code in color.letters and not color.stripe)]
        if beside:
            said = f"Contact {{n}} of plug {{plug}}, of another circuit, is {{color}}: so are lines of {kept_for}"
            remedy = (
                "Leave that plug alone and look again: the vehicle maker's service information says what the contact is"
            )
            say("caution", said, remedy, f"beside-{LETTERS[code]}", n=", ".join(beside), color=LETTERS[code])
    others = [p for p in table.pin if p.carries not in ("+", "-", "")]
    named = {p.number: names_theirs(p.carries) for p in others}
    theirs = [p for p in others if named[p.number]]
    if theirs:
        sure = any(named[p.number] == "sure" for p in theirs)
        said = "Plug {plug} carries {what} on contact {n}" + (
            "" if sure else ": that may belong to an airbag, a belt or high voltage"
        )
        remedy = "Leave this plug alone: every battery off and the maker's waiting time before it is opened, nothing measured on it"
        what, n = (", ".join(getattr(p, key) for p in theirs) for key in ("carries", "number"))
        say("stop" if sure else "caution", said, remedy, "safety", what=what, n=n)
    for opening, side in dict.fromkeys((p.opening, p.side) for p in ours):
        pair = [p for p in ours if (p.opening, p.side) == (opening, side) and p.color]
        if len(pair) == 2 and pair[0].color == pair[1].color:
            said = "Plus and minus of plug {plug} are both {color}: the color does not tell them apart"
            remedy = "Read both again; mark the plus wire at once, by the speaker's own marks"
            say("caution", said, remedy, "same-" + "-".join(p.number for p in pair), color=str(pair[0].color))
    bare = ", ".join(p.number for p in ours if not p.color)
    if bare:
        said = "No colors entered yet at contact {n} of plug {plug}"
        say("caution", said, "Read them where the wires go in, base color first", n=bare)
    if not table.pin:
        said = "Nothing entered yet of what the contacts of plug {plug} carry"
        say("caution", said, "One [[plug]] pin a contact: number, color, what it carries")
    if not found:
        stay = f"; {', '.join(p.carries for p in others)} stay as they are" if others else ""
        say(
            "ok", "Plug {plug}: {n} contacts read" + stay.replace("{", "(").replace("}", ")"), "", n=f"{len(table.pin)}"
        )
    return found


def _sides(job: Job) -> list[Check]:
    """Plugs of one opening that differ from side to side: what is right on one is wrong on the other."""
    poles: dict[tuple[str, bool], dict[str, str]] = {}
    for table in job.file.plug:
        for pin in table.pin:
            opening, side = pin.opening or table.opening, pin.side or table.side
            if pin.carries == "+" and opening and side:
                poles.setdefault((opening, table.before), {})[side] = pin.number
    found = []
    for (opening, before), held in poles.items():
        if len(held) == 2 and held["left"] != held["right"] and not before:
            said = "The plugs of {what} differ: plus is contact {left} on the left and {right} on the right"
            remedy = "Mark both plugs; make each adapter at its own plug"
            found.append(_check("caution", said, remedy, f"{opening}-sides", what=opening, left=held["left"], right=held["right"]))  # fmt: skip
    return found


def _check(
    verdict: Verdict, words: str, remedy: str, part: str, code: str = "wire.plug", sources: tuple[str, ...] = (PRACTICE, MAKER), **names: str
) -> Check:  # fmt: skip
    key = f"plug.{names['plug']}" if "plug" in names else "plug"
    quantities = tuple((name, value, "") for name, value in names.items())
    return check_of(code, verdict, words, remedy, quantities, sources=sources, key=key, part=part)


def refused(error: InputError, job: Job, path: tuple[str | int, ...]) -> JobError:
    """A fault of a room as a fault of the job, with its line."""
    return JobError((job.problem(path, error.what, error.found, error.accepted),))


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
    """What is known of the factory's wires and system; None where nobody recorded anything. JobError: readings that
    cannot be."""
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
            row.id, Confirmed(row.id, **ticked), colors[0], colors[1], row.ends_at, row.capacitor,
            None if ohm is None else inf if isinstance(ohm, str) else ohm.to("ohm"),
            0.0 if row.leads is None else row.leads.to("ohm"), cone or "",
            CELL_RATED_V if row.cell is None else row.cell.to("V"), POP_S if row.held is None else row.held.to("s"),
            "a" if row.plus == "first" else "b" if row.plus == "second" else "", row.by_marks, unvouched,
        )  # fmt: skip
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
            at = (pin.opening or table.opening, pin.side or table.side)
            mine = not table.before and at in ((row.opening, row.side), (row.opening, None)) and pin.carries == "+"
            if mine and pin.color is not None and pin.color != wire:
                said = "Pair {pair} says that plus is {wire}; plug {plug} has {color} on its plus"
                remedy = "Look at the plug again, base color first; until then this door may be out of phase"
                names = {"pair": row.id, "wire": str(wire), "plug": table.id, "color": str(pin.color)}
                return [_check("caution", said, remedy, f"{table.id}-{row.id}", "wire.plug", (PRACTICE,), **names)]
    return []


def _not_used(job: Job) -> list[Finding]:
    """Outputs with readings that no gate vouches for."""
    said = "Factory output {output}: what was read on it is not confirmed and not used"
    remedy = (
        "Confirm the lines of its gate (backwave pair, or Factory wires), then read it again or say that it was read so"
    )
    rows = [row.id for row in job.file.factory_output if job.gates.counted(row) is not row]
    keys = [(id_, f"factory_output.{id_}") for id_ in rows]
    checks = (check_of("wire.live", "caution", said, remedy, (("output", i, ""),), key=key, part=i) for i, key in keys)
    return [Finding(check, "factory") for check in checks]


def _system(job: Job) -> FactorySystem:
    sources = {source.id: source for source in job.file.source}
    pairs = []
    for n, as_written in enumerate(job.file.factory_output):
        row = job.gates.counted(as_written)
        takes = None if row.into is None else sources[row.into]
        try:
            pairs.append(FactoryPair(
                row.id, row.group, None if row.band is None else row.band[0].to("Hz"),
                None if row.band is None else row.band[1].to("Hz"), row.quiet, row.loud, in_unit(row.loudest, "V"),
                row.polarity, in_unit(row.phase, "deg"), in_unit(row.offset, "V"), row.bridge_tied,
                in_unit(row.rated, "ohm"), _new_ohm(job, row), row.detects_load, takes is None,
                None if takes is None or takes.input is None else (takes.input[0].to("V"), takes.input[1].to("V")),
                None if takes is None else takes.differential,
            ))  # fmt: skip
        except InputError as error:
            raise refused(error, job, ("factory_output", n)) from None
    table = job.file.factory_system
    try:
        if table is None:
            return FactorySystem(tuple(pairs))
        must_sound = tuple((m.what, m.from_ or "") for m in table.must_sound)
        return FactorySystem(tuple(pairs), table.accessory, table.microphones, must_sound)
    except InputError as error:
        raise refused(error, job, ("factory_system",)) from None


def _new_ohm(job: Job, row: FactoryOutputTable) -> float | None:
    """Rated load of what hangs on this output now, where a speaker stays on it."""
    if row.into is not None or row.opening is None or not job.file.stage:
        return None
    kinds = {source.id: source.kind for source in job.file.source}
    for path in job.file.stage[-1].path:
        if path.opening == row.opening and path.side in (None, row.side) and kinds[path.source] != "amplifier":
            return in_unit(next(s.rated for s in job.file.speaker if s.id == path.speaker), "ohm")
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
