"""What waits on a phone: a word that the bench cannot take stops no other, over HTTP and in a browser without network."""

from __future__ import annotations

import json
import resource
import sys
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from bench.conftest import Running, demo, start, stop

POST = """async (body) => {
  const answer = await fetch("/chores/words", { method: "POST", headers: { "content-type": "application/json" }, body });
  return [answer.status, await answer.json()];
}"""
QUEUE = "Keep.get('words', []).length"
STATE = "document.querySelector('.state').textContent"


@pytest.fixture(scope="module")
def working(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A workbench of the demo job whose log this module writes."""
    base = tmp_path_factory.mktemp("queue")
    running = start(demo(base / "job"), base / "shelf")
    yield running
    stop(running)


def log_of(running: Running) -> dict[str, Any]:
    return tomllib.loads((running.folder / "log.toml").read_text(encoding="utf-8"))


def note(n: int, **fields: Any) -> dict[str, Any]:
    return {
        "kind": "note",
        "id": f"n{n}",
        "key": f"carcar-{n:06d}",
        "when": "2026-03-14T10:00:00Z",
        "text": "off",
        **fields,
    }


def nested(depth: int) -> list[Any]:
    held: list[Any] = []
    for _ in range(depth):
        held = [held]
    return held


BAD: list[tuple[Any, str]] = [
    ({"text": "half \ud83d"}, "half a letter"),
    ({"by": "\udc00"}, "half a letter"),
    ({"place": "a\x1b]0;b\x07"}, "control character"),
    ({"kind": "item", "price": 10**3999}, "too many digits"),
    ({"kind": "item", "price": "9" * 4000}, "not a price"),
    ({"kind": "item", "price": -(10**400)}, "too many digits"),
    ({"photos": nested(940)}, "lists in lists"),
    ({"over": nested(2)}, "lists in lists"),
    ({"count": -5}, "0 to 999"),
    ({"count": 10**9}, "0 to 999"),
    ({"count": 1.5}, "a whole number"),
    ({"kind": "tick", "minutes": 1e300}, "0 to 10080"),
    ({"kind": "tick", "minutes": float("nan")}, "a number"),
    ({"kind": "tick", "minutes": -1}, "0 to 10080"),
    ({"text": "x" * 4001}, "at most 4000"),
    ({"extra": ["x" * 999] * 40}, "32000 bytes"),
    ({"x" * 40_000: 1}, "32000 bytes"),
    ({"id": "x" * 201}, "not about anything"),
    ({"kind": "undo"}, "not a word"),
    ({"key": "\ud83d"}, "half a letter"),
    ({"when": 5}, "without its time"),
]


def test_each_word_is_answered_by_itself(working: Running, tab: Callable[..., Any]) -> None:
    page = tab(working.url + "/work", 390, wait=False)
    rows: list[Any] = []
    for n, (fields, _) in enumerate(BAD):
        rows += [note(2 * n), note(2 * n + 1) | fields]
    rows += [5, None, []]
    status, told = page.evaluate(POST, json.dumps({"words": rows}))
    assert status == 200
    for n, (fields, why) in enumerate(BAD):
        assert told["reasons"][2 * n] == "", fields
        assert why in told["reasons"][2 * n + 1], (fields, told["reasons"][2 * n + 1])
    assert [bool(why) for why in told["reasons"][-3:]] == [True] * 3
    good = [row["key"] for row in rows[0:-3:2]]
    assert told["taken"] == good
    assert [row["key"] for row in log_of(working)["note"]] == good
    status, _ = page.evaluate(POST, json.dumps({"words": [note(900)]})[:-3])
    assert status == 400


def test_a_bad_word_in_the_queue_stops_no_other(working: Running, tab: Callable[..., Any]) -> None:
    page = tab(working.url + "/work", 390, wait=False)
    page.wait_for_function(f"{STATE} === 'saved'")
    page.context.set_offline(True)
    page.wait_for_function(f"{STATE} === 'no network'")
    page.evaluate("""() => {
      Keep.say("note", "one", { text: "The first" });
      Keep.say("note", "bad", { text: "Half a letter \\ud83d" });
      Keep.say("note", "two", { text: "The second" });
      let deep = [];
      for (let n = 0; n < 3000; n += 1) deep = [deep];
      Keep.say("note", "deep", { text: "Too deep", photos: deep });  // no JSON that the bench can read: all of them fail
      Keep.say("item", "huge", { price: "9".repeat(4000) });
      for (let n = 0; n < 120; n += 1) Keep.say("note", `more-${n}`, { text: `More ${n}` });
      Keep.say("note", "three", { text: "The third" });
    }""")
    page.wait_for_function(f"{STATE} === 'no network · 126 kept here'")
    page.context.set_offline(False)
    page.wait_for_function(f"{STATE} === 'saved' && {QUEUE} === 0", timeout=60_000)
    texts = [row["text"] for row in log_of(working)["note"]]
    for text in ("The first", "The second", "The third", *(f"More {n}" for n in range(120))):
        assert texts.count(text) == 1, text
    alarms = page.locator(".alarm").all_inner_texts()
    assert len(alarms) == 3
    assert any("Half a letter (a broken emoji" in one for one in alarms)
    assert any("Too deep" in one for one in alarms)
    page.get_by_role("button", name="I have read it").first.click()
    page.wait_for_function("document.querySelectorAll('.alarm').length === 2")


def test_a_bench_that_fails_is_not_called_no_network(working: Running, tab: Callable[..., Any]) -> None:
    page = tab(working.url + "/work", 390, wait=False)
    page.wait_for_function(f"{STATE} === 'saved'")
    tried: list[list[str]] = []

    def answer(route: Any) -> None:
        words = json.loads(route.request.post_data)["words"]
        tried.append([word["id"] for word in words])
        if any(word["id"] == "poison" for word in words):
            route.fulfill(status=500, body="The bench stumbled")
        else:
            route.continue_()

    page.route("**/chores/words", answer)
    page.evaluate("['a', 'poison', 'b', 'c'].forEach((id) => Keep.say('note', id, { text: `Note ${id}` }))")
    page.wait_for_function(f"{QUEUE} === 1 && {STATE} === 'not saved'", timeout=60_000)
    assert {row["id"] for row in log_of(working)["note"]} >= {"a", "b", "c"}
    assert "The bench stumbled" in page.locator(".alarm").last.inner_text()
    page.unroute("**/chores/words")
    page.wait_for_function(f"{QUEUE} === 0 && {STATE} === 'saved'", timeout=60_000)
    assert "poison" in {row["id"] for row in log_of(working)["note"]}


def test_what_is_too_long_stays_in_its_box_whole_and_says_why(working: Running, tab: Callable[..., Any]) -> None:
    """The bound is the log's (docs/work.md); nothing is cut on the way there."""
    page = tab(working.url + "/work#apart", 390, wait=False)
    page.locator("#step-text").wait_for()
    said = page.locator("[data-draft=step] .wrong-words")
    for length in (4000, 4001):
        page.locator("#step-text").focus()
        page.keyboard.insert_text("é" * length)  # as it is pasted: a bound of the box would cut it
        page.get_by_role("button", name="It is off").click()
        if length == 4000:
            page.wait_for_function(f"{QUEUE} === 0 && {STATE} === 'saved'")
            assert len(log_of(working)["note"][-1]["text"]) == 4000
    assert said.inner_text() == "4001 letters. Accepted: at most 4000; nothing was cut."
    assert len(page.locator("#step-text").input_value()) == 4001
    page.locator("#step-text").fill("")


@pytest.mark.skipif(sys.platform != "linux", reason="limits of another process are set on Linux alone")
def test_a_job_that_cannot_be_saved_is_not_called_saved(lent: Running, tab: Callable[..., Any]) -> None:
    """The file cannot be written (here: no byte of any file may be); Work says what the other places say."""
    page, work = tab(lent.url + "/survey/adapter/0"), tab(lent.url + "/work", 390)
    work.wait_for_function(f"{STATE} === 'saved'")
    before = resource.prlimit(lent.process.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(lent.process.pid, resource.RLIMIT_FSIZE, (0, before[1]))
    try:
        page.locator("#f-adapter-0-thickness").fill("14 mm")
        page.locator("#f-adapter-0-thickness").press("Enter")
        for one in (page, work):
            one.wait_for_selector(".alarm:has-text('Not saved, trying again: job.toml')")
            one.wait_for_function(f"{STATE}.startsWith('saving …')")
    finally:
        resource.prlimit(lent.process.pid, resource.RLIMIT_FSIZE, before)
    work.wait_for_function(f"{STATE} === 'saved' && !document.querySelector('.alarm')")
    assert 'thickness = "14 mm"' in lent.text
