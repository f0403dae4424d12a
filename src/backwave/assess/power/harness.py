"""The harness of a job: generated from the paths of its last stage, with what the person found and said of it; each run
to a speaker with what it loses, and the least size that will do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Literal

from backwave.assess.inputs.factory import (
    FactoryRecord,
    KeptPlug,
    area_of,
    factory_record,
    plug_at,
    plug_checks,
    refused,
)
from backwave.assess.inputs.signal_path import rated_v, resistance_of
from backwave.assess.memo import Memo
from backwave.assess.power.as_built import grounds_of, signal_findings
from backwave.assess.power.extra_sources import extra_feeds
from backwave.assess.power.results import Harnessed, PlugFace, SpeakerRun
from backwave.errors import InputError, JobError, Problem
from backwave.finding import PRACTICE, Check, Finding, Ledger, Message, check_of
from backwave.job import Job, Place
from backwave.job.supply import CableTable, DistributionTable, LoadTable
from backwave.job.wiring import SpeakerCableTable
from backwave.notation.crossover import Branch, CrossoverPart, Group, corner_hz
from backwave.power.cable import GUESS_M, sizes_of
from backwave.power.harness import (
    Contact,
    Face,
    Harness,
    Lead,
    PathSpec,
    PlugConflictError,
    UnknownPinError,
    Wire,
    cut_list,
    faces,
    labels,
    schedule,
)
from backwave.power.harness_build import harness_of, speaker_ids
from backwave.power.harness_check import check_harness
from backwave.power.harness_leads import boot_check
from backwave.power.speaker_cable import SpeakerCable, speaker_cable
from backwave.sound.checks import capacitor_most, filter_holds
from backwave.units import in_unit

if TYPE_CHECKING:
    from backwave.assess.place_result import Dimensions
    from backwave.assess.power.results import Wires

Side = Literal["left", "right", ""]
# of turn-on and signal leads (common trade practice: what stands being pulled, not what the current asks for)
SIGNAL_MM2 = {"metric": 0.75, "us": 0.823047}  # IEC 60228; AWG 18 (ASTM B258)
UNSIZED_MM2 = 1.5  # of a wire through a boot whose size nobody knows yet (common trade practice)


def wired(
    job: Job, here: dict[str, Place], sized: dict[tuple[str, str], Dimensions], wires: Wires | None, ledger: Ledger,
    memo: Memo, guarded: Mapping[tuple[str, str], bool] | None = None,
) -> tuple[Harnessed | None, FactoryRecord | None, list[Finding]]:  # fmt: skip
    """The harness of the last stage, what is known of the factory's wires and system, and what was found of both.
    `wires`: the supply, whose leads go in; None where nothing draws current; `guarded`: (place, tweeter) and whether
    its active high-pass alone keeps it whole, as the solved network has it; JobError: as `harnessed`; readings of pairs
    or outputs that cannot be."""
    record = factory_record(job, here)
    own = Ledger()
    made = harnessed(job, here, sized, wires, own, memo, guarded)
    findings = [*(() if record is None else record.findings), *signal_findings(job, here)]
    if made is not None and made.begun:  # nobody who has not begun is asked for lengths, or told of guesses
        findings += made.findings
        ledger.take(own.assumed.values())
    return made, record, findings


def harnessed(
    job: Job, here: dict[str, Place], sized: dict[tuple[str, str], Dimensions], wires: Wires | None, ledger: Ledger,
    memo: Memo, guarded: Mapping[tuple[str, str], bool] | None = None,
) -> Harnessed | None:  # fmt: skip
    """The harness of the last stage; without one of its supply, where wires of that are recorded, else None. `wires`:
    the supply, whose leads go in; None where nothing draws current; `guarded`: (place, tweeter) and whether its active
    high-pass alone keeps it whole, as the solved network has it; JobError: wires at pins that are none, sizes that are
    none, plugs that disagree: all of the first kind at once."""
    file = job.file
    if not file.stage or not file.stage[-1].path:
        return _of_the_supply(job, wires, ledger)
    paths, kept = _paths(job, here, sized, ledger, guarded or {})
    given = _given(job)
    ends = zip(paths, speaker_ids(paths), strict=True)
    runs = tuple(_run(job, path, _recorded(path, speaker, given), ledger, memo) for path, speaker in ends)
    paths = [replace(path, area_mm2=_new_area(run)) for path, run in zip(paths, runs, strict=True)]
    made = _made(job, paths, given, _leads(job, wires, ledger))
    checks = [*check_harness(made), *plug_checks(job), *_boots(job, here, made, ledger)]
    findings = [Finding(check, "harness") for check in checks]
    findings += [Finding(check, subject) for subject, one in kept for check in one.checks]
    findings += [finding for run in runs for finding in run.findings]
    begun = bool(file.wire or file.plug or file.boot or file.speaker_cable)
    found = {face.id: face for face in faces(made)}
    return Harnessed(
        made, schedule(made), cut_list(made), labels(made), _plug_faces(kept, found), runs, tuple(findings), begun
    )


_OF_LEADS = ("wire.feed", "wire.short", "wire.pin", "wire.thin", "wire.fuse", "wire.length")


def _of_the_supply(job: Job, wires: Wires | None, ledger: Ledger) -> Harnessed | None:
    """The leads of the supply alone, where a wire at one of them is recorded and no path is entered yet; else None."""
    leads = _leads(job, wires, ledger)
    plain = harness_of([], [], leads)
    pins = frozenset(plain.pins())
    own = {d.id for d in plain.devices} - {one.id for one in job.file.source}
    ends = {row.id: (row.from_, row.to) for row in job.file.wire}
    given = [w for w in _given(job) if any(p in pins or p.rpartition(".")[0] in own for p in ends[w.id])]
    if not given:
        return None
    made = _made(job, [], given, leads)
    checks = (c for c in check_harness(made) if c.verdict != "ok" or c.code in _OF_LEADS)  # of no path nothing is ok
    findings = tuple(Finding(check, "harness") for check in checks)
    return Harnessed(made, schedule(made), cut_list(made), labels(made), (), (), findings, True)


def _paths(
    job: Job, here: dict[str, Place], sized: dict[tuple[str, str], Dimensions], ledger: Ledger,
    guarded: Mapping[tuple[str, str], bool],
) -> tuple[list[PathSpec], list[tuple[str, KeptPlug]]]:  # fmt: skip
    """Paths of the last stage with their plugs; a plug feeds the first speaker of its place."""
    kinds = {speaker.id: speaker.kind for speaker in job.file.speaker}
    fs = {s.id: s.motor.fs.to("Hz") for s in job.file.speaker if s.motor is not None and s.motor.fs is not None}
    ohm = {s.id: s.rated.to("ohm") for s in job.file.speaker if s.rated is not None}
    paths, kept, plugged = [], list[tuple[str, KeptPlug]](), set[str]()
    for path in job.file.stage[-1].path:
        spots: list[tuple[Side, str, Place | None]] = [(path.side or "", path.box or "", None)]
        if path.opening is not None:
            spots = [
                (_side(place), path.opening, place)
                for place in here.values()
                if place.opening.id == path.opening and path.side in (None, place.side)
            ]
        for side, target, place in spots:
            # without a side a channel has one pair of terminals for each
            channel = path.channel if path.side is not None or not side else f"{path.channel} {side}"
            plugs: list[KeptPlug | None] = [None, None]
            if place is not None and place.subject not in plugged:
                plugged.add(place.subject)
                new = sized.get((place.subject, path.speaker))
                plugs = [plug_at(job, place, before, new, kinds[path.speaker], ledger) for before in (True, False)]
                kept += [(place.subject, one) for one in plugs if one is not None]
            entry, last = (None if one is None else one.plug for one in plugs)
            cable = cable_at(job, target, side)
            paths.append(PathSpec(
                path.source, channel, path.speaker, target, side, kind=kinds[path.speaker], network=path.network,
                protected=guarded.get(
                    (place.subject if place is not None else target, path.speaker),
                    filter_holds(fs.get(path.speaker), corner_hz(path.filters)),
                ),
                most_farad=capacitor_most(fs.get(path.speaker), ohm.get(path.speaker)), polarity=path.polarity,
                plug=last or entry, entry=entry if last is not None else None,
                boot=place is not None and place.opening.zone == "door",
                length_m=None if cable is None or cable.length is None else cable.length.to("m"),
            ))  # fmt: skip
    return paths, kept


def _side(place: Place) -> Side:
    return "left" if place.side == "left" else "right" if place.side == "right" else ""


def _leads(job: Job, wires: Wires | None, ledger: Ledger) -> list[Lead]:
    """Supply, ground and turn-on of every load, and the factory outputs that feed an input."""
    signal_mm2 = SIGNAL_MM2[job.file.show]
    nodes = {} if wires is None else {node.id: node for node in wires.tree.nodes}
    held = {} if wires is None else {one.conductor.id: one for one in wires.protected}
    grounds = grounds_of(job)
    blocks = {table.id for table in job.file.distribution}
    leads = []

    def feed(
        name: str, id_: str, start: str, own: CableTable, turn_on: Literal["lead", "signal", "none"] = "none"
    ) -> Lead:
        node, one = nodes.get(name), held.get(name)
        cable = None if node is None else node.cable
        length = in_unit(own.length, "m")
        fuse = node.fuse.rating_a if node is not None and node.fitted else None
        return Lead(
            start or "battery", f"to {id_}", id_, "supply", length,
            None if cable is None else cable.area_mm2, fuse, None if cable is None else cable.ampacity_a,
            behind_a=None if one is None else one.fuse_a, turn_on=turn_on,
        )  # fmt: skip

    leads += [feed(name, name, start, own) for name, start, own in extra_feeds(job)]
    tables: tuple[DistributionTable | LoadTable, ...] = (*job.file.distribution, *job.file.load)
    for n, table in enumerate(tables):
        name = f"{table.id}.feed" if n >= len(blocks) and table.id in blocks else table.id
        leads.append(feed(name, table.id, table.from_, table.feed, getattr(table, "turn_on", "none")))
        node = nodes.get(name)
        cable = None if node is None else node.cable
        back, one = grounds.get(table.id), held.get(f"{name} ground")
        if back is not None:
            area = area_of(back.size) or (None if cable is None else cable.area_mm2)
            leads.append(Lead(
                table.id, "ground", "ground", table.id, back.length_m, area, None,
                None if one is None else one.ampacity_a, behind_a=None if one is None else one.fuse_a,
            ))  # fmt: skip
        if isinstance(table, LoadTable) and table.turn_on == "lead":
            leads.append(Lead(_head(job), f"turn-on {table.id}", table.id, "turn-on", None, signal_mm2))
    for row in job.file.factory_output:
        if row.into is not None:
            leads += [
                Lead(_head(job), f"{row.id} {p}", row.into, f"input {row.id} {p}", None, signal_mm2) for p in "+-"
            ]
    if any(lead.area_mm2 == signal_mm2 for lead in leads):
        ledger.note(
            "harness: turn-on and signal leads", Message("{size}", (("size", signal_mm2, "size"),)), "",
            f"what stands being pulled; {PRACTICE}",
        )  # fmt: skip
    return leads


def _head(job: Job) -> str:
    """What plays: the first source that is no amplifier."""
    return next((s.id for s in job.file.source if s.kind != "amplifier"), "head-unit")


def _given(job: Job) -> list[Wire]:
    found, wrong = [], list[Problem]()
    for n, row in enumerate(job.file.wire):
        try:
            length = in_unit(row.length, "m")
            area = area_of(row.size)
            found.append(Wire(row.id, row.from_, row.to, row.color, length, area))
        except InputError as error:
            wrong += refused(error, job, ("wire", n)).problems if not isinstance(error, JobError) else error.problems
    if wrong:
        raise JobError(tuple(wrong))
    return found


def _unknown_pins(job: Job, pins: Sequence[str]) -> JobError:
    """Every pin that a wire names and that is none, all at once, with their lines."""
    wrong = []
    for n, row in enumerate(job.file.wire):
        for key, pin in (("from", row.from_), ("to", row.to)):
            if pin not in pins:
                device = pin.rpartition(".")[0]
                near = get_close_matches(pin, pins, 3, 0.3)
                own = [p for p in pins if p.rpartition(".")[0] == device]
                accepted = "one of " + ", ".join(own or near or ["those that `backwave wire` lists"])
                nearest = near[0] if near else ""
                wrong.append(replace(job.problem(("wire", n, key), "no such pin", pin, accepted), nearest=nearest))
    return JobError(tuple(wrong))


def _made(job: Job, paths: Sequence[PathSpec], given: Sequence[Wire], leads: Sequence[Lead]) -> Harness:
    try:
        return harness_of(paths, given, leads)
    except UnknownPinError as error:
        raise _unknown_pins(job, error.pins) from None
    except PlugConflictError as error:
        raise refused(error, job, ("plug",)) from None
    except InputError as error:
        raise refused(error, job, ("wire",)) from None


def _recorded(path: PathSpec, speaker: str, given: Sequence[Wire]) -> tuple[float | None, float | None]:
    """Length and thinnest cross section of a path's last run, as recorded: of its wires, else of its cable and plug."""
    plug = path.last_plug
    ends = [f"{speaker}.{pole}" for pole in "+-"]
    if plug is not None:
        ends = [f"{plug.id}.{contact} in" for contact in (plug.plus, plug.minus)]
    there = plug.area_mm2 if plug is not None and plug.there else None
    lengths, areas = list[float | None](), list[float | None]()
    for end in ends:
        mine = [wire for wire in given if end in (wire.from_pin, wire.to_pin)]
        lengths += [wire.length_m for wire in mine]
        areas += [wire.area_mm2 or there for wire in mine] or [there]
    return (
        max((m for m in lengths if m is not None), default=path.length_m),
        min((a for a in areas if a is not None), default=None),
    )


