"""Passive networks from the textbook: on preferred values, with real coils, and what the real load makes of them.

The textbook's load is a resistor; a driver is none.  So each design comes with its response into both, the frequency
it really reaches, what the tolerances of the parts do, and what each part has to stand.  Nobody measures the rating of
a part that is not bought yet: ratings are defaults, shown as such, and what is found is also what to ask for in the
shop.  SI units, voltages rms."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.network import alignments
from backwave.network.alignments import nearest
from backwave.network.circuit import Network, Solution
from backwave.network.element import Complex, Probe
from backwave.network.perturbation import tolerance_draws
from backwave.notation.crossover import Branch, CrossoverPart, Group, parts_of
from backwave.sound.output_network import place_passive
from backwave.uncertainty import Error

Real = NDArray[np.float64]
COPPER = 1.7241e-8  # resistivity of annealed copper at 20 degree C, ohm m (IEC 60028)
_OVER_WIRE = 1.06  # diameter with its enamel, by that of the copper (common trade practice)
_BROOKS = 1.6994e-6  # H/m: L = k a N^2 for a square winding whose mean radius a is 1.5 times its side (Grover 1946)
_MUSIC = 0.1  # heat of music by that of the loudest sine: a crest 10 dB above it (common trade practice)
# half-width of parts as bought; 0.10 for bipolar electrolytics and unsorted coils (common trade practice)
TOLERANCE = 0.05


def coil_resistance(henry: float, wire_m: float = 1.0e-3) -> float:
    """Resistance of the air coil of that inductance that needs least wire, a Brooks coil. L = 1.6994e-6 a N^2 with mean
    radius a = 1.5 c and a square winding of side c = d sqrt(N) (Grover, Inductance Calculations, 1946; the constant is
    checked by Maxwell's formula for coaxial circles, summed over the winding). `henry`, H: inductance, above 0; returns
    ohm."""
    if not (henry > 0 and wire_m > 0):
        raise InputError("coil", f"{henry:g} H of {wire_m:g} m wire", "both above 0")
    pitch = _OVER_WIRE * wire_m
    turns = (henry / (1.5 * _BROOKS * pitch)) ** 0.4
    length = 2 * pi * 1.5 * pitch * turns**1.5
    return float(COPPER * length / (pi * wire_m**2 / 4))


def textbook(
    side: Literal["low-pass", "high-pass"], alignment: str, f_hz: float, ohm: float, series: str = "E12",
    wire_m: float = 1.0e-3,
) -> tuple[Branch, ...]:  # fmt: skip
    """A ladder on preferred values, its coils with their resistance. `ohm`, ohm: load, taken as a resistor."""
    if side not in ("low-pass", "high-pass"):
        raise InputError("side of a crossover", side, "low-pass or high-pass")
    parts = alignments.ladder(side, alignment, f_hz, ohm)
    return tuple(Branch(p.place, _bought(p.kind, p.value, series, wire_m)) for p in parts)


def _bought(kind: Literal["R", "L", "C"], value: float, series: str, wire_m: float) -> CrossoverPart:
    chosen = nearest(value, series)
    return CrossoverPart(kind, chosen, round(coil_resistance(chosen, wire_m), 3) if kind == "L" else 0.0)


def zobel(re_ohm: float, le_henry: float, series: str = "E12") -> Branch:
    """Resistor and capacitor across a driver that hold its impedance down where its coil raises it. `re_ohm`,
    `le_henry`, ohm and H."""
    r, c = alignments.zobel(re_ohm, le_henry)
    parts = (CrossoverPart("R", nearest(r, series)), CrossoverPart("C", nearest(c, series)))
    return Branch("shunt", Group("series", parts))


def pad(loss_db: float, ohm: float, series: str = "E12") -> tuple[Branch, Branch]:
    """Two resistors that lower a driver's level and keep its load. `ohm`, ohm: load, taken as a resistor."""
    in_line, across = (CrossoverPart("R", nearest(r, series)) for r in alignments.l_pad(loss_db, ohm))
    return Branch("series", in_line), Branch("shunt", across)


def protective_capacitor(ohm: float, f_hz: float, series: str = "E12") -> Branch:
    """One capacitor in series, 3 dB down at a frequency into a resistor, 6 dB an octave below: C = 1/(2 pi f R). `ohm`,
    ohm."""
    if not (ohm > 0 and f_hz > 0):
        raise InputError("protective capacitor", f"{f_hz:g} Hz into {ohm:g} ohm", "both above 0")
    return Branch("series", CrossoverPart("C", nearest(1 / (2 * pi * f_hz * ohm), series)))


@dataclass(frozen=True, eq=False)
class NetworkResponse:
    """What a network does on a load."""

    f_hz: Real  # (n_freq,)
    level: Real  # (n_freq,) dB, at the load's terminals, against the source's open terminals
    low: Real  # (n_freq,) dB, 2.5 and 97.5 % points for parts within their tolerance
    high: Real  # (n_freq,) dB
    # where it is `down_db` below the greatest level of its passband; None where it never is
    reached_hz: float | None
    down_db: float  # 3.01 for Butterworth, 6.02 for Linkwitz-Riley
    least_ohm: float  # least impedance that the source sees, and where
    least_at_hz: float
    solution: Solution  # the solved network for one volt


def made_of(
    branches: tuple[Branch, ...], load_z: ArrayLike, f_hz: Real, side: Literal["low-pass", "high-pass"],
    source_ohm: float = 0.0, down_db: float = 3.01, draws: int = 400, tolerance: float = TOLERANCE,
) -> NetworkResponse:  # fmt: skip
    """A network on a load: its level, where it really crosses, what tolerances do, what the source sees. `load_z`,
    (n_freq,) ohm; `tolerance`, 1: half-width of every part's value (rectangular), each part for itself; 0.05 is 5 %."""
    if not 0 <= tolerance < 1:
        raise InputError("tolerance of the parts", tolerance, "0 or more and below 1; 0.05 is 5 %")
    z = np.broadcast_to(np.asarray(load_z, dtype=complex), f_hz.shape).copy()
    network = Network()
    network.voltage("source", "open", "0", 1.0)
    network.resistor("output", "open", "out", max(source_ohm, 1e-12))
    node = place_passive(network, "part", "out", "0", branches)
    network.impedance("load", node, "0", z)
    solution = network.solve(f_hz)
    level = _db(solution.v(node))
    low = high = level
    spread = {name: Error(name, "rectangular", tolerance) for name, _ in _named(branches)}
    if spread:
        drawn = _db(tolerance_draws(solution, Probe("v", node), spread, draws))
        low, high = np.percentile(drawn, [2.5, 97.5], axis=0)
    seen = np.abs(solution.v("out") / -solution.i("source"))
    at = int(np.argmin(seen))
    return NetworkResponse(
        f_hz, level, low, high, _reached(f_hz, level, side, down_db), down_db, float(seen[at]), float(f_hz[at]),
        solution,
    )  # fmt: skip


def _reached(f_hz: Real, level: Real, side: str, down_db: float) -> float | None:
    """From the passband outward, the first crossing."""
    order = slice(None) if side == "low-pass" else slice(None, None, -1)
    f, y = f_hz[order], level[order]
    top = int(np.argmax(y))
    below = np.flatnonzero(y[top:] < y[top] - down_db)
    if not below.size:
        return None
    k = top + int(below[0])
    share = (y[k - 1] - (y[top] - down_db)) / (y[k - 1] - y[k])
    return float(np.exp(np.log(f[k - 1]) + share * (np.log(f[k]) - np.log(f[k - 1]))))


@dataclass(frozen=True)
class PartStress:
    """What one part has to stand at a source's full sine, at the frequency that is worst for it."""

    name: str  # "1L", "2C": its place in the network and its kind
    part: CrossoverPart
    amps: float  # A rms
    volts: float  # V peak
    watts: float  # W, turned to heat in it
    music_watts: float  # W, the same with music, a tenth
    at_hz: float  # where its heat, or for a capacitor its voltage, is greatest


def stress_of(made: NetworkResponse, branches: tuple[Branch, ...], source_v: float) -> tuple[PartStress, ...]:
    """What each part of a network has to stand."""
    found = []
    for name, part in _named(branches):
        current = np.abs(made.solution.i(name)) * source_v
        nodes = made.solution.system.parts[name].element.nodes
        volts = np.abs(made.solution.v(*nodes)) * source_v * sqrt(2)
        watts = made.solution.power(name) * source_v**2 if part.kind != "C" else np.zeros_like(volts)  # no loss modeled
        at = int(np.argmax(volts if part.kind == "C" else watts))
        amps, peak, heat = (float(x.max()) for x in (current, volts, watts))
        short = name.removeprefix("part.")
        found.append(PartStress(short, part, amps, peak, heat, heat * _MUSIC, float(made.f_hz[at])))
    return tuple(found)


def _named(branches: tuple[Branch, ...]) -> list[tuple[str, CrossoverPart]]:
    """Each part with the name that `place_passive` gives it."""
    parts = [part for branch in branches for part in parts_of(branch.what)]
    return [(f"part.{k}{part.kind}", part) for k, part in enumerate(parts, 1)]


def _db(v: Complex) -> Real:
    return np.asarray(20 * np.log10(np.maximum(np.abs(v), 1e-12)))


# what a part as usually sold stands; each a default, and shown as one
RESISTOR_W = 10.0  # printed on a cemented resistor, in free air (common trade practice)
USED_SHARE = 0.5  # of a resistor's rating: in a vehicle its air is not free (common trade practice)
# direct voltage printed on a film capacitor, taken as its peak; a bipolar electrolytic often says 50 V (common trade
# practice)
CAPACITOR_V = 100.0
# heat that leaves an air coil of 40 mm across, 38 cm2 of surface, 53 K hotter than still air: 10 W/(m2 K), radiation
# included (from memory)
COIL_W = 2.0


def part_check(stress: PartStress) -> Check:
    """One part of a network against what parts as usually sold stand. A `caution`, never a `stop`: the remedy is
    another part of the same value."""
    if stress.part.kind == "C":
        value, limit, unit = stress.volts, CAPACITOR_V, "V"
        said = "The capacitor {name} sees {value} at its peak; {limit} is printed on the usual one"
        remedy = Message("A film capacitor for {wanted} or more", (("wanted", value, "V"),))
        basis = CalculationLine("V0", "voltage printed on it; a default", limit, "V", PRACTICE)
    elif stress.part.kind == "R":
        value, limit, unit = stress.music_watts, USED_SHARE * RESISTOR_W, "W"
        said = "The resistor {name} turns {value} of music to heat; the usual one is good for {limit}, enclosed"
        words = "A resistor of {wanted} or more, or several that make the same value, in free air and away from trim"
        remedy = Message(words, (("wanted", value / USED_SHARE, "W"),))
        used = f"{USED_SHARE:g} of the {RESISTOR_W:g} W printed on it; a default"
        basis = CalculationLine("P0", used, limit, "W", PRACTICE)
    else:
        value, limit, unit = stress.music_watts, COIL_W, "W"
        said = "The coil {name} turns {value} of music to heat; the usual one is good for {limit}"
        remedy = Message("A coil of thicker wire, with air round it and away from trim")
        basis = CalculationLine("P0", "heat at 53 K over still air, 40 mm across; a default", limit, "W", "from memory")
    ok = value <= limit
    title = Message(said, (("name", stress.name, ""), ("value", value, unit), ("limit", limit, unit)))
    full_sine = "greatest current through it, rms, at the source's full sine"
    return Check(
        "sound.part-stress", "ok" if ok else "caution", title, value, limit, unit, remedy=None if ok else remedy,
        working=(
            CalculationLine("I", full_sine, stress.amps, "A", "Ohm's law"),
            CalculationLine("V", "greatest voltage across it, peak", stress.volts, "V", "Ohm's law"),
            CalculationLine("P", "greatest heat of a steady tone", stress.watts, "W", "I2 R"),
            CalculationLine("Pm", "the same with music, a tenth", stress.music_watts, "W", PRACTICE),
            CalculationLine("f", "where its heat, or a capacitor's voltage, is greatest", stress.at_hz, "Hz"),
            basis,
        ),
        sources=("Ohm's law", PRACTICE) if stress.part.kind != "L" else ("Ohm's law", PRACTICE, "from memory"),
        part=stress.name,
    )  # fmt: skip
