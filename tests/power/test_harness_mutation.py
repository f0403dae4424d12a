"""Any single swap, removal or duplication of a wire in random harnesses is caught.

What changes nothing electrically cannot be caught by what plays and is left out of the score by a rule that shares
nothing with the checks: the voltages at every speaker and lead, and the currents of every source, by nodal analysis
(Kirchhoff) of the whole harness as resistors, each wire 1 mohm, are the same to 0.2 %.  So are left out: swaps between
pins of one splice or of the common minus of one crossover, and the two ends of a capacitor.  A duplicated wire never
changes a voltage; it has to be caught all the same, as two wires in one contact.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import pytest

from backwave.notation.crossover import Branch, parse_branch
from backwave.notation.wires import parse_color
from backwave.power.harness import Harness, Lead, PathSpec, Plug, Wire
from backwave.power.harness_build import harness_of
from backwave.power.harness_check import check_harness

WOOFER = tuple(map(parse_branch, ("series L 0.39 mH 0.2 ohm", "shunt R 3.9 ohm + C 22 uF")))
TWEETER = tuple(map(parse_branch, ("series R 1.5 ohm", "series C 10 uF", "shunt L 0.27 mH 0.15 ohm")))
CAP = parse_branch("series C 4.7 uF")


def random_harness(rng: np.random.Generator) -> Harness:
    """One to three sources, sides or not, crossovers, capacitors in line or in plugs, pairs in parallel, leads.

    Plugs right before a speaker, before the passive parts, or both; what hides in them in either leg; a large plug
    that several outputs share; the vehicle's own wires.
    """
    paths: list[PathSpec] = []
    leads: list[Lead] = []
    plugs = 0
    for s in range(int(rng.integers(1, 4))):
        source = f"source{s}"
        if rng.random() < 0.6:
            leads += [
                Lead("block", f"+{s}", source, "supply", 1, 10, 40, 90),
                Lead(source, "ground", "body", f"-{s}", 0.5, 10),
                Lead("head", f"turn-on {s}", source, "remote", 3, 0.75),
            ]
        for c in range(int(rng.integers(1, 3))):
            sides = ("left", "right") if rng.random() < 0.75 else ("",)
            kinds = [["woofer"], ["woofer", "tweeter"], ["tweeter"], ["woofer", "woofer"], ["woofer", "midrange", "tweeter"]]  # fmt: skip
            chosen = kinds[int(rng.integers(len(kinds)))]
            passive, plugged, reversed_ = rng.random() < 0.6, rng.random() < 0.5, rng.random() < 0.4
            carries = rng.random() < 0.5
            radio, shared = rng.random() < 0.4, rng.random() < 0.5
            for side in sides:
                entry = None
                if radio:
                    contact = 2 * (2 * c + (side == "right")) + 1
                    name = f"radio{s}" if shared else f"radio{s}{c}{side}"
                    entry = Plug(name, str(contact), str(contact + 1), before=True, contacts=12, rows=2, there=True)
                for k, kind in enumerate(chosen):
                    plug = None
                    network: tuple[Branch, ...] = ()
                    if passive and len(chosen) > 1:
                        network = TWEETER if kind == "tweeter" else WOOFER
                    boxed = passive and len(chosen) > 1
                    # a plug before the parts feeds one box, or one speaker alone
                    mine = entry if boxed or len(chosen) == 1 else None
                    if plugged and (mine is not None or not boxed):
                        plugs += 1
                        hidden = CAP if kind == "tweeter" and carries else None
                        plug = Plug(
                            f"plug{plugs}", str(rng.integers(1, 3)), "3", carries=hidden, before=bool(rng.random() < 0.4) and mine is None, contacts=4,
                            at="+" if rng.random() < 0.5 else "-", there=bool(rng.random() < 0.5),
                        )  # fmt: skip
                    if kind == "tweeter" and not network and not (plug and plug.carries):
                        network = (CAP,)
                    channel = f"{c} {side}".strip()
                    polarity = -1 if kind == "tweeter" and reversed_ else 1
                    paths.append(
                        PathSpec(
                            source, channel, kind, f"place{s}{c}{k}", side,  # type: ignore[arg-type]
                            kind=kind, network=network, polarity=polarity, plug=plug, boot=bool(k), entry=mine,
                        )
                    )  # fmt: skip
    made = harness_of(paths, (), leads)
    return replace(made, wires=tuple(replace(w, length_m=1.0) for w in made.wires))


def faults(harness: Harness) -> frozenset[tuple[str, str, str]]:
    return frozenset((c.code, c.part, str(c.title)) for c in check_harness(harness) if c.verdict != "ok")


@dataclass(frozen=True)
class Mutation:
    kind: str
    wires: tuple[Wire, ...]


def every_mutation(wires: tuple[Wire, ...]) -> list[tuple[str, int, int, int]]:
    """All single ones: remove i, duplicate i, swap an end of i with an end of j."""
    n = len(wires)
    found = [(kind, i, 0, 0) for kind in ("remove", "duplicate") for i in range(n)]
    return found + [("swap", i, j, ends) for i in range(n) for j in range(i) for ends in range(4)]


def mutated(wires: tuple[Wire, ...], what: tuple[str, int, int, int]) -> Mutation | None:
    kind, i, j, ends = what
    if kind == "remove":
        return Mutation(kind, wires[:i] + wires[i + 1 :])
    if kind == "duplicate":
        return Mutation(kind, (*wires, replace(wires[i], id="copy")))
    a, b = ("from_pin", "to_pin")[ends % 2], ("from_pin", "to_pin")[ends // 2]
    first, second = getattr(wires[i], a), getattr(wires[j], b)
    out = list(wires)
    try:
        out[i], out[j] = replace(wires[i], **{a: second}), replace(wires[j], **{b: first})
    except ValueError:  # a wire with both ends on one pin is refused at once
        return None
    return Mutation(kind, tuple(out))


class Circuit:
    """The harness as resistors and capacitors: nodal analysis, sharing nothing with the checks."""

    def __init__(self, harness: Harness) -> None:
        rng = np.random.default_rng(5)
        self.node = {pin: n for n, pin in enumerate(harness.pins())}
        n = len(self.node)
        self.g = np.zeros((n, n), dtype=complex)
        self.i = np.zeros(n, dtype=complex)
        np.fill_diagonal(self.g, 1e-9)
        self.read: list[tuple[int, int]] = []
        self.feeds: list[int] = []

        def between(a: str, b: str, ohm: complex) -> None:
            self._stamp(self.g, self.node[a], self.node[b], 1 / ohm)

        def earth(pin: str, ohm: float, volts: complex = 0.0) -> None:
            k = self.node[pin]
            self.g[k, k] += 1 / ohm
            self.i[k] += volts / ohm
            if volts:
                self.feeds.append(k)

        for device in harness.devices:
            names = [f"{device.id}.{p}" for p in device.pins]
            if device.kind == "splice":
                for pin in names[1:]:
                    between(names[0], pin, 1e-4)
            elif device.kind == "connector":
                for contact in sorted({p.split(" ")[0] for p in device.pins}):
                    ohm = rng.uniform(2, 9) - 5j if contact in device.hides else 1e-4
                    between(f"{device.id}.{contact} in", f"{device.id}.{contact} out", ohm)
            elif device.kind == "part":
                between(*names, rng.uniform(2, 9) - 5j)
            elif device.kind == "crossover":
                for pin in device.pins:
                    if pin not in ("in+", "in-"):
                        ohm = rng.uniform(1, 9) + 1j * rng.uniform(-6, 6) if pin.endswith("+") else 1e-4
                        between(f"{device.id}.in{pin[-1]}", f"{device.id}.{pin}", ohm)
            elif device.kind == "speaker":
                between(*names, rng.uniform(3, 9) + 1j)
                self.read.append((self.node[names[0]], self.node[names[1]]))
        outputs = {r.source_pin(p) for r in harness.routes for p in "+-"}
        for pin in sorted({p[:-1] for p in outputs}):
            volts = rng.uniform(5, 20) * np.exp(1j * rng.uniform(0, 6))
            earth(f"{pin}+", 0.05, volts)
            earth(f"{pin}-", 0.05, -volts)
        for lead in harness.leads:
            earth(f"{lead.from_device}.{lead.from_pin}", 0.05, rng.uniform(5, 20))
            earth(f"{lead.to_device}.{lead.to_pin}", rng.uniform(5, 20))
            k = self.node[f"{lead.to_device}.{lead.to_pin}"]
            self.read.append((k, k))

    @staticmethod
    def _stamp(g: np.ndarray, a: int, b: int, siemens: complex) -> None:
        g[a, a] += siemens
        g[b, b] += siemens
        g[a, b] -= siemens
        g[b, a] -= siemens

    def readings(self, many: list[tuple[Wire, ...]]) -> np.ndarray:
        g = np.repeat(self.g[None], len(many), axis=0)
        for k, wires in enumerate(many):
            for w in wires:
                self._stamp(g[k], self.node[w.from_pin], self.node[w.to_pin], 1e3)
        v = np.linalg.solve(g, np.broadcast_to(self.i[:, None], (len(many), len(self.i), 1)))[..., 0]
        a, b = np.array(self.read).T
        across = np.where(a == b, v[:, a], v[:, a] - v[:, b])
        return np.concatenate([across, v[:, self.feeds]], axis=1)


def score(seed: int, harnesses: int, each: int | None) -> tuple[Counter[str], Counter[str], Counter[str], list[str]]:
    """Tried, left out and caught, by kind; and what was missed.  `each` mutations a harness, None for all."""
    rng = np.random.default_rng(seed)
    tried, same, caught = Counter[str](), Counter[str](), Counter[str]()
    missed = []
    for _ in range(harnesses):
        harness = random_harness(rng)
        right = faults(harness)
        whole = every_mutation(harness.wires)
        if each is None:
            picks = whole
        else:
            n = len(harness.wires)
            picks = [whole[int(k)] for k in rng.integers(0, 2 * n, each // 3)]
            picks += [whole[int(k)] for k in rng.integers(2 * n, len(whole), each - each // 3)]
        made = [m for m in (mutated(harness.wires, pick) for pick in picks) if m is not None]
        circuit = Circuit(harness)
        base = circuit.readings([harness.wires])[0]
        chunks = [made[k : k + 60] for k in range(0, len(made), 60)]
        change = np.concatenate([np.abs(circuit.readings([m.wires for m in c]) - base).max(axis=1) for c in chunks])
        nothing = change < 2e-3 * np.abs(base).max()
        for mutation, idle in zip(made, nothing):
            tried[mutation.kind] += 1
            if idle and mutation.kind != "duplicate":
                same[mutation.kind] += 1
            elif faults(replace(harness, wires=mutation.wires)) - right:
                caught[mutation.kind] += 1
            else:
                missed.append(f"{mutation.kind}: {sorted(set(mutation.wires) ^ set(harness.wires), key=str)}")
    return tried, same, caught, missed


def test_a_right_harness_has_no_fault() -> None:
    rng = np.random.default_rng(3)
    for _ in range(150):
        harness = random_harness(rng)
        assert {code for code, _, _ in faults(harness)} <= {"wire.hidden"}


def test_nearly_every_mutation_is_caught() -> None:
    """40 harnesses here; benchmarks/bench_harness.py runs thousands and prints the score."""
    tried, same, caught, missed = score(1, 40, 9)
    counted = tried - same
    assert all(counted[kind] > 40 for kind in ("swap", "remove", "duplicate"))
    assert not missed[:3], (len(missed), missed[:3])
    assert sum(caught.values()) / sum(counted.values()) > 0.99
    # A rule that left out much would make any score: only swaps can change nothing, and few of them do.
    assert same["remove"] == 0
    assert same["swap"] < 0.15 * tried["swap"]


def test_every_mutation_of_a_small_harness() -> None:
    rng = np.random.default_rng(11)
    while len(random_harness(np.random.default_rng(seed := int(rng.integers(1000)))).wires) > 14:
        pass
    _, _, caught, missed = score(seed, 1, None)
    assert caught["swap"] > 50
    assert not missed[:3], (len(missed), missed[:3])


GRAY, RED, YELLOW, ORANGE = map(parse_color, ("GY", "RD", "YE", "OG"))


def colored(harness: Harness) -> Harness:
    """Gray for what runs to a minus, red for the rest: no two of one pair alike."""
    plus = {r.speaker + ("+" if r.path.polarity == 1 else "-") for r in harness.routes}
    ends = {f"{name[:-1]}.{name[-1]}" for name in plus}
    contacts = {f"{p.id}.{p.plus} {end}" for r in harness.routes for p in (r.path.first_plug, r.path.last_plug) if p for end in ("in", "out")}  # fmt: skip
    red = ends | contacts
    return replace(
        harness, wires=tuple(replace(w, color=RED if {w.from_pin, w.to_pin} & red else GRAY) for w in harness.wires)
    )


def one_fault(harness: Harness, kind: str, rng: np.random.Generator) -> Harness | None:
    """One fault of size, fuse, color, ground or turn-on; None where this harness has no such wire."""
    wires = {frozenset((w.from_pin, w.to_pin)): w for w in harness.wires}

    def of(pin: str) -> list[tuple[Lead, Wire]]:
        found = [n for n in harness.leads if pin in (n.from_pin, n.to_pin)]
        return [(n, wires[frozenset((f"{n.from_device}.{n.from_pin}", f"{n.to_device}.{n.to_pin}"))]) for n in found]

    def changed(wire: Wire, **facts: object) -> Harness:
        return replace(harness, wires=tuple(replace(w, **facts) if w is wire else w for w in harness.wires))  # type: ignore[arg-type]

    leads = of(
        {"no fuse": "supply", "larger fuse": "supply", "thin supply": "supply", "thin ground": "ground"}.get(
            kind, "remote"
        )
    )
    if kind in ("yellow", "orange"):
        wire = harness.wires[int(rng.integers(len(harness.wires)))]
        return changed(wire, color=YELLOW if kind == "yellow" else ORANGE)
    if kind == "same color":
        route = harness.routes[int(rng.integers(len(harness.routes)))]
        ends = [w for w in harness.wires if w.to_pin in (f"{route.speaker}.+", f"{route.speaker}.-")]
        return changed(ends[0], color=ends[1].color) if len(ends) == 2 else None
    if not leads:
        return None
    lead, wire = leads[int(rng.integers(len(leads)))]
    if kind == "no turn-on":
        kept = tuple(n for n in harness.leads if n is not lead)
        return replace(harness, leads=kept, wires=tuple(w for w in harness.wires if w is not wire))
    facts = {"no fuse": {"fuse_a": None}, "larger fuse": {"fuse_a": 150.0}}.get(kind, {"area_mm2": float(rng.choice([0.75, 1, 1.5, 2.5, 4, 6]))})  # fmt: skip
    return changed(wire, **facts)


def test_faults_of_size_fuse_color_ground_and_turn_on_are_caught() -> None:
    """Seven of these kinds were missed, every time."""
    rng = np.random.default_rng(8)
    kinds = ("no fuse", "larger fuse", "thin supply", "thin ground", "no turn-on", "same color", "yellow", "orange")
    tried, caught = Counter[str](), Counter[str]()
    for _ in range(150):
        harness = colored(random_harness(rng))
        right = faults(harness)
        assert {code for code, _, _ in right} <= {"wire.hidden"}
        for kind in kinds:
            made = one_fault(harness, kind, rng)
            if made is not None:
                tried[kind] += 1
                caught[kind] += bool(faults(made) - right)
    assert all(tried[kind] > 80 for kind in kinds), tried
    assert sum(caught.values()) / sum(tried.values()) > 0.99, (tried, caught)


@pytest.mark.parametrize("broken", ["_route", "_pins"])
def test_the_score_falls_when_a_check_is_taken_out(broken: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(f"backwave.power.harness_check.{broken}", lambda *_: [])
    _, _, _, missed = score(1, 8, 9)
    assert missed
