"""Papers by themselves: the lists; what the customer is told; a page to show, in drawings and curves, with nothing private on it.

Nothing that a person typed stands on the page to show: no title, no name of vehicle, opening, driver, stage, seat or
material, no note, price or picture.  Places are called by their zone and side, drivers by their kind, stages by what is new.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from backwave.assess import PlaceResult, band_levels, charts
from backwave.assess.proof.charts import proof_chart
from backwave.assess.work.job_facts import facts_of, fitted
from backwave.dossier.context import TEMPLATE, PageContext, kept
from backwave.dossier.findings import DEFERS
from backwave.drawing.chart import Chart, chart_svg
from backwave.drawing.face import face_svg
from backwave.drawing.section import section_svg
from backwave.files.pdf import typeset
from backwave.report.blocks import Block, boxes, facts, figure, items, par, plate, signed, small, table
from backwave.report.work import checklist, shopping

_LOOK_AFTER = [
    "Doors may hold airbags and their sensors: whoever takes the trim off next reads the cautions in the dossier first.",
    "Nothing was added to or left open in a door that was not so before, and nobody should do so later.",
    "If something buzzes, say at which song and at which second: that finds it.",
    "If a warning sound is missing (seat belt, parking, phone, emergency call), bring the vehicle back at once.",
]


def customer_pdf(told: PageContext) -> bytes:
    """The customer's page."""
    returned = [
        "The factory loudspeakers and every part that came out, in labeled bags",
        "The dossier, with drawings, settings and fuse values",
        "Every warning sound was heard together",
    ]
    signed_by = facts([("received", 31 * "_"), ("questions to", 31 * "_")])
    chapters: list[dict[str, Any]] = [
        {"title": "", "blocks": [_head(told)]},
        {"title": "What was done" if _ready(told) else "What is being done", "blocks": _done(told)},
        {"title": "What you can expect", "blocks": [*_expect(told), *_measured(told)]},
        {"title": "What to look after", "blocks": [*_look_after(told), small(DEFERS)]},
        {"title": "What you get back", "blocks": [boxes(returned), signed_by]},
    ]
    data = told.data("For you, who drives it") | {"chapters": chapters, "masthead": True}
    return typeset(TEMPLATE, data, stamp=told.stamp)


def lists_pdf(told: PageContext) -> bytes:
    """The checklist and the shopping list by themselves."""
    chapters = [
        {"title": "Checklist", "blocks": checklist(told.working)},
        {"title": "Shopping list", "blocks": shopping(told, told.working)},
    ]
    data = told.data("Lists") | {"chapters": chapters, "masthead": True}
    return typeset(TEMPLATE, data, stamp=told.stamp)


def _ready(told: PageContext) -> bool:
    """Every task is ticked."""
    return bool(told.working.rows) and all(row.done for row in told.working.rows)


def _head(told: PageContext) -> Block:
    words = {
        "ok": "By what was measured, everything fits",
        "caution": "By what was measured it fits; some places are to be looked at again",
        "stop": "Not ready: something has to be changed first",
    }
    tasks, ticks = told.working.tasks, told.working.done.ticks
    done = sum(task.id in ticks and ticks[task.id].done for task in tasks)
    return plate(told.result.verdict, words[told.result.verdict], [f"{done} of {len(tasks)} tasks are ticked so far."])


def _done(told: PageContext) -> list[Block]:
    by_driver: dict[str, list[str]] = {}
    for one in fitted(told.job):
        by_driver.setdefault(one.speaker.name or one.speaker.id, []).append(told.name(one.subject))
    lines = [f"{driver}: {'; '.join(where)}" for driver, where in by_driver.items()]
    made = len(told.result.parts)
    were = "were" if _ready(told) else "are being"
    words = f" {made} adapters {were} made to measure, so that the new ones sit where the old ones sat." if made else ""
    return [
        par(f"Better loudspeakers {were} fitted into the openings that the vehicle has." + words),
        items(lines) if lines else par("No driver is fitted yet."),
    ]


