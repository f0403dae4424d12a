"""What ends a command from outside: asked to stop (`kill`, a machine that shuts down) or its terminal closed.

Left alone both end the process where it stands, and a folder of private texts it works in stays behind.  Here they
unwind it as Ctrl-C does.  Whatever a signal is taken for already (`nohup`) stays so.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

_NAMES = ("SIGTERM", "SIGHUP")
_taken: list[int] = []


@contextmanager
def unwinding() -> Iterator[list[int]]:
    """While this holds, these signals unwind what runs.

    Returns empty; afterwards the exit code, 128 and the signal's number, if one came.
    """
    codes: list[int] = []

    def stop(number: int, _: FrameType | None) -> None:
        if codes:
            return
        codes.append(128 + number)
        for other in _taken:  # a second request does not wait; a terminal that closes says so more than once
            signal.signal(other, signal.SIG_DFL if other == signal.SIGTERM else signal.SIG_IGN)
        raise SystemExit(codes[0])

    if threading.current_thread() is threading.main_thread():
        for number in filter(None, (getattr(signal, name, None) for name in _NAMES)):
            if signal.getsignal(number) == signal.SIG_DFL:
                signal.signal(number, stop)
                _taken.append(number)
    try:
        yield codes
    except BaseException:  # what a signal that is being answered breaks on its way out is no news
        if not codes:
            raise
    finally:
        if not codes:  # else the rest of the way out is as set above
            give_back()


def give_back() -> None:
    """Leave the signals as they were before: for a command that has an end of its own."""
    while _taken:
        signal.signal(_taken.pop(), signal.SIG_DFL)
