"""One output and everything on it: its source and active chain, then the network, solved once for one volt.

A bridge-tied output straight off the vehicle's supply swings to the supply less what its transistors keep; an
amplifier is taken at its rating.  The network: output resistance; for each load its passive parts, its driver, the air
before and behind it.  All results are per volt at the open terminals, so that channels that differ in filter, delay or
level share them.  A variation is the same network with one uncertain element moved by one standard deviation.
Voltages are rms, frequencies in Hz."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from math import exp, isfinite, pi, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import Air, delay
from backwave.errors import InputError
from backwave.network.circuit import Network, Solution
from backwave.network.element import Complex
from backwave.network.perturbation import variations
from backwave.notation.crossover import Branch, CrossoverPart, Filter, Group
from backwave.sound.driver import DATA_SHEET_SPREAD, Driver, Unit, excursion, place_unit

# volts of the supply that a bridge-tied output cannot swing to (common trade practice: 0.5 to 2)
BRIDGE_LOSS = 1.0
# ohms of a head unit's output and its loom, where nobody measured them (common trade practice)
BRIDGE_RESISTANCE = 0.3
# ohms of an amplifier's output and its speaker cable, where nobody said (common trade practice)
AMPLIFIER_RESISTANCE = 0.05
Real = NDArray[np.float64]
_FAINT = 1e-12  # ohm: an output without resistance is still an element


@dataclass(frozen=True)
class Output:
    """One output of a source."""

    clip_v: float  # greatest sine at open terminals
    resistance: float  # ohm
    lowest_load: float | None = None  # ohm, the least rated load it may drive; None where nobody said
    # Hz and dB, what it does to the signal, as measured; empty is flat.  Level between by log frequency, beyond as
    # at the end.
    levels: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for name, value, least in (
            ("clipping voltage", self.clip_v, 0.0),
            ("output resistance", self.resistance, -1e-9),
        ):
            if not (isfinite(value) and value > least):
                raise InputError(name, value, "a finite number above 0")
        if any(b[0] <= a[0] for a, b in zip(self.levels, self.levels[1:])) or any(f <= 0 for f, _ in self.levels):
            raise InputError("levels of a source", self.levels, "rising frequencies above 0 Hz")

    def response(self, f_hz: ArrayLike) -> NDArray[np.float64]:
        """What it does to the signal, as a factor on the voltage."""
        f = np.asarray(f_hz, dtype=float)
        if not self.levels:
            return np.ones_like(f)
        at, db = np.array(self.levels).T
        return np.asarray(10 ** (np.interp(np.log(f), np.log(at), db) / 20))


def bridge(
    supply_v: float, resistance: float = BRIDGE_RESISTANCE, lowest_load: float | None = None,
    loss_v: float = BRIDGE_LOSS,
) -> Output:  # fmt: skip
    """A bridge-tied output straight off the supply: it clips where its peak meets supply less loss. `resistance`, ohm;
    `lowest_load`, ohm."""
    if not supply_v > loss_v:
        raise InputError("supply of a bridge-tied output", f"{supply_v:g} V", f"more than the {loss_v:g} V it keeps")
    return Output((supply_v - loss_v) / sqrt(2), resistance, lowest_load)


def amplifier(
    power_w: float, into_ohm: float, resistance: float = AMPLIFIER_RESISTANCE, lowest_load: float | None = None
) -> Output:
    """An amplifier by its rating: it clips at the rated power into the rated load. `resistance`, ohm: of the output and
    its cable; `lowest_load`, ohm."""
    return Output(sqrt(power_w * into_ohm) * (1 + resistance / into_ohm), resistance, lowest_load)


@dataclass(frozen=True)
class Chain:
    """What happens to the signal before the output: filters, delay, gain."""

    filters: tuple[Filter, ...] = ()  # in any order
    delay_s: float = 0.0  # how much later
    gain_db: float = 0.0

    def response(self, f_hz: ArrayLike) -> NDArray[np.complex128]:
        """Complex response of the whole chain."""
        h = delay(f_hz, self.delay_s) * 10 ** (self.gain_db / 20)
        for one in self.filters:
            h = h * one.response(f_hz)
        return np.asarray(h)


def place_passive(network: Network, name: str, plus: str, minus: str, branches: Sequence[Branch]) -> str:
    """Put branches from source to speaker, in order; the speaker's node. Parts are named `name.1L`, `name.2R` and so
    on, in the order written. `name`, `plus`, `minus`: prefix of their names, the output's node and the return."""
    parts, inner = count(1), count(1)
    node = plus
    for k, branch in enumerate(branches, 1):
        if branch.place == "series":
            after = f"{name}.after{k}"
            _place(network, name, node, after, branch.what, parts, inner)
            node = after
        else:
            _place(network, name, node, minus, branch.what, parts, inner)
    return node


def _place(
    network: Network, name: str, a: str, b: str, what: CrossoverPart | Group, parts: Iterator[int], inner: Iterator[int]
) -> None:
    if isinstance(what, CrossoverPart):
        element = f"{name}.{next(parts)}{what.kind}"
        if what.kind == "R":
            network.resistor(element, a, b, what.value)
        elif what.kind == "L":
            network.inductor(element, a, b, what.value, what.ohm)
        else:
            network.capacitor(element, a, b, what.value)
    elif what.how == "parallel":
        for part in what.parts:
            _place(network, name, a, b, part, parts, inner)
    else:
        # Nodes are counted by themselves: a group within a group begins before its parent has placed a part.
        for part in what.parts[:-1]:
            to = f"{name}.in{next(inner)}"
            _place(network, name, a, to, part, parts, inner)
            a = to
        _place(network, name, a, b, what.parts[-1], parts, inner)


