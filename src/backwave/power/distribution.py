"""The distribution from the battery to every load: cable and fuse of each branch, and the voltage left during a peak.

A fuse stands at the head of each branch: at the battery, where one is there already, and wherever the least fuse that is
really fitted before it is more than the next cable stands (IEC 60364-4-43 and common trade practice).  Each breaks what
a short just behind it draws.  The drop allowed is shared along each way so that least metal is needed, and no load
loses more than the limit.  Returns are the loads' own; where the body is none, every branch has one beside it.

During a peak everything plays at rated power.  The supply, cables and joints are resistances; an unregulated load is one
too (its output swing follows its supply), a regulated one draws the power it draws at its rated voltage, whatever is left.
Engine running, the alternator holds its voltage as long as it can give the current; beyond that the battery does."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import inf, log10, sqrt

from backwave.errors import InputError
from backwave.finding import PRACTICE, Assumed, CalculationLine, Check, Message, check_of
from backwave.power.cable import BODY_OHM, DROP_LIMIT, OVERLOAD, choose_cables, lengths_m
from backwave.power.current import battery_ohm, load_current, rating_check, rest_v, running_v, sources_of, unknown_load
from backwave.power.fuse import LOADED, choose_fuse
from backwave.power.types import CableChoice, CableRun, FuseChoice, LoadCurrent, Node, Supply, SupplyBranch, SupplyTree
from backwave.stock import Stock

_LEAST = 1e-6  # of the drop allowed, where the body alone takes all of it: no cable keeps that, and the finding says so
_TINY_A = 10.0  # a load below it hangs on a block or a fuse tap, not on the battery's post


def supply_tree(
    branches: Sequence[SupplyBranch],
    supply: Supply,
    drop_limit: float = DROP_LIMIT,
    series: str = "metric",
    stock: Stock | None = None,
) -> SupplyTree:
    """Cable and fuse of every branch; `drop_limit`, 1: from the battery to any load and back, of its rest voltage.
    InputError: an id used twice, a parent that is none or a circle, or a load that feeds something."""
    known = _ordered(branches)
    volts, sources = rest_v(supply)[0], sources_of(supply)
    sure = all(source.advised_a is None for source in sources)
    behind = {b.id: _behind(b, known.values(), supply) for b in known.values()}
    checks = [unknown_load(b.load.name) for b in known.values() if b.load is not None and not behind[b.id]]
    checks += [_empty(b) for b in known.values() if b.load is None and not any(c.parent == b.id for c in branches)]
    kept = [b for b in known.values() if behind[b.id]]
    runs = {b.id: replace(b.run, ground_m=0.0, body=False) if b.load is None and b.run.body else b.run for b in kept}
    amps = {b.id: float(sum(max(c.rated_a, c.fuses_a) for c in behind[b.id])) for b in kept}
    shares = _shares(kept, runs, amps, volts, drop_limit)
    before: dict[str, float] = {"": 0.0}
    held: dict[str, float] = {"": inf}  # the least fuse that is fitted on the way to each branch's end
    nodes: dict[str, Node] = {}
    depth = 0
    level = [b for b in kept if not b.parent]
    while level:
        fuses = {}
        for b in level:
            short = sum(source.short_a(before[b.parent]) for source in sources)
            # a battery of unknown resistance stops no fuse that breaks what is advised for one
            advised = None if sure else sum(source.short_a(before[b.parent], sure=True) for source in sources)
            rated = float(sum(c.rated_a for c in behind[b.id]))
            fuses[b.id] = choose_fuse(
                rated, short, amps[b.id], None, running_v(supply)[0], b.style, b.fuse_a, advised, stock
            )
        chosen = _chosen(level, runs, amps, {b.id: fuses[b.id].rating_a for b in level}, volts, shares, series, stock)
        spared = [b for b in level if not _needed(b, held[b.parent], chosen[b.id])]
        # what is there already is judged by the fuse that is fitted, not by one that would be
        again = [b for b in spared if b.run.size and held[b.parent] != fuses[b.id].rating_a]
        chosen |= _chosen(again, runs, amps, {b.id: held[b.parent] for b in again}, volts, shares, series, stock)
        for b in level:
            cable, fuse, fitted = chosen[b.id], fuses[b.id], b not in spared
            held[b.id] = min(held[b.parent], fuse.rating_a or inf) if fitted else held[b.parent]
            before[b.id] = before[b.parent] + (cable.cold_ohm or 0.0)
            load = "" if b.load is None else b.load.name
            nodes[b.id] = Node(b.id, b.parent, load, depth, cable, fuse, fitted, fuse.prospective_a)
            if b.load is not None:
                checks += [c for c in (rating_check(behind[b.id][0]), _tap_check(b, fuse, amps[b.id])) if c]
        here = {b.id for b in level}
        level = [b for b in kept if b.parent in here]
        depth += 1
    _pool(nodes, drop_limit * volts)
    return SupplyTree(tuple(nodes.values()), _assumed(supply, behind, kept, drop_limit), tuple(checks))


def _chosen(
    level: Sequence[SupplyBranch],
    runs: dict[str, CableRun],
    amps: dict[str, float],
    fuses: dict[str, float | None],
    volts: float,
    shares: dict[str, float],
    series: str,
    stock: Stock | None,
) -> dict[str, CableChoice]:
    if not level:
        return {}
    ids = [b.id for b in level]
    # a thin ground asks for a thicker ground, not for a thicker feed: the feed is sized beside one of its own size
    bare = [replace(runs[k], ground_size="", ground_material="") for k in ids]
    wanted = [amps[k] for k in ids], [fuses[k] for k in ids], volts, [shares[k] for k in ids], series, stock
    found = choose_cables(bare, *wanted)
    if all(run == runs[k] for run, k in zip(bare, ids)):
        return dict(zip(ids, found))
    whole = choose_cables([replace(runs[k], size=one.size) for k, one in zip(ids, found)], *wanted)
    return {k: one if run == runs[k] else _grounded(one, real) for k, run, one, real in zip(ids, bare, found, whole)}


def _pool(nodes: dict[str, Node], limit_v: float) -> None:
    """A cable that drops more than its share is no loss where every way through it keeps the limit as a whole."""
    drops = {node.id: node.cable.drop_v or 0.0 for node in nodes.values()}
    worst: dict[str, float] = {}
    for node in nodes.values():
        if node.load:
            way = [node.id]
            while nodes[way[-1]].parent:
                way.append(nodes[way[-1]].parent)
            for id_ in way:
                worst[id_] = max(worst.get(id_, 0.0), sum(drops[k] for k in way))
    for node in list(nodes.values()):
        check = node.cable.checks[0]
        if check.verdict != "caution" or worst.get(node.id, inf) > limit_v * (1 + 1e-9):
            continue
        room = limit_v - (worst[node.id] - drops[node.id])
        said = tuple((k, room if k == "limit" else v, u) for k, v, u in check.title.quantities)
        kept = replace(check, verdict="ok", limit=room, title=replace(check.title, quantities=said), remedy=None)
        nodes[node.id] = replace(node, cable=replace(node.cable, checks=(kept, *node.cable.checks[1:])))


def _grounded(sized: CableChoice, real: CableChoice) -> CableChoice:
    """A feed with its real ground: what that drops is said of the ground."""
    first, *more = real.checks
    if "drop" in real.fails and "drop" not in sized.fails and first.verdict == "caution":
        first = replace(first, remedy=Message("Take a ground as thick as the feed: this one drops too much"))
    return replace(real, given=sized.given, awg=sized.awg, checks=(first, *more))


def _needed(branch: SupplyBranch, held_a: float, cable: CableChoice) -> bool:
    """A fuse has to be at a branch's head: it is there, or those before it let through more than the cable stands."""
    if not branch.parent or branch.fuse_a is not None or cable.ampacity_a is None:
        return True
    return OVERLOAD * held_a > cable.ampacity_a


