"""Changes that are offered on spoiled random doors, each written into the job and judged again: python -m benchmarks remedies [DOORS]"""

from __future__ import annotations

import sys

import numpy as np

from backwave.assess import Memo, assess, budgets
from backwave.job import loads
from tests.random_doors import random_door, spoiled, written
from tests.remedies_work import faults


def main() -> None:
    """What it stands under is better, by what was said, and nothing new is a stop."""
    budgets.FIT_S = 600.0  # how busy the machine is is not what is tried here
    wanted = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 30
    offered, wrong, with_any, memo = 0, 0, 0, Memo()
    for seed in range(600_000, 600_000 + wanted):
        rng = np.random.default_rng(seed)
        door = random_door(rng)
        text = spoiled(door, written(door, rng), rng)
        count, found = faults(assess(loads(text), memo, draws=2_000), text, memo, 2_000)
        offered, wrong, with_any = offered + count, wrong + len(found), with_any + bool(count)
        for one in found:
            print(f"  seed {seed}: {one}", flush=True)
    print(f"  {offered} changes offered on {with_any} of {wanted} spoiled doors; wrong {wrong} (none)")
