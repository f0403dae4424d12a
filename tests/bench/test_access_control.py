"""Who may ask for what, request by request."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from backwave.bench.access import MAX_KEYS, Access, AccessDevice
from backwave.bench.access_control import MAX_BYTES, Guard

HOME = ("127.0.0.1", 5000)
PHONE = ("192.168.1.20", 5000)
ON_LAN = {"client": PHONE, "host": "192.168.1.5:80"}


async def _app(scope: dict[str, Any], receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"the job"})


class Door:
    """A guard before an application that shows the job to whoever gets through."""

    def __init__(self, lan: bool = False, app: Any = _app) -> None:
        self.used: list[tuple[AccessDevice, str]] = []
        self.access = Access(80, lambda device, key: self.used.append((device, key)))
        self.guard = Guard(app, self.access, lan)
        self.body = b""

    def asked(
        self, path: str = "/", client: tuple[str, int] = HOME, method: str = "GET", kind: str = "http", **head: str
    ) -> Any:
        path, _, query = path.partition("?")
        said: list[dict[str, Any]] = []
        headers = [(k.replace("_", "-").encode(), v.encode()) for k, v in ({"host": "127.0.0.1:80"} | head).items()]
        scope = {
            "type": kind, "method": method, "path": path, "query_string": query.encode(), "client": client,
            "headers": headers,
        }  # fmt: skip

        async def send(message: dict[str, Any]) -> None:
            said.append(message)

        async def receive() -> dict[str, Any]:
            return {"type": "websocket.connect"}

        # in a thread of its own: a browser driven in this one keeps a loop running here
        with ThreadPoolExecutor(1) as alone:
            alone.submit(asyncio.run, self.guard(scope, receive, send)).result()
        self.body = b"".join(one.get("body", b"") for one in said)
        return said[0]

    def let_in(self, here: bool = True, **head: Any) -> str:
        """The cookie of a browser that showed a good key."""
        shown = self.asked(f"/?key={self.access.key(here=here)}", **head)
        assert shown["status"] == 303
        return dict(shown["headers"])[b"set-cookie"].decode().partition(";")[0]


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("evil.example", 403), ("evil.example:80", 403), ("127.0.0.1.evil.example", 403),
        ("localhost.evil.example", 403), ("192.168.1.5", 403), ("10.0.0.1@x", 403), ("127.0.0.1@evil.example", 403),
        ("", 400), ("[", 400), ("127.0.0.1:x", 400), ("[::1", 400), ("127.0.0.1:999999", 400),
    ],
)  # fmt: skip
def test_another_name_is_refused(host: str, status: int) -> None:
    """A name that somebody else gave this machine (DNS rebinding) opens nothing, with a cookie either."""
    door = Door()
    assert door.asked(host=host, cookie=door.let_in())["status"] == status


@pytest.mark.parametrize("host", ["localhost:80", "127.0.0.1", "[::1]:80", "LOCALHOST"])
def test_the_machine_itself_is_let_in_with_its_cookie(host: str) -> None:
    door = Door()
    said = door.asked(host=host, cookie=door.let_in())
    assert said["status"] == 200
    names = {k for k, _ in said["headers"]}
    assert {b"content-security-policy", b"x-content-type-options", b"referrer-policy"} <= names


def test_without_a_key_nobody_on_this_machine_sees_anything() -> None:
    door = Door()
    for path in ("/", "/section", "/chores/list", "/fonts/drawing-regular.ttf", "/?key=", "/?key=guess"):
        for head in ({}, {"cookie": "backwave-80=guess"}, {"cookie": "backwave-80"}, {"cookie": "\x7f;;=;"}):
            assert door.asked(path, **head)["status"] == 403
            assert b"the job" not in door.body
    assert door.asked(kind="websocket")["type"] == "websocket.close"
    assert door.asked("/", accept="text/html")["status"] == 403
    assert b"?key=" in door.body, "a person reads what to do"


def test_another_site_does_not_reach_it_through_the_readers_browser() -> None:
    door = Door()
    cookie = door.let_in()
    for origin, status in (
        ("http://evil.example", 403), ("http://127.0.0.1:81", 403), ("null", 403), ("http://[bad", 400),
        ("http://127.0.0.1:bad", 400), ("http://127.0.0.1:80", 200),
    ):  # fmt: skip
        assert door.asked(origin=origin, cookie=cookie)["status"] == status, origin
    assert door.asked(kind="websocket", origin="http://evil.example", cookie=cookie)["type"] == "websocket.close"


@pytest.mark.parametrize(
    ("head", "status"),
    [  # Fetch Metadata Request Headers, W3C working draft, 2.3 and 2.4: what browsers send of themselves
        ({"sec_fetch_site": "none", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}, 200),
        ({"sec_fetch_site": "same-origin", "sec_fetch_mode": "cors", "sec_fetch_dest": "empty"}, 200),
        ({"sec_fetch_site": "cross-site", "sec_fetch_mode": "no-cors", "sec_fetch_dest": "image"}, 403),
        ({"sec_fetch_site": "same-site", "sec_fetch_mode": "no-cors", "sec_fetch_dest": "image"}, 403),
        ({"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "iframe"}, 403),
        ({"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}, 403),
        ({"referer": "http://evil.example/a"}, 403),
        ({"referer": "http://127.0.0.1:81/"}, 403),
        ({"referer": "http://[bad"}, 403),
        ({"referer": "http://127.0.0.1:80/section"}, 200),
    ],
)
def test_what_another_page_asks_for_is_not_built(head: dict[str, str], status: int) -> None:
    door = Door()
    cookie = door.let_in()
    assert door.asked(cookie=cookie, **head)["status"] == status
    assert (door.body == b"the job") == (status == 200)


def test_a_link_in_another_page_asks_the_person_first() -> None:
    door = Door()
    navigation = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}
    said = door.asked("/why/a@b?x=%22", accept="text/html", cookie=door.let_in(), **navigation)
    assert said["status"] == 403
    assert b'href="/why/a@b?x=%22"' in door.body
    assert b"refresh" not in door.body
    assert b"<script" not in door.body


def test_an_address_with_its_key_may_be_opened_from_anywhere() -> None:
    """A browser keeps a strict cookie back in a redirection that another page began: a page of ours goes on."""
    door = Door()
    navigation = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}
    key = door.access.key(here=True)
    image = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "no-cors", "sec_fetch_dest": "image"}
    assert door.asked(f"/?key={key}", **image)["status"] == 403, "no picture uses it up"
    said = door.asked(f"/section?key={key}", **navigation)
    assert said["status"] == 200
    assert b'content="0; url=/section"' in door.body
    cookie = dict(said["headers"])[b"set-cookie"].decode().partition(";")[0]
    assert door.asked("/section", cookie=cookie)["status"] == 200


def test_a_key_lets_in_once() -> None:
    door = Door(lan=True)
    key = door.access.key(here=False)
    assert door.asked(**ON_LAN)["status"] == 403
    assert door.asked("/?key=wrong", **ON_LAN)["status"] == 403
    shown = door.asked(f"//evil.example/?key={key}&x=1", **ON_LAN)
    assert shown["status"] == 303
    headers = dict(shown["headers"])
    assert headers[b"location"] == b"/evil.example/?x=1"
    assert b"HttpOnly" in headers[b"set-cookie"]
    assert b"SameSite=Strict" in headers[b"set-cookie"]
    assert headers[b"set-cookie"].startswith(b"backwave-80="), "cookies know no port"
    cookie = headers[b"set-cookie"].decode().partition(";")[0]
    assert door.asked(cookie=cookie, **ON_LAN)["status"] == 200
    assert door.asked(kind="websocket", **ON_LAN)["type"] == "websocket.close"
    assert door.asked(f"/?key={key}", **ON_LAN)["status"] == 403, "it works once"
    assert [key for _, key in door.used] == [key]
    again = door.asked(f"/face?key={door.access.key(here=False)}", cookie=cookie, **ON_LAN)
    assert again["status"] == 303, "who has access needs no key"
    assert b"set-cookie" not in dict(again["headers"])
    assert len(door.access.devices) == 1


@pytest.mark.parametrize(
    "path", ["/\\evil.example/", "//evil.example/", "/\\/evil.example/", "/%5Cevil.example/", "///\\evil.example"]
)
def test_a_key_leads_nowhere_else(path: str) -> None:
    door = Door()
    shown = door.asked(f"{path}?key={door.access.key(here=True)}")
    to = dict(shown["headers"])[b"location"].decode()
    assert to[0] == "/"
    assert to[1:2] not in ("/", "\\")
    assert "\\" not in to


def test_what_does_not_open_a_page_does_not_use_a_key_up() -> None:
    door = Door()
    key = door.access.key(here=True)
    assert door.asked(f"/?key={key}", method="HEAD")["status"] == 403
    assert door.asked(f"/?key={key}", method="POST", content_length="0")["status"] == 403
    assert door.asked(f"/a\nb?key={key}")["status"] == 400
    assert door.asked(f"/a\0b?key={key}")["status"] == 400
    assert door.asked(f"/{'a' * 5000}?key={key}")["status"] == 414
    assert door.asked(f"/?key={key}", kind="websocket")["type"] == "websocket.close"
    assert door.asked(f"/?key={key}")["status"] == 303


def test_the_key_of_this_machine_is_no_good_elsewhere() -> None:
    door = Door(lan=True)
    key = door.access.key(here=True)
    assert door.asked(f"/?key={key}", **ON_LAN)["status"] == 403
    assert door.asked(f"/?key={key}", client=PHONE, host="127.0.0.1:80")["status"] == 403
    assert door.asked(f"/?key={key}")["status"] == 303


def test_keys_that_nobody_uses_come_to_an_end() -> None:
    door = Door()
    first = door.access.key(here=True)
    others = [door.access.key(here=True) for _ in range(MAX_KEYS)]
    assert door.asked(f"/?key={first}")["status"] == 403
    assert door.asked(f"/?key={others[0]}")["status"] == 303


def test_access_is_taken_back_and_its_sockets_are_closed() -> None:
    closed: list[str] = []

    async def socket(scope: dict[str, Any], receive: Any, send: Any) -> None:
        if scope["type"] != "websocket":
            await _app(scope, receive, send)
            return
        device = scope["state"]["device"]
        door.access.take_back(device.id)
        await asyncio.sleep(0)
        closed.append(device.kind)

    door = Door(lan=True, app=socket)
    phone = door.let_in(here=False, user_agent="Demo Mobi", **ON_LAN)
    other = door.let_in(here=False, **ON_LAN)
    assert door.asked(cookie=phone, kind="websocket", **ON_LAN) == {
        "type": "websocket.close", "code": 1008, "reason": "access was taken back",
    }  # fmt: skip
    assert closed == ["Phone or tablet"]
    assert door.asked(cookie=phone, **ON_LAN)["status"] == 403
    assert door.asked(cookie=other, **ON_LAN)["status"] == 200
    assert [device.kind for device in door.access.devices] == ["Computer"]
    assert not door.access.take_back("nobody")


def test_on_a_network_names_are_still_refused() -> None:
    door = Door(lan=True)
    assert door.asked(f"/?key={door.access.key(here=False)}", client=PHONE, host="evil.example")["status"] == 403


@pytest.mark.parametrize(
    ("head", "status"),
    [
        ({"content_length": str(MAX_BYTES + 1)}, 413), ({"content_length": "9" * 5000}, 413), ({}, 411),
        ({"content_length": ""}, 411), ({"content_length": "-5"}, 411), ({"content_length": "٣"}, 411),
        ({"transfer_encoding": "chunked"}, 411), ({"content_length": "10"}, 200),
    ],
)  # fmt: skip
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "ODD"])
def test_what_is_sent_is_bounded(method: str, head: dict[str, str], status: int) -> None:
    door = Door()
    assert door.asked(method=method, cookie=door.let_in(), **head)["status"] == status


@pytest.mark.parametrize(("path", "status"), [("/a" * 1999, 200), ("/a" * 2001, 414), ("/" + "ö" * 200, 404), ("/a\x7f", 400)])  # fmt: skip
def test_addresses_are_bounded(path: str, status: int) -> None:
    door = Door()
    assert door.asked(path, cookie=door.let_in())["status"] == status


def test_nobody_says_for_whom_he_asks() -> None:
    seen: list[bytes] = []

    async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
        seen.extend(k for k, _ in scope["headers"])
        await _app(scope, receive, send)

    door = Door(app=app)
    door.asked(cookie=door.let_in(), x_forwarded_prefix="//evil.example", X_Forwarded_For="10.0.0.1")
    assert seen == [b"host", b"cookie"]


def test_a_page_without_the_framework_runs_files_of_ours_alone() -> None:
    door = Door()
    policy = dict(door.asked(cookie=door.let_in())["headers"])[b"content-security-policy"].decode()
    assert "script-src 'self';" in policy
    assert "unsafe-eval" not in policy


def test_a_page_of_the_framework_names_its_scripts() -> None:
    async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
        said = f"<script nonce={scope['state']['nonce']}>"
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": said.encode()})

    door = Door(app=app)
    cookie, seen = door.let_in(), set()
    for _ in range(3):
        policy = dict(door.asked(cookie=cookie)["headers"])[b"content-security-policy"].decode()
        nonce = door.body.decode().removeprefix("<script nonce=").removesuffix(">")
        assert f"'nonce-{nonce}'" in policy
        assert "unsafe-inline" not in policy.partition("script-src ")[2].partition(";")[0]
        assert "script-src-attr 'none'" in policy
        seen.add(nonce)
    assert len(seen) == 3, "another one each time"
