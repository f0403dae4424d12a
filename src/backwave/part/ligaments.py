"""Material between cuts, to the edge, and under what ends blind: every gap of a part.

Two cuts are compared where they are at the same height; a cone counts there as the widest circle it shows.  Cuts
that are meant to run into each other (a hole and its counterbore, the bore and its relief) have no gap.
Millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import hypot
from typing import TYPE_CHECKING

from backwave.part.features import LIP_RELIEF, Cone, Feature, Prism, features
from backwave.part.types import AdapterSpec
from backwave.shape import circle, distance_mm

if TYPE_CHECKING:
    from shapely import Polygon

BORE = ("bore", "relief", "recessed seat")


@dataclass(frozen=True)
class Gap:
    """Material between two cuts, or between a cut and the part's edge or face."""

    a: str  # what it is between; `b` is "the edge" or "the back face" for those
    b: str
    gap_mm: float  # how much; 0 or less where there is none
    floor: bool = False  # measured upright, under a blind cut


def gaps(spec: AdapterSpec) -> tuple[Gap, ...]:
    """Every gap between cuts, to the edge, and under what ends blind.

    `spec`, mm; BuildError: A feature that cannot be laid out.
    """
    made = features(spec, lettering=False)
    cuts = [f for f in made if not f.add]
    found = [g for a, b in combinations(cuts, 2) if not _one_hole(a, b) and (g := _between(a, b)) is not None]
    found += [g for f in cuts if f.name not in BORE and (g := _to_edge(f, made)) is not None]
    low = min(f.z0_mm for f in made)
    pockets = {f.name.removeprefix("pocket"): f.z1_mm for f in cuts if f.name.startswith("pocket")}
    found += [
        Gap(f.name, "the back face", f.z0_mm - pockets.get(f.name.removeprefix("counterbore"), 0.0), floor=True)
        for f in cuts
        if isinstance(f, Prism)
        and (f.z0_mm > max(0.0, low) + 1e-9 or f.name.startswith("counterbore"))
        and f.name != "recessed seat"
    ]
    return tuple(found)


def _one_hole(a: Feature, b: Feature) -> bool:
    """Cuts that are meant to run into each other."""
    if a.name in BORE and b.name in BORE:
        return True
    if LIP_RELIEF in (a.name, b.name) and ({a.name, b.name} & set(BORE) or "notch" in a.name + b.name):
        return True
    if "notch" in a.name + b.name and {a.name, b.name} & set(BORE):
        return True
    if "recessed seat" in (a.name, b.name) and "groove" in a.name + b.name:
        return True
    return owner(a.name) == owner(b.name) != ""


def owner(name: str) -> str:
    """What a feature belongs to: "hole of fixing 2" to "fixing 2"; "" where it stands alone."""
    return name.partition(" of ")[2]


def _flat(f: Feature, z0: float, z1: float) -> Feature:
    """A cone as the widest circle it shows between two heights."""
    if isinstance(f, Prism):
        return f
    slope = (f.r1_mm - f.r0_mm) / (f.z1_mm - f.z0_mm)
    wide = max(f.r0_mm + slope * (max(z0, f.z0_mm) - f.z0_mm), f.r0_mm + slope * (min(z1, f.z1_mm) - f.z0_mm))
    return Prism(f.name, circle(wide), f.z0_mm, f.z1_mm)


@lru_cache(maxsize=256)
def _polygon(f: Prism) -> Polygon:
    found = f.at((f.z0_mm + f.z1_mm) / 2.0)
    assert found is not None
    return found


def _between(a: Feature, b: Feature) -> Gap | None:
    import shapely

    low, high = max(a.z0_mm, b.z0_mm), min(a.z1_mm, b.z1_mm)
    fa, fb = _flat(a, low, high), _flat(b, low, high)
    assert isinstance(fa, Prism)
    assert isinstance(fb, Prism)
    if high - low <= 1e-9:  # one over the other: what is left between, where they meet in plan
        if isinstance(a, Cone) or isinstance(b, Cone) or low - high < 1e-9 or {a.name, b.name} & set(BORE):
            return None
        lower, upper = sorted((fa, fb), key=lambda f: f.z0_mm)
        if not _polygon(lower).intersects(_polygon(upper)):
            return None
        return Gap(upper.name, lower.name, low - high, floor=True)
    if "recessed seat" in (a.name, b.name) and _polygon(fa).intersects(_polygon(fb)):
        return None  # a hole that starts on the seat
    ca, cb = fa.outer.circle, fb.outer.circle
    if ca is not None and cb is not None and not fa.inner and not fb.inner:
        return Gap(a.name, b.name, hypot(ca[0] - cb[0], ca[1] - cb[1]) - ca[2] - cb[2])
    for found, plain, other in ((ca, fa, fb), (cb, fb, fa)):
        if found is not None and not plain.inner:
            away = float(_polygon(other).distance(shapely.Point(found[0], found[1])))
            return Gap(a.name, b.name, away - found[2])
    pa, pb = _polygon(fa), _polygon(fb)
    return Gap(a.name, b.name, -1e-3 if pa.intersects(pb) else float(pa.distance(pb)))


def _to_edge(f: Feature, made: tuple[Feature, ...]) -> Gap | None:
    import shapely

    if isinstance(f, Cone):
        return None
    here = [a for a in made if isinstance(a, Prism) and a.add and a.z0_mm < f.z1_mm - 1e-9 and a.z1_mm > f.z0_mm + 1e-9]
    flange = here[0]
    round_edge = flange.outer.circle
    bosses = [a for a in here[1:] if a.name.startswith("boss") and owner(a.name) == owner(f.name)]
    found = f.outer.circle
    if not bosses and found is not None:
        return Gap(f.name, "the edge", flange.outer.inside_mm(found[0], found[1]) - found[2])
    if not bosses and round_edge is not None and "groove" not in f.name:
        shape = _polygon(f)
        return Gap(f.name, "the edge", round_edge[2] - max(hypot(x, y) for x, y in shape.exterior.coords))
    body = shapely.union_all([shapely.Polygon(a.outer.points()) for a in (flange, *bosses)])
    shape = _polygon(f)
    gap = distance_mm(f.outer, flange.outer) if not bosses else float(body.boundary.distance(shape))
    whole = body.geom_type == "Polygon"  # else a boss stands beside the flange, and nothing holds it
    return Gap(f.name, "the edge", gap if whole and body.contains(shape) else -1e-3)
