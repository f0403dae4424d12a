"""Who may ask for what."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from backwave.bench.access_control import MOST_BYTES, Guard

HOME = ("127.0.0.1", 5000)
PHONE = ("192.168.1.20", 5000)


async def _app(scope: dict[str, Any], receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"the job"})


def asked(
    guard: Guard,
    path: str = "/",
    client: tuple[str, int] = HOME,
    method: str = "GET",
    kind: str = "http",
    **head: str,
) -> Any:
    path, _, query = path.partition("?")
    said: list[dict[str, Any]] = []
    headers = [(k.replace("_", "-").encode(), v.encode()) for k, v in ({"host": "127.0.0.1:80"} | head).items()]
    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "client": client,
        "headers": headers,
    }

    async def send(message: dict[str, Any]) -> None:
        said.append(message)

    async def receive() -> dict[str, Any]:
        return {"type": "websocket.connect"}

    # in a thread of its own: a browser driven in this one keeps a loop running here
    with ThreadPoolExecutor(1) as alone:
        alone.submit(asyncio.run, guard(scope, receive, send)).result()
    return said[0]


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:80",
        "127.0.0.1.evil.example",
        "localhost.evil.example",
        "192.168.1.5",
        "",
        "[",
        "10.0.0.1@x",
    ],
)
def test_another_name_is_refused(host: str) -> None:
    """A name that somebody else gave this machine (DNS rebinding) opens nothing."""
    assert asked(Guard(_app), host=host)["status"] == 403


@pytest.mark.parametrize("host", ["localhost:80", "127.0.0.1", "[::1]:80", "LOCALHOST"])
def test_the_machine_itself_is_let_in(host: str) -> None:
    said = asked(Guard(_app), host=host)
    assert said["status"] == 200
    names = {k for k, _ in said["headers"]}
    assert {b"content-security-policy", b"x-content-type-options", b"referrer-policy"} <= names


def test_another_site_does_not_reach_it_through_the_readers_browser() -> None:
    assert asked(Guard(_app), origin="http://evil.example")["status"] == 403
    assert asked(Guard(_app), origin="http://127.0.0.1:81")["status"] == 403
    assert asked(Guard(_app), origin="http://127.0.0.1:80")["status"] == 200
    assert asked(Guard(_app), kind="websocket", origin="http://evil.example")["type"] == "websocket.close"


def test_on_a_network_the_key_lets_in_once() -> None:
    told: list[str] = []
    guard = Guard(_app, lan=True, said=told.append, key="first")
    address = {"client": PHONE, "host": "192.168.1.5:80"}
    assert asked(guard, **address)["status"] == 403
    assert asked(guard, "/?key=wrong", **address)["status"] == 403
    shown = asked(guard, "//evil.example/?key=first&x=1", **address)
    assert shown["status"] == 303
    headers = dict(shown["headers"])
    assert headers[b"location"] == b"/evil.example/?x=1"
    assert b"HttpOnly" in headers[b"set-cookie"]
    assert b"SameSite=Strict" in headers[b"set-cookie"]
    cookie = headers[b"set-cookie"].decode().partition(";")[0]
    assert asked(guard, **address, cookie=cookie)["status"] == 200
    assert asked(guard, kind="websocket", **address)["type"] == "websocket.close"
    assert asked(guard, "/?key=first", **address)["status"] == 403, "it works once"
    assert told
    assert told[0] != "first"


def test_on_a_network_names_are_still_refused() -> None:
    assert asked(Guard(_app, lan=True, key="k"), "/?key=k", client=PHONE, host="evil.example")["status"] == 403


def test_a_claim_to_be_this_machine_is_not_believed_from_another() -> None:
    assert asked(Guard(_app, lan=True), client=PHONE, host="127.0.0.1")["status"] == 403


@pytest.mark.parametrize(("length", "status"), [(str(MOST_BYTES + 1), 413), ("", 411), ("-5", 411), ("10", 200)])
def test_what_is_sent_is_bounded(length: str, status: int) -> None:
    assert asked(Guard(_app), method="POST", content_length=length)["status"] == status
