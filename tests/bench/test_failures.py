"""A page that fails says so in a sentence with what to send; the frame stays, and so does everything else."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench.conftest import demo, exchanged

# A workbench in which three things fail: a place, a request of the phone's page, a whole page.
CODE = """
import sys
from pathlib import Path
from backwave.bench import serve, work_sync
from backwave.bench import page_frame
from backwave.bench.pages import fit
def broken(*_):
    raise ZeroDivisionError("division by zero")
fit.face = broken
work_sync.WorkSync.shown = broken
shell = page_frame.shell
page_frame.shell = lambda tab, routes: broken() if tab.board.folder.joinpath("break").exists() else shell(tab, routes)
serve(Path(sys.argv[1]), port=0, show=False)
"""


@pytest.fixture
def failing(tmp_path: Path) -> Iterator[tuple[str, str, Path]]:
    folder = demo(tmp_path / "job")
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")} | {"TMPDIR": str(tmp_path)}
    with subprocess.Popen(
        [sys.executable, "-c", CODE, str(folder)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=env
    ) as process:
        try:
            assert process.stdout is not None
            found = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", process.stdout.readline())
            assert found
            yield found[0].partition("/?")[0], exchanged(found[0], process), folder
        finally:
            process.kill()


def test_what_fails_says_so_and_the_rest_goes_on(failing: tuple[str, str, Path], chromium: Any) -> None:
    url, cookie, folder = failing
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    name, _, value = cookie.partition("=")
    context.add_cookies([{"name": name, "value": value, "url": url}])
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto(url + "/face")
    page.wait_for_selector("main [role=alert] >> text=This page could not be made.")
    said = page.locator("main [role=alert]").inner_text()
    assert "a fault of the program (ZeroDivisionError" in said
    assert "What to send:" in said
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator(".places a[href='/']").click()  # the frame stays
    page.wait_for_selector(".picture svg")
    answer = context.request.get(url + "/chores/list")
    assert answer.status == 500
    assert answer.text().startswith("This page could not be made. ")
    (folder / "break").touch()
    assert page.goto(url + "/wires").status == 500
    assert "This page could not be made" in page.locator("h1").inner_text()
    assert "ZeroDivisionError" in page.locator("pre").inner_text()
    assert "delivery" not in page.content()
    (folder / "break").unlink()
    page.get_by_role("link", name="Open the workbench").click()
    page.wait_for_selector(".seal")
    context.close()
