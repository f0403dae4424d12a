"""A reader in inches meets no millimeter on any page, and a reader in millimeters no inch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from bench.conftest import DEMO
from measures_shown import strange, typed_in

TEXT = DEMO.read_text(encoding="utf-8")
PAGES = (
    "/", "/survey/opening/0", "/survey/speaker/0", "/survey/adapter/0", "/survey/load/0", "/section/front-door.left",
    "/face/front-door.left", "/part/front-door.left", "/sound", "/wires", "/wires/harness", "/wires/factory", "/proof",  "/work",
)  # fmt: skip


@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_page(system: str, bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    running = bench(text=lambda text: text.replace('show   = "metric"', f'show   = "{system}"'))
    page = tab(running.url)
    found = {}
    for address in PAGES if system == "us" else PAGES[:6]:
        page.goto(running.url + address)
        page.wait_for_selector("main :is(svg, .field, table, .facts, .entry), .task, li")
        page.wait_for_timeout(500)
        text = page.evaluate(
            "document.body.innerText + '\\n' + [...document.querySelectorAll('svg text')].map(t => t.textContent).join('\\n')"
        )
        found[address] = strange(text, system, typed_in(TEXT))
    assert not any(found.values()), {where: hits for where, hits in found.items() if hits}
