"""Chapters of the wires: supply, cables, fuses and gains; what the vehicle had; the harness, its plugs, lists and labels."""

from __future__ import annotations

from math import isinf

from backwave.assess import Wires
from backwave.assess.power.results import Harnessed
from backwave.dossier.context import (
    Block,
    Cell,
    Chapter,
    PageContext,
    boxes,
    cell,
    figure,
    kept,
    labels,
    par,
    small,
    sub,
    table,
    together,
    wide,
)
from backwave.drawing.harness import harness_pages
from backwave.drawing.wiring import faces_svg, size_words, supply_svg
from backwave.notation.measures import in_words, wire_size


def supply(told: PageContext) -> Chapter | None:
    """Supply, cables, fuses, grounds, gains; None where nothing draws current."""
    wires = told.result.wires
    if wires is None:
        return None
    chapter = Chapter("Supply, fuses, gains", flow=True)
    svg = kept(supply_svg, wires, "", "paper", system=told.system)
    chapter.draw("supply", svg, share=told.share(svg, 0.3))
    chapter.blocks += [sub("Cables"), _tree(told, wires), *_as_built(told, wires)]
    chapter.blocks += [sub("Fuses"), _fuses(told, wires), *_budget(told, wires)]
    if wires.channels:
        chapter.blocks += _gains(told, wires)
    return chapter


def _tree(told: PageContext, wires: Wires) -> Block:
    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        cable = node.cable
        rows.append(
            [
                ("– " * node.depth) + told.name(node.id), told.name(node.parent) if node.parent else "battery",
                told.show(cable.current_a, "A"), told.show(cable.length_m, "m"), size_words(cable, told.system),
                told.show(cable.drop_v, "V"), told.show(cable.conductor_degc, "degC"),
            ]
        )  # fmt: skip
        rows += _ground(told, wires, node.id, node.depth)
    head = {"cable to": 1, "from": 0.7, "sized for": 0, "length": 0, "size": 0, "drop": 0, "conductor": 0}
    return table(head, rows, right=(2, 3, 5, 6))


def _as_built(told: PageContext, wires: Wires) -> list[Block]:
    """As designed beside as built, and what was measured; nothing where neither was recorded."""
    tests = [f for f in wires.findings if f.check.code in ("power.cable-test", "power.supply-test")]
    if wires.design == wires.tree and not tests:
        return []
    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        plan = wires.design.node(node.id).cable
        mine = [f.check for f in tests if f.subject == node.id]
        rows.append(
            [
                told.name(node.id), f"{wire_size(plan.size, told.system)}, {told.show(plan.length_m, 'm')}",
                f"{wire_size(node.cable.size, told.system)}, {told.show(node.cable.length_m, 'm')}",
                " ".join(f"{told.say(c.title).rstrip('.')}." for c in mine) or "not measured",
            ]
        )  # fmt: skip
    found = [
        sub("As designed and as built"),
        table({"cable to": 1, "as designed": 0, "as built": 0, "measured": 2}, rows, tight=True),
    ]
    whole = " ".join(f"{told.say(f.check.title).rstrip('.')}." for f in tests if f.subject == "vehicle")
    return [*found, small(whole)] if tests else found


def _ground(told: PageContext, wires: Wires, branch: str, depth: int) -> list[list[Cell]]:
    """The row of a branch's ground or return, under its feed."""
    return [
        [
            "– " * (depth + 1) + f"{one.conductor.role} of {told.name(branch)}", told.name(branch), told.show(one.fuse_a, "A"),
            told.show(one.conductor.length_m, "m"), wire_size(one.conductor.size, told.system), "", told.show(one.rating_degc, "degC"),
        ]
        for one in wires.protected
        if one.conductor.subject == branch and one.conductor.returns
    ]  # fmt: skip


