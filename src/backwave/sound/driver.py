"""A loudspeaker driver: Thiele-Small parameters from any sufficient set, and the driver placed in a network.

Relations of Small 1972 (JAES 20(5):383-395): Qts = Qes Qms/(Qes + Qms), Cms = Vas/(rho c^2 Sd^2),
Mms = 1/(ws^2 Cms), Bl^2 = ws Mms Re/Qes, Rms = ws Mms/Qms.  A `Unit` is the driver as a prediction needs it: with its
coil, its limits, and what was measured of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from backwave.acoustics import Air
from backwave.errors import InputError
from backwave.network.circuit import Network, Solution
from backwave.network.element import END_PISTON, Complex, semi_inductance, semi_inductance_factor

# exponent of a voice coil nobody measured (common trade practice: 0.6 to 0.8); shown where it is used
SEMI_INDUCTANCE_N = 0.7
# parameters in the order they are believed: unit, and the least and greatest that a driver has (from memory)
PARAMETERS: dict[str, tuple[str, float, float]] = {
    "Re": ("ohm", 0.2, 100.0),
    "fs": ("Hz", 5.0, 5000.0),
    "Qms": ("", 0.1, 50.0),
    "Qes": ("", 0.05, 20.0),
    "Vas": ("m3", 1e-7, 2.0),
    "Sd": ("m2", 5e-5, 0.5),
    "Mms": ("kg", 5e-5, 2.0),
    "Bl": ("N/A", 0.1, 100.0),
    "Rms": ("kg/s", 0.005, 100.0),
    "Cms": ("m/N", 1e-6, 0.02),
    "Qts": ("", 0.05, 20.0),
}
_SMALLER = {  # units that are written in place of the SI unit, by mistake
    "m3": (1e3, "liters"), "m2": (1e4, "square centimeters"), "kg": (1e3, "grams"), "m/N": (1e3, "millimeters per newton"),
}  # fmt: skip
_LOG = tuple(name for name in PARAMETERS if name != "Qts")  # those whose relations are products
# how far a driver is from its data sheet, as a standard deviation of the logarithm (common trade practice)
DATA_SHEET_SPREAD: dict[str, float] = {"Re": 0.03, "Bl": 0.05, "cone": 0.05, "Cms": 0.15}
# above k a = 2 a cone is no rigid piston any more and the line of a prediction ends (common trade practice)
PISTON_KA = 2.0
# rated impedance of a driver by its Re, where nobody rated it (common trade practice: 1.15 to 1.3)
RATED_PER_RE = 1.2


@dataclass(frozen=True)
class Disagreement:
    """A given parameter that the others already settle, and how far the two are apart."""

    name: str
    given: float  # SI unit of the parameter, as given, and as it follows from the parameters believed before it
    derived: float  # SI unit of the parameter

    @property
    def ratio(self) -> float:
        """Given over derived."""
        return self.given / self.derived


class DriverError(InputError):
    """Parameters that do not make a driver; `ask` has, for each thing missing, the names that would supply it."""

    def __init__(
        self, what: str, found: object = "", accepted: str = "", ask: tuple[tuple[str, ...], ...] = ()
    ) -> None:
        super().__init__(what, found, accepted)
        self.args = (what, found, accepted, ask)
        self.ask = ask


@dataclass(frozen=True)
class Driver:
    """A driver's linear parameters."""

    Re: float  # ohm, voice-coil resistance
    fs: float  # Hz, free-air resonance
    Qms: float  # 1, mechanical, electrical, total quality
    Qes: float  # 1
    Qts: float  # 1
    Vas: float  # m3, volume of air as compliant as the suspension
    Sd: float  # m2, effective cone area
    Mms: float  # kg, moving mass with its air load
    Bl: float  # N/A, force factor
    Rms: float  # kg/s, mechanical resistance
    Cms: float  # m/N
    # parameters given beyond what was needed, each with what the others say
    disagreements: tuple[Disagreement, ...] = ()

    @property
    def radius(self) -> float:
        """Radius of the round piston of the same area, m."""
        return sqrt(self.Sd / pi)


