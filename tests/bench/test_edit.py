"""Edits: by keyboard alone, against the file in two hands, refused at the field, with a stop on the way."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from bench.waiting import go, until

AUTO = 'thickness = "auto"'
FIELD = "#f-adapter-0-thickness"
ASKED = "text=Nothing is lost; which one goes into the job?"
STATE = "document.querySelector('.state').textContent.startsWith('saved')"


def write(running: Any, text: str) -> None:
    (running.folder / "job.toml").write_text(text, encoding="utf-8")


def typed(page: Any, value: str, field: str = FIELD) -> None:
    page.locator(field).fill(value)
    page.locator(field).press("Enter")


def kept(running: Any) -> str:
    """What stands in every version that was put aside."""
    return "".join(p.read_text(encoding="utf-8") for p in running.folder.glob("job.toml.*"))


def test_a_clash_asks_and_loses_neither(lent: Any, tab: Callable[..., Any]) -> None:
    page, phone = tab(lent.url + "/survey/adapter/0"), tab(lent.url + "/", 390)
    asked = "text=Nothing is lost; which one goes into the job?"
    text = lent.text
    # Typed while the file is broken, so that no save comes between; whichever of the two comes in first, it is asked.
    write(lent, text + "\nbroken = = 1\n")
    page.wait_for_selector("text=The last good job is shown")
    typed(page, "14 mm")
    write(lent, text.replace(AUTO, 'thickness = "15 mm"', 1))
    page.wait_for_selector(".clash td:has-text('15 mm')")
    assert page.locator(".clash tbody tr").inner_text().split("\t")[1:] == ["14 mm", "15 mm"]
    phone.wait_for_selector(asked)
    phone.evaluate("scrollTo(0, document.body.scrollHeight)")
    box = phone.get_by_role("button", name="Keep the file").bounding_box()
    assert 0 < box["y"] < 780, "it is asked wherever the page stands"
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert '"15 mm"' in lent.text, "nothing is written over it"
    page.get_by_role("button", name="Keep the file").click()
    page.wait_for_selector("text=The other version is kept as")
    page.wait_for_function(f"document.querySelector('{FIELD}').value === '15 mm'")
    assert 'thickness = "15 mm"' in lent.text
    assert 'thickness = "14 mm"' in kept(lent)

    # Typed over what was seen, entered after the file has another value.
    page.locator(FIELD).fill("16 mm")
    write(lent, text.replace(AUTO, 'thickness = "17 mm"', 1))
    page.wait_for_selector("text=understood: 17.0 mm")
    assert page.locator(FIELD).input_value() == "16 mm", "what is being typed stays"
    page.locator(FIELD).press("Enter")
    page.wait_for_selector(asked)
    assert '"17 mm"' in lent.text
    page.get_by_role("button", name="Keep what was done here").click()
    until(lambda: 'thickness = "16 mm"' in lent.text)
    assert 'thickness = "17 mm"' in kept(lent)
    typed(page, "auto")
    page.wait_for_function("!document.querySelector('.alarm')")


def test_edits_of_different_keys_go_together(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    text = running.text
    page = tab(running.url + "/survey/adapter/0")
    write(running, text + "\nbroken = = 1\n")
    page.wait_for_selector("text=The last good job is shown")
    typed(page, "14 mm")
    write(running, text.replace('grille = "3 mm"', 'grille = "4 mm"'))
    page.wait_for_function("!document.querySelector('.alarm')")
    until(lambda: '"14 mm"' in running.text and 'grille = "4 mm"' in running.text)


def test_by_keyboard_alone(lent: Any, tab: Callable[..., Any]) -> None:
    """From the top of the page to a place, to a field, typed, undone; no pointer."""
    running = lent
    before = running.text
    page = tab(running.url)

    def tab_to(where: str, most: int = 120) -> None:
        for _ in range(most):
            page.keyboard.press("Tab")
            if page.evaluate(f"document.activeElement?.matches({where!r})"):
                ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert ring != "none", "what has the focus is seen"
                return
        raise AssertionError(f"{where} is not reached by keyboard")

    tab_to(".way[href='/survey']")
    page.keyboard.press("Enter")
    page.wait_for_selector("#f-opening-0-hole-diameter")
    tab_to("#f-opening-0-hole-diameter")
    page.keyboard.press("Control+a")
    page.keyboard.type("143 mm")
    page.keyboard.press("Tab")
    until(lambda: 'diameter = "143 mm"' in running.text)
    page.wait_for_selector("text=understood: 143.0 mm")
    page.keyboard.press("Escape")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Control+z")
    until(lambda: running.text == before)
    page.keyboard.press("Control+Shift+z")
    until(lambda: 'diameter = "143 mm"' in running.text)


BAD = {
    "opening/0": (
        ("skin", "8 kg"),
        ("skin", "-1 mm"),
        ("hole-diameter", "143.5 m"),
        ("trim-clear", "37 ± far mm"),
        ("sides", '["up"]'),
        ("at-0", "far"),
        ("behind-0-clear", "'); DROP"),
    ),
    "speaker/0": (("id", "demo-130"), ("motor-fs", "58 mm"), ("holes-count", "four")),
    "adapter/0": (("thickness", "<b>thick</b>"),),
    "source/0": (("supply", "14.4 kg"),),
    "stage/2": (("path-0-delay", "-1 ms"), ("path-3-filters", '["high-pass"]')),
    "box/0": (("volume", "14 mm"),),
    "supply": (("battery-resistance", "8 mV"),),
    "load/0": (("efficiency", "2"), ("feed-length", "far")),
    "distribution/0": (("feed-ambient", "60 mm"),),
    "pair/0": (("resistance", "4 mm"),),
    "factory_output/0": (("band-0", "far"),),
    "instruments": (("caliper", ""),),
    "vehicle": (("cabin-length", "∞ m"),),
}


def test_what_cannot_stand_there_is_said_at_its_field(shared: Any, tab: Callable[..., Any]) -> None:
    """A unit of another kind, a sign, a word, markup, a name that is taken, a list that is not closed, nothing at all."""
    before = shared.text
    page = tab(shared.url)
    for place, cases in BAD.items():
        go(page, f"/survey/{place}")
        for key, bad in cases:
            field = f"#f-{place.replace('/', '-')}-{key}"
            page.wait_for_selector(field)
            good = page.locator(field).input_value()
            typed(page, bad, field)
            page.wait_for_selector(f"{field}-note[role=alert]:has-text('✕')")
            assert page.locator(field).get_attribute("aria-invalid") == "true", (place, key)
            assert page.locator(field).input_value() == bad, "what was typed stays"
            typed(page, good, field)
            page.wait_for_function(
                "at => !document.querySelector(at + '-note')?.textContent.startsWith('✕')", arg=field
            )
    page.wait_for_timeout(600)
    assert shared.text == before


def test_a_stop_is_seen_everywhere_and_says_what_to_change(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page, other = tab(running.url + "/survey/adapter/0"), tab(running.url, 390)
    typed(page, "40 mm")
    for one in (page, other):
        one.wait_for_function("document.querySelector('.seal').textContent.includes('Stop')")
    first = other.locator(".finding").first
    first.wait_for()
    other.wait_for_function("document.querySelector('.finding').classList.contains('stop')")
    assert first.locator("text=→").count() == 1, "with its remedy"
    until(lambda: '"40 mm"' in running.text)


def test_other_work_goes_on_while_one_field_is_wrong(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/survey/adapter/0")
    typed(page, "thick")
    page.wait_for_function(f"document.querySelector('{FIELD}-note').textContent.startsWith('✕')")
    typed(page, "45 deg", "#f-adapter-0-turn")
    until(lambda: re.search(r'turn\s*= "45 deg"', running.text))
    assert page.locator(FIELD).input_value() == "thick"
    assert AUTO in running.text


@pytest.mark.parametrize(
    ("place", "field", "bad", "says"), [("adapter/0", "adapter-0-material", "cheese", "no such material in the tables")]
)
def test_what_cannot_be_worked_out_is_said_until_it_can_be(
    lent: Any, tab: Callable[..., Any], place: str, field: str, bad: str, says: str
) -> None:
    """The file may say it, no check of the file knows better: the last good answer stays, and says so."""
    running = lent
    page = tab(f"{running.url}/survey/{place}")
    good = page.locator(f"#f-{field}").input_value()
    typed(page, bad, f"#f-{field}")
    page.wait_for_selector(f".alarm:has-text({says!r})")
    if field.endswith("material"):
        page.wait_for_function(f"document.getElementById('f-{field}-note').textContent.startsWith('✕')")
    typed(page, good, f"#f-{field}")
    page.wait_for_function("!document.querySelector('.alarm')")
    page.wait_for_function(f"!document.getElementById('f-{field}-note').textContent.startsWith('✕')")
