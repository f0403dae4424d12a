"""The dossier as one PDF: cover, chapters, sheets at 1:1."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from backwave.dossier.before_after import before_after
from backwave.dossier.blocks import Chapter, items, par, plate, small, together
from backwave.dossier.context import TEMPLATE, PageContext
from backwave.dossier.drawings import drawings, fasteners, plan_picture, sheets
from backwave.dossier.findings import DEFERS, cautions, cover_table, findings, passed, readings, summary
from backwave.dossier.lists import checklist, shopping_list, sources
from backwave.dossier.sound import predicted, settings
from backwave.dossier.supply import supply
from backwave.dossier.teardown import teardown
from backwave.dossier.wiring import factory, harness
from backwave.files.pdf import typeset


def verdict_words(told: PageContext) -> str:
    """The verdict of the whole in a sentence."""
    count = sum(f.check.verdict != "ok" for f in told.result.findings)
    stops = sum(f.check.verdict == "stop" for f in told.result.findings)
    if stops:
        return f"{stops} of {len(told.result.findings)} findings say STOP"
    if count:
        return f"{count} of {len(told.result.findings)} findings to look at, none says stop"
    return f"Nothing stands in the way; {len(told.result.findings)} findings are ok"


def dossier_pdf(told: PageContext, say: Callable[[str], None] | None = None) -> bytes:
    """The dossier."""
    tell = say or (lambda words: None)
    chapters = []
    for chapter in _chapters(told):
        if chapter is not None:
            tell(f"dossier: {chapter.title}")
            chapters.append(chapter)
    tell("dossier: sheets at 1:1")
    pages, pictures = sheets(told)
    if pages:
        chapters.append(_announce(len(pages)))
    for chapter in chapters:
        pictures |= chapter.pictures
    pictures["plan.svg"] = plan_picture(told)
    data = told.data("Dossier") | {
        "cover": _cover(told),
        "after-contents": [*summary(told), *(small(line) for line in _left_out(told))],
        "chapters": [chapter.data for chapter in chapters],
        "sheets": pages,
    }
    tell("dossier: typesetting")
    return typeset(TEMPLATE, data, pictures, told.stamp)


def _chapters(told: PageContext) -> Iterator[Chapter | None]:
    """In the order of the dossier; None where a job has nothing for one."""
    yield from (cautions(told), findings(told))
    yield from drawings(told)
    for make in (
        fasteners, harness, factory, supply, settings, predicted, before_after, checklist, shopping_list, teardown, passed,
        readings, sources,
    ):  # fmt: skip
        yield make(told)


def _announce(count: int) -> Chapter:
    return Chapter(
        "Sheets at 1:1",
        [
            together(
                [
                    par(f"The last {count} pages are templates and cards at full size."),
                    items(
                        [
                            "Print at 100 %, without fitting to the page.",
                            "Measure both bars on every sheet before you cut: each is as long as it says beside it.",
                            "Where a part needs several sheets, lay their crosses over each other.",
                            "Try the card or the test ring in the opening first: window all the way up, half way and down.",
                        ]
                    ),
                ]
            )
        ],
        flow=True,
    )


def _cover(told: PageContext) -> dict[str, Any]:
    result, file = told.result, told.job.file
    bad = [f for f in result.findings if f.check.verdict != "ok"]
    lines = [f"{told.name(f.subject)}: {told.line(f.check)}" for f in bad[:3]]
    if len(bad) > 3:
        lines.append(f"and {len(bad) - 3} more, in the chapter on findings")
    crew = file.crew.people if file.crew is not None else ()
    return {
        "subtitle": file.vehicle.name or "the vehicle has no name in the job",
        "above": [plate(result.verdict, verdict_words(told), lines)],
        "picture": "plan.svg",
        "below": [*cover_table(told), small(DEFERS)],
        # the data fields of a title block, ISO 7200:2004; what nobody said is left to be written in
        "block": [
            ["Title", result.title, 2], ["Document type", "Dossier of a loudspeaker installation", 1],
            ["Legal owner", "", 1], ["Creator", ", ".join(crew[:1]), 1], ["Approval person", "", 1],
            ["Identification number", "@digest", 2], ["Date of issue", "@date", 1],
            ["Revision index", "@revision", 1], ["Sheet", "@sheet", 1], ["Language", "en", 1],
        ],
    }  # fmt: skip


def _left_out(told: PageContext) -> list[str]:
    """What a reader might look for and will not find, and why."""
    lines = ["A chapter stands here only when the job has something for it."]
    if told.result.harness is None and told.job.file.stage:
        lines.append("No harness: the wires named in the job do not fit its paths; the findings say which.")
    if not told.entries and told.result.parts:
        lines.append("The parts were not built from these numbers yet; what is said of them follows from their plan.")
    if not told.working.teardown:
        lines.append("No teardown record: nothing was written down as it came apart.")
    if not told.job.file.reading:
        lines.append("No before and after: no reading was taken. What a stage brings is predicted, not measured.")
    return lines
