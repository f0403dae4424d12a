"""What goes into the power room (supply, loads, runs of cable, branches) and what comes out of it, frozen.

SI units; cross sections are mm2 and temperatures degC, because that is how cable is sold and rated."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from backwave.errors import InputError, check_number
from backwave.finding import Assumed, Check


@dataclass(frozen=True)
class Supply:
    """The vehicle's supply.  None is "not given": a default is taken and listed, or the person is asked."""

    battery_v: float | None = None  # V at rest, engine off; 12.6 (25.2) is taken
    capacity_ah: float | None = None  # A h at 20 hours; without it there is no time of listening
    resistance_ohm: float | None = None  # inside the battery; 5 mohm (10 at 24 V, lithium 2) is taken, on the low side
    alternator_a: float | None = None  # A of alternator or converter at speed; without it there is no budget
    idle_a: float | None = None  # A at idle, likewise
    vehicle_a: float | None = None  # A the vehicle itself draws, engine running, likewise
    off_a: float | None = None  # A it draws while somebody listens with the engine off; 3 is taken
    running_v: float | None = None  # V at the battery, engine running; 14.4 (28.8) is taken
    system: int = 12  # V, nominal: 12 or 24
    battery: Literal["lead-acid", "agm", "lithium"] = "lead-acid"
    source: Literal["alternator", "converter"] = "alternator"  # electric vehicles have a converter

    def __post_init__(self) -> None:
        for name in ("battery_v", "capacity_ah", "resistance_ohm", "alternator_a", "running_v"):
            check_number(name, getattr(self, name))
        for name in ("idle_a", "vehicle_a", "off_a"):
            check_number(name, getattr(self, name), 0)
        _one_of("nominal voltage", self.system, (12, 24))
        _one_of("battery", self.battery, ("lead-acid", "agm", "lithium"))
        _one_of("source of the supply", self.source, ("alternator", "converter"))


@dataclass(frozen=True)
class SupplyLoad:
    """Something that draws current from the supply."""

    name: str
    power_w: float | None = None  # W of each channel, a sine; None where nobody knows
    channels: int = 1
    into_ohm: float | None = None  # ohm that the power is rated into
    efficiency: float | None = None  # power out over power in at rated power; by class where not given
    klass: Literal["AB", "D"] = "D"  # of its output stage: decides how current follows level
    crest_db: float | None = None  # dB, peak over rms of what is played, 3 or more; 12 is taken
    fuses_a: tuple[float, ...] = ()  # A, its own
    regulated: bool = False  # its own supply holds the power when the voltage sags, and so draws more
    current_a: float | None = None  # A it draws where that is known; takes the place of power and efficiency
    mean_a: tuple[float, float] | None = None  # A with music, engine off and running; None: by crest factor, both alike
    buffered: bool = False  # a battery behind it gives the peaks: it never draws more than `mean_a`

    def __post_init__(self) -> None:
        for name in ("power_w", "into_ohm", "efficiency", "current_a"):
            check_number(f"{self.name}: {name}", getattr(self, name))
        for rating in self.fuses_a:
            check_number(f"{self.name}: fuse", rating)
        if self.efficiency is not None and self.efficiency > 1:
            raise InputError(f"{self.name}: efficiency", self.efficiency, "above 0, up to 1")
        if self.crest_db is not None and not (isfinite(self.crest_db) and self.crest_db >= 3):
            raise InputError(f"{self.name}: crest factor, dB", self.crest_db, "3 (a sine) or more")
        if self.channels < 1:
            raise InputError(f"{self.name}: channels", self.channels, "1 or more")
        _one_of(f"{self.name}: class", self.klass, ("AB", "D"))


