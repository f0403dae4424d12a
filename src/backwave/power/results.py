"""What comes out of the power room, frozen.  SI units; cross sections mm2, temperatures degC."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.assumptions import Assumed
from backwave.errors import InputError
from backwave.finding import Check


@dataclass(frozen=True)
class LoadCurrent:
    """What one load draws."""

    name: str  # the load
    rated_a: float  # A: at rated power on all channels, a sine
    musical_a: float  # A: mean with music of the stated crest factor whose peaks just reach the rated peak
    at_v: float  # V: supply voltage it holds at
    efficiency: float  # used
    fuses_a: float  # A: sum of its own fuses, 0 for none
    design_a: float  # A: what cable and fuse are laid out for: the larger of `rated_a` and `fuses_a`
    assumed: tuple[Assumed, ...] = ()  # what was taken for what nobody gave
    off_a: float | None = None  # A: mean with the engine off; None is `musical_a`


@dataclass(frozen=True)
class CurrentBudget:
    """The whole vehicle's current."""

    loads: tuple[LoadCurrent, ...]  # those whose current is known
    rated_a: float  # A: their sums
    musical_a: float  # A: their sums
    idle_spare_a: (
        float | None
    )  # A: what the alternator has left with music, at idle and at speed; below 0 the battery empties
    speed_spare_a: (
        float | None
    )  # A: what the alternator has left with music, at idle and at speed; below 0 the battery empties
    off_min: float | None  # min: listening with the engine off until `depth` of the battery is used
    depth: float  # that share of its capacity
    assumed: tuple[Assumed, ...]  # what was taken for what nobody gave, of the supply
    checks: tuple[Check, ...]  # what was found


@dataclass(frozen=True)
class SizeTried:
    """One standard size, and how it does."""

    name: str  # "16 mm2" or "AWG 4"
    area_mm2: float  # mm2: cross section
    awg: str  # gauge, "" for a metric size
    loop_ohm: float  # ohm: out and back at the conductor's temperature, body included
    drop_v: float  # V at the current
    conductor_degc: float | None  # degC: at the current; None where it never settles
    ampacity_a: float  # A: continuous current that heats it to its insulation's limit in this place
    fails: tuple[str, ...]  # of "drop", "heat", "fuse", "overload" (1.35 times the fuse); empty where it will do


@dataclass(frozen=True)
class CableChoice:
    """The least standard size that will do, and why each smaller one will not."""

    size: str  # name of the chosen size, "" where one cable cannot do it
    current_a: float  # A: laid out for
    length_m: float  # m: one way, measured or guessed
    area_mm2: float | None  # mm2: the chosen size
    awg: str  # the least gauge that will do as well, "" where none does
    drop_v: float | None  # V out and back
    drop_fraction: float | None  # of the supply
    conductor_degc: float | None  # degC: at `current_a`
    ampacity_a: float | None  # A: what it stands in this place
    fuse_a: float | None  # A: the fuse it is protected by
    loop_ohm: float | None  # ohm out and back when hot
    feed_ohm: float | None  # ohm of the feed alone when hot
    cold_ohm: float | None  # ohm of the feed at 20 degC and its nominal section: the least it takes off a short
    tried: tuple[SizeTried, ...]  # every size of the series asked for, rising
    assumed: tuple[Assumed, ...]  # what was taken for what nobody gave
    checks: tuple[Check, ...]  # what was found
    given: bool = False  # that size is there already
    fails: tuple[str, ...] = ()  # what it does not keep, as of `SizeTried`


@dataclass(frozen=True)
class FuseChoice:
    """A fuse."""

    rating_a: float | None  # A: of the standard series; None where no fuse will do
    style: str  # "blade", "large blade", "strip", as in the stock
    color: str  # of its body, "" where the standard gives none
    breaking_a: float  # A it can break
    prospective_a: float  # A a short draws where it sits
    continuous_a: float  # A it was chosen for
    peak_a: float  # A it was chosen for
    standard: str  # its standard
    assumed: tuple[Assumed, ...]  # what was taken
    checks: tuple[Check, ...]  # what was found


@dataclass(frozen=True)
class Node:
    """A branch, worked out."""

    id: str  # as given
    parent: str  # as given
    load: str  # name of what hangs at its end, "" for a distribution point
    depth: int  # 0 at the battery
    cable: CableChoice  # its cable
    fuse: FuseChoice  # the fuse at its head
    fitted: bool  # the fuse is or will be there: at the battery, given, or because the fuse before it is more than this cable stands
    prospective_a: float  # A: what a short just behind its fuse draws


@dataclass(frozen=True)
class SupplyTree:
    """The distribution from the battery to every load, parents before children."""

    nodes: tuple[Node, ...]  # one a branch
    assumed: tuple[
        Assumed, ...
    ]  # what was taken for what nobody gave, of the supply, the loads and the drop allowed; each cable and fuse has its own
    checks: tuple[Check, ...]  # those that belong to no one branch

    def node(self, branch: str) -> Node:
        """One of them; no such branch is an InputError."""
        for node in self.nodes:
            if node.id == branch:
                return node
        raise InputError("branch", branch, ", ".join(n.id for n in self.nodes))
