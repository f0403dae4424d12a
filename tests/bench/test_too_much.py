"""A computation that does not end: the page stays usable, says what takes so long, and the next edit is answered."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FIELD = "#f-adapter-0-thickness"
# Read by the interpreter as it starts: the workbench gets a room that does not end for one thickness.
PLANTED = """
import sys, time
if sys.orig_argv[1:4] == ["-m", "backwave", "open"]:
    from backwave.part import checks
    true = checks.gaps
    def slow(spec):
        if abs(spec.thickness_mm - 12.8) < 1e-9:
            time.sleep(600)
        return true(spec)
    checks.gaps = slow
"""


def typed(page: Any, value: str) -> None:
    page.locator(FIELD).fill(value)
    page.locator(FIELD).press("Enter")


def test_a_heavy_job_blocks_neither_tab_and_is_stopped_or_overtaken(
    bench: Callable[..., Any], tab: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    planted = tmp_path / "planted"
    planted.mkdir()
    (planted / "sitecustomize.py").write_text(PLANTED, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(planted), prepend=":")
    running = bench()
    page, other = tab(running.url + "/survey/adapter/0"), tab(running.url + "/section")
    typed(page, "12.8 mm")
    for one in (page, other):  # both tabs are told
        one.wait_for_function("document.querySelector('.state').textContent.includes('the fit of Front door, left')")
    assert other.locator(".drawing svg, svg").count(), "the last good answer stands meanwhile"
    start = time.monotonic()
    other.goto(running.url + "/wires")
    other.wait_for_selector("text=Supply")
    assert time.monotonic() - start < 15.0  # 1 s on a machine with nothing else to do

    typed(page, "13 mm")
    page.wait_for_function("!document.querySelector('.state').textContent.includes('working out the fit')")
    other.goto(running.url + "/section")
    other.wait_for_function("document.querySelector('#content').textContent.includes('13.0 mm ASA adapter')")

    typed(page, "12.8 mm")
    page.wait_for_function("document.querySelector('.state').textContent.includes('the fit of Front door, left')")
    page.get_by_role("button", name="■ Stop").click()
    page.wait_for_selector(".alarm:has-text('Stopped.')")
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function("!document.querySelector('.alarm')")
    other.wait_for_function("document.querySelector('#content').textContent.includes('13.0 mm ASA adapter')")
