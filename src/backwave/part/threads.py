"""Threads for the driver and heads of the fixings: the material they need, and the least thickness that has it."""

from __future__ import annotations

from math import hypot

from backwave.finding import Check, Step, Text, Verdict
from backwave.part.types import AdapterSpec, Fixing, Thread
from backwave.part.walls import Ligament

__all__ = ["FLOOR", "HEAD_FLOOR", "NUT_FLOOR", "head_checks", "least_thickness", "thread_checks"]

PRACTICE = "common trade practice"
FLOOR = 1.2  # mm: left under a blind hole or a groove, six layers of 0.2; common trade practice
NUT_FLOOR = 3.0  # mm: a nut pulls against this; common trade practice
HEAD_FLOOR = 3.0  # mm: a fixing's head presses on this; common trade practice


def least_thickness(spec: AdapterSpec) -> float:
    """The thickness that threads, counterbores, grooves and the recess need; the spec's own is not looked at.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter with any thickness.

    Returns
    -------
    float, mm
    """
    needs = [FLOOR + spec.recess_mm]
    for t in spec.threads:
        if t.kind == "nut":
            needs.append(spec.recess_mm + t.nut_height_mm + NUT_FLOOR)
        elif t.depth_mm > 0.0:
            needs.append(spec.recess_mm + max(t.depth_mm, t.engagement_mm) + FLOOR)
        else:
            needs.append(spec.recess_mm + t.engagement_mm)
    needs += [f.counterbore_depth_mm + HEAD_FLOOR for f in spec.fixings]
    back = max((g.depth_mm for g in spec.grooves if g.face == "back"), default=0.0)
    front = [g.depth_mm + spec.recess_mm * (g.along == "bore") for g in spec.grooves if g.face == "front"]
    needs.append(back + max(front, default=spec.recess_mm) + FLOOR)
    return max(needs)


def thread_checks(spec: AdapterSpec, walls: tuple[Ligament, ...]) -> list[Check]:
    """Wall round every thread and material under it: the worst of each, or all that fall short.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.
    walls : tuple of Ligament, mm
        From `walls.ligaments`.
    """
    if not spec.threads:
        return []
    sides = [(t, _thinnest(t, walls)) for t in spec.threads]
    round_it = [_wall(t, w, spec) for t, w in sides if w is not None]
    under = [check for t in spec.threads for check in _under(t, spec)]
    return [*_worst(round_it), *_worst(under)]


def head_checks(spec: AdapterSpec) -> list[Check]:
    """Heads of the fixings against the land above them, and what they press on.

    Parameters
    ----------
    spec : AdapterSpec, mm
        The adapter.
    """
    return _worst([check for f in spec.fixings if f.head_height_mm > 0.0 for check in _head(f, spec)])


def _worst(checks: list[Check]) -> list[Check]:
    """All that are not ok; else, of the ok, the one with least to spare."""
    bad = [c for c in checks if c.verdict != "ok"]
    if bad or not checks:
        return bad
    spare = min(checks, key=lambda c: (c.value or 0.0) - (c.limit or 0.0))
    return [Check(**{**vars(spare), "part": ""})]


def _thinnest(thread: Thread, walls: tuple[Ligament, ...]) -> Ligament | None:
    mine = f" of {thread.name}"
    return next((w for w in walls if w.a.endswith(mine) or w.b.endswith(mine)), None)  # thinnest come first


def _wall(thread: Thread, wall: Ligament, spec: AdapterSpec) -> Check:
    other = wall.b if wall.a.endswith(f" of {thread.name}") else wall.a
    quantities = (
        ("wall", wall.wall_mm, "mm"),
        ("limit", thread.wall_mm, "mm"),
        ("thread", thread.name, ""),
        ("size", thread.size, ""),
        ("other", other, ""),
        ("boss", thread.hole_mm + 2.0 * thread.wall_mm, "mm"),
    )
    verdict: Verdict = "ok"
    if wall.wall_mm < thread.wall_mm - 1e-9:
        verdict = "stop" if wall.wall_mm < spec.least_wall_mm - 1e-9 else "caution"
    remedy = Text("turn the driver, move what is beside it, or add a boss of {boss}", quantities)
    words = "{other} breaks into {thread}" if wall.wall_mm <= 0.0 else "{wall} between {thread} and {other}"
    return Check(
        "part.insert-wall",
        verdict,
        Text(words, quantities),
        wall.wall_mm,
        thread.wall_mm,
        "mm",
        remedy=None if verdict == "ok" else remedy,
        working=(
            Step("w", f"{thread.name} to {other}, edge to edge in plan", wall.wall_mm, "mm"),
            Step("w_want", f"wanted round {thread.size}", thread.wall_mm, "mm", PRACTICE),
            Step("w_least", "least wall of the part", spec.least_wall_mm, "mm", PRACTICE),
        ),
        sources=(PRACTICE,),
        part=_slug(thread.name),
    )