def _expect(told: PageContext) -> list[Block]:
    made = told.result.prediction
    if made is None or len(made.stages) < 2:
        return [par("What it sounds like was not predicted: listen, and say what you hear.")]
    _, rows = band_levels(made)
    gain = rows[-1][2] - rows[0][2]
    louder = f"about {gain:.0f} dB louder" if gain >= 1 else "about as loud"
    return [
        par(
            f"By our prediction, which is no measurement: from “{rows[0][0]}” to “{rows[-1][0]}” it can play {louder} "
            "in the mid-bass before it distorts. Ten decibels are heard as about twice as loud."
        ),
        par("Ears last longer than loudspeakers: louder than a shout is for minutes, not for hours."),
    ]


def _measured(told: PageContext) -> list[Block]:
    """What the readings say, where there is one of before and one of after."""
    pairs = () if told.result.proof is None else told.result.proof.pairs
    for pair in pairs:
        if pair.after is None:
            continue
        real = [(row.name, row.change) for row in pair.bands if row.change is not None and row.change.real]
        lines = [f"{name} {signed(change.change_db)} dB" for name, change in real]
        words = "; ".join(lines) if lines else "no more than two recordings of the same thing differ"
        return [par(f"Measured at the {pair.seat} seat, before and after, against the voice's own loudness: {words}.")]
    return []


def _look_after(told: PageContext) -> list[Block]:
    bad = [g for g in told.result.open_groups if g.check.code.startswith(("fit.", "mount.", "power.", "part."))]
    judged = [g for g in bad if g.check.value is not None and g.check.limit is not None]
    lines = [f"{group.name}: {told.line(group.check)}" for group in judged]
    found: list[Block] = [items(_LOOK_AFTER)]
    if lines:
        found += [par("Still on our list:"), items(list(dict.fromkeys(lines)))]
    return found


TITLE = "Better loudspeakers, made to fit"


def public_pictures(told: PageContext) -> dict[str, str]:
    """The page's drawings as SVG, by name."""
    found: dict[str, str] = {}
    kinds = {speaker.id: speaker.kind for speaker in told.job.file.speaker}

    def curves(chart: Chart, title: str, names: Iterable[str]) -> str:
        lines = tuple(replace(line, name=name) for line, name in zip(chart.series, names))
        return kept(chart_svg, replace(chart, title=title, series=lines), "paper", width=840.0)

    first: dict[str, PlaceResult] = {}  # the second side looks like it
    for place in told.result.places:
        first.setdefault(place.opening_id, place)
    for n, place in enumerate(first.values(), 1):
        shown_as = replace(place, name=_place(told, place.subject), speaker_name=f"a {kinds[place.speaker_id]}")
        for kind, svg in (("section", section_svg), ("face", face_svg)):
            found[f"{kind}-{n}"] = kept(svg, shown_as, "paper", system=told.system, public=True)
    made = told.result.prediction
    if made is not None:
        names = [_stage(told, one.id) for one in made.stages]
        drawn = charts(made, told.system)
        for kind in ("response", "loudest"):
            chart = next(c for name, c in drawn.items() if name.startswith(f"{kind}-"))
            found[kind] = curves(chart, f"{kind.capitalize()} at the first seat, stage by stage", names)
    pairs = () if told.result.proof is None else told.result.proof.pairs
    for pair in [one for one in pairs if one.after is not None][:1]:
        found["proof"] = curves(proof_chart(pair), f"{_PROOF} at a seat", _HEARD)
    return found


_PROOF = "Before and after, measured, and what was predicted"
_HEARD = ("before", "after", "predicted")  # in the order of the chart


