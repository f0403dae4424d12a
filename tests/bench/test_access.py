"""Keys, devices and pages in a browser: what a person reads who has no access, and how it is given and taken back."""

from __future__ import annotations

import http.client
import http.server
import os
import re
import shutil
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench.conftest import let_in

from backwave.bench.server import _refuse_pair
from backwave.errors import InputError


@pytest.fixture
def stranger(chromium: Any) -> Iterator[Any]:
    """A browser without access."""
    context = chromium.new_context(viewport={"width": 1440, "height": 900})
    yield context.new_page()
    context.close()


@pytest.fixture
def elsewhere(shared: Any) -> Iterator[str]:
    """Another site: a page that shows pictures of the workbench, frames it and links to it."""
    body = (
        "<!doctype html><title>elsewhere</title>"
        + "".join(f"<img src='{shared.url}/?{n}' onerror='document.title += 1'>" for n in range(20))
        + f"<iframe src='{shared.url}/'></iframe><a href='{shared.url}/wires'>there</a>"
    ).encode()

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200 if self.path == "/" else 404)
            self.send_header("content-type", "text/html")
            self.send_header("content-length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None: ...

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"localhost:{server.server_port}"
    server.shutdown()
    server.server_close()


def test_without_access_a_person_reads_what_to_do(shared: Any, stranger: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    for width in (1440, 390):
        stranger.set_viewport_size({"width": width, "height": 844})
        assert stranger.goto(shared.url + "/section").status == 403
        assert "open the newest address in the terminal" in stranger.locator("main").inner_text()
        assert stranger.evaluate("document.documentElement.scrollWidth") <= width
        assert not [v["id"] for v in Axe().run(stranger).response["violations"] if v["impact"] == "serious"]
    assert "night-round" not in stranger.content().lower()


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1"])  # another site, and another port of the same
def test_another_page_builds_nothing_and_its_link_asks_first(
    shared: Any, stranger: Any, elsewhere: str, name: str
) -> None:
    let_in(stranger.context)
    answers: list[int] = []
    wire = stranger.context.new_cdp_session(stranger)  # the page itself is not told what was answered to a picture
    wire.send("Network.enable")
    wire.on("Network.responseReceivedExtraInfo", lambda told: answers.append(told["statusCode"]))
    stranger.goto(f"http://{elsewhere.replace('localhost', name)}/")
    stranger.wait_for_load_state("networkidle")
    assert answers.count(403) >= 20
    assert answers.count(200) == 1, "the other page itself"
    stranger.get_by_role("link", name="there").click()
    stranger.get_by_role("link", name="Open the workbench").click()
    stranger.wait_for_selector(".seal")
    assert stranger.url == shared.url + "/wires"


def test_a_key_from_a_file_or_another_page_opens_the_workbench(
    bench: Callable[..., Any], stranger: Any, tmp_path: Path
) -> None:
    running = bench()
    said = ""
    while "?key=" not in said:
        said = running.process.stdout.readline()
    key = re.search(r"http\S+key=\S+", said)[0]  # type: ignore[index]
    (tmp_path / "open.html").write_text(f'<meta http-equiv="refresh" content="0; url={key}">', encoding="utf-8")
    stranger.goto((tmp_path / "open.html").as_uri())
    stranger.wait_for_selector(".seal")
    assert stranger.url == running.url + "/", "the key has left the address"


def test_access_is_given_and_taken_back_in_the_workbench(
    bench: Callable[..., Any], tab: Callable[..., Any], stranger: Any
) -> None:
    running = bench()
    page = tab(running.url + "/devices")
    page.get_by_role("button", name="Let in one more browser on this machine").click()
    page.wait_for_selector(".key")
    stranger.goto(page.locator(".key").inner_text())
    stranger.wait_for_selector(".seal")
    work = stranger.context.new_page()
    work.goto(running.url + "/work")
    work.wait_for_selector("#tasks article")
    page.reload()
    page.wait_for_function("document.querySelectorAll('.devices tbody tr').length === 2")
    assert "this one" in page.locator(".devices tbody tr").first.inner_text()
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.querySelector('.devices table').getBoundingClientRect().right") <= 390 - 12
    page.get_by_role("button", name="Take back access").click()
    page.wait_for_function("document.querySelectorAll('.devices tbody tr').length === 1")
    stranger.wait_for_selector("#popup >> text=This browser has no access to the workbench", timeout=30_000)
    work.wait_for_selector(".state >> text=no access", timeout=30_000)
    work.wait_for_selector(".alarms >> text=This browser has no access to the workbench")
    assert stranger.goto(running.url).status == 403
    assert page.goto(running.url).status == 200


def test_after_a_restart_a_page_says_that_access_is_gone(
    bench: Callable[..., Any], again: Callable[..., Any], chromium: Any
) -> None:
    running = bench()
    context = let_in(chromium.new_context())
    page = context.new_page()
    page.goto(running.url + "/work")
    page.wait_for_selector("#tasks article")
    port = running.url.rpartition(":")[2]
    running.process.kill()
    running.process.wait()
    page.wait_for_selector(".state >> text=no network", timeout=30_000)
    again(running, "--port", port)
    page.wait_for_selector(".state >> text=no access", timeout=30_000)
    context.close()


def _made(folder: Path, name: str, *lock: str) -> tuple[Path, Path]:
    cert, key = folder / f"{name}.pem", folder / f"{name}-key.pem"
    made = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        *(lock or ("-nodes",)),
        "-keyout",
        key,
        "-out",
        cert,
        "-days",
        "2",
        "-subj",
        "/CN=b",
    ]
    subprocess.run(made, check=True, capture_output=True)
    return cert, key


@pytest.mark.skipif(shutil.which("openssl") is None, reason="makes its certificates with openssl")
def test_what_is_wrong_with_a_certificate_or_its_key_is_said(tmp_path: Path) -> None:
    (cert, key), (_, other), (own, shut) = (
        _made(tmp_path, "a"), _made(tmp_path, "b"), _made(tmp_path, "c", "-passout", "pass:four"),
    )  # fmt: skip
    pipe, weak = tmp_path / "pipe", tmp_path / "cut.pem"
    os.mkfifo(pipe)
    weak.write_bytes(cert.read_bytes()[:300])
    for pair, said in {
        (cert, other): "belongs to another certificate", (own, shut): "locked with a passphrase", (pipe, key): "no ordinary file",
        (cert, pipe): "no ordinary file", (cert, tmp_path): "a folder", (tmp_path / "none", key): "no such file",
        (key, cert): "no certificate in it", (weak, key): "damaged",
    }.items():  # fmt: skip
        with pytest.raises(InputError, match=said):
            _refuse_pair(*pair)
    _refuse_pair(cert, key)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="makes its certificate with openssl")
