"""How hard foam pushes back, the gasket behind the adapter, and how far its push lifts the flange between its fixings.

How hard foam pushes back is known from ASTM D1056 at one deflection only, a quarter of its height, as a band of
pressures for each grade.  At any other compression the band is scaled in proportion (the straight line through
nothing at 0 and the band at 25 %) and called extrapolated.  Real foam stiffens beyond half its height; nothing is
claimed beyond `MOST`.

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
from math import atan2, degrees, hypot, pi, sqrt

import numpy as np

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict
from backwave.shape import Point
from backwave.stock import FoamRow

D1056 = "ASTM D1056-14: force bands at 25 % deflection"
EXTRAPOLATED = f"{D1056}; extrapolated in proportion"
BACK_BAND = (0.30, 0.50)  # compression of the back gasket; common trade practice
MOST = 0.60  # compression beyond which the straight line is not used at all
CLOSED_DOUBT = 0.2  # of what a flat gasket gives: it is screwed down by hand; common trade practice
FROM_EDGE_MM = 1.5  # from the hole's edge to a strip; common trade practice
_SAME = 1e-9


@dataclass(frozen=True)
class GasketPlan:
    """Where a gasket lies round the hole."""

    inner_mm: float  # radius of its inner edge
    width_mm: float  # of the strip; of all of the flange where none was given: a round flange of the same area
    area_mm2: float


@dataclass(frozen=True)
class BackGasket:
    """The gasket between adapter and metal."""

    grade: str
    free_mm: float  # height before
    closed_mm: float  # height as closed at the fixings
    seat_mm: float  # what it adds to the seat height: `closed_mm`, or 0 in a groove (the plate bottoms on the metal)
    doubt_mm: float  # either way, of `seat_mm`
    groove_mm: float  # depth of the groove, 0 for a flat one
    compression: float  # share of its height that it gives, no unit
    plan: GasketPlan | None  # None where the flange or the hole is not known
    force_n: tuple[float, float] | None  # what the screws pull against; None where the area is not known
    check: Check  # `fit.foam-back`


def gasket_plan(flange_mm2: float, hole_mm: float, strip_mm: float | None = None) -> GasketPlan | None:
    """Where a gasket lies: a strip round the hole in the metal, or all of the flange outside of it; `hole_mm` is
    the hole's radius. None where the flange leaves no room for it."""
    outer = sqrt(flange_mm2 / pi)
    if strip_mm is None or strip_mm >= outer - hole_mm:
        inner, width = hole_mm, outer - hole_mm
    else:
        inner = min(hole_mm + FROM_EDGE_MM, outer - strip_mm)
        width = strip_mm
    return GasketPlan(inner, width, pi * width * (2.0 * inner + width)) if width > 0.0 else None


def force_n(foam: FoamRow, area_mm2: float, compression: float) -> tuple[float, float]:
    """Band of the force that closes a piece of foam. F = p A c / 0.25, with p the grade's band at 25 % deflection (ASTM
    D1056): exact at 25 %, extrapolated at any other. `compression`, 1: share of its height, 0 to `MOST`."""
    if not 0.0 <= compression <= MOST + _SAME:
        raise InputError("compression of foam", round(compression, 4), f"0 to {MOST:g}")
    scale = area_mm2 * 1e-6 * compression / foam.deflection
    return foam.low_pa * scale, foam.high_pa * scale


def band_step(foam: FoamRow) -> CalculationLine:
    """The grade's band, as a line of a working."""
    return CalculationLine(
        "p", f"upper end of grade {foam.name}'s band (lower end {foam.low_pa / 1000:g} kPa)", foam.high_pa / 1000.0,
        "kPa", foam.cited,
    )  # fmt: skip


