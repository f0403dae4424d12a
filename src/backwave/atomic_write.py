"""A file is there whole or not at all.  Ground floor: for whoever writes, which no room does."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["beside", "write_whole"]


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A path in the same folder to write to; moved onto `path` at the end, removed on an error.

    Parameters
    ----------
    path : Path, no unit
        Where the file shall stand; its folder is made if it is not there.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=".", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    held = Path(name)
    try:
        yield held
        with held.open("rb") as written:
            os.fsync(written.fileno())  # on the disk before it takes the old one's place
        # mkstemp makes it the owner's alone; an old file's own mode is kept
        held.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
        held.replace(path)
    finally:
        held.unlink(missing_ok=True)


def write_whole(path: Path, data: bytes) -> Path:
    """Write bytes so that a reader sees the old file or the new one.

    Parameters
    ----------
    path : Path, no unit
        Where.
    data : bytes, no unit
        What.
    """
    with beside(path) as held:
        held.write_bytes(data)
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
