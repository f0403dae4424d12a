"""`python tools/screenshots.py [FOLDER]`: a picture of each place of the workbench on the demo job.

Wide (1440 px) and on a phone (390 px), light, and one dark; into docs/pictures unless told otherwise.  Needs
Debian's chromium.  Starts a workbench of its own and ends it.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.bench.conftest import ARGS, CHROMIUM, demo, let_in, patient, start, stop

PLACES = ("job", "survey", "section", "face", "part", "sound", "wires", "work")
WIDTHS = (1440, 390)
DARK = "section"
BUILT = "document.querySelector('.building')?.textContent.includes('Built, as the job is now')"


def take(folder: Path) -> list[Path]:
    """Take every picture.

    Parameters
    ----------
    folder : Path, no unit
        Where they go.

    Returns
    -------
    list of Path
    """
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    taken = []
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        running = start(demo(Path(scratch) / "night-round"), Path(scratch) / "shelf")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGS)
        try:
            shots = [(place, width, "light") for width in WIDTHS for place in PLACES] + [(DARK, 1440, "dark")]
            for place, width, theme in shots:
                name = f"bench-{place}" + ("" if theme == "light" else f"-{theme}") + ("" if width > 760 else "-phone")
                taken.append(folder / f"{name}.png")
                _picture(browser, running.url, place, width, theme, taken[-1])
        finally:
            browser.close()
            stop(running)
    return taken


def _picture(browser: Any, url: str, place: str, width: int, theme: str, to: Path) -> None:
    phone = width < 760
    context = browser.new_context(
        viewport={"width": width, "height": 844 if phone else 900}, color_scheme=theme, is_mobile=phone, has_touch=phone
    )
    page = patient(let_in(context).new_page())
    page.goto(url + ("/" if place == "job" else f"/{place}"))
    page.wait_for_function("/saved$/.test(document.querySelector('.state')?.textContent)", timeout=60_000)
    page.wait_for_selector("main :is(svg, .field, .task)")
    if place == "part":
        page.wait_for_function(BUILT, timeout=60_000)
    page.wait_for_timeout(3000 if place in ("part", "sound") else 800)  # the camera settles, the tables come in
    page.screenshot(path=str(to))
    context.close()


if __name__ == "__main__":
    for path in take(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/pictures")):
        print(path)
