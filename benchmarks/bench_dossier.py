"""How fast the paper is: python -m benchmarks dossier

Limits: the demo's folder within 5 s by command when its parts are made (here without parts); the PDF again within 1 s of
a small edit in a running process, the edit's own computation included; the PDF of twelve openings within 15 s.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from backwave.assess import Memo, assess, with_comparisons
from backwave.assess.work.work_plan import working
from backwave.dossier.context import PageContext
from backwave.dossier.pack import dossier_pdf
from backwave.job import loads
from tests.dossier.conftest import DEMO, TEXT, many, tell


def command() -> float:
    """Seconds of `backwave pack` in a process of its own."""
    with TemporaryDirectory() as name:
        folder = Path(name) / "van"
        shutil.copytree(DEMO, folder)
        (folder / "job.toml").write_text(TEXT, encoding="utf-8")
        started = time.perf_counter()
        line = [sys.executable, "-m", "backwave", "pack", str(folder), "--no-parts", "--date", "2026-03-14"]
        subprocess.run(line, capture_output=True, check=True)
        return time.perf_counter() - started


def edited() -> float:
    """Seconds from a changed delay to the PDF; the median of five."""
    memo, found = Memo(4096), []
    for n in range(6):
        started = time.perf_counter()
        job = loads(TEXT.replace('delay = "1.7 ms"', f'delay = "1.{n}5 ms"'))
        result = with_comparisons(job, assess(job, memo), memo)
        dossier_pdf(PageContext(job, result, working(job, result), "1", "2026-03-14"))
        found.append(time.perf_counter() - started)
    return sorted(found[1:])[2]


def dozen() -> float:
    """Seconds of the PDF of twelve openings."""
    told = tell(many(12))
    started = time.perf_counter()
    dossier_pdf(told)
    return time.perf_counter() - started


def main() -> int:
    over = False
    for name, run, limit in (
        ("the demo's folder by command, s", command, 5.0),
        ("the PDF after a small edit, s", edited, 1.0),
        ("the PDF of twelve openings, s", dozen, 15.0),
    ):
        value = run()
        over |= value > limit
        print(f"{name:60} {value:8.2f}  limit {limit:g}  {'ok' if value <= limit else 'OVER'}")
    return int(over)


if __name__ == "__main__":
    raise SystemExit(main())