def back_gasket(
    foam: FoamRow, free_mm: float, closed_mm: float | None = None, grooved: bool = False,
    plan: GasketPlan | None = None, half_mm: float | None = None,
) -> BackGasket:  # fmt: skip
    """The gasket behind the adapter, flat or in a groove, so that the plate bottoms on the metal. `closed_mm` left out
    is half of `free_mm` flat, 0.6 of it in a groove. A flat one is closed by hand: its height is known to a fifth of
    what it gives (common trade practice) unless `half_mm` says better."""
    if free_mm <= 0.0:
        raise InputError("height of the back gasket", free_mm, "above 0 mm")
    assumed = closed_mm is None
    if closed_mm is None:
        closed_mm = free_mm * (0.6 if grooved else 0.5)
    if not 0.0 < closed_mm <= free_mm:
        raise InputError("closed height of the back gasket", closed_mm, f"above 0 mm, up to {free_mm:g} mm")
    compression = 1.0 - closed_mm / free_mm
    force = force_n(foam, plan.area_mm2, compression) if plan is not None and compression <= MOST else None
    doubt = 0.0 if grooved else CLOSED_DOUBT * (free_mm - closed_mm) if half_mm is None else half_mm
    low, high = BACK_BAND
    working = [
        CalculationLine("h0", "height of the strip", free_mm, "mm", "the job"),
        CalculationLine(
            "h1", "depth of the groove" if grooved else "height as closed", closed_mm, "mm",
            f"default; {PRACTICE}" if assumed else "the job",
        ),
        CalculationLine("c", "1 - h1 / h0", compression, "", PRACTICE),
    ]  # fmt: skip
    if not grooved:
        how_known = f"{CLOSED_DOUBT:.0%} of what it gives; {PRACTICE}" if half_mm is None else "the job"
        working.append(CalculationLine("±", "how sure its closed height is, either way", doubt, "mm", how_known))
    if force is not None and plan is not None:
        working.append(band_step(foam))
        working.append(CalculationLine("s", "width of the strip", plan.width_mm, "mm", "the part"))
        working.append(CalculationLine("A", "area in plan", plan.area_mm2, "mm2", "round the hole in the metal"))
        working.append(CalculationLine("F", "p A c / 0.25, at the band's upper end", force[1], "N", EXTRAPOLATED))
    how = "in a groove" if grooved else "flat"
    quantities: Quantities = (
        ("free", free_mm, "mm"),
        ("closed", closed_mm, "mm"),
        ("compression", 100.0 * compression, "%"),
    )
    pushes = ""
    if force is not None and plan is not None:
        pushes = ", pushes the part off with {weak} to {strong} on a width of {width}"
        quantities += (("weak", force[0], "N"), ("strong", force[1], "N"), ("width", plan.width_mm, "mm"))
    remedy = None
    verdict: Verdict = "ok"
    if not low - _SAME <= compression <= high + _SAME:
        verdict = "caution"
        remedy = Message(
            "Close a {free} strip to between {least} and {most}, or take a strip of another thickness",
            (("free", free_mm, "mm"), ("least", free_mm * (1 - high), "mm"), ("most", free_mm * (1 - low), "mm")),
        )
    title = f"Back gasket, {how}: {{free}} closed to {{closed}}, {{compression}} compressed{pushes} "
    check = Check(
        "fit.foam-back", verdict, Message(title + "(beyond the 25 % its grade is tested at)", quantities),
        value=100.0 * compression, limit=100.0 * (low if compression < low else high), unit="%", remedy=remedy,
        working=tuple(working), sources=(PRACTICE, D1056), key="foam.closed",
    )  # fmt: skip
    return BackGasket(
        grade=foam.name, free_mm=free_mm, closed_mm=closed_mm, seat_mm=0.0 if grooved else closed_mm, doubt_mm=doubt,
        groove_mm=closed_mm if grooved else 0.0, compression=compression, plan=plan, force_n=force, check=check,
    )  # fmt: skip


LOVE = "Love 1927, art. 293: a circular ring bent out of its plane, on an elastic foundation"
POISSON = 0.35  # of plastics and wood; from memory
LIFT_LIMIT_MM = 0.3  # what the driver's own gasket makes up for round its frame; common trade practice
HARMONICS = 80  # or twelve for each fixing: their shares fall with the fourth power
LOOKS = 360  # directions looked at round the ring
NARROW_MM = (12.0, 8.0, 6.0)  # strips that are offered
MAX_FIXINGS = 12
SAME_DEG, AT_AXIS_MM = 2.0, 1.0  # nearer than that two screws' heads would lie on each other; common trade practice


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


