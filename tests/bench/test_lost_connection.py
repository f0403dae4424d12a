"""What is typed while the workbench is away: never called saved, kept in the tab, sent again, asked about where the job moved on."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from typing import Any

from bench.conftest import let_in
from bench.waiting import until

FIELD = "#f-opening-0-trim-clear"
STATE = "document.querySelector('.state').textContent"
AWAY = f"{STATE}.startsWith('no connection: what you type is not kept')"


def typed(page: Any, value: str) -> None:
    page.locator(FIELD).fill(value)
    page.locator(FIELD).press("Enter")


def watched(page: Any) -> None:
    """Notes all that the line at the top says from now on."""
    page.evaluate(f"""() => {{
      window.told = [];
      const note = () => {STATE} === told.at(-1) || told.push({STATE});
      new MutationObserver(note).observe(document.querySelector('.state'), {{ childList: true, characterData: true, subtree: true }});
    }}""")


def cut(page: Any) -> None:
    """As a network that goes: the browser is told, and the socket, which an emulated network leaves open, ends."""
    page.context.set_offline(True)
    page.evaluate("window.socket.io.engine.close()")
    page.wait_for_function(AWAY)


def test_without_network_it_is_kept_and_sent_again(lent: Any, tab: Callable[..., Any]) -> None:
    page = tab(lent.url + "/survey/opening/0", 390)
    cut(page)
    typed(page, "45.5 mm")
    page.wait_for_selector(f"{FIELD}-note:has-text('Not taken yet')")
    assert page.evaluate(AWAY)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert "45.5 mm" not in lent.text
    page.context.set_offline(False)
    until(lambda: 'clear = "45.5 mm"' in lent.text)
    page.wait_for_function(f"{STATE}.startsWith('saved')")
    assert page.locator(FIELD).input_value() == "45.5 mm"


def test_longer_than_the_workbench_waits_for_a_tab(lent: Any, tab: Callable[..., Any]) -> None:
    """The page is built anew: what was typed goes in; where the job says something else by now, a person decides."""
    page = tab(lent.url + "/survey/opening/0")
    cut(page)
    typed(page, "45.5 mm")
    page.context.set_offline(False)
    page.reload()
    until(lambda: '"45.5 mm"' in lent.text)
    page.wait_for_function(f"{STATE}.startsWith('saved')")

    cut(page)
    typed(page, "46.5 mm")
    typed(tab(lent.url + "/survey/opening/0"), "41 mm")
    until(lambda: '"41 mm"' in lent.text)
    page.context.set_offline(False)
    page.reload()
    page.wait_for_selector(f"{FIELD}-note:has-text('the job says “41 mm” here')")
    assert page.locator(FIELD).input_value() == "46.5 mm", "what was typed stays"
    page.wait_for_selector(".state:has-text('not taken: Clear 46.5 mm')")
    page.wait_for_timeout(1000)
    assert '"46.5 mm"' not in lent.text
    page.get_by_role("button", name="Enter it all the same").click()
    until(lambda: '"46.5 mm"' in lent.text)
    page.wait_for_function(f"{STATE}.startsWith('saved')")
    assert page.locator(FIELD).input_value() == "46.5 mm"


def test_never_saved_before_the_workbench_has_answered(
    bench: Callable[..., Any], again: Callable[..., Any], tab: Callable[..., Any]
) -> None:
    """Stopped for a while, slow, and killed."""
    running = bench()
    page = tab(running.url + "/survey/opening/0")
    page.wait_for_function(f"{STATE} === 'saved'")
    watched(page)
    typed(page, "44.5 mm")
    until(lambda: '"44.5 mm"' in running.text)
    page.wait_for_function(f"{STATE} === 'saved'")
    told = page.evaluate("told")
    assert told[0] == "sending …", told
    assert told[1].startswith("saving …"), told  # what stood there before the edit is not shown again

    running.process.send_signal(signal.SIGSTOP)
    try:
        typed(page, "45.5 mm")
        assert page.evaluate(STATE) == "sending …"
        page.wait_for_function(AWAY)
        page.wait_for_selector(f"{FIELD}-note:has-text('Not taken yet')")
    finally:
        running.process.send_signal(signal.SIGCONT)
    until(lambda: '"45.5 mm"' in running.text)
    page.wait_for_function(f"{STATE} === 'saved'")

    os.kill(running.process.pid, signal.SIGKILL)
    running.process.wait()
    page.wait_for_function(AWAY)
    typed(page, "46.5 mm")
    page.wait_for_timeout(300)
    assert page.evaluate(AWAY)
    port = running.url.rpartition(":")[2]
    anew = again(running, "--port", port)
    let_in(page.context)
    until(lambda: '"46.5 mm"' in anew.text)
    page.wait_for_function(f"{STATE} === 'saved'")
