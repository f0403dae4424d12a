"""The chapter of the supply: the tree, cables, fuses, what is drawn, gains behind their gate."""

from __future__ import annotations

from backwave.dossier.blocks import Block, Cell, Chapter, boxes, cell, par, small, sub, table, together
from backwave.dossier.context import PageContext
from backwave.dossier.page_cache import kept
from backwave.drawing.supply import size_words, supply_svg
from backwave.notation.measures import wire_size


def supply(told: PageContext) -> Chapter | None:
    """Supply, cables, fuses, grounds, gains; None where nothing draws current."""
    wires = told.result.wires
    if wires is None:
        return None
    chapter = Chapter("Supply, fuses, gains", flow=True)
    svg = kept(supply_svg, wires, "", "paper", system=told.system)
    chapter.draw("supply", svg, share=told.share(svg, 0.3))
    chapter.blocks += [sub("Cables"), _tree(told), *_as_built(told), sub("Fuses"), _fuses(told), *_budget(told)]
    if wires.channels:
        chapter.blocks += _gains(told)
    return chapter


def _tree(told: PageContext) -> Block:
    assert told.result.wires is not None
    rows: list[list[Cell]] = []
    for node in told.result.wires.tree.nodes:
        cable = node.cable
        size = size_words(cable, told.system)
        rows.append(
            [
                ("– " * node.depth) + told.name(node.id),
                told.name(node.parent) if node.parent else "battery",
                told.show(cable.current_a, "A"),
                told.show(cable.length_m, "m"),
                size,
                told.show(cable.drop_v, "V"),
                told.show(cable.conductor_degc, "degC"),
            ]
        )
        rows += _ground(told, node.id, node.depth)
    head = {"cable to": 1, "from": 0.7, "sized for": 0, "length": 0, "size": 0, "drop": 0, "conductor": 0}
    return table(head, rows, right=(2, 3, 5, 6))


def _as_built(told: PageContext) -> list[Block]:
    """As designed beside as built, and what was measured; nothing where neither was recorded."""
    wires = told.result.wires
    assert wires is not None
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
    whole = [small(" ".join(f"{told.say(f.check.title).rstrip('.')}." for f in tests if f.subject == "vehicle"))]
    head = {"cable to": 1, "as designed": 0, "as built": 0, "measured": 2}
    return [sub("As designed and as built"), table(head, rows, tight=True), *(whole if tests else [])]


def _ground(told: PageContext, branch: str, depth: int) -> list[list[Cell]]:
    """The row of a branch's ground or return, under its feed."""
    assert told.result.wires is not None
    return [
        [
            "– " * (depth + 1) + f"{one.conductor.role} of {told.name(branch)}", told.name(branch), told.show(one.fuse_a, "A"),
            told.show(one.conductor.length_m, "m"), wire_size(one.conductor.size, told.system), "", told.show(one.rating_degc, "degC"),
        ]
        for one in told.result.wires.protected
        if one.conductor.subject == branch and one.conductor.returns
    ]  # fmt: skip


def _fuses(told: PageContext) -> Block:
    assert told.result.wires is not None
    rows: list[list[Cell]] = []
    for node in told.result.wires.tree.nodes:
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


def _budget(told: PageContext) -> list[Block]:
    wires = told.result.wires
    assert wires is not None
    budget = wires.budget
    rows: list[tuple[str, Cell]] = [
        ("draws with music", f"about {told.show(budget.musical_a, 'A')}"),
        ("draws at rated power", told.show(budget.rated_a, "A")),
    ]
    for words, spare in (("idle", budget.idle_spare_a), ("speed", budget.speed_spare_a)):
        if spare is not None:
            rows.append((f"alternator at {words}", f"{told.show(spare, 'A')} to spare with music"))
    if budget.off_min is not None:
        rows.append(
            ("engine off", f"{budget.off_min:.0f} minutes until {100 * budget.depth:.0f} % of the battery is used")
        )
    rows += [
        (
            f"engine {peak.engine}, all at rated power",
            f"{told.name(load.name)}: {told.show(load.volts, 'V')} at its terminals, {load.power_db:.1f} dB of output",
        )
        for peak in wires.peaks
        for load in peak.loads
    ]
    return [sub("What it draws"), table({"": 0.8, "what it comes to": 1.6}, [list(row) for row in rows], tight=True)]


def _gains(told: PageContext) -> list[Block]:
    wires = told.result.wires
    assert wires is not None
    rows: list[list[Cell]] = []
    for one in wires.channels:
        target = one.target
        if target.test_tone_v is None or target.tone_hz is None:
            tone, volts = "none", "by level against the woofers: no full-power tone into a tweeter"
        else:
            tone = f"{target.tone_hz:.0f} Hz at {target.tone_db:g} dB"
            volts = (
                f"{told.show(shown, 'V')}, a ceiling"
                if (shown := one.shown_v(told.job.gates)) is not None
                else "not confirmed; measured: ________ V"
            )
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
