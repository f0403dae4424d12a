"""The dossier as one PDF: cover, chapters, sheets at 1:1."""

from __future__ import annotations

from typing import Any

from backwave.dossier.block import Cell, Chapter, facts, items, par, plate, small
from backwave.dossier.drawn import drawings, fasteners, plan_picture, sheets
from backwave.dossier.heard import before_after, predicted, settings, supply
from backwave.dossier.judged import DEFERS, cautions, findings, readings, summary
from backwave.dossier.told import TEMPLATE, Told
from backwave.dossier.worked import checklist, notes, shopping_list, sources
from backwave.files.typeset import typeset

__all__ = ["dossier_pdf", "verdict_words"]


def verdict_words(told: Told) -> str:
    """The verdict of the whole in a sentence."""
    count = sum(f.check.verdict != "ok" for f in told.result.findings)
    stops = sum(f.check.verdict == "stop" for f in told.result.findings)
    if stops:
        return f"{stops} of {len(told.result.findings)} findings say STOP"
    if count:
        return f"{count} of {len(told.result.findings)} findings to look at, none says stop"
    return f"Nothing stands in the way; {len(told.result.findings)} findings are ok"


def dossier_pdf(told: Told) -> bytes:
    """The dossier.

    Parameters
    ----------
    told : Told, no unit
        Everything it tells.
    """
    wanted = [
        summary(told), cautions(told), findings(told), readings(told), *drawings(told), fasteners(told), supply(told),
        settings(told), predicted(told), before_after(told), checklist(told), shopping_list(told), notes(told),
        sources(told),
    ]  # fmt: skip
    chapters = [chapter for chapter in wanted if chapter is not None]
    pages, pictures = sheets(told)
    if pages:
        chapters.append(_announce(len(pages)))
    for chapter in chapters:
        pictures |= chapter.pictures
    pictures["plan"] = plan_picture(told)
    data = told.data("Dossier") | {
        "cover": _cover(told),
        "after-contents": [small(line) for line in _left_out(told)],
        "chapters": [{"title": c.title, "blocks": c.blocks} for c in chapters],
        "sheets": pages,
    }
    return typeset(TEMPLATE, data, pictures)


def _announce(count: int) -> Chapter:
    return Chapter(
        "Sheets at 1:1",
        [
            par(f"The last {count} pages are templates and cards at full size."),
            items(
                [
                    "Print at 100 %, without fitting to the page.",
                    "Measure both bars on every sheet before you cut: each is 100 mm long.",
                    "Where a part needs several sheets, lay their crosses over each other.",
                    "Try the card or the check ring in the opening first: window all the way up, half way and down.",
                ]
            ),
        ],
    )


def _cover(told: Told) -> dict[str, Any]:
    result, file = told.result, told.job.file
    bad = [f for f in result.findings if f.check.verdict != "ok"]
    lines = [f"{told.name(f.subject)}: {told.say(f.check.title)}" for f in bad[:3]]
    if len(bad) > 3:
        lines.append(f"and {len(bad) - 3} more, in the chapter on findings")
    crew = file.crew.people if file.crew is not None else ()
    stages = ", then ".join(s.title or s.id for s in file.stage) or "everything at once"
    counted: list[tuple[str, Cell]] = [
        ("places, parts", f"{len(result.places)} fits worked out, {len(result.parts)} parts to make"),
        ("stages", stages if len(stages) <= 160 else f"{len(file.stage)}, in a chapter of their own"),
    ]
    return {
        "subtitle": file.vehicle.name or "the vehicle has no name in the job",
        "above": [plate(result.verdict, verdict_words(told), lines)],
        "picture": "plan",
        "below": [facts(counted, 30), small(DEFERS)],
        # the data fields of a title block, ISO 7200:2004; what nobody said is left to be written in
        "block": [
            ["Title", result.title, 2], ["Document type", "Dossier of a loudspeaker installation", 1],
            ["Legal owner", "", 1], ["Creator", ", ".join(crew[:1]), 1], ["Approval person", "", 1],
            ["Identification number", f"job file {result.digest}", 2], ["Date of issue", told.date, 1],
            ["Revision index", told.revision, 1], ["Sheet", "", 1], ["Language", "en", 1],
        ],
    }  # fmt: skip


def _left_out(told: Told) -> list[str]:
    lines = [
        "Not in it: photographs. They stay in the job's own folder, photos/.",
        "A chapter stands here only when the job has something for it.",
    ]
    if not told.entries and told.result.parts:
        lines.append(
            "The parts were not built from these numbers yet; what is said of them follows from their plan."
        )
    return lines
