"""Who has access to a workbench: addresses with keys that let in one browser each, and the devices that were let in.

A key stands in an address and works once: printed, opened by itself on this machine, or asked for under Devices.  Whoever
shows it gets a cookie, which is good until the workbench is stopped or the device's access is taken back.  Keys and
cookies are random (128 and 256 bits) and are kept nowhere but in this process and in that browser."""

from __future__ import annotations

import asyncio
import contextlib
import datetime
import os
import secrets
import socket
import threading
import time
import webbrowser
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from html import escape
from pathlib import Path

OPENS_S = 20.0  # that the server may take until it answers
MAX_KEYS = 16  # that nobody has used yet; the oldest goes first

Close = Callable[[], Awaitable[None]]


@dataclass(eq=False)
class AccessDevice:
    id: str  # what it is called here; says nothing about its cookie
    kind: str  # "Computer" or "Phone or tablet", as it says of itself
    address: str
    here: bool  # on the machine the workbench runs on
    since: datetime.datetime  # when it was let in, and when it last asked for anything
    seen: datetime.datetime
    sockets: set[Close] = field(default_factory=set)  # what closes each of its open sockets


class Access:
    """Keys and devices of one workbench; used in the server's loop alone. `port`: where the workbench listens: cookies
    know no port, so that it stands in the cookie's name."""

    def __init__(self, port: int, used: Callable[[AccessDevice, str], None] | None = None) -> None:
        self.cookie = f"backwave-{port}"
        self._used = used
        self._keys: dict[str, bool] = {}  # and whether it is good on this machine alone
        self._devices: dict[str, AccessDevice] = {}  # by cookie

    def key(self, *, here: bool) -> str:
        while len(self._keys) >= MAX_KEYS:
            del self._keys[next(iter(self._keys))]
        key = secrets.token_urlsafe(16)
        self._keys[key] = here
        return key

    def exchange(self, key: str, *, here: bool, address: str = "", phone: bool = False) -> str | None:
        """A cookie for a key, which is good for nobody else from now on; None where it is no good."""
        found = self._find(key)
        if found is None or (self._keys[found] and not here):
            return None
        del self._keys[found]
        cookie, now = secrets.token_urlsafe(32), _now()
        kind = "Phone or tablet" if phone else "Computer"
        device = AccessDevice(secrets.token_hex(4), kind, address, here, now, now)
        self._devices[cookie] = device
        if self._used is not None:
            self._used(device, found)
        return cookie

    def device(self, cookie: str) -> AccessDevice | None:
        device = self._devices.get(cookie)
        if device is not None:
            device.seen = _now()
        return device

    @property
    def devices(self) -> tuple[AccessDevice, ...]:
        """Who has access, the oldest first."""
        return tuple(self._devices.values())

    def take_back(self, id_: str) -> bool:
        """End a device's access and close what it has open; False where there is no such device."""
        cookie = next((c for c, device in self._devices.items() if device.id == id_), None)
        if cookie is None:
            return False
        for close in tuple(self._devices.pop(cookie).sockets):
            _running.add(task := asyncio.ensure_future(close()))
            task.add_done_callback(_running.discard)
        return True

    def _find(self, key: str) -> str | None:
        return next((k for k in self._keys if secrets.compare_digest(k.encode(), key.encode(errors="replace"))), None)


_running: set[asyncio.Future[None]] = set()  # a task that nobody holds may be collected before it is done


def _now() -> datetime.datetime:
    return datetime.datetime.now().astimezone()


class Addresses:
    """Where a workbench is reached, with a key each time. `folder`: where a file may be put that nobody else can
    read."""

    def __init__(self, port: int, lan: bool, folder: Path, *, encrypted: bool = False) -> None:
        self.port, self.lan, self.encrypted = port, lan, encrypted
        self.access = Access(port, self._used)
        self._file = folder / "open.html"
        self._printed: dict[str, bool] = {}

    def address(self, *, here: bool) -> str:
        """An address that lets in one browser, of this machine or of another one."""
        host = "127.0.0.1" if here else _own_address()
        return f"http{'s' * self.encrypted}://{host}:{self.port}/?key={self.access.key(here=here)}"

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
        """Open the person's browser as soon as the server answers. The key goes through a file that only this user can
        read: a program's arguments can be read by everybody on the machine. Where no such file can be written, the
        printed address has to be opened by hand."""
        address = escape(self.address(here=True))
        text = f'<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={address}"><a href="{address}">Open the workbench</a>'
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            self._file.unlink(missing_ok=True)
            only_ours = os.open(self._file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(only_ours, "w", encoding="utf-8") as out:
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
        with contextlib.suppress(OSError):
            self._file.unlink(missing_ok=True)


def _own_address() -> str:
    """This machine's address on its network; nothing is sent to find it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.connect(("10.255.255.255", 1))
        return str(one.getsockname()[0])
    return "127.0.0.1"
