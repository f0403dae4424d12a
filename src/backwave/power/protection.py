"""Every conductor of the installation as built, against the fuses that are really fitted before it.

Nodes are names; sources, blocks and loads are nodes, conductors join two of them.  What can go through a conductor for
good is the largest flow from all sources to one of its ends without the conductor itself, each fuse that is really
fitted (and each source's own limit) being the capacity of its edge: with one source and one way that is the least
fuse on the way; behind a junction of two sources the sum of theirs (Ford and Fulkerson 1956: largest flow is the least cut).

A conductor settles at a temperature under that current, and at another under 1.35 times of it, which some fuses carry for
half an hour (ISO 8820-3; from memory).  `stop`: over its insulation's class at the first, or over class + 50 K at the
second (short-time overload in the manner of ISO 6722-1; from memory); between: `caution`.  Up to the first fuse on its
way it is judged by length and cover instead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf, isfinite
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Verdict, check_of
from backwave.power.cable import OVERLOAD, sizes_of
from backwave.power.fuse import breaking_check, fuses_of, place_check
from backwave.power.heat import ampacity_a, conductor_degc
from backwave.stock import CableSizeRow, ConductorRow, Stock, shipped


@dataclass(frozen=True)
class PowerSource:
    """A battery, capacitor bank, converter or alternator; its plus is the node of its id, or `node`."""

    id: str
    charged_v: float  # V: fully charged and at rest; the largest output of a converter or alternator
    resistance_ohm: float | None = None  # ohm, the least it may have; None: its limit alone counts
    limit_a: float | None = None  # A, what it gives at most; None: as much as its resistance lets through
    advised_a: float | None = None  # A a fuse at it should break, where its resistance was only taken for it
    node: str = ""  # where its plus is; "": a node of its own id

    def __post_init__(self) -> None:
        if self.resistance_ohm is None and self.limit_a is None:
            raise InputError(f"source {self.id}", "neither resistance nor limit", "one of both")

    @property
    def plus(self) -> str:
        """The node of its plus."""
        return self.node or self.id

    def short_a(self, path_ohm: float, sure: bool = False) -> float:
        """What it drives into a short behind a resistance, A; 0 where no way leads there. `sure`: no more than is
        advised, where its resistance was only taken."""
        if not isfinite(path_ohm):
            return 0.0
        limit = inf if self.limit_a is None else self.limit_a
        if sure and self.advised_a is not None:
            limit = min(limit, self.advised_a)
        return limit if self.resistance_ohm is None else min(limit, self.charged_v / (self.resistance_ohm + path_ohm))


@dataclass(frozen=True)
class FittedFuse:
    """A fuse that is there, or that will be."""

    rating_a: float  # A
    style: str
    breaking_a: float  # A, the most it can break
    limit_v: float = 32.0  # V, up to which


@dataclass(frozen=True)
class Conductor:
    """One cable of the supply, with the fuses at its two ends. Of a ground or return lead, `returns` names the node
    whose current it brings back; it is no way for a fault."""

    id: str
    start: str
    end: str
    role: Literal["feed", "ground", "return"]
    subject: str  # whose finding it is
    size: str  # a row of the cable table; "" where none will do: a way for current all the same
    length_m: float  # m
    material: str = "copper"
    insulation_degc: float = 70.0  # degC, its class
    ambient_degc: float = 60.0  # degC
    bundle: int = 1
    measured_mohm_m: float | None = None  # mohm/m at 20 degC, in place of the table's
    fuse: FittedFuse | None = None  # at its start
    end_fuse: FittedFuse | None = None  # at its end: a cable between two sources has both
    bare_m: float | None = None  # m from its start to its fuse; None where nobody measured
    sleeved: bool | None = None  # up to that fuse
    returns: str = ""


@dataclass(frozen=True)
class Installation:
    """All of it: more sources are only more nodes."""

    sources: tuple[PowerSource, ...]
    conductors: tuple[Conductor, ...]

    def __post_init__(self) -> None:
        for what, names in (("source", [s.id for s in self.sources]), ("conductor", [c.id for c in self.conductors])):  # fmt: skip
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                raise InputError(f"{what} named twice", ", ".join(twice), "names used once")


def through_a(made: Installation) -> dict[str, float]:
    """What may flow through each conductor for good, A; infinite where no fuse lies between it and a source."""
    feeds = [c for c in made.conductors if not c.returns]
    found = {}
    for c in made.conductors:
        if c.returns:
            found[c.id] = _flow(made.sources, feeds, c.returns)
            continue
        others = [other for other in feeds if other is not c]
        found[c.id] = max(
            min(_rating(fuse), _flow(made.sources, others, node))
            for fuse, node in ((c.fuse, c.start), (c.end_fuse, c.end))
        )
    return found


def _rating(fuse: FittedFuse | None) -> float:
    return inf if fuse is None else fuse.rating_a


def _flow(sources: Sequence[PowerSource], feeds: Iterable[Conductor], sink: str) -> float:
    """Largest flow from all sources to a node, by shortest augmenting ways (Edmonds and Karp 1972)."""
    room: dict[str, dict[str, float]] = {}

    def edge(a: str, b: str, there: float, back: float) -> None:
        for start, end, amps in ((a, b, there), (b, a, back)):
            ways = room.setdefault(start, {})
            ways[end] = ways.get(end, 0.0) + amps

    for s in sources:
        edge("", s.plus, inf if s.limit_a is None else s.limit_a, 0.0)
    for c in feeds:
        least = min(_rating(c.fuse), _rating(c.end_fuse))
        edge(c.start, c.end, least, least)
    total = 0.0
    while way := _way(room, sink):
        amps = min(room[a][b] for a, b in pairwise(way))
        if amps == inf:
            return inf
        for a, b in pairwise(way):
            room[a][b] -= amps
            room[b][a] += amps
        total += amps
    return total


def _way(room: Mapping[str, Mapping[str, float]], sink: str) -> list[str]:
    """The shortest way on which anything more fits, from the common source; empty for none."""
    before = {"": ""}
    front = [""]
    while front:
        reached = []
        for node in front:
            for end, amps in room.get(node, {}).items():
                if amps > 1e-9 and end not in before:
                    before[end] = node
                    reached.append(end)
        if sink in before:
            way = [sink]
            while way[-1]:
                way.append(before[way[-1]])
            return way[::-1]
        front = reached
    return []


def short_a(
    made: Installation, node: str, cold_ohm: Mapping[str, float], without: str = "", sure: bool = False
) -> float:
    """What all sources together drive into a short at a node, A: each by its least resistance, or its own limit. Every
    source is counted as if it were alone on its shortest way, which is never less than what the network gives.
    `cold_ohm`: conductors by id, ohm when cold; `without`: a conductor that is left out; `sure`: as of a source."""
    feeds = [c for c in made.conductors if not c.returns and c.id != without]
    return sum(s.short_a(_ohm(s.plus, node, feeds, cold_ohm), sure) for s in made.sources)


def _ohm(start: str, end: str, feeds: Sequence[Conductor], cold_ohm: Mapping[str, float]) -> float:
    """Least resistance from one node to another (Dijkstra 1959); infinite where no way leads."""
    least = {start: 0.0}
    done: set[str] = set()
    while open_ := [node for node in least if node not in done]:
        node = min(open_, key=least.__getitem__)
        if node == end:
            return least[node]
        done.add(node)
        for c in feeds:
            for a, b in ((c.start, c.end), (c.end, c.start)):
                if a == node:
                    least[b] = min(least.get(b, inf), least[node] + cold_ohm[c.id])
    return inf


# over its class that insulation stands for some hours: short-time overload in the manner of ISO 6722-1 (from
# memory)
SHORT_TIME_K = 50.0


@dataclass(frozen=True)
class Protected:
    """One conductor with what protects it."""

    conductor: Conductor
    fuse_a: float | None  # A that may flow through it for good; None: no fuse lies between it and a source
    ampacity_a: float  # A that heat it to its insulation's class
    rating_degc: float | None  # where it settles at `fuse_a`; None without a fuse, or where it never does
    overload_degc: float | None  # the same at 1.35 times of it
    margin_k: float | None  # K, class less `rating_degc`
    checks: tuple[Check, ...]


def judge(made: Installation, supply_v: float = 14.4, stock: Stock | None = None) -> tuple[Protected, ...]:
    """Protection of every conductor, and whether each of its fuses breaks what all sources drive into a short behind
    it. `supply_v`: the highest that the supply reaches."""
    stock = stock or shipped()
    rows = {row.name: row for row in sizes_of(stock)}
    metals = stock.named(ConductorRow)
    through = through_a(made)
    cold = {c.id: _nominal_ohm(c, rows, metals) for c in made.conductors}
    wanted, sized = tuple(rows.values()), [c for c in made.conductors if c.size]
    if not sized:
        return ()
    ohm_m, rise, inner, outer = _figures(sized, wanted, metals)
    limit, air, bundle = (
        np.array([getattr(c, k) for c in sized]) for k in ("insulation_degc", "ambient_degc", "bundle")
    )
    stands = ampacity_a(limit[:, None], ohm_m, rise, inner, outer, air[:, None], bundle[:, None])
    mine = (np.arange(len(sized)), [wanted.index(rows[c.size]) for c in sized])
    for k, c in enumerate(sized):
        if c.measured_mohm_m is not None:
            ohm_m[mine[0][k], mine[1][k]] = c.measured_mohm_m * 1e-3
            stands[mine[0][k], mine[1][k]] *= (rows[c.size].mohm_m / c.measured_mohm_m) ** 0.5
    amps = np.array([through[c.id] for c in sized])
    finite = np.where(np.isfinite(amps), amps, 0.0)
    degc = conductor_degc(
        finite[:, None] * np.array([1.0, OVERLOAD]), ohm_m[mine][:, None], rise, inner[mine[1]][:, None], outer[mine[1]][:, None],
        air[:, None], bundle[:, None],
    )  # fmt: skip
    found = []
    for k, c in enumerate(sized):
        breaking = _breaking(made, c, cold, supply_v, stock)
        own = float(stands[mine[0][k], mine[1][k]])
        if not 0 < amps[k] < inf:
            found.append(Protected(c, None, own, None, None, None, (_unfused_check(made, c), *breaking)))
            continue
        at = [None if np.isnan(t) else float(t) for t in degc[k]]
        will_do = (
            r for r, a in zip(wanted, stands[k])
            if a >= OVERLOAD * amps[k] and r.area_mm2 > rows[c.size].area_mm2
            and r.series == ("awg" if rows[c.size].series == "awg" else "metric")
        )  # fmt: skip
        better = min(will_do, key=lambda r: r.area_mm2, default=None)
        check = _protection_check(c, float(amps[k]), own, at[0], at[1], "" if better is None else better.name)
        margin = None if at[0] is None else c.insulation_degc - at[0]
        found.append(Protected(c, float(amps[k]), own, at[0], at[1], margin, (check, *breaking)))
    return tuple(found)


def _nominal_ohm(c: Conductor, rows: Mapping[str, CableSizeRow], metals: Mapping[str, ConductorRow]) -> float:
    return 0.0 if not c.size else c.length_m * metals[c.material].resistivity_ohm_mm2_m / rows[c.size].area_mm2


def _figures(
    conductors: Sequence[Conductor], wanted: Sequence[CableSizeRow], metals: Mapping[str, ConductorRow]
) -> tuple[NDArray[np.float64], ...]:
    """Of every conductor (rows) in every size (columns): ohm/m, its rise, diameters."""
    metal = [metals[c.material] for c in conductors]
    against = np.array([m.resistivity_ohm_mm2_m / metals["copper"].resistivity_ohm_mm2_m for m in metal])[:, None]
    ohm_m = np.array([r.mohm_m for r in wanted]) * 1e-3 * against
    rise = np.array([m.rise_per_k for m in metal])[:, None]
    return ohm_m, rise, np.array([r.conductor_mm for r in wanted]), np.array([r.outer_mm for r in wanted])


_ROLES = {"feed": "cable", "ground": "ground cable", "return": "return cable"}


def _protection_check(
    c: Conductor, amps: float, stands: float, rating: float | None, overload: float | None, better: str
) -> Check:
    limit = c.insulation_degc
    verdict: Verdict = "ok"
    if overload is not None and overload > limit:
        verdict = "caution"
    if rating is None or rating > limit or overload is None or overload > limit + SHORT_TIME_K:
        verdict = "stop"
    said = "The {role}, {size}, lies behind {f} of fuses"
    if rating is None:
        said += ": it would burn before they open"
    else:
        said += " and settles at {t}; its insulation is rated {class}. At 1.35 times, which some fuses carry for half an hour, it "
        said += "would burn" if overload is None else "reaches {over}"
    remedy = "" if verdict == "ok" else "Fit fuses of {least} together or less before it, if its load allows"
    if remedy:
        remedy = "Take {better}; or f" + remedy[1:] if better else remedy + ", or take insulation that stands more heat"
    numbers = (
        ("role", _ROLES[c.role], ""), ("size", c.size, "size"), ("f", amps, "A"), ("class", limit, "degC"), ("stands", stands, "A"),
        ("t", rating or 0.0, "degC"), ("over", overload or 0.0, "degC"), ("least", stands / OVERLOAD, "A"), ("better", better, "size"),
    )  # fmt: skip
    heat = "Churchill and Chu 1975, convection; radiation; IEC 60028 resistance"
    flow = "largest flow, Ford and Fulkerson 1956"
    return check_of(
        "power.protection", verdict, said, remedy, numbers, (rating, limit, "degC"),
        (
            CalculationLine("F", "may flow through it for good: the fuses that are fitted between it and each source", amps, "A", flow),
            CalculationLine("I", "heats it to its insulation's class in its place", stands, "A"),
            CalculationLine("T", "settles at F", rating, "degC", heat),
            CalculationLine("T1.35", "settles at 1.35 F", overload, "degC"),
            CalculationLine("class", "of its insulation; 50 K more for a short time", limit, "degC", "ISO 6722-1 (from memory)"),
            CalculationLine("margin", "class less T", None if rating is None else limit - rating, "K"),
        ),
        ("IEC 60364-4-43 (from memory)", "ISO 6722-1 short-time overload (from memory)", "ISO 8820-3 (from memory)"),
        "size", "" if c.role == "feed" else c.role,
    )  # fmt: skip


def _unfused_check(made: Installation, c: Conductor) -> Check:
    """A conductor that no fuse protects: how far it reaches from the source along others that none protects."""
    reach = _bare_m(made, c)
    numbers = (("role", _ROLES[c.role], ""), ("size", c.size, "size"), ("d", reach, "m"))
    part = "" if c.role == "feed" else c.role
    if not isfinite(reach):
        return check_of(
            "power.protection", "caution", "No source reaches the {role}, {size}", "Say where it starts, or take it out",
            numbers[:2], sources=("IEC 60364-4-43 (from memory)",), key="from", part=part,
        )  # fmt: skip
    place = place_check(reach, c.sleeved)
    remedy = "Fit a fuse at every source's end of it, before anything is switched on"
    return check_of(
        "power.protection", place.verdict, "No fuse lies between the {role}, {size}, and its source; it ends {d} from there",
        "" if place.verdict == "ok" else remedy, numbers, (reach, place.limit, "m"), sources=place.sources, key="fuse", part=part,
    )  # fmt: skip


def _bare_m(made: Installation, c: Conductor) -> float:
    """Meters from the nearest source to the far end of a conductor, along those without a fuse."""
    bare = [o for o in made.conductors if not o.returns and o.fuse is None and o.end_fuse is None]
    least = {s.plus: 0.0 for s in made.sources}
    for _ in bare:
        for o in bare:
            for a, b in ((o.start, o.end), (o.end, o.start)):
                if a in least:
                    least[b] = min(least.get(b, inf), least[a] + o.length_m)
    ends = [least[node] for node in (c.start, c.end) if node in least]
    return c.length_m + min(ends, default=inf)


def _breaking(
    made: Installation, c: Conductor, cold_ohm: Mapping[str, float], supply_v: float, stock: Stock
) -> list[Check]:
    """Each fuse of a conductor: a short just behind it is fed from its own end, or through the whole cable from the other."""
    found = []
    stub = Conductor("stub", "", "stub", "feed", c.subject, c.size, c.length_m, c.material)
    others = tuple(o for o in made.conductors if o.id != c.id)
    ohms = {**cold_ohm, "stub": cold_ohm[c.id]}
    known = all(s.advised_a is None for s in made.sources)
    for part, fuse, mine, other in (("", c.fuse, c.start, c.end), ("end", c.end_fuse, c.end, c.start)):
        row = next((f for f in fuses_of(stock) if fuse is not None and f.name == fuse.style), None)
        if fuse is None or row is None:
            continue
        behind = Installation(made.sources, (*others, replace(stub, start=other)))
        short, sure = (max(short_a(behind, node, ohms, sure=s) for node in (mine, "stub")) for s in (False, True))
        if short > 0:
            check = breaking_check(row, short, supply_v, fuse.rating_a, None if known else sure, stock)
            found.append(replace(check, part=part))
    return found
