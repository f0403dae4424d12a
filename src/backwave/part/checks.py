"""What two dimensions and the axis say about a part, without the solid kernel: material left, threads, heads.

Every gap is between shapes that are there at the same height, where a cone counts as the widest circle it shows; cuts
that are meant to run into each other (a hole and its counterbore, the bore and its relief) have none.  A gap thinner than two print lines (or the web a
cutter wants) is a caution; holes that run into each other are a stop where a screw is lost by it.  Millimeters."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from math import hypot, inf
from typing import TYPE_CHECKING

from backwave.errors import BuildError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict
from backwave.part.features import LIP_RELIEF, Cone, Feature, Prism, features
from backwave.part.process_checks import making_checks
from backwave.part.types import AdapterSpec, Fixing, Groove, Material, Printer, SheetStock, Thread, Zone
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
    """Every gap between cuts, to the edge, and under what ends blind. `spec`, mm; BuildError: A feature that cannot be
    laid out."""
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
    names = {a.name, b.name}
    bore, notch, lip = names & set(BORE), "notch" in a.name + b.name, LIP_RELIEF in names
    return bool(
        names <= set(BORE)
        or (lip and (bore or notch))
        or (notch and bore)
        or ("recessed seat" in names and "groove" in a.name + b.name)
        or owner(a.name) == owner(b.name) != ""
    )


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


FLOOR = 1.2  # mm left under a blind hole or a groove, six layers of 0.2; common trade practice
HEAD_FLOOR = 3.0  # mm that a fixing's head presses on, or a nut pulls against; common trade practice


def least_thickness(
    recess_mm: float, threads: Sequence[Thread], fixings: Sequence[Fixing] = (), grooves: Sequence[Groove] = (),
    under_mm: float = 0.0,
) -> float:  # fmt: skip
    """The least thickness that threads, counterbores, recess and grooves leave enough material in. `recess_mm` is the
    depth of the driver's seat below the front face, `under_mm` that of a groove under a thread."""
    need = [FLOOR + recess_mm]
    for x in threads:
        if x.kind == "nut":
            need.append(recess_mm + x.nut_height_mm + HEAD_FLOOR)
        elif x.depth_mm > 0.0:
            need.append(recess_mm + max(x.depth_mm, x.engagement_mm) + under_mm + FLOOR)
        else:
            need.append(recess_mm + x.engagement_mm)
    need += [f.counterbore_depth_mm + HEAD_FLOOR + f.pocket_depth_mm for f in fixings if f.counterbore_depth_mm > 0.0]
    need += [f.pocket_depth_mm + FLOOR for f in fixings if f.pocket_depth_mm > 0.0]
    back = max((g.depth_mm for g in grooves if g.face == "back"), default=0.0)
    front = [g.depth_mm + recess_mm * (g.along == "bore") for g in grooves if g.face == "front"]
    need.append(back + max(front, default=recess_mm) + FLOOR)
    return max(need)


def plan_checks(spec: AdapterSpec, material: Material, how: Printer | SheetStock, zone: Zone) -> tuple[Check, ...]:
    """All that can be said of a part before it is built. `spec`, mm; `zone`, degC."""
    return (*shape_checks(spec), *making_checks(spec, material, how, zone))


def shape_checks(spec: AdapterSpec) -> tuple[Check, ...]:
    """Ligaments, insert walls, engagement, heads, spigot. `spec`, mm."""
    try:
        found = gaps(spec)
    except BuildError as fault:
        about = (("feature", fault.feature, ""), ("why", fault.reason, ""))
        title = Message("The {feature} cannot be laid out: {why}", about)
        remedy = Message("Change or leave out the {feature}", about[:1])
        return (Check("part.build", "stop", title, remedy=remedy, part=_slug(fault.feature)),)
    wall = spec.spigot_wall_mm
    heads = [f for f in spec.fixings if f.head_height_mm > 0.0]
    names = {x.name for x in spec.threads}
    walls = [g for g in found if _is_thread(names, g)]
    return (
        *_worst([_ligament(spec, g) for g in found if not _is_thread(names, g)]),
        *_worst([_insert_wall(spec, x, walls) for x in spec.threads]),
        *_worst([_engagement(spec, x) for x in spec.threads]),
        *_worst([_head(spec, f) for f in heads]),
        *([] if wall is None else [_spigot(spec, wall)]),
    )


def _slug(*words: str) -> str:
    return "-".join(w for word in words for w in word.replace(".", "-").split())