def _empty(branch: SupplyBranch) -> Check:
    """A distribution point that nothing hangs on: what its cable is to carry is not known, only what its fuse lets through."""
    lacks = [words for words, there in (("its fuse", branch.fuse_a), ("its size", branch.run.size)) if not there]
    said = "Nothing hangs on {block}: what its cable is to carry is not known"
    without = ", and it is not judged without " + " and ".join(lacks)
    said += without if lacks else "; it is judged against its fuse alone"
    remedy = "Enter what hangs on it" + (f", or {' and '.join(lacks)}" if lacks else "") + "; or take it out"
    return check_of("power.load", "caution", said, remedy, (("block", branch.id, ""),), key="from", part=branch.id)


def _tap_check(branch: SupplyBranch, fuse: FuseChoice, amps: float) -> Check | None:
    """A small load straight on the battery, whose fuse and cable are only that large because of the short they must break."""
    if branch.parent or amps > _TINY_A or fuse.rating_a is None or fuse.rating_a < max(2 * amps / LOADED, 20.0):
        return None
    numbers = (("load", branch.id, ""), ("i", amps, "A"), ("r", fuse.rating_a, "A"))
    return check_of(
        "power.tap", "caution", "{load} draws {i}; at the battery it would need a {r} fuse and a cable for that",
        "Take it from the block, or by a fuse tap of the right size and direction, both fuses fitted, from a circuit that is "
        "not airbag, ABS, engine, steering or lighting",
        numbers, (amps, None, "A"), key="from", part=branch.id,
    )  # fmt: skip


