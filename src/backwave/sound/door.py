"""The door as it is: an acoustical network of everything that a fitter controls.

    cone front - bore - chamber - grille - cabin     cone rear - bore - door cavity - drains, slots - outside
                           |                                                |
                        ring gap - space behind the trim - holes, and what covers them
                                             |
                                   trim leak, trim panel - cabin

Pressure is voltage (Pa), volume velocity is current (m3/s).  Cabin and outside are the reference: their pressure is no
load on the door (a modal sum is none), radiation is: of grille and trim a piston's in a baffle, of slits the mass of
air beyond their ends.  The adapter's bore lies on one side of the cone.  SI units; lengths and areas come from the fit.

Not covered: modes of the cavity and of the space behind the trim (both small against the wave below some 400 Hz),
bending and loss of a sheet over the holes (it is limp), flow noise, panels that shake because the magnet does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from math import isfinite, log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from backwave.acoustics.air import Air
from backwave.errors import InputError
from backwave.network.acoustic_elements import END_FLANGED, END_PISTON, hole, piston_radiation, slit
from backwave.network.circuit import Network
from backwave.network.element import Complex, Real
from backwave.sound.driver import Driver, moving_mass
from backwave.sound.output_network import Outlet

__all__ = ["GIVEN_SPREAD", "Door", "InDoor", "fok", "grille_impedance", "holes_impedance", "slit_end"]


@dataclass(frozen=True)
class Door:
    """Everything between a cone in a door and the air of the cabin.  Areas of 0 leave a way out.

    Parameters
    ----------
    chamber_depth, chamber_volume : float, m and m3
        From the cone to the grille.
    grille_area : float, m2
        Of the grille's whole face.
    grille_open : float, no unit
        Open share of it, above 0 to 1.
    grille_hole, grille_thickness : float, m
        Radius of its holes, and how thick it is.
    ring_gap, ring_width, ring_length : float, m
        The way round the foam ring: its height (0: sealed), along the flow, and all round.
    gap_volume, gap_loss : float, m3 and no unit
        Between trim and skin, and the loss factor of its air among foam and looms.
    trim_leak, trim_leak_gap, trim_leak_depth : float, m2, m and m
        Of the trim into the cabin: area of the slits, their height, and along the flow.
    trim_area, trim_mass, trim_hz, trim_loss : float, m2, kg/m2, Hz and no unit
        The trim panel: area, mass by area, resonance (the air's load lowers it a few percent), loss factor.
    holes_area, hole_radius, skin : float, m2, m and m
        Holes left open in the inner skin, the radius of one, thickness of the metal.
    cover_area, cover_mass : float, m2 and kg/m2
        What closes the other holes: a sheet, a carrier.
    cavity_volume, cavity_loss : float, m3 and no unit
        The door behind the skin, and the loss factor of its air.
    outside_area, outside_gap, outside_depth : float, m2, m and m
        Drains and slots from the cavity to the outside: area, narrow height, and along the flow.
    bore_length, front_bore_length, bore_radius : float, m
        The adapter's bore: its length behind the cone, or before it for a driver fixed from behind; 0 on the other side.
    """

    chamber_depth: float
    chamber_volume: float
    grille_area: float
    grille_open: float = 0.40
    grille_hole: float = 2e-3
    grille_thickness: float = 2e-3
    ring_gap: float = 0.0
    ring_width: float = 10e-3
    ring_length: float = 0.5
    gap_volume: float = 6e-3
    gap_loss: float = 0.25
    trim_leak: float = 30e-4
    trim_leak_gap: float = 2e-3
    trim_leak_depth: float = 15e-3
    trim_area: float = 0.25
    trim_mass: float = 3.0
    trim_hz: float = 60.0
    trim_loss: float = 0.4
    holes_area: float = 30e-4
    hole_radius: float = 20e-3
    skin: float = 0.8e-3
    cover_area: float = 0.0
    cover_mass: float = 0.15
    cavity_volume: float = 40e-3
    cavity_loss: float = 0.25
    outside_area: float = 20e-4
    outside_gap: float = 1e-3
    outside_depth: float = 15e-3
    bore_length: float = 0.0
    front_bore_length: float = 0.0
    bore_radius: float = 70e-3

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
GIVEN_SPREAD: dict[str, float] = {
    "chamber": 0.2, "grille": 0.2, "ring": 0.2, "gap": 0.2, "trim leak": 0.3, "trim": 0.3, "holes": 0.2, "cover": 0.3,
    "cavity": 0.1, "outside": 0.3,
}  # fmt: skip
"""Standard deviation of the logarithm of an element that somebody measured (common trade practice)."""


@dataclass(frozen=True)
class InDoor:
    """A driver in a door.

    Parameters
    ----------
    door : Door, no unit
        The door.
    wide : tuple of (element, sd), no unit
        Elements nobody measured, with the standard deviation of their logarithm in place of `GIVEN_SPREAD`.
    """

    door: Door
    wide: tuple[tuple[str, float], ...] = ()

    def mass_kg(self, driver: Driver, air: Air) -> float | None:
        """The bare moving mass: the air before and behind the cone is in the network.

        Parameters
        ----------
        driver : Driver, no unit
            The driver.
        air : Air, no unit
            The air.
        """
        return moving_mass(driver, air)

    def place(
        self, network: Network, name: str, driver: Driver, front: str, rear: str, air: Air
    ) -> tuple[Outlet, ...]:
        """The door round the cone.

        Parameters
        ----------
        network : Network, no unit
            Receives the elements.
        name, front, rear : str, no unit
            Prefix of their names, the nodes before and behind the cone.
        driver : Driver, no unit
            The driver.
        air : Air, no unit
            The air.
        """
        d = self.door
        chamber, gap, cavity, face = (f"{name}.{n}.air" for n in ("chamber", "gap", "cavity", "face"))
        rho, stiffness = air.density, air.stiffness
        bore = rho / (pi * d.bore_radius**2)
        network.inductor(
            f"{name}.slug", front, chamber, rho * d.chamber_depth / driver.Sd + bore * d.front_bore_length
        )
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
            way(
                "trim leak",
                gap,
                "0",
                d.trim_leak_depth + 2 * slit_end(long, d.trim_leak_gap),
                long,
                d.trim_leak_gap,
            )
            outlets.append(Outlet(f"{name}.trim leak", sqrt(d.trim_leak / pi), "trim leak"))
        if d.trim_area > 0:
            mass, into = d.trim_mass / d.trim_area, radiation(sqrt(d.trim_area / pi))
            network.impedance(
                f"{name}.trim", gap, "0", lambda f: _panel(f, mass, d.trim_hz, d.trim_loss) + into(f)
            )
            outlets.append(Outlet(f"{name}.trim", sqrt(d.trim_area / pi), "trim"))
        if d.holes_area > 0:
            network.impedance(
                f"{name}.holes",
                gap,
                cavity,
                lambda f: holes_impedance(f, d.holes_area, d.hole_radius, d.skin, air),
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

    Parameters
    ----------
    f_hz : (n_freq,) float, Hz
        Frequencies, more than 0.
    door : Door, no unit
        Its grille.
    air : Air, no unit
        The air.

    Returns
    -------
    (n_freq,) complex, Pa s/m3
    """
    share = fok(sqrt(door.grille_open))
    length = door.grille_thickness + 2 * END_FLANGED * door.grille_hole * share
    count = door.grille_area * door.grille_open / (pi * door.grille_hole**2)
    return hole(f_hz, length, door.grille_hole, air.density, air.viscosity) / count


def holes_impedance(f_hz: ArrayLike, area: float, radius: float, skin: float, air: Air) -> Complex:
    """Acoustical impedance of holes apart from each other in a thin wall.

    Parameters
    ----------
    f_hz : (n_freq,) float, Hz
        Frequencies, more than 0.
    area : float, m2
        Of all of them.
    radius, skin : float, m
        Of one hole; thickness of the wall.
    air : Air, no unit
        The air.

    Returns
    -------
    (n_freq,) complex, Pa s/m3
    """
    length = skin + 2 * END_FLANGED * radius
    return hole(f_hz, length, radius, air.density, air.viscosity) * (pi * radius**2 / area)


def fok(xi: float) -> float:
    """What is left of a hole's end correction beside its neighbors, 1 over Fok's function (Fok 1941; from memory).

    Parameters
    ----------
    xi : float, no unit
        0.88 times diameter over pitch, which on a square grid is the root of the open share; 0 to 1.

    Returns
    -------
    float, no unit
        1 for a hole alone, 0 where no wall is left.
    """
    if not 0 <= xi <= 1:
        raise InputError("open share of a grille", xi**2, "0 to 1")
    powers = (1.0, -1.4092, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641)
    return max(0.0, float(np.polynomial.polynomial.polyval(xi, powers)))


def slit_end(width: float, gap: float) -> float:
    """End correction of a slit in a wall, a strip of air that moves as one: (h/pi)(ln(2 w/h) + 1/2 + h/(3 w)).

    Rayleigh's integral of the rectangle over itself, to the first order in h/w: 3 % high for a square, 0.5 % at w = 2 h.

    Parameters
    ----------
    width, gap : float, m
        Across the flow, and the narrow height; each above 0.

    Returns
    -------
    float, m
    """
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
