"""One board a job folder: the session, the last assessment, and what every open tab is told.

What takes longer than a glance happens beside the page's loop: edits in one thread, the fit in another, which is
shown as soon as it is known; the sound, which takes longer, follows in a third and makes way for the next edit."""

from __future__ import annotations

import asyncio
import contextlib
import datetime
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

from backwave.assess import (
    Assessment,
    Memo,
    PartOrder,
    Prediction,
    SoundEngine,
    assess,
    engine_of,
    follows,
    provisional,
    with_reasons,
    with_solids,
)
from backwave.assess.part_release import ROW, part_digest, reason_row
from backwave.bench.background import Hearing, Latest, Turn
from backwave.bench.repair import Repair
from backwave.bench.solids import Solids
from backwave.budget import GB, Budget, OvertakenError, within
from backwave.crash import ending
from backwave.errors import BackwaveError, InputError, JobError, Problem, TooMuchError
from backwave.files.manifest import NAME, read_kept
from backwave.job import FILE, Job, Session, log, starter
from backwave.job.disk import Presence
from backwave.job.toml_spans import KeyPath
from backwave.job.undo import Change, tried
from backwave.units import Quantity

POLL_S = 0.25
OTHERS_S = 3.0
GLANCE_S = 0.12  # what follows within it is told with the edit, in one update
TRIAL_S = 10.0  # of a value while it is dragged
BUSY_S = 1.0  # from then on the page says what takes so long, and it can be stopped
WHOLE_S, MAX_BYTES = 180.0, 1.5 * GB  # of all that follows from a job; each part of it has a budget of its own
REST_S = 0.1  # before the sound: the page is drawn first
ROOM = 4096  # results kept: of a dozen openings with all their stages
ROOM_BYTES = 128_000_000  # and what they may hold together: some thirty edits of the demo, with all that followed

Problems = tuple[Problem, ...]
Trial = Callable[[Assessment | None, Assessment | Problems], None]  # told what is, and what would be or is wrong


