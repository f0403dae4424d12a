"""How fast the network room is, as ratios in one run: python -m benchmarks.bench_network

Limits: 20 nodes at 2,000 frequencies within 40 ms and 2.5 times the bare batched solve; within 5 times
ngspice's analysis time; 1,000 draws at 500 frequencies within 3 s; all sensitivities within 2.5 times a solve.
"""

from __future__ import annotations

import re
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from backwave.network import Network, Probe, tolerance_draws
from backwave.network.circuit import netlist
from backwave.uncertainty import Error
from tests.network.ngspice import analyse


def ladder(count: int) -> Network:
    """A line of `count` nodes: at each a coil in series, capacitor and resistor across; now and then a bridge."""
    n = Network()
    n.voltage("source", "n1", "0")
    for k in range(2, count + 1):
        n.inductor(f"L{k}", f"n{k - 1}", f"n{k}", 1e-4 * (1 + k / 7), 0.1)
        n.capacitor(f"C{k}", f"n{k}", "0", 1e-5 * (1 + k / 5))
        n.resistor(f"R{k}", f"n{k}", "0", 50.0 + k)
        if k > 3 and k % 3 == 0:
            n.resistor(f"B{k}", f"n{k}", f"n{k - 3}", 200.0)
    return n


def best(run: Callable[[], object], times: int = 15) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def ngspice_analysis(n: Network, points: int) -> tuple[float, float]:
    """Seconds of ngspice's own analysis, as it reports them, and of its whole process."""
    with tempfile.TemporaryDirectory() as folder:
        text = netlist(n) + ".options acct\n"
        start = time.perf_counter()
        _, _, said = analyse(text, ["v(1)"], f"lin {points} 20 20000", Path(folder))
        whole = time.perf_counter() - start
    match = re.search(r"Total analysis time \(seconds\) = ([\d.e+-]+)", said)
    if match is None:
        raise RuntimeError(f"ngspice reported no analysis time:\n{said}")
    return float(match[1]), whole


def main() -> int:
    n, f = ladder(20), np.geomspace(20, 20000, 2000)
    s = n.solve(f)
    m, b = s.system.matrix(), s.system.excitation()[:, :, None]
    solve, bare = best(lambda: n.solve(f)), best(lambda: np.linalg.solve(m, b))
    out = Probe("v", "n20")
    slopes = best(lambda: s.sensitivity(out))
    own, whole = min(ngspice_analysis(n, 2000) for _ in range(15))
    g = np.geomspace(20, 20000, 500)
    t = n.solve(g)
    spread = {e.name: Error(e.name, "rectangular", 0.1) for e in n.elements if e.name[0] in "LC"}
    few = dict(list(spread.items())[:10])
    draws_few = best(lambda: tolerance_draws(t, out, few, 1000), 2)
    draws_all = best(lambda: tolerance_draws(t, out, spread, 1000), 1)
    rows = [
        ("20 nodes, 2,000 frequencies, ms", solve * 1e3, 40.0),
        ("  against the bare batched solve", solve / bare, 2.5),
        (f"  against ngspice's analysis ({own * 1e3:.0f} ms; whole process {whole * 1e3:.0f} ms)", solve / own, 5.0),
        ("all sensitivities against a solve", slopes / solve, 2.5),
        ("1,000 draws of 10 parts, 500 frequencies, s", draws_few, 3.0),
        (f"1,000 draws of all {len(spread)} parts, 500 frequencies, s", draws_all, None),
    ]
    for name, value, limit in rows:
        verdict = "" if limit is None else f"limit {limit:g}  {'ok' if value <= limit else 'OVER'}"
        print(f"{name:78} {value:8.2f}  {verdict}")
    return int(any(limit is not None and value > limit for _, value, limit in rows))


if __name__ == "__main__":
    raise SystemExit(main())
