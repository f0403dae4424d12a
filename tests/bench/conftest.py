"""A workbench on a free port with a job of its own, and a browser to open it in."""

from __future__ import annotations

import contextlib
import http.client
import os
import re
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error as PlaywrightError

CHROMIUM = "/usr/bin/chromium"
ARGS = [
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
]  # fmt: skip
_KEPT = "PYTEST_COOKIE_"  # in the environment, with the port: this file is loaded under two names


@dataclass
class Running:
    """A workbench that runs."""

    folder: Path
    url: str
    process: subprocess.Popen[str]
    cookie: str = ""
    """What the printed key was exchanged for, as a header has it."""

    @property
    def text(self) -> str:
        return (self.folder / "job.toml").read_text(encoding="utf-8")

    def ask(self, path: str = "", data: bytes | None = None, **head: str) -> Any:
        """A request with the cookie; the answer, or urllib's HTTPError."""
        headers = {"Cookie": self.cookie} | {k.replace("_", "-"): v for k, v in head.items()}
        return urllib.request.urlopen(urllib.request.Request(self.url + path, data, headers))


def let_in(context: Any) -> Any:
    """A browser's context that has access to every workbench that was started here."""
    for name, cookie in os.environ.items():
        if name.startswith(_KEPT):
            named, _, value = cookie.partition("=")
            context.add_cookies([{"name": named, "value": value, "url": "http://127.0.0.1", "sameSite": "Strict"}])
    return context


def patient(page: Any, seconds: float = 60.0) -> Any:
    """A page whose `wait_for_function` asks from outside: a page of ours alone permits no eval, not even the driver's."""

    def wait(expression: str, *, arg: Any = None, timeout: float = 1000 * seconds, **_: Any) -> Any:
        end = time.monotonic() + timeout / 1000
        while True:
            with contextlib.suppress(PlaywrightError):  # gone to another address meanwhile
                if found := page.evaluate(expression, arg):
                    return found
            assert time.monotonic() < end, f"it never came: {expression}"
            page.wait_for_timeout(30)

    page.wait_for_function = wait
    return page


def exchanged(address: str, process: subprocess.Popen[str]) -> str:
    """The cookie for the key in a printed address, once the server is there."""
    base, _, key = address.rpartition("/")
    wire = http.client.HTTPConnection(base.removeprefix("http://"), timeout=20)
    end = time.monotonic() + 60
    while True:
        try:
            wire.request("GET", f"/{key}")
            answer = wire.getresponse()
        except OSError:
            wire.close()
            assert process.poll() is None, process.stdout and process.stdout.read()
            assert time.monotonic() < end
            time.sleep(0.05)
        else:
            cookie = (answer.getheader("set-cookie") or "").partition(";")[0]
            wire.close()
            assert answer.status == 303, answer.status
            return cookie


def start(folder: Path, shelf: Path, *options: str) -> Running:
    # The library behaves otherwise where it sees a test runner.
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")} | {"BACKWAVE_SHELF": str(shelf)}
    process = subprocess.Popen(
        [sys.executable, "-m", "backwave", "open", str(folder), "--port", "0", "--no-show", *options],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env,
    )  # fmt: skip
    assert process.stdout is not None
    line = process.stdout.readline()
    found = re.search(r"(http://127\.0\.0\.1:\d+)/\?key=\S+", line)
    assert found, line + process.stdout.read()
    cookie = os.environ[_KEPT + found[1].rpartition(":")[2]] = exchanged(found[0], process)
    return Running(folder, found[1], process, cookie)


def stop(running: Running) -> None:
    running.process.terminate()
    try:
        running.process.wait(10)
    except subprocess.TimeoutExpired:
        running.process.kill()
        running.process.wait()
    if running.process.stdout is not None:
        running.process.stdout.close()


DEMO = Path(str(files("backwave.cli"))) / "demo_job" / "job.toml"


def demo(folder: Path) -> Path:
    """A folder with the demo job's file."""
    folder.mkdir()
    (folder / "job.toml").write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
    return folder


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    """Starts a workbench: of the demo job, or of another text, or of an empty folder."""
    started: list[Running] = []

    def run(*options: str, empty: bool = False, text: Callable[[str], str] = str) -> Running:
        folder = tmp_path / f"job-{len(started)}"
        if empty:
            folder.mkdir()
        else:
            path = demo(folder) / "job.toml"
            path.write_text(text(path.read_text(encoding="utf-8")), encoding="utf-8")
        started.append(start(folder, tmp_path / "shelf", *options))
        return started[-1]

    yield run
    for one in started:
        stop(one)


