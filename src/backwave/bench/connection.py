"""One connection to the workbench and what it may take: bytes of a header, seconds, a place among the others.

All of this holds before a key is shown.  Whoever has shown one keeps the place; of the others, the oldest of the address
that has most gives way, so that a neighbor who opens connections without end keeps nobody out.
"""

from __future__ import annotations

import asyncio
import time
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["HEADER_BYTES", "HEADER_S", "MAX_OPEN", "MAX_STRANGERS", "Connection"]

HEADER_BYTES = 32_768
HEADER_S = 8.0  # from the first byte, or from the opening, to the end of the header
BODY_S = 30.0  # for what is sent, at most a megabyte
ANSWER_S = 60.0  # for a piece of the answer to be taken
MAX_OPEN = 128  # connections: a dozen devices with all that a browser opens at once
MAX_STRANGERS = 32  # of them, that have not shown a key


class Connection(H11Protocol):
    """A connection with its limits (a protocol of the server library, which gives it the arguments)."""

    def __init__(self, config: Any, server_state: Any, app_state: dict[str, Any], _loop: Any = None) -> None:
        super().__init__(config, server_state, app_state | {"connection": self}, _loop)
        self.known = False
        """Whether it has shown a key."""
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
        self.connections.discard(self)  # at once: a place that is given up is free
        self.transport.abort()

    def _make_room(self) -> None:
        others = [c for c in self.connections if isinstance(c, Connection) and not c.known]
        if len(others) > MAX_STRANGERS or len(self.connections) > MAX_OPEN:
            of = [_address(c) for c in others]
            most = max(of, key=of.count)
            min((c for c in others if _address(c) == most), key=lambda c: c.since)._end()


def _address(connection: Connection) -> str:
    return connection.client[0] if connection.client else ""
