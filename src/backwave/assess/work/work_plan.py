"""The work of a job: checklist with how far it is, what is bought, the teardown and its reverse, what is odd about it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from backwave.assess.result import Assessment, finding_json
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
    titles = {row.task.id: row.task.title for row in rows}
    found = [
        *_uneven(rows, done, names), *(_early(row, titles) for row in rows if row.early),
        *(_disagree(one, titles) for one in done.disputes),
        *(_missing(*named) for named in _pictures(done) if photos is not None and named[1] not in photos),
        *(_gone(name) for name in gone), *(_torn(file) for file in torn),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda finding: -VERDICTS.index(finding.check.verdict)))


def _odd(code: str, subject: str, title: str, remedy: str, said: Mapping[str, str], **more: Any) -> Finding:
    quantities = tuple((name, value, "") for name, value in said.items())
    check = Check(code, "caution", Message(title, quantities), remedy=Message(remedy, quantities), **more)
    return Finding(check, subject)


def _uneven(rows: tuple[Standing, ...], done: Done, names: Mapping[str, str]) -> Iterable[Finding]:
    trimmed = {row.task.id for row in rows if row.done}
    for count in counts(done.steps):
        if not (count.whole or f"trim-{count.place}" in trimmed):
            continue
        where = names.get(count.place, count.place) or "The vehicle"
        found = _odd(
            "work.uneven", count.place or "vehicle", "{where}: {out} {kind} came out and {back} went back",
            "Look for the rest under the trim and on the seats before the vehicle moves; or correct the count",
            {"where": where, "out": str(count.out), "back": str(count.back), "kind": _KIND[count.kind]},
            value=float(count.back), limit=float(count.out), sources=(PRACTICE,), part=count.kind,
        )  # fmt: skip
        yield replace(found, check=replace(found.check, verdict="ok", remedy=None)) if count.even else found


def _early(row: Standing, titles: Mapping[str, str]) -> Finding:
    open_ = [titles.get(name, name) for name in row.waits]
    open_ += ["consent to drilling"] if row.consent else []
    open_ += [f"the line “{words}”" for words in row.unconfirmed]
    return _odd(
        "work.early", row.task.id, "Ticked although something before it is open: {title}",
        "See to this first, or take the tick back: {open}", {"title": row.task.title, "open": "; ".join(open_)},
        sources=(PRACTICE,),
    )  # fmt: skip


def _disagree(one: Dispute, titles: Mapping[str, str]) -> Finding:
    counting, *others = (_told(word.by, word.when, dict(word.fields)[one.field]) for word in (one.counts, *one.others))
    return _odd(
        "work.disagree", one.id, "Two say different things of: {what}. {counts} counts, being later; {others} does not",
        "Say once more what is so: that settles it",
        {"what": titles.get(one.id, one.id), "counts": counting, "others": "; ".join(others)},
        part=f"{one.kind}-{one.field}",
    )  # fmt: skip


def _told(by: str, when: str, value: object) -> str:
    """What somebody said and when: "done (helper, 2026-03-14 18:05)"."""
    said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"“{said}” ({by or 'somebody'}, {when.replace('T', ' ')[:16]})"


def _pictures(done: Done) -> list[tuple[str, str]]:
    """Every picture that the log names, with what names it; pictures as paths inside the job folder."""
    notes: list[Condition | TeardownStep] = [*done.condition, *done.steps]
    return [(one.id, path) for one in notes for path in one.photos]


def _missing(id_: str, path: str) -> Finding:
    remedy = "It may still wait on the phone that took it: open the place Work there. Or put the file back"
    return _odd("work.photo", id_, "{path} is not there", remedy, {"path": path}, part=path)


def _gone(name: str) -> Finding:
    title = "A change names the task “{name}”, which is not on the list any more"
    return _odd(
        "work.gone", name, title, "Nothing is lost: it counts again when the job has that task again", {"name": name}
    )


def _torn(file: str) -> Finding:
    aside = "Look at what the file says, enter it again if it is missing in the list, then delete the file"
    remedy = "Allow writing in the job folder: the row is then set aside" if file == "log.toml" else aside
    title = "A row of the log was cut off by a crash; what is left of it is in {file}"
    return _odd("work.torn", "vehicle", title, remedy, {"file": file}, part=file)


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
        """How it was taken apart, in order; pictures as paths inside the job folder."""
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
        return tuple(path for _, path in _pictures(self.done))

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
    """Checklist, shopping list and teardown of a job. `kept`: masses and times of parts that were made; others are
    estimated from their plan; `photos`: paths of the pictures that are there, inside the job folder; None: nobody
    looked; InputError: A person's own tasks that wait for each other."""
    kept, done = kept or {}, done or Done()
    listed = checklist(facts_of(job, result, kept))
    edits, gone = _there(listed, done.edits)
    rows = standing(
        edited(listed, edits), {id_ for id_, tick in done.ticks.items() if tick.done}, done.gates, done.consented,
        done.runs, {id_: tick.minutes for id_, tick in done.ticks.items() if tick.done and tick.minutes is not None},
    )  # fmt: skip
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
    rows = [
        [
            "yes" if i.have else "", i.group, i.what, i.size, "as needed" if i.quantity is None else f"{i.quantity:.10g}",
            i.unit or ("" if i.quantity is None else "pieces"), "" if i.price is None else f"{i.price:.2f}",
            "; ".join(i.why), i.source, i.id,
        ]
        for i in items
    ]  # fmt: skip
    return [head, *rows]
