"""Chapters of sound and supply: supply tree, fuses, gains, wires; stage settings and what was predicted."""

from __future__ import annotations

from typing import Any

from backwave.assess import band_levels, charts
from backwave.assess.sound_charts import file_name
from backwave.assess.wires import supply_view
from backwave.dossier.block import Cell, Chapter, boxes, cell, facts, pair, par, small, sub, table
from backwave.dossier.told import Told
from backwave.drawing import chart_svg, supply_svg
from backwave.files.pdf import svg_size_mm

__all__ = ["before_after", "predicted", "settings", "supply"]


def supply(told: Told) -> Chapter | None:
    """Supply, cables, fuses, grounds, gains, wires as entered; None where there is none of it."""
    wires, file = told.result.wires, told.job.file
    if wires is None and not file.wire:
        return None
    chapter = Chapter("Supply, fuses, gains, wires")
    if wires is not None:
        svg = supply_svg(supply_view(wires, told.result.title, told.system), "paper")
        _, high = svg_size_mm(svg, 173.0)
        chapter.draw("supply", svg, share=min(1.0, 110.0 / high))
        chapter.blocks += [sub("Cables"), _tree(told), sub("Fuses"), _fuses(told), *_budget(told)]
        if wires.channels:
            chapter.blocks += _gains(told)
    if file.wire:
        rows = [
            [w.id, w.from_, w.to, w.color or "", "" if w.length is None else told.show(w.length.to("m"), "m")]
            for w in file.wire
        ]
        chapter.blocks += [
            sub("Wires as entered"),
            table({"wire": 0, "from": 1, "to": 1, "color (IEC 60757)": 0.8, "length": 0}, rows, right=(4,)),
        ]
    return chapter


def _tree(told: Told) -> dict[str, Any]:
    assert told.result.wires is not None
    rows = []
    for node in told.result.wires.tree.nodes:
        cable = node.cable
        size = cable.size.replace("mm2", "mm²") or "none will do"
        size += f" (AWG {cable.awg})" if cable.awg and "AWG" not in cable.size else ""
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
    head = {"cable to": 1, "from": 0.7, "laid out for": 0, "length": 0, "size": 0, "drop": 0, "conductor": 0}
    return table(head, rows, right=(2, 3, 5, 6))


def _fuses(told: Told) -> dict[str, Any]:
    assert told.result.wires is not None
    rows: list[list[Cell]] = []
    for node in told.result.wires.tree.nodes:
        fuse = node.fuse
        if node.needed:
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


def _budget(told: Told) -> list[dict[str, Any]]:
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
    return [sub("What it draws"), facts(rows, 52)]


def _gains(told: Told) -> list[dict[str, Any]]:
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
                f"{told.show(target.test_tone_v, 'V')}, a ceiling"
                if told.speakers_off
                else "not confirmed; measured: ________ V"
            )
        speakers = ", ".join(told.name(s) for s in one.speakers)
        rows.append([cell(one.id, bold=True), speakers, told.show(target.load_ohm, "ohm"), tone, volts])
    first = wires.channels[0].target
    return [
        {"kind": "break"},  # the gate stands on the page of what it guards
        sub("Gains"),
        par("First, and every time:"),
        boxes([told.say(text) for text in first.gate]),
        table({"output": 0, "on it": 1.2, "load": 0, "tone": 0, "voltage": 1}, rows, right=(2,)),
        *([] if told.speakers_off else [small("The voltage is shown once the lines above are confirmed: backwave pack --speakers-off, or backwave wire --speakers-off.")]),
        small(" ".join(told.say(text).rstrip(".") + "." for text in first.notes)),
    ]  # fmt: skip


def settings(told: Told) -> Chapter | None:
    """Each stage with the settings of its paths; None where the job has no stage."""
    if not told.job.file.stage:
        return None
    chapter = Chapter("Settings, stage by stage")
    for stage in told.job.file.stage:
        chapter.blocks.append(sub(stage.title or stage.id))
        rows: list[list[Cell]] = []
        for path in stage.path:
            where = told.name(f"{path.opening}.{path.side}" if path.side else path.opening or path.box or "")
            sides = next((o.sides for o in told.job.file.opening if o.id == path.opening), ())
            where += ", both sides" if path.side is None and len(sides) > 1 else ""
            lines = ["; ".join(path.network), "; ".join(path.filters)]
            level = [] if path.gain is None else [f"gain {path.gain.text}"]
            level += [] if path.delay is None else [f"delay {path.delay.text}"]
            level += ["polarity reversed"] if path.polarity < 0 else []
            rows.append(
                [
                    f"{told.name(path.source)} {path.channel}",
                    cell(where, told.name(path.speaker)),
                    cell("", *lines),
                    ", ".join(level),
                ]
            )
        chapter.blocks.append(
            table({"output": 0.8, "place and driver": 1.1, "network; filters": 1.6, "set": 0.8}, rows, tight=True)
        )
        if not stage.path:
            chapter.blocks.append(par("No path yet."))
    return chapter


def predicted(told: Told) -> Chapter | None:
    """What each stage will bring; None where nothing can be predicted."""
    made = told.result.prediction
    if made is None:
        return None
    chapter = Chapter("What each stage brings, as predicted")
    names, levels = band_levels(made)
    rows = [
        [title, *(f"{level:.0f} ± {half:.0f}" for level, half in cells), f"{loudest:.0f}", cause]
        for title, cells, loudest, cause in levels
    ]
    right = tuple(range(1, len(names) + 2))
    head = {"stage": 1.3, **dict.fromkeys(names, 0.0), "loudest": 0.0, "held back by": 1.0}
    chapter.blocks.append(table(head, rows, right=right, tight=True))
    chapter.blocks.append(
        small(
            "dB at 2.83 V on every channel, mean of each band, ± 95 %; loudest: mid-bass, at its first limit. A "
            "prediction is a model's word, not a reading."
        )
    )
    worth = [one for one in made.worth if one.kind != "polarity"]
    if worth:
        rows = [
            [told.say(one.title), *(f"{b.delta:+.1f} ({b.low:+.1f} {b.high:+.1f})" for _, b in one.bands)]
            for one in worth
        ]
        chapter.blocks += [
            sub("What each step is worth"),
            table({"": 1, **dict.fromkeys(names, 0.0)}, rows, right=tuple(range(1, len(names) + 1)), tight=True),
            small("Difference in dB; in brackets the ends between which it lies with 95 %."),
        ]
    drawn = charts(made)
    keys = {name: f"chart{n}" for n, name in enumerate(drawn)}
    for name, chart in drawn.items():
        if name.startswith(("response-", "loudest-")):
            chapter.draw(keys[name], chart_svg(chart, "paper"), share=0.84)
    for one in made.stages:
        both = [n for n in drawn if n in (f"excursion-{file_name(one.id)}", f"impedance-{file_name(one.id)}")]
        chapter.pictures |= {keys[n]: chart_svg(drawn[n], "paper", compact=True) for n in both}
        chapter.blocks.append(pair(*(keys[n] for n in both)))
    return chapter


def before_after(told: Told) -> Chapter | None:
    """The readings that were taken; None where there is none."""
    readings = told.job.file.reading
    if not readings:
        return None
    rows = [[r.file, told.name(r.stage) if r.stage else "", r.seat or ""] for r in readings]
    return Chapter(
        "Before and after",
        [
            par("Recordings that belong to this job; each is turned into a response with backwave read."),
            table({"file": 1.4, "stage": 1, "seat": 0.6}, rows),
        ],
    )
