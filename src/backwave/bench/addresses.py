"""The addresses that let in a browser: printed, opened by itself on this machine, or asked for under Devices."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import time
import webbrowser
from html import escape
from pathlib import Path

from backwave.bench.keys import Access, AccessDevice

OPENS_S = 20.0  # that the server may take until it answers


class Addresses:
    """Where a workbench is reached, with a key each time.

    `folder`: where a file may be put that nobody else can read.
    """

    def __init__(self, port: int, lan: bool, folder: Path) -> None:
        self.port, self.lan = port, lan
        self.access = Access(port, self._used)
        self._file = folder / "open.html"
        self._printed: dict[str, bool] = {}

    def address(self, *, here: bool) -> str:
        """An address that lets in one browser, of this machine or of another one."""
        host = "127.0.0.1" if here else _own_address()
        return f"http://{host}:{self.port}/?key={self.access.key(here=here)}"

    def printed(self, *, here: bool) -> str:
        """The same for the terminal; once it was used, the next one is printed."""
        address = self.address(here=here)
        self._printed[address.rpartition("=")[2]] = here
        return address

    def _used(self, device: AccessDevice, key: str) -> None:
        self._file.unlink(missing_ok=True)
        here = self._printed.pop(key, None)
        if here is None:
            return
        where = "this machine" if device.here else device.address
        what = "browser on this machine" if here else "device"
        print(f"A browser was let in from {where}. For one more {what}: {self.printed(here=here)}", flush=True)

    def open_browser(self) -> None:
        """Open the person's browser as soon as the server answers.

        The key goes through a file that only this user can read: a program's arguments can be read by everybody on the
        machine.  Where no such file can be written, the printed address has to be opened by hand.
        """
        address = escape(self.address(here=True))
        text = f'<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={address}"><a href="{address}">Open the workbench</a>'
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            self._file.unlink(missing_ok=True)
            with os.fdopen(
                os.open(self._file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
            ) as out:
                out.write(text)
        except OSError as error:
            print(f"Open that address in a browser: it cannot be opened by itself ({error.strerror}).", flush=True)
            return
        threading.Thread(target=self._open, name="browser", daemon=True).start()

    def _open(self) -> None:
        end = time.monotonic() + OPENS_S
        while time.monotonic() < end:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1.0):
                break
            time.sleep(0.1)
        webbrowser.open(self._file.resolve().as_uri())

    def close(self) -> None:
        """Leave nothing behind."""
        with contextlib.suppress(OSError):
            self._file.unlink(missing_ok=True)


def _own_address() -> str:
    """This machine's address on its network; nothing is sent to find it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.connect(("10.255.255.255", 1))
        return str(one.getsockname()[0])
    return "127.0.0.1"
