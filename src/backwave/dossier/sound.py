"""Chapters of sound: each stage's settings, what was predicted, and what came of it: before and after at each seat."""

from __future__ import annotations

from backwave.assess import band_levels, charts
from backwave.assess.proof.before_after import EndRow, Proof, SweepPair
from backwave.assess.proof.charts import proof_charts
from backwave.dossier.context import Chapter, PageContext, kept
from backwave.drawing.chart import chart_svg
from backwave.plain_text import file_stem
from backwave.report.blocks import Block, Cell, beside, cell, par, small, stacked, sub, table


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
    head = {"stage": 1.3, **dict.fromkeys(names, 0.0), "loudest": 0.0, "limited by": 1.0}
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
    smaller = [name for kind in ("excursion-", "impedance-") for name in drawn if name.startswith(kind)]
    chapter.pictures |= {f"{name}.svg": kept(chart_svg, drawn[name], "paper", width=490.0) for name in smaller}
    keys = [f"{name}.svg" for name in smaller]
    chapter.blocks += [beside(keys[n : n + 2]) for n in range(0, len(keys), 2)]
    return chapter


def _cause(told: PageContext, cause: str) -> str:
    """What holds a stage back, and where: "clip, front-door.left/demo-165" in a person's words."""
    what, _, voice = cause.partition(", ")
    subject, _, _ = voice.partition("/")
    words = {"clip": "the output clips", "excursion": "the cone's travel", "heat": "heat in the coil"}
    return f"{words.get(what, what)}, {told.name(subject)}"


TITLE = "Before and after"


def signed(value: float) -> str:
    """A difference to a tenth, with a true minus and no sign on nothing."""
    return "0.0" if abs(value) < 0.05 else f"{value:+.1f}".replace("-", "−")


def before_after(told: PageContext) -> Chapter | None:
    """What was measured beside what was predicted; None where no reading is named."""
    rows = told.job.file.reading
    if not rows:
        return None
    proof = told.result.proof
    if proof is None:
        names: list[list[Cell]] = [[r.file, told.name(r.stage) if r.stage else "", r.seat or ""] for r in rows]
        words = "The job names these recordings; they were not read for this dossier: backwave pack reads them."
        return Chapter(TITLE, [par(words), table({"file": 1.4, "stage": 1, "seat": 0.6}, names)], flow=True)
    chapter = Chapter(TITLE, flow=True)
    if not proof.pairs:
        chapter.blocks.append(par("No recording could be used; what is wrong with each stands below."))
    drawn = proof_charts(proof)
    for n, pair in enumerate(proof.pairs):
        after = "" if pair.after is None else f", then {pair.after.title}"
        chapter.blocks.append(sub(f"At the {pair.seat} seat: {pair.before.title}{after}"))
        if pair.after is None:
            chapter.blocks.append(par(_ONE))
        if (chart := drawn.get(f"proof-{file_stem(pair.seat)}")) is not None:
            chapter.draw(f"proof{n}", kept(chart_svg, chart, "paper", width=900.0), share=0.9)
        chapter.blocks += [_bands(pair), *_ends(told, pair), small(_HOW)]
        if (chart := drawn.get(f"distortion-{file_stem(pair.seat)}")) is not None:
            chapter.draw(f"bent{n}", kept(chart_svg, chart, "paper", width=840.0), share=0.84)
            chapter.blocks += _distortion(pair)
    for n, (name, chart) in enumerate(drawn.items()):
        if name.startswith("rattle-"):
            chapter.draw(f"rattle{n}", kept(chart_svg, chart, "paper", width=840.0), share=0.84)
    chapter.blocks += [sub("The readings"), _readings(told, proof)]
    return chapter


_ONE = (
    "One stage was recorded, so that nothing can be compared yet. Missing is a recording of another stage at this seat: "
    "the same sweep, the same place of the microphone, the same volume."
)
_HOW = (
    "Each curve against its own mean from 300 Hz to 3 kHz, since no microphone here is calibrated; ± twice the standard "
    "uncertainty of the readings; none: no more than readings differ by; predicted: of the change, with its 95 %."
)


def _level(value: float | None) -> str:
    return "" if value is None else signed(value)


def _bands(pair: SweepPair) -> Block:
    """Band by band."""
    rows: list[list[Cell]] = []
    for row in pair.bands:
        change = ""
        if row.change is not None:
            width = f"± {2 * row.change.u_db:.1f}"
            change = f"{signed(row.change.change_db)} {width}" if row.change.real else f"none ({width})"
        seen: Cell = ""
        if row.predicted is not None:
            value, low, high = row.predicted
            words = {True: "as predicted", False: "not as predicted", None: ""}[row.as_predicted]
            seen = cell(f"{signed(value)}  ({signed(low)} … {signed(high)})", words)
        name = cell(row.name, f"{row.low_hz:g} to {row.high_hz:g} Hz")
        rows.append([name, _level(row.before_db), _level(row.after_db), change, seen])
    head = {"band": 1.2, "before, dB": 0.0, "after, dB": 0.0, "changed by, dB": 0.9, "predicted, dB": 1.2}
    return table(head, rows, right=(1, 2, 3, 4), tight=True)


def _ends(told: PageContext, pair: SweepPair) -> list[Block]:
    """Extension and smoothness."""
    rows: list[list[Cell]] = []
    for end in pair.ends:
        change = ""
        if pair.after is not None and end.change is not None:
            unit = "octaves" if end.unit == "Hz" else end.unit
            width = f"± {2 * end.u:.1f} {unit}"
            change = f"{signed(end.change)} {width}" if end.real else f"none ({width})"
        after = "" if pair.after is None else _end(told, end, end.after)
        seen = "" if end.predicted_after is None else told.show(end.predicted_after, end.unit)
        rows.append([end.name, _end(told, end, end.before), after, change, seen])
    head = {"": 1.2, "before": 0.0, "after": 0.0, "changed by": 0.9, "predicted after": 1.2}
    return [table(head, rows, right=(1, 2, 3, 4), tight=True)] if rows else []


def _end(told: PageContext, row: EndRow, value: float | None) -> str:
    return "beyond the sweep" if value is None else told.show(value, row.unit)


def _distortion(pair: SweepPair) -> list[Block]:
    rows: list[list[Cell]] = []
    for one in pair.distortion:
        before, after = (f"{100 * 10 ** (v / 20):.1f} %" for v in (one.before_db, one.after_db))
        at = "each at the level it was taken at" if one.at_db is None else f"both at {one.at_db:.0f} dB"
        change = "not comparable" if one.at_db is None else "changed" if one.real else "none"
        rows.append([cell(one.name, f"{one.low_hz:g} to {one.high_hz:g} Hz"), before, after, at, change])
    head = {"distortion": 1.2, "before": 0.0, "after": 0.0, "level": 0.9, "changed": 0.6}
    return [table(head, rows, right=(1, 2), tight=True)] if rows else []


def _readings(told: PageContext, proof: Proof) -> Block:
    """Each recording, and what is to be said of it."""
    titles = {stage.id: stage.title or told.name(stage.id) for stage in told.job.file.stage}
    rows: list[list[Cell]] = []
    for one in proof.heard:
        said = [told.say(check.title) for check in one.checks if check.verdict != "ok"]
        stage = titles.get(one.stage, told.name(one.stage)) if one.stage else "not said"
        use = "used" if one.one is not None else "rattles alone" if one.recording is not None else "not used"
        rows.append([cell(one.row.file, *said), stage, one.seat or "not said", use])
    return table({"file": 1.6, "stage": 1.0, "seat": 0.0, "": 0.0}, rows, tight=True)
