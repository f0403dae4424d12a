"""The process round a command: what ends it from outside, and streams that never change what it ends with.

Asked to stop (`kill`, a machine that shuts down), or its terminal closed, a process would end where it stands and leave a
folder of private texts behind: here that unwinds it as Ctrl-C does.  Whatever a signal is taken for already (`nohup`)
stays so.  A letter that the terminal does not have is replaced.  Where nobody reads any more (`backwave check | head`)
the rest goes nowhere, and the command ends with its own exit code.  A disk that is full is told at the end, once."""

from __future__ import annotations

import io
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TextIO

_NAMES = ("SIGTERM", "SIGHUP")
_taken: list[int] = []


@contextmanager
def unwinding() -> Iterator[list[int]]:
    """While this holds, these signals unwind what runs. Gives a list: empty, or afterwards the exit code (128 and the
    signal's number) if one came."""
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


class _Pipe(io.FileIO):
    """A descriptor to write to that takes what nobody reads any more."""

    def write(self, data: object) -> int:
        try:
            return super().write(data)  # type: ignore[arg-type]
        except BrokenPipeError:
            return memoryview(data).nbytes  # type: ignore[arg-type]


def guard() -> None:
    """Take the process's own streams in hand; others, such as those of a test, stay as they are."""
    sys.stdout = _guarded(sys.stdout, sys.__stdout__, 1)
    sys.stderr = _guarded(sys.stderr, sys.__stderr__, 2)


def _guarded(stream: TextIO | None, own: TextIO | None, number: int) -> TextIO:
    if stream is None:  # closed by whoever called
        return open(os.devnull, "w", encoding="utf-8")
    if stream is not own or not isinstance(stream, io.TextIOWrapper):
        return stream
    raw = getattr(stream.buffer, "raw", stream.buffer)
    if type(raw) is not io.FileIO:  # a console of Windows has its own
        stream.reconfigure(errors="replace")
        return stream
    stream.flush()
    buffer = io.BufferedWriter(_Pipe(number, "wb", closefd=False))
    lined = stream.line_buffering or number == 2
    return io.TextIOWrapper(buffer, encoding=stream.encoding, errors="replace", line_buffering=lined)


def finish() -> OSError | None:
    """Write out what waits; what prevents it, if something does: then the rest goes nowhere."""
    trouble = None
    for stream, number in ((sys.stdout, 1), (sys.stderr, 2)):
        try:
            stream.flush()
        except OSError as error:
            trouble = trouble or error
            os.dup2(os.open(os.devnull, os.O_WRONLY), number)
    return trouble
