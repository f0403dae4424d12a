"""Chapters of the wires: supply, cables, fuses and gains; the harness, its plugs, lists and labels; what the vehicle had."""

from __future__ import annotations

from math import isinf
from typing import TYPE_CHECKING

from backwave.drawing.wiring import size_words
from backwave.finding import sentences
from backwave.notation.measures import in_words
from backwave.report.blocks import (
    Audience,
    Block,
    Cell,
    boxes,
    caution,
    cell,
    labels,
    listing,
    par,
    small,
    sub,
    table,
    together,
)

if TYPE_CHECKING:
    from backwave.assess import Wires
    from backwave.assess.inputs.factory import FactoryRecord, PairFound
    from backwave.assess.power.results import Channel, Harnessed
    from backwave.job import Job
    from backwave.job.gates import Gates

DEFERS = "Vehicle maker's service information, local codes and licensed practice come first."


def dangers(told: Audience, wires: Wires) -> list[Block]:
    """What can hurt, before anything is touched."""
    return [*(caution(sentences(one.check, told.system)) for one in wires.cautions), small(DEFERS)]


def supply(told: Audience, job: Job, wires: Wires) -> list[Block]:
    """Cables, grounds and fuses, and what the whole draws."""
    return [
        sub("Cables"), _tree(told, wires), *_as_built(told, wires), sub("Fuses"), _fuses(told, job, wires),
        sub("What it draws"), _budget(told, wires),
    ]  # fmt: skip


def _tree(told: Audience, wires: Wires) -> Block:
    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        cable, dash = node.cable, "– " * node.depth
        rows.append(
            [
                dash + told.name(node.id), told.name(node.parent) if node.parent else "battery", told.show(cable.current_a, "A"),
                told.show(cable.length_m, "m"), size_words(cable, told.system), told.show(cable.drop_v, "V"),
                told.show(cable.conductor_degc, "degC"),
            ]
        )  # fmt: skip
        rows += [
            [
                f"{dash}– {back.role} of {told.name(node.id)}", told.name(node.id), told.show(one.fuse_a, "A"),
                told.show(back.length_m, "m"), told.size(back.size), "", told.show(one.rating_degc, "degC"),
            ]
            for one in wires.protected
            if (back := one.conductor).subject == node.id and back.returns
        ]  # fmt: skip
    return table("cable to *1 | from *0.7 | sized for > | length > | size | drop > | conductor >", rows)


def _as_built(told: Audience, wires: Wires) -> list[Block]:
    """As designed beside as built, and what was measured; nothing where neither was recorded."""
    tests = [f for f in wires.findings if f.check.code in ("power.cable-test", "power.supply-test")]
    if wires.design == wires.tree and not tests:
        return []

    def said(subject: str) -> str:
        return " ".join(f"{told.say(f.check.title).rstrip('.')}." for f in tests if f.subject == subject)

    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        pair = (wires.design.node(node.id).cable, node.cable)
        both = [f"{told.size(one.size)}, {told.show(one.length_m, 'm')}" for one in pair]
        rows.append([told.name(node.id), *both, said(node.id) or "not measured"])
    head = "cable to *1 | as designed | as built | measured *2"
    return listing("As designed and as built", head, rows, *filter(None, (said("vehicle"),)))


def _fuses(told: Audience, job: Job, wires: Wires) -> Block:
    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        fuse, name = node.fuse, told.name(node.id)
        if not node.fitted:
            rows.append([name, "none", "", "the fuse before it protects it", "", ""])
            continue
        rating = "none will do" if fuse.rating_a is None else f"{fuse.rating_a:g} A"
        where = f"at {told.name(node.parent)}" if node.parent else "at the battery"
        breaks = f"{told.show(fuse.breaking_a, 'A')} / {told.show(node.prospective_a, 'A')}"
        kind = f"{fuse.style} {fuse.color}".strip()
        rows.append([cell(name, bold=True), cell(rating, bold=True), kind, where, breaks, fuse.standard])
    for load in job.file.load:
        for n, own in enumerate(load.fuses, 1):
            rows.append([f"{told.name(load.id)}, its own, {n}", own.text, "", "in the device", "", "the job"])
    return table("protects *1 | fuse > | kind | where *0.9 | breaks / short | by *1", rows)


