"""What a driver is mounted in: an infinite baffle, a box, a door; each puts its air into the channel's network.

In every one the cabin's side ends in the radiation resistance of a piston in a baffle.  Its mass is already in Mms
for a baffle and a box (as for Small), so the driver keeps Mms there; a door places the mass itself and takes the bare
moving mass.  SI units.

The door as it is, an acoustical network of everything that a fitter controls.

    cone front - bore - chamber - grille - cabin     cone rear - bore - door cavity - drains, slots - outside
                           |                                                |
                        ring gap - space behind the trim - holes, and what covers them
                                             |
                                   trim leak, trim panel - cabin

Pressure is voltage (Pa), volume velocity is current (m3/s).  Cabin and outside are the reference: their pressure is no
load on the door (a modal sum is none), radiation is: of grille and trim a piston's in a baffle, of slits the mass of
air beyond their ends.  The adapter's bore lies on one side of the cone.  Lengths and areas come from the fit.

Not covered: modes of the cavity and of the space behind the trim (both small against the wave below some 400 Hz),
bending and loss of a sheet over the holes (it is limp), flow noise, panels that shake because the magnet does.

The kinds of door are for what nobody measured: each value with a wide spread (common trade practice throughout)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from math import inf, isfinite, log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.circuit import Network
from backwave.network.element import END_FLANGED, END_FREE, END_PISTON, Complex, Real, hole, piston_radiation, slit
from backwave.sound.box import place_box, place_port, port_length
from backwave.sound.driver import Driver, moving_mass
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
        """Radiation resistance on both sides."""
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
        """The box's air, leak and port behind the cone, radiation resistance before it."""
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
        there = {
            "leak": isfinite(self.leak_q),
            "absorption": isfinite(self.absorption_q),
            "port": self.port is not None,
        }
        return {name: size for name, size in _BOX_SPREAD.items() if there.get(name, True)}


def _radiation(network: Network, name: str, node: str, radius: float, air: Air) -> None:
    network.impedance(name, node, "0", lambda f: piston_radiation(f, radius, air.density, air.speed).real)


@dataclass(frozen=True)
class DoorKind:
    """What a door of a kind has, as far as the sound goes."""

    words: str
    holes_area: float  # m2, left open in the inner skin
    cover_area: float  # m2, what closes the rest
    cover_mass: float  # kg/m2
    cavity_volume: float = 40e-3  # m3, behind the skin
    outside_area: float = 20e-4  # m2, drains and slots
    gap_volume: float = 6e-3  # m3, between trim and skin
    trim_leak: float = 30e-4  # m2, into the cabin
    # 1, standard deviation of the logarithm of each
    spread: tuple[tuple[str, float], ...] = (
        ("holes", 0.7), ("cover", 0.7), ("cavity", 0.25), ("outside", 0.7), ("gap", 0.4), ("trim leak", 0.7),
        ("trim", 0.5), ("grille", 0.4), ("chamber", 0.3),
    )  # fmt: skip


# by the word in the job file
DOOR_KINDS: dict[str, DoorKind] = {
    "open": DoorKind("service holes open", 250e-4, 0.0, 0.15),
    "sheet": DoorKind("a plastic sheet over the service holes", 30e-4, 220e-4, 0.15),
    "carrier": DoorKind("a plastic carrier in a large cutout", 12e-4, 900e-4, 2.0),
    "sealed": DoorKind("service holes sealed with heavy sheet", 3e-4, 240e-4, 4.0),
}
# what fits through a hole, and its area (common trade practice)
HOLE_M2 = {"finger": 3e-4, "fist": 60e-4, "hand": 110e-4}


def counted_area(finger: int = 0, fist: int = 0, hand: int = 0) -> float:
    """Area of holes that were counted by what fits through them. Returns m2."""
    counts = {"finger": finger, "fist": fist, "hand": hand}
    if any(n < 0 for n in counts.values()):
        raise InputError("holes counted", counts, "0 or more of each")
    return sum(HOLE_M2[name] * n for name, n in counts.items())


