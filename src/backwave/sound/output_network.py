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

__all__ = [
    "ChannelResponse",
    "Load",
    "LoadResponse",
    "Outlet",
    "Perturbation",
    "channel_network",
    "channel_response",
]

Real = NDArray[np.float64]
_FAINT = 1e-12  # ohm: an output without resistance is still an element


@dataclass(frozen=True)
class Outlet:
    """Where a mount moves the air of the cabin.

    Parameters
    ----------
    name : str, no unit
        The element whose current is the volume velocity into the cabin, m3/s.
    radius : float, m
        Of the round piston of the same area.
    kind : str, no unit
        "cone", "grille", "port", "trim leak", "trim".
    """

    name: str
    radius: float
    kind: str


class Mount(Protocol):
    """What a driver is mounted in: puts the air before and behind the cone into a network."""

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """Moving mass to use with it; None is Mms, which carries the air of an infinite baffle.

        Parameters
        ----------
        driver : Driver, no unit
            The driver.
        air : Air, no unit
            The air.
        """

    def place(
        self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air
    ) -> tuple[Outlet, ...]:
        """Put its air into the network, and say where it meets the cabin.

        Parameters
        ----------
        network : Network, no unit
            Receives the elements.
        name, front, rear : str, no unit
            Prefix of their names, the node before the cone and the node behind it.
        driver : Driver, no unit
            The driver.
        air : Air, no unit
            The air.
        """

    def spread(self) -> Mapping[str, float]:
        """Standard deviation of the logarithm of each uncertain element, by its name less the prefix."""


@dataclass(frozen=True)
class Load:
    """A driver with its passive parts and its mount, on an output.

    Parameters
    ----------
    unit : Unit, no unit
        The driver.
    mount : Mount, no unit
        Where it is.
    passive : tuple of Branch, no unit
        Parts from source to speaker.
    """

    unit: Unit
    mount: Mount
    passive: tuple[Branch, ...] = ()


@dataclass(frozen=True, eq=False)
class Perturbation:
    """What one uncertain element, moved by one standard deviation each way, does to the flows of one load.

    Parameters
    ----------
    load : int, no unit
        Whose element it is.
    element : str, no unit
        Its name less the prefix, such as "Cms" or "ring".
    less, more : tuple of (n_outlet, n_freq) complex, m3/(s V)
        Flows of every load on the channel with the element smaller and larger.
    """

    load: int
    element: str
    less: tuple[Complex, ...]
    more: tuple[Complex, ...]


@dataclass(frozen=True, eq=False)
class LoadResponse:
    """What one load does for one volt at the channel's open terminals.

    Parameters
    ----------
    outlets : tuple of Outlet, no unit
        Where it meets the cabin.
    flow : (n_outlet, n_freq) complex, m3/(s V)
        Volume velocity of each into the cabin.
    excursion : (n_freq,) float, m/V
        Peak of the cone, one way.
    current : (n_freq,) float, A/V
        Through the driver, rms.
    heat : (n_freq,) float, W/V2
        In the driver's Re.
    volts : (n_freq,) complex, no unit
        At the driver's terminals.
    port_speed : (n_freq,) float or None, m/(s V)
        Peak, of the air in its port.
    """

    outlets: tuple[Outlet, ...]
    flow: Complex
    excursion: Real
    current: Real
    heat: Real
    volts: Complex
    port_speed: Real | None


@dataclass(frozen=True, eq=False)
class ChannelResponse:
    """One output solved.

    Parameters
    ----------
    f_hz : (n_freq,) float, Hz
        Frequencies.
    z : (n_freq,) complex, ohm
        What the output sees.
    loads : tuple of LoadResponse, no unit
        In the order of the channel.
    moved : tuple of Perturbation, no unit
        One for each uncertain element.
    """

    f_hz: Real
    z: Complex
    loads: tuple[LoadResponse, ...]
    moved: tuple[Perturbation, ...]


def channel_network(
    resistance: float, loads: tuple[Load, ...], air: Air
) -> tuple[Network, tuple[tuple[Outlet, ...], ...]]:
    """One output with all its loads as a network, and the outlets of each load.

    Parameters
    ----------
    resistance : float, ohm
        Of the output.
    loads : tuple of Load, no unit
        All in parallel on it.
    air : Air, no unit
        The air.
    """
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
    """Solve one output with all its loads, for one volt at its open terminals.

    Parameters
    ----------
    f_hz : (n_freq,) float, Hz
        Frequencies.
    resistance : float, ohm
        Of the output.
    loads : tuple of Load, no unit
        All in parallel on it.
    air : Air or None, no unit
        The air; None is 20 degree C.
    spread : bool, no unit
        Work out the variations too.
    """
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


def _load_response(
    solution: Solution, name: str, load: Load, outlets: tuple[Outlet, ...], air: Air
) -> LoadResponse:
    current = solution.i(f"{name}.Re")
    plus = solution.system.parts[
        f"{name}.residual" if load.unit.residual is not None else f"{name}.Re"
    ].element.nodes[0]
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
