"""What the workers are given to do."""

from __future__ import annotations

import errno
import os
import signal
import threading
import time

from backwave.errors import BuildError
from backwave.workers import report


def whose(value: object) -> tuple[object, int]:
    return value, os.getpid()


def sleep(seconds: float) -> float:
    time.sleep(seconds)
    return seconds


def count(steps: int) -> int:
    for k in range(steps):
        time.sleep(0.02)
        report((k + 1) / steps, f"step {k + 1}")
    return steps


def fail(feature: str, reason: str) -> None:
    raise BuildError(feature, reason)


def unsendable() -> object:
    return threading.Lock()


def die(code: int) -> None:
    os._exit(code)


class Picky(Exception):  # noqa: N818 - a name as others give theirs
    """One that pickles and cannot be made again from what was pickled."""

    def __init__(self, a: str, b: str) -> None:
        super().__init__(a + b)


def picky() -> None:
    raise Picky("a", "b")


def full() -> None:
    raise OSError(errno.ENOSPC, "full", "made/x.step")


def hears_ctrl_c() -> bool:
    return signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())


def grow(megabytes: int) -> int:
    return len(bytes(megabytes * 1_000_000))
