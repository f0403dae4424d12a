"""What a job says is text in every page, and what got in all the same would not run (Content Security Policy, W3C)."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from nicegui.client import templates

from backwave.bench.access_control import named

BAD = "<img src=x onerror=pwned=1><script>pwned=1</script>{{pwned=1}}"
PLACES = ("/", "/survey", "/survey/opening/0", "/section", "/part", "/sound", "/wires", "/work", "/devices")
# What is tried: a handler in an attribute, a script, a link that is a script, one in a frame of its own.
TRIED = {
    "handler": "document.body.insertAdjacentHTML('beforeend', '<img src=x onerror=\"pwned=1\"><svg onload=\"pwned=1\"></svg>')",
    "script": "document.body.append(Object.assign(document.createElement('script'), { textContent: 'pwned=1' }))",
    "link": "(() => { const a = Object.assign(document.createElement('a'), { href: 'javascript:pwned=1' }); document.body.append(a); a.click(); })()",
    "frame": "document.body.append(Object.assign(document.createElement('iframe'), { srcdoc: '<script>parent.pwned=1</' + 'script>' }))",
    "elsewhere": "document.body.append(Object.assign(document.createElement('script'), { src: 'data:text/javascript,pwned=1' }))",
}


@pytest.fixture
def hostile(bench: Callable[..., Any]) -> Any:
    """A job whose title and names are markup."""

    def text(written: str) -> str:
        told = written.replace("Night-round delivery van", BAD, 1)
        told = re.sub(r'((?:name|what|by|source)\s*=\s*")(?=[A-Z])', rf"\1{BAD} ", told)
        assert told.count(BAD) > 3
        return told

    return bench(text=text)


def test_what_a_job_says_is_text_in_every_page(hostile: Any, tab: Callable[..., Any]) -> None:
    page = tab(hostile.url, wait=False)
    for place in PLACES:
        page.goto(hostile.url + place)
        page.wait_for_function(f"document.querySelector('.title')?.textContent === {BAD!r}")
        page.wait_for_selector("main :is(svg, .field, table, .task)")
        assert page.evaluate("typeof pwned") == "undefined", place
        assert page.locator("img[src=x]").count() == 0, place


def test_what_got_in_all_the_same_does_not_run(shared: Any, tab: Callable[..., Any]) -> None:
    for place in ("/section", "/work"):
        page = tab(shared.url + place, wait=False)
        page.wait_for_function("document.querySelector('.seal')?.textContent")
        for way, script in TRIED.items():
            page.evaluate(script)
            page.wait_for_timeout(300)
            assert page.evaluate("typeof pwned") == "undefined", (place, way)


def test_every_script_of_the_frameworks_template_is_named() -> None:
    """And nothing else of it is changed; what the template puts in comes afterwards and gets no name."""
    assert templates.env.loader is not None
    source = templates.env.loader.get_source(templates.env, "index.html")[0]
    done = source if "nonce" in source else named(source)
    assert done.count("<script") == done.count('<script nonce="{{ request.state.nonce }}"') > 5
    assert "{{ head_html | safe }}" in done
