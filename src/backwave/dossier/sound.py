"""Chapters of sound: the settings of each stage, what was predicted."""

from __future__ import annotations

from backwave.assess import band_levels, charts
from backwave.dossier.before_after import signed
from backwave.dossier.blocks import Cell, Chapter, beside, cell, par, small, stacked, sub, table
from backwave.dossier.context import PageContext
from backwave.dossier.page_cache import kept
from backwave.drawing.chart import chart_svg


def settings(told: PageContext) -> Chapter | None:
    """Each stage with the settings of its paths; None where the job has no stage."""
    if not told.job.file.stage:
        return None
    chapter = Chapter("Settings, stage by stage", flow=True)
    for stage in told.job.file.stage:
        chapter.blocks.append(sub(stage.title or stage.id))
        rows: list[list[Cell]] = []
        for path in stage.path:
            where = told.name(f"{path.opening}.{path.side}" if path.side else path.opening or path.box or "")
            sides = next((o.sides for o in told.job.file.opening if o.id == path.opening), ())
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
        head = {"output": 0.7, "place and driver": 1.1, "network, from the output on": 1.2, "filters": 0.9, "set": 0.7}
        chapter.blocks.append(table(head, rows, tight=True))
        if not stage.path:
            chapter.blocks.append(par("No path yet."))
    return chapter


def predicted(told: PageContext) -> Chapter | None:
    """What each stage will bring; None where nothing can be predicted."""
    made = told.result.prediction
    if made is None:
        return None
    chapter = Chapter("What each stage brings, as predicted", flow=True)
    names, levels = band_levels(made)
    rows: list[list[Cell]] = [
        [title, *(f"{level:.0f} ± {half:.0f}" for level, half in cells), f"{loudest:.0f}", _cause(told, cause)]
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
            [told.say(one.title), *(cell(signed(b.delta), f"{signed(b.low)} … {signed(b.high)}") for _, b in one.bands)]
            for one in worth
        ]
        chapter.blocks += [
            sub("What each step is worth"),
            table({"": 1, **dict.fromkeys(names, 0.0)}, rows, right=tuple(range(1, len(names) + 1)), tight=True),
            small("Difference in dB; under it the ends between which it lies with 95 %."),
        ]
    drawn = charts(made, told.system)
    for n, (name, chart) in enumerate(drawn.items()):
        if name.startswith(("response-", "loudest-")):
            chapter.draw(f"chart{n}", kept(chart_svg, chart, "paper", width=840.0), share=0.84)
    drawn_small = [name for kind in ("excursion-", "impedance-") for name in drawn if name.startswith(kind)]
    keys = [f"{name}.svg" for name in drawn_small]
    for key, name in zip(keys, drawn_small, strict=True):
        chapter.pictures[key] = kept(chart_svg, drawn[name], "paper", width=490.0)
    chapter.blocks += [beside(keys[n : n + 2]) for n in range(0, len(keys), 2)]
    return chapter


def _cause(told: PageContext, cause: str) -> str:
    """What holds a stage back, and where: "clip, front-door.left/demo-165" in a person's words."""
    what, _, voice = cause.partition(", ")
    subject, _, _ = voice.partition("/")
    words = {"clip": "the output clips", "excursion": "the cone's travel", "heat": "heat in the coil"}
    return f"{words.get(what, what)}, {told.name(subject)}"
