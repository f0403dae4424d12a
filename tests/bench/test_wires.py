"""Wires in the workbench: every part whole on a phone, nothing read before its gate, voltages behind theirs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from bench.waiting import until

PARTS = {
    "/wires": "What it draws",
    "/wires/harness": "hides series C 4.7 uF",
    "/wires/lists": "hinge boot",
    "/wires/factory": "nothing may be read on it yet",
    "/wires/gains": "volume 28",  # the head unit's largest clean volume, as noted
}
JUDGED = ("/wires/lists", "/wires/factory")  # by axe-core, which takes seconds


def test_every_part_is_whole_and_the_voltages_stand_behind_their_gate(shared: Any, tab: Callable[..., Any]) -> None:
    """No sideways scrolling at 390 px; axe-core finds nothing serious; what each part is for is there."""
    from axe_playwright_python.sync_playwright import Axe

    page = tab(shared.url + "/wires", 390, "light")
    for part, words in PARTS.items():
        page.goto(shared.url + part)
        page.wait_for_function("words => document.querySelector('main')?.textContent.includes(words)", arg=words)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, part
        if part in JUDGED:
            found = Axe().run(page).response["violations"]
            bad = [(v["id"], v["nodes"][0]["html"][:160]) for v in found if v["impact"] in ("serious", "critical")]
            assert not bad, (part, bad)
    assert "17.3 V" not in page.inner_text("main")
    boxes = page.locator("label.gate input")
    assert boxes.count() % 4 == 0
    for n in range(4):  # one output's own lines, and no other's
        boxes.nth(n).check()
    page.wait_for_selector("text=17.3 V")
    assert page.inner_text("main").count("V, a ceiling") == 1


def test_nothing_is_read_on_a_pair_before_all_of_its_gate(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    running = bench()
    page = tab(running.url + "/wires/factory")
    pair = page.locator("#pair-3")
    pair.locator("text=nothing may be read on it yet").wait_for()
    reading = pair.locator("#pair-3-resistance")
    boxes = pair.locator("input[type=checkbox]")
    assert boxes.count() == 5
    assert not reading.is_visible()
    for n in range(5):
        assert not reading.is_visible()
        boxes.nth(n).check()
    reading.wait_for(state="visible")
    assert not pair.locator("#pair-3-cone").is_visible()  # a cell on a tweeter never
    reading.fill("open")
    reading.press("Enter")
    until(lambda: running.text.count('resistance = "open"') == 2)
    pair.locator("text=cannot tell which is plus").wait_for()

    # a no is always taken, and what was read is kept and not used
    boxes.nth(0).uncheck()
    pair.locator("text=not confirmed and not used").wait_for()
    assert not reading.is_visible()
    assert running.text.count('resistance = "open"') == 2


@pytest.mark.parametrize(
    "way",
    [
        "/wires/harness",
        "/wires/lists",
        "/wires/gains",
        "/survey/pair/0",
        "/survey/plug/0",
        "/survey/load/0",
        "/survey/factory_output/0",
    ],
)
def test_what_can_hurt_stands_where_the_hand_is(shared: Any, tab: Callable[..., Any], way: str) -> None:
    page = tab(shared.url + way)
    words = (
        "connector is closed before the battery is on"
        if "output" in way
        else "waiting time over before a wire is touched"
    )
    page.wait_for_selector(f"details.alarm summary:has-text('{words}')")
