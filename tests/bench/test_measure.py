"""Measure: tap the picture and type, tables with rows, the verdict beside the field, what is unread."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench.waiting import go, until

WIDTHS = pytest.mark.parametrize("width", [1440, 390])


@WIDTHS
def test_a_fixing_is_tapped_and_typed_and_taken_back(lent: Any, tab: Callable[..., Any], width: int) -> None:
    before = lent.text
    page = tab(lent.url + "/survey/opening/0", width)
    page.wait_for_selector("[data-spot='fixings.1']")
    sizes = page.locator(".spot").evaluate_all("all => all.map(a => [a.offsetWidth, a.offsetHeight])")
    assert len(sizes) >= 8
    assert min(min(one) for one in sizes) >= 44, "for a thumb"
    apart(page)
    assert {"⌀ 143.5 hole", "⌀ 182 flange", "⌀ 5.5 fixing", "58 deep"} <= set(_words(page)), "what each number is"
    named = page.locator("[data-spot='fixings.1']").get_attribute("aria-label")
    assert named == "Fixing 2, rivet nut: diameter 5.5 mm"
    page.locator("[data-spot='fixings.1']").click()
    page.wait_for_function("document.activeElement.id === 'ef-opening-0-fixings-1-hole'")  # whose number it shows
    page.locator("#ef-opening-0-fixings-1-x").focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("-60 mm")
    said = ".said-beside:has-text('Least certain now')"
    page.wait_for_selector(said)
    assert "→" in page.locator(said).inner_text() or "mm" in page.locator(said).inner_text()
    box = page.locator(said).bounding_box()
    assert 0 < box["y"] < page.viewport_size["height"] - box["height"], "the verdict is in view while one types"
    assert lent.text == before, "tried, not entered"
    picture, panel = (page.locator(at).bounding_box() for at in (".spots", ".verdict-beside"))
    assert picture["y"] >= 0
    assert picture["y"] + picture["height"] <= panel["y"], "the panel covers nothing of the picture"
    found = Axe().run(page).response["violations"]
    assert not [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")]
    page.locator("#ef-opening-0-fixings-1-x").focus()
    page.keyboard.press("Enter")
    until(lambda: '"-60 mm"' in lent.text)
    page.get_by_role("button", name="Undo").click()
    until(lambda: lent.text == before)


def apart(page: Any) -> None:
    """No target on the picture lies over another, and no word of it is smaller than 11 px."""
    boxes = page.locator(".spot").evaluate_all(
        "all => all.map(a => [a.offsetLeft, a.offsetTop, a.offsetWidth, a.offsetHeight, a.dataset.spot])"
    )
    over = [
        (a[4], b[4]) for a, b in combinations(boxes, 2)
        if abs(a[0] - b[0]) < (a[2] + b[2]) / 2 - 1 and abs(a[1] - b[1]) < (a[3] + b[3]) / 2 - 1
    ]  # fmt: skip
    assert not over
    sizes = page.locator(".spot :is(b, small)").evaluate_all(
        "all => all.map(a => parseFloat(getComputedStyle(a).fontSize))"
    )
    assert min(sizes) >= 11


def _words(page: Any) -> list[str]:
    return [one.replace("\n", " ") for one in page.locator(".spot").all_inner_texts()]


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (390, 844)])
def test_the_first_screen(shared: Any, tab: Callable[..., Any], width: int, height: int) -> None:
    """The tables of the job are one row; the picture is on the first screen, beside it the first table, which is whole."""
    page = tab(shared.url + "/survey/opening/0", width)
    page.set_viewport_size({"width": width, "height": height})
    page.reload()
    page.wait_for_selector("#f-opening-0-behind-0-clear")
    page.wait_for_selector("[data-spot='fixings.1']")
    tops = page.locator("nav[aria-label='Tables of the job'] > .chooser:first-child > *").evaluate_all(
        "all => all.map(a => a.offsetTop)"
    )
    assert len(tops) >= 8
    assert len(set(tops)) == 1, "one row"
    picture = page.locator(".spots").bounding_box()
    assert picture["y"] + picture["height"] < height
    if width > 1000:
        assert page.locator("#f-opening-0-behind-0-clear").bounding_box()["y"] < height - 44
        cut = page.locator(".rows-table .scroll").evaluate_all(
            "all => all.filter(a => a.scrollWidth > a.clientWidth + 1).length"
        )
        assert cut == 0
    page.get_by_role("button", name="Half section").click()
    page.wait_for_selector("[data-spot='trim.land']")
    apart(page)
    for place in ("opening/1", "opening/2", "speaker/0", "speaker/1"):
        go(page, f"/survey/{place}")
        page.wait_for_selector(f"[id='f-{place.replace('/', '-')}-id']")
        page.wait_for_selector(".spot")
        apart(page)
    page.get_by_role("button", name="Supply").click()
    page.get_by_role("link", name="Loads").click()
    page.wait_for_selector("#f-load-0-id")
    assert page.get_by_role("button", name="Supply").get_attribute("aria-expanded") == "true"


def test_what_may_stand_in_a_field_is_said_as_it_is_typed_there(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url + "/survey/opening/0")
    page.locator("#f-opening-0-behind-0-clear").focus()
    page.get_by_role("button", name="What to enter").click()
    page.wait_for_selector(".verdict-beside .note:has-text('Such as 58.2 mm; 57.8 mm; 58.1 mm')")
    assert not set('[]"{}') & set(page.locator(".verdict-beside").inner_text())


@WIDTHS
def test_rows_are_added_and_deleted_where_they_stand(lent: Any, tab: Callable[..., Any], width: int) -> None:
    before = lent.text
    page = tab(lent.url + "/survey/opening/0", width)
    more = page.get_by_role("button", name="+ reading").first
    more.scroll_into_view_if_needed()
    more.focus()
    at = page.evaluate("scrollY")
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.id === 'f-opening-0-behind-9-radius'")
    assert abs(page.evaluate("scrollY") - at) < 60, "the page stays where the hand is"
    page.keyboard.type("50 mm")
    page.keyboard.press("Tab")
    page.keyboard.type("61 mm")
    page.keyboard.press("Tab")
    until(lambda: '{ radius = "50 mm", clear = "61 mm" }' in lent.text)
    at = page.evaluate("scrollY")
    angle = page.locator("#f-opening-0-behind-9-angle")
    angle.fill("4 o'clock")
    angle.press("Enter")
    until(lambda: "4 o'clock" in lent.text)
    page.get_by_role("button", name="Delete reading 10").click()
    until(lambda: lent.text.replace("\n", "") == before.replace("\n", ""))
    assert abs(page.evaluate("scrollY") - at) < 60


def test_a_row_that_cannot_stand_is_said_in_its_cell(lent: Any, tab: Callable[..., Any]) -> None:
    before = lent.text
    page = tab(lent.url + "/survey/opening/0")
    page.get_by_role("button", name="+ fixing").first.click()
    for key, value in (("x", "3 mm"), ("hole", "5 mm")):
        page.locator(f"#f-opening-0-fixings-3-{key}").fill(value)
        page.locator(f"#f-opening-0-fixings-3-{key}").press("Enter")
    page.wait_for_selector("#f-opening-0-fixings-3-hole-note[role=alert]:has-text('x or y alone')")
    assert lent.text == before
    page.locator("#f-opening-0-fixings-3-y").fill("-60")  # plain: mm
    page.locator("#f-opening-0-fixings-3-y").press("Enter")
    until(lambda: 'x = "3 mm", hole = "5 mm", y = "-60 mm"' in lent.text)


def test_no_value_is_typed_as_code(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url)
    for place, wait in (
        ("opening/2", "#f-opening-2-flange-outline-3-0"), ("speaker/1", "#f-speaker-1-front-moving"),
        ("stage/2", "#f-stage-2-path-0-filters"), ("seat/0", "#f-seat-0-ear-2"), ("box/0", "#f-box-0-volume"),
    ):  # fmt: skip
        go(page, f"/survey/{place}")
        page.wait_for_selector(wait)
        page.wait_for_function("at => document.querySelector(at).value", arg=wait)
        values = page.locator("main input").evaluate_all("all => all.map(a => a.value)")
        assert not [v for v in values if v[:1] in ("[", "{")], place


def test_an_outline_begins_with_three_points(lent: Any, tab: Callable[..., Any]) -> None:
    page = tab(lent.url + "/survey/speaker/0")
    page.get_by_role("button", name="Add frame outline").click()
    for n, (x, y) in enumerate((("-80", "0"), ("0", "3 in"), ("80", "0"))):
        page.get_by_role("button", name="+ point").last.click()
        page.wait_for_function("at => document.activeElement.id === at", arg=f"f-speaker-0-frame_outline-{n}-0")
        page.keyboard.type(x)
        page.keyboard.press("Tab")
        page.keyboard.type(y)
        page.keyboard.press("Tab")
        page.wait_for_timeout(700)
    until(lambda: "frame_outline" in lent.text)
    assert "76.2" in lent.text, "an inch is 25.4 mm"


@WIDTHS
def test_what_was_not_measured_is_seen_and_measured_there(lent: Any, tab: Callable[..., Any], width: int) -> None:
    page = tab(lent.url + "/survey/opening/0", width)
    page.get_by_role("button", name="Right", exact=True).click()
    page.get_by_role("button", name="Half", exact=True).click()
    page.wait_for_selector(".unread-words:has-text('Hatched: not measured all round with the window half')")
    page.locator(".spot.unread").click()
    page.wait_for_function("document.activeElement.id === 'ef-opening-0-right-behind-2-radius'")
    page.keyboard.type("0 mm")
    page.keyboard.press("Tab")
    page.locator("#ef-opening-0-right-behind-2-clear").fill("60 mm")
    page.locator("#ef-opening-0-right-behind-2-clear").press("Enter")
    until(lambda: 'window = "half", radius = "0 mm", clear = "60 mm"' in lent.text)
    page.wait_for_selector(".unread-words:has-text('Measured all round with the window half')")


def test_tables_of_later_stages_wait_and_references_are_chosen(
    bench: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    running = bench(
        text=lambda text: text[: text.index("[[speaker]]")] + '[[speaker]]\nid = "one"\ncutout = "141 mm"\n'
    )
    page = tab(running.url + "/survey/opening/0", wait=False)
    page.wait_for_selector(".guide .step")
    chips = page.locator("nav[aria-label='Tables of the job'] .chip:visible").all_inner_texts()
    assert "Adapters" in chips
    assert chips[:3] == ["Openings", "Speakers", "Adapters"], "what is fitted stands first"
    assert not {"Loads", "Plugs", "Supply", "Wires", "Recordings"} & set(chips)
    assert not page.get_by_role("link", name="Loads").is_visible()
    page.get_by_role("button", name="Later stages").click()
    page.get_by_role("link", name="Loads").wait_for()
    marks = page.locator(".guide .step").all_inner_texts()
    assert marks[0].startswith("✓ Hole")
    go(page, "/survey/adapter/0")
    page.wait_for_selector("#f-adapter-0-speaker")
    assert page.locator("#f-adapter-0-speaker option").all_inner_texts()[1:] == ["one"]


def test_distances_place_the_fixings_and_a_slip_is_named(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    apart, edge = "139.4 mm", "6 mm"
    rows = [("1", "2"), ("2", "3"), ("1", "3")]
    told = [f'{{ from = "fixing {a}", to = "fixing {b}", centre = "{apart}" }}' for a, b in rows]
    told += [f'{{ from = "fixing {n}", to = "hole edge", edge = "{edge}" }}' for n in (1, 2, 3)]
    fixings = ", ".join(f'{{ angle = "{hour} o\'clock", hole = "5.5 mm" }}' for hour in (12, 8, 4))

    def placed(text: str) -> str:
        start, end = text.index("fixings = ["), text.index("behind  = [")
        return f"{text[:start]}fixings = [{fixings}]\ndistances = [{', '.join(told)}]\n{text[end:]}"

    running = bench(text=placed)
    page = tab(running.url + "/survey/opening/0")
    page.wait_for_selector(".placed-words:has-text('6 distances place the fixings')")
    words = page.locator(".placed-words").inner_text()
    assert "; fixing 1 y 80.5 mm; fixing 2 x -69.7 mm; " in words, words
    assert page.locator("[data-spot^='fixings.']").count() == 3
    assert page.locator("#f-opening-0-distances-0-to option").all_inner_texts()[1:4] == [
        "fixing 1",
        "fixing 2",
        "fixing 3",
    ]
    page.locator("#f-opening-0-distances-1-centre").fill("149.4 mm")
    page.locator("#f-opening-0-distances-1-centre").press("Enter")
    page.wait_for_selector(".placed-words:has-text('One of these distances is wrong')")
    page.get_by_role("button", name="Delete distance 2").click()
    page.wait_for_selector(".placed-words:has-text('5 distances place the fixings')")


def test_a_way_to_the_other_side_shows_that_side_in_the_picture(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url + "/survey/opening/0#f-opening-0-right-behind")
    page.wait_for_function("document.activeElement.id === 'f-opening-0-right-behind'")
    page.wait_for_selector(".picture-ways .chip.here:has-text('Right')")


def test_the_number_that_was_tapped_is_selected_in_its_field(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url + "/survey/opening/0")
    selected = (
        "(({ value, selectionStart: from, selectionEnd: end }) => value.slice(from, end))(document.activeElement)"
    )
    for view, spot in (("Front", "behind.1"), ("Half section", "behind")):
        page.locator(".picture-ways .chip", has_text=view).click()
        tapped = page.locator(f"[data-spot='{spot}']")
        number = tapped.inner_text().splitlines()[0].split()[0]
        tapped.click()
        page.wait_for_function("/^ef-.*-clear$/.test(document.activeElement.id)")
        assert page.evaluate(selected) == page.evaluate("document.activeElement.value")
        assert number.removesuffix(".0") in page.evaluate(selected)