def _fuses(told: PageContext, wires: Wires) -> Block:
    rows: list[list[Cell]] = []
    for node in wires.tree.nodes:
        fuse = node.fuse
        if node.fitted:
            rating = "none will do" if fuse.rating_a is None else f"{fuse.rating_a:g} A"
            where = "at the battery" if not node.parent else f"at {told.name(node.parent)}"
            rows.append(
                [
                    cell(told.name(node.id), bold=True), cell(rating, bold=True), f"{fuse.style} {fuse.color}".strip(),
                    where, f"{told.show(fuse.breaking_a, 'A')} / {told.show(node.prospective_a, 'A')}", fuse.standard,
                ]
            )  # fmt: skip
        else:
            rows.append([told.name(node.id), "none", "", "the fuse before it protects it", "", ""])
    for load in told.job.file.load:
        for n, own in enumerate(load.fuses, 1):
            rows.append([f"{told.name(load.id)}, its own, {n}", own.text, "", "in the device", "", "the job"])
    head = {"protects": 1, "fuse": 0, "kind": 0, "where": 0.9, "breaks / short": 0, "by": 1}
    return table(head, rows, right=(1,), tight=True)


def _budget(told: PageContext, wires: Wires) -> list[Block]:
    budget = wires.budget
    rows: list[tuple[str, Cell]] = [
        ("draws with music", f"about {told.show(budget.musical_a, 'A')}"),
        ("draws at rated power", told.show(budget.rated_a, "A")),
    ]
    for words, spare in (("idle", budget.idle_spare_a), ("speed", budget.speed_spare_a)):
        if spare is not None:
            rows.append((f"alternator at {words}", f"{told.show(spare, 'A')} to spare with music"))
    if budget.off_min is not None:
        until = f"{budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used"
        rows.append(("engine off", until))
    for peak in wires.peaks:
        for load in peak.loads:
            at = f"{told.show(load.volts, 'V')} at its terminals, {load.power_db:.1f} dB of output"
            rows.append((f"engine {peak.engine}, all at rated power", f"{told.name(load.name)}: {at}"))
    return [sub("What it draws"), table({"": 0.8, "what it comes to": 1.6}, [list(row) for row in rows], tight=True)]


def _gains(told: PageContext, wires: Wires) -> list[Block]:
    rows: list[list[Cell]] = []
    for one in wires.channels:
        target = one.target
        if target.test_tone_v is None or target.tone_hz is None:
            tone, volts = "none", "by level against the woofers: no full-power tone into a tweeter"
        else:
            tone, shown = f"{target.tone_hz:.0f} Hz at {target.tone_db:g} dB", one.shown_v(told.job.gates)
            volts = "not confirmed; measured: ________ V" if shown is None else f"{told.show(shown, 'V')}, a ceiling"
        speakers = ", ".join(told.name(s) for s in one.speakers)
        rows.append([cell(one.id, bold=True), speakers, told.show(target.load_ohm, "ohm"), tone, volts])
    first = wires.channels[0].target
    open_ = [one for one in wires.channels if one.shown_v(told.job.gates) is not None]
    steps = dict.fromkeys(told.say(step) for one in open_ for step in one.target.steps)
    return [
        sub("Gains"),
        together(  # the gate stands on the page of what it guards
            [
                par("First, and every time:"),
                boxes([told.say(text) for text in first.gate]),
                table({"output": 0, "on it": 1.2, "load": 0, "tone": 0, "voltage": 1}, rows, right=(2,)),
            ]
        ),
        small("A voltage stands here once each line above was confirmed for its output: backwave pack --speakers-off, or backwave wire --speakers-off, asks them."),
        *([small("; ".join(steps) + ".")] if steps else []),
        small(" ".join(told.say(text).rstrip(".") + "." for text in first.notes)),
    ]  # fmt: skip


def harness(told: PageContext) -> Chapter | None:
    """The harness of the last stage, or the wires that make none; None without either."""
    made = told.result.harness
    if made is None or not made.harness.wires:
        return _entered(told)
    chapter = Chapter("Harness: what goes to what")
    _diagram(told, chapter, made)
    chapter.blocks += _found(told, made)
    chapter.blocks += [sub("Wire schedule"), _schedule(told, made)]
    if any(row.guessed for row in made.schedule):
        chapter.blocks.append(small(_GUESSED))
    if made.plugs:
        faces = kept(faces_svg, made.plugs, "Factory plugs that are kept", "paper")
        chapter.draw("plugs", faces, share=told.share(faces, 0.8))
    chapter.blocks += [*_runs(told, made), sub("What to cut"), *_cuts(told, made)]
    chapter.blocks += [
        sub("Labels"),
        small("Two a wire, one for each end: cut out, fold round the wire, cover with clear tape. What stands large is the wire; under it the pin at this end, then the pin at the other."),
        labels([(row.wire, row.here, f"from {row.there}") for row in made.labels]),
    ]  # fmt: skip
    return chapter