def _under(thread: Thread, spec: AdapterSpec) -> list[Check]:
    seat = spec.seat_z_mm
    nut = thread.kind == "nut"
    depth = seat - thread.nut_height_mm if nut else min(thread.depth_mm or seat, seat)
    want = NUT_FLOOR if nut else thread.engagement_mm
    short = want - depth
    quantities = (
        ("thread", thread.name, ""),
        ("size", thread.size, ""),
        ("depth", depth, "mm"),
        ("want", want, "mm"),
        ("short", short, "mm"),
    )
    words = {
        "nut": "{depth} of material over the {size} nut of {thread}",
        "insert": "{depth} for the {size} insert of {thread}, which is {want} long",
        "screw": "{depth} of thread for the {size} screw of {thread}",
    }[thread.kind]
    verdict: Verdict = "ok"
    if short > 1e-9:
        verdict = "caution" if thread.kind == "screw" and depth >= want / 2.0 else "stop"
    found = [
        Check(
            "part.engagement",
            verdict,
            Text(words, quantities),
            depth,
            want,
            "mm",
            remedy=Text("make the part, or the hole, {short} deeper", quantities) if short > 1e-9 else None,
            working=(
                Step("h", "seat above the back face", seat, "mm"),
                Step("d", "material above the nut" if nut else "depth of the hole", depth, "mm"),
                Step("d_want", "wanted", want, "mm", PRACTICE),
            ),
            sources=(PRACTICE,),
            part=_slug(thread.name),
        )
    ]
    floor = seat - thread.depth_mm
    if not nut and thread.depth_mm > 0.0 and floor < FLOOR - 1e-9:
        left = (("floor", max(floor, 0.0), "mm"), ("limit", FLOOR, "mm"), ("thread", thread.name, ""))
        found.append(
            Check(
                "part.engagement",
                "caution",
                Text("only {floor} is left under {thread}: the seat will leak there", left),
                max(floor, 0.0),
                FLOOR,
                "mm",
                remedy=Text("make the part thicker, or the hole less deep, so that {limit} is left", left),
                working=(Step("f", "seat - depth of the hole", floor, "mm"),),
                sources=(PRACTICE,),
                part=f"{_slug(thread.name)}-floor",
            )
        )
    return found


def _head(fixing: Fixing, spec: AdapterSpec) -> list[Check]:
    away = hypot(fixing.x_mm, fixing.y_mm)
    reach = fixing.head_mm / 2.0
    seated = spec.recess_mm > 0.0 and away - reach < spec.seat_radius_mm
    covered = seated or away - reach < spec.frame_radius_mm
    land = spec.seat_z_mm if seated else spec.thickness_mm
    bottom = spec.thickness_mm - fixing.counterbore_depth_mm
    below = land - bottom - fixing.head_height_mm
    quantities = (
        ("name", fixing.name, ""),
        ("below", below, "mm"),
        ("proud", -below, "mm"),
        ("floor", bottom, "mm"),
        ("limit", HEAD_FLOOR, "mm"),
        ("head", fixing.head_mm, "mm"),
        ("bore", fixing.counterbore_mm, "mm"),
    )
    working = (
        Step("t", "front face above the back face", spec.thickness_mm, "mm"),
        Step("c", "depth of the counterbore", fixing.counterbore_depth_mm, "mm"),
        Step("k", "height of the head, washer included", fixing.head_height_mm, "mm"),
        Step("z", "the land above it", land, "mm"),
        Step("z - (t - c) - k", "head below the land", below, "mm"),
    )
    verdict: Verdict = "ok" if below >= -1e-9 else "stop" if covered else "caution"
    words = (
        "the head of {name} ends {below} below the land"
        if below >= -1e-9
        else "the head of {name} stands {proud} proud"
    )
    if below < -1e-9 and covered:
        words += " under the driver's rim"
    remedy = Text("counterbore it {proud} deeper, or use a flatter head", quantities)
    slug = _slug(fixing.name)
    found = [
        Check(
            "part.head",
            verdict,
            Text(words, quantities),
            below,
            0.0,
            "mm",
            remedy=None if verdict == "ok" else remedy,
            working=working,
            part=slug,
        )
    ]
    if bottom < HEAD_FLOOR - 1e-9:
        found.append(
            Check(
                "part.head",
                "stop" if bottom <= 0.0 else "caution",
                Text("{name} presses on only {floor} of material", quantities),
                bottom,
                HEAD_FLOOR,
                "mm",
                remedy=Text(
                    "make the part thicker, or the counterbore less deep, so that {limit} is left", quantities
                ),
                working=working,
                sources=(PRACTICE,),
                part=f"{slug}-floor",
            )
        )
    if 0.0 < fixing.counterbore_mm < fixing.head_mm:
        found.append(
            Check(
                "part.head",
                "stop",
                Text("the head of {name}, {head} wide, does not go into its counterbore of {bore}", quantities),
                fixing.counterbore_mm,
                fixing.head_mm,
                "mm",
                remedy=Text("make the counterbore wider than {head}", quantities),
                part=f"{slug}-width",
            )
        )
    return found


def _slug(words: str) -> str:
    return "-".join("".join(c if c.isalnum() else " " for c in words.lower()).split())
