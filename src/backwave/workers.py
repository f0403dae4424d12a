"""One pool of worker processes for what takes long: solids, finite elements, schedules.

A job is a function by name with arguments that pickle, under a key.  The same key waits for the same answer; a
newer job in the same lane overtakes an older one: what waits is dropped, what runs gets `GRACE_S` to end and then
its process is ended and another started, because a step inside a kernel cannot be interrupted.  Workers are
spawned, never forked (a forked copy of a threaded server hangs), and may load modules beforehand.  Meeting floor;
knows nothing of what it runs."""

from __future__ import annotations

import importlib
import multiprocessing
import pickle
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future, InvalidStateError
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from pathlib import Path
from time import monotonic
from typing import Any

from backwave.crash import frames_of
from backwave.errors import InputError, TooMuchError, WorkerError

GRACE_S = 5.0  # s: a new worker takes about 3.4 s to warm, most solids less than this to finish

_say: Callable[[float, str], None] | None = None


def report(share: float, words: str = "") -> None:
    """Say from inside a job how far it is; does nothing outside a worker."""
    if _say is not None:
        _say(share, words)


@dataclass(eq=False)
class Ticket:
    """A job that was handed in."""

    key: str  # what it computes, and what it takes the place of ("" for nothing)
    lane: str
    progress: tuple[float, str] = (0.0, "")  # (share, words), the last that the job said
    _future: Future[Any] = field(default_factory=Future)
    _unwanted: bool = False
    _listeners: list[Callable[[float, str], None]] = field(default_factory=list)

    @property
    def done(self) -> bool:
        """Whether there is an answer, an error, or nobody who wants one."""
        return self._future.done()

    @property
    def dropped(self) -> bool:
        """Whether it was canceled or overtaken."""
        return self._unwanted

    def result(self, timeout_s: float | None = None) -> Any:
        """The answer; waits for it. CancelledError: it was canceled or overtaken; TimeoutError: not done in time; it
        goes on."""
        return self._future.result(timeout_s)

    def cancel(self) -> None:
        """Nobody wants it any more."""
        self._unwanted = True
        self._fail(CancelledError())

    def on_progress(self, listener: Callable[[float, str], None]) -> None:
        """Call something whenever the job says how far it is; from another thread."""
        self._listeners.append(listener)

    def when_done(self, listener: Callable[[Ticket], None]) -> None:
        """Call something when it is done, or now if it is; from another thread."""
        self._future.add_done_callback(lambda _: listener(self))

    def _heard(self, share: float, words: str) -> None:
        self.progress = (share, words)
        for listener in tuple(self._listeners):
            listener(share, words)

    def _answer(self, value: Any) -> None:
        with suppress(InvalidStateError):  # dropped in the meantime
            self._future.set_result(value)

    def _fail(self, wrong: BaseException) -> None:
        with suppress(InvalidStateError):
            self._future.set_exception(wrong)


