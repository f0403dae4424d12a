"""The distribution from the battery to every load: cable and fuse of each branch, from the battery outward.

A fuse stands at the head of each branch: at the battery, and wherever the fuse before it is more than the next cable
stands (IEC 60364-4-43 and common trade practice).  Each breaks what a short just behind it draws: the battery at rest
over its resistance and the cold cable up to there (what a running alternator adds is left out).  The drop allowed is shared along each way so that least metal is needed, and no
load loses more than the limit.  Returns are the loads' own: a branch to a distribution point has none.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from math import sqrt

from backwave.assumptions import Assumed
from backwave.errors import InputError
from backwave.power.cable import BODY_OHM, DROP_LIMIT, choose_cables, lengths_m
from backwave.power.current import battery_ohm, load_current, rest_v, running_v, unknown_load
from backwave.power.fuse import choose_fuse, prospective_a
from backwave.power.inputs import CableRun, Supply, SupplyBranch
from backwave.power.results import LoadCurrent, Node, SupplyTree
from backwave.stock import Stock

__all__ = ["supply_tree"]

_LEAST = 0.2  # of the drop allowed, kept for cable where the body would take nearly all of it


def supply_tree(
    branches: Sequence[SupplyBranch],
    supply: Supply,
    drop_limit: float = DROP_LIMIT,
    series: str = "metric",
    stock: Stock | None = None,
) -> SupplyTree:
    """Cable and fuse of every branch.

    Parameters
    ----------
    branches : sequence of SupplyBranch, no unit
        In any order; those without a parent start at the battery.
    supply : Supply, no unit
        The vehicle's supply.
    drop_limit : float, no unit
        Largest drop from the battery to any load and back, as a share of the battery's voltage at rest.
    series : str, no unit
        "metric" or "awg".
    stock : Stock or None, no unit
        Tables; None is those that ship.

    Raises
    ------
    InputError
        An id used twice, a parent that is none or a circle, a load that feeds something, or a distribution point
        that feeds nothing.
    """
    known = _ordered(branches)
    volts, ohm = rest_v(supply)[0], battery_ohm(supply)[0]
    behind = {b.id: _behind(b, known.values(), supply) for b in known.values()}
    checks = tuple(unknown_load(b.load.name) for b in known.values() if b.load is not None and not behind[b.id])
    kept = [b for b in known.values() if behind[b.id]]
    runs = {b.id: b.run if b.load is not None else replace(b.run, ground_m=0.0, body=False) for b in kept}
    amps = {
        b.id: float(sum(max(c.rated_a, c.fuses_a) for c in behind[b.id])) for b in kept
    }  # what a cable is laid out for, before its fuse
    shares = _shares(kept, runs, amps, volts, drop_limit)
    before: dict[str, float] = {"": ohm}
    nodes: dict[str, Node] = {}
    depth = 0
    level = [b for b in kept if not b.parent]
    while level:
        fuses = {}
        for b in level:
            short = prospective_a(volts, before[b.parent])
            rated, own = (float(sum(getattr(c, key) for c in behind[b.id])) for key in ("rated_a", "fuses_a"))
            fuses[b.id] = choose_fuse(rated, short, own, None, running_v(supply)[0], b.style, b.fuse_a, stock)
        cables = choose_cables(
            [runs[b.id] for b in level],
            [max(fuses[b.id].continuous_a, float(sum(c.fuses_a for c in behind[b.id]))) for b in level],
            [fuses[b.id].rating_a for b in level],
            volts,
            [shares[b.id] for b in level],
            series,
            stock,
        )
        for b, cable in zip(level, cables):
            fuse = fuses[b.id]
            upstream = nodes[b.parent].fuse.rating_a if b.parent else None
            needed = not b.parent or upstream is None or cable.ampacity_a is None or upstream > cable.ampacity_a
            before[b.id] = before[b.parent] + (cable.cold_ohm or 0.0)
            load = "" if b.load is None else b.load.name
            nodes[b.id] = Node(b.id, b.parent, load, depth, cable, fuse, needed, fuse.prospective_a)
        here = {b.id for b in level}
        level = [b for b in kept if b.parent in here]
        depth += 1
    return SupplyTree(tuple(nodes.values()), _assumed(supply, behind, kept, drop_limit), checks)


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
        if b.load is None and not any(c.parent == b.id for c in branches):
            raise InputError("branch", b.id, "a load at its end, or branches that start there")
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
    branches: Sequence[SupplyBranch],
    runs: dict[str, CableRun],
    amps: dict[str, float],
    volts: float,
    drop_limit: float,
) -> dict[str, float]:
    """The part of the drop each branch may have.

    What the vehicle's body drops cannot be bought off; the rest goes by length times the root of the current,
    which needs the least metal (areas in proportion to the root of the current; Lagrange).
    """
    weight = {b.id: sum(lengths_m(runs[b.id])) * sqrt(amps[b.id]) for b in branches}
    fixed = {b.id: BODY_OHM * amps[b.id] / volts if runs[b.id].body else 0.0 for b in branches}
    ways = [way for b in branches if not any(c.parent == b.id for c in branches) for way in [_way(b, branches)]]
    scale = {
        way: max(drop_limit - sum(fixed[k] for k in way), _LEAST * drop_limit) / sum(weight[k] for k in way)
        for way in ways
    }
    return {b.id: fixed[b.id] + weight[b.id] * min(scale[way] for way in ways if b.id in way) for b in branches}


def _way(branch: SupplyBranch, branches: Sequence[SupplyBranch]) -> tuple[str, ...]:
    """Ids from the battery to a branch."""
    by_id = {b.id: b for b in branches}
    found = [branch.id]
    while branch.parent:
        branch = by_id[branch.parent]
        found.append(branch.id)
    return tuple(reversed(found))
