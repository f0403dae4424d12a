"""How hot a cable gets: heat balance of an insulated round cable that lies level in still air.

    I^2 r20 (1 + a (Tc - 20)) = pi Do [h (Ts - Ta) + e s (Ts^4 - Ta^4)] = 2 pi k (Tc - Ts)/ln(Do/Di)

current heats the conductor (Tc), the insulation passes it to the surface (Ts), natural convection (Churchill and Chu
1975, Int. J. Heat Mass Transfer 18:1049) and radiation to the air (Ta).  Air at the film temperature: Sutherland
viscosity and the thermal conductivity of the US Standard Atmosphere 1976.  All arguments broadcast.  Not covered:
wind (it cools), sun on the cable and insulating carpet (they heat: use a higher ambient), cables upright."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError

Real = NDArray[np.float64]
EMISSIVITY = 0.9  # of plastic and rubber, any color (from memory)
# thermal conductivity of PVC: 6 K m/W is the worse of the two in IEC 60287-2-1 (from memory)
INSULATION_W_MK = 1 / 6

_STEFAN = 5.670374419e-8
_ZERO = 273.15
_HOTTEST = 1000.0  # above the air; nothing insulated lives there
_STEPS = 34  # to 1e-7 K
# Current by that of one cable alone, for cables that touch, in air: IEC 60364-5-52 table B.52.17, item 1, as a public
# copy of its national edition has it up to 9; 12, 16 and 20 from memory.
_GROUP = ((1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 20), (1, 0.8, 0.7, 0.65, 0.6, 0.57, 0.54, 0.52, 0.5, 0.45, 0.41, 0.38))


def nusselt(rayleigh: ArrayLike, prandtl: ArrayLike) -> Real:
    """Natural convection round a level cylinder (Churchill and Chu 1975), for Rayleigh numbers of 1e-5 to 1e12.
    `rayleigh`, `prandtl`, 1: on the diameter, at the film temperature."""
    spread = (1 + (0.559 / np.asarray(prandtl)) ** (9 / 16)) ** (8 / 27)
    return np.asarray((0.60 + 0.387 * np.asarray(rayleigh) ** (1 / 6) / spread) ** 2)


def convection_w_m2k(diameter_mm: ArrayLike, surface_degc: ArrayLike, ambient_degc: ArrayLike) -> Real:
    """Heat given to still air by area and difference of temperature."""
    surface, ambient = np.asarray(surface_degc, dtype=float), np.asarray(ambient_degc, dtype=float)
    film = (surface + ambient) / 2 + _ZERO
    root = film * np.sqrt(film)
    viscosity = 1.458e-6 * root / (film + 110.4)
    conductivity = 2.64638e-3 * root / (film + 245.4 * 10 ** (-12 / film))
    density = 101325 / (287.05 * film)
    prandtl = 1006 * viscosity / conductivity
    meter = np.asarray(diameter_mm) * 1e-3
    rayleigh = 9.80665 * (surface - ambient) / film * meter**3 * (density / viscosity) ** 2 * prandtl
    return np.asarray(nusselt(rayleigh, prandtl) * conductivity / meter)


def grouping(cables: ArrayLike) -> Real:
    """By how much the current of each must be less when loaded cables touch. `cables`, 1: in the bundle, 1 or more;
    between the rows of the table the worse one, beyond 20 by one over the root; InputError: fewer than one."""
    count = np.asarray(cables)
    if (count < 1).any():
        raise InputError("cables in the bundle", count.tolist(), "1 or more")
    known, factor = np.array(_GROUP[0]), np.array(_GROUP[1])
    row = np.minimum(np.searchsorted(known, count), len(known) - 1)
    return np.asarray(factor[row] * np.sqrt(np.minimum(20 / count, 1.0)))


def conductor_degc(
    current_a: ArrayLike,
    ohm_m: ArrayLike,
    rise_per_k: ArrayLike,
    conductor_mm: ArrayLike,
    outer_mm: ArrayLike,
    ambient_degc: ArrayLike,
    bundle: ArrayLike = 1,
) -> Real:
    """Temperature at which a cable settles under a steady current; not a number where it never does (or near 1000
    degC). `bundle`, 1: loaded cables that touch; returns degC."""
    inner, outer, air = np.asarray(conductor_mm), np.asarray(outer_mm), np.asarray(ambient_degc, dtype=float)
    heat = (np.asarray(current_a) / grouping(bundle)) ** 2 * np.asarray(ohm_m)
    through = np.log(outer / inner) / (2 * pi * INSULATION_W_MK)
    slope = heat * np.asarray(rise_per_k)

    def settled(surface: Real) -> Real:
        leaves = _leaves(outer, surface, air)
        return np.asarray(leaves >= heat + slope * (surface + leaves * through - 20))

    surface = _least(settled, *np.broadcast_arrays(air, air + _HOTTEST, heat + through)[:2])
    hot = surface + _leaves(outer, surface, air) * through
    return np.asarray(np.where((slope * through < 1) & (surface < air + 0.999 * _HOTTEST), hot, np.nan))


def ampacity_a(
    limit_degc: ArrayLike,
    ohm_m: ArrayLike,
    rise_per_k: ArrayLike,
    conductor_mm: ArrayLike,
    outer_mm: ArrayLike,
    ambient_degc: ArrayLike,
    bundle: ArrayLike = 1,
) -> Real:
    """Steady current at which the conductor reaches a temperature; 0 where the air alone does. `bundle`, 1: loaded
    cables that touch; returns A."""
    inner, outer, air = np.asarray(conductor_mm), np.asarray(outer_mm), np.asarray(ambient_degc, dtype=float)
    limit = np.maximum(np.asarray(limit_degc, dtype=float), air)
    through = np.log(outer / inner) / (2 * pi * INSULATION_W_MK)

    def enough(surface: Real) -> Real:
        return np.asarray(surface + _leaves(outer, surface, air) * through >= limit)

    surface = _least(enough, *np.broadcast_arrays(air, limit, through)[:2])
    hot_ohm = np.asarray(ohm_m) * (1 + np.asarray(rise_per_k) * (limit - 20))
    return np.asarray(np.sqrt(_leaves(outer, surface, air) / hot_ohm) * grouping(bundle))


def _leaves(outer_mm: Real, surface_degc: Real, ambient_degc: Real) -> Real:
    """Heat that a meter of cable gives to its surroundings, W/m."""
    radiated = EMISSIVITY * _STEFAN * ((surface_degc + _ZERO) ** 4 - (ambient_degc + _ZERO) ** 4)
    carried = convection_w_m2k(outer_mm, surface_degc, ambient_degc) * (surface_degc - ambient_degc)
    return np.asarray(pi * outer_mm * 1e-3 * (carried + radiated))


def _least(true_from: Callable[[Real], Real], low: Real, high: Real) -> Real:
    """Where a condition turns true, by halving."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    for _ in range(_STEPS):
        middle = (low + high) / 2
        holds = true_from(middle)
        low, high = np.where(holds, low, middle), np.where(holds, middle, high)
    return np.asarray((low + high) / 2)
