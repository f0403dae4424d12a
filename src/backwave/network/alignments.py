"""Textbook passive networks between an amplifier and a resistive load: ladders, Zobel, L-pad; and preferred values.

The ladders are singly terminated (source of no resistance, series element first, resistive load), the case of an
amplifier and a driver; the doubly terminated tables (1, 2, 1 for Butterworth 3) do not suit it.  Values follow
from the denominator of the response by continued fraction; handbooks print them (Zverev, Handbook of Filter
Synthesis, 1967; from memory).  What a real driver makes of them is for `Network` to say."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, floor, inf, log10, pi
from typing import Literal

import numpy as np

from backwave.errors import InputError, positive

# IEC 60063:2015, the standard's table: not the rounded 10^(k/24), from which 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7 and 8.2
# differ
SERIES: dict[str, tuple[float, ...]] = {
    "E6": (1.0, 1.5, 2.2, 3.3, 4.7, 6.8),
    "E12": (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2),
    "E24": (
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
        3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ),
}  # fmt: skip
ALIGNMENTS: tuple[str, ...] = ("BW1", "BW2", "BW3", "BW4", "LR2", "LR4")


def around(value: float, series: str = "E12") -> tuple[float, float]:
    """The largest preferred value that is not above, and the smallest that is not below. `value`, any unit: more than
    0; returns (float, float) unit of `value`: twice the same where the value is itself preferred (to 1e-9 of it)."""
    if series not in SERIES:
        raise InputError("series of preferred values", series, " or ".join(SERIES))
    positive("value to round", value)
    decade = floor(log10(value))
    # A power as the nearest decimal: 4.7 * 1e-6 and float("4.7e-6") are not the same number.
    ladder = [float(f"{v}e{d}") for d in range(decade - 1, ceil(log10(value)) + 2) for v in SERIES[series]]
    below = max((v for v in ladder if v <= value * (1 + 1e-9)), default=0.0)
    above = min((v for v in ladder if v >= value * (1 - 1e-9)), default=inf)
    return below, above


def nearest(value: float, series: str = "E12") -> float:
    """The preferred value nearest by ratio. `value`, any unit: more than 0; returns unit of `value`."""
    below, above = around(value, series)
    return below if value / below <= above / value else above


@dataclass(frozen=True)
class LadderPart:
    """One element of a ladder, counted from the source."""

    place: Literal["series", "shunt"]  # in the line to the load, or across it
    kind: Literal["L", "C"]  # inductor or capacitor
    value: float  # H or F


def prototype(alignment: str) -> tuple[float, ...]:
    """Low-pass element values g1, g2.. for 1 ohm and 1 rad/s, from the source: L, C, L, C. `alignment`: one of
    `ALIGNMENTS`: Butterworth 1 to 4 (-3.01 dB at the frequency), Linkwitz-Riley 2 and 4 (-6.02 dB); returns H and F."""
    if alignment not in ALIGNMENTS:
        raise InputError("alignment of a passive network", alignment, ", ".join(ALIGNMENTS))
    order = int(alignment[2])
    denominator = _butterworth(order) if alignment[:2] == "BW" else np.polymul(*[_butterworth(order // 2)] * 2)
    # Seen from the load it is (powers n, n-2, ..) / (powers n-1, n-3, ..); each step divides out one element.
    falls = np.arange(order + 1) % 2
    top, under = np.where(falls == 0, denominator, 0.0), np.where(falls == 1, denominator, 0.0)[1:]
    values = []
    for _ in range(order):
        g = top[0] / under[0]
        rest = top - g * np.append(under, 0.0)
        values.append(float(g))
        top, under = under, rest[2:]
    return tuple(reversed(values))


def ladder(side: Literal["low-pass", "high-pass"], alignment: str, f_hz: float, ohm: float) -> tuple[LadderPart, ...]:
    """Ladder for one side: L = g R/w0 in series and C = g/(R w0) across, or C = 1/(g R w0) and L = R/(g w0). `ohm`,
    ohm: load, taken as a resistor."""
    w, r = 2 * pi * positive("crossover frequency", f_hz), positive("load resistance", ohm)
    found = []
    for k, g in enumerate(prototype(alignment)):
        place: Literal["series", "shunt"] = "shunt" if k % 2 else "series"
        coil = (place == "series") == (side == "low-pass")
        g = g if side == "low-pass" else 1 / g
        found.append(LadderPart(place, "L" if coil else "C", g * r / w if coil else g / (r * w)))
    return tuple(found)


def zobel(re_ohm: float, le_henry: float) -> tuple[float, float]:
    """Resistor and capacitor in series, across a coil of Re and Le, that make it look like Re at every frequency. Exact
    for a coil that is R and L: Rz = Re, Cz = Le/Re^2. A real voice coil is semi-inductive, and the result a starting
    point. `le_henry`, H; returns (float, float) ohm and F."""
    r = positive("voice-coil resistance", re_ohm)
    return r, positive("voice-coil inductance", le_henry) / r**2


def l_pad(loss_db: float, ohm: float) -> tuple[float, float]:
    """Series and parallel resistor that lower the level and keep the impedance. k = 10^(A/20), Rs = R (k-1)/k, Rp =
    R/(k-1) (attenuator algebra). `loss_db`: how much lower, more than 0; `ohm`, ohm: load, taken as a resistor; returns
    (float, float) ohm: resistor in series with the source, resistor across the load."""
    k = 10 ** (positive("attenuation in dB", loss_db) / 20)
    r = positive("load resistance", ohm)
    return r * (k - 1) / k, r / (k - 1)


def _butterworth(order: int) -> np.ndarray:
    poly = np.array([1.0, 1.0]) if order % 2 else np.array([1.0])
    for k in range(order // 2):
        poly = np.polymul(poly, [1.0, 2 * cos(pi * (2 * k + 1 + order % 2) / (2 * order)), 1.0])
    return poly
