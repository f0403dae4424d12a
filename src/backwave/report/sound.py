"""Chapters of sound: each stage's settings, what it will bring and what each step is worth, a network that was designed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from backwave.report.blocks import Audience, Block, Cell, cell, listing, par, signed, small, stacked, sub, table

if TYPE_CHECKING:
    from backwave.assess import Comparison, Prediction
    from backwave.assess.sound.design import DesignedBox, DesignedNetwork
    from backwave.job import Job


def settings(told: Audience, job: Job) -> list[Block]:
    """Each stage with the settings of its paths; nothing where the job has no stage."""
    blocks = []
    for stage in job.file.stage:
        rows: list[list[Cell]] = []
        for path in stage.path:
            where = told.name(f"{path.opening}.{path.side}" if path.side else path.opening or path.box or "")
            sides = next((o.sides for o in job.file.opening if o.id == path.opening), ())
            where += ", both sides" if path.side is None and len(sides) > 1 else ""
            level = [] if path.gain is None else [f"gain {path.gain.text}"]
            level += [] if path.delay is None else [f"delay {path.delay.text}"]
            level += ["polarity reversed"] if path.polarity < 0 else []
            rows.append(
                [
                    f"{told.name(path.source)} {path.channel}", cell(where, told.name(path.speaker)),
                    stacked([*map(str, path.network)]), stacked([*map(str, path.filters)]), stacked(level),
                ]
            )  # fmt: skip
        head = "output *0.7 | place and driver *1.1 | network, from the output on *1.2 | filters *0.9 | set *0.7"
        blocks += [sub(stage.title or stage.id), table(head, rows), *([] if rows else [par("No path yet.")])]
    return blocks


def cause(told: Audience, kind: str) -> str:
    """What limits a stage, and where: "clip, front-door.left/demo-165" in a person's words."""
    what, _, voice = kind.partition(", ")
    words = {"clip": "the output clips", "excursion": "the cone's travel", "heat": "heat in the coil"}
    return f"{words.get(what, what)}, {told.name(voice.partition('/')[0])}"


Levels = tuple[tuple[str, ...], list[tuple[str, list[tuple[float, float]], float, str]]]


def levels(told: Audience, seat: str, found: Levels) -> list[Block]:
    """Band by band what each stage will bring at the first seat. `found`: as `band_levels` has it."""
    names, stages = found
    rows: list[list[Cell]] = [
        [title, *(f"{level:.0f} ± {half:.0f}" for level, half in cells), f"{loudest:.0f}", cause(told, kind)]
        for title, cells, loudest, kind in stages
    ]
    head = " | ".join(("stage *1.3", *(f"{name} >" for name in names), "loudest > | limited by *1"))
    note = "dB at 2.83 V on every channel, mean of each band, ± 95 %; loudest: mid-bass, at its first limit. A prediction is a model's word, not a reading."
    return listing(f"Stage by stage at the {seat} seat", head, rows, note)


def worth(told: Audience, names: Iterable[str], found: Iterable[Comparison]) -> list[Block]:
    """What each step is worth; nothing where there is none. What a polarity is worth stands among the findings."""
    steps = [one for one in found if one.kind != "polarity"]
    rows = [
        [told.say(one.title), *(cell(signed(b.delta), f"{signed(b.low)} … {signed(b.high)}") for _, b in one.bands)]
        for one in steps
    ]
    relieving = [one for one in steps if one.kind == "high-pass"]
    notes = [f"{told.say(one.title)}: {line}" for one in relieving for line in relief(told, one)]
    note = "Difference in dB, mean of each band at the first seat; under it the ends between which it lies with 95 %."
    return listing(
        "What each step is worth", " | ".join(("step *1", *(f"{name} >" for name in names))), rows, note, *notes
    )


def relief(told: Audience, one: Comparison) -> list[str]:
    """What a step does to the travel of each cone it moves."""
    return [
        f"{told.name(name.partition('/')[0])}: the cone moves {told.show(r.after_mm, 'mm')} instead of "
        f"{told.show(r.before_mm, 'mm')} for the same volts, {abs(r.db):.0f} dB {'less' if r.after_mm < r.before_mm else 'more'}."
        for name, r in one.reliefs
        if abs(r.db) > 0.5
    ]


def predicted(told: Audience, made: Prediction) -> list[Block]:
    """What each stage will bring, and what each step is worth as far as that is worked out."""
    from backwave.assess import band_levels

    found = band_levels(made)
    return [*levels(told, made.cabin.seats[0], found), *worth(told, found[0], made.worth)]


def network(told: Audience, one: DesignedNetwork) -> list[Block]:
    """A network with what it does and what its parts have to stand."""
    quoted = ", ".join(f'"{text}"' for text in one.written)
    blocks = [
        sub(f"{one.path}: {one.kind}, from source to speaker"),
        par(f"network = [{quoted}]"),
        small("Coils: air, least wire (Brooks), copper at room temperature; as it goes into the job."),
    ]
    for load, where in ((one.ideal, "Into the textbook's resistor"), (one.real, "Into this driver in this place")):
        reached = "never" if load.reached_hz is None else told.show(load.reached_hz, "Hz")
        least = f"{told.show(load.least_ohm, 'ohm')} or more, least at {told.show(load.least_at_hz, 'Hz')}"
        blocks.append(par(f"{where}: {load.down_db:.0f} dB down at {reached}; the source sees {least}."))
    wide = float((one.real.high - one.real.low).max())
    rows = [
        [s.name, told.show(s.amps, "A"), told.show(s.volts, "V"),
         *(("", "") if s.part.kind == "C" else (told.show(s.watts, "W"), told.show(s.music_watts, "W"))), told.show(s.at_hz, "Hz")]
        for s in one.stress
    ]  # fmt: skip
    return [
        *blocks,
        par(
            f"Parts 5 % out either way move it by {wide / 2:.1f} dB at most. Without a measured impedance this is the "
            "textbook's value for a model of the driver: claim no optimum."
        ),
        table("part *1 | current > | peak voltage > | heat, sine > | heat, music > | worst at >", rows),
        small(f"At the source's full sine, {told.show(one.source_v, 'V')}; music: a tenth of its heat (common trade practice)."),
    ]  # fmt: skip


def box(told: Audience, one: DesignedBox) -> list[Block]:
    """A box with its panels to cut."""
    made = one.made

    def size(*lengths_m: float) -> str:
        return " × ".join(told.show(n * 1e3, "mm") for n in lengths_m)

    def volume(cubic_m: float) -> str:
        return told.show(cubic_m * 1e3, "L")

    rows = [[f"{cut.count} ×", cut.name, size(cut.long, cut.short), f"of {size(made.panel)}"] for cut in made.cuts]
    rows += [["", "each port", f"{size(one.port_length)} long", ""]] if one.port_length else []
    taken = ", ".join(f"{name} {volume(v)}" for name, v in made.taken)
    return [
        sub(f"{one.box}: outside {size(*made.outer)} (width, height, depth), inside {size(*made.inner)}"),
        par(f"{volume(made.gross)} inside; taken by {taken}; {volume(made.net)} of air left."),
        table(" | panel *1 | size | thickness", rows),
        small("Butt joints: top and bottom reach over everything; front and back between them; sides between all four."),
    ]  # fmt: skip
