"""The place Work as two phones meet it: without network, at once, late; ticks, teardown with pictures, shopping, undo."""

from __future__ import annotations

import io
import json
import re
import tomllib
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench.conftest import Running, demo, start, stop
from bench.waiting import until
from PIL import Image

TICK = ".task[aria-label^='{}'] .check"


@pytest.fixture(scope="module")
def working(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A workbench of the demo job whose log this module writes."""
    base = tmp_path_factory.mktemp("work")
    running = start(demo(base / "job"), base / "shelf")
    yield running
    stop(running)


def log_of(running: Running) -> dict[str, Any]:
    path = running.folder / "log.toml"
    return tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def saved(page: Any) -> None:
    page.wait_for_function("document.querySelector('.state').textContent === 'saved'")


def photo(path: Path) -> Path:
    """A picture as a phone writes it: large, on its side, with the place it was taken at."""
    tags = Image.Exif()
    tags[0x0112], tags[0x010F] = 6, "Demo phone"  # orientation: turn by 90 degrees; maker
    tags.get_ifd(0x8825).update({1: "N", 2: (50.0, 30.0, 0.0), 3: "E", 4: (7.0, 15.0, 0.0)})  # place
    picture = Image.effect_mandelbrot((2400, 1800), (-2, -1.2, 1, 1.2), 60).convert("RGB")
    picture.save(path, "JPEG", exif=tags, quality=90)
    return path


def test_without_network_nothing_is_lost_and_two_phones_agree(
    working: Running, tab: Callable[..., Any], tmp_path: Path
) -> None:
    car = tab(working.url + "/work", 390, "dark", wait=False)
    bench = tab(working.url + "/work", 390, wait=False)
    for page, who in ((car, "helper"), (bench, "lead")):
        page.locator("#me").select_option(who)
    car.locator(TICK.format("Agree in writing")).click()
    bench.wait_for_selector("article.done[aria-label^='Agree in writing']")  # the other sees it by itself

    car.context.set_offline(True)
    car.wait_for_function("document.querySelector('.state').textContent === 'no network'")
    car.locator(TICK.format("Buy or find")).click()
    car.locator("article", has_text="Record the sweep").get_by_text("Start the clock").click()
    car.locator("p.running").wait_for()
    car.locator("#leaves").get_by_text("Taken apart").click()
    car.locator("#step-text").fill("Handle cover <b>and</b> cap")
    car.locator("#step-count").fill("2")
    car.locator("[data-draft=step] input[type=file]").nth(1).set_input_files(photo(tmp_path / "IMG_0001.jpg"))
    car.wait_for_selector("[data-draft=step] .thumb img")
    car.get_by_role("button", name="It is off").click()
    assert car.locator("#steps .said").inner_text() == "Handle cover <b>and</b> cap"
    car.wait_for_function("/no network · 4 kept here/.test(document.querySelector('.state').textContent)")
    assert "note" not in log_of(working)
    assert not (working.folder / "photos").exists()

    bench.locator(TICK.format("Buy or find")).click()
    bench.locator("#leaves").get_by_text("Taken apart").click()
    bench.locator("#step-text").fill("Door lock rod")
    bench.get_by_role("button", name="It is off").click()
    saved(bench)
    assert [row["by"] for row in log_of(working)["note"]] == ["lead"]

    car.goto("about:blank")
    car.go_back()  # a tab that the phone dropped comes back with what was said, and its picture
    car.wait_for_function("[...document.querySelectorAll('#steps img')].some((one) => one.naturalWidth > 0)")
    assert "Handle cover <b>and</b> cap" in car.locator("#steps").inner_text()
    car.context.set_offline(False)
    saved(car)
    bench.wait_for_function("document.querySelectorAll('#steps .step').length === 2")
    bench.wait_for_function("[...document.querySelectorAll('#steps img')].some((one) => one.naturalWidth > 0)")
    told = [
        [words.split(" · ")[0] for words in page.locator("#steps .step").all_inner_texts()] for page in (car, bench)
    ]
    assert told[0] == told[1]
    log = log_of(working)
    keys = [row["key"] for kind in ("tick", "time", "note") for row in log[kind]]
    assert len(keys) == len(set(keys)) == 6
    assert sorted(row["by"] for row in log["tick"]) == ["helper", "helper", "lead"]
    (path,) = next(row["photos"] for row in log["note"] if "photos" in row)
    with Image.open(working.folder / path) as kept:
        # turned upright, made small, and nothing of the phone or the place along with it
        assert (kept.format, kept.size, dict(kept.getexif())) == ("JPEG", (1200, 1600), {})
    assert not re.search(rb"Exif|Demo phone|JFXX", (working.folder / path).read_bytes())
    # the same words once more change nothing
    before = log_of(working)
    rows = [{"kind": kind, **row} for kind in ("tick", "time", "note") for row in log[kind]]
    answer = car.request.post(working.url + "/chores/words", data={"words": rows + rows})
    assert sorted(set(answer.json()["taken"])) == sorted(keys)
    assert log_of(working) == before


def test_together_again_to_buy_and_taken_back(working: Running, tab: Callable[..., Any]) -> None:
    page = tab(working.url + "/work#apart", wait=False)
    page.locator("#step-text").fill("Speaker grille")
    page.locator("#step-place").select_option("front-door.left")
    page.locator("#step-count").fill("three")
    page.get_by_role("button", name="It is off").click()
    assert page.locator("[data-draft=step] .wrong-words").inner_text() == "A whole number, or nothing."
    page.locator("#step-count").fill("3")
    page.locator("#step-clips").fill("5")
    page.get_by_role("button", name="It is off").click()
    saved(page)
    page.locator("#leaves").get_by_text("Reassembly").click()
    first = page.locator("#back .step").first
    assert "Speaker grille" in first.inner_text()  # what came off last goes on first
    first.get_by_label("screws back in, of 3").fill("2")
    first.get_by_label("clips back in, of 5").fill("5")
    first.locator(".check").click()
    assert "2 of 3 screws back" in page.locator("#back .step").first.inner_text()
    page.locator("#odd").get_by_text("3 screws, bolts and nuts came out and 2 went back").wait_for()
    page.locator("#undo").click()
    page.wait_for_function("!document.querySelector('#odd').textContent.includes('went back')")
    page.locator("#redo").click()
    page.locator("#odd").get_by_text("came out and 2 went back").wait_for()

    page.locator("#leaves").get_by_text("To buy").click()
    row = page.locator(".thing", has_text="heat-set insert").first
    row.locator(".check").click()
    row.get_by_role("textbox").fill("1,234")
    row.get_by_role("textbox").press("Enter")
    assert "two ways: 1234.00 or 1.2340" in row.inner_text()
    row.get_by_role("textbox").fill("3,50")
    row.get_by_role("textbox").press("Enter")
    page.wait_for_selector("text=Prices entered so far: 3.50")
    saved(page)
    table = page.request.get(working.url + "/chores/shopping.csv").text()
    assert re.search(r"^yes,Fasteners,heat-set insert,.*,3\.50,", table, re.MULTILINE)

    page.locator("#leaves").get_by_text("To do").click()
    page.get_by_role("button", name="Everything", exact=True).click()
    page.evaluate("for (const one of document.querySelectorAll('#tasks > details')) one.open = true")
    late = page.locator("article[aria-label^='Fix Amp and connect']")
    late.locator(".check").click(force=True)  # nothing: it waits
    assert "consent to drilling" in late.inner_text()
    assert late.locator(".gate input").first.is_disabled()
    page.get_by_role("button", name="Change: Write down the radio code").click()
    page.locator("#change-more").select_option("hand-over")
    page.get_by_role("button", name="Keep", exact=True).click()
    assert "would wait for each other" in page.locator("#change .wrong-words").inner_text()
    page.get_by_role("button", name="Cancel").click()
    saved(page)


def test_a_phone_that_keeps_nothing_says_so_and_still_sends(
    working: Running, tab: Callable[..., Any], tmp_path: Path
) -> None:
    page = tab("about:blank", 390, wait=False)
    page.add_init_script(
        "Storage.prototype.setItem = () => { throw new Error('full') };"
        "Object.defineProperty(window, 'indexedDB', { value: { open() { throw new Error('none') } } })"
    )
    page.goto(working.url + "/work#apart")
    page.wait_for_function("document.querySelector('.title').textContent")
    page.context.set_offline(True)
    page.locator("#step-text").fill("Sill plate")
    page.locator("[data-draft=step] input[type=file]").nth(1).set_input_files(photo(tmp_path / "IMG_0002.jpg"))
    page.wait_for_selector("[data-draft=step] .thumb img")
    page.get_by_role("button", name="It is off").click()
    page.locator("#alarms").get_by_text("do not close the page before all is saved").wait_for()
    page.context.set_offline(False)
    saved(page)
    assert page.locator("#alarms").inner_text() == ""
    (row,) = [row for row in log_of(working)["note"] if row["text"] == "Sill plate"]
    assert (working.folder / row["photos"][0]).is_file()


def test_it_is_read_by_all_and_hit_by_a_thumb(working: Running, tab: Callable[..., Any]) -> None:
    """No sideways scrolling; axe-core finds nothing serious; what is pressed is 44 px and more (WCAG 2.1, 2.5.5)."""
    from axe_playwright_python.sync_playwright import Axe

    for width, theme in ((390, "light"), (1440, "dark")):
        page = tab(working.url + "/work", width, theme, wait=False)
        page.wait_for_selector("#tasks article")
        for leaf in ("apart", "together", "buy", "todo"):
            page.locator(f"#leaves a[href='#{leaf}']").click()
            assert page.evaluate("document.documentElement.scrollWidth") <= width, leaf
            small = page.evaluate(
                """[...document.querySelectorAll('.content button, .content select, .content summary, .content .file, .gate')]
                .map((one) => [one.textContent.slice(0, 30), one.getBoundingClientRect()])
                .filter(([, box]) => box.width && (box.height < 44 || box.width < 44)).map(([words]) => words)"""
            )
            assert small == [], (leaf, width)
        page.evaluate("for (const one of document.querySelectorAll('.leaf, details')) one.hidden = !(one.open = true)")
        found = Axe().run(page).response["violations"]
        bad = [(v["id"], v["nodes"][0]["html"][:160]) for v in found if v["impact"] in ("serious", "critical")]
        assert bad == [], (width, theme)
    page = tab(working.url + "/section")
    page.get_by_role("link", name="To do").click()  # from a page of the socket to this one
    page.wait_for_selector("#tasks article")


def test_what_is_no_word_and_no_picture_is_refused_with_its_reason(working: Running) -> None:
    def post(path: str, body: bytes, kind: str, origin: str | None = None) -> tuple[int, Any]:
        head = {"content-type": kind} | ({"origin": origin} if origin else {})
        try:
            with working.ask(path, body, **head) as answer:
                return answer.status, json.loads(answer.read())
        except urllib.error.HTTPError as error:
            with error:
                text = error.read().decode()
                return error.code, json.loads(text) if text.startswith("{") else text

    before = log_of(working)
    assert post("/chores/words", b"[" * 100_000, "application/json")[0] == 400
    assert post("/chores/words", b'{"words": 7}', "application/json")[0] == 400
    rows = [
        {"kind": "undo", "id": "x", "key": "abcdef-1234", "when": "2026-03-14T10:00"},
        {"kind": "note", "id": "x", "key": "abcdef-2345", "when": "2026-03-14T10:00", "text": "t", "photos": ["../job.toml"]},
        {"kind": "item", "id": "x", "key": "abcdef-3456", "when": "2026-03-14T10:00", "price": "1,234"},
        {"kind": "task", "id": "own-x", "key": "abcdef-4567", "when": "2026-03-14T10:00", "title": "x", "after": ["own-x"]},
    ]  # fmt: skip

    def answered() -> Any:  # a change of the list is taken once there is a list to try it on
        found = post("/chores/words", json.dumps({"words": rows}).encode(), "application/json")
        return None if found[0] == 409 else found

    status, told = until(answered)
    assert (status, told["taken"]) == (200, [])
    assert [told["refused"][row["key"]].split(":")[0] for row in rows] == [
        "not a word of this page", "no picture of this job", "a price that may be read in two ways",
        "tasks that wait for each other",
    ]  # fmt: skip
    assert "own-x waits for own-x" in told["refused"]["abcdef-4567"]
    assert log_of(working) == before

    good = io.BytesIO()
    Image.new("RGB", (8, 8)).save(good, "JPEG")
    assert post("/chores/photo?name=photos/../job.jpg", good.getvalue(), "image/jpeg")[0] == 409
    status, told = post("/chores/photo?name=photos/x.jpg", b"<svg onload=alert(1)>", "image/jpeg")
    assert (status, "JPEG, PNG or WebP" in told["error"]) == (409, True)
    assert post("/chores/photo?name=photos/x.jpg", good.getvalue(), "image/jpeg", "http://evil.example")[0] == 403
    assert not (working.folder / "photos/x.jpg").exists()
    (working.folder / "photos").mkdir(exist_ok=True)
    (working.folder / "photos/secret.jpg").write_bytes(good.getvalue())
    with pytest.raises(urllib.error.HTTPError) as refused:  # a picture that nothing names is not shown
        working.ask("/chores/photos/secret.jpg")
    refused.value.close()
    assert refused.value.code == 404