def _diagram(told: PageContext, chapter: Chapter, made: Harnessed) -> None:
    """On one upright page where it can be read there, else on as many as it takes that lie on their side."""
    width, height, words = *told.text_mm, "of the last stage; pins as on the devices"
    pages = kept(harness_pages, made, words, width, 0.82 * height)
    if len(pages) == 1:
        chapter.draw("harness0", pages[0].svg, share=pages[0].width_mm / width)
        return
    width, height = told.wide_mm
    for n, page in enumerate(kept(harness_pages, made, words, width, height - 24.0)):  # below title and caption
        chapter.pictures[f"harness{n}.svg"] = page.svg
        chapter.blocks.append(wide([figure(f"harness{n}.svg", page.caption, page.width_mm / width)]))


_GUESSED = (
    "A length in brackets was never measured and is taken, not known: run a string where the wire will go, "
    "enter its length in the job, and cut then."
)


def _found(told: PageContext, made: Harnessed) -> list[Block]:
    """What is to be looked at in it, with what to do."""
    rows: list[list[Cell]] = [
        [cell(mark=f.check.verdict), cell(told.say(f.check.title), f"→ {told.say(f.check.remedy)}" if f.check.remedy else "")]
        for f in made.findings
        if f.check.verdict != "ok"
    ]  # fmt: skip
    return [table({"": 0, "to look at": 1}, rows, tight=True)] if rows else []


def _length(told: PageContext, meters: float, guessed: bool) -> str:
    return f"({told.show(meters, 'm', 2)})" if guessed else told.show(meters, "m", 2)


def _schedule(told: PageContext, made: Harnessed) -> Block:
    rows: list[list[Cell]] = [
        [
            cell(row.id, bold=True), row.from_pin, row.to_pin,
            cell(row.color or "not said", row.color_words), _length(told, row.length_m, row.guessed),
            wire_size(row.area_mm2, told.system) or "not chosen", "" if row.fuse_a is None else f"{row.fuse_a:g} A",
            "hinge boot" if row.boot else "there already" if row.there else "",
        ]
        for row in made.schedule
    ]  # fmt: skip
    head = {"wire": 0.0, "from": 1.15, "to": 1.15, "color (IEC 60757)": 0.95, "length": 0.0, "size": 0.0}
    # a column that says nothing on any row is left out
    last = [("fuse", 6), ("where", 7)]
    keep = [name_at for name_at in last if any(row[name_at[1]] for row in rows)]
    head |= {name: 0.0 for name, _ in keep}
    rows = [[*row[:6], *(row[k] for _, k in keep)] for row in rows]
    return table(head, rows, right=(4,), tight=True)


def _runs(told: PageContext, made: Harnessed) -> list[Block]:
    """What each run to a speaker does."""
    rows: list[list[Cell]] = [
        [
            cell(told.name(run.subject), bold=True), cell(told.name(run.speaker), f"on {run.output}"),
            wire_size(c.size, told.system), _length(told, c.length_m, c.guessed), told.show(c.loss_db, "dB", 2),
            "" if c.damping_factor is None else f"{c.damping_factor:.0f}", wire_size(c.least, told.system) or "none will do",
        ]
        for run in made.runs
        if (c := run.cable) is not None
    ]  # fmt: skip
    head = {"run to": 1.0, "driver": 1.2, "size": 0.0, "one way": 0.0, "loss": 0.0, "damping": 0.0, "thinnest": 0.0}
    return [sub("Runs to the speakers"), table(head, rows, right=(3, 4, 5), tight=True)] if rows else []