def _assumed(
    supply: Supply, behind: dict[str, tuple[LoadCurrent, ...]], kept: Sequence[SupplyBranch], drop_limit: float
) -> tuple[Assumed, ...]:
    found = [*rest_v(supply)[1], *running_v(supply)[1], *battery_ohm(supply)[1]]
    of_supply = set(found)
    for b in kept:
        if b.load is not None:
            mine = [a for c in behind[b.id] for a in c.assumed if a not in of_supply]
            found += [replace(a, key=f"{b.load.name}.{a.key}") for a in mine]
    if drop_limit == DROP_LIMIT:
        found.append(Assumed("drop", drop_limit, "", "of the supply, out and back (common trade practice)"))
    return tuple(found)


def _ordered(branches: Sequence[SupplyBranch]) -> dict[str, SupplyBranch]:
    """By id, after everything that can be wrong with their shape."""
    known: dict[str, SupplyBranch] = {}
    for b in branches:
        if b.id in known:
            raise InputError("id of a branch", b.id, "an id used once")
        known[b.id] = b
    for b in branches:
        if b.parent and b.parent not in known:
            raise InputError(f"parent of branch {b.id}", b.parent, ", ".join(known))
        if b.parent and known[b.parent].load is not None:
            raise InputError(f"parent of branch {b.id}", b.parent, "a branch that ends at no load")
        seen, at = {b.id}, b.parent
        while at:
            if at in seen:
                raise InputError(f"parent of branch {b.id}", b.parent, "a branch nearer to the battery, no circle")
            seen.add(at)
            at = known[at].parent
    return known


def _behind(branch: SupplyBranch, branches: Collection[SupplyBranch], supply: Supply) -> tuple[LoadCurrent, ...]:
    """Currents of all loads that hang on a branch and are known."""
    if branch.load is not None:
        current = load_current(branch.load, supply)
        return () if current is None else (current,)
    return tuple(c for b in branches if b.parent == branch.id for c in _behind(b, branches, supply))


def _shares(
    branches: Sequence[SupplyBranch], runs: dict[str, CableRun], amps: dict[str, float], volts: float, drop_limit: float
) -> dict[str, float]:
    """The part of the drop each branch may have. What the vehicle's body drops cannot be bought off; the rest goes by
    length times the root of the current, which needs the least metal (areas in proportion to the root of the current;
    Lagrange)."""
    weight = {b.id: sum(lengths_m(runs[b.id])) * sqrt(amps[b.id]) for b in branches}
    fixed = {b.id: BODY_OHM * amps[b.id] / volts if runs[b.id].body else 0.0 for b in branches}
    ways = [way for b in branches if not any(c.parent == b.id for c in branches) for way in [_way(b, branches)]]
    scale = {
        way: max(drop_limit - sum(fixed[k] for k in way), _LEAST * drop_limit) / sum(weight[k] for k in way)
        for way in ways
    }
    return {
        b.id: min(fixed[b.id], drop_limit) + weight[b.id] * min(scale[way] for way in ways if b.id in way)
        for b in branches
    }