def test_with_a_certificate_what_is_sent_is_encrypted_and_the_cookie_stays_so(tmp_path: Path) -> None:
    (cert, key), folder = _made(tmp_path, "bench"), tmp_path / "job"
    folder.mkdir()
    command = [sys.executable, "-m", "backwave", "open", folder, "--port", "0", "--no-show", "--tls"]
    wrong = subprocess.run([*command, key, cert], capture_output=True, text=True, check=False)
    assert wrong.returncode == 2
    assert "two PEM files that go together" in wrong.stderr
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")}
    with subprocess.Popen([*command, cert, key], stdout=subprocess.PIPE, text=True, env=env) as process:
        assert process.stdout is not None
        found = re.search(r"https://127\.0\.0\.1:(\d+)(/\?key=\S+)", process.stdout.readline())
        assert found
        own = ssl.create_default_context(cafile=str(cert))
        own.check_hostname = False  # it is made out to another name
        end = time.monotonic() + 60
        while True:
            wire = http.client.HTTPSConnection("127.0.0.1", int(found[1]), timeout=20, context=own)
            try:
                wire.request("GET", found[2])
                answer = wire.getresponse()
                break
            except ConnectionRefusedError:
                assert time.monotonic() < end
                time.sleep(0.1)
        assert answer.status == 303
        assert "Secure" in (answer.getheader("set-cookie") or "")
        wire.close()
        process.terminate()