class Workers:
    """The pool. Processes start at the first job, or at `warm`. `count`: how many processes; each with the solid kernel
    loaded takes some 420 MB; `grace_s`: how long a running job that nobody wants may go on; `most_bytes`: how much
    memory a worker may take beyond what its modules take; a job that wants more fails with MemoryError. None: as much
    as there is; so it is in any case where the system has no such limit (Linux has).; `most_s`: how long a job may
    take; then its process is ended and another started. None: as long as it takes.; `what`: what is computed, for the
    sentence where that is too much: "the solid"; "" leaves a MemoryError as it is."""

    def __init__(
        self,
        count: int = 1,
        load: Sequence[str] = (),
        grace_s: float = GRACE_S,
        most_bytes: int | None = None,
        most_s: float | None = None,
        what: str = "",
    ) -> None:
        if count < 1:
            raise InputError("number of workers", count, "1 or more")
        self._count, self._load, self._grace, self._most = count, tuple(load), grace_s, most_bytes
        self._most_s, self._what = most_s, what
        self._changed = threading.Condition()
        self._waiting: deque[tuple[Ticket, Callable[..., Any], tuple[Any, ...]]] = deque()
        self._live: dict[str, Ticket] = {}
        self._threads: list[threading.Thread] = []
        self._closed = False

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def warm(self) -> None:
        """Start the processes now."""
        with self._changed:
            if self._closed:
                raise RuntimeError("these workers are closed")
            while len(self._threads) < self._count:
                thread = threading.Thread(target=self._serve, name=f"worker-{len(self._threads)}", daemon=True)
                self._threads.append(thread)
                thread.start()

    def submit(self, key: str, function: Callable[..., Any], *args: Any, lane: str = "") -> Ticket:
        """Hand in a job. `key`: what it computes, such as the digest of function and arguments. A job that is waiting
        or running under the same key answers for both."""
        self.warm()
        with self._changed:
            held = self._live.get(key)
            if held is not None and not held.done:
                ticket = held
            else:
                ticket = self._live[key] = Ticket(key, lane)
                ticket.when_done(self._forget)
                self._waiting.append((ticket, function, args))
            overtaken = [t for t in self._live.values() if lane and t.lane == lane and t is not ticket]
            self._changed.notify()
        for old in overtaken:
            old.cancel()
        return ticket

    def close(self) -> None:
        """Drop everything and end the processes."""
        with self._changed:
            self._closed = True
            live = tuple(self._live.values())
            self._changed.notify_all()
        for ticket in live:
            ticket.cancel()
        for thread in self._threads:
            thread.join(10.0)

    def _forget(self, ticket: Ticket) -> None:
        with self._changed:
            if self._live.get(ticket.key) is ticket:
                del self._live[ticket.key]

    def _next(self) -> tuple[Ticket, Callable[..., Any], tuple[Any, ...]] | None:
        with self._changed:
            while not self._closed:
                while self._waiting:
                    held = self._waiting.popleft()
                    if not held[0].done:
                        return held
                self._changed.wait()
        return None

    def _serve(self) -> None:
        worker: _Worker | None = None
        try:
            while True:
                trouble: OSError | None = None
                try:
                    worker = worker or _Worker(self._load, self._most)  # warm before there is something to do
                except OSError as wrong:  # no process to be had: who asks is told, and the next one tries again
                    trouble = wrong
                if (held := self._next()) is None:
                    return
                if worker is None:
                    held[0]._fail(trouble or WorkerError(None))
                elif not self._run(worker, *held):
                    worker.end()
                    worker = None
        finally:
            if worker is not None:
                worker.end()

    def _run(self, worker: _Worker, ticket: Ticket, function: Callable[..., Any], args: tuple[Any, ...]) -> bool:
        """Whether the worker can be used again."""
        try:
            worker.pipe.send((function, args))
        except OSError:
            pass  # it has died while it was idle; its silence below says so
        except Exception as wrong:  # noqa: BLE001 - whatever pickle makes of what it was given belongs to the caller
            ticket._fail(wrong)
            return True
        end: float | None = None
        begun = monotonic()
        while True:
            if self._most_s is not None and monotonic() - begun > self._most_s:
                ticket._fail(TooMuchError(self._what, f"more than {self._most_s:g} seconds"))
                return False
            try:
                if not worker.pipe.poll(0.05):
                    if ticket.dropped or self._closed:
                        end = end or monotonic() + (0.0 if self._closed else self._grace)
                        if monotonic() >= end:
                            return False
                    continue
                kind, value = worker.pipe.recv()
            except (EOFError, OSError):
                worker.process.join(1.0)
                ticket._fail(WorkerError(worker.process.exitcode))
                return False
            except Exception as wrong:  # noqa: BLE001 - an answer that cannot be taken apart belongs to the caller too
                ticket._fail(wrong)
                return False
            if kind == "progress":
                ticket._heard(*value)
            elif kind == "failed":
                if isinstance(value, MemoryError) and self._what and self._most is not None:
                    value = TooMuchError(self._what, f"more than {self._most / 1e6:.0f} MB of memory")
                ticket._fail(value)
                return True
            else:
                ticket._answer(value)
                return True


class _Worker:
    def __init__(self, load: tuple[str, ...], most_bytes: int | None = None) -> None:
        spawn = multiprocessing.get_context("spawn")
        self.pipe, theirs = spawn.Pipe()
        self.process = spawn.Process(target=_work, args=(theirs, load, most_bytes), daemon=True)
        with _no_interrupt():
            self.process.start()
        theirs.close()  # so that its end is heard when the process dies

    def end(self) -> None:
        self.pipe.close()
        self.process.terminate()
        self.process.join(5.0)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


@contextmanager
def _no_interrupt() -> Iterator[None]:
    """A process started here does not hear Ctrl-C: that is for whoever started it, who ends it then."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # starting with the process it would take the mask away
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(pipe: Connection, load: tuple[str, ...], most_bytes: int | None) -> None:
    global _say  # noqa: PLW0603 - one job at a time in this process
    _say = lambda share, words: pipe.send(("progress", (share, words)))  # noqa: E731
    for name in load:
        importlib.import_module(name)
    if most_bytes is not None:
        _limit(most_bytes)
    while True:
        try:
            function, args = pipe.recv()
        except EOFError:
            return
        try:
            answer: tuple[str, Any] = ("done", function(*args))
        except Exception as wrong:  # noqa: BLE001 - it is handed to whoever asked
            answer = ("failed", _sendable(wrong))
        try:
            pipe.send(answer)
        except OSError:
            return  # nobody is left to hear it
        except Exception as wrong:  # noqa: BLE001 - an answer that does not pickle is an error too
            pipe.send(("failed", _sendable(wrong)))


def _sendable(wrong: Exception) -> Exception:
    """An error as it can cross to another process, with where it came up: a traceback stays behind."""
    frames = frames_of(wrong.__traceback__)
    try:
        wrong.worker_frames = frames  # type: ignore[attr-defined]  # for the report of `backwave.crash`
        pickle.loads(pickle.dumps(wrong))
    except Exception:  # noqa: BLE001 - whatever an exception's own class makes of being copied
        wrong = RuntimeError(f"{type(wrong).__qualname__}, which cannot be sent")
        wrong.worker_frames = frames  # type: ignore[attr-defined]
    return wrong


def _limit(most_bytes: int) -> None:
    """No more memory than this process has by now and so much more; nothing where the system does not tell."""
    statm = Path("/proc/self/statm")
    if sys.platform != "linux" or not statm.exists():
        return
    import resource

    taken = int(statm.read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    limit = taken + most_bytes
    resource.setrlimit(resource.RLIMIT_AS, (limit if hard == resource.RLIM_INFINITY else min(limit, hard), hard))
