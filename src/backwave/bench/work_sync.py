"""The work as the place Work shows it, and what phones say of it and send: words into log.toml, pictures unfolded apart.

Words come in any order, late, and more than once; each is judged alone and taken once.  One that cannot be taken is
told with its reason, and the others are taken all the same."""

from __future__ import annotations

import datetime
import hashlib
import json
import threading
from collections.abc import Collection
from concurrent.futures import CancelledError
from dataclasses import asdict, replace
from itertools import count
from pathlib import Path
from typing import Any

from backwave.assess import Assessment
from backwave.assess.work import log_codec
from backwave.assess.work.work_plan import Working, working
from backwave.bench.board import Board
from backwave.bench.page_frame import overall, saved_or_not, verdict
from backwave.errors import BackwaveError, BuildError, InputError, JobError
from backwave.files.manifest import read_kept
from backwave.files.photos import clean_picture, pictures_in
from backwave.finding import words
from backwave.job import Job, log
from backwave.plan import Item, Word
from backwave.plan.work_state import Done
from backwave.report.blocks import Audience
from backwave.report.work import thing
from backwave.workers import Workers

MAX_WORDS = 500
MAX_DEVICES = 20
MAX_OWN = 40
MAX_PIXELS = 3_000_000  # the page makes its pictures small before it sends them: 1,600 px at the longer side
MAX_MEMORY = 200_000_000  # bytes: three million points unfold to some 50 MB with what is made of them
MAX_WAITING = 8
LIMIT_S = 20.0