class Pool:
    """One workbench for many tests that change the job: before each, the demo job is put back by a text editor.

    A tab of its own looks on: only what it shows is known to have been taken in.
    """

    def __init__(self, base: Path, browser: Any) -> None:
        self.base, self.browser, self.count = base, browser, 0
        self.running: Running | None = None
        self.page: Any = None

    def fresh(self) -> Running:
        if self.running is None or self.running.process.poll() is not None or not self._reset():
            self.close()
            self.count += 1
            self.running = start(demo(self.base / f"job-{self.count}"), self.base / "shelf")
            self.page = let_in(self.browser.new_context()).new_page()
            self.page.goto(self.running.url + "/survey/job")
            assert self._reset()
        assert self.running is not None
        return self.running

    def _reset(self) -> bool:
        """Whether the job is as it was, saved, and nothing of the last test is left to be said."""
        assert self.running is not None
        rest = "document.querySelector('.state')?.textContent.startsWith('saved')"
        self.count += 1
        title = f"Night-round delivery van {self.count}"
        told = f"document.querySelector('.title').textContent === '{title}'"
        try:
            self.page.wait_for_function(rest, timeout=60_000)
            text = DEMO.read_text(encoding="utf-8").replace("Night-round delivery van", title, 1)
            (self.running.folder / "job.toml").write_text(text, encoding="utf-8")
            self.page.wait_for_function(f"{told} && {rest}", timeout=60_000)
            return not self.page.locator(".alarm").count()
        except PlaywrightError:
            return False

    def close(self) -> None:
        if self.page is not None:
            self.page.context.close()
        if self.running is not None:
            stop(self.running)
        self.page = self.running = None


@pytest.fixture(scope="session")
def _pool(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Iterator[Pool]:
    pool = Pool(tmp_path_factory.mktemp("lent"), chromium)
    yield pool
    pool.close()


@pytest.fixture
def lent(_pool: Pool) -> Running:
    """A workbench of the demo job, which may be changed; the process and its undo history are not new."""
    return _pool.fresh()


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A workbench of the demo job for tests that leave the job as it is."""
    base = tmp_path_factory.mktemp("shared")
    running = start(demo(base / "job"), base / "shelf")
    yield running
    stop(running)


@pytest.fixture
def again(tmp_path: Path) -> Iterator[Callable[[Running], Running]]:
    """Starts a workbench anew on the folder of one that ended."""
    started: list[Running] = []

    def run(ended: Running, *options: str) -> Running:
        started.append(start(ended.folder, tmp_path / "shelf", *options))
        return started[-1]

    yield run
    for one in started:
        stop(one)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    if not Path(CHROMIUM).exists():
        pytest.skip("needs Debian's chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def tab(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Opens a tab; it fails where anything leaves this machine or a script goes wrong."""
    contexts: list[Any] = []
    wrong: list[str] = []

    def open_(url: str, width: int = 1440, theme: str = "light", wait: bool = True, script: str = "") -> Any:
        phone = width < 500
        context = chromium.new_context(
            viewport={"width": width, "height": 844 if phone else 900}, color_scheme=theme, is_mobile=phone,
            has_touch=phone, accept_downloads=True,
        )  # fmt: skip
        contexts.append(let_in(context))
        page = patient(context.new_page())
        page.set_default_timeout(60_000)  # a busy machine is no fault of the page
        here = ("http://127.0.0.1", "ws://127.0.0.1", "data:", "blob:")
        page.on("request", lambda r: None if r.url.startswith(here) else wrong.append(f"leaves the machine: {r.url}"))
        page.on("pageerror", lambda error: wrong.append(f"script: {error}"))
        if script:
            page.add_init_script(script)
        page.goto(url)
        if wait:
            page.wait_for_function(
                "document.querySelector('.seal') && /OK|Caution|Stop/.test(document.querySelector('.seal').textContent)"
            )
        return page

    yield open_
    for context in contexts:
        context.close()
    assert not wrong, wrong
