"""The standard streams, made so that writing to them never changes what a command ends with.

A letter that the terminal does not have is replaced.  Where nobody reads any more (`backwave check | head`) the rest goes
nowhere, and the command ends with its own exit code.  A disk that is full is told at the end, once.
"""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO


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
