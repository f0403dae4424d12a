"""Random doors against a reference of its own and an outside kernel: python -m benchmarks mounting [DOORS]

Mountable by the reference (`tests/random_doors.py`): at least 95 % are ok, none is a stop.  What is ok is built, and speaker and
screws, as solids of manifold3d, are clear of it (`tests/solids_clear.py`).
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np

from backwave.assess import Memo, assess, budgets
from backwave.job import loads
from tests.random_doors import mountable, random_door, written
from tests.solids_clear import overlaps


def main() -> None:
    """Try so many doors that the reference calls mountable, and build those that are ok."""
    budgets.FIT_S = 600.0  # how busy the machine is is not what is tried here
    wanted = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 30
    verdicts: Counter[str] = Counter()
    codes: Counter[str] = Counter()
    solids, wrong, seed, memo = 0, [], 0, Memo()
    while sum(verdicts.values()) < wanted:
        seed += 1
        rng = np.random.default_rng(100_000 + seed)
        door = random_door(rng)
        job = loads(written(door, rng))
        result = assess(job, memo, draws=2_000)
        if mountable(door):
            verdicts[result.verdict] += 1
            if not sum(verdicts.values()) % 50:
                print(
                    f"  {dict(verdicts)} of {seed} doors; ok and clear as solids: {solids - len(wrong)} of {solids}",
                    flush=True,
                )
            codes.update({f.check.code for f in result.findings if f.check.verdict != "ok"})
        if result.verdict == "ok":
            solids += 1
            if found := overlaps(result.places[0], job.file.speaker[0]):
                wrong.append((seed, found))
                print(f"  seed {seed}: {found}", flush=True)
    share = verdicts["ok"] / wanted
    print(
        f"  mountable by the reference: {wanted} of {seed} doors; of them ok {100 * share:.1f} % (at least 95), stop {verdicts['stop']} (none)"
    )
    print(f"  what was found on the others: {dict(codes.most_common())}")
    print(f"  ok, built, and clear as solids: {solids - len(wrong)} of {solids}")
