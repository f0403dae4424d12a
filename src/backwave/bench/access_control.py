"""Who may ask for what: the host's name, where a request comes from, the key on a local network, how much is sent.

A page of another site must not reach a workbench through the reader's own browser, so that the host has to be this
machine by a name that nobody else can give it, and a socket has to come from our own page.
"""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Callable
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

__all__ = ["HEADERS", "MOST_BYTES", "Guard"]

MOST_BYTES = 1_000_000
COOKIE = "backwave-key"
HEADERS = {
    "content-security-policy": "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; "
    "worker-src 'self' blob:; object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
Scope = dict[str, Any]


class Guard:
    """Stands before the application (ASGI).

    Parameters
    ----------
    app : callable, no unit
        The application.
    lan : bool, no unit
        Other machines may ask too, with the key.
    said : callable of (key), no unit
        Told the next key after one was used.
    key : str, no unit
        The first key; good for one visitor, who then has a cookie.
    """

    def __init__(
        self, app: Any, lan: bool = False, said: Callable[[str], None] | None = None, key: str = ""
    ) -> None:
        self.app, self.lan, self.said = app, lan, said
        self.key = key or secrets.token_urlsafe(16)
        self._cookies: set[str] = set()

    async def __call__(self, scope: Scope, receive: Any, send: Any) -> None:
        """One request.

        Parameters
        ----------
        scope, receive, send : as ASGI has them, no unit
            The request.
        """
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        head = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        refused = self._refused(scope, head)
        if refused:
            await _refuse(scope, receive, send, *refused)
            return
        given = self._shown(scope)
        if given is not None:
            await _redirect(scope, send, given)
            return

        async def dressed(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                extra = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        await self.app(scope, receive, dressed)

    def _refused(self, scope: Scope, head: dict[str, str]) -> tuple[int, str] | None:
        host = head.get("host", "")
        if not _is_here(host, self.lan):
            return 403, "This workbench does not go by that name."
        origin = head.get("origin")
        if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
            return 403, "That comes from another site."
        if self.lan and not self._known(scope, head) and _key(scope) != self.key:
            return 403, "This workbench asks for its key: open the address that the terminal shows. It works once."
        if scope["type"] == "http" and scope["method"] in ("POST", "PUT", "PATCH"):
            length = head.get("content-length", "")
            if not length.isdigit():
                return 411, "The length has to be said."
            if int(length) > MOST_BYTES:
                return 413, f"More than {MOST_BYTES // 1000} kB."
        return None

    def _known(self, scope: Scope, head: dict[str, str]) -> bool:
        if _loopback((scope.get("client") or ("",))[0]) and _is_here(head.get("host", ""), False):
            return True  # the machine itself
        held = SimpleCookie(head.get("cookie", "")).get(COOKIE)
        return held is not None and held.value in self._cookies

    def _shown(self, scope: Scope) -> tuple[str, str] | None:
        """Where to go on, and the cookie, for a visitor who showed the key; the key is good for nobody else."""
        if not self.lan or scope["type"] != "http" or _key(scope) != self.key:
            return None
        self.key = secrets.token_urlsafe(16)
        cookie = secrets.token_urlsafe(32)
        self._cookies.add(cookie)
        if self.said is not None:
            self.said(self.key)
        rest = [(k, v) for k, v in parse_qsl(scope["query_string"].decode("latin-1")) if k != "key"]
        path = "/" + scope["path"].lstrip("/")  # never //elsewhere
        return path + ("?" + urlencode(rest) if rest else ""), cookie


def _key(scope: Scope) -> str:
    return dict(parse_qsl(scope["query_string"].decode("latin-1"))).get("key", "")


def _loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _is_here(host: str, lan: bool) -> bool:
    """Whether a host is this machine by a name nobody else can give it; on a network also by its bare address."""
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    if name == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return False
    return address.is_loopback or (lan and (address.is_private or address.is_link_local))


async def _refuse(scope: Scope, receive: Any, send: Any, status: int, words: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": words})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})


async def _redirect(scope: Scope, send: Any, to: tuple[str, str]) -> None:
    del scope
    where, cookie = to
    jar = f"{COOKIE}={cookie}; HttpOnly; SameSite=Strict; Path=/"
    headers = [(b"location", where.encode()), (b"set-cookie", jar.encode()), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