class Board:
    """A job as every tab sees it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.parent if folder.name == FILE else folder
        self.session: Session | None = None
        self.repair: Repair | None = None  # where the job file is wrong from the start
        self.result: Assessment | None = None
        self.lost: tuple[str, ...] = ()  # what could neither be saved nor kept in the end, in words
        # whether all of it belongs to this very job; False while sound and wires are still being worked out
        self.whole = False
        self.trouble: tuple[Problem, ...] = ()
        self.presence: Presence | None = None  # of this workbench, once it listens
        self.others: tuple[str, ...] = ()  # other workbenches that have this job open, in words
        self._bare: Assessment | None = None  # without what was found on the solids
        self.solids = Solids(self.folder / "made" / ".cache" / "bench", self._built)
        self.hearing = Hearing(self.folder, self.again, self._built)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._watchers: list[Callable[[], None]] = []
        self._due: asyncio.TimerHandle | None = None
        self._due_at = 0.0  # beside it: a handle that is due at once does not say when
        self._edits = ThreadPoolExecutor(1, "edits")
        self._fits, self._sounds, self._trials = Latest("fit"), Latest("sound"), Latest("trial")
        self._budget: Budget | None = None  # of what is being worked out
        self._memo = Memo(room=ROOM, most_bytes=ROOM_BYTES)
        self._lock = threading.Lock()
        self._fitted: Job | None = None  # the last job whose fit, and whose sound, was worked out
        self._sounded: Job | None = None
        self._predicted: Prediction | None = None  # what was predicted of it, and what plays it otherwise
        self._engine: SoundEngine | None = None
        self._engines = threading.Lock()
        self._trial: tuple[Callable[[Trial], None], Trial] | None = None
        if (self.folder / FILE).exists():
            self._open()

    def _open(self) -> None:
        try:
            self.session = Session(self.folder)
        except JobError as error:
            self.repair = Repair(self.folder, error.problems)
            return
        self.repair = None
        self.session.subscribe(self._changed)
        self._changed()

    @property
    def data(self) -> dict[str, Any]:
        """What the file says, as it is written there."""
        lines = None if self.session is None else self.session.job.lines
        return {} if lines is None else lines.data

    # -- the page's loop ----------------------------------------------------------------------------------------

    async def run(self) -> None:
        """Look at the file a few times a second, until canceled."""
        self._loop = asyncio.get_running_loop()
        due, made = 0.0, self.folder / "made" / NAME
        known = _stamp(made)
        while True:
            if known != (known := _stamp(made)):  # built by `backwave make` beside this page
                await self._loop.run_in_executor(self._edits, self._built)
            look = self.session.poll if self.session is not None else self._looked
            await self._loop.run_in_executor(self._edits, look)
            if self.presence is not None and self.session is not None and self._loop.time() >= due:
                due = self._loop.time() + OTHERS_S
                others = await self._loop.run_in_executor(self._edits, self.presence.look)
                if others != self.others:
                    self.others = others
                    self.again()
            await asyncio.sleep(POLL_S)

    def _looked(self) -> None:
        """A file that was wrong may have been put right outside."""
        if self.repair is not None and self.repair.changed():
            if not self.repair.problems:
                self._open()
            self.again()

    async def mend(self, text: str) -> bool:
        """Save a job file that was wrong from the start; False: it still is, and nothing was written."""

        def work() -> bool:
            if self.repair is None:  # put right meanwhile, in another tab or outside
                return True
            kept = self.repair.save(text)
            if kept is not None:
                self._open()
            if kept is not None and self.session is not None:
                self.session.said = f"The file as it was is kept as {kept.name}."
            self.again()
            return kept is not None

        return bool(await self.beside(work))

    def close(self) -> None:
        """Save what is due and end the workers."""
        said, to = "", sys.stdout
        try:
            kept = None if self.session is None else self.session.close()
            if kept is not None:
                said = f"What was done last does not go with the file as it is: kept as {kept.name}."
        except OSError as error:
            assert self.session is not None  # it is what could not be saved
            self.lost, to = self.session.unsaved, sys.stderr
            said = f"Not saved ({error.strerror or error}); enter it again: {'; '.join(self.lost)}."
        with contextlib.suppress(OSError):  # its terminal is closed
            print(said, end="\n" if said else "", file=to, flush=True)
        if self.presence is not None:
            self.presence.end()
        self.solids.close()
        self.hearing.close()
        for one in (self._fits, self._sounds, self._trials):
            one.close()
        self._edits.shutdown(wait=False, cancel_futures=True)

    def watch(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call something in the page's loop whenever anything has changed."""
        self._watchers.append(callback)

        def end() -> None:
            with contextlib.suppress(ValueError):
                self._watchers.remove(callback)

        return end

    def again(self, seconds: float = 0.0) -> None:
        """Something changed: every tab is told, from whatever thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._soon, seconds)

    def _soon(self, seconds: float) -> None:
        """Tell once of all that happens until then."""
        loop = asyncio.get_running_loop()
        due = loop.time() + seconds
        if self._due is None or self._due_at > due:
            if self._due is not None:
                self._due.cancel()
            self._due, self._due_at = loop.call_at(due, self._tell), due

    def _tell(self) -> None:
        self._due = None
        for callback in tuple(self._watchers):
            callback()
        if self._due is None and (self._fits.busy_s or self._sounds.busy_s):
            self._soon(BUSY_S)

    # -- edits --------------------------------------------------------------------------------------------------

    async def change(self, changes: Iterable[Change], label: str = "") -> tuple[Problem, ...]:
        session = self._session()
        return tuple(await self.beside(lambda: session.set_many(changes, label=label)))

    async def put(self, path: KeyPath, value: Any, *, seen: str | None = None) -> tuple[Problem, ...]:
        session = self._session()
        return tuple(await self.beside(lambda: session.set(path, value, seen=seen)))

    async def step(self, word: str) -> bool:
        session = self._session()
        return bool(await self.beside(session.undo if word == "undo" else session.redo))

    async def resolve(self, keep: Any) -> None:
        session = self._session()
        await self.beside(lambda: session.resolve(keep))

    async def begin(self, title: str, readings: dict[str, str]) -> tuple[Problem, ...]:
        """Start a job in a folder that has none."""

        def start() -> tuple[Problem, ...]:
            try:
                starter.write(self.folder, title, **readings)
            except JobError as error:
                return error.problems
            self._open()
            return ()

        return tuple(await self.beside(start))

    async def beside(self, work: Callable[[], Any]) -> Any:
        """Do something in the thread of edits."""
        return await asyncio.get_running_loop().run_in_executor(self._edits, work)

    def _session(self) -> Session:
        if self.session is None:
            raise BackwaveError("there is no job here yet")
        return self.session

    # -- what follows from it -----------------------------------------------------------------------------------

    def _changed(self) -> None:
        if self._session().job is self._fitted:  # saved, or something to say
            self.again()
            return
        self.again(GLANCE_S)
        self._fits.start(self._fit)

    @property
    def busy(self) -> str:
        """What is being worked out, where that takes longer than a person likes to wait; else ""."""
        lasts = max(self._fits.busy_s, self._sounds.busy_s)
        budget = self._budget
        return "" if lasts < BUSY_S or budget is None else f"{budget.doing or budget.what}, {lasts:.0f} s"

    def stop(self) -> None:
        """Give up what is being worked out; the last answer stays, and the page says so."""
        self._fits.stop()
        self._sounds.stop()
        words = "Stopped. Change or undo what takes so long; any edit works it out again."
        self.trouble = (Problem(FILE, None, "", "", "", words),)
        self.again()

    def _fit(self, turn: Turn) -> None:
        """At once by first order, with what was chosen before: ends are out by a tenth until the rest follows."""
        job = self._session().job
        if job is self._fitted:
            return
        self._fitted = job
        try:
            with within(self._budgeted(turn.gone)):
                result = provisional(job, self.result, self._memo)
        except OvertakenError:
            return
        except Exception as error:  # noqa: BLE001 - whatever it was, the page says that it follows the job no more
            if not turn.over:
                self._troubled(error)
            return
        with self._lock:
            if turn.over:
                return
            self._publish(result, whole=not result.preliminary and not follows(job))
        self._sounds.start(self._sound)

    def _budgeted(self, gone: Callable[[], bool]) -> Budget:
        self._budget = Budget("what follows from the job", WHOLE_S, MAX_BYTES, gone)
        return self._budget

    def _sound(self, turn: Turn) -> None:
        """Everything, with all draws; given up at its next step where an edit comes or something is dragged."""
        job = self._session().job
        if job is self._sounded:
            return

        def gone() -> bool:
            return turn.over or self._session().job is not job or self._trial is not None

        time.sleep(REST_S)
        try:
            with within(self._budgeted(gone)):
                for remedies in (False, True) if self.result is None or self.result.preliminary else ():
                    refined = provisional(job, self.result, self._memo, at_once=False, remedies=remedies)
                    with self._lock:
                        if not gone():
                            self._publish(refined, whole=False)
                result = assess(job, self._memo)
        except OvertakenError:
            if self._session().job is job and not turn.over:
                self._sounds.start(self._sound)
            return
        except Exception as error:  # noqa: BLE001 - as above
            if self._session().job is job and not turn.over:
                self._troubled(error)
            return
        with self._lock:
            if turn.over:
                return
            if self._session().job is job:
                self._sounded, self._predicted = job, result.prediction
                self._publish(result, whole=True)
                self.hearing.wanted(job, result)
        if job.lines is not None:
            job.lines.values()  # where each stands in the text: the next edit need not read that first

    def engine(self, made: Prediction) -> SoundEngine | None:
        """What plays the stages of a prediction otherwise, from whatever thread; None where it is no longer the last one."""
        with self._lock:
            job = self._sounded if self._predicted is made else None
        if job is None:
            return None
        with self._engines:
            if self._engine is None or self._engine.job is not job:
                self._engine = engine_of(job, self._memo)
            return self._engine

    def _troubled(self, error: Exception) -> None:
        if not isinstance(error, BackwaveError):
            traceback.print_exception(error)
        self.trouble = _problems(error)
        self.again()

    def _publish(self, result: Assessment, *, whole: bool) -> None:
        result = self._reasoned(result)
        if not result.preliminary:
            self.solids.wanted(result.parts, result.title, result.show)
        self._bare, self.whole, self.trouble = result, whole, ()
        self._built()

    def _reasoned(self, result: Assessment) -> Assessment:
        try:
            said = log.look(self.folder).sections
        except (JobError, OSError):  # told where the work is shown; without it nothing is made against a stop
            said = {}
        return with_reasons(result, said, self._solids(result))

    def _solids(self, result: Assessment) -> dict[str, dict[str, Any]]:
        """What was found on the solids that were built here, and by `backwave make` of those that were not."""
        mine, made = self.solids.kept(), read_kept(self.folder / "made")
        here = {part.id for part in result.parts if mine.get(part.id, {}).get("digest") == part_digest(part)}
        return made | {id_: mine[id_] for id_ in here}

    def make_anyway(self, part: PartOrder, reason: str) -> None:
        """Keep a person's reason to make a part although it is stopped, and have it made. InputError: no reason, or a
        part that cannot be built as it is meant."""
        row = reason_row(part, reason, datetime.date.today().isoformat())
        log.add(self.folder, lambda _: [(ROW, row)])
        if self._bare is not None:
            self._publish(self._bare, whole=self.whole)

    def _built(self) -> None:
        if self._bare is not None:
            heard = self.hearing.upon(self._session().job, self._reasoned(self._bare))
            self.result = with_solids(heard, self._solids(heard))
        self.again()

    def attempt(self, number: int, key: str, value: Quantity, then: Callable[[Assessment], None]) -> None:
        """Work out what a part would be with another value, without writing it; only the latest is worked out."""

        def work(tell: Trial) -> None:
            job = self._session().job
            rows = list(job.file.adapter)
            rows[number] = rows[number].model_copy(update={key: value})
            new = replace(job, file=job.file.model_copy(update={"adapter": tuple(rows)}))
            tell(self.result, provisional(new, self.result, self._memo))

        self._try(work, lambda _, now: then(now) if isinstance(now, Assessment) else None)

    def weigh(self, changes: Sequence[Change], then: Trial) -> None:
        """Work out what the job comes to as it is and with these changes, without making them: at once by first order,
        then both as they stay, with all that is left open chosen anew; or what is wrong with the changes."""
        session, text, job = (now := self._session()), now.text, now.job

        def work(tell: Trial) -> None:
            done = tried(text, session.folder, changes, "", job)
            new = job if done is None else done[1]
            at_once = provisional(new, self.result, self._memo)
            if at_once.preliminary:
                tell(self.result, at_once)
            was, now = (provisional(one, None, self._memo, at_once=False) for one in (job, new))
            tell(was, now)

        self._try(work, then)

    def _try(self, work: Callable[[Trial], None], then: Trial) -> None:
        self._trial = work, then

        def run(turn: Turn) -> None:
            trial, self._trial, loop = self._trial, None, self._loop
            if trial is None or loop is None:
                return
            doing, call = trial

            def tell(was: Assessment | None, now: Assessment | Problems) -> None:
                loop.call_soon_threadsafe(call, was, now)

            # overtaken: the last one stays
            with contextlib.suppress(OvertakenError), within(Budget("what is tried", TRIAL_S, gone=turn.gone)):
                try:
                    doing(tell)
                except BackwaveError as error:
                    tell(None, _problems(error))

        self._trials.start(run)


def _stamp(path: Path) -> int:
    with contextlib.suppress(OSError):
        return path.stat().st_mtime_ns
    return 0


def _problems(error: Exception) -> tuple[Problem, ...]:
    """What went wrong, in words for the page."""
    if isinstance(error, JobError):
        return error.problems
    if isinstance(error, InputError):
        return (Problem(FILE, None, "", str(error.found), error.accepted, error.what),)
    if isinstance(error, TooMuchError) and error.key:
        words = f"= {error.found}: too much to compute. {error.what[:1].upper()}{error.what[1:]} took {error.why}. Change it, or undo"
        return (Problem(FILE, None, error.key, "", "", words),)
    what = str(error) if isinstance(error, BackwaveError) else ending(error, "working out the job").words
    return (Problem(FILE, None, "", "", "", what),)
