"""What a neighbor without a key can take from the workbench: a bounded header, some seconds, a few places."""

from __future__ import annotations

import re
import resource
import socket
import sys
import time
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

import pytest
from bench.conftest import exchanged

from backwave.bench.connection import HEADER_BYTES, HEADER_S, MAX_OPEN, MAX_STRANGERS, OWN, gives_way

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="limits of another process are set on Linux alone")


@pytest.fixture
def wires(shared: Any) -> Iterator[Any]:
    """Opens connections to the workbench, and closes them in the end."""
    opened: list[socket.socket] = []
    at = urlsplit(shared.url)

    def open_(said: bytes = b"") -> socket.socket:
        wire = socket.create_connection((at.hostname, at.port), timeout=20)
        opened.append(wire)
        wire.sendall(said)
        return wire

    yield open_
    for wire in opened:
        wire.close()


def answer(wire: socket.socket) -> bytes:
    """All that comes until the other side closes."""
    said = b""
    try:
        while more := wire.recv(65_536):
            said += more
    except ConnectionResetError:
        pass
    return said


def quick(shared: Any) -> float:
    """How long somebody with access waits for an answer, in seconds."""
    began = time.monotonic()
    shared.ask("/access").close()
    return time.monotonic() - began


def memory(pid: int) -> int:
    with open(f"/proc/{pid}/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * resource.getpagesize()


def test_a_header_without_an_end_is_not_taken_in(shared: Any, wires: Any) -> None:
    before = memory(shared.process.pid)
    for _ in range(8):
        wire = wires(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")
        with pytest.raises((ConnectionResetError, BrokenPipeError)):  # noqa: PT012 - which of them comes is chance
            for _ in range(400):
                wire.sendall(b"a" * 65_536)
            while wire.recv(65_536):
                pass
            raise ConnectionResetError
    assert memory(shared.process.pid) - before < 20_000_000
    assert quick(shared) < 5


def test_a_large_header_is_refused_and_a_fair_one_is_not(shared: Any, wires: Any) -> None:
    fair = f"GET /access HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nCookie: {shared.cookie}\r\nX: ".encode()
    assert answer(wires(fair + b"a" * 10_000 + b"\r\n\r\n")).startswith(b"HTTP/1.1 204")
    assert answer(wires(fair + b"a" * 2 * HEADER_BYTES + b"\r\n\r\n")).startswith(b"HTTP/1.1 4")


def test_who_takes_his_time_is_not_waited_for(shared: Any, wires: Any) -> None:
    silent, half, later = wires(), wires(b"GET / HT"), wires(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n")
    end = time.monotonic() + HEADER_S + 10
    ended = False
    while not ended:
        assert time.monotonic() < end
        time.sleep(0.5)
        try:
            later.sendall(b"X: y\r\n")  # a line twice a second, for ever
        except (ConnectionResetError, BrokenPipeError):
            ended = True
    for wire in (silent, half):
        assert answer(wire) == b""
    assert quick(shared) < 5


def test_open_connections_keep_nobody_out(shared: Any, wires: Any) -> None:
    """With 256 handles, as some systems give a program, and 400 requests that never end."""
    pid = shared.process.pid
    before = resource.prlimit(pid, resource.RLIMIT_NOFILE)
    resource.prlimit(pid, resource.RLIMIT_NOFILE, (256, before[1]))
    try:
        for n in range(400):
            wires(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n" if n % 2 else b"")
            if n % 100 == 99:
                assert quick(shared) < 5
        shared.ask("/section").close()
    finally:
        resource.prlimit(pid, resource.RLIMIT_NOFILE, before)
    assert MAX_STRANGERS < 256


def test_one_device_with_access_keeps_no_other_out(bench: Callable[..., Any]) -> None:
    """It opens web sockets, which the server library counts apart from other connections, more than there are places."""
    running = bench()
    said = ""
    while "was let in" not in said:
        said += running.process.stdout.readline()
    second = exchanged(re.findall(r"http://\S+", said)[-1], running.process)
    at = urlsplit(running.url)
    ask = (
        "GET /_nicegui_ws/socket.io/?EIO=4&transport=websocket HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\n"
        "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nCookie: {}\r\n\r\n"
    )
    opened: list[socket.socket] = []

    def open_(cookie: str) -> socket.socket:
        opened.append(socket.create_connection((at.hostname, at.port), timeout=20))
        opened[-1].sendall(ask.format(cookie).encode())
        assert opened[-1].recv(4096).startswith(b"HTTP/1.1 101")
        return opened[-1]

    try:
        mine = open_(second)
        first = open_(running.cookie)
        for _ in range(MAX_OPEN + 20):
            open_(running.cookie)
        for cookie in (second, running.cookie):
            assert running.ask("/access", Cookie=cookie).status == 204
        first.settimeout(5)
        assert ended(first)
        mine.settimeout(0.5)
        assert not ended(mine), "who has few keeps them"
    finally:
        for one in opened:
            one.close()


def ended(wire: socket.socket) -> bool:
    """Whether the other side has closed it."""
    try:
        while wire.recv(4096):
            pass
    except TimeoutError:
        return False
    except ConnectionResetError:
        pass
    return True


def of(address: str, *since: float, device: object = None) -> list[SimpleNamespace]:
    return [SimpleNamespace(client=(address, 1), since=s, device=device) for s in since]


def test_the_oldest_of_whoever_has_most_gives_way_and_the_machine_itself_last() -> None:
    phone, tablet = of("192.168.0.7", 5, 1, 9, device="a"), of("192.168.0.7", *range(20, 30), device="b")
    assert gives_way(phone + tablet).since == 20
    assert gives_way(phone + of("127.0.0.1", *range(OWN))).since == 1, "the machine's own places"
    assert gives_way(phone + of("127.0.0.1", *range(100, 104 + OWN))).since == 100, "and no more than they are"
    assert gives_way(of("127.0.0.1", 4, 3)).since == 3
    assert gives_way(of("", 2)).since == 2


def test_a_body_is_not_read_from_somebody_without_access(shared: Any, wires: Any) -> None:
    wire = wires(b"POST /chores/words HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900000\r\n\r\n")
    assert answer(wire).startswith(b"HTTP/1.1 403")


def test_what_is_no_request_is_refused(shared: Any, wires: Any) -> None:
    access = f"Cookie: {shared.cookie}\r\nConnection: close\r\n".encode()
    for said in (
        b"\0\1\2\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"GET http://evil.example/ HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + access + b"\r\n",  # no host
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: 127.0.0.1\r\n" + access + b"\r\n",
        b"GET /%00 HTTP/1.1\r\nHost: 127.0.0.1\r\n" + access + b"\r\n",
        b"POST /chores/words HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5\r\nContent-Length: 6\r\n" + access + b"\r\n",
        b"POST /chores/words HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -5\r\n" + access + b"\r\n",
    ):  # fmt: skip
        assert answer(wires(said)).startswith((b"HTTP/1.1 400", b"HTTP/1.1 403")), said
    names = f"GET /chores/photos/{'a' * 1500}.jpg HTTP/1.1\r\nHost: 127.0.0.1\r\n".encode() + access + b"\r\n"
    assert answer(wires(names)).startswith(b"HTTP/1.1 404")
