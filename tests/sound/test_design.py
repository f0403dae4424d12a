"""Designed networks: prototypes into a resistor, coils against Wheeler, stress by hand, tolerances, real loads."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from backwave.acoustics import crossover
from backwave.errors import InputError
from backwave.network.alignments import nearest
from backwave.notation.crossover import Branch, CrossoverPart, Group, parse_branch, write_branch
from backwave.sound.design import (
    COPPER,
    coil_resistance,
    made_of,
    pad,
    protective_capacitor,
    stress_of,
    textbook,
    zobel,
)

F = np.geomspace(20.0, 20_000.0, 600)


@pytest.mark.parametrize(("henry", "wire_mm"), [(0.1e-3, 0.8), (0.39e-3, 1.0), (1.5e-3, 1.4)])
def test_a_coil_by_wheelers_formula_has_the_inductance(henry: float, wire_mm: float) -> None:
    # Wheeler 1928, multilayer: L [uH] = 0.8 a^2 N^2 / (6 a + 9 b + 10 c), inches; Brooks: b = c, a = 1.5 c.
    # From the resistance back to turns, side and radius, then Wheeler's L: an independent formula, within 1 %.
    d = wire_mm * 1e-3
    length = coil_resistance(henry, d) * pi * d**2 / 4 / 1.7241e-8
    turns = (length / (2 * pi * 1.5 * 1.06 * d)) ** (1 / 1.5)
    c = 1.06 * d * sqrt(turns) / 0.0254
    a = 1.5 * c
    wheeler = 0.8 * a**2 * turns**2 / (6 * a + 19 * c) * 1e-6
    assert wheeler == pytest.approx(henry, rel=0.01)
    # 0.4 mH of 1 mm wire is sold as 0.25 to 0.3 ohm (common trade practice, from memory)
    assert coil_resistance(0.4e-3) == pytest.approx(0.28, abs=0.03)


def test_the_constant_of_that_coil_is_maxwells() -> None:
    # Maxwell, Treatise, art. 701: coaxial circles, M = mu0 sqrt(AB) ((2/k - k) K - (2/k) E), summed over a square
    # winding of 400 filaments; each on itself at 0.44705 of its side, the mean distance of a square (art. 692).
    n, side, radius = 20, 1.0, 1.5
    cell = side / n
    centers = cell * (np.arange(n) + 0.5)
    r, z = (x.ravel() for x in np.meshgrid(radius - side / 2 + centers, centers))
    apart = np.where(np.eye(n * n, dtype=bool), 0.44705 * cell, z[:, None] - z[None, :])
    a, b = r[:, None], r[None, :]
    m = 4 * a * b / ((a + b) ** 2 + apart**2)
    k = np.sqrt(m)
    mutual = 4e-7 * pi * np.sqrt(a * b) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))
    assert mutual.mean() / radius == pytest.approx(1.6994e-6, rel=2e-4)
    # and that constant is the one used: from the resistance back to turns, L = k a N^2
    henry, wire = 0.4e-3, 1e-3
    turns = (coil_resistance(henry, wire) * wire**2 / 4 / COPPER / (3 * 1.06 * wire)) ** (2 / 3)
    assert mutual.mean() * 1.06 * wire * sqrt(turns) * turns**2 == pytest.approx(henry, rel=1e-3)


@pytest.mark.parametrize("alignment", ["BW1", "BW2", "BW3", "BW4", "LR2", "LR4"])
@pytest.mark.parametrize("side", ["low-pass", "high-pass"])
def test_on_values_not_rounded_it_is_the_prototype(side: str, alignment: str) -> None:
    from backwave.network import alignments

    parts = alignments.ladder(side, alignment, 2500.0, 4.0)
    branches = tuple(Branch(p.place, CrossoverPart(p.kind, p.value)) for p in parts)
    down = 6.0206 if alignment.startswith("LR") else 3.0103
    f = np.geomspace(20.0, 500_000.0, 1200)  # far enough up for a first order to be flat
    made = made_of(branches, 4.0, f, side, down_db=down)  # type: ignore[arg-type]  # one of two words
    wanted = 20 * np.log10(np.abs(crossover(f, side, alignment, 2500.0)))  # type: ignore[arg-type]
    np.testing.assert_allclose(made.level, wanted, atol=1e-6)
    assert made.reached_hz == pytest.approx(2500.0, rel=2e-3)


def test_preferred_values_and_coils_come_near_it() -> None:
    branches = textbook("low-pass", "LR4", 2500.0, 4.0, "E24")
    for branch in branches:
        assert isinstance(branch.what, CrossoverPart)
        assert branch.what.value == nearest(branch.what.value, "E24")
        assert (branch.what.ohm > 0) == (branch.what.kind == "L")
        again = parse_branch(write_branch(branch)).what
        assert isinstance(again, CrossoverPart)
        assert (again.value, again.ohm) == pytest.approx((branch.what.value, branch.what.ohm))
    made = made_of(branches, 4.0, F, "low-pass", down_db=6.02)
    assert made.reached_hz == pytest.approx(2500.0, rel=0.08)  # values rounded, and coils that lose a little
    assert (made.low <= made.level + 1e-9).all()
    assert (made.level <= made.high + 1e-9).all()
    with pytest.raises(InputError):
        textbook("band-pass", "LR4", 2500.0, 4.0)  # type: ignore[arg-type]
    with pytest.raises(InputError):
        textbook("low-pass", "LR3", 2500.0, 4.0)


def test_a_zobel_holds_a_coil_down_and_a_pad_keeps_the_load() -> None:
    # Rz = Re, Cz = Le/Re^2 makes a coil of Re and Le a resistor at every frequency (circuit algebra)
    r, le = 3.3, 0.33e-3
    branch = zobel(r, le, "E24")
    assert isinstance(branch.what, Group)
    made = made_of((branch,), r + 2j * pi * F * le, F, "low-pass")
    seen = np.abs(made.solution.v("out") / -made.solution.i("source"))
    assert seen.max() / seen.min() < 1.06
    # Rs = R (k-1)/k, Rp = R/(k-1), 6 dB at 8 ohm: 3.99 and 8.04 (attenuator algebra)
    pads = pad(6.0, 8.0, "E24")
    assert [b.what.value for b in pads if isinstance(b.what, CrossoverPart)] == [3.9, 8.2]
    padded = made_of(pads, 8.0, F, "low-pass")
    assert padded.level[0] == pytest.approx(-5.9, abs=0.2)
    assert padded.least_ohm == pytest.approx(8.0, rel=0.03)


def test_a_capacitor_is_first_order() -> None:
    branch = protective_capacitor(4.0, 3000.0, "E24")
    assert isinstance(branch.what, CrossoverPart)
    assert branch.what.value == pytest.approx(13e-6)  # 1/(2 pi 3000 4) = 13.26 uF
    made = made_of((branch,), 4.0, F, "high-pass")
    assert made.reached_hz == pytest.approx(1 / (2 * pi * 13e-6 * 4), rel=0.03)  # from the level at 20 kHz
    with pytest.raises(InputError):
        protective_capacitor(0.0, 3000.0)


def test_what_each_part_stands_is_ohms_law() -> None:
    branches = tuple(map(parse_branch, ("series R 2 ohm", "series C 10 uF")))
    made = made_of(branches, 4.0, F, "high-pass")
    resistor, capacitor = stress_of(made, branches, 10.0)
    z = 6.0 + 1 / (2j * pi * F * 10e-6)
    current = np.abs(10.0 / z)
    assert resistor.amps == pytest.approx(current.max())
    assert resistor.watts == pytest.approx(2 * current.max() ** 2)
    assert resistor.music_watts == pytest.approx(resistor.watts / 10)
    assert capacitor.volts == pytest.approx((current / (2 * pi * F * 10e-6)).max() * sqrt(2))
    assert capacitor.watts == 0.0
    assert capacitor.at_hz == F[0]


def test_tolerances_are_those_of_their_parts() -> None:
    # one resistor of 4 ohm before 4 ohm: level 20 log10(4/(4+R)), R within 5 %: 2.5 to 97.5 % is 95 % of that range
    branches = (parse_branch("series R 4 ohm"),)
    made = made_of(branches, 4.0, F[:3], "low-pass", draws=4000)
    ends = 20 * np.log10(4 / (4 + 4 * np.array([1.0475, 0.9525])))
    assert (made.low[0], made.high[0]) == pytest.approx(tuple(ends), abs=0.01)
    wide = made_of(branches, 4.0, F[:3], "low-pass", draws=4000, tolerance=0.10)
    ends = 20 * np.log10(4 / (4 + 4 * np.array([1.095, 0.905])))
    assert (wide.low[0], wide.high[0]) == pytest.approx(tuple(ends), abs=0.02)
    with pytest.raises(InputError, match="tolerance"):
        made_of(branches, 4.0, F[:3], "low-pass", tolerance=5.0)  # percent where a share is meant


def test_never_down_is_said() -> None:
    assert made_of((parse_branch("series R 1 ohm"),), 4.0, F, "low-pass").reached_hz is None
