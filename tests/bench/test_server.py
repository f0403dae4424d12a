"""The workbench as a process: where it listens, what it prints, a key on the network, a kill, a rest."""

from __future__ import annotations

import http.client
import os
import re
import socket
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from bench.waiting import until

from backwave.job import loads
from tests.cli.command_line import run

OTHER = "192.168.77.5"  # an address of a private network (RFC 1918), as a phone would name this machine


def asked(url: str, path: str = "/", **head: str) -> http.client.HTTPResponse:
    at = urlsplit(url)
    wire = http.client.HTTPConnection(at.hostname or "", at.port, timeout=20)
    wire.request("GET", path, headers=head)
    answer = wire.getresponse()
    answer.read()
    wire.close()
    return answer


@pytest.mark.skipif(sys.platform != "linux", reason="all of 127.0.0.0/8 is this machine on Linux alone")
def test_it_listens_on_one_address_of_this_machine(shared: Any) -> None:
    """Bound to every address, it would answer at 127.0.0.2 too (RFC 1122, 3.2.1.3: the whole block is loopback)."""
    at = urlsplit(shared.url)
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.2", at.port), timeout=5).close()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_nothing_works_while_nothing_changes(shared: Any) -> None:
    running = shared

    def worked() -> float:
        fields = Path(f"/proc/{running.process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")  # proc(5): utime and stime

    end = time.monotonic() + 40
    while True:
        before = worked()
        time.sleep(2.0)
        if (share := (worked() - before) / 2.0) < 0.05:
            return
        assert time.monotonic() < end, f"{100 * share:.0f} % of a core, and nobody does anything"


def test_on_the_network_it_says_what_that_means_and_asks_for_the_key(bench: Callable[..., Any]) -> None:
    running = bench("--lan")
    said = ""
    while "?key=" not in said:
        line = running.process.stdout.readline()
        assert line, said
        said += line
    assert "anybody there" in said
    assert "not encrypted" in said
    key = re.search(r"\?key=(\S+)", said)[1]  # type: ignore[index]
    assert len(key) >= 20
    name = f"{OTHER}:{urlsplit(running.url).port}"
    assert asked(running.url, Host=name).status == 403
    assert asked(running.url, "/?key=" + "x" * len(key), Host=name).status == 403
    assert asked(running.url, "/_nicegui_ws/socket.io/?EIO=4&transport=polling", Host=name).status == 403
    assert asked(running.url, "/fonts/drawing-regular.ttf", Host=name).status == 403
    shown = asked(running.url, f"/?key={key}", Host=name)
    assert shown.status == 303
    assert key not in (shown.getheader("location") or "")
    cookie = (shown.getheader("set-cookie") or "").partition(";")[0]
    assert asked(running.url, Host=name, Cookie=cookie).status == 200
    assert asked(running.url, f"/?key={key}", Host=name).status == 403, "it works once"
    assert asked(running.url, Host=f"evil.example:{urlsplit(running.url).port}", Cookie=cookie).status == 403


def test_what_is_wrong_from_the_start_is_said_in_the_terminal(tmp_path: Path) -> None:
    gone = run("open", tmp_path / "nowhere", "--no-show")
    assert gone.returncode == 3
    assert "backwave new" in gone.stderr
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        one.listen()
        taken = run("open", tmp_path, "--no-show", "--port", str(one.getsockname()[1]))
    assert taken.returncode == 2
    assert "--port 0" in taken.stderr


def test_a_job_that_is_wrong_from_the_start_is_put_right_in_the_page(
    bench: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    running = bench(text=lambda text: text.replace('"0.8 mm"', '"0.8 kg"', 1).replace("[margins]", "[margin]", 1))
    said = "".join(iter(running.process.stdout.readline, "Stop it with Ctrl+C; what was changed is saved.\n"))
    assert "opening.front-door.skin" in said
    before = running.text
    page, phone = tab(running.url + "/section", wait=False), tab(running.url, 390, "dark", wait=False)
    for one in (page, phone):
        one.wait_for_selector(".problems li:nth-child(2)")
        assert one.evaluate("document.documentElement.scrollWidth <= innerWidth")
        bad = [v["id"] for v in Axe().run(one).response["violations"] if v["impact"] in ("serious", "critical")]
        assert not bad, bad
    line = 1 + before[: before.index('"0.8 kg"')].count("\n")
    page.get_by_role("button", name=f"Line {line}", exact=True).click()
    assert page.evaluate("getSelection().toString() || document.activeElement.value.slice("
                         "document.activeElement.selectionStart, document.activeElement.selectionEnd)") \
        == before.splitlines()[line - 1]  # fmt: skip
    half = before.replace('"0.8 kg"', '"0.8 mm"', 1)
    page.locator("#repair-text").fill(half)
    page.get_by_role("button", name="Save it").click()
    page.wait_for_selector("text=Not saved")
    page.wait_for_function("document.querySelectorAll('.problems li').length === 1")
    assert running.text == before
    page.reload()
    page.wait_for_selector("#repair-text")
    assert page.locator("#repair-text").input_value() == half, "what was typed outlives a reload"
    page.locator("#repair-text").fill(half.replace("[margin]", "[margins]", 1))
    page.get_by_role("button", name="Save it").click()
    for one in (page, phone):  # on to the place that was asked for
        one.wait_for_selector(".picture svg")
    page.wait_for_selector("text=The file as it was is kept as job.toml.broken-")
    kept = next(running.folder.glob("job.toml.broken-*"))
    assert kept.read_text(encoding="utf-8") == before
    loads(running.text, running.folder)


def test_killed_in_the_middle_of_an_edit_the_file_is_whole_and_undo_goes_on(
    bench: Callable[..., Any], again: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    running = bench()
    before = running.text
    page = tab(running.url + "/survey/adapter/0")
    for value in ("13 mm", "14 mm"):
        page.locator("#f-adapter-0-thickness").fill(value)
        page.locator("#f-adapter-0-thickness").press("Enter")
        page.wait_for_selector(f"text=understood: {value.replace(' ', '.0 ')}")
    page.wait_for_timeout(400)  # about when it is written
    running.process.kill()
    running.process.wait()
    loads(running.text, running.folder)
    assert running.text == before or '"13 mm"' in running.text or '"14 mm"' in running.text
    anew = again(running)
    other = tab(anew.url)
    while not other.locator("button[aria-label^=Undo]").is_disabled():
        words = other.locator("button[aria-label^=Undo]").get_attribute("aria-label")
        other.locator("button[aria-label^=Undo]").click()
        other.wait_for_function("w => document.querySelector('button[aria-label^=Undo]').ariaLabel !== w", arg=words)
    until(lambda: anew.text == before)
