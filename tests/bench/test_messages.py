"""What a socket of somebody with access may say: what no page of ours says is passed over, and nothing falls over it."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from typing import Any
from urllib.error import HTTPError

from bench.waiting import until

from backwave.bench.connection import NO_MESSAGE, is_frame, understood

PATH = "/_nicegui_ws/socket.io/?EIO=4&transport="
PAGE = "client_id=a&tab_id=b&document_id=c&next_message_id=0&implicit_handshake=true"


def event(name: str, **values: Any) -> str:
    return "2" + json.dumps([name, values])


FAIR = (
    "0", "0{}", "1", event("ack", client_id="a", next_message_id=3), "2" + event("ack", client_id="a", next_message_id=3)[1:],
    "27" + event("handshake", client_id="a", tab_id="b", document_id="c", old_tab_id=None, next_message_id=0)[1:],
    event("event", client_id="a", id=3, listener_id="b", args=['"typed"', None]), event("log", client_id="a", level="error", message="x"),
    event("javascript_response", client_id="a", request_id="b", result=[1]), event("javascript_response", client_id="a", request_id="b"),
)  # fmt: skip
GARBAGE = (
    '51000000000-["a"]', '51-["a",{"_placeholder":true,"num":0}]', "2" + "[" * 900 + "]" * 900, "2" + "[" * 50_000, "2" + "9" * 5000,
    "2" + "9" * 5000 + '["event",{}]', '2["event",{}]', '2["event",[]]', '2["event"]', '2["nothing",{}]', "2[]", "2{}", "2", "", "7", "3[1]",
    '0[1]', '0/other,', "4{}", '2["ack",{"client_id":"a"}]', '2["ack",{"client_id":[],"next_message_id":1}]', '2["handshake",{"client_id":"a"}]',
    event("event", client_id="a", id=[], listener_id="b", args=[]), event("event", client_id="a", id=3, listener_id="b", args=["{"]),
    event("event", client_id="a", id=3, listener_id="b", args=[7]), event("log", client_id="a", level="loud", message="x"),
    event("handshake", client_id="a", tab_id="b", document_id="c", next_message_id="x"), '2["event",{"client_id":"\\ud83d"}]',
)  # fmt: skip
NO_FRAMES = ("", "x", "9", "4", "bAB", "b!", "0", "4" + "[" * 50_000, "3" + "[" * 50_000, "4\u00b2")
# Sends each through a socket of its own: after the packet that connects, where the query does not say what page it is.
SEND = """async ([path, queries, frames]) => {
  for (const query of queries)
    for (const frame of frames) {
      const socket = new WebSocket(path + query);
      const next = () => new Promise((done, wrong) => { socket.onmessage = done; socket.onerror = wrong; });
      await next();
      if (!query) { socket.send("40"); await next(); }
      socket.send(frame);
      socket.send(new Uint8Array([0, 1]));
      const over = new Promise(done => { socket.onclose = done; });
      socket.close();
      await over;
    }
}"""


def test_what_a_page_says_is_understood_and_nothing_else() -> None:
    assert [said for said in FAIR if not understood(said)] == []
    assert [said[:40] for said in GARBAGE if understood(said)] == []
    assert not understood(b"\x04abc")
    assert [said[:9] for said in NO_FRAMES if is_frame({"type": "websocket.receive", "text": said})] == []
    assert not is_frame({"type": "websocket.receive", "bytes": b"4"})
    for said in ("2probe", "5", "3", "1", *("4" + said for said in FAIR)):
        assert is_frame({"type": "websocket.receive", "text": said})
    assert is_frame({"type": "websocket.disconnect", "code": 1006})
    assert understood("0", PAGE)
    for left_out in ("client_id", "tab_id", "document_id"):
        assert not understood("0", PAGE.replace(left_out, "x"))
    assert not understood("0", PAGE.replace("=0", "=zero"))


def test_garbage_with_a_cookie_shows_no_insides_and_the_workbench_goes_on(
    bench: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    running = bench()
    page = tab(running.url + "/survey/adapter/0")
    queries = ("", "&implicit_handshake=true", f"&{PAGE.replace('=0', '=zero')}")
    frames = [*("4" + said for said in GARBAGE), *NO_FRAMES]
    page.evaluate(SEND, [PATH.replace("/_", running.url.replace("http", "ws") + "/_") + "websocket", queries, frames])
    for posted in (b"4" + b"[" * 50_000, b"x", b"b!"):
        opened = json.loads(running.ask(PATH + "polling").read()[1:])
        with contextlib.suppress(HTTPError):
            running.ask(f"{PATH}polling&sid={opened['sid']}", posted).close()
    page.locator("#f-adapter-0-thickness").fill("13 mm")
    page.locator("#f-adapter-0-thickness").press("Enter")
    until(lambda: '"13 mm"' in running.text)
    running.process.terminate()
    said = running.process.stdout.read()
    assert "Traceback" not in said, said
    assert "Error" not in said, said
    assert NO_MESSAGE in said
