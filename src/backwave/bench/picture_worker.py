"""Pictures that phones send, unfolded in a process of their own: one at a time, with a limit on memory and time."""

from __future__ import annotations

import threading
from concurrent.futures import CancelledError
from itertools import count

from backwave.errors import BuildError, InputError
from backwave.files.photos import clean_picture
from backwave.workers import Workers

MAX_PIXELS = 3_000_000  # the page makes its pictures small before it sends them: 1,600 px at the longer side
MAX_MEMORY = 200_000_000  # bytes: three million points unfold to some 50 MB with what is made of them
MAX_WAITING = 8
LIMIT_S = 20.0


class PictureWorker:
    """Cleans pictures; the process starts with the first one."""

    def __init__(self) -> None:
        self._workers: Workers | None = None
        self._lock = threading.Lock()
        self._waiting = threading.Semaphore(MAX_WAITING)
        self._number = count()

    def clean(self, data: bytes) -> bytes:
        """As `files.photos.clean_picture`, with at most `MAX_PIXELS`; waits for its turn.

        InputError: as there; also one that takes too much memory or time, or too many at once.
        """
        if not self._waiting.acquire(blocking=False):
            raise InputError("pictures at once", f"more than {MAX_WAITING}", "one after another: send it again")
        try:
            with self._lock:
                if self._workers is None:
                    load = ("backwave.files.photos", "PIL.JpegImagePlugin", "PIL.PngImagePlugin", "PIL.WebPImagePlugin")
                    self._workers = Workers(count=1, load=load, grace_s=0.0, most_bytes=MAX_MEMORY)
            ticket = self._workers.submit(f"picture {next(self._number)}", clean_picture, data, MAX_PIXELS)
            try:
                return bytes(ticket.result(LIMIT_S * MAX_WAITING))
            except (TimeoutError, CancelledError):
                ticket.cancel()
                raise InputError("a picture that takes too long", f"{len(data)} bytes", "a plain photograph") from None
            except (MemoryError, BuildError):
                raise InputError(
                    "a picture that takes too much memory", f"{len(data)} bytes", "a plain photograph"
                ) from None
        finally:
            self._waiting.release()

    def close(self) -> None:
        """End the process."""
        if self._workers is not None:
            self._workers.close()