def factory(told: PageContext) -> Chapter | None:
    """What was found of the vehicle's own wires and of its system; None where nobody recorded any."""
    found = told.result.factory
    if found is None:
        return None
    chapter = Chapter("What the vehicle had: wires and system", [small(_NEVER)], flow=True)
    rows: list[list[Cell]] = []
    for pair in found.pairs:
        row, says = pair.table, pair.says
        first, second = row.colors or ("", "")
        plus = {"a": str(first or "the first"), "b": str(second or "the second")}.get(says.plus, "cannot tell")
        ohm = "" if says.coil_ohm is None else "open" if isinf(says.coil_ohm) else told.show(says.coil_ohm, "ohm")
        gate = "confirmed" if not pair.missing else f"not confirmed: {len(pair.missing)} of its lines"
        rows.append(
            [
                cell(row.id, told.name(pair.subject), bold=True), " and ".join(map(str, row.colors or ())) or "not said",
                plus, cell(ohm or "not read", says.coil if ohm else ""), gate,
            ]
        )  # fmt: skip
    if rows:
        head = {"pair": 1.0, "colors (IEC 60757)": 1.0, "plus is": 0.7, "coil": 0.7, "gate": 0.9}
        chapter.blocks += [sub("Pairs"), table(head, rows, tight=True)]
    rows = []
    for one in found.outputs:
        place = f"{one.opening}.{one.side}" if one.opening and one.side else one.opening or ""
        band = "" if one.band is None else " to ".join(told.show(f.to("Hz"), "Hz") for f in one.band)
        tied = {True: "bridge-tied", False: "one side is ground", None: "not looked at"}[one.bridge_tied]
        rows.append(
            [
                cell(one.id, told.name(place) if place else "", bold=True), told.name(one.into) if one.into else "keeps its speaker",
                band or "not looked at", "" if one.loudest is None else told.show(one.loudest.to("V"), "V"),
                "" if one.offset is None else told.show(one.offset.to("V"), "V"), tied,
            ]
        )  # fmt: skip
    if rows:
        head = {"output": 1.1, "goes into": 0.9, "band": 0.9}
        head |= {"loudest": 0.0, "direct current": 0.0, "its two wires": 0.9}
        chapter.blocks += [sub("Outputs of the system"), table(head, rows, right=(3, 4), tight=True)]
    sounds = [one.what for one in (told.job.file.factory_system.must_sound if told.job.file.factory_system else ())]
    if sounds:
        chapter.blocks.append(par("What has to sound at hand-over: " + ", ".join(sounds) + "."))
    return chapter


_NEVER = (
    "Nothing here was inferred from a resistance alone: an igniter of an airbag or a belt tensioner reads like a speaker. "
    "Yellow wires and airbag connectors are nobody's to measure."
)


def _cuts(told: PageContext, made: Harnessed) -> list[Block]:
    rows: list[list[Cell]] = [
        [
            row.color or "no color said", wire_size(row.area_mm2, told.system) or "not chosen",
            ", ".join(f"{wire} {told.show(meters, 'm', 2)}" for wire, meters in row.cuts),
            _length(told, row.total_m, row.guessed),
        ]
        for row in made.cuts
    ]  # fmt: skip
    cut = in_words("cut, with 50 mm at each end and 100 mm through a hinge boot", told.system)
    head = {"color": 0.0, "size": 0.0, cut: 1.0, "in all": 0.0}
    return [table(head, rows, right=(3,), tight=True)]


def _entered(told: PageContext) -> Chapter | None:
    """The wires a person named, where no harness could be made of them."""
    rows: list[list[Cell]] = [
        [w.id, w.from_, w.to, str(w.color or ""), "" if w.length is None else told.show(w.length.to("m"), "m")]
        for w in told.job.file.wire
    ]
    if not rows:
        return None
    head = {"wire": 0.0, "from": 1.0, "to": 1.0, "color (IEC 60757)": 0.8, "length": 0.0}
    words = "They do not fit the paths of the last stage; the findings say which."
    return Chapter("Wires as entered", [par(words), table(head, rows, right=(4,))], flow=True)
