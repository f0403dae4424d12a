"""What a computation may take of time and memory, and when it gives way to something newer.

Whoever starts a computation opens a budget with `within`; its long loops, and every call through the memo, ask at a
`checkpoint` whether it goes on.  Results never depend on it: without a budget a checkpoint does nothing.  What a single
step of a library asks for at once cannot be given up half-way; it is bounded where it is made, by `bounded`.  Ground
floor."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from math import ceil
from time import monotonic, thread_time

from backwave.errors import InputError, TooMuchError

GB = 1_000_000_000
SHARE = 5  # a busy machine is no fault of the job
_LOOK_S = 0.02  # how often memory is looked at
_PAGE = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096


class OvertakenError(Exception):
    """Nobody waits for this computation any more: there is something newer, or a person stopped it."""


class Budget:
    """What one computation may take, over what it found when it began. `seconds`: how long it may take; longer where it
    had less than a fifth of the machine, up to five times."""

    def __init__(
        self, what: str, seconds: float, most_bytes: float = GB, gone: Callable[[], bool] | None = None
    ) -> None:
        self.what, self.seconds, self.most_bytes, self.gone = what, seconds, most_bytes, gone
        self.doing = ""
        """What is being computed inside it at the moment."""
        self._outer: Budget | None = None
        self._end = self._looked = self._worked = 0.0
        self._held = 0

    def start(self, outer: Budget | None = None) -> None:
        """Begin to count, inside another budget that goes on counting."""
        self._outer, now = outer, monotonic()
        while outer is not None:
            outer.doing, outer = self.what, outer._outer
        self._end, self._looked, self._held = now + self.seconds, now, memory_bytes()
        self._worked = thread_time()

    def blame(self) -> tuple[str, str]:
        """Which key of the job to change, and what stands there; twice "" where nobody can say."""
        return "", ""

    def look(self) -> None:
        """Whether it goes on. OvertakenError: nobody waits for it any more; TooMuchError: its time or its memory is
        used up."""
        if self.gone is not None and self.gone():
            raise OvertakenError
        now = monotonic()
        if now > self._end and (
            thread_time() - self._worked > self.seconds / SHARE or now > self._end + (SHARE - 1) * self.seconds
        ):
            raise TooMuchError(self.what, f"more than {self.seconds:g} seconds", *self.blame())
        if now - self._looked > _LOOK_S:
            self._looked = now
            if memory_bytes() - self._held > self.most_bytes:
                raise TooMuchError(self.what, f"more than {self.most_bytes / 1e6:.0f} MB of memory", *self.blame())
        if self._outer is not None:
            self._outer.look()


_open: ContextVar[Budget | None] = ContextVar("budget", default=None)


@contextmanager
def within(budget: Budget) -> Iterator[Budget]:
    """Compute inside a budget; an outer one still counts. OvertakenError, TooMuchError: as `Budget.look`; memory that
    the system does not give at all is too much as well."""
    budget.start(_open.get())
    token = _open.set(budget)
    try:
        yield budget
    except MemoryError as error:
        raise TooMuchError(budget.what, "more memory than there is", *budget.blame()) from error
    finally:
        _open.reset(token)


def checkpoint() -> None:
    """In a long loop: give up where the budget is used up or nobody waits any more. OvertakenError, TooMuchError: as
    `Budget.look`."""
    budget = _open.get()
    if budget is not None:
        budget.look()


def bounded(what: str, count: float, most: int) -> int:
    """A number of things as a whole number, refused above a bound before anything of that size is made. InputError:
    more than that, or no number."""
    if not count <= most:
        raise InputError(f"too many {what} to work with", f"{count:.3g}", f"up to {most}")
    return ceil(count)


def memory_bytes() -> int:
    """The memory this process holds at the moment; 0 where the system does not say."""
    try:
        with open("/proc/self/statm", "rb") as file:
            return int(file.read().split()[1]) * _PAGE
    except (OSError, ValueError, IndexError):
        return _peak_bytes()


def _peak_bytes() -> int:
    """The most it ever held: grows as memory does, where there is nothing better."""
    try:
        import resource
    except ImportError:
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
