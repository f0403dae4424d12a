"""Who may ask for what: the host's name, where a request comes from, the key, how much is sent.

A page of another site must not reach a workbench through the reader's own browser.  So the host has to be this machine
by a name that nobody else can give it; what another site's page asks for is refused before anything is built (by
`Sec-Fetch-Site`, W3C Fetch Metadata, or by `Referer` where a browser does not send that); and everything, on this machine
too, needs the cookie that a key was exchanged for (`access`)."""

from __future__ import annotations

import ipaddress
import secrets
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from jinja2 import FunctionLoader
from nicegui.client import templates

from backwave.bench import refusal
from backwave.bench.access import Access, AccessDevice
from backwave.bench.connection import HEADER_BYTES, is_frame, is_loopback
from backwave.bench.refusal import RefusalWords

MAX_BYTES = 1_000_000
MAX_ADDRESS = 4_000  # letters of a path with its query
MAX_NAME = 255  # bytes of one part of a path, as file systems have it
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(self), geolocation=()",
}
_POLICY = (
    "default-src 'self'; script-src 'self'{scripts}; script-src-attr 'none'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; worker-src 'self' blob:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
Scope = dict[str, Any]


class Nonce:
    """What names the scripts of one answer as ours; made when the page is written, seen when its headers are."""

    def __init__(self) -> None:
        self.said = ""

    def __str__(self) -> str:
        self.said = self.said or secrets.token_urlsafe(16)
        return self.said

    @property
    def policy(self) -> str:
        """The Content-Security-Policy of the answer: a page without the framework runs files of ours alone."""
        return _POLICY.format(scripts=f" 'nonce-{self.said}' 'unsafe-eval'" if self.said else "")


def name_scripts() -> None:
    """Have the framework's own scripts named as ours in each page, so that a browser runs no other. The name goes into
    the framework's template, not into finished pages: what a job says is put in afterwards, and a script that got in
    there has no name."""
    loader, environment = templates.env.loader, templates.env
    assert loader is not None

    def load(name: str) -> tuple[str, str | None, Any]:
        source, file, fresh = loader.get_source(environment, name)
        return named(source), file, fresh

    environment.loader = FunctionLoader(load)
    if environment.cache is not None:
        environment.cache.clear()


def named(template: str) -> str:
    """A template whose scripts have the name of the answer."""
    return template.replace("<script", '<script nonce="{{ request.state.nonce }}"')


class _Refused(Exception):  # noqa: N818 - an answer, not an error
    """The request gets an answer of our own."""

    def __init__(self, status: int, words: RefusalWords | str, page: bytes | None = None) -> None:
        super().__init__(status)
        self.status, self.words = status, words if isinstance(words, RefusalWords) else RefusalWords(words)
        self.page = page


class Guard:
    """Stands before the application (ASGI)."""

    def __init__(self, app: Any, access: Access, lan: bool = False) -> None:
        self.app, self.access, self.lan = app, access, lan

    async def __call__(self, scope: Scope, receive: Any, send: Any) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        head = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        try:
            _well_formed(scope)
            _from_here(head, self.lan)
            foreign = _foreign(head)
            device = self._device(head)
            shown = self._exchanged(scope, head, foreign, device)
            if shown is not None:
                await _answer(send, *shown)
                return
            if foreign:
                raise _stranger(scope, head)
            if device is None:
                raise _Refused(403, refusal.NO_ACCESS, refusal.page(refusal.NO_ACCESS))
            _bounded(scope, head)
        except _Refused as refused:
            await _refuse(scope, head, receive, send, refused)
            return
        # Nothing stands before the workbench that could say for whom it asks.
        scope["headers"] = [(k, v) for k, v in scope["headers"] if not k.lower().startswith(b"x-forwarded-")]
        state = scope.setdefault("state", {})
        state["device"], state["nonce"] = device, (nonce := Nonce())
        if "connection" in state:
            state["connection"].device = device
        if scope["type"] == "websocket":
            await self._socket(scope, receive, send, device)
            return

        async def dressed(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                extra = HEADERS | {"content-security-policy": nonce.policy}
                held = [(k.encode(), v.encode()) for k, v in extra.items()]
                message = {**message, "headers": [*message.get("headers", []), *held]}
            await send(message)

        await self.app(scope, receive, dressed)

    async def _socket(self, scope: Scope, receive: Any, send: Any, device: AccessDevice) -> None:
        async def close() -> None:
            await send({"type": "websocket.close", "code": 1008, "reason": "access was taken back"})

        async def heard() -> Any:
            while not is_frame(message := await receive()):
                pass
            return message

        device.sockets.add(close)
        try:
            await self.app(scope, heard, send)
        finally:
            device.sockets.discard(close)

    def _device(self, head: dict[str, str]) -> AccessDevice | None:
        try:
            held = SimpleCookie(head.get("cookie", "")).get(self.access.cookie)
        except CookieError:
            return None
        return None if held is None else self.access.device(held.value)

    def _exchanged(
        self, scope: Scope, head: dict[str, str], foreign: bool, device: AccessDevice | None
    ) -> tuple[int, dict[str, str], bytes] | None:
        """The answer to a key in the address: a cookie for a good one, and the address without it. A request for the
        head alone (a preview of a link) does not use it up, nor does a browser that has access."""
        query = parse_qsl(scope["query_string"].decode("latin-1"))
        key = dict(query).get("key", "")
        if not key or scope["type"] != "http" or scope["method"] != "GET" or (foreign and not _navigates(scope, head)):
            return None
        headers = {"cache-control": "no-store"} | HEADERS
        if device is None:
            address = str((scope.get("client") or ("",))[0])
            here = is_loopback(address) and _is_here(head["host"], False)
            phone = "Mobi" in head.get("user-agent", "")
            cookie = self.access.exchange(key, here=here, address=address, phone=phone)
            if cookie is None:
                return None
            headers["set-cookie"] = f"{self.access.cookie}={cookie}; HttpOnly; SameSite=Strict; Path=/" + "; Secure" * (
                scope.get("scheme") == "https"
            )
        rest = urlencode([(k, v) for k, v in query if k != "key"])
        to = _path(scope) + ("?" + rest if rest else "")
        if not foreign:
            return 303, headers | {"location": to}, b""
        # Another page's link: a browser keeps a strict cookie back on its way through a redirection.
        return 200, headers | _html(), refusal.page(RefusalWords("Opening the workbench"), to=to, at_once=True)


def _well_formed(scope: Scope) -> None:
    path = scope["path"]
    if sum(len(name) + len(value) for name, value in scope["headers"]) > HEADER_BYTES:
        raise _Refused(431, f"The header is longer than {HEADER_BYTES} bytes")  # one that came in a single piece
    if any(c < " " or c == "\x7f" for c in path):
        raise _Refused(400, "The address holds a control character")
    if len(path) + len(scope["query_string"]) > MAX_ADDRESS:
        raise _Refused(414, f"The address is longer than {MAX_ADDRESS} letters")
    if any(len(part.encode(errors="replace")) > MAX_NAME for part in path.split("/")):
        raise _Refused(404, "There is no such page")


def _from_here(head: dict[str, str], lan: bool) -> None:
    """Under its own name, and from its own page where the browser says which page asks."""
    host = head.get("host", "")
    if _parts(f"//{host}") is None or not host:
        raise _Refused(400, "The host's name is not one")
    if not _is_here(host, lan):
        raise _Refused(403, "This workbench does not go by that name")
    origin = head.get("origin")
    if origin is None:
        return
    parts = _parts(origin)
    if parts is None:
        raise _Refused(400, "The origin is no address")
    if parts.netloc.lower() != host.lower():
        raise _Refused(403, "That comes from another site")


def _foreign(head: dict[str, str]) -> bool:
    """Whether a page that is not ours asks; another port of this machine is another page."""
    site = head.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    # Browsers send it only where the connection counts as safe, which an address of a local network does not.
    parts = _parts(head.get("referer", ""))
    return parts is None or (parts.netloc != "" and parts.netloc.lower() != head["host"].lower())


def _navigates(scope: Scope, head: dict[str, str]) -> bool:
    """Whether a person is to see the answer as a page of its own: no picture, no frame, no script's request."""
    if scope["type"] != "http" or scope["method"] != "GET":
        return False
    if "sec-fetch-mode" in head:
        return head["sec-fetch-mode"] == "navigate" and head.get("sec-fetch-dest") == "document"
    return _wants_page(head)


def _wants_page(head: dict[str, str]) -> bool:
    return head.get("accept", "").startswith("text/html")


def _stranger(scope: Scope, head: dict[str, str]) -> _Refused:
    if not _navigates(scope, head):
        return _Refused(403, "That comes from another site")
    query = scope["query_string"].decode("latin-1")
    to = _path(scope) + ("?" + quote(query, safe="=&%+-_.~") if query else "")
    return _Refused(403, refusal.FOREIGN, refusal.page(refusal.FOREIGN, to=to))


def _bounded(scope: Scope, head: dict[str, str]) -> None:
    if scope["type"] != "http":
        return
    length = head.get("content-length", "")
    sends = scope["method"] not in ("GET", "HEAD", "OPTIONS") or bool(length) or "transfer-encoding" in head
    if sends and not (length.isascii() and length.isdigit()):
        raise _Refused(411, "The length has to be said")
    if sends and (len(length) > 12 or int(length) > MAX_BYTES):
        raise _Refused(413, f"More than {MAX_BYTES // 1000} kB")


def _path(scope: Scope) -> str:
    """The path of an address here; never one that a browser reads as another host's."""
    return "/" + quote(scope["path"].lstrip("/\\"), safe="/@:.,+-_~")


def _parts(address: str) -> Any:
    """An address in its parts; None where it is none."""
    try:
        parts = urlsplit(address)
        parts.port  # noqa: B018 - it is read, and may be none, only when it is asked for
    except ValueError:
        return None
    return parts


def _is_here(host: str, lan: bool) -> bool:
    """Whether a host is this machine by a name nobody else can give it; on a network also by its bare address."""
    parts = _parts(f"//{host}")
    name = (parts.hostname or "") if parts is not None and "@" not in host else ""
    if name == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return False
    return address.is_loopback or (lan and (address.is_private or address.is_link_local))


def _html() -> dict[str, str]:
    return {"content-type": "text/html; charset=utf-8", "content-security-policy": refusal.PLAIN_POLICY}


async def _refuse(scope: Scope, head: dict[str, str], receive: Any, send: Any, refused: _Refused) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": refused.words.title})
        return
    kind, body = _html(), refused.page or refusal.page(refused.words)
    if not _wants_page(head):
        kind, body = kind | {"content-type": "text/plain; charset=utf-8"}, refused.words.plain.encode()
    await _answer(send, refused.status, HEADERS | {"cache-control": "no-store", "connection": "close"} | kind, body)


async def _answer(send: Any, status: int, headers: dict[str, str], body: bytes) -> None:
    said = [(k.encode(), v.encode()) for k, v in (headers | {"content-length": str(len(body))}).items()]
    await send({"type": "http.response.start", "status": status, "headers": said})
    await send({"type": "http.response.body", "body": body})
