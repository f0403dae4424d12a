"""Random installations as jobs, and what the own walk says of each; counts of where the room differs.

Ampacities are taken to agree to 22 % (the table of `own_walk` against a heat balance), so what lies within that band of a
limit is not counted.  Two kinds: any (wires recorded, fuses there already, thin grounds, plastic bodies, nested
blocks, everything at random), and sound ones, whose every cable this file sizes by its own figures, with margin.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from backwave.assess.memo import Memo
from backwave.assess.power.results import wires_json
from backwave.assess.power.supply import wires_of
from backwave.finding import Ledger
from backwave.job import loads
from backwave.power.protection import Conductor, FittedFuse, Installation, PowerSource, judge
from tests.power.own_walk import Cable, carries_a, most_a, shorted_a

BAND = 1.22
AREAS = (0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95)
# IEC 60228 class 5, largest mohm/m; ISO 8820-3 and -5 breaking capacity, A; IEC 60364-5-52 B.52.17 item 1 of n cables
CLASS_5 = dict(zip(AREAS, (39, 26, 19.5, 13.3, 7.98, 4.95, 3.3, 1.91, 1.21, 0.78, 0.554, 0.386, 0.272, 0.206)))
BREAKS = {"blade": 1000, "large blade": 1000, "strip": 2000, "class T": 20000}
GROUP = {1: 1, 2: 0.8, 3: 0.7, 4: 0.65}
FUSES = (30, 40, 50, 60, 80, 100, 125, 150, 200, 250, 300)


@dataclass
class Run:
    """One branch as it was written into the job."""

    id: str
    parent: str
    length: float
    class_degc: float
    air_degc: float
    bundle: int = 1
    ground_mm2: float | None = None
    ground_m: float | None = None
    recorded_mm2: float | None = None
    load_a: float = 0.0  # by its rating; 0 for a block


@dataclass
class Drawn:
    """A job, what is in it, and the battery."""

    text: str
    runs: dict[str, Run]
    ohm: float | None
    kind: str
    alternator_a: float
    plastic: bool


def _feed(run: Run, size: str, fuse: str) -> str:
    return (
        f'feed = {{ length = "{run.length:.3f} m", insulation = "{run.class_degc:g} degC", ambient = "{run.air_degc:g} degC", '
        f"bundle = {run.bundle}{size}{fuse} }}\n"
    )


def drawn(rng: np.random.Generator, *, sound: bool) -> Drawn:
    """A random installation; a sound one is sized by the own figures, with margin, and everything is entered."""
    plastic = bool(rng.random() < 0.2)
    kind = str(rng.choice(["lead-acid", "agm", "lithium"], p=[0.6, 0.3, 0.1]))
    ohm = float(rng.uniform(0.0065, 0.012)) if sound or rng.random() < 0.6 else None
    alternator = float(rng.uniform(90, 150))
    runs: dict[str, Run] = {}
    blocks = [f"block{k}" for k in range(int(rng.integers(0, 3)))]
    for k, block in enumerate(blocks):
        parent = blocks[k - 1] if k and rng.random() < 0.5 else ""
        runs[block] = _run(rng, block, parent, sound)
    ends = [*blocks, *([""] if not blocks else []), *rng.choice([*blocks, ""], int(rng.integers(0, 2)))]
    for k, parent in enumerate(str(p) for p in ends):
        run = _run(rng, f"amp{k}", parent, sound)
        run.load_a = float(rng.uniform(20, 32)) if sound else float(np.exp(rng.uniform(np.log(2), np.log(120))))
        runs[run.id] = run
    text = ['format = 1\ntitle = "drawn"\n[supply]\n']
    text.append(
        f'body = "{"plastic" if plastic else "steel"}"\nfuse_at = "0.2 m"\ngrounds = 1\napart = true\nsensor = false\nvehicle = "25 A"\n'
    )
    resistance = "" if ohm is None else f', resistance = "{1e3 * ohm:.4f} mohm"'
    text.append(f'battery = {{ kind = "{kind}", capacity = "90 Ah"{resistance} }}\n')
    text.append(f'alternator = {{ current = "{alternator:.1f} A", idle = "70 A" }}\n')
    wires = []
    fuses = _sound_fuses(runs) if sound else {}
    for run in runs.values():
        start = f'[[{"load" if run.load_a else "distribution"}]]\nid = "{run.id}"\n'
        start += f'from = "{run.parent}"\n' if run.parent else ""
        size = fuse = ""
        if sound:
            run.recorded_mm2 = _sound_mm2(run, runs, fuses, plastic)
            style = "class T" if (13.6 / (ohm or 1e-3) + alternator) > 1900 else "strip"
            fuse = f', fuse = "{fuses[run.id]:g} A", style = "{style}"'
        elif rng.random() < 0.4:
            run.recorded_mm2 = float(rng.choice(AREAS[2:]))
        if not sound and rng.random() < 0.3:
            fuse = f', fuse = "{rng.choice(FUSES)} A"'
        if run.recorded_mm2 is not None and rng.random() < 0.5:
            wires.append(
                f'[[wire]]\nid = "w-{run.id}"\nfrom = "{run.parent or "battery"}.to {run.id}"\nto = "{run.id}.supply"\nsize = "{run.recorded_mm2:g} mm2"\n'
            )
        elif run.recorded_mm2 is not None:
            size = f', size = "{run.recorded_mm2:g} mm2"'
        start += _feed(run, size, fuse)
        if run.load_a:
            watts = run.load_a * 0.85 * 14.4 / 4
            start += f'power = "4 x {watts:.3f} W into 4 ohm"\nefficiency = 0.85\n'
            if sound:
                run.ground_m, run.ground_mm2 = run.length if plastic else 0.4, run.recorded_mm2
                start += f'ground = {{ length = "{run.length if plastic else 0.4:.3f} m" }}\n'
            elif rng.random() < 0.4:
                run.ground_m, run.ground_mm2 = float(rng.uniform(0.2, 1)), float(rng.choice(AREAS[2:]))
                start += f'ground = {{ length = "{run.ground_m:.3f} m", size = "{run.ground_mm2:g} mm2" }}\n'
        text.append(start)
    return Drawn("".join([*text, *wires]), runs, ohm, kind, alternator, plastic)


def _run(rng: np.random.Generator, name: str, parent: str, sound: bool) -> Run:
    length = float(rng.uniform(0.3, 1.5 if sound else 6))
    class_degc = float(rng.choice([90, 105, 125] if sound else [70, 90, 105, 125]))
    return Run(name, parent, length, class_degc, float(rng.uniform(20, 60)), 1 if sound else int(rng.integers(1, 4)))


def _sound_fuses(runs: dict[str, Run]) -> dict[str, float]:
    """The first rating above the sum of what is behind, loaded to 80 %; never below those behind it."""

    def asked(run: Run) -> float:
        return run.load_a or sum(asked(r) for r in runs.values() if r.parent == run.id)

    return {run.id: next(f for f in FUSES if f >= asked(run) / 0.8) for run in runs.values()}


def _sound_mm2(run: Run, runs: dict[str, Run], fuses: dict[str, float], plastic: bool) -> float:
    """The least area that stands 1.35 times its fuse with a quarter to spare, and drops little."""

    def depth(r: Run) -> int:
        return 1 + (depth(runs[r.parent]) if r.parent else 0)

    share = 0.02 * 12.6 / 3  # of 3 %, along at most three cables
    for area in AREAS[6:]:
        stands = carries_a(area, run.class_degc, run.air_degc)
        drop = 0.8 * fuses[run.id] * (run.length * (2 if plastic or run.load_a else 1)) * CLASS_5[area] * 1.4e-3
        if stands > 1.35 * 1.25 * fuses[run.id] and drop < share:
            return area
    return AREAS[-1]


def judged(one: Drawn) -> tuple[dict[str, Any], dict[str, str]]:
    """The document of `wire --json` and every finding's verdict by its id."""
    made = wires_of(loads(one.text), Ledger(), Memo())
    assert made is not None
    return wires_json(made), {f.id: f.check.verdict for f in made.findings}