class WorkSync:
    """What was said of a job's work, for every phone that asks; safe to use from several threads."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self._lock = threading.Lock()  # taken inside the job's own lock, never around it
        self._words = log_codec.LogWords()
        self._known: tuple[Any, tuple[Working, dict[str, Any]] | None] = (None, None)

    @property
    def folder(self) -> Path:
        return self.board.folder

    def job_id(self) -> str:
        """What phones keep their words under: made from the folder once, then kept in the log, wherever the folder goes."""
        try:
            held = log.look(self.folder).sections.get("work", {})
        except JobError:
            held = {}
        own = held.get("id") if isinstance(held, dict) else None
        return own if isinstance(own, str) and own else _digest(str(self.folder.resolve()))

    def working(self) -> tuple[Working, Job, Assessment] | None:
        """The work as it stands; None while there is no job, or nothing is worked out yet. BackwaveError: the log
        cannot be read, or holds tasks that wait for each other."""
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return None
        held = log.look(self.folder)
        files = (_stamp(self.folder / name) for name in ("photos", "made/.cache/solids.json"))
        torn = log.torn(self.folder)
        stamp = (result, held.epoch, held.stamp, torn, *files)
        with self._lock:
            if self._known[0] != stamp:
                found = self._worked(session.job, result, log_codec.done_of_record(self._words.follow(held)), torn)
                self._known = stamp, (found, {})
            assert self._known[1] is not None
            return self._known[1][0], session.job, result

    def _worked(self, job: Job, result: Assessment, done: Done, torn: tuple[str, ...] = ()) -> Working:
        kept = read_kept(self.folder / "made")
        return working(job, result, kept, done, pictures_in(self.folder), torn)

    def shown(self, device: str, seen: str = "") -> dict[str, Any]:
        """What the page shows; nothing but its tag where the page has seen that already."""
        session, stamp = self.board.session, datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
        now = {"now": stamp, "job": saved_or_not(self.board), "said": "" if session is None else session.said}
        try:
            there = self.working()
        except BackwaveError as error:
            return {**now, "tag": "", "trouble": _told(error)}
        if there is None:
            return {**now, "tag": "", "nothing": session is None}
        made, job, result = there
        held = self._known[1][1] if self._known[1] is not None and self._known[1][0] is made else {}
        if device not in held:
            if len(held) > MAX_DEVICES:
                held.clear()
            whole = work_view(made, job, result, device, pictures_in(self.folder))
            held[device] = whole | {"tag": _digest(json.dumps(whole, sort_keys=True))}
        document = held[device]
        if document["tag"] == seen:
            return {**now, "tag": seen, "same": True}
        return {**now, **document}

    def cannot_judge(self, rows: Any) -> bool:
        """Whether there is a change of the list among the words, and no list yet to try it on."""
        board = self.board
        waits = board.session is not None and board.result is None and not board.trouble
        return waits and isinstance(rows, list) and any(isinstance(r, dict) and r.get("kind") == "task" for r in rows)

    def take(self, rows: Any) -> dict[str, Any]:
        """Take words into the log. Returns `reasons`: for each word why it was refused, "" where it stands in the log
        now; the same by key in `taken` and `refused`; BackwaveError: the log cannot be read or is newer: nothing was
        taken, nothing written."""
        if not isinstance(rows, list) or len(rows) > MAX_WORDS:
            raise InputError("words", f"{len(rows)} of them" if isinstance(rows, list) else "no list", f"a list, at most {MAX_WORDS}")  # fmt: skip
        reasons: list[str] = []
        taken: list[str] = []
        now = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")

        def work(held: log.Log) -> list[tuple[str, dict[str, Any]]]:
            with self._lock:
                known = self._words.follow(held)
                new: dict[str, Word] = {}
                for row in rows:
                    word, why = log_codec.judged(row)
                    if word is not None and log_codec.moment(word.when) > log_codec.moment(
                        now
                    ):  # a phone's clock that is ahead
                        word = replace(word, when=now)
                    if word is not None and word.kind == "task" and word.key not in known:
                        why = self._wrong((*known.words, *new.values(), word))
                    reasons.append(why)
                    if word is not None and not why:
                        taken.append(word.key)
                        new.setdefault(word.key, word)
                return [(w.kind, log_codec.rows_of(w)) for w in log_codec.merged(new.values()) if w.key not in known]

        log.add(self.folder, work)
        if taken and "work" not in log.look(self.folder).sections:
            log.write(self.folder, {"work": {"id": self.job_id()}})
        keys = [str(row.get("key")) if isinstance(row, dict) else "" for row in rows]
        refused = {key: why for key, why in zip(keys, reasons) if why and log_codec.KEY.fullmatch(key)}
        return {"taken": taken, "refused": refused, "reasons": reasons}

    def _wrong(self, said: tuple[Word, ...]) -> str:
        """Why a change of the list cannot be; "" where it can."""
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return ""
        try:
            self._worked(session.job, result, log_codec.done_of_words(said))
        except InputError as error:
            return str(error)
        return ""


def _told(error: BackwaveError) -> list[str]:
    held = [JobError((p,)) for p in error.problems] if isinstance(error, JobError) else [error]
    return [" ".join(str(one).split()) for one in held]


def _stamp(path: Path) -> tuple[int, int]:
    try:
        held = path.stat()
    except OSError:
        return 0, 0
    return held.st_mtime_ns, held.st_size


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def work_view(made: Working, job: Job, result: Assessment, device: str, photos: Collection[str]) -> dict[str, Any]:
    heads = {"\n".join(subject): list(one.heads) for subject, one in made.done.held.items()}
    crew = job.file.crew.people if job.file.crew is not None else ()
    places = {place.subject: result.names.get(place.subject, place.subject) for place in result.places}
    tasks = [_task(row, made) for row in made.rows]
    return {
        "title": result.title,
        "verdict": result.verdict,
        "seal": verdict(overall(result)),
        "people": list(dict.fromkeys((*crew, *(task["who"] for task in tasks if task["who"])))),
        "places": [{"id": name, "name": told} for name, told in places.items()],
        "tasks": tasks,
        "consented": made.done.consented,
        "consents": [asdict(one) for one in made.done.consents],
        "steps": [_plain(vars(step)) for step in made.teardown],
        "condition": [_plain(vars(one)) for one in made.condition],
        "there": [path for path in made.pictures if path in photos],
        "items": [_item(item, Audience(result.show, result.names)) for item in made.items],
        "total": made.total,
        "findings": [
            {"verdict": f.check.verdict, "seal": verdict(f.check.verdict), "title": words(f.check.title, result.show),
             "remedy": words(f.check.remedy, result.show) or "", "about": f.subject}
            for f in made.findings
        ],
        "heads": heads,
        "own": [
            {"key": word.key, "what": _what(word, made), "kind": word.kind, "id": word.id, "part": word.part,
             "stands": stands}
            for word, stands in log_codec.own(made.done.words, device, made.done.held)[-MAX_OWN:]
        ],
    }  # fmt: skip


def _task(row: Any, made: Working) -> dict[str, Any]:
    tick = made.done.ticks.get(row.task.id)
    by, when = (tick.by, tick.when) if tick is not None and tick.done else ("", "")
    return _plain(asdict(row.task)) | {
        "done": row.done, "by": by, "when": when, "took": row.took_min,
        "gates": [{"words": told, "done": confirmed} for told, confirmed in row.gates],
        "runs": [_plain(asdict(run)) for run in row.runs],
    }  # fmt: skip


def _item(item: Item, told: Audience) -> dict[str, Any]:
    _, what, size, much, source, _ = thing(told, item)
    assert isinstance(what, dict)
    return {
        "id": item.id, "group": item.group, "what": what["text"], "size": size, "amount": much,
        "why": "".join(what["lines"]), "source": source, "have": item.have, "price": item.price,
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


class PictureWorker:
    """Cleans pictures; the process starts with the first one."""

    def __init__(self) -> None:
        self._workers: Workers | None = None
        self._lock = threading.Lock()
        self._waiting = threading.Semaphore(MAX_WAITING)
        self._number = count()

    def clean(self, data: bytes) -> bytes:
        """As `files.photos.clean_picture`, with at most `MAX_PIXELS`; waits for its turn. InputError: as there; also
        one that takes too much memory or time, or too many at once."""
        if not self._waiting.acquire(blocking=False):
            raise InputError("pictures at once", f"more than {MAX_WAITING}", "one after another: send it again")
        try:
            with self._lock:
                if self._workers is None:
                    load = ("backwave.files.photos", "PIL.JpegImagePlugin", "PIL.PngImagePlugin", "PIL.WebPImagePlugin")
                    self._workers = Workers(count=1, load=load, grace_s=0.0, most_bytes=MAX_MEMORY)
            ticket = self._workers.submit(f"picture {next(self._number)}", clean_picture, data, MAX_PIXELS)
            try:
                return bytes(ticket.result(LIMIT_S * MAX_WAITING))
            except (TimeoutError, CancelledError):
                ticket.cancel()
                raise InputError("a picture that takes too long", f"{len(data)} bytes", "a plain photograph") from None
            except (MemoryError, BuildError):
                what = "a picture that takes too much memory"
                raise InputError(what, f"{len(data)} bytes", "a plain photograph") from None
        finally:
            self._waiting.release()

    def close(self) -> None:
        if self._workers is not None:
            self._workers.close()
