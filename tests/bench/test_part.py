"""Part: built beside the page, by digest; the last good one stays; stopped, begun again; every file can be had."""

from __future__ import annotations

import errno
import time
import urllib.error
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench.conftest import demo
from bench.waiting import until

from backwave.assess import assess, part_digest
from backwave.bench.solids import Solids
from backwave.job import load, loads
from backwave.workers import Ticket

BUILT = "text=Built, as the job is now."
KINDS = {"3mf": b"PK", "step": b"ISO-10303-21", "stl": b"", "dxf": b"", "template": b"%PDF", "check_ring": b"",
         "stand_in": b"", "foam": b""}  # fmt: skip


def test_built_rebuilt_and_every_file(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    running = bench()
    page = tab(running.url + "/part")
    page.get_by_role("button", name="Stop", exact=True).click()  # the first one waits for a worker: there is time
    page.wait_for_selector("text=Stopped.")
    page.get_by_role("button", name="Build it").click()
    page.wait_for_selector(BUILT, timeout=90_000)
    page.wait_for_selector(".solid canvas")
    facts = page.locator(".facts").inner_text()
    for word in ("ASA", "182.0 × 182.0", " g", " h, an estimate", "70 °C"):
        assert word in facts, facts
    links = page.locator(".files a")
    found = {
        href.rsplit("/", 1)[1]: href for href in (links.nth(n).get_attribute("href") for n in range(links.count()))
    }
    assert set(found) == set(KINDS)
    for kind, href in found.items():
        with running.ask(href) as answer:
            data = answer.read()
            assert data.startswith(KINDS[kind]), kind
            assert len(data) > 500, kind
    for side in ("Front", "Side", "Back", "Angled view"):
        page.get_by_role("button", name=side, exact=True).click()
    page.get_by_role("button", name="Assembled").click()
    page.get_by_role("button", name="Exploded").wait_for()

    shown = page.locator(".solid").get_attribute("data-shown")
    page.evaluate(  # what is seen while the next one is built, however short that is
        """() => new MutationObserver(() => {
          if (!window.seen && document.querySelector('.building').textContent.includes('What is shown is the last good one.'))
            {
              const shown = document.querySelector('.solid').dataset.shown;  // at once: the next one may follow
              setTimeout(() => {
                window.seen = window.seen || [shown, document.querySelector('.solid').dataset.shown === shown
                  ? document.querySelectorAll('.files a').length : 0];
              });
            }
        }).observe(document.querySelector('.building'), { subtree: true, childList: true, characterData: true })"""
    )
    text = running.text.replace('thickness = "auto"', 'thickness = "14 mm"', 1)
    (running.folder / "job.toml").write_text(text, encoding="utf-8")
    page.wait_for_function("window.seen")
    assert page.evaluate("window.seen") == [shown, 0], (
        "the last good one stays, and no file of a part that is not this one"
    )
    page.wait_for_selector(BUILT, timeout=90_000)
    assert "182.0 × 182.0 × 14.0" in page.locator(".facts").inner_text()
    assert page.locator(".solid").get_attribute("data-shown") != shown
    with pytest.raises(urllib.error.HTTPError) as refused:
        running.ask(f"/made/{'0' * 64}/stl")
    refused.value.close()


@pytest.mark.kernel
def test_what_was_overtaken_is_dropped(tmp_path: Path) -> None:
    """Three edits one after another: the last is built, nothing is told of the others, and it is not built twice."""
    folder = demo(tmp_path / "job")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    told: list[float] = []
    solids = Solids(tmp_path / "cache", lambda: told.append(time.monotonic()))
    try:
        for thickness in ("11 mm", "12 mm", "13 mm"):
            job = loads(text.replace('thickness = "auto"', f'thickness = "{thickness}"', 1), folder)
            result = assess(job, draws=2_000)
            part = next(p for p in result.parts if p.subject == "front-door.left")
            solids.wanted(result.parts, result.title, result.show)
            solids.ask(part.id)
        good, fresh, _, wrong = until(lambda: (s := solids.state(part.id)) and s[1] and s, 90)
        assert (fresh, wrong) == (True, "")
        assert good.digest == str(part_digest(part))
        assert good.made.facts.bounds_mm[2] == pytest.approx(13.0, abs=0.01)
        assert told, "the page was told"
        assert [p.name for p in (tmp_path / "cache").iterdir() if any(p.glob("*.3mf"))] == [good.digest[:24]]
        assert solids.file(good.digest, "../../job.toml") is None
        assert part.id in solids.kept()
        stamps = {p: p.stat().st_mtime_ns for p in (tmp_path / "cache").rglob("*") if p.is_file()}
        solids.wanted(result.parts, result.title, result.show)
        solids.ask(part.id, again=True)
        assert solids.state(part.id)[2] is None, "nothing is under way"
        assert stamps == {p: p.stat().st_mtime_ns for p in (tmp_path / "cache").rglob("*") if p.is_file()}
    finally:
        solids.close()


def test_what_kept_a_part_from_being_built_is_said(tmp_path: Path) -> None:
    """A full disk or a folder that cannot be made is a reason, not silence."""
    part = next(p for p in assess(load(demo(tmp_path / "job")), draws=2_000).parts if p.subject == "cargo-wall")
    (tmp_path / "cache").write_text("a file where the folder should be", encoding="utf-8")
    told: list[bool] = []
    solids = Solids(tmp_path / "cache", lambda: told.append(True))
    try:
        solids.wanted([part], "A job", "metric")
        solids.ask(part.id)
        assert "a folder is wanted" in solids.state(part.id)[3] or "is there already" in solids.state(part.id)[3]
        for wrong, words in (
            (OSError(errno.ENOSPC, "No space left on device", "part.stl"), "no room left on the disk for part.stl"),
            (ZeroDivisionError("division by zero"), "a fault of the program (ZeroDivisionError"),
        ):
            ticket = Ticket(part_digest(part), part.id)
            ticket._fail(wrong)
            solids._done(part.id, part_digest(part), tmp_path, ticket)
            assert words in solids.state(part.id)[3]
        assert len(told) == 2
    finally:
        solids.close()


def test_a_stopped_part_is_not_offered_until_a_reason_is_given(
    bench: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    running = bench()
    text = running.text.replace('clear = "74 mm"', 'clear = "30 mm"', 1)
    assert text != running.text
    (running.folder / "job.toml").write_text(text, encoding="utf-8")
    page = tab(running.url + "/part/cargo-wall")
    page.wait_for_selector('.alarm:has-text("Stopped")', timeout=30_000)
    page.wait_for_selector('.building:has-text("Stopped: the part is not made")', timeout=90_000)
    offered = page.locator(".files").inner_text()
    assert "Test ring" in offered
    assert "Dummy" in offered
    assert "STEP" not in offered
    page.fill('input[name="reason"]', "a display piece")
    page.get_by_role("button", name="Make it anyway").click()
    page.wait_for_selector('.building:has-text("STOPPED: made anyway: a display piece")', timeout=90_000)
    page.wait_for_selector('.files a:has-text("STEP")', timeout=30_000)
    assert "STOPPED-made-anyway" in (page.locator('.files a:has-text("STEP")').get_attribute("download") or "")
    assert "a display piece" in (running.folder / "log.toml").read_text(encoding="utf-8")
    assert (running.folder / "job.toml").read_text(encoding="utf-8") == text
