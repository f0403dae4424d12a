"""What comes out of the power room, frozen.  SI units; cross sections mm2, temperatures degC."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.assumptions import Assumed
from backwave.errors import InputError
from backwave.finding import Check

__all__ = ["CableChoice", "CurrentBudget", "FuseChoice", "LoadCurrent", "Node", "SizeTried", "SupplyTree"]


@dataclass(frozen=True)
class LoadCurrent:
    """What one load draws.

    Parameters
    ----------
    name : str, no unit
        The load.
    rated_a : float, A
        At rated power on all channels, a sine.
    musical_a : float, A
        Mean with music of the stated crest factor whose peaks just reach the rated peak.
    at_v : float, V
        Supply voltage it holds at.
    efficiency : float, no unit
        Used.
    fuses_a : float, A
        Sum of its own fuses, 0 for none.
    design_a : float, A
        What cable and fuse are laid out for: the larger of `rated_a` and `fuses_a`.
    assumed : tuple of Assumed, no unit
        What was taken for what nobody gave.
    """

    name: str
    rated_a: float
    musical_a: float
    at_v: float
    efficiency: float
    fuses_a: float
    design_a: float
    assumed: tuple[Assumed, ...] = ()


@dataclass(frozen=True)
class CurrentBudget:
    """The whole vehicle's current.

    Parameters
    ----------
    loads : tuple of LoadCurrent, no unit
        Those whose current is known.
    rated_a, musical_a : float, A
        Their sums.
    idle_spare_a, speed_spare_a : float or None, A
        What the alternator has left with music, at idle and at speed; below 0 the battery empties.
    off_min : float or None, min
        Listening with the engine off until `depth` of the battery is used.
    depth : float, no unit
        That share of its capacity.
    assumed : tuple of Assumed, no unit
        What was taken for what nobody gave, of the supply.
    checks : tuple of Check, no unit
        What was found.
    """

    loads: tuple[LoadCurrent, ...]
    rated_a: float
    musical_a: float
    idle_spare_a: float | None
    speed_spare_a: float | None
    off_min: float | None
    depth: float
    assumed: tuple[Assumed, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class SizeTried:
    """One standard size, and how it does.

    Parameters
    ----------
    name : str, no unit
        "16 mm2" or "AWG 4".
    area_mm2 : float, mm2
        Cross section.
    awg : str, no unit
        Gauge, "" for a metric size.
    loop_ohm : float, ohm
        Out and back at the conductor's temperature, body included.
    drop_v : float, V
        At the current.
    conductor_degc : float or None, degC
        At the current; None where it never settles.
    ampacity_a : float, A
        Continuous current that heats it to its insulation's limit in this place.
    fails : tuple of str, no unit
        Why it will not do: of "drop", "heat", "fuse"; empty where it will.
    """

    name: str
    area_mm2: float
    awg: str
    loop_ohm: float
    drop_v: float
    conductor_degc: float | None
    ampacity_a: float
    fails: tuple[str, ...]


@dataclass(frozen=True)
class CableChoice:
    """The least standard size that will do, and why each smaller one will not.

    Parameters
    ----------
    size : str, no unit
        Name of the chosen size, "" where one cable cannot do it.
    current_a : float, A
        Laid out for.
    length_m : float, m
        One way, measured or guessed.
    area_mm2 : float or None, mm2
        The chosen size.
    awg : str, no unit
        The least gauge that will do as well, "" where none does.
    drop_v, drop_fraction : float or None, V and no unit
        Out and back, and as a share of the supply.
    conductor_degc : float or None, degC
        At `current_a`.
    ampacity_a : float or None, A
        What it stands in this place.
    fuse_a : float or None, A
        The fuse it is protected by.
    loop_ohm, feed_ohm, cold_ohm : float or None, ohm
        Out and back when hot; the feed alone when hot, and at 20 degC (what it takes off a short).
    tried : tuple of SizeTried, no unit
        Every size of the series asked for, rising.
    assumed : tuple of Assumed, no unit
        What was taken for what nobody gave.
    checks : tuple of Check, no unit
        What was found.
    """

    size: str
    current_a: float
    length_m: float
    area_mm2: float | None
    awg: str
    drop_v: float | None
    drop_fraction: float | None
    conductor_degc: float | None
    ampacity_a: float | None
    fuse_a: float | None
    loop_ohm: float | None
    feed_ohm: float | None
    cold_ohm: float | None
    tried: tuple[SizeTried, ...]
    assumed: tuple[Assumed, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class FuseChoice:
    """A fuse.

    Parameters
    ----------
    rating_a : float or None, A
        Of the standard series; None where no fuse will do.
    style : str, no unit
        "blade", "large blade", "strip", as in the stock.
    color : str, no unit
        Of its body, "" where the standard gives none.
    breaking_a, prospective_a : float, A
        What it can break, and what a short would draw where it sits.
    continuous_a, peak_a : float, A
        What it was chosen for.
    standard : str, no unit
        Its standard.
    assumed : tuple of Assumed, no unit
        What was taken.
    checks : tuple of Check, no unit
        What was found.
    """

    rating_a: float | None
    style: str
    color: str
    breaking_a: float
    prospective_a: float
    continuous_a: float
    peak_a: float
    standard: str
    assumed: tuple[Assumed, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class Node:
    """A branch, worked out.

    Parameters
    ----------
    id, parent : str, no unit
        As given.
    load : str, no unit
        Name of what hangs at its end, "" for a distribution point.
    depth : int, no unit
        0 at the battery.
    cable : CableChoice, no unit
        Its cable.
    fuse : FuseChoice, no unit
        The fuse at its head.
    needed : bool, no unit
        The fuse has to be there: at the battery, or because the fuse before it is more than this cable stands.
    prospective_a : float, A
        What a short just behind its fuse draws.
    """

    id: str
    parent: str
    load: str
    depth: int
    cable: CableChoice
    fuse: FuseChoice
    needed: bool
    prospective_a: float


@dataclass(frozen=True)
class SupplyTree:
    """The distribution from the battery to every load, parents before children.

    Parameters
    ----------
    nodes : tuple of Node, no unit
        One a branch.
    assumed : tuple of Assumed, no unit
        What was taken for what nobody gave, of the supply, the loads and the drop allowed; each cable and fuse has
        its own.
    checks : tuple of Check, no unit
        Those that belong to no one branch.
    """

    nodes: tuple[Node, ...]
    assumed: tuple[Assumed, ...]
    checks: tuple[Check, ...]

    def node(self, branch: str) -> Node:
        """One of them.

        Parameters
        ----------
        branch : str, no unit
            Its id.

        Raises
        ------
        InputError
            No such branch.
        """
        for node in self.nodes:
            if node.id == branch:
                return node
        raise InputError("branch", branch, ", ".join(n.id for n in self.nodes))
