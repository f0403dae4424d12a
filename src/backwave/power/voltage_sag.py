"""Voltage at each load while everything plays at rated power, and what that costs in output.

The supply, cables and joints are resistances; an unregulated load is one too (its output swing follows its supply), a
regulated one draws the power it draws at its rated voltage, whatever is left.  Series and parallel reduction from the loads to the
battery, then voltages from the battery outward; repeated until the regulated loads agree.  Engine running, the
alternator holds its voltage as long as it can give the current; beyond that the battery does, at its own.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import log10

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.power.current import battery_ohm, load_current, rest_v, running_v
from backwave.power.inputs import Supply, SupplyBranch
from backwave.power.results import LoadCurrent, Node, SupplyTree

# of one crimped and bolted joint in good order; four are counted for a branch (common trade practice)
JOINT_OHM = 0.5e-3
SAG_LIMIT = 0.1  # of the source; 10 % is 0.9 dB of output, about the least that is heard (common trade practice)
_JOINTS = 4
_ROUNDS = 500


@dataclass(frozen=True)
class AtLoad:
    """What one load sees."""

    name: str
    volts: float  # V, at its terminals
    current_a: float
    # as named, where the rest stays: battery, then each branch on the way (cable, ground and joints)
    shares: tuple[tuple[str, float, float], ...]
    power_fraction: float  # 1, output left of the rated one
    power_db: float


@dataclass(frozen=True)
class Peak:
    """All loads at rated power at once."""

    engine: str  # state of the vehicle
    source_v: float
    source_ohm: float
    current_a: float
    loads: tuple[AtLoad, ...]  # each of them
    # one a load; one in all where regulated loads ask for more than the supply can give
    checks: tuple[Check, ...]


def peak_voltage(
    tree: SupplyTree,
    branches: Sequence[SupplyBranch],
    supply: Supply,
    engine: str = "off",
    joint_ohm: float = JOINT_OHM,
) -> Peak:
    """Voltage at each load while all play at rated power.

    `tree`: as worked out from `branches`; where a cable has no size, no load is worked out; InputError: an unknown
    state.
    """
    if engine not in ("off", "running"):
        raise InputError("engine", engine, "off or running")
    loads = {b.id: b.load for b in branches if b.load is not None}
    currents: dict[str, LoadCurrent] = {}
    for node in tree.nodes:
        if node.load:
            found = load_current(loads[node.id], supply)
            assert found is not None  # a tree holds no other
            load = loads[node.id]
            if load.buffered and load.mean_a is not None:  # a battery behind it gives its peaks
                found = replace(found, rated_a=load.mean_a[engine == "running"])
            if found.rated_a > 0:
                currents[node.id] = found
    nodes = _drawing(tree, currents)
    rated = sum(c.rated_a for c in currents.values())
    volts, ohm = rest_v(supply)[0], battery_ohm(supply)[0]
    if engine == "running":
        spare = (
            None if supply.alternator_a is None or supply.vehicle_a is None else supply.alternator_a - supply.vehicle_a
        )
        if spare is not None and spare >= rated:
            volts, ohm = running_v(supply)[0], 0.0
    if not currents or any(node.cable.loop_ohm is None for node in nodes):
        return Peak(engine, volts, ohm, 0.0, (), ())
    asks = {id_: c.at_v / c.rated_a for id_, c in currents.items()}
    at: dict[str, float] = {}
    for _ in range(_ROUNDS):
        at = _solve(nodes, asks, volts, ohm, joint_ohm)
        if any(at[id_] < 0.25 * volts for id_ in currents if loads[id_].regulated):
            # Beyond the power the way can pass, each round asks for more and gets less.
            return Peak(engine, volts, ohm, 0.0, (), (_collapse_check(rated, volts, engine),))
        regulated = {id_: at[id_] ** 2 / (c.at_v * c.rated_a) for id_, c in currents.items() if loads[id_].regulated}
        settled = all(abs(asks[id_] - r) <= 1e-10 * r for id_, r in regulated.items())
        asks.update(regulated)
        if settled:
            break
    else:
        return Peak(engine, volts, ohm, 0.0, (), (_collapse_check(rated, volts, engine),))
    total = sum(at[id_] / asks[id_] for id_ in currents)
    found_at = tuple(
        _at(tree, node, currents[node.id], loads[node.id].regulated, at, asks, volts, ohm, joint_ohm, total)
        for node in nodes
        if node.load
    )
    checks = tuple(_sag_check(a, volts, engine, joint_ohm) for a in found_at)
    return Peak(engine, volts, ohm, total, found_at, checks)


def _drawing(tree: SupplyTree, currents: Collection[str]) -> tuple[Node, ...]:
    """Nodes on the way to a load that draws anything."""
    on_way: set[str] = set()
    for name in currents:
        while name and name not in on_way:
            on_way.add(name)
            name = tree.node(name).parent
    return tuple(node for node in tree.nodes if node.id in on_way)


def _solve(
    nodes: Sequence[Node], asks: dict[str, float], volts: float, ohm: float, joint_ohm: float
) -> dict[str, float]:
    """Voltage at the end of each branch: reduce from the leaves inward, then divide outward."""
    series = {n.id: (n.cable.loop_ohm or 0.0) + _JOINTS * joint_ohm for n in nodes}
    conductance = dict.fromkeys((n.id for n in nodes), 0.0)
    end: dict[str, float] = {}
    at_battery = 0.0
    for n in reversed(nodes):
        end[n.id] = asks[n.id] if n.load else 1 / conductance[n.id]
        seen = 1 / (series[n.id] + end[n.id])
        if n.parent:
            conductance[n.parent] += seen
        else:
            at_battery += seen
    post = volts / (1 + ohm * at_battery)
    at: dict[str, float] = {}
    for n in nodes:
        at[n.id] = (at[n.parent] if n.parent else post) * end[n.id] / (series[n.id] + end[n.id])
    return at


def _at(
    tree: SupplyTree,
    node: Node,
    current: LoadCurrent,
    regulated: bool,
    at: dict[str, float],
    asks: dict[str, float],
    volts: float,
    ohm: float,
    joint_ohm: float,
    total: float,
) -> AtLoad:
    way = [node]
    while way[0].parent:
        way.insert(0, tree.node(way[0].parent))
    shares = [("battery", ohm, ohm * total)]
    before = volts - ohm * total
    for n in way:
        shares.append((n.id, (n.cable.loop_ohm or 0.0) + _JOINTS * joint_ohm, before - at[n.id]))
        before = at[n.id]
    fraction = 1.0 if regulated else min(1.0, (at[node.id] / current.at_v) ** 2)
    return AtLoad(
        node.load, at[node.id], at[node.id] / asks[node.id], tuple(shares), fraction, 10 * log10(max(fraction, 1e-30))
    )


def _sag_check(at: AtLoad, source_v: float, engine: str, joint_ohm: float) -> Check:
    lost = source_v - at.volts
    most = max(at.shares, key=lambda s: s[2])
    # That a resting battery is below the rated voltage costs too, but no cable mends it.
    heard = lost > SAG_LIMIT * source_v
    return Check(
        "power.sag",
        "caution" if heard else "ok",
        Message(
            "Engine {state}, at full power {load} gets {v}: {lost} stay on the way, its output is {db} against the rated one",
            (
                ("state", engine, ""),
                ("load", at.name, ""),
                ("v", at.volts, "V"),
                ("lost", lost, "V"),
                ("db", at.power_db, "dB"),
            ),
        ),
        lost,
        SAG_LIMIT * source_v,
        "V",
        remedy=Message("Most stays in: {what}. Mend that first", (("what", most[0], ""),)) if heard else None,
        working=(
            CalculationLine("U", "source", source_v, "V"),
            CalculationLine("Rj", f"each joint; {_JOINTS} are counted for a branch", joint_ohm, "ohm", PRACTICE),
            *(
                CalculationLine("dU", f"stays in: {name} ({ohm * 1e3:.2f} mohm)", drop, "V")
                for name, ohm, drop in at.shares
            ),
            CalculationLine(
                "P/Pr", "square of the voltage by the rated one; a regulated supply holds it", at.power_fraction, ""
            ),
        ),
        sources=("Kirchhoff's laws", "joints: common trade practice"),
        part=f"{engine}-{at.name}",
    )


def _collapse_check(rated: float, source_v: float, engine: str) -> Check:
    return Check(
        "power.sag",
        "caution",
        Message(
            "Engine {state}, the supply cannot hold {i} at full power: regulated amplifiers will shut off on peaks",
            (("state", engine, ""), ("i", rated, "A")),
        ),
        remedy=Message("A thicker, shorter way, a battery of less resistance, or less power"),
        working=(
            CalculationLine("U", "source", source_v, "V"),
            CalculationLine("I", "rated current of all loads", rated, "A"),
        ),
        sources=("Kirchhoff's laws: V^2 - U V + P R = 0 has no root where U^2 < 4 P R",),
        part=engine,
    )
