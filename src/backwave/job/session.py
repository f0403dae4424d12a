"""One open job: the last good one, its text, undo that survives a reload, saves, and what happens outside.

The file on disk is the truth.  An edit here is checked first, shown at once and written a moment later; an edit in
a text editor is taken in by `poll`.  Where both touched the file, both are kept if they touch different keys;
if they do not, nothing is written until a person says which goes, and the other stays beside it."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

from backwave.atomic_write import aside, clear_left, job_lock, write_whole
from backwave.errors import InputError, JobError, MissingError, Problem
from backwave.job import history
from backwave.job.disk import keep_older, write
from backwave.job.gates import add, followed, gates_of, refused
from backwave.job.load import FILE, Job, edition_of, loads, migrated, read_text
from backwave.job.toml_spans import KeyPath, lines_of
from backwave.job.undo import Change, Conflict, Entry, Put, conflict, merged, missed, problems_of, redone, spoken, tried

MAX_UNDO = 200
MAX_BEFORE = 8  # outside edits that what is typed here may have missed
TRIES = 5
WAIT_S = 2.0  # for another backwave's save; then it is said, and tried again
_GONE = "the file is gone"
_NOT_SAVED = "Not saved"


class Session:
    """One open job; safe to use from several threads. `delay_s`: how long an edit waits for the next one before it is
    written; MissingError, JobError: no job there, or one that is wrong from the start."""

    def __init__(self, folder: Path, *, delay_s: float = 0.4) -> None:
        self.folder = folder.parent if folder.name == FILE else folder
        for inner in ("", "photos", "readings"):
            clear_left(self.folder / inner)
        self.revision = 0
        self.faults: tuple[Problem, ...] = ()
        self.conflict: Conflict | None = None
        self.said = ""
        """The last thing a person has to be told: an undo refused, a save that failed, a log put aside."""
        self._delay = delay_s
        self._lock = threading.RLock()
        self._watchers: list[Callable[[], None]] = []
        self._disk = read_text(self.folder)  # as last seen or written
        edition_of(self._disk)
        self.text = self._base = migrated(self._disk)
        self.job: Job = loads(self.text, self.folder)
        self._job_base = self.job
        self._pending: list[Entry] = []  # done here, not yet on disk
        self._due = self._latest = 0.0
        self._before: deque[tuple[str, Job]] = deque(maxlen=MAX_BEFORE)  # as seen before each outside edit
        self._after: Job | None = None  # as it came in with the last of them
        self._stamp = self._stamped()
        self._undo, self._redo = self._history() or ([], [])

    # -- what a page shows --------------------------------------------------------------------------------------

    @property
    def saved(self) -> bool:
        """Whether all that was done here is on disk."""
        return not self._pending

    @property
    def unsaved(self) -> tuple[str, ...]:
        """What was done here and is not on disk, in words: keys and their values."""
        return spoken(self._pending)

    @property
    def can_undo(self) -> bool:
        """Whether there is anything to take back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """Whether there is anything to do once more."""
        return bool(self._redo)

    @property
    def undo_label(self) -> str:
        """What `undo` would take back, in words; "" for nothing."""
        return self._undo[-1].label if self._undo else ""

    @property
    def redo_label(self) -> str:
        """What `redo` would do once more, in words; "" for nothing."""
        return self._redo[-1].label if self._redo else ""

    def subscribe(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call something after every change of what is seen, in the thread that made it; gives what ends that."""
        self._watchers.append(callback)

        def end() -> None:
            with contextlib.suppress(ValueError):  # ended twice
                self._watchers.remove(callback)

        return end

    # -- edits --------------------------------------------------------------------------------------------------

    def set(self, path: KeyPath, value: Any, *, label: str = "", seen: str | None = None) -> tuple[Problem, ...]:
        """Set one key, or take it out. `seen`: what the person saw there, as it is typed: where the file has been given
        another value outside since then, both have changed the same thing, and that is asked; None: nobody looked."""
        path = tuple(path)
        return self.set_many([Put(path, value)], label=label, seen={} if seen is None else {path: seen})

    def set_many(
        self, changes: Iterable[Change], *, label: str = "", seen: Mapping[KeyPath, str] | None = None
    ) -> tuple[Problem, ...]:
        """Do several changes in order, as one step of undo: all of them or none."""
        with self._lock:
            old = None
            if self._after is not None and not self._pending:
                old = missed(seen or {}, self.job, self._after, self._before)
            was, on = old or (self.text, self.job)
            try:
                done = tried(was, self.folder, changes, label, on)
            except JobError as error:
                return error.problems
            if done is None:
                return ()
            text, job, what = done
            if fault := refused(on.file, job.file, job.gates):
                return (job.problem(*fault),)
            self.said = ""
            if old is not None:  # as if it had been done before the file was edited outside
                self.text, self.job = self._base, self._job_base = old
            self._take(text, job, what)
            self._undo = [*self._undo, what][-MAX_UNDO:]
            self._redo = []
            if old is not None:
                self._outside(self._disk)
        self._tell()
        return ()

    def confirm(self, gate: str, of: str, what: str, said: Mapping[str, bool], read: str = "") -> None:
        """Say yes or no to lines of a gate, kept at once and for good: undo does not touch it. `of` is the pair, output
        or amplifier line, `what` the digest of what it is (`gates.about`); with `read` (`gates.reading`) also that this
        reading, which stands in the job already, was taken so. JobError, OSError: the log cannot be read or written:
        nothing was confirmed."""
        with self._noticed():
            self.flush()  # what was typed just now may be what it is about
            add(self.folder, gate, of, what, said, read)
            self._gated()

    def _gated(self) -> None:
        found = gates_of(self.folder)
        if found is not self.job.gates and found != self.job.gates:
            self.job, self._job_base = (replace(one, gates=found) for one in (self.job, self._job_base))
            self.revision += 1

    def undo(self) -> bool:
        """Take back the last thing done; False if there is none, or it no longer applies (`said` tells which)."""
        return self._back("undo")

    def redo(self) -> bool:
        """Do once more what was taken back; False as for `undo`."""
        return self._back("redo")

    def _back(self, word: Literal["undo", "redo"]) -> bool:
        with self._lock:
            stack, other = (self._undo, self._redo) if word == "undo" else (self._redo, self._undo)
            if not stack:
                return False
            what = stack.pop()  # gone either way: one that no longer applies must not bar the way to those before
            forward = word == "redo"
            try:
                text, done = redone(self.text, what if forward else what.mirrored())
                job = loads(text, self.folder, self.job)
                self.said = ""
                self._take(text, job, done)
                other.append(done if forward else done.mirrored())
            except InputError as error:
                why = error.problems[0].message if isinstance(error, JobError) else error.what
                self.said = f"Cannot {word} “{what.label}”: {why}. Nothing was changed."
            refused = bool(self.said)
        self._tell()
        return not refused

    def _take(self, text: str, job: Job, what: Entry) -> None:
        self.text, self.job = text, job
        self.revision += 1
        now = time.monotonic()
        if not self._pending:
            self._latest = now + 10 * self._delay  # however fast edits follow one another
        self._pending.append(what)
        self._due = min(now + self._delay, self._latest)
        if self.conflict is not None:
            self.conflict = replace(self.conflict, mine=text)
            if text == self._base:  # taken back: nothing of ours is in the way any more
                self._pending = []
                self._outside(self._disk)

    # -- the file -----------------------------------------------------------------------------------------------

    def poll(self) -> bool:
        """Take in what happened outside and write what is due; to be called a few times a second. Returns whether
        anything changed: what is seen, what is wrong, whether it is saved."""
        with self._noticed() as changed:
            self._look()
            if self._pending and not self._held() and time.monotonic() >= self._due:
                try:
                    self._save()
                except (OSError, InputError) as error:
                    self._due = self._latest = time.monotonic() + 10 * self._delay
                    why = error.strerror if isinstance(error, OSError) and error.strerror else error
                    self.said = f"{_NOT_SAVED}, trying again: {FILE}: {why}"
            # where things stand is read now, and not while an edit waits for it
            with contextlib.suppress(InputError):
                lines_of(self.text).line(("format",))
        return bool(changed)

    def flush(self) -> None:
        """Write now what was done here; nothing is written over an outside edit that does not go with it. OSError: the
        disk is full, or the folder may not be written."""
        with self._noticed():
            self._look()
            if self._pending and not self._held():
                self._save()

    def close(self) -> Path | None:
        """Write what was done here, in the end; what cannot go into the file as it is outside is kept beside it.
        OSError: it could not be kept beside it either: `unsaved` tells what is lost."""
        with self._lock:
            with contextlib.suppress(OSError, InputError):
                self.flush()
            return write_whole(aside(self.folder / FILE, "mine"), self.text.encode()) if self._pending else None

    def resolve(self, keep: Literal["mine", "theirs"]) -> None:
        """End a conflict; the version that goes is kept beside the file. OSError: the version that goes could not be
        kept; nothing was changed."""
        with self._lock, job_lock(self.folder):
            self._look()  # the latest of theirs
            if self.conflict is None:
                return
            path = self.folder / FILE
            theirs = path.read_bytes()
            kept = write_whole(
                aside(path, "theirs" if keep == "mine" else "mine"), theirs if keep == "mine" else self.text.encode()
            )
            if keep == "mine":
                self._record()
                if not write(self.folder, self.text, self._data(), theirs):
                    return  # theirs has changed once more: asked anew
                self._wrote()
            else:
                dropped = {id(e) for e in self._pending}
                self._undo = [e for e in self._undo if id(e) not in dropped]
                self._pending = []
                self.text, self.job = self._base, self._job_base
                self._outside(self._disk)
            self.said = f"The other version is kept as {kept.name}."
            self.revision += 1
        self._tell()

    @contextlib.contextmanager
    def _noticed(self) -> Iterator[list[bool]]:
        """Alone; whoever watches is told afterwards if anything that is seen has changed."""
        changed: list[bool] = []
        with self._lock:
            before = self._state()
            yield changed
            if self._state() != before:
                changed.append(True)
        if changed:
            self._tell()

    def _data(self) -> dict[str, Any]:
        return {} if self.job.lines is None else self.job.lines.data

    def _held(self) -> bool:
        """Whether nothing may be written: their version would be lost."""
        return self.conflict is not None or any(p.message != _GONE for p in self.faults)

    def _state(self) -> tuple[object, ...]:
        return self.revision, self.faults, self.conflict, self.saved, self.said

    def _look(self) -> None:
        """Has anybody else written the file?  Known by its content, so that our own writes are not news."""
        try:
            text, stamp = read_text(self.folder), self._stamped()
        except MissingError:
            gone = Problem(FILE, None, "", "", "the file put back; or any change here writes it anew", _GONE)
            self.faults, self._disk, self.conflict = (gone,), "", None
            return
        except (JobError, OSError) as error:  # no text at all
            self.faults, self._disk = problems_of(error), ""
        else:
            if text != self._disk or stamp != self._stamp:
                self._stamp = stamp
                self._outside(text)
            self._gated()
        if self._pending and self.conflict is None and self._held():
            self.conflict = conflict(self.text, self._disk, self._pending)

    def _stamped(self) -> tuple[tuple[str, int], ...]:
        """When the other files that the job reads were last written."""
        names = (*self.job.traces, *self.job.columns, "photos", "readings")
        paths = [self.folder / name for name in names]
        return tuple((str(p), p.stat().st_mtime_ns) for p in paths if p.exists())

    def _outside(self, text: str) -> None:
        """Take in the file as somebody else wrote it."""
        self._disk, self.conflict = text, None
        try:
            edition_of(text)
            theirs = migrated(text)
            job = loads(theirs, self.folder)
        except InputError as error:
            self.faults = problems_of(error)
            return
        self.faults = ()
        if theirs != self.text:
            self._before.append((self.text, self.job))
            self._after = job
        if self._pending and theirs != self.text:
            self._merge(theirs, job)
            return
        self._pending = []
        if theirs != self.text or job.digest != self.job.digest:
            self.revision += 1
            self._undo, self._redo = self._history() or (self._undo, self._redo)  # perhaps another backwave's
        self._settle(theirs, job)

    def _merge(self, theirs: str, job: Job) -> None:
        """Do what was done here on the file as it is outside; a conflict where it does not go."""
        both = merged(self.text, theirs, self._pending, self.folder)
        if isinstance(both, Conflict):
            self.conflict = both
            return
        swap = {id(old): new for old, new in zip(self._pending, both.done)}
        self._undo = [swap.get(id(e), e) for e in self._undo]
        self._settle(theirs, job)
        self._pending, self.text, self.job = list(both.done), both.text, both.job
        self.revision += 1

    def _settle(self, text: str, job: Job) -> None:
        self.text = self._base = text
        self.job = self._job_base = job

    def _save(self) -> None:
        """Write it over the file as it was seen, alone with it; where somebody was quicker, theirs comes in first."""
        with job_lock(self.folder, WAIT_S):
            for _ in range(TRIES):
                self._look()
                if not self._pending or self._held():
                    return
                if self._disk:
                    keep_older(self.folder, self._disk)
                self._record()  # before the job: another backwave that sees the new job finds its history there
                if write(self.folder, self.text, self._data(), self._disk or None):
                    self._wrote()
                    return
        raise TimeoutError("somebody else is writing the file all the time")

    def _wrote(self) -> None:
        try:
            followed(self.folder, self._job_base.file, self.job.file, self.job.gates)
        except (JobError, OSError) as error:  # the safe way round: a reading that nothing vouches for does not count
            self.said = f"What was confirmed could not be kept, so nothing is confirmed by it. {error}"
        self._disk, self.faults, self.conflict, self._pending = self.text, (), None, []
        if self.said.startswith(_NOT_SAVED):
            self.said = ""
        self._settle(self.text, self.job)
        self._gated()

    # -- undo on disk -------------------------------------------------------------------------------------------

    def _history(self) -> tuple[list[Entry], list[Entry]] | None:
        """What can be undone and redone; None where it cannot be read, which is said."""
        held = history.read(self.folder)
        self.said = held.said or self.said
        return (list(held.undo), list(held.redo)) if held.whole else None

    def _record(self) -> None:
        try:
            history.record(self.folder, self._undo, self._redo[-MAX_UNDO:])
        except (JobError, OSError) as error:
            self.said = f"Undo will not outlive this session. {error}"

    def _tell(self) -> None:
        for callback in list(self._watchers):
            callback()
