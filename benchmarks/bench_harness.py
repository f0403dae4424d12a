"""How fast a harness is, and how many mutations its checks catch: python -m benchmarks harness [HARNESSES]

Limits: 200 wires generated, checked and listed within 200 ms; their diagram within 1 s; one wire changed, and checked
again, within 100 ms; over 99 % of single mutations caught.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

from backwave.assess.power.results import Harnessed
from backwave.drawing.harness import harness_svg
from backwave.power.harness import Harness, Lead, PathSpec, Plug, cut_list, faces, labels, schedule
from backwave.power.harness_build import harness_of
from backwave.power.harness_check import check_harness
from tests.power.test_harness_mutation import TWEETER, WOOFER, score


def large() -> Harness:
    """Eleven outputs a side, each with a plugged woofer and a tweeter behind one crossover; supply leads."""
    paths = [
        PathSpec(f"amp{n // 4}", f"{n % 4 + 1} {side}", "demo", f"{kind}{n}", side, kind=kind, network=net, plug=plug, boot=True)
        for n in range(11)
        for side in ("left", "right")
        for kind, net, plug in (("woofer", WOOFER, Plug(f"plug{n}-{side}")), ("tweeter", TWEETER, None))
    ]  # fmt: skip
    leads = [Lead("block", f"+{n}", f"amp{n}", "supply", 1.0, 10, 40, 90) for n in range(3)]
    leads += [Lead(f"amp{n}", f"ground {k}", "body", f"-{n}.{k}", 1.0, 10) for n in range(3) for k in range(7)]
    return harness_of(paths, (), leads)


def shown(made: Harness) -> Harnessed:
    return Harnessed(made, tuple(schedule(made)), (), (), (), (), (), True)


def best(run: Callable[[], object], times: int = 5) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> int:
    made = large()

    def whole() -> object:
        harness = large()
        return check_harness(harness), schedule(harness), cut_list(harness), labels(harness), faces(harness)

    def edit() -> object:
        return check_harness(replace(made, wires=(*made.wires[1:], replace(made.wires[0], length_m=2.0))))

    count = len(made.wires)
    rows = [
        (f"{count} wires: generated, checked, listed, ms", best(whole) * 1e3, 200.0),
        ("  one of them changed, ms", best(edit) * 1e3, 100.0),
        ("  their diagram, ms", best(lambda: harness_svg(shown(made), "")) * 1e3, 1000.0),
    ]
    for name, value, limit in rows:
        print(f"{name:78} {value:8.2f}  limit {limit:g}  {'ok' if value <= limit else 'OVER'}")
    harnesses = int(sys.argv[-1]) if sys.argv[-1].isdecimal() else 300
    tried, same, caught, missed = score(2, harnesses, 12)
    for kind in ("swap", "remove", "duplicate"):
        counted = tried[kind] - same[kind]
        print(f"{harnesses} random harnesses, {kind}: {caught[kind]} of {counted} caught, {same[kind]} of {tried[kind]} change nothing")  # fmt: skip
    share = sum(caught.values()) / max(sum((tried - same).values()), 1)
    print(f"{'mutation score, %':78} {100 * share:8.3f}  limit 99  {'ok' if share > 0.99 else 'UNDER'}")
    for words in missed[:5]:
        print("  missed", words)
    return int(any(value > limit for _, value, limit in rows) or share <= 0.99)


if __name__ == "__main__":
    raise SystemExit(main())