def _budget(told: Audience, wires: Wires) -> Block:
    budget = wires.budget
    rows = [["with music", f"about {told.show(budget.musical_a, 'A')}"], ["at rated power", told.show(budget.rated_a, "A")]]  # fmt: skip
    for words, spare in (("idle", budget.idle_spare_a), ("speed", budget.speed_spare_a)):
        if spare is not None:
            rows.append([f"alternator at {words}", f"{told.show(spare, 'A')} to spare with music"])
    if budget.off_min is not None:
        until = f"{budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used"
        rows.append(["engine off", until])
    for peak in wires.peaks:
        for load in peak.loads:
            at = f"{told.show(load.volts, 'V')} at its terminals, {load.power_db:.1f} dB of output"
            rows.append([f"engine {peak.engine}, all at rated power", f"{told.name(load.name)}: {at}"])
    return table("*0.8 | what it comes to *1.6", rows)


def gain(told: Audience, one: Channel, gates: Gates) -> tuple[str, str]:
    """The test tone of an output and its voltage, which stands behind its gate."""
    target, volts = one.target, one.shown_v(gates)
    if target.test_tone_v is None or target.tone_hz is None:
        return "none", "by level against the woofers: no full-power tone into a tweeter"
    tone = f"{target.tone_hz:.0f} Hz at {target.tone_db:g} dB"
    return tone, f"{told.show(volts, 'V')}, a ceiling" if volts is not None else "not confirmed; measured: ________ V"


def gains(told: Audience, wires: Wires, gates: Gates) -> list[Block]:
    """Each output's gain behind its gate; nothing where no amplifier is rated."""
    if not wires.channels:
        return []
    rows: list[list[Cell]] = []
    for one in wires.channels:
        on = cell(", ".join(told.name(s) for s in one.speakers), *one.input_words())
        rows.append([cell(one.id, bold=True), on, told.show(one.target.load_ohm, "ohm"), *gain(told, one, gates)])
    first = wires.channels[0].target
    open_ = [one for one in wires.channels if one.shown_v(gates) is not None]
    steps = dict.fromkeys(told.say(step) for one in open_ for step in one.target.steps)
    return [
        sub("Gains, set with a voltmeter"),
        together(  # the gate stands on the page of what it guards
            [
                par("First, and every time:"),
                boxes([told.say(text) for text in first.gate]),
                table("output | on it *1.2 | load > | tone | voltage *1", rows),
            ]
        ),
        small("A voltage stands here once each line above was confirmed for its output: backwave pack --speakers-off, or backwave wire --speakers-off, asks them."),
        *([small("; ".join(steps) + ".")] if steps else []),
        small(" ".join(told.say(text).rstrip(".") + "." for text in first.notes)),
    ]  # fmt: skip


_GUESSED = (
    "A length in brackets was never measured and is taken, not known: run a string where the wire will go, "
    "enter its length in the job, and cut then."
)


def _length(told: Audience, meters: float, guessed: bool) -> str:
    return f"({told.show(meters, 'm', 2)})" if guessed else told.show(meters, "m", 2)


def schedule(told: Audience, made: Harnessed) -> list[Block]:
    """Every wire of the harness: what it joins, its color, length and size."""
    rows: list[list[Cell]] = [
        [
            cell(row.id, bold=True), row.from_pin, row.to_pin,
            cell(row.color or "not entered", row.color_words), _length(told, row.length_m, row.guessed),
            told.size(row.area_mm2), "" if row.fuse_a is None else f"{row.fuse_a:g} A",
            "hinge boot" if row.boot else "there already" if row.there else "",
        ]
        for row in made.schedule
    ]  # fmt: skip
    # a column that says nothing on any row is left out
    keep = [(name, at) for name, at in (("fuse", 6), ("where", 7)) if any(row[at] for row in rows)]
    head = " | ".join(
        ("wire | from *1.15 | to *1.15 | color (IEC 60757) *0.95 | length > | size", *(name for name, _ in keep))
    )
    rows = [[*row[:6], *(row[at] for _, at in keep)] for row in rows]
    return listing("Wire schedule", head, rows, *([_GUESSED] if any(row.guessed for row in made.schedule) else []))


def runs(told: Audience, made: Harnessed) -> list[Block]:
    """What each run to a speaker does; nothing where no driver is rated."""
    rows: list[list[Cell]] = [
        [
            cell(told.name(run.subject), bold=True), cell(told.name(run.speaker), f"on {run.output}"),
            cell(told.size(c.size), "there already" if run.there else ""), _length(told, c.length_m, c.guessed), told.show(c.loss_db, "dB", 2),
            "" if c.damping_factor is None else f"{c.damping_factor:.0f}", f"{100 * (c.low_pass_factor - 1):+.1f} %",
            told.size(c.least, "none will do"),
        ]
        for run in made.runs
        if (c := run.cable) is not None
    ]  # fmt: skip
    note = "Low-pass: by how much the corner of a crossover before the cable moves."
    head = "run to *1 | driver *1.2 | size | one way > | loss > | damping > | low-pass > | minimum"
    return listing("Runs to the speakers", head, rows, note)


