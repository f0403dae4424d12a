"""What two dimensions and the axis say about a part, without the solid kernel: material left, threads, heads.

Every gap is between shapes that are there at the same height.  A gap thinner than two print lines (or the web a
cutter wants) is a caution; holes that run into each other are a stop where a screw is lost by it.  Millimeters.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import hypot, inf

from backwave.errors import BuildError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.part.ligaments import Gap, gaps, owner
from backwave.part.process_checks import making_checks
from backwave.part.types import AdapterSpec, Fixing, Groove, Material, Printer, SheetStock, Thread, Zone

FLOOR = 1.2  # mm left under a blind hole or a groove, six layers of 0.2; common trade practice
Quantities = tuple[tuple[str, float | str, str], ...]
HEAD_FLOOR = 3.0  # mm that a fixing's head presses on, or a nut pulls against; common trade practice


def least_thickness(
    recess_mm: float,
    threads: Sequence[Thread],
    fixings: Sequence[Fixing] = (),
    grooves: Sequence[Groove] = (),
    under_mm: float = 0.0,
) -> float:
    """The least thickness that threads, counterbores, recess and grooves leave enough material in.

    `recess_mm` is the depth of the driver's seat below the front face, `under_mm` that of a groove under a thread.
    """
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
        return (_cannot(fault),)
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


def _cannot(fault: BuildError) -> Check:
    return Check(
        "part.build",
        "stop",
        Message("The {feature} cannot be laid out: {why}", (("feature", fault.feature, ""), ("why", fault.reason, ""))),
        remedy=Message("Change or leave out the {feature}", (("feature", fault.feature, ""),)),
        part=_slug(fault.feature),
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
    code: str,
    verdict: Verdict,
    value_mm: float,
    limit_mm: float,
    about: Quantities,
    title: str,
    remedy: str,
    working: Iterable[tuple[str, str, float | None, str]],
    part: str = "",
    source: str = PRACTICE,
) -> Check:
    """A check of a length; `working` is symbol, what it is, mm, where it is from."""
    return Check(
        code,
        verdict,
        Message(title, about),
        value_mm,
        limit_mm,
        "mm",
        remedy=None if verdict == "ok" else Message(remedy, about),
        working=tuple(
            CalculationLine(name, what, value, "mm", *([at] if at else [])) for name, what, value, at in working
        ),
        sources=(source,),
        part=part,
    )


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
    return _check(
        "part.spigot", "ok" if spec.keeps_spigot else "caution", wall, spec.least_wall_mm, about, title,
        "Center the adapter on its fixing holes, or make the bore smaller", working,
    )  # fmt: skip