def _way(branch: SupplyBranch, branches: Sequence[SupplyBranch]) -> tuple[str, ...]:
    """Ids from the battery to a branch."""
    by_id = {b.id: b for b in branches}
    found = [branch.id]
    while branch.parent:
        branch = by_id[branch.parent]
        found.append(branch.id)
    return tuple(reversed(found))


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
    """Voltage at each load while all play at rated power. `tree`: as worked out from `branches`; where a cable has no
    size, no load is worked out; InputError: an unknown state."""
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
        known = supply.alternator_a is not None and supply.vehicle_a is not None
        if known and supply.alternator_a - supply.vehicle_a >= rated:  # type: ignore[operator]  # both known
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

    def seen(node: Node) -> AtLoad:
        way = [node]
        while way[0].parent:
            way.insert(0, tree.node(way[0].parent))
        shares = [("battery", ohm, ohm * total)]
        before = volts - ohm * total
        for n in way:
            shares.append((n.id, (n.cable.loop_ohm or 0.0) + _JOINTS * joint_ohm, before - at[n.id]))
            before = at[n.id]
        held = loads[node.id].regulated
        share = 1.0 if held else min(1.0, (at[node.id] / currents[node.id].at_v) ** 2)
        amps = at[node.id] / asks[node.id]
        return AtLoad(node.load, at[node.id], amps, tuple(shares), share, 10 * log10(max(share, 1e-30)))

    found_at = tuple(seen(node) for node in nodes if node.load)
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


def _sag_check(at: AtLoad, source_v: float, engine: str, joint_ohm: float) -> Check:
    lost = source_v - at.volts
    most = max(at.shares, key=lambda s: s[2])
    # That a resting battery is below the rated voltage costs too, but no cable mends it.
    heard = lost > SAG_LIMIT * source_v
    numbers = (
        ("state", engine, ""), ("load", at.name, ""), ("v", at.volts, "V"), ("lost", lost, "V"), ("db", at.power_db, "dB"),
        ("what", most[0], ""),
    )  # fmt: skip
    return check_of(
        "power.sag", "caution" if heard else "ok",
        "Engine {state}, at full power {load} gets {v}: {lost} stay on the way, its output is {db} against the rated one",
        "Most stays in: {what}. Mend that first" if heard else "", numbers, (lost, SAG_LIMIT * source_v, "V"),
        (
            CalculationLine("U", "source", source_v, "V"),
            CalculationLine("Rj", f"each joint; {_JOINTS} are counted for a branch", joint_ohm, "ohm", PRACTICE),
            *(CalculationLine("dU", f"stays in: {name} ({ohm * 1e3:.2f} mohm)", drop, "V") for name, ohm, drop in at.shares),
            CalculationLine("P/Pr", "square of the voltage by the rated one; a regulated supply holds it", at.power_fraction, ""),
        ),
        ("Kirchhoff's laws", f"joints: {PRACTICE}"), part=f"{engine}-{at.name}",
    )  # fmt: skip


def _collapse_check(rated: float, source_v: float, engine: str) -> Check:
    return check_of(
        "power.sag", "caution", "Engine {state}, the supply cannot hold {i} at full power: regulated amplifiers will shut off on peaks",
        "A thicker, shorter way, a battery of less resistance, or less power", (("state", engine, ""), ("i", rated, "A")),
        working=(CalculationLine("U", "source", source_v, "V"), CalculationLine("I", "rated current of all loads", rated, "A")),
        sources=("Kirchhoff's laws: V^2 - U V + P R = 0 has no root where U^2 < 4 P R",), part=engine,
    )  # fmt: skip