def plugs(made: Harnessed) -> list[Block]:
    """Contact by contact what the kept plugs carry; the drawing of their faces says the same."""
    rows: list[list[Cell]] = []
    for plug in made.plugs:
        rows.append([plug.name])
        rows += [[pin.number, pin.words] for pin in plug.in_order]
    return listing("Factory plugs that are kept", "contact | carries *1", rows)


def cuts(told: Audience, made: Harnessed) -> list[Block]:
    """What to cut, by color and size."""
    rows: list[list[Cell]] = [
        [
            row.color or "no color entered", told.size(row.area_mm2),
            cell(", ".join(f"{wire} {told.show(meters, 'm', 2)}" for wire, meters in row.cuts), "measure first" if row.guessed else ""),
            _length(told, row.total_m, row.guessed),
        ]
        for row in made.cuts
    ]  # fmt: skip
    cut = in_words("cut, with 50 mm at each end and 100 mm through a hinge boot", told.system)
    return listing("What to cut", f"color | size | {cut} *1 | in all >", rows)


def labels_of(made: Harnessed) -> list[Block]:
    """Two labels a wire."""
    how = "cut out, fold round the wire, cover with clear tape. What stands large is the wire; under it the pin at this end, then the pin at the other."
    rows = [(row.wire, row.here, f"from {row.there}") for row in made.labels]
    return [sub("Labels"), small(f"Two a wire, one for each end: {how}"), labels(rows)]


def entered(told: Audience, job: Job) -> list[Block]:
    """The wires a person named, where no harness could be made of them; nothing where nobody named any."""
    rows: list[list[Cell]] = [
        [w.id, w.from_, w.to, str(w.color or ""), "" if w.length is None else told.show(w.length.to("m"), "m")]
        for w in job.file.wire
    ]
    words = "They do not fit the paths of the last stage; the findings say which."
    return [par(words), table("wire | from *1 | to *1 | color (IEC 60757) *0.8 | length >", rows)] if rows else []


NEVER = (
    "Nothing here was inferred from a resistance alone: an igniter of an airbag or a belt tensioner reads like a speaker. "
    "Yellow wires and airbag connectors are nobody's to measure."
)


def factory(told: Audience, found: FactoryRecord) -> list[Block]:
    """What was found of the vehicle's own wires and of its system."""
    head = "pair *1 | colors (IEC 60757) *0.8 | what it is *1.4 | coil *0.6 | gate *0.8"
    pairs = listing("Pairs", head, [_pair(told, pair) for pair in found.pairs])
    return [small(NEVER), *pairs, *outputs(told, found)]


def _pair(told: Audience, pair: PairFound) -> list[Cell]:
    row, coil = pair.table, pair.says.coil_ohm
    ohm = "" if coil is None else "open" if isinf(coil) else told.show(coil, "ohm")
    gate = "confirmed" if not pair.missing else f"not confirmed: {len(pair.missing)} of its lines"
    return [
        cell(row.id, told.name(pair.subject), bold=True), " and ".join(map(str, row.colors or ())) or "not entered",
        told.say(pair.says.checks[0].title), cell(ohm or "not read", pair.says.coil if ohm else ""), gate,
    ]  # fmt: skip


def outputs(told: Audience, found: FactoryRecord) -> list[Block]:
    """What each output of the factory system does, and what must sound at hand-over."""
    rows: list[list[Cell]] = []
    for one in found.outputs:
        place = f"{one.opening}.{one.side}" if one.opening and one.side else one.opening or ""
        band = "" if one.band is None else " to ".join(told.show(f.to("Hz"), "Hz") for f in one.band)
        tied = {True: "both swing", False: "one is ground", None: "not looked at"}[one.bridge_tied]
        volts, direct = ("" if v is None else told.show(v.to("V"), "V") for v in (one.loudest, one.offset))
        rows.append(
            [
                cell(one.id, told.name(place) if place else "", bold=True), told.name(one.into) if one.into else "keeps its speaker",
                band or "not looked at", cell(volts, one.loud_at), direct,
                "" if one.rated is None else told.show(one.rated.to("ohm"), "ohm"), tied,
            ]
        )  # fmt: skip
    head = "output *1.1 | goes into *0.9 | band *0.9 | loudest > | direct current > | load > | its two wires *0.9"
    blocks = listing("Outputs of the system", head, rows)
    if found.system is not None:
        sounds = [f"{what} ({pair})" if pair else what for what, pair in found.system.must_sound]
        blocks.append(par(f"What has to sound at hand-over: {', '.join(sounds) or 'not entered yet'}."))
    return blocks