def expected(amps: float, area: float, run: Run, class_degc: float, air: float, bundle: int) -> set[str]:
    """The verdicts the own figures allow for a conductor behind fuses of so many amperes."""
    factor = GROUP[bundle]
    rated = carries_a(area, class_degc, air) * factor
    short = carries_a(area, class_degc + 50, air) * factor
    if amps > BAND * rated or 1.35 * amps > BAND * short:
        return {"stop"}
    found = {"ok", "caution"}
    if 1.35 * amps < rated / BAND:
        found = {"ok"}
    elif 1.35 * amps > rated * BAND and amps < rated / BAND and 1.35 * amps < short / BAND:
        found = {"caution"}
    if amps > rated / BAND or 1.35 * amps > short / BAND:
        found.add("stop")
    return found


def differences(one: Drawn, document: dict[str, Any], verdicts: dict[str, str]) -> tuple[Counter[str], list[str]]:
    """How many conductors were judged by both, and where they differ."""
    told = {c["id"]: c for c in document["cables"]}
    counted, wrong = Counter[str](), []
    names = list(told)
    cables = [Cable(told[k]["from"] or "battery", k, told[k]["fuse_a"] or inf) for k in names]
    volts = {"lead-acid": 12.8, "agm": 13.0, "lithium": 13.6}[one.kind]
    for n, name in enumerate(names):
        run, cable = one.runs[name], told[name]
        if cable["area_mm2"] is None:
            counted["no size"] += 1
            continue
        amps = most_a(cables, {"battery": inf}, n)
        conductors = [("", cable["area_mm2"], run.bundle)]
        if run.recorded_mm2 is not None and abs(cable["area_mm2"] - run.recorded_mm2) > 1e-9:
            wrong.append(f"{name}: recorded {run.recorded_mm2} mm2, judged {cable['area_mm2']}")
        if run.load_a:
            conductors.append((".return" if one.plastic else ".ground", run.ground_mm2 or cable["area_mm2"], 1))
        elif one.plastic:
            conductors.append((".return", cable["area_mm2"], 1))
        for part, area, bundle in conductors:
            counted["conductors"] += 1
            allowed = expected(amps, area, run, run.class_degc, run.air_degc, bundle)
            said = verdicts.get(f"power.protection{part}@{name}", "nothing")
            if said not in allowed:
                wrong.append(f"{name}{part}: {area} mm2 behind {amps} A is {said}, own {sorted(allowed)}")
        # drop: no less than cold conductors give, no more than 1.5 times that and the body
        if all(area in CLASS_5 for _, area, _ in conductors):
            counted["drops"] += 1
            ohm = run.length * CLASS_5[cable["area_mm2"]] * 1e-3
            back = conductors[1:] and (max(run.length, run.ground_m or 0) if one.plastic else run.ground_m or 0.5)
            ohm += (back or 0.0) * CLASS_5[conductors[-1][1]] * 1e-3
            body = 1e-3 if run.load_a and not one.plastic else 0.0
            drop = cable["current_a"] * (ohm + body)
            # what its fuse would not let through for long may be as hot as it likes
            hot = cable["current_a"] > amps or verdicts.get(f"power.cable@{name}") == "stop"
            hot |= "stop" in (verdicts.get(f"power.protection{p}@{name}") for p, _, _ in conductors)
            if not 0.98 * drop - 1e-4 <= cable["drop_v"] <= (inf if hot else 1.5 * drop + 1e-4):
                wrong.append(f"{name}: drop {cable['drop_v']}, own {drop:.4f} V cold")
        behind = sum(told[k]["current_a"] for k in names if told[k]["from"] == name)
        if cable["current_a"] < behind - 0.02:
            wrong.append(f"{name}: sized for {cable['current_a']}, its branches draw {behind}")
        if cable["fuse_a"] is not None and one.ohm is not None:
            counted["fuses"] += 1
            way, ohm = cable["from"], 0.0
            while way:
                ohm += one.runs[way].length / 58 / (told[way]["area_mm2"] or inf)
                way = told[way]["from"]
            short = volts / (one.ohm + ohm) + one.alternator_a
            bad = short > BREAKS[cable["fuse"]["style"]]
            said = verdicts.get(f"power.fuse-breaking@{name}", "nothing")
            if abs(short / BREAKS[cable["fuse"]["style"]] - 1) > 0.02 and said != ("stop" if bad else "ok"):
                wrong.append(f"{name}: a short draws {short:.0f} A, {cable['fuse']['style']} is {said}")
    return counted, wrong


