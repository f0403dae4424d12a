"""The Job page: what is next, twins in one line, the same counts as everywhere, two screens; a link opens its group."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bench.waiting import go

from backwave.assess import assess
from backwave.assess.next_steps import grouped, tally
from backwave.job import load

TALLY = "document.querySelector('.tally')?.textContent"


def test_the_job_page_leads_with_next_on_two_screens_and_counts_as_the_terminal(
    shared: Any, tab: Callable[..., Any]
) -> None:
    job = load(shared.folder)
    result = assess(job)
    page = tab(shared.url)
    page.wait_for_selector(".step")
    page.wait_for_function("document.querySelector('.state').textContent.trim() === 'saved'")
    bare = tally(grouped([f for f in result.findings if f.topic != "part"], result.names))
    told = page.evaluate(TALLY)  # beside these, what was measured on solids and recordings meanwhile
    assert int(told.split()[0]) >= int(bare.split()[0])
    assert page.locator(".finding:is(.caution, .stop)").count() == sum(
        int(word) for word, what in zip(told.split(), told.split()[1:]) if what.startswith(("open", "waiting"))
    )
    assert told in page.locator(".picture svg").text_content(), "the drawing counts the same"
    assert page.evaluate("document.documentElement.scrollHeight") <= 2 * 900
    assert result.wires
    assert result.harness
    assert result.factory
    for place, made in {"": result.wires, "/harness": result.harness, "/factory": result.factory}.items():
        other = tab(f"{shared.url}/wires{place}")
        counts = tally([g for g in result.groups if {f.id for f in made.findings} & set(g.ids)])
        other.wait_for_function(f"{TALLY} === '{counts}'")
        if place == "/harness":
            assert counts in other.locator(".picture svg").first.text_content()
    first = page.locator(".step").first.bounding_box()
    assert first is not None
    assert first["y"] < page.locator(".finding").first.bounding_box()["y"]
    for act in page.locator(".next > ol .act").all():
        assert act.get_attribute("href")
    phone = tab(shared.url, 390)
    phone.wait_for_selector(".step")
    box = phone.locator(".step .act").first.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 844, "the first thing to do is on the first screen"


def test_nothing_entered_is_not_called_ok(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    empty = 'format = 1\ntitle = "Empty"\n'
    stage = (
        '[[stage]]\nid = "one"\n[[stage.path]]\nsource = "amp"\nchannel = "1"\nopening = "door"\nspeaker = "woofer"\n'
    )
    door = (
        '[[opening]]\nid = "door"\n[[speaker]]\nid = "woofer"\ncutout = "138 mm"\nmagnet = "95 mm"\ndepth = "55 mm"\n'
    )
    amp = '[[source]]\nid = "amp"\nkind = "amplifier"\n'
    running = bench(text=lambda _: empty + door + amp + stage)
    page = tab(running.url + "/wires/harness")
    page.wait_for_function(f"{TALLY} === 'nothing entered yet'")
    page.wait_for_function("/nothing entered yet/.test(document.querySelector('.picture svg')?.textContent)")
    go(page, "/wires/factory")
    page.wait_for_function(f"{TALLY} === 'nothing entered yet'")
    assert not page.locator("text=/[Ee]very check/").count()


def test_a_link_leads_into_a_group_that_is_not_open_yet(lent: Any, tab: Callable[..., Any]) -> None:
    page = tab(lent.url + "/survey/adapter/0#f-adapter-0-collar-height")
    page.wait_for_function("document.activeElement.id === 'f-adapter-0-collar-height'")
    page = tab(lent.url)
    page.locator(".finding .id").first.click()
    assert "@" in page.evaluate("getSelection().toString()"), "one tap selects an id whole, to be copied"
    assert page.evaluate("getSelection().toString()") == page.locator(".finding .id").first.inner_text()
