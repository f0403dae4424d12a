"""The work as the page shows it: plain values, and for everything that can be said, the words it is said over."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict
from typing import Any

from backwave.assess import Assessment
from backwave.assess.work.log_codec import own
from backwave.assess.work.work_plan import Working
from backwave.finding import words
from backwave.job import Job
from backwave.notation.measures import amount, goods, in_words
from backwave.plan import Word

WORDS = {"ok": "✓ OK", "caution": "! Caution", "stop": "✕ Stop"}
MAX_OWN = 40


def view(made: Working, job: Job, result: Assessment, device: str, photos: Collection[str]) -> dict[str, Any]:
    """Everything the page shows."""
    heads = {"\n".join(subject): list(one.heads) for subject, one in made.done.held.items()}
    crew = job.file.crew.people if job.file.crew is not None else ()
    places = {place.subject: result.names.get(place.subject, place.subject) for place in result.places}
    tasks = [_task(row, made) for row in made.rows]
    return {
        "title": result.title,
        "verdict": result.verdict,
        "seal": WORDS[result.verdict],
        "people": list(dict.fromkeys((*crew, *(task["who"] for task in tasks if task["who"])))),
        "places": [{"id": name, "name": told} for name, told in places.items()],
        "tasks": tasks,
        "consented": made.done.consented,
        "consents": [asdict(one) for one in made.done.consents],
        "steps": [_plain(vars(step)) for step in made.teardown],
        "condition": [_plain(vars(one)) for one in made.condition],
        "there": [path for path in made.pictures if path in photos],
        "items": [_item(item, result.show) for item in made.items],
        "total": made.total,
        "findings": [
            {
                "verdict": f.check.verdict,
                "seal": WORDS[f.check.verdict],
                "title": words(f.check.title, result.show),
                "remedy": words(f.check.remedy, result.show) or "",
                "about": f.subject,
            }
            for f in made.findings
        ],
        "heads": heads,
        "own": [
            {"key": word.key, "what": _what(word, made), "kind": word.kind, "id": word.id, "part": word.part,
             "stands": stands}
            for word, stands in own(made.done.words, device, made.done.held)[-MAX_OWN:]
        ],
    }  # fmt: skip


def _task(row: Any, made: Working) -> dict[str, Any]:
    task, tick = row.task, made.done.ticks.get(row.task.id)
    return _plain(asdict(task)) | {
        "done": row.done,
        "by": tick.by if tick is not None and tick.done else "",
        "when": tick.when if tick is not None and tick.done else "",
        "gates": [{"words": told, "done": confirmed} for told, confirmed in row.gates],
        "runs": [_plain(asdict(run)) for run in row.runs],
        "took": row.took_min,
    }


def _item(item: Any, system: str) -> dict[str, Any]:
    much = amount(item.quantity, item.unit, system)
    what, size = goods(item.group, item.what, item.size, system)
    return {
        "id": item.id, "group": item.group, "what": what, "size": size,
        "amount": much, "why": in_words("; ".join(item.why), system), "source": item.source, "have": item.have,
        "price": item.price,
    }  # fmt: skip


def _plain(held: dict[str, Any]) -> dict[str, Any]:
    return {k: list(v) if isinstance(v, tuple) else v for k, v in held.items()}


def _what(word: Word, made: Working) -> str:
    """What was said, for the button that takes it back."""
    titles = {row.task.id: row.task.title for row in made.rows} | {item.id: item.what for item in made.items}
    titles |= {step.id: step.text for step in made.teardown} | {one.id: one.text for one in made.condition}
    told = titles.get(word.id, word.id)
    short = told if len(told) < 44 else told[:42].rsplit(" ", 1)[0] + " …"
    fields = dict(word.fields)
    sign = {
        "tick": "☑" if fields.get("done", True) else "☐", "gate": "■", "time": "start" if fields.get("go") else "stop",
        "task": "change", "item": "price" if "price" in fields else "have", "note": "note", "refit": "together",
        "consent": "consent",
    }[word.kind]  # fmt: skip
    return f"{sign} {word.part if word.kind == 'gate' else short}"
