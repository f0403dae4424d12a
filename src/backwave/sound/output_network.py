"""One output and everything on it, solved once for one volt: what moves, what flows, and what would change.

The network: output resistance; for each load its passive parts, its driver, the air before and behind it.  All
results are by volt at the open terminals, so that channels that differ in filter, delay or level share them.
A variation is the same network with one uncertain element moved by one standard deviation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, pi, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics.air import Air
from backwave.network.circuit import Network, Solution
from backwave.network.element import Complex
from backwave.network.perturbation import variations
from backwave.notation.crossover import Branch
from backwave.sound.driver import Driver
from backwave.sound.driver_model import DATA_SHEET_SPREAD, Unit, place_unit
from backwave.sound.stamp_passive import place_passive

Real = NDArray[np.float64]
_FAINT = 1e-12  # ohm: an output without resistance is still an element


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
        """Put its air into the network, and say where it meets the cabin.

        `name`, `front`, `rear`: prefix of their names, the node before the cone and the node behind it.
        """

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
        sizes = {
            (k, element): size
            for k, load in enumerate(loads)
            for element, size in {
                **DATA_SHEET_SPREAD,
                **{f"mount.{n}": s for n, s in load.mount.spread().items()},
            }.items()
            if size > 0
        }
        # the gyrator of a motor holds 1/Bl: more of it is less of Bl
        sizes = {key: -size if key[1] == "Bl" else size for key, size in sizes.items()}
        factors = {f"{k}.{element}": (exp(-size), exp(size)) for (k, element), size in sizes.items()}
        changed = variations(solution, factors)
        moved = tuple(
            Perturbation(
                k,
                element,
                *(
                    tuple(_flow(changed[f"{k}.{element}", exp(sign * size)], outs) for outs in outlets)
                    for sign in (-1, 1)
                ),
            )
            for (k, element), size in sizes.items()
        )
    return ChannelResponse(solution.f_hz, solution.v("out") / -solution.i("source"), found, moved)


def _flow(solution: Solution, outlets: tuple[Outlet, ...]) -> Complex:
    return np.array([solution.i(outlet.name) for outlet in outlets])


def _load_response(solution: Solution, name: str, load: Load, outlets: tuple[Outlet, ...], air: Air) -> LoadResponse:
    current = solution.i(f"{name}.Re")
    plus = solution.system.parts[f"{name}.residual" if load.unit.residual is not None else f"{name}.Re"].element.nodes[
        0
    ]
    ports = [np.abs(solution.i(o.name)) * sqrt(2) / (pi * o.radius**2) for o in outlets if o.kind == "port"]
    return LoadResponse(
        outlets,
        _flow(solution, outlets),
        np.asarray(sqrt(2) * np.abs(solution.i(f"{name}.cone")) / (2 * pi * solution.f_hz)),
        np.abs(current),
        np.abs(current) ** 2 * load.unit.driver.Re,
        solution.v(plus),
        ports[0] if ports else None,
    )
