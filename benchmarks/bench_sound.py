"""The signal path: the demo's predictions in a new process and after one edit; one output solved."""

from __future__ import annotations

import subprocess
import sys
import time
from importlib.resources import files
from statistics import median

import numpy as np

from backwave.assess import Memo, assess
from backwave.job import loads
from backwave.sound.driver import Unit, from_parameters
from backwave.sound.enclosures import InBox
from backwave.sound.output_network import Load, channel_response

__all__ = ["main"]


def main() -> None:
    """One line a measure."""
    demo = files("backwave.cli") / "demo_job" / "job.toml"
    text = demo.read_text(encoding="utf-8")
    command = [sys.executable, "-m", "backwave", "predict", str(demo), "--json"]
    whole = median(_timed(lambda: subprocess.run(command, capture_output=True, check=True)) for _ in range(5))
    bare = median(_timed(lambda: subprocess.run([sys.executable, "-c", "import numpy"], check=True)) for _ in range(5))
    print(
        f"  predict, new process          {whole * 1e3:7.0f} ms   {whole / bare:5.1f} times `import numpy`   limit 1000 ms"
    )
    memo = Memo()
    first = _timed(lambda: assess(loads(text), memo, draws=2_000))
    edits = []
    for k in range(9):
        changed = loads(text.replace("peak 160 Hz -3 dB", f"peak 160 Hz -{3 + k / 10:.1f} dB"))
        edits.append(_timed(lambda job=changed: assess(job, memo, draws=2_000)))
    print(
        f"  predict after one edit        {median(edits) * 1e3:7.0f} ms   {median(edits) / first:5.2f} of the first      limit 100 ms"
    )
    driver = from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})
    load, f = Load(Unit(driver, le_henry=3e-4), InBox(8e-3, leak_q=10.0)), np.geomspace(10, 20_000, 265)
    alone = median(_timed(lambda: channel_response(f, 0.1, (load,), spread=False)) for _ in range(15))
    spread = median(_timed(lambda: channel_response(f, 0.1, (load,))) for _ in range(15))
    print(f"  one output with its variations{spread * 1e3:7.1f} ms   {spread / alone:5.2f} times without")


def _timed(work) -> float:  # type: ignore[no-untyped-def]
    started = time.perf_counter()
    work()
    return time.perf_counter() - started
