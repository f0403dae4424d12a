"""The flange between its fixings: how far the push of the gasket lifts it, and what would hold it down.

A flange is taken as a ring of even section, held down at its fixings alone, on foam that pushes back in proportion to
how far it is closed (an elastic foundation after Winkler).  Each harmonic of a circular ring resists out of its plane
with E I n^2 (n^2 - 1)^2 / (n^2 + E I / G J) / R^4 (Love 1927, A Treatise on the Mathematical Theory of Elasticity,
art. 293; n^2 + 1 + v there, a round section's), here with the foam's own resistance to twisting beside it; the pull of
each fixing follows from no lift at any of them.  With a large radius it is Hetenyi's beam on an elastic foundation
(1946).  Left out: the driver's frame, which stiffens it, and the foam's own setting, which takes from the push with time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.fit.gasket import BACK_BAND, MOST, BackGasket
from backwave.stock import FoamRow

LOVE = "Love 1927, art. 293: a circular ring bent out of its plane, on an elastic foundation"
POISSON = 0.35  # of plastics and wood; from memory
LIFT_LIMIT_MM = 0.3  # what the driver's own gasket makes up for round its frame; common trade practice
HARMONICS = 80  # or twelve for each fixing: their shares fall with the fourth power
LOOKS = 360  # directions looked at round the ring
NARROW_MM = (12.0, 8.0, 6.0)  # strips that are offered
MAX_FIXINGS = 12


@dataclass(frozen=True)
class FlangeRing:
    """The ring that stands for a flange."""

    radius_mm: float  # of its middle line
    width_mm: float
    thickness_mm: float
    fixings_deg: tuple[float, ...]  # their directions


@dataclass(frozen=True)
class Lift:
    """How far a ring stands off between its fixings."""

    most_mm: float
    mean_mm: float  # all round
    at_deg: float  # where it is most
    force_n: float  # what all fixings pull with together


@dataclass(frozen=True)
class FlangeLift:
    """A flange's lift as it may come out: stiff and cold to soft and hot, with the foam's weakest and strongest push."""

    cold: Lift
    hot: Lift
    check: Check

    @property
    def mean_mm(self) -> tuple[float, float]:
        """Minimum and maximum of the mean lift: what it adds to the seat height."""
        return min(self.cold.mean_mm, self.hot.mean_mm), self.hot.mean_mm


def ring_section_mm4(width_mm: float, thickness_mm: float) -> tuple[float, float]:
    """Second moment of area, and torsion constant of a rectangle (Roark's formula for a solid one), mm4."""
    long, short = max(width_mm, thickness_mm), min(width_mm, thickness_mm)
    slim = short / long
    torsion = long * short**3 * (1.0 / 3.0 - 0.21 * slim * (1.0 - slim**4 / 12.0))
    return width_mm * thickness_mm**3 / 12.0, torsion


def lift_of(ring: FlangeRing, e_pa: float, foam_pa: float, strip_mm: float, free_mm: float, closed_mm: float) -> Lift:
    """The lift of a ring between fixings that hold it at the closed height of its gasket.

    foam_pa : float, Pa: pressure of the foam at a compression of all its height, in proportion
    strip_mm, free_mm, closed_mm : float, mm: width of the strip, its height before, and as closed at the fixings
    """
    if not ring.fixings_deg:
        raise InputError("fixings of a flange", "none", "one or more")
    bend, twist = ring_section_mm4(ring.width_mm, ring.thickness_mm)
    e = e_pa * 1e-6  # N/mm2
    ei, gj = e * bend, e / (2.0 * (1.0 + POISSON)) * twist  # N mm2
    k = foam_pa * 1e-6 * strip_mm / free_mm  # N/mm for each mm round
    if k <= 0.0:
        return Lift(0.0, 0.0, 0.0, 0.0)
    waves, around, weights = _waves(ring.fixings_deg)
    n2 = waves**2
    both = ei * n2 + gj * n2
    rolling = ei + gj * n2 + k * strip_mm**2 / 12.0 * ring.radius_mm**2
    stiff = (ei * n2**2 + gj * n2 - both**2 / rolling) / ring.radius_mm**4
    share = np.where(waves == 0.0, 0.5, 1.0) / (np.pi * ring.radius_mm * (stiff + k))
    pull = np.linalg.solve(weights @ share, np.full(len(ring.fixings_deg), free_mm - closed_mm))
    lift = (free_mm - closed_mm) - (around @ share) @ pull
    at = int(np.argmax(lift))
    return Lift(float(lift[at]), float(lift.mean()), at * 360.0 / LOOKS, float(pull.sum()))


@lru_cache(maxsize=64)
def _waves(fixings_deg: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Wave numbers, and their cosines between fixings and directions round the ring, and between fixings."""
    waves = np.arange(max(HARMONICS, 12 * len(fixings_deg)) + 1, dtype=np.float64)
    fixings, looks = np.radians(fixings_deg), np.arange(LOOKS) * 2.0 * np.pi / LOOKS
    return (
        waves,
        np.cos((looks[:, None] - fixings)[..., None] * waves),
        np.cos((fixings[:, None] - fixings)[..., None] * waves),
    )


def flange_lift(
    ring: FlangeRing,
    back: BackGasket,
    foams: Sequence[FoamRow],
    cold_pa: float,
    hot_pa: float,
    hot_degc: float,
    source: str,
) -> FlangeLift | None:
    """How far the gasket lifts the flange between its fixings, and what single change keeps it down.

    What is offered was worked out the same way and found to do.  None where nothing pushes or nothing holds.

    foams : sequence of FoamRow, Pa: grades at hand, the gasket's own among them
    """
    if back.compression > MOST or back.plan is None or not ring.fixings_deg:
        return None
    foam = next(f for f in foams if f.name == back.grade)
    given = _Build(ring, foam, back.plan.width_mm, back.free_mm, back.closed_mm)
    cold, hot = given.lift(cold_pa, foam.low_pa), given.lift(hot_pa, foam.high_pa)
    limit = _limit(given)
    verdict: Verdict = "ok" if hot.most_mm <= limit + 1e-9 else "caution"
    middle = (
        ("most", hot.most_mm, "mm"),
        ("least", cold.most_mm, "mm"),
        ("limit", limit, "mm"),
        ("at", hot_degc, "degC"),
        ("still", 100.0 * (1.0 - (back.closed_mm + hot.most_mm) / back.free_mm), "%"),
        ("fixings", float(len(ring.fixings_deg)), ""),
    )
    check = Check(
        "fit.flange",
        verdict,
        Message(
            "The gasket lifts the flange between its {fixings:0} fixings by {least} when cold, up to {most} at {at}"
            + ("" if verdict == "ok" else "; {limit} at most wanted, so that both gaskets seal"),
            middle,
        ),
        value=hot.most_mm,
        limit=limit,
        unit="mm",
        low=cold.most_mm,
        high=hot.most_mm,
        remedy=None if verdict == "ok" else _remedy(given, foams, hot_pa, limit),
        working=(
            CalculationLine("R", "middle of a round flange of the same area", ring.radius_mm, "mm", "the part"),
            CalculationLine("b", "its width", ring.width_mm, "mm", "the part"),
            CalculationLine("t", "its thickness", ring.thickness_mm, "mm", "the part"),
            CalculationLine("E", "stiffness when new and cold", cold_pa / 1e9, "GPa", source),
            CalculationLine("E_hot", f"creep modulus at {hot_degc:g} degC", hot_pa / 1e9, "GPa", source),
            CalculationLine("s", "width of the gasket", back.plan.width_mm, "mm", "the part"),
            CalculationLine("F", "what the fixings pull with, at most", max(cold.force_n, hot.force_n), "N", LOVE),
            CalculationLine("w", "lift half-way between fixings, cold, weakest foam", cold.most_mm, "mm", LOVE),
            CalculationLine("w_hot", "hot, strongest foam, for ever; without the driver's frame", hot.most_mm, "mm", LOVE),
            CalculationLine("c", "compression of the gasket left there", middle[4][1], "%", f"minimum {100 * min(BACK_BAND):g} %; {PRACTICE}"),
        ),
        sources=(LOVE, source, PRACTICE),
        key="foam.back_width",
        tries=() if verdict == "ok" else _tries(given, foams),
    )  # fmt: skip
    return FlangeLift(cold, hot, check)


@dataclass(frozen=True)
class _Build:
    """What a flange's lift follows from."""

    ring: FlangeRing
    foam: FoamRow
    strip_mm: float
    free_mm: float
    closed_mm: float

    def lift(self, e_pa: float, push_pa: float) -> Lift:
        foam_pa = push_pa / self.foam.deflection
        return lift_of(self.ring, e_pa, foam_pa, self.strip_mm, self.free_mm, self.closed_mm)


def _limit(build: _Build) -> float:
    """What the driver's gasket makes up for, or less where the back gasket would no longer be closed enough."""
    left = build.free_mm * (1.0 - min(BACK_BAND)) - build.closed_mm
    return min(LIFT_LIMIT_MM, left) if left > 0.0 else LIFT_LIMIT_MM


def _remedy(given: _Build, foams: Sequence[FoamRow], hot_pa: float, limit: float) -> Message:
    grooved = replace(given, strip_mm=given.free_mm, closed_mm=0.6 * given.free_mm)
    softest = min(foams, key=lambda f: f.high_pa)
    ways: list[tuple[str, list[_Build]]] = [
        ("lay it in a groove (grooved = true)", [grooved] if given.strip_mm > given.free_mm else []),
        (
            "take a strip {strip} wide (back_width)",
            [replace(given, strip_mm=w) for w in NARROW_MM if w < given.strip_mm],
        ),
        (f"take grade {softest.name} (back_grade)", [replace(given, foam=softest)] * (softest != given.foam)),
        ("add fixings between them, {fixings:0} in all", [replace(given, ring=r) for r in _more(given.ring)]),
        (
            f"take a strip {{strip}} wide of grade {softest.name} (back_width, back_grade)",
            [replace(given, foam=softest, strip_mm=w) for w in NARROW_MM if w < given.strip_mm],
        ),
    ]
    found: list[str] = []
    quantities: list[tuple[str, float | str, str]] = []
    for i, (words, builds) in enumerate(ways):
        if found and i == len(ways) - 1:
            break  # both at once is for where neither alone does
        for build in builds:
            most = build.lift(hot_pa, build.foam.high_pa).most_mm
            if most <= min(limit, _limit(build)):
                names = {"strip": (build.strip_mm, "mm"), "fixings": (float(len(build.ring.fixings_deg)), "")}
                for name, (value, unit) in names.items():
                    if f"{{{name}" in words:
                        words = words.replace(f"{{{name}", f"{{{name}{i}")
                        quantities.append((f"{name}{i}", value, unit))
                found.append(f"{words}: {{left{i}}}")
                quantities.append((f"left{i}", most, "mm"))
                break
    if not found:
        return Message(
            "Make the flange thicker or of a stiffer material, and add fixings: no gasket alone keeps it down"
        )
    return Message("Any one of these keeps it down: " + "; or ".join(found), tuple(quantities))


def _tries(given: _Build, foams: Sequence[FoamRow]) -> tuple[tuple[str, str], ...]:
    """The single changes of the gasket, as the part's table has them."""
    softest = min(foams, key=lambda f: f.high_pa)
    narrow = tuple(("foam.back_width", f"{w:g} mm") for w in NARROW_MM if w < given.strip_mm)
    grade = (("foam.back_grade", str(softest.name)),) if softest != given.foam else ()
    return (("foam.grooved", "true"), *narrow, *grade)


def _more(ring: FlangeRing) -> list[FlangeRing]:
    """The same with fixings added, one after the other, in the middle of the widest gap."""
    found, at = [], sorted(a % 360.0 for a in ring.fixings_deg)
    while len(at) < MAX_FIXINGS:
        gaps = [b - a for a, b in pairwise([*at, at[0] + 360.0])]
        widest = max(range(len(gaps)), key=lambda i: gaps[i])
        at = sorted([*at, (at[widest] + gaps[widest] / 2.0) % 360.0])
        found.append(replace(ring, fixings_deg=tuple(at)))
    return found