def _run(
    job: Job, path: PathSpec, recorded: tuple[float | None, float | None], ledger: Ledger, memo: Memo
) -> SpeakerRun:
    """A run with the length and the size that are there or bought."""
    length, area = recorded
    table = cable_at(job, path.place, path.side)
    size = "" if table is None else table.size
    if not size and area is not None:
        size = next((row.name for row in sizes_of() if row.area_mm2 == area), "")
    there = path.last_plug is not None and path.last_plug.there
    return speaker_run(job, path, length, size, there, ledger, memo)


def _new_area(run: SpeakerRun) -> float | None:
    """Of the wires that are new on a run: what is there or bought, or the least that will do beside factory wires."""
    if run.cable is None:
        return None
    least = next((t.area_mm2 for t in run.cable.tried if t.size == run.cable.least), None)
    return least if run.there else run.cable.area_mm2


def _boots(job: Job, here: dict[str, Place], made: Harness, ledger: Ledger) -> list[Check]:
    """New wires through each boot."""
    found = []
    seen: set[str] = set()
    new = [w for w in made.wires if w.boot and not w.there]
    sizes = {row.area_mm2: row.outer_mm for row in sizes_of()}
    for place in here.values():
        if place.opening.zone != "door" or place.subject in seen:
            continue
        rows = [
            b for b in job.file.boot
            if b.side in (None, place.side or None) and place.opening.id in (b.opening, *b.also)
        ]  # fmt: skip
        boot = max(rows, key=lambda b: b.side is not None, default=None)
        behind = {place.opening.id} if boot is None else {boot.opening, *boot.also}
        seen |= {p.subject for p in here.values() if p.opening.id in behind and p.side == place.side}
        routes = [r for r in made.routes if r.path.place in behind and r.path.side == place.side]
        pins = {r.speaker for r in routes} | {r.path.plug.id for r in routes if r.path.plug is not None}
        mine = [w for w in new if w.to_pin.rpartition(".")[0] in pins]
        if not routes:
            continue
        if mine and any(w.area_mm2 is None for w in mine):
            ledger.note(
                f"boot {place.subject}: size of its wires", UNSIZED_MM2, "mm2", f"until it is known; {PRACTICE}"
            )
        thick = max((sizes[w.area_mm2 or UNSIZED_MM2] for w in mine), default=sizes[UNSIZED_MM2])
        bore, loom = (None, None) if boot is None else (boot.bore, boot.loom)
        try:
            check = boot_check(
                len(mine), thick, in_unit(bore, "mm"), in_unit(loom, "mm"),
                None if boot is None else boot.room,
            )  # fmt: skip
        except InputError as error:
            assert boot is not None
            raise refused(error, job, ("boot", job.file.boot.index(boot))) from None
        found.append(replace(check, part=place.subject))
    return found


