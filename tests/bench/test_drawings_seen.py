"""Every mark of every drawing can be seen on its page: nothing of the page's own hides it, and nothing leaves its sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

PAGES = ("/", "/section", "/face", "/sound", "/wires", "/wires/harness")
UNSEEN = """() => [...document.querySelectorAll('.content svg[class^=bw-]')].flatMap(svg => {
  const sheet = svg.viewBox.baseVal;
  return [...svg.querySelectorAll('path, line, circle, rect, text')].filter(one => {
    const look = getComputedStyle(one), box = one.getBBox();
    const inside = box.x > -1 && box.y > -1 && box.x + box.width < sheet.width + 1 && box.y + box.height < sheet.height + 1;
    const inked = look.stroke !== 'none' || look.fill !== 'none';
    return look.display === 'none' || look.visibility !== 'visible' || +look.opacity === 0 || !inked || !inside;
  }).map(one => one.outerHTML.slice(0, 120));
})"""


@pytest.mark.parametrize("width", [1440, 390])
def test_every_mark_is_seen(shared: Any, tab: Callable[..., Any], width: int) -> None:
    page = tab(shared.url, width)
    dashed = 0
    for at in PAGES:
        page.goto(shared.url + at)
        page.wait_for_selector(".content svg[class^=bw-] text", state="attached")
        assert page.evaluate(UNSEEN) == [], at
        dashed += page.locator(".content .bw-hidden").count()
    assert dashed > 4  # hidden edges, which a page's own class of that name would hide
