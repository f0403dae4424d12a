"""What the workers are given to do."""

from __future__ import annotations

import os
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
