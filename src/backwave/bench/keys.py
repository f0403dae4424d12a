"""Who has access to a workbench: keys that let in one browser each, and the devices that were let in.

A key stands in an address and works once.  Whoever shows it gets a cookie, which is good until the workbench is
stopped or the device's access is taken back.  Keys and cookies are random (128 and 256 bits) and are kept nowhere but
in this process and in that browser.
"""

from __future__ import annotations

import asyncio
import datetime
import secrets
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

MAX_KEYS = 16  # that nobody has used yet; the oldest goes first

Close = Callable[[], Awaitable[None]]


@dataclass(eq=False)
class AccessDevice:
    """A browser that was let in."""

    id: str  # what it is called here; says nothing about its cookie
    kind: str  # "Computer" or "Phone or tablet", as it says of itself
    address: str
    here: bool  # on the machine the workbench runs on
    since: datetime.datetime  # when it was let in, and when it last asked for anything
    seen: datetime.datetime
    sockets: set[Close] = field(default_factory=set)  # what closes each of its open sockets


class Access:
    """Keys and devices of one workbench; used in the server's loop alone.

    `port`: where the workbench listens: cookies know no port, so that it stands in the cookie's name.
    """

    def __init__(self, port: int, used: Callable[[AccessDevice, str], None] | None = None) -> None:
        self.cookie = f"backwave-{port}"
        self._used = used
        self._keys: dict[str, bool] = {}  # and whether it is good on this machine alone
        self._devices: dict[str, AccessDevice] = {}  # by cookie

    def key(self, *, here: bool) -> str:
        """A new key."""
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
        """The device that holds a cookie."""
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
