"""How fast the fit is judged, as ratios in one run: python -m benchmarks fit

The yardstick is what cannot be spared: making the draws of every error term with numpy and finding two points of
each clearance's distribution.  Limits: 100,000 draws live within 50 ms, a million within 0.5 s.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from backwave.fit import advise, choose_thickness, judge, layer_heights
from backwave.uncertainty import _unit_draws
from tests.fit.shop import driver, obstacle, opening, stack, terminals


def best(run: Callable[[], object], times: int = 7) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def main() -> int:
    glass = obstacle([(0.0, 58.0), (60.0, 55.0)], 1.0, radius_half=1.0)
    o, d, s = (opening(glass, half=1.0, trim=36.0), driver(half=0.5, terminals=terminals(0.5)), stack(13.4, half=0.1))
    fit = judge(o, d, s)
    doubtful = opening(half=1.0, trim=36.2), driver(half=0.1), stack(13.2)
    in_doubt = judge(*doubtful)
    terms = len({e.name for c in fit.clearances for r, _ in c.slopes for e in r.errors})
    rng = np.random.default_rng(1)

    def yardstick(n: int) -> None:
        draws = [rng.random(n) for _ in range(terms)]
        for values in draws[: len(fit.clearances)]:
            np.partition(values, [n // 40, n - n // 40])

    def fresh() -> None:
        _unit_draws.cache_clear()
        judge(o, d, s)

    live, cold, bare = best(lambda: judge(o, d, s)), best(fresh), best(lambda: yardstick(100_000))
    million, bare_million = best(lambda: judge(o, d, s, draws=1_000_000), 3), best(lambda: yardstick(1_000_000), 3)
    rows = (
        (f"judge, 100,000 draws of {terms} error terms, draws at hand, ms", live * 1e3, 50.0),
        ("  against making the draws and two points of each", live / bare, 4.0),
        ("judge, draws made anew, ms", cold * 1e3, None),
        ("judge, a million draws, s", million, 0.5),
        ("  against making the draws and two points of each", million / bare_million, 4.0),
        ("judge until the ends are known to 0.005 mm, s",
         best(lambda: judge(o, d, s, draws=1_000_000, tolerance_mm=0.005), 2), None),
        ("choose_thickness, ms", best(lambda: choose_thickness(o, d, s, layer_heights(6.0, 0.2))) * 1e3, None),
        ("advise, with its trial by drawing, ms", best(lambda: advise(in_doubt, *doubtful)) * 1e3, None),
    )  # fmt: skip
    for name, value, limit in rows:
        verdict = "" if limit is None else f"limit {limit:g}  {'ok' if value <= limit else 'OVER'}"
        print(f"{name:78} {value:8.2f}  {verdict}")
    return int(any(limit is not None and value > limit for _, value, limit in rows))


if __name__ == "__main__":
    raise SystemExit(main())
