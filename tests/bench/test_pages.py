"""The workbench in Debian's Chromium: what a person does, and what the page must never do."""

from __future__ import annotations

import re
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench.waiting import until

PLACES = ("/", "/survey", "/survey/speaker/0", "/section", "/face", "/part", "/sound", "/why/fit.glass@front-door.left")


@pytest.mark.parametrize(("width", "theme"), [(1440, "dark"), (390, "light")])
def test_every_place_is_whole(shared: Any, tab: Callable[..., Any], width: int, theme: str) -> None:
    """No sideways scrolling; axe-core (WCAG 2.1 AA rules among them) finds nothing serious."""
    from axe_playwright_python.sync_playwright import Axe

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
    page.wait_for_selector("text=chosen for you")
    until(lambda: running.text == before)


def test_a_table_that_is_not_there_goes_in_when_it_is_whole(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/survey/adapter/0")
    page.get_by_role("button", name="+ Collar").click()
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
    other.wait_for_selector("text=chosen for you")
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


def test_from_an_empty_folder_to_the_files(bench: Callable[..., Any], tab: Callable[..., Any], tmp_path: Path) -> None:
    """The whole path a new person takes, counted: seven fields and four clicks."""
    running = bench(empty=True)
    page = tab(running.url, wait=False)
    fields = clicks = 0
    for name, value in {
        "title": "Night round", "hole": "143.5 mm", "behind": "62 mm", "trim": "40 mm", "cutout": "141 mm", "magnet": "92 mm",
        "depth": "60 mm",
    }.items():  # fmt: skip
        page.locator(f"#new-{name}").fill(value)
        fields += 1
    page.get_by_role("button", name="Start the job").click()
    clicks += 1
    page.wait_for_selector("text=section")
    page.get_by_role("link", name="Part").click()
    clicks += 1
    page.wait_for_selector("text=Built, as the job is now.", timeout=60_000)
    for words, ending in (("3MF", ".3mf"), ("1:1 paper template", ".pdf")):
        with page.expect_download() as waiting:
            page.get_by_role("link", name=re.compile(words)).click()
        clicks += 1
        path = tmp_path / f"file{ending}"
        waiting.value.save_as(path)
        assert path.stat().st_size > 2000
    assert path.read_bytes().startswith(b"%PDF")
    assert (fields, clicks) == (7, 4)


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
