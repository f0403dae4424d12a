"""What goes into the power room: supply, loads, runs of cable and branches; and what was taken for what nobody gave.

SI units; cross sections are mm2 and temperatures degC, because that is how cable is sold and rated.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from backwave.errors import InputError

__all__ = ["CableRun", "Supply", "SupplyBranch", "SupplyLoad"]


@dataclass(frozen=True)
class Supply:
    """The vehicle's supply.  None is "not given": a default is taken and listed, or the person is asked.

    Parameters
    ----------
    battery_v : float or None, V
        At rest, engine off; 12.6 (25.2) is taken.
    capacity_ah : float or None, A h
        20 hour capacity; without it there is no time of listening.
    resistance_ohm : float or None, ohm
        Inner resistance of the battery; 5 mohm (10 at 24 V) is taken, on the low side, because it sets the
        current a fuse has to break.
    alternator_a, idle_a : float or None, A
        What the alternator (or converter) gives at speed and at idle; without them there is no budget.
    vehicle_a : float or None, A
        What the vehicle itself draws, engine running; without it there is no budget.
    off_a : float or None, A
        What the vehicle draws while listening with the engine off; 3 A is taken.
    running_v : float or None, V
        At the battery, engine running; 14.4 (28.8) is taken.
    system : 12 or 24, V
        Nominal voltage.
    battery : "lead-acid" or "lithium", no unit
        Its chemistry.
    source : "alternator" or "converter", no unit
        What charges it; electric vehicles have a converter.

    Raises
    ------
    InputError
        A number that is not finite and above 0, or a word that is none of those.
    """

    battery_v: float | None = None
    capacity_ah: float | None = None
    resistance_ohm: float | None = None
    alternator_a: float | None = None
    idle_a: float | None = None
    vehicle_a: float | None = None
    off_a: float | None = None
    running_v: float | None = None
    system: int = 12
    battery: Literal["lead-acid", "lithium"] = "lead-acid"
    source: Literal["alternator", "converter"] = "alternator"

    def __post_init__(self) -> None:
        for name in ("battery_v", "capacity_ah", "resistance_ohm", "alternator_a", "running_v"):
            _positive(name, getattr(self, name))
        for name in ("idle_a", "vehicle_a", "off_a"):
            _positive(name, getattr(self, name), zero=True)
        _one_of("nominal voltage", self.system, (12, 24))
        _one_of("battery", self.battery, ("lead-acid", "lithium"))
        _one_of("source of the supply", self.source, ("alternator", "converter"))


@dataclass(frozen=True)
class SupplyLoad:
    """Something that draws current from the supply.

    Parameters
    ----------
    name : str, no unit
        Its name.
    power_w : float or None, W
        Rated power of each channel, a sine; None where nobody knows.
    channels : int, no unit
        How many of them.
    into_ohm : float or None, ohm
        Load that the power is rated into.
    efficiency : float or None, no unit
        Power out over power in at rated power; by class where not given.
    klass : "AB" or "D", no unit
        Class of its output stage; it decides how current follows level.
    crest_db : float or None, dB
        Peak over rms of what is played, 3 or more; 12 is taken.
    fuses_a : tuple of float, A
        Its own fuses.
    regulated : bool, no unit
        Its own supply holds the power when the voltage sags, and so draws more; else the power falls with it.
    current_a : float or None, A
        What it draws where that is known (a fan, a processor): it takes the place of power and efficiency.

    Raises
    ------
    InputError
        A number outside its range.
    """

    name: str
    power_w: float | None = None
    channels: int = 1
    into_ohm: float | None = None
    efficiency: float | None = None
    klass: Literal["AB", "D"] = "D"
    crest_db: float | None = None
    fuses_a: tuple[float, ...] = ()
    regulated: bool = False
    current_a: float | None = None

    def __post_init__(self) -> None:
        for name in ("power_w", "into_ohm", "efficiency", "current_a"):
            _positive(f"{self.name}: {name}", getattr(self, name))
        for rating in self.fuses_a:
            _positive(f"{self.name}: fuse", rating)
        if self.efficiency is not None and self.efficiency > 1:
            raise InputError(f"{self.name}: efficiency", self.efficiency, "above 0, up to 1")
        if self.crest_db is not None and not (isfinite(self.crest_db) and self.crest_db >= 3):
            raise InputError(f"{self.name}: crest factor, dB", self.crest_db, "3 (a sine) or more")
        if self.channels < 1:
            raise InputError(f"{self.name}: channels", self.channels, "1 or more")
        _one_of(f"{self.name}: class", self.klass, ("AB", "D"))


@dataclass(frozen=True)
class CableRun:
    """A run of cable: out along one conductor and back along a ground cable, a second conductor or the body.

    Parameters
    ----------
    length_m : float or None, m
        One way; None where nobody measured it: a guess is used and its effect shown.
    ground_m : float or None, m
        Length of the return that is cable of the same size: 0.5 is taken (a ground lead to the body); the
        same as `length_m` for a pair.
    material : "copper" or "copper-clad aluminum", no unit
        Conductor.
    insulation_degc : float or None, degC
        What the insulation stands; 70 is taken, as of plain PVC.
    ambient_degc : float or None, degC
        Hottest air around it; 60 is taken.
    bundle : int, no unit
        Loaded cables that touch, this one counted.
    body : bool, no unit
        The return goes through the vehicle's body (its resistance counts).
    size : str, no unit
        Name of the size that is already there or bought ("16 mm2", "AWG 4"), to be judged; "" chooses.

    Raises
    ------
    InputError
        A number outside its range, an insulation no better than the air, or an unknown material.
    """

    length_m: float | None = None
    ground_m: float | None = None
    material: str = "copper"
    insulation_degc: float | None = None
    ambient_degc: float | None = None
    bundle: int = 1
    body: bool = True
    size: str = ""

    def __post_init__(self) -> None:
        _positive("length of the cable, m", self.length_m)
        _positive("length of the ground cable, m", self.ground_m, zero=True)
        _one_of("conductor", self.material, ("copper", "copper-clad aluminum"))
        for what, value in (("ambient, degC", self.ambient_degc), ("insulation, degC", self.insulation_degc)):
            if value is not None and not -40 <= value <= 250:
                raise InputError(what, value, "-40 to 250 degC")
        if self.bundle < 1:
            raise InputError("cables in the bundle", self.bundle, "1 or more")


@dataclass(frozen=True)
class SupplyBranch:
    """One run of the distribution, with the fuse at its head.

    Parameters
    ----------
    id : str, no unit
        Its name, unique.
    run : CableRun, no unit
        Its cable.
    load : SupplyLoad or None, no unit
        What hangs at its end; None for a distribution point.
    parent : str, no unit
        The branch it starts at the end of, "" for the battery.
    style : str, no unit
        Fuse style as in the stock, "" for the first that can break the current.
    fuse_a : float or None, A
        Rating of a fuse that is already there, to be judged; None chooses.

    Raises
    ------
    InputError
        An id that is empty.
    """

    id: str
    run: CableRun
    load: SupplyLoad | None = None
    parent: str = ""
    style: str = ""
    fuse_a: float | None = None

    def __post_init__(self) -> None:
        if not self.id:
            raise InputError("id of a branch", "nothing", "a name")


def _positive(what: str, value: float | None, zero: bool = False) -> None:
    if value is not None and not (isfinite(value) and (value > 0 or (zero and value == 0))):
        raise InputError(what, value, "a finite number, 0 or more" if zero else "a finite number above 0")


def _one_of(what: str, value: object, known: tuple[object, ...]) -> None:
    if value not in known:
        raise InputError(what, value, " or ".join(map(str, known)))