def held_deg(points_mm: Sequence[Point]) -> tuple[float, ...]:
    """Directions in which fixings hold a flange: two of nearly one direction hold it once, one at the axis nowhere."""
    found: list[float] = []
    for x, y in points_mm:
        angle = round(degrees(atan2(y, x)) % 360.0, 3) % 360.0
        if hypot(x, y) > AT_AXIS_MM and all(abs((angle - a + 180.0) % 360.0 - 180.0) > SAME_DEG for a in found):
            found.append(angle)
    return tuple(found)


def ring_section_mm4(width_mm: float, thickness_mm: float) -> tuple[float, float]:
    """Second moment of area, and torsion constant of a rectangle (Roark's formula for a solid one), mm4."""
    long, short = max(width_mm, thickness_mm), min(width_mm, thickness_mm)
    slim = short / long
    torsion = long * short**3 * (1.0 / 3.0 - 0.21 * slim * (1.0 - slim**4 / 12.0))
    return width_mm * thickness_mm**3 / 12.0, torsion


def lift_of(ring: FlangeRing, e_pa: float, foam_pa: float, strip_mm: float, free_mm: float, closed_mm: float) -> Lift:
    """The lift of a ring between fixings that hold it at the closed height of its gasket. `foam_pa` is the foam's
    pressure at a compression of all its height, in proportion; the strip's height is `free_mm` before and `closed_mm` at
    the fixings."""
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
    ring: FlangeRing, back: BackGasket, foams: Sequence[FoamRow], cold_pa: float, hot_pa: float, hot_degc: float,
    source: str,
) -> FlangeLift | None:  # fmt: skip
    """How far the gasket lifts the flange between its fixings, and how many keep it down. None where nothing pushes or
    nothing holds. `foams`: grades at hand, the gasket's own among them."""
    if back.compression > MOST or back.plan is None or not ring.fixings_deg:
        return None
    foam = next(f for f in foams if f.name == back.grade)
    given = _Build(ring, foam, back.plan.width_mm, back.free_mm, back.closed_mm)
    cold, hot = given.lift(cold_pa, foam.low_pa), given.lift(hot_pa, foam.high_pa)
    limit = _limit(given)
    verdict: Verdict = "ok" if hot.most_mm <= limit + 1e-9 else "caution"
    still = 100.0 * (1.0 - (back.closed_mm + hot.most_mm) / back.free_mm)
    middle = (
        ("most", hot.most_mm, "mm"), ("least", cold.most_mm, "mm"), ("limit", limit, "mm"), ("at", hot_degc, "degC"),
        ("still", still, "%"), ("fixings", float(len(ring.fixings_deg)), ""),
    )  # fmt: skip
    title = "The gasket lifts the flange between its {fixings:0} fixings by {least} when cold, up to {most} at {at}"
    title += "" if verdict == "ok" else "; {limit} at most wanted, so that both gaskets seal"
    check = Check(
        "fit.flange", verdict, Message(title, middle), value=hot.most_mm, limit=limit, unit="mm", low=cold.most_mm,
        high=hot.most_mm, remedy=None if verdict == "ok" else _remedy(given, hot_pa, limit),
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
            CalculationLine(
                "c", "compression of the gasket left there", still, "%", f"minimum {100 * min(BACK_BAND):g} %; {PRACTICE}",
            ),
        ),
        sources=(LOVE, source, PRACTICE), key="foam.back_width",
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


def _remedy(given: _Build, hot_pa: float, limit: float) -> Message:
    """What is done by hand; changes of the gasket are tried."""
    for ring in _more(given.ring):
        most = replace(given, ring=ring).lift(hot_pa, given.foam.high_pa).most_mm
        if most <= limit:
            about = (("fixings", float(len(ring.fixings_deg)), ""), ("left", most, "mm"))
            return Message("Add fixings between those there are, {fixings:0} in all: {left} then", about)
    return Message("Make the flange thicker or of a stiffer material, and add fixings")


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
