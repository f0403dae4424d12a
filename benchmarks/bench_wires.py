"""How fast the wires of a whole job are: python -m benchmarks wires

Limits: a job of 40 cables and 200 wires within 200 ms, from its tables to currents, cables, fuses, harness, lists and
findings; one edit of it within 100 ms; its diagram within 1 s.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from backwave.assess import Memo
from backwave.assess.power.harness import harnessed
from backwave.assess.power.results import Harnessed, Wires
from backwave.assess.power.supply import wires_of
from backwave.drawing.harness import harness_svg
from backwave.finding import Ledger
from backwave.job import Job, loads
from backwave.job.place import places

OPENINGS, AMPS, BLOCKS = 6, 35, 5


def text(length_m: float = 3.4) -> str:
    """A job of 40 supply cables and 200 wires and more."""
    rows = ['format = 1\ntitle = "Many wires"\n[supply]\nbattery = { voltage = "12.6 V", resistance = "8 mohm" }']
    for n in range(OPENINGS):
        rows.append(
            f'[[opening]]\nid = "door{n}"\nsides = ["left", "right"]\nzone = "door"\nhole = {{ diameter = "143.5 mm" }}'
        )
        rows.append(
            f'[[plug]]\nid = "plug{n}"\nopening = "door{n}"\npin = [{{ number = "1", carries = "+", color = "GY/RD" }}, '
            '{ number = "2", carries = "-", color = "GY/BK" }]'
        )
        rows.append(f'[[speaker_cable]]\nopening = "door{n}"\nlength = "{length_m if n == 3 else 3.4} m"')
    rows.append(
        '[[speaker]]\nid = "woofer"\nkind = "woofer"\nrated = "4 ohm"\n[[speaker]]\nid = "tweeter"\nkind = "tweeter"\nrated = "4 ohm"'
    )
    rows += [f'[[distribution]]\nid = "block{n}"\nfeed = {{ length = "4 m" }}' for n in range(BLOCKS)]
    for n in range(AMPS):
        rows.append(f'[[source]]\nid = "amp{n}"\nkind = "amplifier"\npower = "4 x 40 W into 4 ohm"')
        rows.append(
            f'[[load]]\nid = "amp{n}"\nfrom = "block{n % BLOCKS}"\nfeed = {{ length = "0.5 m" }}\nfuses = ["10 A"]'
        )
    paths = []
    for n in range(OPENINGS):
        at = f'source = "amp{n}", channel = "1", opening = "door{n}"'
        paths.append(f'{{ {at}, speaker = "woofer", network = ["series L 0.4 mH 0.2 ohm", "shunt C 10 uF"] }}')
        paths.append(f'{{ {at}, speaker = "tweeter", network = ["series C 10 uF", "shunt L 0.27 mH 0.15 ohm"] }}')
    rows.append('[[stage]]\nid = "all"\npath = [' + ", ".join(paths) + "]")
    return "\n\n".join(rows) + "\n"


def work(job: Job, memo: Memo) -> tuple[Wires, Harnessed]:
    """Supply and harness of a job."""
    ledger = Ledger({})
    here = {place.subject: place for place in places(job)}
    supply = wires_of(job, ledger, memo)
    assert supply is not None
    made = harnessed(job, here, {}, supply, ledger, memo)
    assert made is not None
    return supply, made


def timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return (time.perf_counter() - start) * 1e3


def main() -> int:
    jobs = [loads(text(3.4 + n / 10)) for n in range(4)]
    work(jobs[0], Memo())  # tables and libraries are loaded once
    supply, made = work(jobs[0], Memo())
    memo = Memo()
    first = min(timed(lambda: work(jobs[0], Memo())) for _ in range(3))
    work(jobs[0], memo)
    edit = min(timed(lambda job=job: work(job, memo)) for job in jobs[1:])  # type: ignore[misc]
    drawn = min(timed(lambda: harness_svg(made, "")) for _ in range(3))
    cables, wires = len(supply.tree.nodes), len(made.harness.wires)
    rows = [
        (f"{cables} cables, {wires} wires, ms", first, 200.0),
        ("  one length changed, ms", edit, 100.0),
        ("  its diagram, ms", drawn, 1000.0),
    ]
    for name, value, limit in rows:
        print(f"{name:78} {value:8.2f}  limit {limit:g}  {'ok' if value <= limit else 'OVER'}")
    return int(any(value > limit for _, value, limit in rows))
