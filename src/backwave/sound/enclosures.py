"""What a driver is mounted in: an infinite baffle, a box, a door; each puts its air into the channel's network.

In every one the cabin's side ends in the radiation resistance of a piston in a baffle.  Its mass is already in Mms
for a baffle and a box (as for Small), so the driver keeps Mms there; a door places the mass itself and takes the bare
moving mass.  SI units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, pi, sqrt

import numpy as np

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.acoustic_elements import END_FLANGED, END_FREE, piston_radiation
from backwave.network.circuit import Network
from backwave.sound.box import place_box, place_port, port_length
from backwave.sound.driver import Driver
from backwave.sound.output_network import Outlet

# standard deviation of the logarithm of a box's elements as built (common trade practice)
_BOX_SPREAD = {"air": 0.03, "leak": 0.5, "absorption": 0.5, "port": 0.05}


@dataclass(frozen=True)
class Baffle:
    """An infinite baffle with open air behind: a dash corner, a wall whose back nobody measured."""

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """Mms: it carries the air of both sides of a baffle."""
        return None

    def place(self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air) -> tuple[Outlet, ...]:
        """Radiation resistance on both sides.
        `name`, `front`, `rear`: prefix of their names, the nodes before and behind the cone.
        """
        for side, node in (("cone", front), ("back", rear)):
            _radiation(network, f"{name}.{side}", node, driver.radius, air)
        return (Outlet(f"{name}.cone", driver.radius, "cone"),)

    def spread(self) -> Mapping[str, float]:
        """Nothing in it is uncertain but the driver."""
        return {}


@dataclass(frozen=True)
class Port:
    """The ports of a vented box, all alike."""

    area: float  # m2, of all together
    count: int = 1  # how many
    length: float | None = None  # m, of each; None is what the tuning asks for

    @property
    def radius(self) -> float:
        """Of one port, m."""
        return sqrt(self.area / self.count / pi)


@dataclass(frozen=True)
class InBox:
    """A closed or vented box."""

    volume: float  # m3
    tuning_hz: float | None = None  # of a vented box; None is closed
    port: Port | None = None  # of a vented box
    # 1, qualities at the tuning, or at the closed box's resonance (Small 1973); infinite for none
    leak_q: float = inf
    absorption_q: float = inf  # 1
    port_q: float = 50.0  # 1, quality of the port at the tuning

    def __post_init__(self) -> None:
        if (self.tuning_hz is None) != (self.port is None):
            raise InputError("a vented box", "a tuning or a port alone", "both")

    def length(self, air: Air) -> float:
        """Of each port, m: as given, or what the tuning asks for."""
        assert self.port is not None
        assert self.tuning_hz is not None
        if self.port.length is not None:
            return self.port.length
        one = self.port.area / self.port.count
        return port_length(self.volume / self.port.count, self.tuning_hz, one, air=air)

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """Mms, as in Small's closed box."""
        return None

    def place(self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air) -> tuple[Outlet, ...]:
        """The box's air, leak and port behind the cone, radiation resistance before it.
        `name`, `front`, `rear`: prefix of their names, the nodes before and behind the cone.
        """
        _radiation(network, f"{name}.cone", front, driver.radius, air)
        at = self.tuning_hz or driver.fs * sqrt(1 + driver.Vas / self.volume)
        place_box(network, name, rear, self.volume, at, self.leak_q, self.absorption_q, air)
        outlets = [Outlet(f"{name}.cone", driver.radius, "cone")]
        if self.port is not None:
            # several ports alike are one of their area whose ends are those of each
            one = self.port.radius
            ends = (END_FLANGED + END_FREE) * one / sqrt(self.port.area / pi)
            place_port(network, f"{name}.port", rear, self.length(air), self.port.area, at, self.port_q, ends, air)
            outlets.append(Outlet(f"{name}.port", sqrt(self.port.area / pi), "port"))
        return tuple(outlets)

    def spread(self) -> Mapping[str, float]:
        """Of the box as built."""
        parts = {"air"} | ({"leak"} if np.isfinite(self.leak_q) else set())
        parts |= ({"absorption"} if np.isfinite(self.absorption_q) else set()) | ({"port"} if self.port else set())
        return {name: size for name, size in _BOX_SPREAD.items() if name in parts}


def _radiation(network: Network, name: str, node: str, radius: float, air: Air) -> None:
    network.impedance(name, node, "0", lambda f: piston_radiation(f, radius, air.density, air.speed).real)
