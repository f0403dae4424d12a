"""What a page's socket may say: anything else is passed over, so that no garbage comes as far as the framework.

A frame is one of Engine.IO's protocol, revision 4: a digit for the kind; a message (4) holds a packet of Socket.IO's, revision
5: a digit for its kind, then JSON.  A page of ours connects, leaves and sends five kinds of events, each with the keys
below, and never anything binary.
"""

from __future__ import annotations

import logging
import re
from typing import Any
from urllib.parse import parse_qs

from nicegui import Client, core, json

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
