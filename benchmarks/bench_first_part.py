"""The first part from an empty folder in the browser, counted: python -m benchmarks first_part

Taps, screens and words of somebody who has read nothing: a tap a field and a tap a button or link; a screen a page,
and one more for each time it has to be scrolled to reach what is used next; the words that stand on those screens.
"""

from __future__ import annotations

import re
import tempfile
import time
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any

from tests.bench.conftest import ARGS, CHROMIUM, let_in, start, stop

READINGS = {
    "title": "Night round", "hole": "143.5 mm", "behind": "62 mm", "trim": "40 mm", "cutout": "141 mm", "magnet": "92 mm", "depth": "60 mm",
}  # fmt: skip
WORDS = """(bottom) => {
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
  let count = 0;
  while (walk.nextNode()) {
    const text = walk.currentNode.textContent.trim(), at = walk.currentNode.parentElement;
    if (!text || at.closest('script, style, .unseen, .skip, [aria-hidden=true]') || !at.checkVisibility()) continue;
    range.selectNodeContents(walk.currentNode);
    const box = range.getBoundingClientRect();
    if (box.width && box.top + scrollY < bottom && box.bottom > 0) count += text.split(/\\s+/).length;
  }
  return count;
}"""


@dataclass
class Count:
    page: Any
    taps: int = 0
    screens: int = 0
    words: int = 0
    bottom: float = 0.0  # px, of what was used lowest on the page that is open

    def use(self, one: Any, *, taps: int = 1) -> Any:
        """Something that is tapped or read now; what stands fixed on the screen needs no scrolling."""
        one.wait_for(state="visible")
        low = "(e) => e.closest('nav, header') ? 0 : e.getBoundingClientRect().bottom + scrollY"
        self.bottom = max(self.bottom, one.evaluate(low))
        self.taps += taps
        return one

    def leave(self) -> None:
        """The page is done with."""
        high = self.page.viewport_size["height"]
        seen = max(1, ceil(self.bottom / high))
        self.screens, self.words, self.bottom = (
            self.screens + seen,
            self.words + self.page.evaluate(WORDS, seen * high),
            0.0,
        )


def walk(page: Any) -> Count:
    """From the empty page to the answer and the part's 3MF."""
    count = Count(page)
    for name, value in READINGS.items():
        if page.locator(f"#new-{name}").count():
            count.use(page.locator(f"#new-{name}")).fill(value)
    button = count.use(page.get_by_role("button", name="Start the job"))
    count.leave()
    button.click()
    page.wait_for_selector("main .answer, main .numbers .said", timeout=90_000)
    count.use(page.locator("main :is(.answer, .numbers .said)").first, taps=0)  # the answer is read
    if not page.locator("main .answer").count():
        way = count.use(page.locator("nav a[href='/part']"))
        count.leave()
        way.click()
    file = page.get_by_role("link", name=re.compile("3MF"))
    file.first.wait_for(timeout=180_000)
    with page.expect_download(timeout=180_000):
        count.use(file.first).click()
    count.leave()
    return count


def main() -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as base:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGS)
        for width, height in ((1440, 900), (390, 844)):
            folder = Path(base) / f"van-{width}"
            folder.mkdir()
            running = start(folder, Path(base) / "shelf")
            phone = width < 500
            context = let_in(
                browser.new_context(viewport={"width": width, "height": height}, is_mobile=phone, has_touch=phone)
            )
            page = context.new_page()
            page.set_default_timeout(90_000)
            page.goto(running.url)
            page.wait_for_selector("#new-hole")
            began = time.monotonic()
            found = walk(page)
            print(f"  {width} x {height}: {found.taps} taps, {found.screens} screens, {found.words} words to the part's file; "
                  f"{time.monotonic() - began:.0f} s of the machine")  # fmt: skip
            stop(running)
        browser.close()


if __name__ == "__main__":
    main()
