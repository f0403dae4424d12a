"""What a hostile neighbor can do to a workbench: python -m benchmarks hostile

With a key and without: headers without an end, slow ones, hundreds of open connections with 256 handles, hosts, origins,
paths and keys that are none, another page's pictures, bodies of every wrong kind, sockets from elsewhere, pictures that
unfold.  Each is tried, and held against what should come; memory is taken before and after.  Only 127.0.0.1 is asked, a
bounded number of times; it ends by itself after some three minutes.
"""

from __future__ import annotations

import http.client
import io
import resource
import socket
import tempfile
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

from PIL import Image

from tests.bench.conftest import Running, demo, start, stop

HOME = "127.0.0.1"
ANSWER_S = 5.0  # what somebody with access may wait meanwhile
Try = tuple[str, Callable[[], bool]]


class Neighbor:
    """Asks one workbench.

    Parameters
    ----------
    running : Running, no unit
        The workbench.
    """

    def __init__(self, running: Running) -> None:
        self.running = running
        self.port = urlsplit(running.url).port or 0
        self.fair = {"Host": f"{HOME}:{self.port}"}
        self.known = self.fair | {"Cookie": running.cookie}

    def ask(self, path: str = "/", method: str = "GET", body: bytes | None = None, **head: str) -> int:
        """The status of an answer; 0 where there was none."""
        headers = {k.replace("_", "-"): v for k, v in head.items()}
        wire = http.client.HTTPConnection(HOME, self.port, timeout=20)
        try:
            wire.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in headers.items():
                wire.putheader(name, value.encode("utf-8", "surrogateescape"))
            wire.endheaders(body)
            return wire.getresponse().status
        except (OSError, http.client.HTTPException):
            return 0
        finally:
            wire.close()

    def raw(self, said: Iterable[bytes], seconds: float = 20.0) -> bytes:
        """What comes back to bytes as they are, until the other side closes."""
        got = b""
        with socket.create_connection((HOME, self.port), timeout=seconds) as wire:
            try:
                for piece in said:
                    wire.sendall(piece)
                while more := wire.recv(65_536):
                    got += more
            except (ConnectionResetError, BrokenPipeError):
                pass
            except TimeoutError:
                return b"still open"
        return got

    def quick(self) -> bool:
        """Somebody with access is answered in time."""
        began = time.monotonic()
        return self.ask("/access", **self.known) == 204 and time.monotonic() - began < ANSWER_S

    def memory(self) -> int:
        """Bytes of the server that lie in memory."""
        text = Path(f"/proc/{self.running.process.pid}/statm").read_text(encoding="ascii")
        return int(text.split()[1]) * resource.getpagesize()


def _all(said: Iterable[object]) -> bool:
    return all(bool(one) for one in said)


def no_key(n: Neighbor) -> list[Try]:
    """Nothing of the job without a key, whatever is asked for."""
    paths = ("/", "/section", "/work", "/chores/list", "/chores/part/keep.js", "/fonts/drawing-regular.ttf",
             "/_nicegui_ws/socket.io/?EIO=4&transport=polling", "/access", "/made/0/stl", "/?key=guess")  # fmt: skip
    cookies = ("backwave", f"backwave-{n.port}=guess", "=", ";" * 900, "a=" + "b" * 3000)
    return [
        *((f"no key: {path}", lambda path=path: n.ask(path, **n.fair) == 403) for path in paths),
        *((f"cookie {c[:20]}", lambda c=c: n.ask("/", Cookie=c, **n.fair) == 403) for c in cookies),
        ("an address passed on", lambda: n.ask("/", X_Forwarded_For=HOME, **n.fair) == 403),
        ("200 keys guessed", lambda: _all(n.ask(f"/?key={k:022}", **n.fair) == 403 for k in range(200))),
        ("a post without a key", lambda: n.ask("/chores/words", "POST", b"{}", Content_Length="2", **n.fair) == 403),
    ]


