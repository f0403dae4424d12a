"""What two dimensions and the axis say about a part, without the solid kernel: material left, threads, heads.

Every gap is between shapes that are there at the same height.  A gap thinner than two print lines (or the web a
cutter wants) is a caution; holes that run into each other are a stop where a screw is lost by it.  Millimeters.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import hypot, inf
from typing import TYPE_CHECKING

from backwave.errors import BuildError
from backwave.finding import Check, Step, Text, Verdict
from backwave.part.plan import Cone, Feature, Prism, features
from backwave.part.types import AdapterSpec, Thread
from backwave.shape import circle, distance_mm

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["FLOOR", "HEAD_FLOOR", "Gap", "gaps", "least_thickness_mm", "shape_checks"]

FLOOR = 0.8  # mm left under a blind hole or a groove: four layers of 0.2
HEAD_FLOOR = 2.0  # mm left under a screw head
PRACTICE = "common trade practice"
BORE = ("bore", "relief", "recessed seat")


@dataclass(frozen=True)
class Gap:
    """Material between two cuts, or between a cut and the part's edge or face.

    Parameters
    ----------
    a, b : str, no unit
        What it is between; `b` is "the edge" or "the back face" for those.
    gap_mm : float, mm
        How much; 0 or less where there is none.
    floor : bool, no unit
        Measured upright, under a blind cut.
    """

    a: str
    b: str
    gap_mm: float
    floor: bool = False


def shape_checks(spec: AdapterSpec) -> tuple[Check, ...]:
    """Ligaments, insert walls, engagement, heads, spigot.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.
    """
    try:
        found = gaps(spec)
    except BuildError as fault:
        return (_cannot(fault),)
    checks = [*_ligaments(spec, found)]
    for thread in spec.threads:
        checks += [_insert_wall(spec, thread, found), _engagement(spec, thread)]
    checks += [_head(spec, k) for k in range(len(spec.fixings)) if spec.fixings[k].head_height_mm > 0.0]
    wall = spec.spigot_wall_mm
    if wall is not None:
        checks.append(_spigot(spec, wall))
    return tuple(checks)


def gaps(spec: AdapterSpec) -> tuple[Gap, ...]:
    """Every gap between cuts, to the edge, and under what ends blind.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.

    Raises
    ------
    BuildError
        A feature that cannot be laid out.
    """
    made = features(spec, lettering=False)
    cuts = [f for f in made if not f.add]
    found = [g for a, b in combinations(cuts, 2) if not _one_hole(a, b) and (g := _between(a, b)) is not None]
    found += [g for f in cuts if f.name not in BORE and (g := _to_edge(f, made)) is not None]
    low = min(f.z0_mm for f in made)
    found += [
        Gap(f.name, "the back face", f.z0_mm, floor=True)
        for f in cuts
        if isinstance(f, Prism) and f.z0_mm > max(0.0, low) + 1e-9 and f.name != "recessed seat"
    ]
    return tuple(found)


def least_thickness_mm(spec: AdapterSpec) -> float:
    """The least thickness that threads, counterbores, recess and grooves leave enough material in.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter; its own thickness is not looked at.
    """
    need = [FLOOR + spec.recess_mm]
    for x in spec.threads:
        if x.kind == "nut":
            need.append(spec.recess_mm + x.nut_height_mm + HEAD_FLOOR)
        elif x.depth_mm > 0.0:
            need.append(spec.recess_mm + max(x.depth_mm, x.engagement_mm) + FLOOR)
        else:
            need.append(spec.recess_mm + x.engagement_mm)
    need += [f.counterbore_depth_mm + HEAD_FLOOR for f in spec.fixings if f.counterbore_depth_mm > 0.0]
    deep = {
        face: max((g.depth_mm for g in spec.grooves if g.face == face), default=0.0) for face in ("back", "front")
    }
    if spec.grooves:
        need.append(sum(deep.values()) + FLOOR)
    return max(need)


# -- gaps ---------------------------------------------------------------------------------------------------------


def _one_hole(a: Feature, b: Feature) -> bool:
    """Cuts that are meant to run into each other."""
    if a.name in BORE and b.name in BORE:
        return True
    if "notch" in a.name + b.name and {a.name, b.name} & set(BORE):
        return True
    if "recessed seat" in (a.name, b.name) and "groove" in a.name + b.name:
        return True
    return _owner(a.name) == _owner(b.name) != ""


def _owner(name: str) -> str:
    return name.partition(" of ")[2]


def _flat(f: Feature, z0: float, z1: float) -> Feature:
    """A cone as the widest circle it shows between two heights."""
    if isinstance(f, Prism):
        return f
    slope = (f.r1_mm - f.r0_mm) / (f.z1_mm - f.z0_mm)
    wide = max(f.r0_mm + slope * (max(z0, f.z0_mm) - f.z0_mm), f.r0_mm + slope * (min(z1, f.z1_mm) - f.z0_mm))
    return Prism(f.name, circle(wide), f.z0_mm, f.z1_mm)


def _polygon(f: Prism) -> Polygon:
    found = f.at((f.z0_mm + f.z1_mm) / 2.0)
    assert found is not None
    return found


def _between(a: Feature, b: Feature) -> Gap | None:
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
    ca, cb = fa.outer.circle, fb.outer.circle
    if ca is not None and cb is not None and not fa.inner and not fb.inner:
        return Gap(a.name, b.name, hypot(ca[0] - cb[0], ca[1] - cb[1]) - ca[2] - cb[2])
    pa, pb = _polygon(fa), _polygon(fb)
    return Gap(a.name, b.name, -1e-3 if pa.intersects(pb) else float(pa.distance(pb)))


def _to_edge(f: Feature, made: tuple[Feature, ...]) -> Gap | None:
    import shapely

    if isinstance(f, Cone):
        return None
    here = [
        a for a in made if isinstance(a, Prism) and a.add and a.z0_mm < f.z1_mm - 1e-9 and a.z1_mm > f.z0_mm + 1e-9
    ]
    flange = here[0]
    round_edge = flange.outer.circle
    bosses = [a for a in here[1:] if a.name.startswith("boss") and _owner(a.name) == _owner(f.name)]
    found = f.outer.circle
    if not bosses and found is not None:
        return Gap(f.name, "the edge", flange.outer.inside_mm(found[0], found[1]) - found[2])
    if not bosses and round_edge is not None and "groove" not in f.name:
        shape = _polygon(f)
        return Gap(f.name, "the edge", round_edge[2] - max(hypot(x, y) for x, y in shape.exterior.coords))
    body = shapely.union_all([shapely.Polygon(a.outer.points()) for a in (flange, *bosses)])
    shape = _polygon(f)
    gap = distance_mm(f.outer, flange.outer) if not bosses else float(body.exterior.distance(shape))
    return Gap(f.name, "the edge", gap if body.contains(shape) else -1e-3)


# -- findings -----------------------------------------------------------------------------------------------------


def _cannot(fault: BuildError) -> Check:
    return Check(
        "part.build",
        "stop",
        Text(
            "The {feature} cannot be laid out: {why}", (("feature", fault.feature, ""), ("why", fault.reason, ""))
        ),
        remedy=Text("Change or leave out the {feature}", (("feature", fault.feature, ""),)),
        part=_slug(fault.feature),
    )


def _slug(*words: str) -> str:
    return "-".join(w for word in words for w in word.replace(".", "-").split())


def _ligaments(spec: AdapterSpec, found: tuple[Gap, ...]) -> list[Check]:
    """The thinnest, and every other that is not ok; threads are judged by their own wall."""
    rest = [g for g in found if not _is_thread(g)]
    if not rest:
        return []
    thin = sorted((g for g in rest if g.gap_mm < _limit(spec, g) - 1e-9), key=lambda g: g.gap_mm - _limit(spec, g))
    if thin:
        return [_ligament(spec, g, _slug(g.a, g.b)) for g in thin]
    return [_ligament(spec, min(rest, key=lambda g: g.gap_mm - _limit(spec, g)), "")]


def _is_thread(gap: Gap) -> bool:
    return not gap.floor and any(w.startswith("hole of driver") or "nut pocket" in w for w in (gap.a, gap.b))


def _limit(spec: AdapterSpec, gap: Gap) -> float:
    if not gap.floor:
        return spec.least_wall_mm
    return HEAD_FLOOR if "counterbore" in gap.a and gap.b == "the back face" else FLOOR


def _ligament(spec: AdapterSpec, gap: Gap, part: str) -> Check:
    limit = _limit(spec, gap)
    about = (("a", gap.a, ""), ("b", gap.b, ""), ("gap", gap.gap_mm, "mm"), ("limit", limit, "mm"))
    verdict: Verdict = "ok" if gap.gap_mm >= limit - 1e-9 else "caution"
    remedy = None
    if verdict != "ok":
        remedy = Text(
            "Move the {a} away from {b}, or make it smaller: {short} are missing",
            (*about, ("short", limit - gap.gap_mm, "mm")),
        )
        if gap.floor:
            remedy = Text(
                "Make the part thicker by {short}, or the {a} less deep",
                (*about, ("short", limit - gap.gap_mm, "mm")),
            )
    if gap.gap_mm > 0.0:
        title = Text(
            "{gap} are left between the {a} and {b}" if not gap.floor else "{gap} are left under the {a}", about
        )
    elif gap.b == "the edge":
        title = Text("The {a} breaks out at the edge", about)
        verdict = "stop" if gap.a.startswith("hole") else "caution"
    else:
        title = Text("The {a} and the {b} run into each other", about)
        verdict = "caution" if "groove" in gap.a + gap.b or "counterbore" in gap.a + gap.b else "stop"
    return Check(
        "part.ligament",
        verdict,
        title,
        value=gap.gap_mm,
        limit=limit,
        unit="mm",
        remedy=remedy,
        working=(
            Step(
                "gap", f"material between {gap.a} and {gap.b}, in plan", gap.gap_mm, "mm", "the part's own shapes"
            )
            if not gap.floor
            else Step(
                "floor", f"material under {gap.a}, down to {gap.b}", gap.gap_mm, "mm", "the part's own heights"
            ),
            Step("least", "wanted", limit, "mm", PRACTICE),
        ),
        sources=(PRACTICE,),
        part=part,
    )


def _insert_wall(spec: AdapterSpec, thread: Thread, found: tuple[Gap, ...]) -> Check:
    ours = [g for g in found if not g.floor and thread.name in (_owner(g.a), _owner(g.b))]
    nearest = min(ours, key=lambda g: g.gap_mm, default=Gap(thread.name, "the edge", inf))
    other = nearest.b if _owner(nearest.a) == thread.name else nearest.a
    about = (
        ("name", thread.name, ""),
        ("size", thread.size, ""),
        ("wall", max(0.0, nearest.gap_mm), "mm"),
        ("other", other, ""),
        ("limit", thread.wall_mm, "mm"),
        ("short", thread.wall_mm - nearest.gap_mm, "mm"),
    )
    verdict: Verdict = "ok"
    if nearest.gap_mm < thread.wall_mm - 1e-9:
        verdict = "stop" if nearest.gap_mm < spec.least_wall_mm - 1e-9 else "caution"
    kind = {"insert": "insert", "nut": "nut", "screw": "pilot hole"}[thread.kind]
    remedy = "Turn the driver, widen the flange, add a boss or use a smaller thread: {short} are missing"
    return Check(
        "part.insert-wall",
        verdict,
        Text(f"The {kind} {{size}} at {{name}} has {{wall}} to {{other}}; {{limit}} are wanted", about),
        value=nearest.gap_mm,
        limit=thread.wall_mm,
        unit="mm",
        remedy=None if verdict == "ok" else Text(remedy, about),
        working=(
            Step(
                "wall",
                f"least material round the {kind}, to {other}",
                nearest.gap_mm,
                "mm",
                "the part's own shapes",
            ),
            Step("least", f"wanted round a {thread.size} {kind}", thread.wall_mm, "mm", PRACTICE),
        ),
        sources=(PRACTICE,),
        part=_slug(thread.name),
    )


def _engagement(spec: AdapterSpec, thread: Thread) -> Check:
    room = spec.seat_z_mm - (thread.nut_height_mm + HEAD_FLOOR if thread.kind == "nut" else 0.0)
    if thread.kind != "nut" and thread.depth_mm > 0.0:
        room = min(thread.depth_mm, spec.seat_z_mm - FLOOR)
    want = 0.0 if thread.kind == "nut" else thread.engagement_mm
    about = (
        ("name", thread.name, ""),
        ("size", thread.size, ""),
        ("room", room, "mm"),
        ("want", want, "mm"),
        ("short", want - room, "mm"),
    )
    good = room >= want - 1e-9
    title = "{size} at {name}: {room} deep, {want} are needed"
    if thread.kind == "nut":
        title = (
            "{size} at {name}: {room} to spare over the nut"
            if good
            else "{size} at {name}: no material over the nut"
        )
    return Check(
        "part.engagement",
        "ok" if good else "stop",
        Text(title, about),
        value=room,
        limit=want,
        unit="mm",
        remedy=None if good else Text("Make the adapter thicker by {short}, or use a shorter thread", about),
        working=(
            Step("z", "height of the seat above the back face", spec.seat_z_mm, "mm", "thickness less recess"),
            Step("depth", "depth of the hole; 0 goes through", thread.depth_mm, "mm"),
            Step("floor", "left under a blind hole", FLOOR, "mm", PRACTICE),
            Step("room", "depth there is", room, "mm"),
            Step("want", "length that has to be held", want, "mm", "the thread's own row"),
        ),
        sources=(PRACTICE,),
        part=_slug(thread.name),
    )


def _head(spec: AdapterSpec, k: int) -> Check:
    f = spec.fixings[k]
    below = f.counterbore_depth_mm - f.head_height_mm
    under_frame = hypot(f.x_mm, f.y_mm) - f.head_mm / 2.0 < spec.frame_radius_mm
    wide = f.counterbore_depth_mm == 0.0 or f.counterbore_mm >= f.head_mm
    about = (
        ("name", f.name, ""),
        ("below", below, "mm"),
        ("proud", -below, "mm"),
        ("head", f.head_mm, "mm"),
        ("bore", f.counterbore_mm, "mm"),
    )
    verdict: Verdict = "ok"
    title, remedy = Text("The head at {name} ends {below} below the face", about), None
    if not wide:
        verdict, title = (
            "stop",
            Text("The head at {name} ({head}) does not go into its counterbore ({bore})", about),
        )
        remedy = Text("Make the counterbore wider than {head}, or use a smaller head", about)
    elif below < -1e-9:
        verdict = "stop" if under_frame else "caution"
        where = "under the driver's frame" if under_frame else "where the foam may lie"
        title = Text("The head at {name} stands {proud} above the face, " + where, about)
        remedy = Text("Make the counterbore deeper by {proud}, or use a flatter head", about)
    return Check(
        "part.head",
        verdict,
        title,
        value=below,
        limit=0.0,
        unit="mm",
        remedy=remedy,
        working=(
            Step("c", "depth of the counterbore", f.counterbore_depth_mm, "mm", "the part"),
            Step("k", "height of the head, washer included", f.head_height_mm, "mm", "the screw's own row"),
            Step("c - k", "head below the face", below, "mm"),
        ),
        sources=("the screw's own row",),
        part=_slug(f.name),
    )


def _spigot(spec: AdapterSpec, wall: float) -> Check:
    about = (("wall", wall, "mm"), ("limit", spec.least_wall_mm, "mm"))
    title = "The spigot keeps a wall of {wall}"
    if not spec.keeps_spigot:
        title = "The spigot is left out: its wall would be {wall}, thinner than two lines ({limit})"
        if wall <= 0.0:
            title = "The spigot is left out: the bore and its relief are as wide as the spigot"
    return Check(
        "part.spigot",
        "ok" if spec.keeps_spigot else "caution",
        Text(title, about),
        value=wall,
        limit=spec.least_wall_mm,
        unit="mm",
        remedy=None
        if spec.keeps_spigot
        else Text("Center the adapter on its fixing holes, or make the bore smaller", about),
        working=(
            Step("rs", "outer radius of the spigot", spec.spigot.radius_mm if spec.spigot else None, "mm"),
            Step("rb", "radius of the bore", spec.bore_radius_mm, "mm"),
            Step("relief", "more at the back face", spec.relief_mm, "mm"),
            Step("wall", "rs - rb - relief", wall, "mm"),
        ),
        sources=(PRACTICE,),
    )