@dataclass(frozen=True)
class CableRun:
    """A run of cable: out along one conductor and back along a ground cable, a second conductor or the body."""

    length_m: float | None = None  # m, one way; None where nobody measured it: a guess is used, its effect shown
    ground_m: float | None = None  # m of return that is cable: 0.5 is taken to a body, `length_m` for a pair
    material: str = "copper"  # or "copper-clad aluminum"
    insulation_degc: float | None = None  # degC it stands; 70 is taken, as of plain PVC
    ambient_degc: float | None = None  # degC, hottest air around it; 60 is taken
    bundle: int = 1  # loaded cables that touch, this one counted
    body: bool = True  # the return goes through the vehicle's body, whose resistance counts
    size: str = ""  # already there or bought ("16 mm2", "AWG 4"), to be judged; "" chooses
    ground_size: str = ""  # of the return that is cable; "" is that of the feed
    ground_material: str = ""  # likewise
    measured_mohm_m: float | None = None  # mohm/m at 20 degC as measured, in place of the table's

    def __post_init__(self) -> None:
        check_number("length of the cable, m", self.length_m)
        check_number("length of the ground cable, m", self.ground_m, 0)
        check_number("measured resistance of the cable, mohm/m", self.measured_mohm_m)
        _one_of("conductor", self.material, ("copper", "copper-clad aluminum"))
        _one_of("ground's conductor", self.ground_material, ("", "copper", "copper-clad aluminum"))
        for what, value in (("ambient, degC", self.ambient_degc), ("insulation, degC", self.insulation_degc)):
            if value is not None and not -40 <= value <= 250:
                raise InputError(what, value, "-40 to 250 degC")
        if self.bundle < 1:
            raise InputError("cables in the bundle", self.bundle, "1 or more")


@dataclass(frozen=True)
class SupplyBranch:
    """One run of the distribution, with the fuse at its head."""

    id: str  # unique
    run: CableRun
    load: SupplyLoad | None = None  # at its end; None for a distribution point
    parent: str = ""  # the branch at whose end it starts, "" for the battery
    style: str = ""  # of its fuse; "" takes the first that can break the current
    fuse_a: float | None = None  # A, already there, to be judged; None chooses

    def __post_init__(self) -> None:
        if not self.id:
            raise InputError("id of a branch", "nothing", "a name")


def _one_of(what: str, value: object, known: tuple[object, ...]) -> None:
    if value not in known:
        raise InputError(what, value, " or ".join(map(str, known)))


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
    rated_a: float  # of all of them
    musical_a: float
    # A: what the alternator has left with music, at idle and at speed; below 0 the battery empties
    idle_spare_a: float | None
    speed_spare_a: float | None
    off_min: float | None  # min: listening with the engine off until `depth` of the battery is used
    depth: float  # that share of its capacity
    assumed: tuple[Assumed, ...]  # what was taken for what nobody gave, of the supply
    checks: tuple[Check, ...]


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
    tried: tuple[SizeTried, ...]  # the series asked for, rising
    assumed: tuple[Assumed, ...]  # what was taken for what nobody gave
    checks: tuple[Check, ...]
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
    standard: str
    assumed: tuple[Assumed, ...]  # what was taken
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class Node:
    """A branch, worked out."""

    id: str
    parent: str
    load: str  # name of what hangs at its end, "" for a distribution point
    depth: int  # 0 at the battery
    cable: CableChoice
    fuse: FuseChoice  # the fuse at its head
    fitted: (
        bool  # it is or will be there: at the battery, given, or as the fuse before it is more than this cable stands
    )
    prospective_a: float  # A: what a short just behind its fuse draws


@dataclass(frozen=True)
class SupplyTree:
    """The distribution from the battery to every load, parents before children."""

    nodes: tuple[Node, ...]  # one a branch
    assumed: tuple[Assumed, ...]  # of the supply, the loads and the drop allowed; each cable and fuse has its own
    checks: tuple[Check, ...]  # those that belong to no one branch

    def node(self, branch: str) -> Node:
        """One of them; no such branch is an InputError."""
        found = next((node for node in self.nodes if node.id == branch), None)
        if found is None:
            raise InputError("branch", branch, ", ".join(n.id for n in self.nodes))
        return found
