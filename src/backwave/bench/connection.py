"""One connection to the workbench: what it may take, and what its socket may say.

What it takes, bytes of a header, seconds, a place among the others, is bounded before a key is shown.  Where there are too
many, the oldest of the browser that has most gives way (of the address, before a key is shown), so that nobody who opens
connections without end keeps others out.

Whatever else a socket says is passed over, so that no garbage comes as far as the framework.  A frame is one of
Engine.IO's protocol, revision 4: a digit for the kind; a message (4) holds a packet of Socket.IO's, revision 5: a digit
for its kind, then JSON.  A page of ours connects, leaves and sends five kinds of events, each with the keys below, and
never anything binary."""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import re
import time
from collections import Counter
from typing import Any
from urllib.parse import parse_qs

import h11
from nicegui import Client, core, json
from uvicorn.protocols.http.h11_impl import H11Protocol

from backwave.bench.access import AccessDevice

HEADER_BYTES = 32_768
HEADER_S = 8.0  # from the first byte, or from the opening, to the end of the header
BODY_S = 30.0  # for what is sent, at most a megabyte
ANSWER_S = 60.0  # for a piece of the answer to be taken
MAX_OPEN = 128  # connections: a dozen devices with all that a browser opens at once
MAX_STRANGERS = 32  # of them, that have not shown a key
OWN = 16  # that this machine may have more than others before its own give way: access is taken back here
_FRAME = re.compile(r"[12356](probe)?|4\d.*", re.DOTALL | re.ASCII)
_PACKET = re.compile(r"([012])(\d{0,15})(.*)", re.DOTALL | re.ASCII)
_TAB: dict[str, type] = {"client_id": str, "tab_id": str, "document_id": str}
_EVENTS: dict[str, dict[str, type]] = {
    "event": {"client_id": str, "id": int, "listener_id": str, "args": list},
    "javascript_response": {"client_id": str, "request_id": str},
    "ack": {"client_id": str, "next_message_id": int},
    "log": {"client_id": str, "level": str, "message": str},
    "handshake": _TAB,
}
_LEVELS = ("debug", "info", "warning", "error")
NO_MESSAGE = "A browser that has access sent what is no message; it was passed over."


class Connection(H11Protocol):
    """A connection with its limits (a protocol of the server library, which gives it the arguments)."""

    def __init__(self, config: Any, server_state: Any, app_state: dict[str, Any], _loop: Any = None) -> None:
        super().__init__(config, server_state, app_state | {"connection": self}, _loop)
        self.device: AccessDevice | None = None  # whose it is, once it has shown a key
        self.since = time.monotonic()
        self._stage: Any = None
        self._late: asyncio.TimerHandle | None = None
        self._unread: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        self._wait_for(h11.IDLE)
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        self._wait_for(None)
        self.resume_writing()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
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


def is_frame(message: dict[str, Any]) -> bool:
    """Whether what came through a web socket is a frame, or its end (a message of ASGI)."""
    return message["type"] != "websocket.receive" or _FRAME.fullmatch(message.get("text") or "") is not None


def understood(said: object, query: str = "") -> bool:
    """Whether a packet is one that a page of ours sends."""
    found = _PACKET.fullmatch(said) if isinstance(said, str) else None
    if found is None:
        return False
    kind, number, text = found.groups()
    try:
        held = json.loads(text) if text else {}
    except ValueError:
        return False
    if kind != "2":
        return isinstance(held, dict) and not number and (kind == "1" or _opened(query))
    if not (isinstance(held, list) and len(held) == 2 and isinstance(held[0], str) and isinstance(held[1], dict)):
        return False
    name, values = held
    keys = _EVENTS.get(name)
    return (
        keys is not None
        and all(isinstance(values.get(key), type_) for key, type_ in keys.items())
        and (name != "event" or _heard(values))
        and (name != "log" or values["level"] in _LEVELS)
        and (name != "handshake" or _number(values.get("next_message_id")))
    )


def _opened(query: str) -> bool:
    """A page that says with its first request what it is says all of it."""
    said = {key: values[0] for key, values in parse_qs(query).items()}
    return said.get("implicit_handshake") != "true" or (
        _TAB.keys() <= said.keys() and _number(said.get("next_message_id"))
    )


def _number(said: object) -> bool:
    return said is None or re.fullmatch(r"\d{1,15}", str(said), re.ASCII) is not None


def _heard(values: dict[str, Any]) -> bool:
    """Whether what an event names is there to hear it, and what it brings can be read."""
    client = Client.instances.get(values["client_id"])
    element = None if client is None else client.elements.get(values["id"])
    if element is not None and values["listener_id"] not in element._event_listeners:
        return False
    try:
        for one in values["args"]:
            if one is not None:
                json.loads(one)
    except (TypeError, ValueError):
        return False
    return True


def listen() -> None:
    """Pass over whatever is not understood, whichever way it comes; call it once, before the server runs."""
    server = core.sio
    take = server.eio.handlers["message"]

    async def heard(id_: str, said: object) -> None:
        if understood(said, server.environ.get(id_, {}).get("QUERY_STRING", "")):
            await take(id_, said)

    server.eio.on("message", heard)
    logging.getLogger("engineio.server").addFilter(_in_words)


def _in_words(record: logging.LogRecord) -> bool:
    """Frames that were posted are taken apart by the library: a sentence, where it shows its own insides."""
    if record.msg == "post request handler error":
        record.msg, record.exc_info = NO_MESSAGE, None
    return True
