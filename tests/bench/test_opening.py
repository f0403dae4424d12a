"""One opening, one page: the picture, its verdict and what moves it on one screen, and nothing moves when it is saved."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from bench.waiting import until

VIEWS = {
    "section": ("#thickness", ".picture > svg"),
    "face": (".turning", ".picture > svg"),
    "part": (".sides", ".solid"),
}
# Every text of the drawing: how large it is on the screen, and where.
TEXTS = """() => [...document.querySelectorAll('.picture > svg text')].map(one => {
  const box = one.getBoundingClientRect(), shrunk = one.ownerSVGElement.getScreenCTM().a;
  return [one.textContent, parseFloat(getComputedStyle(one).fontSize) * shrunk, box.left, box.top, box.right, box.bottom];
})"""
BOXES = """() => ['.top', '.seal', '.places', '.views', '.plate', '.picture > svg', '#thickness', '.auto', '.tools > :last-child'].map(one => {
  const box = document.querySelector(one).getBoundingClientRect();
  return [one, Math.round(box.x), Math.round(box.y), Math.round(box.height)];
})"""


@pytest.mark.parametrize("width", [1440, 390])
def test_picture_control_and_verdict_fit_on_one_screen(shared: Any, tab: Callable[..., Any], width: int) -> None:
    page = tab(shared.url + "/section/front-door.right", width)
    floor = page.viewport_size["height"] - (62 if width < 760 else 0)  # above the phone's bar
    for view, (control, picture) in VIEWS.items():
        page.goto(f"{shared.url}/{view}/front-door.right")
        page.wait_for_selector(".plate:not(:empty)")
        for part in (".views", ".plate", control, picture):
            box = page.locator(part).bounding_box()
            inside = box["x"] >= -12 and box["x"] + box["width"] <= width + 12 and box["y"] >= 58 and box["height"] > 40
            assert inside, (view, part, box)
            assert box["y"] + box["height"] <= floor, (view, part, box)
        texts = page.evaluate(TEXTS)
        assert len(texts) > 10 or view == "part"
        small = [(text, size) for text, size, *_ in texts if size < 11]
        assert not small, (view, small)
        for n, (text, _, left, top, right, bottom) in enumerate(texts):
            assert left >= 0, text
            assert right <= width, text
            assert bottom <= floor, text
            over = [
                o[0] for o in texts[n + 1 :] if left < o[4] and o[2] < right and top + 3 < o[5] and o[3] < bottom - 3
            ]
            assert not over, (view, text, over)


def test_nothing_moves_when_it_is_saved(lent: Any, tab: Callable[..., Any]) -> None:
    for width in (1440, 390):
        page = tab(lent.url + "/section", width)
        page.wait_for_function("document.querySelector('.state').textContent === 'saved'")
        seen = [page.evaluate(BOXES)]
        until(
            lambda page=page, seen=seen: seen.append(page.evaluate(BOXES)) or (len(seen) > 9 and seen[-1] == seen[-9])
        )  # at rest
        before, text = seen[-1], lent.text
        page.locator("#thickness").focus()
        page.keyboard.press("ArrowRight")
        seen = [page.evaluate(BOXES)]
        until(lambda was=text: lent.text != was)
        seen.append(page.evaluate(BOXES))
        page.wait_for_function("document.querySelector('.state').textContent === 'saved'")
        seen.append(page.evaluate(BOXES))
        assert not [(a, b) for one in seen for a, b in zip(before, one) if a != b]


def test_a_view_keeps_the_opening_and_the_bar_leads_back_to_it(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url + "/section/front-door.right")
    views = page.locator(".views")
    views.get_by_role("link", name="Front").click()
    page.wait_for_url("**/face/front-door.right")
    page.locator(".chooser").get_by_role("link", name="Cargo wall").click()
    page.wait_for_url("**/face/cargo-wall")
    views.get_by_role("link", name="Part").click()
    page.wait_for_url("**/part/cargo-wall")
    page.locator(".places").get_by_role("link", name="Job").click()
    page.wait_for_selector(".picture svg")
    page.locator(".places").get_by_role("link", name="Cargo wall").click()
    page.wait_for_url("**/part/cargo-wall")


def test_the_phones_bar_has_five_and_the_rest_behind_more(shared: Any, tab: Callable[..., Any]) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = tab(shared.url + "/section/front-door.left", 390)
    bar = page.locator(".places .way:visible")
    assert [one.strip() for one in bar.all_inner_texts()] == ["Job", "Measure", "Front door, left", "To do", "More"]
    more = page.get_by_role("button", name="More")
    more.click()
    assert [one.strip() for one in bar.all_inner_texts()][3:] == ["Sound", "Wires", "To do", "Proof", "More"]
    bad = [v["id"] for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not bad
    page.keyboard.press("Escape")
    assert bar.count() == 5
    assert more.get_attribute("aria-expanded") == "false"
    more.press("Enter")
    page.get_by_role("link", name="Proof").click()  # the second tap
    page.wait_for_url("**/proof")
    until(lambda: bar.count() == 5)
    page.get_by_role("link", name="To do").click()  # the first
    page.wait_for_url("**/work")
    page.wait_for_selector(".places .way.here")
    assert [one.strip() for one in bar.all_inner_texts()] == ["Job", "Measure", "Front door, left", "To do", "More"]


def test_a_width_remembered_from_another_window_is_put_right_when_the_page_connects(
    shared: Any, tab: Callable[..., Any]
) -> None:
    at, shape = (
        shared.url + "/section/front-door.left",
        "document.querySelector('main .picture svg')?.getAttribute('viewBox')",
    )
    page = tab(at, 1440)
    page.wait_for_function(shape)
    desk = page.evaluate(shape)
    page = tab(at, 390)
    page.context.add_cookies([{"name": "backwave-width", "value": "1440", "url": shared.url}])
    page.goto(at)
    page.wait_for_function(f"{shape} && {shape} !== '{desk}'")
    assert "backwave-width=390" in page.evaluate("document.cookie")
