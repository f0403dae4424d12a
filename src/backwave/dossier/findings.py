"""Chapters of what was judged: what was fitted, what can hurt, every finding, every reading, every assumption."""

from __future__ import annotations

from collections.abc import Iterator

from backwave.assess.next_steps import tally
from backwave.assess.work.job_facts import fitted
from backwave.dossier.context import Chapter, PageContext
from backwave.finding import Finding, value_words, worst
from backwave.notation.measures import in_words
from backwave.report.blocks import Block, Cell, cell, facts, items, par, small, sub, table

DEFERS = (
    "The vehicle maker's service information, local codes and licensed practice come first. "
    "This dossier adds to them and takes the place of none."
)


def summary(told: PageContext) -> list[Block]:
    """What stands beside the contents: the vehicle, the stages, how to read a verdict."""
    file = told.job.file
    rows: list[tuple[str, Cell]] = [("vehicle", file.vehicle.name or "not named in the job")]
    if file.vehicle.cabin is not None:
        c = file.vehicle.cabin
        size = " × ".join(told.show(x.to("m"), "m") for x in (c.length, c.width, c.height))
        rows.append(("air space of the cabin", f"{size}, length, width, height"))
    rows.append(("seats", ", ".join(seat.id for seat in file.seat) or "none given"))
    found: list[Block] = [sub("The vehicle"), facts(rows)]
    if not _short(told):
        found += [sub("Places and drivers"), fitted_table(told)]
    if file.stage:
        stages = [[str(n), s.title or s.id, told.show(s.level.to("dB"), "dB", 0)] for n, s in enumerate(file.stage, 1)]
        found += [sub("Stages"), table(" | stage *1 | asked to play >", stages)]
    found += [
        sub("How to read it"),
        small(
            "Verdicts are three: ok; caution (look at it before relying on it); STOP (harm, or a part that "
            "cannot be used). What the models do not cover: resonances of trim panels, a cabin that is not measured, and "
            "blunders such as a wrong datum, for which the tightest place is read twice."
        ),
    ]
    if told.job.not_used:
        found.append(small("In the job file, but nothing computes with it yet: " + ", ".join(told.job.not_used) + "."))
    return found


_MOST = 8  # places that the title page holds beside the drawing


def _short(told: PageContext) -> bool:
    return len(fitted(told.job)) <= _MOST


def cover_table(told: PageContext) -> list[Block]:
    """Places and drivers on the title page, where they are few enough."""
    return [fitted_table(told)] if _short(told) and fitted(told.job) else []


def fitted_table(told: PageContext) -> Block:
    """Each place with its driver, its part and its verdict."""
    parts = {part.subject: part for part in told.result.parts}
    rows = []
    for one in fitted(told.job):
        part = parts.get(one.subject)
        made = "none"
        if part is not None:
            made = f"{told.show(part.spec.thickness_mm, 'mm')} {part.material.name} adapter"
            made = "STOPPED: not made" if not part.final else ", ".join((made, *part.marks))
        own = [f.check.verdict for f in told.result.findings if f.subject == one.subject]
        verdict = cell(mark=worst(own)) if own else "not judged"
        rows.append([cell(told.name(one.subject), bold=True), one.speaker.name or one.speaker.id, made, verdict])
    return table("place *1.2 | driver *1.3 | part *1.3 | verdict", rows)


def cautions(told: PageContext) -> Chapter:
    """What can hurt, whoever opens the vehicle next."""
    chapter = Chapter("Before anybody opens it: cautions", [par(DEFERS)])
    lines: list[Cell] = []
    for caution in told.result.cautions:
        title, remedy = told.say(caution.check.title), told.say(caution.check.remedy)
        lines.append(cell(title.rstrip(".") + ".", remedy, bold=True))
    none = par("None follow from this job; the line above holds all the same.")
    chapter.blocks.append(items(lines) if lines else none)
    return chapter


