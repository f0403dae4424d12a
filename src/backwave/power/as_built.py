"""The installation as built: what each source can push through every conductor, and how hot that makes it.

Nodes are names; sources, blocks and loads are nodes, conductors join two of them.  What can go through a conductor for
good is the largest flow from all sources to one of its ends without the conductor itself, each fuse that is really
fitted (and each source's own limit) being the capacity of its edge: with one source and one way that is the least
fuse on the way; behind a junction of two sources the sum of theirs (Ford and Fulkerson 1956: largest flow is the least cut).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite
from typing import Literal

from backwave.errors import InputError


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
        """What it drives into a short behind a resistance, A; 0 where no way leads there.

        `sure`: no more than is advised, where its resistance was only taken.
        """
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
    """One cable of the supply, with the fuses at its two ends.

    Of a ground or return lead, `returns` names the node whose current it brings back; it is no way for a fault.
    """

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
    """What all sources together drive into a short at a node, A: each by its least resistance, or its own limit.

    Every source is counted as if it were alone on its shortest way, which is never less than what the network gives.
    `cold_ohm`: conductors by id, ohm when cold; `without`: a conductor that is left out; `sure`: as of a source.
    """
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
