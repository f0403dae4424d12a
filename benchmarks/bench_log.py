"""What a word and a saved edit cost with a long log: python -m benchmarks log

Each beside the same thing with ten words in the log, in the same run: a word from a phone taken into the log, an edit
saved, the list shown to a phone after a word, the whole log read by a process that begins.  Limit for the first two:
three times.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from types import SimpleNamespace
from typing import Any, cast

from backwave.assess import assess
from backwave.bench.board import Board
from backwave.bench.work_sync import WorkSync
from backwave.job import Session, load, log

DEMO = Path(__file__).resolve().parents[1] / "src/backwave/cli/demo_job"
COUNTS = (10, 1_000, 10_000)
RUNS = 15
LIMIT = 3.0


def word(n: int) -> dict[str, Any]:
    """A word of a phone: ticks and rows of the shopping list said again and again, notes of their own."""
    kind = ("tick", "item", "note")[n % 3]
    about = {"tick": {"done": True}, "item": {"have": True}, "note": {"text": "Two screws behind the cap", "count": 2}}
    id_ = f"n-{n}" if kind == "note" else f"{kind}-{n % 60}"
    when = f"2026-03-{1 + n // 1440:02d}T{n // 60 % 24:02d}:{n % 60:02d}:00.000Z"
    return {"kind": kind, "id": id_, "key": f"carcar-{n:08d}", "when": when, "by": "helper", **about[kind]}


def main() -> None:
    """Print one line for each length of the log and each thing done with it."""
    job = load(DEMO)
    result = assess(job, draws=500)
    first: dict[str, float] = {}
    for count in COUNTS:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "van"
            shutil.copytree(DEMO, folder)
            session = Session(folder, delay_s=0)
            board = SimpleNamespace(folder=folder, session=session, result=result)
            sync = WorkSync(cast(Board, board))
            for start in range(0, count, 500):
                sync.take([word(n) for n in range(start, min(start + 500, count))])
            sync.shown("carcar")

            def say(n: int) -> None:
                assert sync.take([word(count + n)])["taken"]  # noqa: B023

            def edit(n: int) -> None:
                assert session.set(("title",), f"A van, {n}") == ()  # noqa: B023
                session.flush()  # noqa: B023

            def show(n: int) -> None:
                sync.take([word(count + RUNS + n)])  # noqa: B023
                assert sync.shown("carcar")["tasks"]  # noqa: B023

            def begin(_: int) -> None:
                log._KNOWN.clear()
                log.read(folder)  # noqa: B023

            for label, work, limit in (
                ("a word", say, LIMIT), ("a saved edit", edit, LIMIT), ("a word and the list", show, 0), ("the log read anew", begin, 0),
            ):  # fmt: skip
                mid = _ms(work)
                ratio = mid / first.setdefault(label, mid)
                verdict = f" (limit {limit:g}): {'ok' if ratio <= limit else 'MISSED'}" if limit else ""
                print(
                    f"  {label} at {count} words: {mid:.1f} ms, {ratio:.1f} x that at {COUNTS[0]}{verdict}", flush=True
                )


def _ms(work: Callable[[int], None]) -> float:
    times = []
    for n in range(RUNS):
        start = time.perf_counter()
        work(n)
        times.append(time.perf_counter() - start)
    return 1000 * median(times)