class _Known:
    """What follows from parameters: products are sums of logarithms, so this is linear algebra of ten unknowns."""

    def __init__(self, air: Air) -> None:
        self.rows: list[NDArray[np.float64]] = []
        self.right: list[float] = []
        self.Qts: float | None = None
        self.solved: NDArray[np.float64] = np.empty((0, 0))  # of the rows so far
        self.reach: NDArray[np.float64] = self.solved
        self.add({"Cms": 1, "Sd": 2, "Vas": -1}, 1 / air.stiffness)
        self.add({"Mms": 1, "Cms": 1, "fs": 2}, 1 / (4 * pi**2))
        self.add({"Bl": 2, "Qes": 1, "fs": -1, "Mms": -1, "Re": -1}, 2 * pi)
        self.add({"Rms": 1, "Qms": 1, "fs": -1, "Mms": -1}, 2 * pi)

    def add(self, powers: Mapping[str, int], product: float) -> None:
        self.rows.append(np.array([float(powers.get(name, 0)) for name in _LOG]))
        self.right.append(log(product))

    def value(self, powers: Mapping[str, int]) -> float | None:
        """A product of powers where it is settled, else None."""
        if len(self.solved) != len(self.rows):
            a = np.array(self.rows)
            inverse = np.linalg.pinv(a, rcond=1e-10)
            self.solved, self.reach = np.asarray(inverse.T), np.asarray(inverse @ a)
        wanted = np.array([float(powers.get(name, 0)) for name in _LOG])
        if np.abs(wanted - wanted @ self.reach).max() > 1e-9:
            return None
        return float(np.exp(wanted @ self.solved.T @ np.array(self.right)))

    def get(self, name: str) -> float | None:
        if name != "Qts":
            return self.value({name: 1})
        e, m = self.value({"Qes": 1}), self.value({"Qms": 1})
        return e * m / (e + m) if e and m else self.Qts

    def accept(self, name: str, number: float) -> None:
        if name == "Qts":
            self.Qts = number
        else:
            self.add({name: 1}, number)
        if self.Qts is None:
            return
        for one, other in (("Qes", "Qms"), ("Qms", "Qes")):
            if self.value({other: 1}) is None and (q := self.value({one: 1})):
                if q <= self.Qts:
                    raise DriverError("Qts", self.Qts, f"below {one}, {q:.4g}: 1/Qts = 1/Qes + 1/Qms")
                self.add({other: 1}, 1 / (1 / self.Qts - 1 / q))
        if self.value({"Qes": 1}) is None and (ratio := self.value({"Qes": 1, "Qms": -1})):
            self.add({"Qes": 1}, self.Qts * (1 + ratio))


def from_parameters(given: Mapping[str, float], air: Air | None = None) -> Driver:
    """A driver from any sufficient set of its parameters; the rest is derived, what is over is compared. They are
    believed in the order of `PARAMETERS`; a later one that the earlier ones already settle becomes a `Disagreement` (of
    whatever size), so that nothing given is dropped unseen. `given`, SI unit of each."""
    for name, number in given.items():
        _require_possible(name, number)
    known, spare = _Known(air or Air()), []
    for name in PARAMETERS:
        if name in given:
            if known.get(name) is None:
                known.accept(name, float(given[name]))
            else:
                spare.append(name)
    if ask := _missing(known):
        wanted = "; ".join(" or ".join(group) for group in ask)
        have = ", ".join(name for name in PARAMETERS if known.get(name) is not None)
        raise DriverError("driver parameters", f"what settles {have or 'none of them'}", f"also {wanted}", ask)
    believed = {name: float(number) for name, number in given.items() if name not in spare}
    found = {name: known.get(name) or 0.0 for name in PARAMETERS} | believed
    for name, number in found.items():
        _require_possible(name, number, derived=True)
    return Driver(**found, disagreements=tuple(Disagreement(n, float(given[n]), found[n]) for n in spare))


def _missing(known: _Known) -> tuple[tuple[str, ...], ...]:
    """For each thing missing: the first parameter that is, and those that would settle it as well."""
    groups: list[tuple[str, ...]] = []
    while open_ := [name for name in PARAMETERS if known.get(name) is None]:
        same = []
        for name in open_:
            trial = _Known.__new__(_Known)
            # Any number will do to see what would be settled, as long as Qts lies below Qes and Qms.
            trial.rows, trial.right, trial.Qts = [*known.rows], [*known.right], known.Qts and 1e-30
            trial.solved, trial.reach = known.solved, known.reach
            trial.accept(name, 1e-30 if name == "Qts" else 1.0)
            if trial.get(open_[0]) is not None:
                same.append(name)
                if name == open_[0]:
                    after = trial
        groups.append(tuple(same))
        known = after
    return tuple(groups)


def _require_possible(name: str, number: float, derived: bool = False) -> None:
    if name not in PARAMETERS:
        raise DriverError("driver parameter", name, ", ".join(PARAMETERS))
    unit, least, most = PARAMETERS[name]
    if not (np.isfinite(number) and number > 0):
        raise DriverError(name, number, "a finite number above 0")
    if least <= number <= most:
        return
    found = f"{number:.4g} {unit}".rstrip()
    if derived:
        found += ", as it follows from the others"
    doubt = f"{least:g} to {most:g} {unit}".rstrip()
    factor, wrong = _SMALLER.get(unit, (1.0, ""))
    if wrong and least <= number / factor <= most:
        doubt += f"; by its size it is in {wrong}"
    raise DriverError(name, found, doubt)


def moving_mass(driver: Driver, air: Air | None = None) -> float:
    """Mass of cone and coil without the air that Mms carries, that of a piston in an infinite baffle, both sides.
    Returns kg."""
    load = 2 * (air or Air()).density * END_PISTON * driver.radius * driver.Sd
    if load >= driver.Mms:
        raise DriverError("Mms", f"{driver.Mms:.4g} kg", f"above its air load, {load:.4g} kg for this Sd")
    return driver.Mms - load