def _worst(checks: list[Check]) -> list[Check]:
    """All that are not ok, worst first; where all are, the one with least to spare."""
    ranked = sorted(checks, key=lambda c: (c.value or 0.0) - (c.limit or 0.0))
    bad = [c for c in ranked if c.verdict != "ok"]
    return bad or [replace(c, part="") for c in ranked[:1]]


def _is_thread(names: set[str], gap: Gap) -> bool:
    """Judged by the thread's own wall; a gasket groove beside it is a ligament like any other."""
    return not gap.floor and "groove" not in gap.a + gap.b and bool(names & {owner(gap.a), owner(gap.b)})


def _limit(spec: AdapterSpec, gap: Gap) -> float:
    if not gap.floor:
        return spec.least_wall_mm
    return HEAD_FLOOR if "counterbore" in gap.a and gap.b == "the back face" else FLOOR


def _check(
    code: str, verdict: Verdict, value_mm: float, limit_mm: float, about: Quantities, title: str, remedy: str,
    working: Iterable[tuple[str, str, float | None, str]], part: str = "", source: str = PRACTICE,
) -> Check:  # fmt: skip
    """A check of a length; `working` is symbol, what it is, mm, where it is from."""
    return Check(
        code, verdict, Message(title, about), value_mm, limit_mm, "mm",
        remedy=None if verdict == "ok" else Message(remedy, about),
        working=tuple(CalculationLine(name, what, mm, "mm", *([at] if at else [])) for name, what, mm, at in working),
        sources=(source,), part=part,
    )  # fmt: skip


def _ligament(spec: AdapterSpec, gap: Gap) -> Check:
    limit = _limit(spec, gap)
    about = (
        ("a", gap.a, ""), ("b", gap.b, ""), ("gap", gap.gap_mm, "mm"), ("limit", limit, "mm"),
        ("short", limit - gap.gap_mm, "mm"),
    )  # fmt: skip
    verdict: Verdict = "ok" if gap.gap_mm >= limit - 1e-9 else "caution"
    title = "{gap} are left under the {a}" if gap.floor else "{gap} are left between the {a} and {b}"
    if gap.gap_mm <= 0.0 and gap.floor:
        verdict, title = "stop", "The {a} goes through {b}: nothing is left under it"
    elif gap.gap_mm <= 0.0 and gap.b == "the edge":
        verdict = "stop" if gap.a.startswith("hole") else "caution"
        title = "The {a} breaks out at the edge"
    elif gap.gap_mm <= 0.0:
        verdict = "caution" if "groove" in gap.a + gap.b or "counterbore" in gap.a + gap.b else "stop"
        title = "The {a} and the {b} run into each other"
    remedy = "Move the {a} away from {b}, or make it smaller: {short} are missing"
    line = ("gap", f"material between {gap.a} and {gap.b}, in plan", gap.gap_mm, "the part's own shapes")
    if gap.floor:
        remedy = "Make the part thicker by {short}, or the {a} less deep"
        line = ("floor", f"material under {gap.a}, down to {gap.b}", gap.gap_mm, "the part's own heights")
    working = (line, ("least", "wanted", limit, PRACTICE))
    return _check("part.ligament", verdict, gap.gap_mm, limit, about, title, remedy, working, _slug(gap.a, gap.b))


def _insert_wall(spec: AdapterSpec, thread: Thread, walls: list[Gap]) -> Check:
    ours = [g for g in walls if thread.name in (owner(g.a), owner(g.b))]
    nearest = min(ours, key=lambda g: g.gap_mm, default=Gap(thread.name, "the edge", inf))
    wall, limit = nearest.gap_mm, thread.wall_mm
    other = nearest.b if owner(nearest.a) == thread.name else nearest.a
    about = (
        ("name", thread.name, ""), ("size", thread.size, ""), ("wall", max(0.0, wall), "mm"), ("other", other, ""),
        ("limit", limit, "mm"), ("short", limit - wall, "mm"),
    )  # fmt: skip
    verdict: Verdict = "ok"
    if wall < limit - 1e-9:
        verdict = "stop" if wall < spec.least_wall_mm - 1e-9 else "caution"
    kind = {"insert": "insert", "nut": "nut", "screw": "pilot hole"}[thread.kind]
    working = (
        ("wall", f"least material round the {kind}, to {other}", wall, "the part's own shapes"),
        ("least", f"wanted round a {thread.size} {kind}", limit, PRACTICE),
    )
    return _check(
        "part.insert-wall", verdict, wall, limit, about,
        f"The {kind} {{size}} at {{name}} has {{wall}} to {{other}}; {{limit}} are wanted",
        "Turn the driver, widen the flange, add a boss or use a smaller thread: {short} are missing",
        working, _slug(thread.name),
    )  # fmt: skip


