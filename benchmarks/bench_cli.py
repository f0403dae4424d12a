"""Processor time of commands in a new process, by that of `import numpy` in the same run; an edit; memory.

Code is compiled beforehand, as it is once a package is installed: a machine that is told to keep no compiled code
(PYTHONDONTWRITEBYTECODE) would count compiling ours at every start, and numpy's never."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from backwave.assess import Memo, assess
from backwave.job import load, loads, toml_edit

TIMES = 9
DEMO = Path(__file__).parents[1] / "src/backwave/cli/demo_job"


def _worked_s(command: list[str], compiled: str) -> float:
    """Processor time of a new process; compiled code is kept in the folder."""
    given = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    started = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=given | {"PYTHONPYCACHEPREFIX": compiled})
    used = os.wait4(started.pid, 0)[2]
    return used.ru_utime + used.ru_stime


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
    commands = {
        "import numpy": (1.0, ["-c", "import numpy"]), "backwave --help": (3.0, ["-m", "backwave", "--help"]),
        "backwave predict, demo": (8.0, ["-m", "backwave", "predict", str(DEMO), "--json"]),
        "backwave check, demo": (10.0, ["-m", "backwave", "check", str(DEMO), "--json"]),
    }  # fmt: skip
    took: dict[str, list[float]] = {words: [] for words in commands}
    with TemporaryDirectory() as compiled:
        for time_ in range(TIMES + 1):  # one after the other, so that whatever else the machine does meets all of them
            for words, (_, command) in commands.items():
                used = _worked_s([*python, *command], compiled)
                took[words] += [used] if time_ else []  # the first compiles
    for words, (limit, _) in commands.items():
        found, ratio = min(took[words]), median(took[words]) / median(took["import numpy"])
        said = "ok" if ratio <= limit else "MISSED"
        print(f"  {words:28} {found:6.3f} s of work, {ratio:4.1f} times `import numpy` (limit {limit:g}): {said}")
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
