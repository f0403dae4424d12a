"""The workbench in Debian's Chromium: what a person does, and what the page must never do."""

from __future__ import annotations

import re
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench.waiting import until

PLACES = ("/", "/survey", "/survey/speaker/0", "/section", "/face", "/part", "/sound", "/why/fit.glass@front-door.left")


@pytest.mark.parametrize(("width", "theme"), [(1440, "dark"), (390, "light")])
def test_every_place_is_whole(shared: Any, tab: Callable[..., Any], width: int, theme: str) -> None:
    """No sideways scrolling; axe-core (WCAG 2.1 AA rules among them) finds nothing serious."""
    page = tab(shared.url, width, theme)
    for place in PLACES:
        page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/")[2] + place)
        page.wait_for_selector("main :is(svg, .field, table, .facts)")
        page.wait_for_timeout(300)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, place
        small = page.evaluate(
            """[...document.querySelectorAll('button, .chip, .go, .way, .entry input, .entry select, summary')]
               .filter(e => e.offsetParent && e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 90))"""
        )
        assert not small, (place, small)
        found = Axe().run(page).response["violations"]
        bad = [(v["id"], v["nodes"][0]["html"][:160]) for v in found if v["impact"] in ("serious", "critical")]
        assert not bad, (place, bad)


def test_an_edit_shows_is_saved_with_comments_and_undone_after_a_reload(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    before = running.text
    page = tab(running.url + "/survey/adapter/0")
    field = page.locator("#f-adapter-0-thickness")
    assert field.input_value() == "auto"
    field.fill("14 mm")
    field.press("Enter")
    page.wait_for_function("document.querySelector('.state').textContent.startsWith('saved')")
    until(lambda: '"14 mm"' in running.text)
    assert "# a stick pushed in until it touches" in running.text
    page.goto(running.url + "/section")
    page.wait_for_selector("text=14.0 mm ASA adapter")
    page.get_by_role("button", name=re.compile("Undo")).click()
    page.wait_for_selector("text=Chosen for you")
    until(lambda: running.text == before)


def test_a_table_that_is_not_there_goes_in_when_it_is_whole(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/survey/adapter/0")
    page.get_by_role("button", name="Add collar").click()
    page.locator("#f-adapter-0-collar-height").fill("4 mm")
    page.locator("#f-adapter-0-collar-height").press("Enter")
    page.wait_for_selector("text=Still needed: width")
    assert "collar" not in running.text
    page.locator("#f-adapter-0-collar-width").fill("8 mm")
    page.locator("#f-adapter-0-collar-width").press("Enter")
    until(lambda: "collar" in running.text)


def test_an_outside_edit_appears_and_two_tabs_agree(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    one, other = tab(running.url + "/section"), tab(running.url + "/section", 390)
    text = running.text
    (running.folder / "job.toml").write_text(
        text.replace('thickness = "auto"', 'thickness = "15 mm"', 1), encoding="utf-8"
    )
    for page in (one, other):
        page.wait_for_selector("text=15.0 mm ASA adapter")
    (running.folder / "job.toml").write_text(
        text.replace('thickness = "auto"', "thickness = oops", 1), encoding="utf-8"
    )
    one.wait_for_selector("text=The last good job is shown")
    assert one.locator("text=15.0 mm ASA adapter").count() > 0
    (running.folder / "job.toml").write_text(text, encoding="utf-8")
    other.wait_for_selector("text=Chosen for you")
    one.wait_for_function("!document.querySelector('.alarm')")


def test_a_finding_leads_to_its_field(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url)
    page.locator(".finding", has_text="Read").get_by_text("Go there").first.click()
    page.wait_for_function(
        "document.activeElement && document.activeElement.id.startsWith('f-opening') || location.pathname.startsWith('/section')"
    )


def test_an_opening_is_duplicated_and_taken_out(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    before = running.text
    page = tab(running.url + "/survey/opening/2")
    page.get_by_role("button", name="Duplicate").click()
    page.wait_for_url("**/survey/opening/3")
    until(lambda: '"cargo-wall-2"' in running.text)
    page.get_by_role("button", name=re.compile("Undo")).click()
    until(lambda: running.text == before)


SIX = {"hole": "143.5", "behind": "62 mm", "trim": "40 mm", "cutout": "141 mm", "magnet": "3.62 in", "depth": "60 mm"}


@pytest.mark.parametrize("width", [1440, 390])
def test_from_an_empty_folder_to_the_files(
    bench: Callable[..., Any], tab: Callable[..., Any], tmp_path: Path, width: int
) -> None:
    """The whole path a new person takes, counted: six fields and two clicks; the way to begin is on the first screen."""
    running = bench(empty=True)
    page = tab(running.url, width, wait=False)
    high = page.viewport_size["height"] - (62 if width < 500 else 0)  # a phone's bar of places stands over the rest
    begin = page.get_by_role("button", name="Start the job")
    begin.wait_for()
    bad = [v["id"] for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not bad, bad
    assert begin.bounding_box()["y"] + begin.bounding_box()["height"] <= high
    assert page.locator(".six input").count() == len(SIX)
    for name, value in SIX.items():
        page.locator(f"#new-{name}").fill(value)
        page.wait_for_function(
            "high => { const lit = document.querySelectorAll('.sketch .lit'), box = lit[0]?.getBoundingClientRect();"
            " return lit.length === 1 && box.width + box.height > 20 && box.bottom <= high; }",
            arg=high,
        )
        page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.textContent === 'Start the job'")  # where Enter leads in the end
    page.wait_for_function("document.getElementById('new-hole').value === '143.5 mm'")  # a plain number is in mm
    page.wait_for_selector("text=understood: 91.9 mm")
    begin.click()
    page.wait_for_selector("text=Goes in, as far as it was measured")
    told = page.locator(".answer")
    assert re.search(r"\d mm ring of ASA, speaker screws M\d x \d+\. \d+ to check:", told.inner_text())
    if width > 500:
        return  # the files take their time: once is enough
    page.wait_for_selector("text=The part (3MF)", timeout=120_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    bad = [v["id"] for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not bad, bad
    for words, ending in (("The part", ".3mf"), ("1:1 paper", ".pdf"), ("Test ring", ".stl")):
        ring = page.get_by_role("link", name=re.compile(words))
        assert ring.bounding_box()["y"] + ring.bounding_box()["height"] <= high  # all of the answer on one screen
        with page.expect_download() as waiting:
            ring.click()
        path = tmp_path / f"file{ending}"
        waiting.value.save_as(path)
        assert path.stat().st_size > 2000
    assert (tmp_path / "file.pdf").read_bytes().startswith(b"%PDF")
    told.get_by_role("link").first.click()
    page.wait_for_function("location.pathname !== '/start'")


def test_a_first_reading_that_is_none_is_said_at_its_field(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    running = bench(empty=True)
    page = tab(running.url, 390, wait=False)
    page.locator("#new-hole").fill("wide")
    page.locator("#new-hole").press("Enter")
    page.wait_for_selector(".field.wrong >> text=not a length")
    page.locator("#new-behind").fill("-4 mm")
    page.get_by_role("button", name="Start the job").click()
    page.wait_for_function("document.querySelectorAll('.field.wrong').length === 2")
    assert not (running.folder / "job.toml").exists()


def test_no_path_leads_out_and_no_other_name_leads_in(shared: Any) -> None:
    running = shared
    for path in (
        "/made/../job.toml",
        "/made/..%2f..%2fjob.toml/step",
        "/made/x/step",
        "/fonts/../look.css",
        "/fonts/..%2f..%2fink.py",
    ):
        with pytest.raises(urllib.error.HTTPError) as refused:
            running.ask(path)
        refused.value.close()
        assert refused.value.code in (404, 405), path
    with pytest.raises(urllib.error.HTTPError) as refused:
        running.ask(Host="evil.example")
    refused.value.close()
    assert refused.value.code == 403
