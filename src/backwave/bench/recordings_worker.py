"""The readings of a job, heard beside everything else: read once, kept, told to every tab, and stopped where asked."""

from __future__ import annotations

import contextlib
import threading
import time
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from backwave.assess import Assessment, Proof
from backwave.assess.proof.proving import proof_of, with_proof
from backwave.assess.proof.read_recordings import hear
from backwave.crash import ending
from backwave.errors import BackwaveError
from backwave.files.recordings import Takes
from backwave.job import Job
from backwave.job.signal_chain import ReadingTable

TOLD_S = 0.2  # between two words of progress
REST_S = 0.3  # before the readings: the page is drawn first


class _Stopped(Exception):  # noqa: N818 - nothing is wrong: somebody said so, or wants something newer
    """Nobody waits for it any more."""


class Errand:
    """Something long, done in a thread of its own, one at a time: how far it is, what came of it."""

    def __init__(self, told: Callable[[], None]) -> None:
        self._told = told
        self._thread = ThreadPoolExecutor(1, "errand")
        self._turn = 0
        self._last = 0.0
        self.share: float | None = None
        """How far it is, 0 to 1; None: nothing is done at the moment."""
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
            if time.monotonic() - self._last > TOLD_S:
                self._last = time.monotonic()
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
        """End for good."""
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
            time.sleep(REST_S)
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
        """End for good."""
        self.errand.close()
