"""How fast the power room is: python -m benchmarks power

Limits: 40 cables with their fuses in a tree of three levels within 100 ms (half of what a job of 40 cables and 200
wires has); one cable within 10 ms.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from backwave.power import CableRun, Supply, SupplyBranch, SupplyLoad, choose_cable, peak_voltage, supply_tree

VAN = Supply(12.6, 60, 0.008, 90, 45, 32)
RUN = CableRun(1.5, 0.5, insulation_degc=105, ambient_degc=60)


def tree() -> list[SupplyBranch]:
    """Four mains, each with a distribution point for eight loads and one more level for two: 44 branches."""
    branches = []
    for k in range(4):
        branches.append(SupplyBranch(f"main{k}", RUN))
        branches += [
            SupplyBranch(f"load{k}-{j}", RUN, SupplyLoad(f"amp{k}-{j}", 5.0 + j, 2, 4), f"main{k}") for j in range(8)
        ]
        branches.append(SupplyBranch(f"far{k}", RUN, None, f"main{k}"))
        branches.append(SupplyBranch(f"end{k}", RUN, SupplyLoad(f"end{k}", 20, 1, 4, regulated=True), f"far{k}"))
    return branches


def best(run: Callable[[], object], times: int = 9) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> int:
    branches = tree()
    done = supply_tree(branches, VAN)
    rows = [
        (f"{len(branches)} branches: cables and fuses, ms", best(lambda: supply_tree(branches, VAN)) * 1e3, 100.0),
        ("  their voltages at a peak, ms", best(lambda: peak_voltage(done, branches, VAN)) * 1e3, 20.0),
        ("one cable, ms", best(lambda: choose_cable(RUN, 50, 60)) * 1e3, 10.0),
    ]
    for name, value, limit in rows:
        print(f"{name:78} {value:8.2f}  limit {limit:g}  {'ok' if value <= limit else 'OVER'}")
    return int(any(value > limit for _, value, limit in rows))


if __name__ == "__main__":
    raise SystemExit(main())
