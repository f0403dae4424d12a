"""Job files that nobody would write, as many as there is time for: what became of each, and the smallest that failed.

    python -m benchmarks fuzz [--loads 100000] [--checks 2000] [--seed 0] [--keep FOLDER]

Every case runs in a process of its own group with a limit of time and of memory; one that hangs is ended, counted and
the next begins behind it.  Counts are kept in the folder, so that the same
command goes on where it was stopped; without one they go with the run.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing as mp
import resource
import tempfile
from multiprocessing.connection import Connection
from pathlib import Path

from tests.fuzz.mutators import DEMO, mutated
from tests.fuzz.trial import tried_load, tried_whole

HANG_S = {"loads": 20.0, "checks": 120.0}
MEMORY = 3 * 2**30
FINE = ("job", "JobError", "verdict", "given up")
AT_ONCE = 50  # results between two notes of how far it is


def worker(kind: str, first: int, end: int, out: Connection) -> None:
    """Try one seed after the other and send (seed, kind, seconds, letters)."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    for seed in range(first, end):
        text = mutated(seed, near=kind == "checks")
        if kind == "loads":
            outcome = tried_load(text)[0]
        else:
            outcome = tried_whole(text, DEMO, drawn=seed % 4 == 0)
        out.send((seed, outcome.kind, outcome.seconds, len(text)))
    out.send(None)


def run(kind: str, first: int, count: int, keep: Path) -> dict[str, dict[str, int]]:
    """Try the seeds of one kind that were not tried yet; the counts of all of them."""
    notes = keep / f"{kind}-{first}.json"
    state = json.loads(notes.read_text()) if notes.exists() else {"next": first, "found": {}}

    def counted(seed: int, what: str, letters: int) -> None:
        row = state["found"].setdefault(what, {"count": 0, "seed": seed, "letters": letters})
        row["count"] += 1
        if letters <= row["letters"]:
            row.update(seed=seed, letters=letters)
            if what not in FINE:
                name = "".join(c if c.isalnum() else "-" for c in what)[:60]
                text = mutated(seed, near=kind == "checks")
                (keep / f"{kind}-{name}.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
        state["next"] = seed + 1

    while state["next"] < first + count:
        here, there = mp.Pipe(duplex=False)
        process = mp.get_context("spawn").Process(target=worker, args=(kind, state["next"], first + count, there))
        process.start()
        there.close()
        try:
            while here.poll(HANG_S[kind]) and (got := here.recv()) is not None:
                counted(got[0], got[1], got[3])
                if got[0] % AT_ONCE == 0:
                    notes.write_text(json.dumps(state))
                    print(f"\r{kind} {state['next'] - first} of {count}", end="", flush=True)
            if state["next"] < first + count:
                counted(state["next"], "hang", len(mutated(state["next"], near=kind == "checks")))
        except EOFError:  # ended from outside: no memory
            counted(state["next"], "ended", len(mutated(state["next"], near=kind == "checks")))
        process.kill()
        process.join()
        notes.write_text(json.dumps(state))
    return state["found"]


def main() -> None:
    """Try them and print what became of them."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks fuzz")
    parser.add_argument("--loads", type=int, default=2_000)
    parser.add_argument("--checks", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_known_args()[0]
    with tempfile.TemporaryDirectory() as scratch:
        keep = asked.keep or Path(scratch)
        keep.mkdir(parents=True, exist_ok=True)
        for kind, count in (("loads", asked.loads), ("checks", asked.checks)):
            found = run(kind, asked.seed, count, keep) if count else {}
            print(f"\r{kind}: {sum(row['count'] for row in found.values()):,} tried")
            for what, row in sorted(found.items(), key=lambda item: -item[1]["count"]):
                smallest = "" if what in FINE else f"   seed {row['seed']}, {row['letters']} letters"
                print(f"  {row['count']:8,}  {what}{smallest}")
