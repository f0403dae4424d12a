"""What two dimensions and the axis say about a part, without the solid kernel: material left, threads, heads.

Every gap is between shapes that are there at the same height.  A gap thinner than two print lines (or the web a
cutter wants) is a caution; holes that run into each other are a stop where a screw is lost by it.  Millimeters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot, inf

from backwave.errors import BuildError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.part.ligaments import Gap, gaps, owner
from backwave.part.process_checks import making_checks
from backwave.part.types import AdapterSpec, Fixing, Groove, Material, Printer, SheetStock, Thread, Zone

FLOOR = 1.2  # mm left under a blind hole or a groove, six layers of 0.2; common trade practice
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


def _ligament(spec: AdapterSpec, gap: Gap) -> Check:
    limit = _limit(spec, gap)
    about = (("a", gap.a, ""), ("b", gap.b, ""), ("gap", gap.gap_mm, "mm"), ("limit", limit, "mm"))
    verdict: Verdict = "ok" if gap.gap_mm >= limit - 1e-9 else "caution"
    remedy = None
    if verdict != "ok":
        remedy = Message(
            "Move the {a} away from {b}, or make it smaller: {short} are missing",
            (*about, ("short", limit - gap.gap_mm, "mm")),
        )
        if gap.floor:
            remedy = Message(
                "Make the part thicker by {short}, or the {a} less deep", (*about, ("short", limit - gap.gap_mm, "mm"))
            )
    if gap.gap_mm > 0.0:
        title = Message(
            "{gap} are left between the {a} and {b}" if not gap.floor else "{gap} are left under the {a}", about
        )
    elif gap.floor:
        title, verdict = Message("The {a} goes through {b}: nothing is left under it", about), "stop"
    elif gap.b == "the edge":
        title = Message("The {a} breaks out at the edge", about)
        verdict = "stop" if gap.a.startswith("hole") else "caution"
    else:
        title = Message("The {a} and the {b} run into each other", about)
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
            CalculationLine(
                "gap", f"material between {gap.a} and {gap.b}, in plan", gap.gap_mm, "mm", "the part's own shapes"
            )
            if not gap.floor
            else CalculationLine(
                "floor", f"material under {gap.a}, down to {gap.b}", gap.gap_mm, "mm", "the part's own heights"
            ),
            CalculationLine("least", "wanted", limit, "mm", PRACTICE),
        ),
        sources=(PRACTICE,),
        part=_slug(gap.a, gap.b),
    )


def _insert_wall(spec: AdapterSpec, thread: Thread, walls: list[Gap]) -> Check:
    ours = [g for g in walls if thread.name in (owner(g.a), owner(g.b))]
    nearest = min(ours, key=lambda g: g.gap_mm, default=Gap(thread.name, "the edge", inf))
    other = nearest.b if owner(nearest.a) == thread.name else nearest.a
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
        Message(f"The {kind} {{size}} at {{name}} has {{wall}} to {{other}}; {{limit}} are wanted", about),
        value=nearest.gap_mm,
        limit=thread.wall_mm,
        unit="mm",
        remedy=None if verdict == "ok" else Message(remedy, about),
        working=(
            CalculationLine(
                "wall", f"least material round the {kind}, to {other}", nearest.gap_mm, "mm", "the part's own shapes"
            ),
            CalculationLine("least", f"wanted round a {thread.size} {kind}", thread.wall_mm, "mm", PRACTICE),
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
            "{size} at {name}: {room} to spare over the nut" if good else "{size} at {name}: no material over the nut"
        )
    return Check(
        "part.engagement",
        "ok" if good else "stop",
        Message(title, about),
        value=room,
        limit=want,
        unit="mm",
        remedy=None if good else Message("Make the adapter thicker by {short}, or use a shorter thread", about),
        working=(
            CalculationLine(
                "z", "height of the seat above the back face", spec.seat_z_mm, "mm", "thickness less recess"
            ),
            CalculationLine("depth", "depth of the hole; 0 goes through", thread.depth_mm, "mm"),
            CalculationLine("floor", "left under a blind hole", FLOOR, "mm", PRACTICE),
            CalculationLine("room", "depth there is", room, "mm"),
            CalculationLine("want", "length that has to be held", want, "mm", "the thread's own row"),
        ),
        sources=(PRACTICE,),
        part=_slug(thread.name),
    )


def _head(spec: AdapterSpec, f: Fixing) -> Check:
    inner = hypot(f.x_mm, f.y_mm) - f.head_mm / 2.0
    under_frame = inner < spec.frame_radius_mm
    sunk = spec.recess_mm if inner < spec.seat_mm else 0.0  # under a sunk driver the seat is over the head
    below = f.counterbore_depth_mm - f.head_height_mm - sunk
    wide = f.counterbore_depth_mm == 0.0 or f.counterbore_mm >= f.head_mm
    about = (
        ("name", f.name, ""),
        ("below", below, "mm"),
        ("proud", -below, "mm"),
        ("head", f.head_mm, "mm"),
        ("bore", f.counterbore_mm, "mm"),
        ("face", "seat" if sunk else "face", ""),
    )
    verdict: Verdict = "ok"
    title, remedy = Message("The head at {name} ends {below} below the {face}", about), None
    if not wide:
        verdict, title = (
            "stop",
            Message("The head at {name} ({head}) does not go into its counterbore ({bore})", about),
        )
        remedy = Message("Make the counterbore wider than {head}, or use a smaller head", about)
    elif below < -1e-9:
        verdict = "stop" if under_frame else "caution"
        where = "under the driver's frame" if under_frame else "where the foam may lie"
        title = Message("The head at {name} stands {proud} above the {face}, " + where, about)
        remedy = Message("Make the counterbore deeper by {proud}, or use a flatter head", about)
    return Check(
        "part.head",
        verdict,
        title,
        value=below,
        limit=0.0,
        unit="mm",
        remedy=remedy,
        working=(
            CalculationLine("c", "depth of the counterbore", f.counterbore_depth_mm, "mm", "the part"),
            CalculationLine("k", "height of the head, washer included", f.head_height_mm, "mm", "the screw's own row"),
            CalculationLine("r", "recess of the seat over it", sunk, "mm", "the part"),
            CalculationLine("c - k - r", "head below the face over it", below, "mm"),
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
        Message(title, about),
        value=wall,
        limit=spec.least_wall_mm,
        unit="mm",
        remedy=None
        if spec.keeps_spigot
        else Message("Center the adapter on its fixing holes, or make the bore smaller", about),
        working=(
            CalculationLine("rs", "outer radius of the spigot", spec.spigot.radius_mm if spec.spigot else None, "mm"),
            CalculationLine("rb", "radius of the bore", spec.bore_mm, "mm"),
            CalculationLine("relief", "more at the back face", spec.relief_mm, "mm"),
            CalculationLine("wall", "rs - rb - relief", wall, "mm"),
        ),
        sources=(PRACTICE,),
    )
