"""Proof: before, after and predicted; what the reading teaches; settings that go into the job and out of it again."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench.conftest import Running, demo, start, stop
from bench.waiting import until

from backwave.cli.demo import record
from backwave.job import load


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A workbench of the demo job with the recordings that `backwave demo` makes."""
    base = tmp_path_factory.mktemp("proof")
    folder = demo(base / "job")
    record(folder, load(folder))
    running = start(folder, base / "shelf")
    yield running
    stop(running)


def test_before_after_predicted_then_learned_then_set(heard: Running, tab: Callable[..., Any]) -> None:
    page = tab(heard.url + "/proof")
    before = heard.text
    page.wait_for_selector("svg[aria-label*='Before, after and predicted']", timeout=60_000)
    rows = page.locator("table").first.inner_text()
    assert "mid-bass, 60 to 250 Hz" in rows
    assert "none (±" in rows
    assert "+7" in rows or "+6" in rows  # the treble of new tweeters
    page.get_by_role("button", name="Distortion", exact=True).click()
    page.wait_for_selector("svg[aria-label*='Distortion at the driver seat']")

    page.get_by_role("button", name="Learn from it").click()
    page.wait_for_selector("text=which it has not seen:", timeout=120_000)
    page.get_by_role("button", name="Before, after, predicted").click()
    page.wait_for_function(
        "document.querySelector('#plot-0').getAttribute('aria-valuetext').includes('having learned')"
    )
    assert heard.text == before, "nothing on disk before it is kept"

    page.get_by_role("button", name="Work out the settings").click()
    page.wait_for_selector("svg[aria-label*='left: toward the target']", timeout=120_000)
    page.get_by_role("button", name="right", exact=True).click()
    page.wait_for_selector("svg[aria-label*='right: toward the target']")
    bad = [v["id"] for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not bad, bad
    page.get_by_role("button", name="Keep it in the job").last.click()
    until(lambda: "kept = [" in heard.text)
    stage = next(s for s in tomllib.loads(heard.text)["stage"] if s["id"] == "subwoofer")
    assert any(f.startswith("peak") for f in stage["path"][0]["filters"])
    page.wait_for_selector("text=was recorded before its settings", timeout=120_000)
    page.get_by_role("button", name=re.compile("Undo")).click()
    until(lambda: heard.text == before)


def test_on_a_phone_and_with_a_recording_that_is_gone(heard: Running, tab: Callable[..., Any]) -> None:
    gone = heard.folder / "readings" / "computed-after-2.flac"
    kept = gone.read_bytes()
    gone.unlink()
    page = tab(heard.url + "/proof", width=390)
    page.wait_for_selector("svg[aria-label*='Before, after and predicted']", timeout=60_000)
    page.get_by_role("button", name="Read them again").click()
    page.wait_for_selector("text=cannot be used", timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    gone.write_bytes(kept)
    page.get_by_role("button", name="Read them again").click()
    page.wait_for_selector("text=cannot be used", state="detached", timeout=60_000)


def test_a_job_without_readings_says_how(lent: Running, tab: Callable[..., Any]) -> None:
    text = lent.text
    (lent.folder / "job.toml").write_text(text[: text.index("[[reading]]")], encoding="utf-8")
    page = tab(lent.url + "/proof")
    page.wait_for_selector("text=Nothing is recorded yet", timeout=60_000)
    page.wait_for_selector("text=wear ear protection")
    assert page.get_by_role("link", name="Add a reading").first.is_visible()
