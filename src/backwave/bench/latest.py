"""Work in a thread of its own, one thing at a time, of which only the latest counts.

What is overtaken gets `GRACE_S` to end by itself, then it is to give up at its next checkpoint (`backwave.budget`).
A step that has none, inside a library, cannot be ended in a thread: it is left behind, its answer goes nowhere, and a
new thread takes the latest.
"""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable
from time import monotonic

GRACE_S = 0.1  # s: a fit takes less, and is shown though there is a newer edit already
MAX_LEFT = 3  # threads left behind at once; above it the latest waits
_LEAVE_S = 0.08  # more than the grace, until a thread is left behind


class Turn:
    """One piece of work while it is done."""

    def __init__(self) -> None:
        self.since = monotonic()
        """When it began."""
        self.over = False
        """Whether its answer goes nowhere: it was left behind or stopped."""
        self._overtaken_at: float | None = None

    def overtake(self) -> None:
        """There is something newer."""
        if self._overtaken_at is None:
            self._overtaken_at = monotonic()

    def gone(self) -> bool:
        """Whether it is to give up: for a budget."""
        if self.over:
            return True
        now = monotonic()
        return self._overtaken_at is not None and now - self.since > GRACE_S


class Latest:
    """Does one kind of work."""

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
            turn.overtake()
        self._watch(turn, turn.since + GRACE_S + _LEAVE_S - monotonic())

    def stop(self) -> None:
        """Give up what runs and what waits."""
        with self._lock:
            self._next, turn = None, self._now
            if turn is not None:
                turn.over = True
                self._now = None
                self._left += 1

    def close(self) -> None:
        """Give up for good."""
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
