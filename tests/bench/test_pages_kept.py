"""How many pages the workbench keeps of those that nobody looks at, and what they cost."""

from __future__ import annotations

import os
import re
import resource
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from bench.conftest import demo, exchanged

# The command itself, with less patience for a browser that went away; at its end it says how many pages there are.
CODE = """
import sys
from nicegui import Client, app, ui
from backwave.cli import main
run = ui.run
def brief(**options):
    run(**options | {"reconnect_timeout": 4})
ui.run = brief
app.on_shutdown(lambda: print(f"pages: {len(Client.instances)}", flush=True))
main(["open", sys.argv[1], "--port", "0", "--no-show"])
"""


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs /proc")
def test_pages_that_nobody_looks_at_any_longer_go_and_give_their_memory_back(tmp_path: Path, chromium: Any) -> None:
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST")} | {
        "BACKWAVE_SHELF": str(tmp_path / "shelf")
    }
    with subprocess.Popen(
        [sys.executable, "-c", CODE, str(demo(tmp_path / "job"))],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env,
    ) as process:  # fmt: skip
        try:
            assert process.stdout is not None
            found = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", process.stdout.readline())
            assert found
            cookie = exchanged(found[0], process)
            url = found[0].partition("/?")[0]
            name, _, value = cookie.partition("=")

            def memory() -> float:
                pages = int(Path(f"/proc/{process.pid}/statm").read_text(encoding="ascii").split()[1])
                return pages * resource.getpagesize() / 1e6

            def built(count: int) -> None:
                for _ in range(count):
                    asked = urllib.request.Request(url + "/survey/opening/0", headers={"Cookie": cookie})
                    urllib.request.urlopen(asked).read()

            built(30)
            before, calm = memory(), 0
            while calm < 6:  # the job is still being worked out beside: that is no page's memory
                time.sleep(0.5)
                now = memory()
                before, calm = now, calm + 1 if abs(now - before) < 1 else 0
            built(50)
            assert memory() - before < 25, "MB; 1.25 for each page where none goes"

            context = chromium.new_context()
            context.add_cookies([{"name": name, "value": value, "url": url}])
            page = context.new_page()
            for _ in range(27):  # each leaves a page behind whose browser may come back
                page.goto(url + "/survey/job")
                page.wait_for_function("window.did_handshake")
            context.close()
            time.sleep(6)  # past the time they are waited for
            urllib.request.urlopen(urllib.request.Request(url + "/survey/job", headers={"Cookie": cookie})).close()
        finally:
            process.terminate()
        said = process.stdout.read()
    assert "Traceback" not in said, said
    assert "KeyError" not in said, said
    kept = re.search(r"pages: (\d+)", said)
    assert kept, said
    assert int(kept[1]) <= 25, said
