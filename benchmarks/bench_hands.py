"""Two and three processes on one job, each with keys of its own and one that all set: python -m benchmarks hands [EDITS]

Before: 73 of 180 edits vanished without a word as fast as they went, 16 of 120 at two a second with 1,000 words.
Limit: none lost.  A value that all set is a conflict that has to be asked or refused, or the last one that saw it.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
import tomllib
from pathlib import Path

from benchmarks.bench_edits import EXAMPLE

HAND = """
import sys, time
from pathlib import Path
from backwave.errors import JobError
from backwave.job import disk, load
from backwave.job.session import Session
folder, name, kind, count, pace = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4]), float(sys.argv[5])
page = Session(folder, delay_s=min(0.4, pace)) if kind == "page" else None
kept = asked = 0
for n in range(count):
    end = time.monotonic() + pace
    if page is None:
        read = load(folder)
        disk.update(folder, [(("instruments", f"{name}-{n}"), "1 mm")])
        try:
            disk.update(folder, [(("title",), f"{name} {n}")], on=read)
        except JobError:
            asked += 1
    else:
        assert page.set(("instruments", f"{name}-{n}"), "1 mm") == ()
        page.poll()
        if n % 10 == 9:
            page.flush()
            page.set(("title",), f"{name} {n}")
        while (page.poll() or True) and time.monotonic() < end:
            if page.conflict is not None:
                asked += 1
                page.resolve("theirs")  # as a person might, and typed again
                page.set(("instruments", f"{name}-{n}"), "1 mm")
            time.sleep(min(0.05, pace))
if page is not None:
    while not page.saved:
        try:
            page.flush()
        except OSError:
            time.sleep(0.05)
        if page.conflict is not None:
            asked += 1
            page.resolve("mine")
print(asked)
"""


def together(kinds: tuple[str, ...], count: int, pace_s: float) -> tuple[int, int, int]:
    """Edits, lost ones, and conflicts asked."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        (folder / "job.toml").write_text(EXAMPLE, encoding="utf-8")
        hands = [
            subprocess.Popen([sys.executable, "-c", HAND, made, f"hand{k}", kind, str(count), str(pace_s)], stdout=subprocess.PIPE, text=True)
            for k, kind in enumerate(kinds)
        ]  # fmt: skip
        asked = sum(int(hand.communicate()[0]) for hand in hands)
        held = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))["instruments"]
        kept = [tomllib.loads(p.read_text(encoding="utf-8"))["instruments"] for p in folder.glob("job.toml.*-*")]
        wanted = [f"hand{k}-{n}" for k in range(len(kinds)) for n in range(count)]
        return len(wanted), sum(all(key not in one for one in (held, *kept)) for key in wanted), asked


def main() -> int:
    count, lost = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 40, 0
    for kinds in (("page", "page"), ("page", "command"), ("command", "command"), ("page", "page", "command")):
        for pace_s in (0.0, 0.25):
            start = time.perf_counter()
            edits, gone, asked = together(kinds, max(1, count // len(kinds)), pace_s)
            lost += gone
            print(
                f"  {' + '.join(kinds)}, {'one each 0.25 s' if pace_s else 'as fast as they go'}: {edits} edits, "
                f"{gone} lost (limit 0), {asked} conflicts asked, {time.perf_counter() - start:.0f} s"
            )
    return lost


if __name__ == "__main__":
    sys.exit(min(1, main()))