@dataclass(frozen=True)
class Door:
    """Everything between a cone in a door and the air of the cabin.  Areas of 0 leave a way out."""

    chamber_depth: float  # m, from the cone to the grille
    chamber_volume: float  # m3
    grille_area: float  # m2, of the grille's whole face
    grille_open: float = 0.40  # 1, open share of it, above 0 to 1
    grille_hole: float = 2e-3  # m, radius of its holes, and how thick it is
    grille_thickness: float = 2e-3  # m
    ring_gap: float = 0.0  # m, the way round the foam ring: its height (0: sealed), along the flow, and all round
    ring_width: float = 10e-3  # m
    ring_length: float = 0.5  # m
    gap_volume: float = 6e-3  # m3, between trim and skin, and the loss factor of its air among foam and looms
    gap_loss: float = 0.25  # 1
    # m2, of the trim into the cabin: area of the slits, their height, and along the flow
    trim_leak: float = 30e-4
    trim_leak_gap: float = 2e-3  # m
    trim_leak_depth: float = 15e-3  # m
    # m2, the trim panel: area, mass by area, resonance (the air's load lowers it a few percent), loss factor
    trim_area: float = 0.25
    trim_mass: float = 3.0  # kg/m2
    trim_hz: float = 60.0
    trim_loss: float = 0.4  # 1
    holes_area: float = 30e-4  # m2, holes left open in the inner skin, the radius of one, thickness of the metal
    hole_radius: float = 20e-3  # m
    skin: float = 0.8e-3  # m
    cover_area: float = 0.0  # m2, what closes the other holes: a sheet, a carrier
    cover_mass: float = 0.15  # kg/m2
    cavity_volume: float = 40e-3  # m3, the door behind the skin, and the loss factor of its air
    cavity_loss: float = 0.25  # 1
    # m2, drains and slots from the cavity to the outside: area, narrow height, and along the flow
    outside_area: float = 20e-4
    outside_gap: float = 1e-3  # m
    outside_depth: float = 15e-3  # m
    # m, the adapter's bore: its length behind the cone, or before it for a driver fixed from behind; 0 on the
    # other side
    bore_length: float = 0.0
    front_bore_length: float = 0.0  # m
    bore_radius: float = 70e-3  # m

    def __post_init__(self) -> None:
        for field in fields(self):
            value, may_be_zero = getattr(self, field.name), field.name in _MAY_BE_ZERO
            if not (isfinite(value) and (value > 0 or (may_be_zero and value == 0))):
                accepted = "a finite number, 0 or more" if may_be_zero else "a finite number above 0"
                raise InputError(field.name.replace("_", " "), value, accepted)
        if self.grille_open > 1:
            raise InputError("open share of the grille", self.grille_open, "above 0, up to 1")


_MAY_BE_ZERO = {
    "ring_gap", "gap_loss", "trim_leak", "trim_area", "trim_loss", "holes_area", "cover_area", "cavity_loss",
    "outside_area", "bore_length", "front_bore_length",
}  # fmt: skip
# standard deviation of the logarithm of an element that somebody measured (common trade practice)
GIVEN_SPREAD: dict[str, float] = {
    "chamber": 0.2, "grille": 0.2, "ring": 0.2, "gap": 0.2, "trim leak": 0.3, "trim": 0.3, "holes": 0.2, "cover": 0.3,
    "cavity": 0.1, "outside": 0.3,
}  # fmt: skip


@dataclass(frozen=True)
class InDoor:
    """A driver in a door."""

    door: Door
    # 1, elements nobody measured, with the standard deviation of their logarithm in place of `GIVEN_SPREAD`
    wide: tuple[tuple[str, float], ...] = ()

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """The bare moving mass: the air before and behind the cone is in the network."""
        return moving_mass(driver, air)

    def place(self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air) -> tuple[Outlet, ...]:
        """The door round the cone."""
        d = self.door
        chamber, gap, cavity, face = (f"{name}.{n}.air" for n in ("chamber", "gap", "cavity", "face"))
        rho, stiffness = air.density, air.stiffness
        bore = rho / (pi * d.bore_radius**2)
        network.inductor(f"{name}.slug", front, chamber, rho * d.chamber_depth / driver.Sd + bore * d.front_bore_length)
        # behind the cone what a baffle would load it with, then the bore
        behind = rho * END_PISTON * driver.radius / driver.Sd + bore * d.bore_length
        network.inductor(f"{name}.bore", rear, cavity, behind)
        network.capacitor(f"{name}.chamber", chamber, "0", d.chamber_volume / stiffness)
        network.impedance(f"{name}.gap", gap, "0", lambda f: _lossy_air(f, d.gap_volume, d.gap_loss, stiffness))
        network.impedance(
            f"{name}.cavity", cavity, "0", lambda f: _lossy_air(f, d.cavity_volume, d.cavity_loss, stiffness)
        )

        def way(part: str, a: str, b: str, deep: float, long: float, high: float) -> None:
            network.impedance(f"{name}.{part}", a, b, lambda f: slit(f, deep, long, high, rho, air.viscosity))

        def radiation(radius: float) -> Callable[[Real], Complex]:
            return lambda f: piston_radiation(f, radius, rho, air.speed)

        radius = sqrt(d.grille_area / pi)
        network.impedance(f"{name}.grille", chamber, face, lambda f: grille_impedance(f, d, air))
        network.impedance(f"{name}.radiation", face, "0", radiation(radius))
        outlets = [Outlet(f"{name}.grille", radius, "grille")]
        if d.ring_gap > 0:
            # the spaces at its ends are hardly higher than itself: half its height again at either (an estimate)
            way("ring", chamber, gap, d.ring_width + d.ring_gap, d.ring_length, d.ring_gap)
        if d.trim_leak > 0:
            long = d.trim_leak / d.trim_leak_gap
            way("trim leak", gap, "0", d.trim_leak_depth + 2 * slit_end(long, d.trim_leak_gap), long, d.trim_leak_gap)
            outlets.append(Outlet(f"{name}.trim leak", sqrt(d.trim_leak / pi), "trim leak"))
        if d.trim_area > 0:
            mass, into = d.trim_mass / d.trim_area, radiation(sqrt(d.trim_area / pi))
            network.impedance(f"{name}.trim", gap, "0", lambda f: _panel(f, mass, d.trim_hz, d.trim_loss) + into(f))
            outlets.append(Outlet(f"{name}.trim", sqrt(d.trim_area / pi), "trim"))
        if d.holes_area > 0:
            network.impedance(
                f"{name}.holes", gap, cavity, lambda f: holes_impedance(f, d.holes_area, d.hole_radius, d.skin, air)
            )
        if d.cover_area > 0:
            network.inductor(f"{name}.cover", gap, cavity, d.cover_mass / d.cover_area)
        if d.outside_area > 0:
            long = d.outside_area / d.outside_gap
            way("outside", cavity, "0", d.outside_depth + 2 * slit_end(long, d.outside_gap), long, d.outside_gap)
        return tuple(outlets)

    def spread(self) -> Mapping[str, float]:
        """Standard deviation of the logarithm of each uncertain element that the door has."""
        d = self.door
        without = {
            name
            for name, size in (
                ("ring", d.ring_gap), ("trim leak", d.trim_leak), ("trim", d.trim_area), ("holes", d.holes_area),
                ("cover", d.cover_area), ("outside", d.outside_area),
            )
            if size == 0
        }  # fmt: skip
        return {name: size for name, size in (GIVEN_SPREAD | dict(self.wide)).items() if name not in without}


