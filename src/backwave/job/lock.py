"""One lock a job: whoever writes its files, `job.toml` and `log.toml` alike, holds it meanwhile; reading needs none.

It holds off other threads and other processes, and the system releases it when its holder dies, however it dies.
The empty `.lock` it leaves in the job folder means nothing by itself and may be deleted when no backwave runs.
A text editor knows nothing of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

LOCK = ".lock"
WAIT_S = 10.0
_AGAIN_S = 0.01


@contextmanager
def job_lock(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the lock of a job; a thread that holds it already takes it once more at once.

    `wait_s`: how long to wait for another holder: one that is stopped, not dead, must not stop everybody;
    TimeoutError: somebody else held it all the time; OSError: A folder that may not be written.
    """
    from filelock import FileLock, Timeout  # not needed to read

    lock = FileLock(folder.resolve() / LOCK, poll_interval=_AGAIN_S, is_singleton=True)
    try:
        lock.acquire(wait_s)
    except Timeout:
        raise TimeoutError(
            f"another backwave has been writing {folder.name} for {wait_s:g} s; end it, or try again"
        ) from None
    try:
        yield
    finally:
        lock.release()
