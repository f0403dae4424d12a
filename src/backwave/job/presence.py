"""Who else has a job open: a small file a workbench, to tell people, and to lock nothing.

    made/.cache/open/1a2b3c-4711.json

It is renewed while the workbench runs; one that is not, or whose process is gone, says nothing any more.
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import time
from pathlib import Path

from backwave.atomic_write import alive, here, write_whole

STALE_S = 180.0
RENEW_S = 60.0


class Presence:
    """One workbench of a job."""

    def __init__(self, folder: Path, port: int) -> None:
        self._open = folder / "made" / ".cache" / "open"
        self._own = self._open / f"{here()}-{os.getpid()}.json"
        self._port = port
        self._renewed = -RENEW_S

    def look(self) -> tuple[str, ...]:
        """Renew the own file and tell of the others, in words; in a folder that may not be written, only that."""
        with contextlib.suppress(OSError):
            if time.monotonic() - self._renewed >= RENEW_S:
                said = {"host": socket.gethostname(), "pid": os.getpid(), "port": self._port}
                write_whole(self._own, json.dumps(said).encode())
                self._renewed = time.monotonic()
        return tuple(filter(None, (_said(path) for path in sorted(self._open.glob("*.json")) if path != self._own)))

    def end(self) -> None:
        """It is closed."""
        with contextlib.suppress(OSError):
            self._own.unlink(missing_ok=True)


def _said(path: Path) -> str:
    """What one file says; "" for a workbench that is gone, whose file goes as well."""
    try:
        held = json.loads(path.read_bytes())
        host, pid, port = str(held["host"]), int(held["pid"]), int(held["port"])
        age_s = time.time() - path.stat().st_mtime
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    near = path.name.startswith(f"{here()}-")
    if age_s > STALE_S or (near and not alive(pid)):
        with contextlib.suppress(OSError):
            path.unlink()
        return ""
    where = f"http://127.0.0.1:{port}/ on this machine" if near else f"on {host[:60]}"
    return f"This job is open in another workbench too, {where} (process {pid}). Where both change the same thing, you are asked."