def grille_impedance(f_hz: ArrayLike, door: Door, air: Air) -> Complex:
    """Acoustical impedance of the holes of a grille, viscous layers and both ends, which share what lies between.
    Returns (n_freq,) Pa s/m3."""
    share = fok(sqrt(door.grille_open))
    length = door.grille_thickness + 2 * END_FLANGED * door.grille_hole * share
    count = door.grille_area * door.grille_open / (pi * door.grille_hole**2)
    return hole(f_hz, length, door.grille_hole, air.density, air.viscosity) / count


def holes_impedance(f_hz: ArrayLike, area: float, radius: float, skin: float, air: Air) -> Complex:
    """Acoustical impedance of holes apart from each other in a thin wall. `area`, m2; `radius`, `skin`, m: of one hole;
    thickness of the wall; returns (n_freq,) Pa s/m3."""
    length = skin + 2 * END_FLANGED * radius
    return hole(f_hz, length, radius, air.density, air.viscosity) * (pi * radius**2 / area)


def fok(xi: float) -> float:
    """What is left of a hole's end correction beside its neighbors, 1 over Fok's function (Fok 1941; from memory).
    `xi`, 1: 0.88 times diameter over pitch, which on a square grid is the root of the open share; 0 to 1; returns 1 for
    a hole alone, 0 where no wall is left."""
    if not 0 <= xi <= 1:
        raise InputError("open share of a grille", xi**2, "0 to 1")
    powers = (1.0, -1.4092, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641)
    return max(0.0, float(np.polynomial.polynomial.polyval(xi, powers)))


def slit_end(width: float, gap: float) -> float:
    """End correction of a slit in a wall, a strip of air that moves as one: (h/pi)(ln(2 w/h) + 1/2 + h/(3 w)).
    Rayleigh's integral of the rectangle over itself, to the first order in h/w: 3 % high for a square, 0.5 % at w = 2
    h. `width`, `gap`, m: across the flow, and the narrow height; each above 0; returns m."""
    w, h = max(width, gap), min(width, gap)
    return h / pi * (log(2 * w / h) + 0.5 + h / (3 * w))


def _panel(f_hz: ArrayLike, mass: float, resonance_hz: float, loss: float) -> Complex:
    """A wall that moves as one: j w M + (1 + j eta) w0^2 M/(j w)."""
    jw = 2j * pi * np.asarray(f_hz, dtype=float)
    stiffness = (2 * pi * resonance_hz) ** 2 * mass
    return np.asarray(jw * mass + (1 + 1j * loss) * stiffness / jw)


def _lossy_air(f_hz: ArrayLike, volume: float, loss: float, stiffness: float) -> Complex:
    """Air as a spring with a loss factor."""
    return np.asarray((1 + 1j * loss) * stiffness / (2j * pi * np.asarray(f_hz, dtype=float) * volume))
