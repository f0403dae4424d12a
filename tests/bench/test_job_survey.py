"""Job and Survey: a new job, a new driver, the shelf, what was assumed, where a finding leads."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench.waiting import go, until

from backwave.job import loads


def typed(page: Any, field: str, value: str) -> None:
    page.locator(field).fill(value)
    page.locator(field).press("Enter")


NOT_YET = """  // a page that is there, and whose socket is not; what looks again now and then does so late
    let made;
    const each = setInterval;
    window.setInterval = (what, ms) => each(what, 10 * ms);
    Object.defineProperty(window, 'io', {
      get: () => Object.assign((url, told) => made(url, { ...told, autoConnect: false }), made),
      set(found) { made = found; },
    });
"""


def test_a_new_job_with_a_bad_reading_is_not_begun(bench: Callable[..., Any], tab: Callable[..., Any]) -> None:
    """And what is typed and pressed before the page is connected, or while its connection is lost, comes in that order."""
    running = bench(empty=True)
    page = tab(running.url, 390, wait=False, script=NOT_YET)
    typed(page, "#new-hole", "wide")
    typed(page, "#new-depth", "-3 mm")
    page.get_by_role("button", name="Start the job").click()
    page.wait_for_timeout(300)
    assert not page.locator(".note:has-text('✕')").count()
    page.evaluate("socket.connect()")
    for name in ("hole", "depth"):
        page.wait_for_selector(f"#new-{name}-note:has-text('✕')")
    assert not (running.folder / "job.toml").exists()
    page.evaluate("socket.disconnect()")
    typed(page, "#new-hole", "5 5/8 in")
    typed(page, "#new-depth", "")
    page.get_by_role("button", name="Start the job").click()
    page.wait_for_timeout(300)
    page.evaluate("socket.connect()")
    page.wait_for_selector("#f-opening-0-hole-diameter")  # where the rest is asked for
    assert page.locator(".title").inner_text() == "Job 0", "called after its folder until somebody says otherwise"
    assert 'diameter = "5 5/8 in"' in running.text
    page.wait_for_selector("text=understood: 142.9 mm")  # 5.625 x 25.4 = 142.875


def test_a_driver_is_added(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url + "/survey/speaker")
    page.get_by_role("link", name="+ speaker").click()
    page.wait_for_selector("text=A new speaker")
    typed(page, "#f-speaker-6-id", "demo-100")
    page.wait_for_selector("#f-speaker-6-cutout")
    for key, value in {"cutout": "93 mm", "magnet": "70 mm", "depth": "44 mm"}.items():
        typed(page, f"#f-speaker-6-{key}", value)
        until(lambda value=value: f'"{value}"' in running.text)
    row = loads(running.text, running.folder).file.speaker[6]
    assert (row.id, row.depth.to("mm")) == ("demo-100", 44.0)  # type: ignore[union-attr]


def test_an_assumed_value_is_replaced_with_one_tap(lent: Any, tab: Callable[..., Any]) -> None:
    running = lent
    page = tab(running.url)
    page.locator("summary", has_text="values assumed").click()
    page.get_by_role("link", name=re.compile("^Replace .*gap$")).first.click()
    page.wait_for_function("document.activeElement.id.endsWith('-gap')")
    assert page.evaluate("document.activeElement.value") == ""
    at = page.evaluate("document.activeElement.id")
    assert "assumed 3 mm" in page.locator(f"#{at}-note").inner_text()
    page.get_by_role("button", name="Replace the assumed Gap").first.click()
    page.wait_for_function("getSelection().toString() === '3 mm' || document.activeElement.value === '3 mm'")
    page.keyboard.type("2.5 mm")
    page.keyboard.press("Enter")
    until(lambda: '"2.5 mm"' in running.text)
    page.goto(running.url)
    page.locator("summary", has_text="values assumed").click()
    page.wait_for_selector(".assumption")
    assert page.get_by_role("link", name=f"Replace {at}").count() == 0


def test_every_finding_leads_somewhere_and_says_why(shared: Any, tab: Callable[..., Any]) -> None:
    page = tab(shared.url)
    page.wait_for_selector(".finding.caution")
    marks = page.locator(".finding > .mark").all_inner_texts()
    rank = [("Stop", "Caution", "OK").index(m.split()[1]) for m in marks if m]
    assert rank == sorted(rank), "worst first"
    ways = page.locator(".finding a").evaluate_all("all => all.map(a => a.getAttribute('href'))")
    bad = page.locator(".finding:is(.caution, .stop)").count()
    assert sum(w.startswith("/why/") for w in ways) >= bad > 0
    for way in sorted({w for w in ways if not w.startswith(("/why/", "/work"))}):
        go(page, way)
        page.wait_for_selector("main :is(svg, .field, details)")
        if "#" in way:
            page.wait_for_function("document.activeElement.closest(location.hash)", timeout=30_000)
    page.goto(shared.url + "/why/fit.glass@front-door.right")
    page.wait_for_selector("main table")
    assert page.locator("main table tbody tr").count() >= 3
    assert page.locator("text=/JCGM|GUM/").count() > 0, "with its sources"
    assert page.locator("p:has-text('steps of 0.5 mm, on the safe side')").count() == 1


def test_a_driver_goes_to_the_shelf_and_into_the_next_job(
    bench: Callable[..., Any], tab: Callable[..., Any], tmp_path: Path
) -> None:
    running, empty = bench(), bench(empty=True)
    page = tab(running.url + "/survey/speaker/0")
    page.locator("summary", has_text="Shelf").click()
    save = page.get_by_role("button", name="Save this speaker to the shelf")
    save.click()
    page.wait_for_selector(".shelf [role=status]:has-text('who')")  # nobody named: refused, in words
    typed(page, "#shelf-who", "The night baker")
    save.click()
    page.wait_for_selector("text=The file can be handed over as it is")
    kept = next((tmp_path / "shelf").rglob("*.toml"))
    assert "The night baker" in kept.read_text(encoding="utf-8")

    other = tab(empty.url, wait=False)
    other.get_by_role("button", name="Start the job").click()
    other.wait_for_selector("#f-opening-0-id")
    other.goto(empty.url + "/survey/speaker/0")
    other.locator("summary", has_text="Shelf").click()
    other.get_by_role("button", name=re.compile("^Take .* into this job$")).click()
    other.wait_for_selector("text=Measure again")
    until(lambda: "profile" in re.sub(r"#.*", "", empty.text))
    assert loads(empty.text, empty.folder).file.speaker[0].name == "Demo 165 mm woofer"


GARBAGE = {
    "garbage.toml": (bytes(range(256)) * 8, "not a text"),
    "words.toml": (b"these are not the drivers", ""),
    "other.toml": (b'format = 1\ntitle = "a job, not a shelf file"\n', ""),
    "../../job.toml": (b"x = 1\n", ""),
    "large.toml": (b"# " + b"x" * 300_000, "Not taken"),
    "picture.png": (b"\x89PNG", "Not taken"),
}


def test_garbage_handed_over_is_refused_in_words(shared: Any, tab: Callable[..., Any]) -> None:
    def files() -> list[str]:
        """All but what the workers build meanwhile; there, whatever has the name of something handed over."""
        named = {Path(name).name for name in GARBAGE} - {"job.toml"}
        every = (p.relative_to(shared.folder) for p in shared.folder.rglob("*"))
        return sorted(str(p) for p in every if p.parts[0] != "made" or p.name in named)

    before, held = shared.text, files()
    for name, (content, says) in GARBAGE.items():
        page = tab(shared.url + "/survey/speaker/0", wait=False)
        page.locator("summary", has_text="Shelf").click()
        page.locator(".shelf input[type=file]").set_input_files(
            {"name": name, "mimeType": "application/octet-stream", "buffer": content}
        )
        page.wait_for_function("document.querySelector('.shelf [role=status]').textContent.length > 8")
        assert says in page.locator(".shelf [role=status]").first.inner_text(), name
        page.context.close()
    time.sleep(0.6)
    assert shared.text == before
    assert files() == held