def findings(told: PageContext) -> Chapter:
    """What is open, twins in one line, what blocks first: each with its value, its limit and what to do."""
    bad, waiting = told.result.open_groups, told.result.waiting
    chapter = Chapter("Findings to look at", flow=True)
    words = f"{tally(told.result.groups)}, one line for what is alike; what is ok stands near the end."
    chapter.blocks.append(par(words[:1].upper() + words[1:]))
    rows: list[list[Cell]] = []
    for group in (*bad, *waiting):
        check = group.check
        value, ends, limit = told.figures(check)
        if waiting and group is waiting[0]:
            rows.append(["Waiting for the answers above"])
        lines = [f"→ {told.say(check.remedy)}"] if check.remedy is not None else []
        said = cell(f"{group.name}: {told.line(check)}", *lines, ", ".join(group.ids))
        rows.append([cell(mark=check.verdict), said, cell(value, ends), limit])
    if rows:
        chapter.blocks += [table(" | finding *1 | value > | limit >", rows), _how(told)]
    return chapter


def _how(told: PageContext) -> Block:
    return small(
        "Value: at the best estimates, with the ends between which it lies with 95 %, or room rounded down to "
        f"{'0.02 in' if told.system == 'us' else '0.5 mm'}; limit: what it was judged against. The exact number and the "
        "working behind each: backwave why JOB ID, with the name in small letters."
    )


def passed(told: PageContext) -> Chapter | None:
    """Findings that are ok, subject by subject, a line each; None where there is none."""
    by_subject: dict[str, list[Finding]] = {}
    for finding in told.result.findings:
        if finding.check.verdict == "ok":
            by_subject.setdefault(finding.subject, []).append(finding)
    if not by_subject:
        return None
    rows: list[list[Cell]] = []
    for subject, group in by_subject.items():
        rows.append([told.name(subject)])
        rows += [[cell(told.line(f.check), after=f.id), *told.figures(f.check)] for f in group]
    return Chapter("Findings that are ok", [_how(told), table("finding *1 | value > | 95 % > | limit >", rows)])


def readings(told: PageContext) -> Chapter:
    """Every reading with how sure it is, and every number nobody gave."""
    chapter = Chapter("Readings and assumptions", flow=True)
    rows = [[name, told.show(value, "mm", 2), sure, how] for name, value, sure, how in _readings(told)]
    chapter.blocks.append(
        small(
            "Readings that a clearance rests on. ± a: may be out by so much either way (rectangular); u: standard "
            "uncertainty (normal). Readings that share an instrument share its error (JCGM 100:2008, 5.2.4)."
        )
    )
    none = par("No clearance could be worked out, so no reading bears one.")
    chapter.blocks.append(table("reading *1.6 | value > | how sure *0.9 | taken *0.7", rows) if rows else none)
    chapter.blocks.append(sub("Assumed, because not entered"))
    alike: dict[tuple[str, str], list[str]] = {}
    for one in told.result.assumed:
        alike.setdefault((value_words(one, told.system), in_words(one.why, told.system)), []).append(one.key)
    assumed: list[list[Cell]] = [[cell(", ".join(keys)), value, why] for (value, why), keys in alike.items()]
    chapter.blocks.append(
        table("key in the job file *1.5 | taken as *0.7 | why *1.3", assumed) if assumed else par("Nothing.")
    )
    return chapter


def _readings(told: PageContext) -> Iterator[tuple[str, float, str, str]]:
    seen: set[str] = set()
    for place in told.result.places:
        for clearance in place.fit.clearances:
            for reading, _ in clearance.slopes:
                if reading.name in seen or not reading.errors:
                    continue
                seen.add(reading.name)
                signs = {"rectangular": "±"}
                terms = [f"{signs.get(e.kind, 'u')} {told.show(e.size, 'mm', 2)}" for e in reading.errors]
                how = "assumed" if reading.assumed else "once" if reading.taken == 1 else f"{reading.taken} times"
                yield reading.name, reading.value, ", ".join(terms), how
