"""The customer's page: what was done and what to look after, in plain language."""

from __future__ import annotations

from typing import Any

from backwave.assess import band_levels
from backwave.assess.work.job_facts import fitted
from backwave.dossier.before_after import signed
from backwave.dossier.blocks import Block, boxes, facts, items, par, plate, small
from backwave.dossier.context import TEMPLATE, PageContext
from backwave.dossier.findings import DEFERS
from backwave.files.pdf import typeset

_LOOK_AFTER = [
    "Doors may hold airbags and their sensors: whoever takes the trim off next reads the cautions in the dossier first.",
    "Nothing was added to or left open in a door that was not so before, and nobody should do so later.",
    "If something buzzes, say at which song and at which second: that finds it.",
    "If a warning sound is missing (seat belt, parking, phone, emergency call), bring the vehicle back at once.",
]


def customer_pdf(told: PageContext) -> bytes:
    """The customer's page."""
    chapters: list[dict[str, Any]] = [
        {"title": "What was done" if _ready(told) else "What is being done", "blocks": _done(told)},
        {"title": "What you can expect", "blocks": [*_expect(told), *_measured(told)]},
        {"title": "What to look after", "blocks": [*_look_after(told), small(DEFERS)]},
        {
            "title": "What you get back",
            "blocks": [
                boxes(
                    [
                        "The factory loudspeakers and every part that came out, in labeled bags",
                        "The dossier, with drawings, settings and fuse values",
                        "Every warning sound was heard together",
                    ]
                ),
                facts(
                    [
                        ("received", "_______________________________"),
                        ("questions to", "_______________________________"),
                    ]
                ),
            ],
        },
    ]
    head = [{"title": "", "blocks": [_head(told)]}]
    data = told.data("For you, who drives it") | {"chapters": [*head, *chapters], "masthead": True}
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
    bad = [f for f in told.result.findings if f.check.verdict != "ok" and f.topic in ("fit", "mount", "power", "part")]
    lines = [
        f"{told.name(f.subject)}: {told.line(f.check)}"
        for f in bad
        if f.check.value is not None and f.check.limit is not None
    ]
    found: list[Block] = [items(_LOOK_AFTER)]
    if lines:
        found += [par("Still on our list:"), items(list(dict.fromkeys(lines)))]
    return found