def place_driver(
    network: Network, name: str, driver: Driver, plus: str, minus: str, front: str, rear: str, le_henry: float = 0.0,
    exponent: float = SEMI_INDUCTANCE_N, mass_kg: float | None = None,
) -> None:  # fmt: skip
    """Put a driver between electrical terminals and the air before and behind its cone. Adds `name.Re`, `name.Le`,
    `name.Bl`, `name.cone` (its current is the cone's velocity, outward), `name.Cms` and `name.Sd`. In the acoustical
    domain voltage is pressure (Pa), current is volume velocity (m3/s): the cone drives into `front` what it takes from
    `rear`, so the two have opposite signs. `front`, `rear`: acoustical nodes; "0" is the still air far away;
    `le_henry`, H: inductance at 1 kHz; 0 leaves it out; `exponent`, 1: exponent of the semi-inductance (Leach 2002); 1
    makes it a plain inductor; `mass_kg`: moving mass; None is Mms, which carries its air load. Where radiation is in
    the network, `moving_mass`."""
    coil = f"{name}.coil" if le_henry else f"{name}.motor"
    network.resistor(f"{name}.Re", plus, coil, driver.Re)
    if le_henry:
        k = semi_inductance_factor(le_henry, exponent)
        network.impedance(f"{name}.Le", coil, f"{name}.motor", lambda f: semi_inductance(f, k, exponent))
    network.gyrator(f"{name}.Bl", f"{name}.motor", minus, f"{name}.force", "0", 1 / driver.Bl)
    mass = driver.Mms if mass_kg is None else mass_kg
    network.inductor(f"{name}.cone", f"{name}.force", f"{name}.spring", mass, driver.Rms)
    network.capacitor(f"{name}.Cms", f"{name}.spring", f"{name}.face", driver.Cms)
    network.transformer(f"{name}.Sd", f"{name}.face", "0", front, rear, driver.Sd)


def excursion(solution: Solution, name: str) -> NDArray[np.float64]:
    """Excursion of a driver placed with `place_driver`, peak, one way. Returns (n_freq,) m."""
    return np.asarray(sqrt(2) * np.abs(solution.i(f"{name}.cone")) / (2 * pi * solution.f_hz))


@dataclass(frozen=True)
class Unit:
    """A driver with its coil, limits and measurements."""

    driver: Driver  # Thiele-Small parameters
    kind: str = "woofer"  # "woofer", "tweeter" and so on
    rated_ohm: float | None = None
    le_henry: float = 0.0  # H, inductance at 1 kHz; 0 leaves it out
    exponent: float = SEMI_INDUCTANCE_N  # 1, of the semi-inductance
    x_max: float | None = None  # m, linear excursion, peak, one way
    power_w: float | None = None  # what its coil stands
    # (n_freq,) ohm, measured less modeled impedance in free air, in series with the coil
    residual: Complex | None = None
    correction: Complex | None = None  # (n_freq,) 1, measured by modeled pressure in half space
    measured_to_hz: float = 0.0  # up to where `correction` rests on measurement; 0 without

    @property
    def nominal_ohm(self) -> float:
        """Its rated impedance, or `RATED_PER_RE` of its Re where nobody rated it, ohm."""
        return self.driver.Re * RATED_PER_RE if self.rated_ohm is None else self.rated_ohm

    @property
    def x_max_mm(self) -> float | None:
        """Linear excursion, mm; None where nobody gave it."""
        return None if self.x_max is None else 1e3 * self.x_max

    def limit_hz(self, air: Air) -> float:
        """Up to where the model of it holds, Hz."""
        return max(self.measured_to_hz, PISTON_KA * air.speed / (2 * pi * self.driver.radius))


def place_unit(
    network: Network, name: str, unit: Unit, plus: str, minus: str, front: str, rear: str, mass_kg: float | None
) -> None:
    """Put a driver, with what was measured of its impedance, into a network (see `place_driver`). `network`: receives
    the elements; `name.residual` as well where there is one."""
    if unit.residual is not None:
        network.impedance(f"{name}.residual", plus, f"{name}.in", unit.residual)
        plus = f"{name}.in"
    place_driver(network, name, unit.driver, plus, minus, front, rear, unit.le_henry, unit.exponent, mass_kg=mass_kg)


def free_air_impedance(f_hz: NDArray[np.float64], unit: Unit) -> Complex:
    """Impedance of a driver in free air, Re + Le part + Bl^2/Zm (Small 1972). Returns (n_freq,) ohm."""
    d, jw = unit.driver, 2j * pi * np.asarray(f_hz, dtype=float)
    z = d.Re + d.Bl**2 / (jw * d.Mms + d.Rms + 1 / (jw * d.Cms))
    if unit.le_henry:
        z = z + semi_inductance(f_hz, semi_inductance_factor(unit.le_henry, unit.exponent), unit.exponent)
    return np.asarray(z)