def _engagement(spec: AdapterSpec, thread: Thread) -> Check:
    nut = thread.kind == "nut"
    room = spec.seat_z_mm - (thread.nut_height_mm + HEAD_FLOOR if nut else 0.0)
    if not nut and thread.depth_mm > 0.0:
        room = min(thread.depth_mm, spec.seat_z_mm - FLOOR)
    want = 0.0 if nut else thread.engagement_mm
    about = (
        ("name", thread.name, ""), ("size", thread.size, ""), ("room", room, "mm"), ("want", want, "mm"),
        ("short", want - room, "mm"),
    )  # fmt: skip
    good = room >= want - 1e-9
    title = "{room} deep, {want} are needed"
    if nut:
        title = "{room} to spare over the nut" if good else "no material over the nut"
    working = (
        ("z", "height of the seat above the back face", spec.seat_z_mm, "thickness less recess"),
        ("depth", "depth of the hole; 0 goes through", thread.depth_mm, ""),
        ("floor", "left under a blind hole", FLOOR, PRACTICE),
        ("room", "depth there is", room, ""),
        ("want", "length that has to be held", want, "the thread's own row"),
    )
    return _check(
        "part.engagement", "ok" if good else "stop", room, want, about, "{size} at {name}: " + title,
        "Make the adapter thicker by {short}, or use a shorter thread", working, _slug(thread.name),
    )  # fmt: skip


def _head(spec: AdapterSpec, f: Fixing) -> Check:
    inner = hypot(f.x_mm, f.y_mm) - f.head_mm / 2.0
    under_frame = inner < spec.frame_radius_mm
    sunk = spec.recess_mm if inner < spec.seat_mm else 0.0  # under a sunk driver the seat is over the head
    below = f.counterbore_depth_mm - f.head_height_mm - sunk
    about = (
        ("name", f.name, ""), ("below", below, "mm"), ("proud", -below, "mm"), ("head", f.head_mm, "mm"),
        ("bore", f.counterbore_mm, "mm"), ("face", "seat" if sunk else "face", ""),
    )  # fmt: skip
    verdict: Verdict = "ok"
    title, remedy = "The head at {name} ends {below} below the {face}", ""
    if f.counterbore_depth_mm > 0.0 and f.counterbore_mm < f.head_mm:
        verdict, title = "stop", "The head at {name} ({head}) does not go into its counterbore ({bore})"
        remedy = "Make the counterbore wider than {head}, or use a smaller head"
    elif below < -1e-9:
        verdict = "stop" if under_frame else "caution"
        where = "under the driver's frame" if under_frame else "where the foam may lie"
        title = "The head at {name} stands {proud} above the {face}, " + where
        remedy = "Make the counterbore deeper by {proud}, or use a flatter head"
    working = (
        ("c", "depth of the counterbore", f.counterbore_depth_mm, "the part"),
        ("k", "height of the head, washer included", f.head_height_mm, "the screw's own row"),
        ("r", "recess of the seat over it", sunk, "the part"),
        ("c - k - r", "head below the face over it", below, ""),
    )
    return _check("part.head", verdict, below, 0.0, about, title, remedy, working, _slug(f.name), "the screw's own row")


def _spigot(spec: AdapterSpec, wall: float) -> Check:
    about = (("wall", wall, "mm"), ("limit", spec.least_wall_mm, "mm"))
    title = "The spigot keeps a wall of {wall}"
    if not spec.keeps_spigot:
        title = "The spigot is left out: its wall would be {wall}, thinner than two lines ({limit})"
        if wall <= 0.0:
            title = "The spigot is left out: the bore and its relief are as wide as the spigot"
    working = (
        ("rs", "outer radius of the spigot", spec.spigot.radius_mm if spec.spigot else None, ""),
        ("rb", "radius of the bore", spec.bore_mm, ""),
        ("relief", "more at the back face", spec.relief_mm, ""),
        ("wall", "rs - rb - relief", wall, ""),
    )
    bore = 2.0 * (spec.bore_mm + wall - spec.least_wall_mm)
    tries = (*((("relief", "0 mm"),) if spec.relief_mm else ()), ("bore", f"{max(int(2.0 * bore) / 2.0, 1.0):g} mm"))
    found = _check(
        "part.spigot", "ok" if spec.keeps_spigot else "caution", wall, spec.least_wall_mm, about, title,
        "Center the adapter on its fixing holes", working,
    )  # fmt: skip
    return found if spec.keeps_spigot else replace(found, tries=tries)
