"""Material between cuts, and between a cut and the edge, judged in plan wherever their heights overlap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from backwave.part.plan import Cone, Feature, features
from backwave.part.types import AdapterSpec

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["EDGE", "Ligament", "ligaments"]

EDGE = "the edge"
_ROUND_THE_BORE = ("bore", "relief", "recessed seat", "notch")


@dataclass(frozen=True)
class Ligament:
    """The least material between two things.

    Parameters
    ----------
    a, b : str, no unit
        The two, as features are named; `b` may be `EDGE`.
    wall_mm : float, mm
        Between their edges in plan; 0 where they run into each other.
    """

    a: str
    b: str
    wall_mm: float


def ligaments(spec: AdapterSpec, lettering: bool = False) -> tuple[Ligament, ...]:
    """Every ligament of the part, thinnest first.

    Cuts that belong together (a hole and its counterbore, the bore and its relief) have none between them; a hole
    that starts on the recessed seat has none to the recess.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.
    lettering : bool, no unit
        Marks too.

    Raises
    ------
    BuildError
        A feature that cannot be laid out.
    """
    made = features(spec, lettering)
    cuts = [f for f in made if not f.add]
    found = [*_between(cuts), *_to_the_edge([f for f in made if f.add], cuts)]
    return tuple(sorted(found, key=lambda found: (found.wall_mm, found.a, found.b)))


def owner(name: str) -> str:
    """What a feature belongs to: "hole of fixing 2" and "counterbore of fixing 2" to "fixing 2".

    Parameters
    ----------
    name : str, no unit
        The feature's name.
    """
    if name.startswith(_ROUND_THE_BORE):
        return "bore"
    return name.partition(" of ")[2] or name


def _between(cuts: Sequence[Feature]) -> Iterator[Ligament]:
    for k, a in enumerate(cuts):
        for b in cuts[k + 1 :]:
            low, high = max(a.z0_mm, b.z0_mm), min(a.z1_mm, b.z1_mm)
            if high - low < 1e-6 or owner(a.name) == owner(b.name):
                continue
            pa, pb = _widest(a, low, high), _widest(b, low, high)
            if any(f.name == "recessed seat" and p.contains(q) for f, p, q in ((a, pa, pb), (b, pb, pa))):
                continue
            yield Ligament(b.name, a.name, float(pa.distance(pb)))


def _to_the_edge(added: Sequence[Feature], cuts: Sequence[Feature]) -> Iterator[Ligament]:
    import shapely

    for cut in cuts:
        walls = []
        heights = sorted({cut.z0_mm, cut.z1_mm, *(z for f in added for z in (f.z0_mm, f.z1_mm))})
        for low, high in pairwise(heights):
            if low < cut.z0_mm - 1e-9 or high > cut.z1_mm + 1e-9:
                continue
            middle = (low + high) / 2.0
            here = [p for f in added if (p := f.at(middle)) is not None]
            body = shapely.union_all(here)
            # The hole in a spigot or collar is not an edge of the part but what the bore runs through.
            outer = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(body)])
            edge, shape = outer.boundary, _widest(cut, low, high)
            if not shape.intersects(body):
                continue
            walls.append(float(shape.distance(edge)) if outer.contains(shape) else 0.0)
        if walls:
            yield Ligament(cut.name, EDGE, min(walls))


def _widest(f: Feature, low: float, high: float) -> Polygon:
    """A cut's flat shape between two heights; a cone's where it is widest."""
    inside = 1e-7 * (high - low)
    z = (low + inside if f.r0_mm > f.r1_mm else high - inside) if isinstance(f, Cone) else (low + high) / 2.0
    shape = f.at(z)
    assert shape is not None, f.name
    return shape