@dataclass(frozen=True)
class Outlet:
    """Where a mount moves the air of the cabin."""

    name: str  # the element whose current is the volume velocity into the cabin, m3/s
    radius: float  # m, of the round piston of the same area
    kind: str  # "cone", "grille", "port", "trim leak", "trim"


class Mount(Protocol):
    """What a driver is mounted in: puts the air before and behind the cone into a network."""

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """Moving mass to use with it; None is Mms, which carries the air of an infinite baffle."""

    def place(self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air) -> tuple[Outlet, ...]:
        """Put its air into the network, and say where it meets the cabin. `name`, `front`, `rear`: prefix of their
        names, the node before the cone and the node behind it."""

    def spread(self) -> Mapping[str, float]:
        """Standard deviation of the logarithm of each uncertain element, by its name less the prefix."""


@dataclass(frozen=True)
class Load:
    """A driver with its passive parts and its mount, on an output."""

    unit: Unit
    mount: Mount
    passive: tuple[Branch, ...] = ()  # parts from source to speaker


@dataclass(frozen=True, eq=False)
class Perturbation:
    """What one uncertain element, moved by one standard deviation each way, does to the flows of one load."""

    load: int  # whose element it is
    element: str  # its name less the prefix, such as "Cms" or "ring"
    # n_freq) complex, flows of every load on the channel with the element smaller and larger
    less: tuple[Complex, ...]
    more: tuple[Complex, ...]  # m3/(s V)


@dataclass(frozen=True, eq=False)
class LoadResponse:
    """What one load does for one volt at the channel's open terminals."""

    outlets: tuple[Outlet, ...]  # where it meets the cabin
    flow: Complex  # (n_outlet, n_freq) m3/(s V), volume velocity of each into the cabin
    excursion: Real  # (n_freq,) m/V, peak of the cone, one way
    current: Real  # (n_freq,) A/V, through the driver, rms
    heat: Real  # (n_freq,) W/V2, in the driver's Re
    volts: Complex  # (n_freq,) 1, at the driver's terminals
    port_speed: Real | None  # (n_freq,) m/(s V), peak, of the air in its port


@dataclass(frozen=True, eq=False)
class ChannelResponse:
    """One output solved."""

    f_hz: Real  # (n_freq,)
    z: Complex  # (n_freq,) ohm, what the output sees
    loads: tuple[LoadResponse, ...]  # in the order of the channel
    moved: tuple[Perturbation, ...]  # one for each uncertain element


def channel_network(
    resistance: float, loads: tuple[Load, ...], air: Air
) -> tuple[Network, tuple[tuple[Outlet, ...], ...]]:
    """One output with all its loads as a network, and the outlets of each load. `resistance`, ohm."""
    network = Network()
    network.voltage("source", "open", "0", 1.0)
    network.resistor("output", "open", "out", max(resistance, _FAINT))
    outlets = []
    for k, load in enumerate(loads):
        name, driver = f"{k}", load.unit.driver
        front, rear = f"{name}.before", f"{name}.behind"
        plus = place_passive(network, f"{name}.passive", "out", "0", load.passive)
        place_unit(network, name, load.unit, plus, "0", front, rear, load.mount.mass_kg(driver, air))
        outlets.append(load.mount.place(network, f"{name}.mount", driver, front, rear, air))
    return network, tuple(outlets)


def channel_response(
    f_hz: Real, resistance: float, loads: tuple[Load, ...], air: Air | None = None, spread: bool = True
) -> ChannelResponse:
    """Solve one output with all its loads, for one volt at its open terminals. `resistance`, ohm."""
    air = air or Air()
    network, outlets = channel_network(resistance, loads, air)
    solution = network.solve(f_hz)
    found = tuple(_load_response(solution, f"{k}", load, outlets[k], air) for k, load in enumerate(loads))
    moved: tuple[Perturbation, ...] = ()
    if spread:
        # the gyrator of a motor holds 1/Bl: more of it is less of Bl
        sizes = {
            f"{k}.{element}": (k, element, -size if element == "Bl" else size)
            for k, load in enumerate(loads)
            for element, size in (DATA_SHEET_SPREAD | {f"mount.{n}": s for n, s in load.mount.spread().items()}).items()
            if size > 0
        }
        changed = variations(solution, {key: (exp(-size), exp(size)) for key, (_, _, size) in sizes.items()})

        def flows(key: str, factor: float) -> tuple[Complex, ...]:
            return tuple(_flow(changed[key, factor], outs) for outs in outlets)

        moved = tuple(
            Perturbation(k, element, flows(key, exp(-size)), flows(key, exp(size)))
            for key, (k, element, size) in sizes.items()
        )
    return ChannelResponse(solution.f_hz, solution.v("out") / -solution.i("source"), found, moved)


def _flow(solution: Solution, outlets: tuple[Outlet, ...]) -> Complex:
    return np.array([solution.i(outlet.name) for outlet in outlets])


def _load_response(solution: Solution, name: str, load: Load, outlets: tuple[Outlet, ...], air: Air) -> LoadResponse:
    current = solution.i(f"{name}.Re")
    first = f"{name}.Re" if load.unit.residual is None else f"{name}.residual"
    plus = solution.system.parts[first].element.nodes[0]
    ports = [np.abs(solution.i(o.name)) * sqrt(2) / (pi * o.radius**2) for o in outlets if o.kind == "port"]
    return LoadResponse(
        outlets, _flow(solution, outlets), excursion(solution, name), np.abs(current),
        np.abs(current) ** 2 * load.unit.driver.Re, solution.v(plus), ports[0] if ports else None,
    )  # fmt: skip