def names(n: Neighbor) -> list[Try]:
    """Hosts and origins that are not this one, or are none: never 500."""
    hosts = {
        "evil.example": 403, "127.0.0.1.evil.example": 403, "2130706433": 403, "0x7f.1": 403, "": 400, "[": 400,
        "127.0.0.1:x": 400, "127.0.0.1@evil.example": 403, "192.168.0.9": 403, "é" * 90: 403, "::1]": 400, "a\tb": 403,
    }  # fmt: skip
    origins = {"http://evil.example": 403, "null": 403, "http://[bad": 400, f"http://{HOME}:1": 403, "x" * 2000: 403}
    cookie = {"Cookie": n.running.cookie}
    return [
        *((f"host {h[:24]!r}", lambda h=h, s=s: n.ask(Host=h, **cookie) in (s, 400)) for h, s in hosts.items()),
        *((f"origin {o[:24]}", lambda o=o, s=s: n.ask(Origin=o, **n.known) == s) for o, s in origins.items()),
        ("no host", lambda: n.raw([b"GET / HTTP/1.1\r\n\r\n"]).startswith(b"HTTP/1.1 400")),
        ("two hosts", lambda: n.raw([b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: localhost\r\n\r\n"]).startswith(b"HTTP/1.1 400")),
    ]  # fmt: skip


def paths(n: Neighbor) -> list[Try]:
    """Addresses that lead elsewhere or are none, with the cookie: refused, never 500."""
    bad = (
        "/%00", "/a%0d%0aSet-Cookie:x", "/chores/photos/a%00.jpg", "/chores/photos/" + "a" * 1000 + ".jpg",
        "/" + "a" * 5000, "/chores/photos/..%2f..%2fjob.toml", "/fonts/..%2f..%2f..%2ferrors.py", "/made/../../job.toml",
        "/chores/part/..%2fserver.py", "/%ff%fe", "/chores/list?seen=" + "a" * 4000, "/_nicegui/x/static/..%2f..%2fnicegui.py",
    )  # fmt: skip
    sites = ({"Sec-Fetch-Site": s, "Sec-Fetch-Mode": m, "Sec-Fetch-Dest": d} for s in ("cross-site", "same-site")
             for m, d in (("no-cors", "image"), ("navigate", "iframe"), ("cors", "empty"), ("navigate", "document")))  # fmt: skip
    return [
        *((f"path {p[:30]}", lambda p=p: 200 <= n.ask(p, **n.known) < 500) for p in bad),
        *((f"from another page {' '.join(s.values())}", lambda s=s: n.ask("/", **s, **n.known) == 403) for s in sites),
        ("480 pictures of another page", lambda: _flat(n, 20e6, lambda: _all(
            n.ask(f"/?{k}", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="no-cors", Sec_Fetch_Dest="image", **n.known) == 403
            for k in range(480)))),
        ("60 pages that nobody opens", lambda: _flat(n, 150e6, lambda: _all(n.ask("/", **n.known) == 200 for _ in range(60)))),
    ]  # fmt: skip


def _flat(n: Neighbor, most: float, work: Callable[[], bool]) -> bool:
    before = n.memory()
    return work() and n.memory() - before < most and n.quick()


def wires(n: Neighbor) -> list[Try]:
    """Headers, bodies and connections without an end."""
    begun = f"GET / HTTP/1.1\r\nHost: {HOME}\r\n".encode()
    post = f"POST /chores/words HTTP/1.1\r\nHost: {HOME}\r\nCookie: {n.running.cookie}\r\n".encode()

    def slowly(piece: bytes) -> Iterable[bytes]:
        for _ in range(60):
            yield piece
            time.sleep(0.5)

    def crowd(said: bytes) -> bool:
        opened = []
        try:
            for k in range(400):
                opened.append(socket.create_connection((HOME, n.port), timeout=20))
                opened[-1].sendall(said)
                if k % 100 == 99 and not n.quick():
                    return False
            return n.quick()
        finally:
            for one in opened:
                one.close()

    return [
        ("50 MB of header", lambda: _flat(n, 20e6, lambda: b" 200" not in n.raw([begun + b"X: ", *[b"a" * 65_536] * 800]))),
        ("50 MB of header lines", lambda: _flat(n, 20e6, lambda: b" 200" not in n.raw([begun, *[b"X: y\r\n" * 8_000] * 1000]))),
        ("50 MB of address", lambda: _flat(n, 20e6, lambda: b" 200" not in n.raw([b"GET /", *[b"a" * 65_536] * 800]))),
        ("header a byte at a time", lambda: n.raw((begun + b"X: ", *slowly(b"a"))) != b"still open"),
        ("nothing said", lambda: n.raw([]) != b"still open"),
        ("body that does not come", lambda: n.raw([post + b"Content-Length: 100\r\n\r\n{"], 45) != b"still open"),
        ("body without a length", lambda: b" 411" in n.raw([post + b"Transfer-Encoding: chunked\r\n\r\n"])),
        ("lengths that differ", lambda: b" 400" in n.raw([post + b"Content-Length: 5\r\nContent-Length: 6\r\n\r\n"])),
        ("length and chunks", lambda: b" 4" in n.raw([post + b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"])),
        ("length below zero", lambda: b" 4" in n.raw([post + b"Content-Length: -1\r\n\r\n"])),
        ("a chunk's size without an end", lambda: _flat(n, 20e6, lambda: b" 200" not in n.raw([post + b"Transfer-Encoding: chunked\r\n\r\n", *[b"0" * 65_536] * 100]))),
        ("2 GB declared", lambda: b" 413" in n.raw([post + b"Content-Length: 2147483648\r\n\r\n"])),
        ("rubbish", lambda: b" 400" in n.raw([bytes(range(256)) * 40 + b"\r\n\r\n"])),
        ("400 connections that say nothing", lambda: crowd(b"")),
        ("400 requests that never end", lambda: crowd(begun)),
        ("400 bodies that never come", lambda: crowd(begun.replace(b"GET", b"POST") + b"Content-Length: 9\r\n\r\n")),
    ]  # fmt: skip


def sockets(n: Neighbor) -> list[Try]:
    """Web sockets (RFC 6455, 4.1) without a key, from elsewhere, and with too much."""
    path = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"

    def shake(said: bytes = b"", **head: str) -> bytes:
        lines = {"Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13",
                 "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="} | head  # fmt: skip
        text = f"GET {path} HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in lines.items()) + "\r\n"
        return n.raw([text.encode(), said], 15)

    # A masked frame (5.2) that declares 100 MB and sends ten of them.
    large = b"\x81\xff" + (100_000_000).to_bytes(8, "big") + b"\0\0\0\0" + b"a" * 10_000_000
    return [
        ("socket without a key", lambda: b" 101" not in shake(**n.fair)),
        ("socket of another site", lambda: b" 101" not in shake(Origin="http://evil.example", **n.known)),
        ("socket of another port", lambda: b" 101" not in shake(Origin=f"http://{HOME}:1", **n.known)),
        ("socket by another name", lambda: b" 101" not in shake(Cookie=n.running.cookie, Host="evil.example")),
        ("a message of 100 MB", lambda: _flat(n, 40e6, lambda: shake(large, **n.known) != b"still open")),
    ]


def pictures(n: Neighbor) -> list[Try]:
    """Small files that unfold, eight at once, and what is no picture."""
    folded = io.BytesIO()
    Image.new("RGBA", (4472, 4472)).save(folded, "PNG")
    fair = io.BytesIO()
    Image.new("RGB", (1600, 1200), "gray").save(fair, "JPEG")

    def send(data: bytes, name: str) -> int:
        head = {"Content-Type": "image/jpeg", "Content-Length": str(len(data))}
        return n.ask(f"/chores/photo?name=photos/{name}.jpg", "POST", data, **head, **n.known)

    def say(words: bytes) -> int:
        return n.ask("/chores/words", "POST", words, Content_Length=str(len(words)), **n.known)

    def eight() -> bool:
        with ThreadPoolExecutor(8) as pool:
            return set(pool.map(lambda k: send(folded.getvalue(), f"h{k}"), range(8))) == {409}

    return [
        ("a picture as the page sends it is taken", lambda: send(fair.getvalue(), "fair") == 200),
        ("8 pictures of 80 MB at once", lambda: _flat(n, 40e6, eight)),
        ("no picture", lambda: send(b"<svg onload=alert(1)>", "svg") == 409),
        ("a picture cut short", lambda: send(fair.getvalue()[:-500], "cut") == 409),
        ("words 900 lists deep", lambda: say(b"[" * 900 + b"]" * 900) == 400),
        ("half a letter", lambda: say(b'{"words": [{"kind": "\\ud83d"}]}') == 200),
        ("a number of 400,000 digits", lambda: say(b'{"words": ' + b"9" * 400_000 + b"}") == 400),
        ("10 MB of words", lambda: n.ask("/chores/words", "POST", b"", Content_Length="10000000", **n.known) == 413),
        ("a list as words", lambda: say(b"[1]") == 400),
    ]  # fmt: skip


def main() -> None:
    """Print one line a kind: tried, held; and each that was not held."""
    with tempfile.TemporaryDirectory() as scratch:
        running = start(demo(Path(scratch) / "job"), Path(scratch) / "shelf")
        pid = running.process.pid
        resource.prlimit(pid, resource.RLIMIT_NOFILE, (256, resource.prlimit(pid, resource.RLIMIT_NOFILE)[1]))
        try:
            neighbor = Neighbor(running)
            while not neighbor.quick():
                time.sleep(0.1)
            neighbor.ask("/", **neighbor.known)
            time.sleep(5.0)  # the first sound is worked out
            before, tried, held = neighbor.memory(), 0, 0
            for kind in (no_key, names, paths, wires, sockets, pictures):
                tries = kind(neighbor)
                bad = [words for words, works in tries if not works()]
                tried, held = tried + len(tries), held + len(tries) - len(bad)
                print(
                    f"  {kind.__name__.replace('_', ' ')}: {len(tries)} tried, {len(tries) - len(bad)} held", flush=True
                )
                for words in bad:
                    print(f"    NOT HELD: {words}", flush=True)
            print(f"  {tried} tried, {held} held: {'ok' if tried == held else 'MISSED'}")
            print(f"  the server: {before / 1e6:.0f} MB before, {neighbor.memory() / 1e6:.0f} MB after")
            print(f"  somebody with access is answered: {'ok' if neighbor.quick() else 'MISSED'}")
        finally:
            stop(running)