def public_pdf(told: PageContext) -> bytes:
    """The page to show others."""
    pictures = public_pictures(told)
    chapters = [
        {"title": "", "blocks": _what(told)},
        {
            "title": "How it fits",
            "blocks": [*_fits(told), *(figure(f"{key}.svg") for key in _ORDER if key in pictures)],
        },
    ]
    for title, words, keys in _CURVES:
        if keys[0] in pictures:
            shown = [figure(f"{key}.svg", share=0.84) for key in keys]
            chapters.append({"title": title, "blocks": [small(words, sticky=True), *shown]})
    data = told.data("A page to show", private=False) | {"title": TITLE, "chapters": chapters, "masthead": True}
    return typeset(TEMPLATE, data, {f"{name}.svg": svg for name, svg in pictures.items()})


_ORDER = ("face-1", "section-1", "section-2", "face-2")  # a face first, which leaves the first page no hole
_CURVES = (
    (
        "What each stage brings",
        "Predicted, not measured; the band is where it lies with 95 %.",
        ("response", "loudest"),
    ),
    ("Did it work", "Recorded at the same place before and after; the band is the prediction's, 95 %.", ("proof",)),
)


def _what(told: PageContext) -> list[Block]:
    zones = [(_zone(one.place.opening.zone if one.place else "box"), one.speaker.kind) for one in fitted(told.job)]
    counts = Counter(zones)
    lines = [f"{count} × {kind}: {zone}" for (zone, kind), count in counts.items()]
    made = Counter("printed" if not hasattr(p.how, "layers_mm") else "cut from sheet" for p in told.result.parts)
    parts = ", ".join(f"{count} {how}" for how, count in made.items())
    stages = [_stage(told, stage.id) for stage in told.job.file.stage]
    found: list[Block] = [
        par(
            "The openings of a vehicle are made for the loudspeakers it came with. Better ones are deeper, wider, or "
            "screwed elsewhere. Each got an adapter worked out from readings, with what may be out by how much, so that "
            "it clears what moves behind it and stands as high as the old one did."
        ),
        items(lines) if lines else par("No driver is fitted yet."),
    ]
    if parts:
        found.append(par(f"Adapters made to measure: {parts}."))
    if len(stages) > 1:
        found.append(par("The work went in stages, each worth hearing by itself: " + "; ".join(stages) + "."))
    return found


def _fits(told: PageContext) -> list[Block]:
    rows = [
        [
            _place(told, place.subject), c.name, told.show(c.estimate.value, "mm"),
            f"{told.show(c.estimate.low, 'mm')} … {told.show(c.estimate.high, 'mm')}", told.show(c.margin_mm, "mm"),
        ]
        for place in told.result.places
        for c in place.fit.clearances
        if c.name in ("glass", "grille", "hole", "behind")
    ]  # fmt: skip
    return [table("place *1 | room to *1 | left > | with 95 % > | margin asked >", rows)] if rows else []


def _zone(zone: str) -> str:
    return {
        "door": "door", "dash": "dash", "under-dash": "under the dash", "pillar": "pillar", "shelf": "parcel shelf",
        "floor": "floor", "cargo": "cargo area", "box": "in a box of its own",
    }[zone]  # fmt: skip


def _place(told: PageContext, subject: str) -> str:
    """A place by its zone and side alone, numbered where several are alike."""
    zones = {o.id: o.zone for o in told.job.file.opening}
    opening, _, side = subject.rpartition(".") if subject.endswith((".left", ".right")) else (subject, "", "")
    alike = [name for name, zone in zones.items() if zone == zones[opening]]
    word = _zone(zones[opening]).capitalize() + (f" {alike.index(opening) + 1}" if len(alike) > 1 else "")
    return f"{word}, {side}" if side else word


def _stage(told: PageContext, stage: str) -> str:
    """A stage by what is new in it."""
    facts = facts_of(told.job, told.result)
    zones = {place.id: place.zone for place in facts.places}
    number, one = next((n, s) for n, s in enumerate(facts.stages, 1) if s.id == stage)
    new = ["new drivers"] if any(zones[p] != "box" for p in one.places) else []
    new += ["amplifier"] if one.loads and not one.boxes else []
    new += ["driver in a box"] if one.boxes else []
    words = " and ".join(new) or ("as it came" if number == 1 else "new settings")
    return f"{number}: {words}"
