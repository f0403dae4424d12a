"""The work as the place Work shows it, and what phones say of it, taken into log.toml.

Words come in any order, late, and more than once; each is taken once.  A word that cannot be taken is told with its
reason and stays on the phone.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import re
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from backwave.assess import Assessment
from backwave.assess.work.log_codec import KINDS, Word, moment, sections, word_of, words_of
from backwave.assess.work.work_plan import Working, working
from backwave.assess.work.work_state import done_of_words
from backwave.bench.board import Board
from backwave.bench.work_view import view
from backwave.errors import BackwaveError, InputError, JobError, Problem
from backwave.files.build_cache import read_kept
from backwave.files.photos import pictures_in
from backwave.job import Job, log

__all__ = ["Ledger"]

MOST_WORDS = 500
MOST_DEVICES = 20
KEY = re.compile(r"[a-z0-9]{3,16}-[a-z0-9-]{4,32}")


class Ledger:
    """What was said of a job's work, for every phone that asks; safe to use from several threads.

    Parameters
    ----------
    board : Board, no unit
        The job.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self._lock = threading.Lock()
        self._known: tuple[Any, tuple[Working, dict[str, Any]] | None] = (None, None)

    @property
    def folder(self) -> Path:
        """The job folder."""
        return self.board.folder

    def job_id(self) -> str:
        """What phones keep their words under: made from the folder once, then kept in the log, wherever the folder goes."""
        try:
            held = log.read(self.folder).get("work", {})
        except JobError:
            held = {}
        own = held.get("id") if isinstance(held, dict) else None
        return own if isinstance(own, str) and own else _digest(str(self.folder.resolve()))

    def working(self) -> tuple[Working, Job, Assessment] | None:
        """The work as it stands; None while there is no job, or nothing is worked out yet.

        Raises
        ------
        BackwaveError
            The log cannot be read, or holds tasks that wait for each other.
        """
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return None
        stamp = (result, *(_stamp(self.folder / name) for name in (log.LOG, "photos", "made/.cache/solids.json")))
        with self._lock:
            if self._known[0] != stamp:
                found = self._worked(session.job, result, words_of(log.read(self.folder)))
                self._known = stamp, (found, {})
            assert self._known[1] is not None
            return self._known[1][0], session.job, result

    def _worked(self, job: Job, result: Assessment, said: tuple[Word, ...]) -> Working:
        kept = read_kept(self.folder / "made")
        return working(job, result, kept, done_of_words(said), pictures_in(self.folder))

    def shown(self, device: str, seen: str = "") -> dict[str, Any]:
        """What the page shows; nothing but its tag where the page has seen that already.

        Parameters
        ----------
        device : str, no unit
            Whose last words can be taken back.
        seen : str, no unit
            The tag of what the page shows.
        """
        now = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
        try:
            there = self.working()
        except BackwaveError as error:
            return {"now": now, "tag": "", "trouble": _told(error)}
        if there is None:
            return {"now": now, "tag": "", "nothing": self.board.session is None}
        made, job, result = there
        held = self._known[1][1] if self._known[1] is not None and self._known[1][0] is made else {}
        if device not in held:
            if len(held) > MOST_DEVICES:
                held.clear()
            whole = view(made, job, result, device, pictures_in(self.folder))
            held[device] = whole | {"tag": _digest(json.dumps(whole, sort_keys=True))}
        document = held[device]
        if document["tag"] == seen:
            return {"now": now, "tag": seen, "same": True}
        return {"now": now, **document}

    def take(self, rows: Any) -> dict[str, Any]:
        """Take words into the log.

        Parameters
        ----------
        rows : list of dict, no unit
            Each a row of its section, with `kind`.

        Returns
        -------
        dict
            `taken`: keys that stand in the log now; `refused`: key to reason.

        Raises
        ------
        BackwaveError
            The log cannot be read or is newer: nothing was taken, nothing written.
        """
        if not isinstance(rows, list) or len(rows) > MOST_WORDS or not all(isinstance(r, dict) for r in rows):
            raise InputError("words", f"{len(rows)} of them" if isinstance(rows, list) else "no list", f"a list, at most {MOST_WORDS}")  # fmt: skip
        refused: dict[str, str] = {}
        taken: list[str] = []

        def work(held: dict[str, Any]) -> Mapping[str, Any]:
            known = words_of(held)
            new: list[Word] = []
            for row in rows:
                word, why = self._word(row)
                if word is not None and word.kind == "task" and word.key not in {w.key for w in known}:
                    why = self._wrong((*known, *new, word))
                if word is None or why:
                    refused[str(row.get("key", ""))[:60]] = why
                    continue
                taken.append(word.key)
                new.append(word)
            found = sections(held, new)
            return found | {"work": {"id": self.job_id()}} if found and "work" not in held else found

        log.change(self.folder, work)
        return {"taken": taken, "refused": refused}

    def _word(self, row: dict[str, Any]) -> tuple[Word | None, str]:
        kind, key = row.get("kind"), row.get("key")
        if not isinstance(kind, str) or kind not in KINDS or not isinstance(key, str) or not KEY.fullmatch(key):
            return None, "not a word of this page"
        name = row.get("id")
        if not isinstance(name, str) or not 0 < len(name) <= 200 or not isinstance(row.get("when"), str):
            return None, "not about anything, or without its time"
        problems: list[Problem] = []
        word = word_of(kind, _clean(row), kind, problems)
        if problems or word is None:
            return None, "; ".join(f"{p.message}: {p.found}. Accepted: {p.accepted}" for p in problems)
        if kind == "note" and not dict(word.fields).get("text", "x"):
            return None, "a note without words"
        now = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
        if moment(word.when) > moment(now):  # a phone's clock that is ahead
            word = replace(word, when=now)
        return word, ""

    def _wrong(self, said: tuple[Word, ...]) -> str:
        """Why a change of the list cannot be; "" where it can."""
        session, result = self.board.session, self.board.result
        if session is None or result is None:
            return ""
        try:
            self._worked(session.job, result, said)
        except InputError as error:
            return str(error)
        return ""


def _clean(row: Any) -> Any:
    """Without what no file should hold: control characters."""
    if isinstance(row, str):
        return "".join(c for c in row if c in "\n\t" or c >= " ").replace("\x7f", "")
    if isinstance(row, dict):
        return {str(k): _clean(v) for k, v in row.items()}
    return [_clean(v) for v in row] if isinstance(row, list) else row


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
