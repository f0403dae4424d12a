"""A reader in inches meets no millimeter on any page, and a reader in millimeters no inch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bench.conftest import DEMO
from bench.waiting import until
from measures_shown import strange, typed_in

TEXT = DEMO.read_text(encoding="utf-8")
PAGES = (
    "/", "/survey/opening/0", "/survey/speaker/0", "/survey/adapter/0", "/survey/load/0", "/section/front-door.left",
    "/face/front-door.left", "/part/front-door.left", "/sound", "/wires", "/wires/harness", "/wires/factory", "/proof",  "/work",
)  # fmt: skip
UNMEASURED = ("/sound", "/wires/factory", "/proof", "/work")  # of the demo: nothing there is so long or so heavy
OTHER = {"us": "metric", "metric": "us"}
SAID = """[document.body.innerText, ...[...document.querySelectorAll('svg text')].map(t => t.textContent),
  ...[...document.querySelectorAll('[aria-label], [placeholder], [title]')].flatMap(
    e => ['aria-label', 'placeholder', 'title'].map(a => e.getAttribute(a) ?? ''))].join('\\n')"""


def test_the_page(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    running = bench(text=lambda text: text.replace('show   = "metric"', 'show   = "us"'))
    page = tab(running.url)
    found = {}
    for system, addresses in (("us", PAGES), ("metric", PAGES[:6])):
        if system == "metric":
            (running.folder / "job.toml").write_text(TEXT, encoding="utf-8")
            page.goto(running.url + "/section/front-door.left")
            page.wait_for_selector("text=/[0-9.]+ mm ASA adapter/")
        for address in addresses:
            page.goto(running.url + address)
            page.wait_for_selector("main :is(svg, .field, table, .facts, .entry), .task, li")
            page.wait_for_timeout(400)
            if address not in UNMEASURED:  # a page that is not there yet proves nothing
                until(lambda other=OTHER[system]: strange(page.evaluate(SAID), other))
            found[system, address] = strange(page.evaluate(SAID), system, typed_in(TEXT))
    assert not any(found.values()), {where: hits for where, hits in found.items() if hits}
