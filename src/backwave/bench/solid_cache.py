"""The folders that workbenches leave behind, one a part as it once was: cleared by age and by bytes, the oldest first."""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Collection
from pathlib import Path

MAX_BYTES = 200_000_000  # some forty parts with all their files
MAX_AGE_S = 7 * 24 * 3600.0
_FRESH_S = 3600.0  # another workbench on the same job may be handing these out
_OURS = re.compile(r"[0-9a-f]{24}")


def clear_old(cache: Path, keep: Collection[str] = (), max_bytes: int = MAX_BYTES) -> int:
    """Remove what is older than a week, then the oldest until the rest takes no more than `max_bytes`.

    What was written within the hour stays in any case, and so does anything that is no folder of a part.
    """
    now, found = time.time(), []
    try:
        for folder in cache.iterdir():
            if _OURS.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink():
                files = [file.stat() for file in folder.iterdir() if file.is_file()]
                last = max([folder.stat().st_mtime, *(one.st_mtime for one in files)])
                found.append((last, sum(one.st_size for one in files), folder))
    except OSError:  # it is not there, or another workbench clears it at this moment
        return 0
    total, gone = sum(size for _, size, _ in found), 0
    for last, size, folder in sorted(found, key=lambda one: one[0]):
        age = now - last
        if folder.name in keep or age < _FRESH_S or (age < MAX_AGE_S and total <= max_bytes):
            continue
        shutil.rmtree(folder, ignore_errors=True)
        total, gone = total - size, gone + 1
    return gone
