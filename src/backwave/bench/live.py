"""One board a job folder: the session, the last assessment, and what every open tab is told.

What takes longer than a glance happens in one thread beside the page's loop.  A fit is shown as soon as it is known;
the sound, which takes longer, follows it.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import tomllib
import traceback
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

from backwave.assess import Assessment, assess, with_solids
from backwave.bench.solids import Solids
from backwave.errors import BackwaveError, InputError, JobError, Problem
from backwave.finding import VERDICTS, worst
from backwave.job import FILE, Job, Session, new
from backwave.job.session import Change, KeyPath
from backwave.units import Quantity

__all__ = ["Board"]

POLL_S = 0.25
DRAGGED = 20_000  # draws while something is dragged: ends stable to some hundredths of a millimeter


class Board:
    """A job as every tab sees it.

    Parameters
    ----------
    folder : Path, no unit
        The job folder; it may be empty until `begin`.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.parent if folder.name == FILE else folder
        self.session: Session | None = None
        self.result: Assessment | None = None
        self.whole = False
        """Whether the sound belongs to this very job; False while it is still being worked out."""
        self.trouble: tuple[Problem, ...] = ()
        self._bare: Assessment | None = None  # without what was found on the solids
        self.solids = Solids(self.folder / "made" / ".cache" / "bench", self._built)
        self._read: tuple[str, dict[str, Any]] = ("", {})
        self._loop: asyncio.AbstractEventLoop | None = None
        self._watchers: list[Callable[[], None]] = []
        self._thread = ThreadPoolExecutor(1, "board")
        self._edits = ThreadPoolExecutor(1, "edits")
        self._waiting = threading.Event()
        self._trial: tuple[int, str, Quantity, Callable[[Assessment], None]] | None = None
        if (self.folder / FILE).exists():
            self._open()

    def _open(self) -> None:
        self.session = Session(self.folder)
        self.session.subscribe(self._changed)
        self._changed()

    @property
    def data(self) -> dict[str, Any]:
        """What the file says, as it is written there."""
        if self.session is None:
            return {}
        text = self.session.text
        if self._read[0] != text:
            self._read = text, tomllib.loads(text)
        return self._read[1]

    # -- the page's loop ----------------------------------------------------------------------------------------

    async def run(self) -> None:
        """Look at the file a few times a second, until canceled."""
        self._loop = asyncio.get_running_loop()
        while True:
            if self.session is not None:
                await self._loop.run_in_executor(self._edits, self.session.poll)
            await asyncio.sleep(POLL_S)

    def close(self) -> None:
        """Save what is due and end the workers."""
        if self.session is not None:
            self.session.flush()
        self.solids.close()
        self._thread.shutdown(wait=False, cancel_futures=True)
        self._edits.shutdown(wait=False, cancel_futures=True)

    def watch(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call something in the page's loop whenever anything has changed.

        Parameters
        ----------
        callback : callable, no unit
            Takes nothing.

        Returns
        -------
        callable
            Ends it.
        """
        self._watchers.append(callback)

        def end() -> None:
            with contextlib.suppress(ValueError):
                self._watchers.remove(callback)

        return end

    def _later(self) -> None:
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._tell)

    def _tell(self) -> None:
        for callback in tuple(self._watchers):
            callback()

    # -- edits --------------------------------------------------------------------------------------------------

    async def change(self, changes: Iterable[Change], label: str = "") -> tuple[Problem, ...]:
        """Do several changes as one step of undo.

        Parameters
        ----------
        changes, label : as for `Session.set_many`, no unit
            What to do.
        """
        session = self._session()
        return await self._beside(lambda: session.set_many(changes, label=label))

    async def put(self, path: KeyPath, written: Any, label: str = "") -> tuple[Problem, ...]:
        """Set one key.

        Parameters
        ----------
        path, written, label : as for `Session.set`, no unit
            What to do.
        """
        return await self.change([(path, written)], label)

    async def step(self, word: str) -> bool:
        """Undo, or redo.

        Parameters
        ----------
        word : "undo" or "redo", no unit
            Which.
        """
        session = self._session()
        return bool(await self._beside(session.undo if word == "undo" else session.redo))

    async def resolve(self, keep: Any) -> None:
        """End a clash.

        Parameters
        ----------
        keep : "mine" or "theirs", no unit
            Which version stays in the job.
        """
        session = self._session()
        await self._beside(lambda: session.resolve(keep))

    async def begin(self, title: str, readings: dict[str, str]) -> tuple[Problem, ...]:
        """Start a job in a folder that has none.

        Parameters
        ----------
        title : str, no unit
            What it is called.
        readings : dict of str to str, as written
            Any of `job.new.ASKED`.
        """

        def start() -> tuple[Problem, ...]:
            try:
                new.write(self.folder, title, **readings)
            except JobError as error:
                return error.problems
            self._open()
            return ()

        return tuple(await self._beside(start))

    async def beside(self, work: Callable[[], Any]) -> Any:
        """Do something in the thread of edits.

        Parameters
        ----------
        work : callable, no unit
            What.
        """
        return await self._beside(work)

    async def _beside(self, work: Callable[[], Any]) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._edits, work)

    def _session(self) -> Session:
        if self.session is None:
            raise BackwaveError("there is no job here yet")
        return self.session

    # -- what follows from it -----------------------------------------------------------------------------------

    def _changed(self) -> None:
        if not self._waiting.is_set():
            self._waiting.set()
            with contextlib.suppress(RuntimeError):  # closed
                self._thread.submit(self._work)
        self._later()

    def _work(self) -> None:
        self._waiting.clear()
        session = self._session()
        job = session.job
        if self.result is not None and self.whole and self.result.digest == job.digest:
            self.trouble = ()
            self._later()
            return
        try:
            # At once with few draws: lengths are the same, ends are out by hundredths until the rest follows.
            self._publish(_fit(job, self.result, DRAGGED), whole=not job.file.stage)
            if not self._waiting.is_set():
                self._publish(assess(job), whole=True)
        except Exception as error:  # noqa: BLE001 - whatever it was, the page says that it follows the job no more
            if not isinstance(error, BackwaveError):
                traceback.print_exc()
            self.trouble = _problems(error)
            self._later()

    def _publish(self, result: Assessment, *, whole: bool) -> None:
        self.solids.wanted(result.parts, result.title, result.show)
        self._bare, self.whole, self.trouble = result, whole, ()
        self._built()

    def _built(self) -> None:
        if self._bare is not None:
            self.result = with_solids(self._bare, self.solids.kept())
        self._later()

    def attempt(self, number: int, key: str, value: Quantity, then: Callable[[Assessment], None]) -> None:
        """Work out what a part would be with another value, without writing it; only the latest is worked out.

        Parameters
        ----------
        number : int, no unit
            Which [[adapter]].
        key : str, no unit
            Its key.
        value : Quantity, as written
            What is tried.
        then : callable of (Assessment), no unit
            Called in the page's loop.
        """
        session = self._session()
        first, self._trial = self._trial is None, (number, key, value, then)

        def work() -> None:
            trial, self._trial = self._trial, None
            if trial is None or self._loop is None:
                return
            at, name, held, call = trial
            job = session.job
            rows = list(job.file.adapter)
            rows[at] = rows[at].model_copy(update={name: held})
            with contextlib.suppress(BackwaveError):  # out of range while it is dragged: the last one stays
                changed = replace(job, file=job.file.model_copy(update={"adapter": tuple(rows)}))
                self._loop.call_soon_threadsafe(call, _fit(changed, self.result, DRAGGED))

        if first:
            self._thread.submit(work)


def _problems(error: Exception) -> tuple[Problem, ...]:
    """What went wrong, in words for the page."""
    if isinstance(error, JobError):
        return error.problems
    if isinstance(error, InputError):
        return (Problem(FILE, None, "", str(error.found), error.accepted, error.what),)
    what = str(error) if isinstance(error, BackwaveError) else f"a fault of backwave itself: {error!r}"
    return (Problem(FILE, None, "", "", "", what),)


def _fit(job: Job, before: Assessment | None, draws: int = 100_000) -> Assessment:
    """Everything but the sound, which stands as it was before."""
    result = assess(replace(job, file=job.file.model_copy(update={"stage": ()})), draws=draws)
    if not job.file.stage or before is None or before.prediction is None:
        return result
    found = sorted((*result.findings, *before.prediction.findings), key=lambda f: -VERDICTS.index(f.check.verdict))
    verdict = worst([f.check.verdict for f in found])
    return replace(result, findings=tuple(found), verdict=verdict, prediction=before.prediction)
