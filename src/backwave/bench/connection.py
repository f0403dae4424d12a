"""One connection to the workbench and what it may take: bytes of a header, seconds, a place among the others.

All of this holds before a key is shown.  Where there are too many, the oldest of the browser that has most gives way (of
the address, before a key is shown), so that nobody who opens connections without end keeps others out.
"""

from __future__ import annotations

import asyncio
import ipaddress
import time
from collections import Counter
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from backwave.bench.keys import AccessDevice

HEADER_BYTES = 32_768
HEADER_S = 8.0  # from the first byte, or from the opening, to the end of the header
BODY_S = 30.0  # for what is sent, at most a megabyte
ANSWER_S = 60.0  # for a piece of the answer to be taken
MAX_OPEN = 128  # connections: a dozen devices with all that a browser opens at once
MAX_STRANGERS = 32  # of them, that have not shown a key
OWN = 16  # that this machine may have more than others before its own give way: access is taken back here


class Connection(H11Protocol):
    """A connection with its limits (a protocol of the server library, which gives it the arguments)."""

    def __init__(self, config: Any, server_state: Any, app_state: dict[str, Any], _loop: Any = None) -> None:
        super().__init__(config, server_state, app_state | {"connection": self}, _loop)
        self.device: AccessDevice | None = None
        """Whose it is, once it has shown a key."""
        self.since = time.monotonic()
        self._stage: Any = None
        self._late: asyncio.TimerHandle | None = None
        self._unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """It was opened."""
        super().connection_made(transport)
        self._wait_for(h11.IDLE)
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """It was closed."""
        self._wait_for(None)
        self.resume_writing()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Something was sent."""
        super().data_received(data)
        self._wait_for(self.conn.their_state)

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """It goes on as a socket, which the application watches."""
        self._wait_for(None)
        super().handle_websocket_upgrade(event)

    def pause_writing(self) -> None:
        """The other side reads slower than it is answered."""
        super().pause_writing()
        if self._unread is None:
            self._unread = self.loop.call_later(ANSWER_S, self._end)

    def resume_writing(self) -> None:
        """It reads on."""
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None
        super().resume_writing()

    def _wait_for(self, stage: Any) -> None:
        """What is awaited from the other side, in bounded time: once a stage, not once a byte."""
        if stage is self._stage:
            return
        if self._late is not None:
            self._late.cancel()
            self._late = None
        self._stage = stage
        limit = {h11.IDLE: HEADER_S, h11.SEND_BODY: BODY_S}.get(stage)
        if limit is not None and not self.transport.is_closing():
            self._late = self.loop.call_later(limit, self._end)

    def _end(self) -> None:
        self.transport.abort()

    def _make_room(self) -> None:
        # A socket is the library's own kind, which knows what it was before.
        held = [c.app_state["connection"] for c in self.connections if not c.transport.is_closing()]
        others = [c for c in held if c is not self]
        strangers = [c for c in others if c.device is None]
        if len(strangers) >= MAX_STRANGERS:
            gives_way(strangers).transport.abort()
        elif len(others) >= MAX_OPEN:
            gives_way(others).transport.abort()


def gives_way(crowd: list[Any]) -> Any:
    """Which of too many connections has to go for a new one."""
    of = Counter(map(_whose, crowd))
    for who in {_whose(c) for c in crowd if is_loopback(_address(c))}:
        of[who] -= OWN
    most = max(of, key=lambda who: of[who])
    return min((c for c in crowd if _whose(c) == most), key=lambda c: c.since)


def _whose(connection: Any) -> object:
    return connection.device or _address(connection)


def _address(connection: Any) -> str:
    return connection.client[0] if connection.client else ""


def is_loopback(address: str) -> bool:
    """Whether an address is this machine's for itself."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False
