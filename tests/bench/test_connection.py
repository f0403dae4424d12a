"""What a neighbor without a key can take from the workbench: a bounded header, some seconds, a few places."""

from __future__ import annotations

import resource
import socket
import sys
import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest

from backwave.bench.connection import HEADER_BYTES, HEADER_S, MAX_STRANGERS

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
    fair = (
        f"GET /access HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nCookie: {shared.cookie}\r\nX: ".encode()
    )
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
