"""The work as the place Work shows it, and what phones say of it, taken into log.toml.

Words come in any order, late, and more than once; each is judged alone and taken once.  One that cannot be taken is
told with its reason, and the others are taken all the same.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

from backwave.assess import Assessment
from backwave.assess.work.log_codec import KEY, LogWords, done_of_record, done_of_words, judged, merged, moment, rows_of
from backwave.assess.work.work_plan import Working, working
from backwave.bench.board import Board
from backwave.bench.page_frame import saved_or_not
from backwave.bench.work_view import view
from backwave.errors import BackwaveError, InputError, JobError
from backwave.files.manifest import read_kept
from backwave.files.photos import pictures_in
from backwave.job import Job, log
from backwave.plan import Word
from backwave.plan.work_state import Done

MAX_WORDS = 500
MAX_DEVICES = 20


class WorkSync:
    """What was said of a job's work, for every phone that asks; safe to use from several threads."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self._lock = threading.Lock()  # taken inside the job's own lock, never around it
        self._words = LogWords()
        self._known: tuple[Any, tuple[Working, dict[str, Any]] | None] = (None, None)

    @property
    def folder(self) -> Path:
        """The job folder."""
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
        """The work as it stands; None while there is no job, or nothing is worked out yet.

        BackwaveError: the log cannot be read, or holds tasks that wait for each other.
        """
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return None
        held = log.look(self.folder)
        files = (_stamp(self.folder / name) for name in ("photos", "made/.cache/solids.json"))
        torn = log.torn(self.folder)
        stamp = (result, held.epoch, held.stamp, torn, *files)
        with self._lock:
            if self._known[0] != stamp:
                found = self._worked(session.job, result, done_of_record(self._words.follow(held)), torn)
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
            whole = view(made, job, result, device, pictures_in(self.folder))
            held[device] = whole | {"tag": _digest(json.dumps(whole, sort_keys=True))}
        document = held[device]
        if document["tag"] == seen:
            return {**now, "tag": seen, "same": True}
        return {**now, **document}

    def take(self, rows: Any) -> dict[str, Any]:
        """Take words into the log.

        Returns `reasons`: for each word why it was refused, "" where it stands in the log now; the same by key in
        `taken` and `refused`; BackwaveError: the log cannot be read or is newer: nothing was taken, nothing
        written.
        """
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
                    word, why = judged(row)
                    if word is not None and moment(word.when) > moment(now):  # a phone's clock that is ahead
                        word = replace(word, when=now)
                    if word is not None and word.kind == "task" and word.key not in known:
                        why = self._wrong((*known.words, *new.values(), word))
                    reasons.append(why)
                    if word is not None and not why:
                        taken.append(word.key)
                        new.setdefault(word.key, word)
                return [(w.kind, rows_of(w)) for w in merged(new.values()) if w.key not in known]

        log.add(self.folder, work)
        if taken and "work" not in log.look(self.folder).sections:
            log.write(self.folder, {"work": {"id": self.job_id()}})
        keys = [str(row.get("key")) if isinstance(row, dict) else "" for row in rows]
        refused = {key: why for key, why in zip(keys, reasons) if why and KEY.fullmatch(key)}
        return {"taken": taken, "refused": refused, "reasons": reasons}

    def _wrong(self, said: tuple[Word, ...]) -> str:
        """Why a change of the list cannot be; "" where it can."""
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return ""
        try:
            self._worked(session.job, result, done_of_words(said))
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
