"""Work beside the page, in threads: only the latest counts (`Latest`), or one after another with how far it is (`Errand`).

What is overtaken gets `GRACE_S` to end by itself, then it is to give up at its next checkpoint (`backwave.budget`).
A step that has none, inside a library, cannot be ended in a thread: it is left behind, its answer goes nowhere, and a
new thread takes the latest.  `Hearing` reads a job's recordings once, tells every tab, and is stopped where asked."""

from __future__ import annotations

import contextlib
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import monotonic, sleep
from typing import Any

from backwave.assess import Assessment, Proof
from backwave.assess.pipeline import with_proof
from backwave.assess.proof.before_after import proof_of
from backwave.assess.proof.recordings import hear
from backwave.crash import ending
from backwave.errors import BackwaveError
from backwave.files.recordings import Takes
from backwave.job import Job
from backwave.job.signal_chain import ReadingTable

GRACE_S = 0.1  # s: a fit takes less, and is shown though there is a newer edit already
MAX_LEFT = 3  # threads left behind at once; above it the latest waits
_LEAVE_S = 0.08  # more than the grace, until a thread is left behind
TOLD_S = 0.2  # between two words of progress
REST_S = 0.3  # before the readings: the page is drawn first


class Turn:
    def __init__(self) -> None:
        self.since = monotonic()  # when it began
        self.over = False  # whether its answer goes nowhere: it was left behind or stopped
        self.overtaken = False  # whether there is something newer

    def gone(self) -> bool:
        """Whether it is to give up: for a budget."""
        return self.over or (self.overtaken and monotonic() - self.since > GRACE_S)


class Latest:
    def __init__(self, name: str) -> None:
        self._name = name
        self._lock = threading.Lock()
        self._next: Callable[[Turn], None] | None = None
        self._now: Turn | None = None
        self._left = 0
        self._closed = False

    @property
    def busy_s(self) -> float:
        """For how long it has been doing what it does now, in s; 0 where it does nothing."""
        turn = self._now
        return 0.0 if turn is None else monotonic() - turn.since

    def start(self, work: Callable[[Turn], None]) -> None:
        """Do something instead of what waits, and in place of what runs."""
        with self._lock:
            if self._closed:
                return
            self._next = work
            turn = self._now
            if turn is None:
                self._spawn()
                return
            turn.overtaken = True
        self._watch(turn, turn.since + GRACE_S + _LEAVE_S - monotonic())

    def stop(self) -> None:
        with self._lock:
            self._next, turn = None, self._now
            if turn is not None:
                turn.over = True
                self._now = None
                self._left += 1

    def close(self) -> None:
        self._closed = True
        self.stop()

    def _spawn(self) -> None:
        self._now = turn = Turn()
        threading.Thread(target=self._run, args=(turn,), name=self._name, daemon=True).start()

    def _run(self, turn: Turn) -> None:
        while True:
            with self._lock:
                if turn.over:
                    self._left -= 1
                    return
                work, self._next = self._next, None
                if work is None:
                    self._now = None
                    return
                turn = self._now = Turn()
            try:
                work(turn)
            except Exception as error:  # noqa: BLE001 - the thread goes on for what comes next
                traceback.print_exception(error)

    def _watch(self, turn: Turn, seconds: float) -> None:
        """Look again when it should have given up."""
        timer = threading.Timer(max(0.0, seconds), self._leave, (turn,))
        timer.daemon = True
        timer.start()

    def _leave(self, turn: Turn) -> None:
        with self._lock:
            if self._now is not turn or self._next is None or self._closed:
                return
            if self._left < MAX_LEFT:
                turn.over = True
                self._left += 1
                self._spawn()
                return
        self._watch(turn, _LEAVE_S)


class _Stopped(Exception):  # noqa: N818 - nothing is wrong: somebody said so, or wants something newer
    """Nobody waits for it any more."""


class Errand:
    """Something long, done in a thread of its own, one at a time: how far it is, what came of it."""

    def __init__(self, told: Callable[[], None]) -> None:
        self._told = told
        self._thread = ThreadPoolExecutor(1, "errand")
        self._turn = 0
        self._last = 0.0
        self.share: float | None = None  # how far it is, 0 to 1; None: nothing is done at the moment
        self.what = ""
        self.problem = ""
        self.stopped = False

    def begin(self, work: Callable[[Callable[[float, str], None]], Any], then: Callable[[Any], None]) -> None:
        """Do something in place of what is being done."""
        self._turn += 1
        turn = self._turn
        self.share, self.what, self.problem, self.stopped = 0.0, "", "", False

        def tell(share: float, what: str = "") -> None:
            if turn != self._turn:
                raise _Stopped
            self.share, self.what = share, what or self.what
            if monotonic() - self._last > TOLD_S:
                self._last = monotonic()
                self._told()

        def run() -> None:
            try:
                tell(0.0)
                made = work(tell)
            except _Stopped:
                return
            except Exception as error:  # noqa: BLE001 - whatever it was, the page says it
                if not isinstance(error, BackwaveError):
                    traceback.print_exception(error)
                if turn == self._turn:
                    self.share, self.problem = None, ending(error, "reading the recordings").words
                    self._told()
                return
            if turn == self._turn:
                self.share = None
                then(made)
                self._told()

        with contextlib.suppress(RuntimeError):  # closed
            self._thread.submit(run)

    def stop(self) -> None:
        """End what is being done at its next step."""
        if self.share is not None:
            self._turn += 1
            self.share, self.stopped = None, True
            self._told()

    def close(self) -> None:
        self._turn += 1
        self._thread.shutdown(wait=False, cancel_futures=True)


class Hearing:
    """What the readings of one job say, kept for all its tabs."""

    def __init__(self, folder: Path, told: Callable[[], None], done: Callable[[], None]) -> None:
        self._takes = Takes(folder)
        self._done = done
        self._lock = threading.Lock()
        self._of: tuple[ReadingTable, ...] = ()
        self._proof: Proof | None = None
        self._wanted: tuple[Job, Assessment] | None = None
        self.errand = Errand(told)

    def wanted(self, job: Job, result: Assessment) -> None:
        """Hear the readings of a job that was worked out whole."""
        self._wanted = (job, result)
        if not job.file.reading:
            self.errand.stop()
            with self._lock:
                self._of, self._proof = (), None
            return
        self.again()

    def again(self) -> None:
        """Hear them anew: a recording that was put there meanwhile is found."""
        if self._wanted is None:
            return
        job, result = self._wanted

        def work(tell: Callable[[float, str], None]) -> Proof:
            sleep(REST_S)
            return proof_of(job, result.prediction, hear(job, self._takes, tell))

        def then(proof: Proof) -> None:
            with self._lock:
                self._of, self._proof = job.file.reading, proof
            self._done()

        self.errand.begin(work, then)

    def upon(self, job: Job, result: Assessment) -> Assessment:
        """An assessment with what was heard, as long as the job names the same readings."""
        with self._lock:
            known = self._proof is not None and self._of == job.file.reading
            return with_proof(result, self._proof) if known and self._proof is not None else result

    def close(self) -> None:
        self.errand.close()