def _plug_faces(kept: Sequence[tuple[str, KeptPlug]], found: dict[str, Face]) -> tuple[PlugFace, ...]:
    """Every kept plug, with all that is known of its contacts: those of other circuits too."""
    made: dict[str, PlugFace] = {}
    for _, one in kept:
        face, table = found[one.plug.id], one.table
        used = {contact.number: contact for contact in face.used}
        pins = []
        for pin in table.pin:
            contact = used.get(pin.number)
            if contact is None and pin.carries in ("+", "-"):
                continue  # of a speaker on the other side, which has this plug's twin
            contact = contact or Contact(pin.number, pin.carries, "", "", "", "", "")
            hides = f"{pin.hides}{' (bridged)' if pin.bridged else ''}" if pin.hides else ""
            pins.append(replace(contact, color_in=contact.color_in or str(pin.color or ""), hides=hides))
        made[one.plug.id] = PlugFace(one.plug.id, table.keyed, face.contacts, face.rows, tuple(pins))
    return tuple(made.values())


def cable_at(job: Job, target: str, side: str) -> SpeakerCableTable | None:
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
        said = "No rating of {speaker} entered yet: what its cable loses cannot be told"
        check = check_of(
            "power.speaker-cable", "caution", said, "Its rated impedance, from its data sheet",
            (("speaker", path.speaker, ""),), key=f"speaker.{path.speaker}.rated", part=path.speaker,
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
        speaker_cable, length_m, load, size,
        None if speaker.motor is None or speaker.motor.Re is None else speaker.motor.Re.to("ohm"),
        resistance_of(source, ledger) * (2 if source.bridged else 1) + sum(map(_in_line_ohm, path.network)),
        "copper" if table is None else table.material, current_a=None if volts is None else volts / load,
        series=_series(job),
    )  # fmt: skip
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
