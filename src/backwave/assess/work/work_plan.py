"""The work of a job: checklist with how far it is, what is bought, the teardown and its reverse, what is odd about it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from backwave.assess.json import finding_json
from backwave.assess.result import Assessment
from backwave.assess.work.job_facts import Kept, facts_of, mass_kg, wants_of
from backwave.finding import PRACTICE, VERDICTS, Check, Finding, Message
from backwave.job import Job
from backwave.plan import (
    Edit,
    Item,
    Standing,
    Task,
    TeardownStep,
    checklist,
    counts,
    edited,
    reassembly,
    shopping,
    standing,
    todays_cautions,
)
from backwave.plan.work_state import Condition, Dispute, Done

_KIND = {"fasteners": "screws, bolts and nuts", "clips": "clips"}


def work_findings(
    rows: tuple[Standing, ...],
    done: Done,
    names: Mapping[str, str],
    gone: Iterable[str] = (),
    photos: Collection[str] | None = None,
    torn: Iterable[str] = (),
) -> tuple[Finding, ...]:
    """What is odd, worst first."""
    found = [
        *_uneven(rows, done, names),
        *(_early(row, rows) for row in rows if row.early),
        *(_disagree(one, rows) for one in done.disputes),
        *_missing_photos(done, photos),
        *_gone(gone),
        *_torn(torn),
    ]
    return tuple(sorted(found, key=lambda finding: -VERDICTS.index(finding.check.verdict)))


def _uneven(rows: tuple[Standing, ...], done: Done, names: Mapping[str, str]) -> Iterable[Finding]:
    trimmed = {row.task.id for row in rows if row.done}
    for count in counts(done.steps):
        over = count.whole or f"trim-{count.place}" in trimmed
        if not over:
            continue
        where = names.get(count.place, count.place) or "The vehicle"
        said = (("where", where, ""), ("out", str(count.out), ""), ("back", str(count.back), ""),
                ("kind", _KIND[count.kind], ""))  # fmt: skip
        check = Check(
            "work.uneven",
            "ok" if count.even else "caution",
            Message("{where}: {out} {kind} came out and {back} went back", said),
            float(count.back),
            float(count.out),
            remedy=None if count.even else Message(
                "Look for the rest under the trim and on the seats before the vehicle moves; or mend the count"
            ),
            sources=(PRACTICE,),
            part=count.kind,
        )  # fmt: skip
        yield Finding(check, count.place or "vehicle")


def _early(row: Standing, rows: tuple[Standing, ...]) -> Finding:
    titles = {one.task.id: one.task.title for one in rows}
    open_ = [titles.get(name, name) for name in row.waits]
    open_ += ["consent to drilling"] if row.consent else []
    open_ += [f"the line “{words}”" for words in row.unconfirmed]
    said = (("title", row.task.title, ""), ("open", "; ".join(open_), ""))
    return Finding(
        Check(
            "work.early", "caution", Message("Ticked although something before it is open: {title}", said),
            remedy=Message("See to this first, or take the tick back: {open}", said), sources=(PRACTICE,),
        ),
        row.task.id,
    )  # fmt: skip


def _disagree(one: Dispute, rows: tuple[Standing, ...]) -> Finding:
    titles = {row.task.id: row.task.title for row in rows}
    said = (
        ("what", titles.get(one.id, one.id), ""),
        ("counts", _told(one.counts.by, one.counts.when, dict(one.counts.fields)[one.field]), ""),
        ("others", "; ".join(_told(w.by, w.when, dict(w.fields)[one.field]) for w in one.others), ""),
    )
    return Finding(
        Check(
            "work.disagree", "caution", Message("Two say different things of: {what}. {counts} counts, being later; {others} does not", said),
            remedy=Message("Say once more what is so: that settles it"), part=f"{one.kind}-{one.field}",
        ),
        one.id,
    )  # fmt: skip


def _told(by: str, when: str, value: object) -> str:
    """What somebody said and when: "done (helper, 2026-03-14 18:05)"."""
    said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"“{said}” ({by or 'somebody'}, {when.replace('T', ' ')[:16]})"


def _missing_photos(done: Done, photos: Collection[str] | None) -> Iterable[Finding]:
    if photos is None:
        return
    named = [(step.id, path) for step in done.steps for path in step.photos]
    named += [(one.id, path) for one in done.condition for path in one.photos]
    for id_, path in named:
        if path not in photos:
            yield Finding(
                Check(
                    "work.photo", "caution", Message("{path} is not there", (("path", path, ""),)),
                    remedy=Message("It may still wait on the phone that took it: open the place Work there. Or put the file back"),
                    part=path,
                ),
                id_,
            )  # fmt: skip


def _gone(gone: Iterable[str]) -> Iterable[Finding]:
    for name in gone:
        yield Finding(
            Check(
                "work.gone", "caution",
                Message("A change names the task “{name}”, which is not on the list any more", (("name", name, ""),)),
                remedy=Message("Nothing is lost: it counts again when the job has that task again"),
            ),
            name,
        )  # fmt: skip


def _torn(files: Iterable[str]) -> Iterable[Finding]:
    for name in files:
        aside = "Look at what the file says, enter it again if it is missing in the list, then delete the file"
        yield Finding(
            Check(
                "work.torn", "caution", Message("A row of the log was cut off by a crash; what is left of it is in {file}", (("file", name, ""),)),
                remedy=Message("Allow writing in the job folder: the row is then set aside" if name == "log.toml" else aside),
                part=name,
            ),
            "vehicle",
        )  # fmt: skip


@dataclass(frozen=True)
class Working:
    """What is to be done and bought, and how far it is."""

    # the checklist, in an order in which it can be done: each task with its gates, times, and what it waits for
    rows: tuple[Standing, ...]
    items: tuple[Item, ...]
    # what the log says: who ticked what and when, consents, condition before, contradictions
    done: Done = field(default_factory=Done)
    # what is odd: counts that do not come out even, tasks ticked early, contradictions, missing pictures
    findings: tuple[Finding, ...] = ()

    @property
    def tasks(self) -> tuple[Task, ...]:
        """The tasks alone."""
        return tuple(row.task for row in self.rows)

    @property
    def today(self) -> tuple[str, ...]:
        """Where it can hurt in what is done now or next."""
        return todays_cautions(self.rows)

    @property
    def teardown(self) -> tuple[TeardownStep, ...]:
        """How it came apart, in order; pictures as paths inside the job folder."""
        return self.done.steps

    @property
    def reassembly(self) -> tuple[TeardownStep, ...]:
        """How it goes together: the reverse."""
        return reassembly(self.done.steps)

    @property
    def condition(self) -> tuple[Condition, ...]:
        """How it was before the work."""
        return self.done.condition

    @property
    def pictures(self) -> tuple[str, ...]:
        """Every picture that the log names, as a path inside the job folder."""
        steps = tuple(path for step in self.teardown for path in step.photos)
        return (*(path for one in self.condition for path in one.photos), *steps)

    @property
    def total(self) -> float | None:
        """Sum of the prices entered, in whatever money they are in; None where there is none."""
        prices = [item.price for item in self.items if item.price is not None]
        return round(sum(prices), 4) if prices else None


def working(
    job: Job,
    result: Assessment,
    kept: Kept | None = None,
    done: Done | None = None,
    photos: Collection[str] | None = None,
    torn: Collection[str] = (),
) -> Working:
    """Checklist, shopping list and teardown of a job.

    `kept`: masses and times of parts that were made; others are estimated from their plan; `photos`: paths of the
    pictures that are there, inside the job folder; None: nobody looked; InputError: A person's own tasks that wait
    for each other.
    """
    kept, done = kept or {}, done or Done()
    listed = checklist(facts_of(job, result, kept))
    edits, gone = _there(listed, done.edits)
    rows = standing(
        edited(listed, edits),
        {id_ for id_, tick in done.ticks.items() if tick.done},
        done.gates,
        done.consented,
        done.runs,
        {id_: tick.minutes for id_, tick in done.ticks.items() if tick.done and tick.minutes is not None},
    )
    items = shopping(
        wants_of(job, result, {part.id: mass_kg(part, kept) for part in result.parts}), done.have, done.prices
    )
    return Working(rows, items, done, work_findings(rows, done, result.names, gone, photos, torn))


def _there(listed: tuple[Task, ...], edits: tuple[Edit, ...]) -> tuple[tuple[Edit, ...], tuple[str, ...]]:
    """The edits of what is still on the list, and what is not: a job that changed takes no list away."""
    known = {task.id for task in listed} | {edit.id for edit in edits if edit.title}
    gone = [edit.id for edit in edits if edit.id not in known]
    kept = []
    for edit in edits:
        if edit.id in known:
            after = None if edit.after is None else tuple(name for name in edit.after if name in known)
            gone += [name for name in edit.after or () if name not in known]
            kept.append(replace(edit, after=after))
    return tuple(kept), tuple(dict.fromkeys(gone))


def working_json(made: Working) -> dict[str, Any]:
    """The document of `plan --json`."""
    done = made.done
    return {
        "tasks": [_task(row, made) for row in made.rows],
        "today": list(made.today),
        "shopping": [_plain(asdict(item)) for item in made.items],
        "total_price": made.total,
        "person_min": sum(task.minutes for task in made.tasks),
        "machine_min": sum(task.machine_min for task in made.tasks),
        "teardown": [_plain(asdict(step)) for step in made.teardown],
        "reassembly": [step.id for step in made.reassembly],
        "condition": [_plain(asdict(one)) for one in made.condition],
        "consent": [asdict(one) for one in done.consents],
        "findings": [finding_json(finding) for finding in made.findings],
    }


def _task(row: Standing, made: Working) -> dict[str, Any]:
    tick = made.done.ticks.get(row.task.id)
    return _plain(asdict(row.task)) | {
        "state": row.state,
        "done": row.done,
        "done_when": tick.when if tick is not None and tick.done else None,
        "done_by": tick.by if tick is not None and tick.done else None,
        "waits": list(row.waits),
        "gates": [{"words": words, "confirmed": confirmed} for words, confirmed in row.gates],
        "consent_missing": row.consent,
        "runs": [_plain(asdict(run)) for run in row.runs],
        "took_min": row.took_min,
    }


def _plain(held: dict[str, Any]) -> dict[str, Any]:
    return {k: list(v) if isinstance(v, tuple) else v for k, v in held.items()}


def shopping_table(items: tuple[Item, ...]) -> list[list[str]]:
    """The shopping list as rows of a table, its head first."""
    head = ["have", "group", "what", "size", "quantity", "unit", "price", "for", "source", "id"]
    return [
        head,
        *(
            [
                "yes" if i.have else "",
                i.group,
                i.what,
                i.size,
                "as needed" if i.quantity is None else f"{i.quantity:.10g}",
                i.unit or ("" if i.quantity is None else "pieces"),
                "" if i.price is None else f"{i.price:.2f}",
                "; ".join(i.why),
                i.source,
                i.id,
            ]
            for i in items
        ),
    ]
