"""A file that a job names: inside its folder, an ordinary file, and not larger than one of its kind can be."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from backwave.errors import JobError, Problem
from backwave.plain_text import plain_text


def find(folder: Path | None, name: str, missing: str, accepted: str) -> Path:
    """Where a file that a job names lies.

    `missing`, `accepted`: what is said where there is no such file, and what it should be; JobError: there is
    none, or a link leads out of the folder.
    """
    if folder is None:
        raise _refused(name, "no such file", accepted, missing)
    path = folder / name
    try:
        there = path.exists()
        outside = there and not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError) as error:  # a name too long, links in a circle
        raise _refused(name, _reason(error), accepted, "cannot be read") from None
    if not there:
        raise _refused(name, "no such file", accepted, missing)
    if outside:
        raise _refused(name, "a link out of the folder", accepted, "leads out of the job folder")
    return path


def read_bytes(path: Path, name: str, max_bytes: int, accepted: str) -> bytes:
    """The content of a file; a folder, a pipe or a device is never waited for.

    JobError: it is no ordinary file, too large, or cannot be read.
    """
    try:
        # a pipe is opened without waiting for somebody to write into it
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with open(handle, "rb") as file:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                kind = "a folder" if stat.S_ISDIR(found.st_mode) else "a pipe or a device"
                raise _refused(name, kind, accepted, "no ordinary file")
            if found.st_size > max_bytes:
                raise _refused(name, f"{found.st_size:,} bytes", f"up to {max_bytes:,} bytes", "too large a file")
            return file.read(max_bytes + 1)
    except IsADirectoryError:
        raise _refused(name, "a folder", accepted, "no ordinary file") from None
    except PermissionError:
        raise _refused(name, "no permission", "a file that you may read", "cannot be read") from None
    except OSError as error:
        raise _refused(name, _reason(error), accepted, "cannot be read") from None


def _reason(error: Exception) -> str:
    words = error.strerror if isinstance(error, OSError) else None
    return (words or "a name that no file can have").lower()


def _refused(name: str, found: str, accepted: str, message: str) -> JobError:
    return JobError((Problem(plain_text(name)[:120], None, "", found, accepted, message),))