def several(rng: np.random.Generator) -> tuple[Counter[str], list[str]]:
    """A network of two or three sources with fuses at either end of their cables, judged by both."""
    names = ["battery", *(f"n{k}" for k in range(int(rng.integers(2, 5))))]
    at = ["battery", *(str(n) for n in rng.choice(names[1:], int(rng.integers(1, 3)), replace=False))]
    sources, limits = [], {}
    for name in at:
        limit = float(rng.integers(20, 80)) if name != "battery" and rng.random() < 0.4 else None
        ohm = None if limit is not None else float(rng.uniform(0.004, 0.02))
        sources.append(PowerSource(name, 12.8, ohm, limit))
        limits[name] = inf if limit is None else limit
    made, cables, ohms = [], [], []
    for k, name in enumerate(names[1:], 1):
        start, area = str(rng.choice(names[:k])), float(rng.choice(AREAS[4:]))
        fitted = [FittedFuse(float(rng.choice(FUSES)), "strip", 2000) if rng.random() < 0.7 else None for _ in range(2)]
        length, air = float(rng.uniform(0.3, 5)), float(rng.uniform(20, 60))
        made.append(
            Conductor(
                name,
                start,
                name,
                "feed",
                name,
                f"{area:g} mm2",
                length,
                "copper",
                105,
                air,
                fuse=fitted[0],
                end_fuse=fitted[1],
            )
        )
        cables.append(Cable(start, name, *(inf if f is None else f.rating_a for f in fitted)))
        ohms.append(length / 58 / area)
    counted, wrong = Counter[str](), []
    for n, one in enumerate(judge(Installation(tuple(sources), tuple(made)))):
        c = made[n]
        counted["of several sources"] += 1
        amps = most_a(cables, limits, n)
        check = one.checks[0]
        if amps == inf:
            allowed = {"ok", "caution", "stop"} if one.fuse_a is None else set[str]()
        else:
            allowed = expected(amps, float(c.size.split()[0]), _AS_GIVEN, 105, c.ambient_degc, 1)
        if check.verdict not in allowed:
            wrong.append(f"{c.id} of several: {c.size} behind {amps} A is {check.verdict}, own {sorted(allowed)}")
        for part, fuse, mine, other in (("", c.fuse, c.start, c.end), ("end", c.end_fuse, c.end, c.start)):
            if fuse is None:
                continue
            rest, left = cables[:n] + cables[n + 1 :], ohms[:n] + ohms[n + 1 :]
            known = [(s.plus, s.charged_v, s.resistance_ohm, s.limit_a) for s in sources]
            short = max(shorted_a(known, rest, left, mine, 0.0), shorted_a(known, rest, left, other, ohms[n]))
            said = next(
                (k.verdict for k in one.checks if k.code == "power.fuse-breaking" and k.part == part), "nothing"
            )
            counted["fuses of several sources"] += 1
            if short and abs(short / 2000 - 1) > 0.001 and said != ("stop" if short > 2000 else "ok"):
                wrong.append(f"{c.id} {part} of several: a short draws {short:.0f} A and is {said}")
    return counted, wrong


_AS_GIVEN = Run("", "", 1.0, 105.0, 60.0)


def score(seed: int, count: int) -> tuple[Counter[str], list[str]]:
    """Of so many random installations, half of them sound: what was counted, and what differs."""
    rng = np.random.default_rng(seed)
    counted, wrong = Counter[str](), list[str]()
    for k in range(count):
        more, differ = several(rng)
        counted += more
        wrong += [f"installation {k}: {text}" for text in differ]
        sound = bool(k % 2)
        one = drawn(rng, sound=sound)
        document, verdicts = judged(one)
        more, differ = differences(one, document, verdicts)
        counted += more
        wrong += [f"installation {k}: {text}" for text in differ]
        if sound:
            counted["sound"] += 1
            bad = sorted(f"{v} {i}" for i, v in verdicts.items() if v != "ok")
            counted["sound with a stop"] += any(b.startswith("stop") for b in bad)
            counted["sound with a caution"] += bool(bad)
            if bad:
                wrong += [f"sound {k}: {', '.join(bad)}"]
    return counted, wrong
