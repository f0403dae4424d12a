"""Commands in a new process, against Python's own start with numpy; an edit in a running one; memory."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from backwave.assess import Memo, assess
from backwave.job import load, loads, toml_edit

DEMO = Path(__file__).parents[1] / "src/backwave/cli/demo_job"


def _best(command: list[str], times: int = 5) -> float:
    found = []
    for _ in range(times):
        started = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True)
        found.append(time.perf_counter() - started)
    return min(found)


def _edited(memo: Memo) -> float:
    """One value after another, each assessed anew; median of twenty."""
    text, found = (DEMO / "job.toml").read_text(encoding="utf-8"), []
    for tenths in range(360, 380):
        changed = toml_edit.with_key(text, "opening.cargo-wall.trim.clear", f"{tenths / 10 - 7:g} mm")
        started = time.perf_counter()
        assess(loads(changed), memo)
        found.append(time.perf_counter() - started)
    return sorted(found)[len(found) // 2]


def main() -> None:
    """Print each measure with its limit and its ratio to the baseline of the same run."""
    python = [sys.executable]
    bare = _best([*python, "-c", "import numpy"])
    print(f"  baseline: a new Python that imports numpy    {bare:6.3f} s")
    for words, limit, command in (
        ("backwave --help", 0.3, [*python, "-m", "backwave", "--help"]),
        ("backwave check, demo, in a new process", 1.0, [*python, "-m", "backwave", "check", str(DEMO), "--json"]),
    ):
        took = _best(command)
        print(f"  {words:44} {took:6.3f} s, limit {limit} s, {took / bare:4.1f} times the baseline")
    memo = Memo()
    job = load(DEMO)
    started = time.perf_counter()
    assess(job, memo)
    whole = time.perf_counter() - started
    one = _edited(memo)
    print(f"  {'whole assessment, first time':44} {whole:6.3f} s")
    print(f"  {'one edited value, read and assessed':44} {one:6.3f} s, limit 0.05 s, {one / whole:4.2f} of the whole")
    with TemporaryDirectory() as folder:
        made = subprocess.run([*python, "-m", "backwave", "demo", folder], capture_output=True, check=True)
        parts = json.loads((Path(folder) / "made/manifest.json").read_text(encoding="utf-8"))["parts"]
    del made
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(
        f"  {f'largest process while making {len(parts)} parts':44} {peak:6.0f} MiB, limit 1024 MiB (two workers at once)"
    )


if __name__ == "__main__":
    main()
