"""Whether a driver goes into its part and the part onto the metal, before anything is built.

    mounting_checks     every check of one place, from one frozen `Mounting`

Exact in plan and along the axis, in milliseconds; no solid is made.  What was read carries its doubt: a check is
`stop` only where it fails for every plausible value, `caution` where it fails for some, and then says what to
measure.  A seat that leans is refused before this (`fit.seat`).  Millimeters."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor, inf

import numpy as np

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict, check_of
from backwave.fit.assembly import Block, Doubted, Meeting, Mounting, Passage, Revolved, at_end, nearest, room_check
from backwave.fit.fixing_load import GRAVITY, SLAM_G
from backwave.fit.laps import lap_checks
from backwave.fit.tilt_in import MAX_TILT_DEG, ROOM_MM, Tilt, way_in
from backwave.shape import Outline, circle

PLAY_MM = 0.5  # round a basket, so that it goes in by hand; common trade practice
MAGNET_FROM = 0.55  # of the depth: behind it is the magnet, before it the basket; for the words alone
BLOCK_MM = (5.0, 15.0)  # height of a block of terminals, at the least and as usual; common trade practice
LIGHT_KG = 0.15  # a tweeter that clips, glue or a cup may hold unproven: 44 N at 30 g; common trade practice
FRAME_MM = 10.0  # how far a frame nobody measured may be off in diameter; common trade practice


def mounting_checks(m: Mounting) -> tuple[Check, ...]:
    """The driver into the part, its frame and holes, what holds it; then hole, gasket, flange, lip, collar, spigot."""
    return (_body(m), *_cutout(m), *_terminals(m), *_seat(m), *_frame(m), *_held(m), *lap_checks(m))


# -- the driver's back through the part -----------------------------------------------------------------------------


def _back(m: Mounting, side: int) -> Revolved:
    """The driver's back as entered, or as wide and deep (1) or as slim and shallow (-1) as it may plausibly be."""
    points: list[tuple[float, float]] = []
    profile = m.driver.profile
    lead = max((i for i, (_, depth) in enumerate(profile) if depth.value == 0.0), default=0)
    for radius, depth in profile[lead:]:  # what lies flat on the seat before it takes no room behind it
        deep = max(at_end(depth, side), points[-1][1] if points else 0.0) if depth.value else 0.0
        points.append((max(at_end(radius, side), 0.0), deep))
    return Revolved(tuple(points), m.seat_mm)


def _nearest(m: Mounting, side: int, swept: bool) -> Meeting:
    back = _back(m, side)
    found = nearest(back.contact(p, swept) for p in reversed(m.passages) if p.low_mm < m.land_mm - 1e-9)
    return found or Meeting(inf, "bore", 0.0, m.seat_mm)


def _body(m: Mounting) -> Check:
    """`mount.bore` where it does not even have room in place, else `mount.way-in`."""
    for swept in (False, True):
        entered, wide, slim = (_nearest(m, side, swept) for side in (0, 1, -1))
        room = Doubted(entered.gap_mm, wide.gap_mm, slim.gap_mm)
        verdict = room.verdict()
        if verdict != "ok":
            break
    what = "magnet" if entered.depth_mm >= MAGNET_FROM * m.driver.profile[-1][1].value else "basket"
    least = 2.0 * (_back(m, 1).radius_mm(0.0, swept=True) + PLAY_MM)
    widest_bore = m.frame.value - 2.0 * m.lap("frame on its seat").lap_mm
    about: Quantities = (
        ("what", what, ""), ("passage", entered.passage, ""), ("gap", entered.gap_mm, "mm"), ("over", -entered.gap_mm, "mm"),
        ("depth", entered.depth_mm, "mm"), ("least", least, "mm"),
    )  # fmt: skip
    title, remedy = "The speaker goes in: its {what} clears the {passage} by {gap}", ""
    if verdict != "ok":
        title = "The {what} clears the {passage} by {gap}, {depth} behind the rim: less than it may be out by"
        if entered.gap_mm < 0.0 and swept:
            title = "The {what} does not go through the {passage}: {over} too wide, {depth} behind the rim"
        elif entered.gap_mm < 0.0:
            title = "The {what} hits the {passage} by {over}, {depth} behind the rim"
        remedy = "Measure the {what} across, {depth} behind the rim"
        if verdict == "stop":
            remedy += "; if it is right, take another speaker"
            if least > widest_bore:
                remedy += ": no bore leaves room for the {what} and still carries the frame"
    passes = "at or behind that height: it passes on the way in" if swept else "at that height"
    less = f"radius of the {entered.passage} less what of the speaker is {passes}"
    return room_check(
        "mount.way-in" if swept else "mount.bore", room, 0.0, title, remedy, about,
        (
            CalculationLine("gap", less, entered.gap_mm, "mm", "profile and part"),
            CalculationLine("z", "height above the metal", entered.z_mm, "mm"),
            CalculationLine("d", "depth on the speaker, from its rim's mounting side", entered.depth_mm, "mm"),
            CalculationLine("low", "with every reading as wide and deep as it may be", room.low_mm, "mm", "bounds"),
            CalculationLine("high", "with every reading as slim as it may be", room.high_mm, "mm", "bounds"),
        ),
        key="bore", tries=(_bore(least),),
    )  # fmt: skip


def _bore(diameter_mm: float) -> tuple[str, str]:
    """A bore to try: rounded up, to half a millimeter."""
    return "bore", f"{ceil(2.0 * diameter_mm - 1e-6) / 2.0:g} mm"


_NO_ROUND = "No round bore leaves room for this cutout and carries this frame all round: nothing can be made for it yet"


def _widest_mm(edge: Outline | None, diameter_mm: float) -> float:
    return diameter_mm / 2.0 if edge is None else float(np.hypot(*edge.points().T).max())


def _no_round(m: Mounting, doubt_mm: float) -> bool:
    """Whether what the cutout needs is wider than what the frame lies on."""
    need = _widest_mm(m.cutout_edge, m.cutout.value)
    return m.frame_edge is not None and need > m.frame.value / 2.0 - m.lap("frame on its seat").lap_mm - doubt_mm


def _cutout(m: Mounting) -> Iterator[Check]:
    """A cutout that is not round, within the round bore."""
    under = [p for p in m.passages if p.low_mm < m.land_mm - 1e-9]
    if m.cutout_edge is None or not under:
        return
    wide, doubt = _widest_mm(m.cutout_edge, m.cutout.value), m.cutout.bound / 2.0
    gap = min(min(p.low_radius_mm, p.high_radius_mm) for p in under) - wide
    room = Doubted(gap, gap - doubt, gap + doubt)
    about = (("gap", gap, "mm"), ("over", -gap, "mm"), ("least", 2.0 * (wide + doubt), "mm"))
    title = "The cutout's farthest point clears the bore by {gap}"
    if gap < 0.0:
        title = "The cutout reaches {over} beyond the bore"
    remedy = _NO_ROUND if _no_round(m, doubt) else "Measure the cutout's outline again, or take another speaker"
    yield room_check(
        "mount.bore", room, 0.0, title, remedy, about,
        (CalculationLine("gap", "radius of the bore less the cutout's farthest point", gap, "mm", "geometry"),),
        key="bore", part="cutout", tries=(_bore(2.0 * (wide + doubt)),),
    )  # fmt: skip


# -- terminals -----------------------------------------------------------------------------------------------------


def _block(m: Mounting, side: int) -> Block:
    t = m.driver.terminals
    assert t is not None
    depth = max(at_end(t.depth, side), 0.0)
    start = t.depth.value - BLOCK_MM[1]
    if m.terminal_start is not None:
        start = at_end(m.terminal_start, -side)
    elif side:
        start = 0.0 if side > 0 else depth - BLOCK_MM[0]
    angle = None if t.angle_deg is None else (t.angle_deg + m.turn_deg) % 360.0
    out, across = (max(at_end(reading, side), 0.0) for reading in (t.radius, t.width))
    return Block(out, across, min(max(start, 0.0), depth), depth, angle)


def _tilted_in(m: Mounting, side: int) -> Tilt | None:
    """The way in through metal and part, as wide (1) or as slim (-1) as the driver may plausibly be."""
    walls = m.passages
    if m.hole_edge is not None and m.opening.skin is not None:
        edge = max(m.hole_edge.inside_mm(0.0, 0.0) - side * m.hole_doubt_mm, 0.0)
        walls = (Passage("hole", -at_end(m.opening.skin, side), 0.0, edge, edge), *walls)
    return way_in(_back(m, side), m.frame.value / 2.0, _block(m, side), walls, ROOM_MM * side)


def _terminals(m: Mounting) -> Iterator[Check]:
    t = m.driver.terminals
    if t is None:
        return
    ways: dict[bool, tuple[Doubted, str]] = {}
    for swept in (False, True):
        found = [
            nearest(_block(m, side).contact(p, m.seat_mm, swept) for p in reversed(m.passages)) for side in (0, 1, -1)
        ]
        entered, wide, slim = (inf if c is None else c.gap_mm for c in found)
        hit = min((c for c in found if c is not None), key=lambda c: c.gap_mm, default=None)
        ways[swept] = Doubted(entered, wide, inf if t.radius.assumed else slim), hit.passage if hit else "bore"
    (there, where), (way, through) = ways[False], ways[True]
    room, passage, verdict = (there, where, there.verdict()) if there.verdict() != "ok" else (way, through, "ok")
    if room is way and way.verdict() != "ok":
        verdict = "caution"
    widest = 2.0 * (_block(m, 1).corner_mm + PLAY_MM)
    over = -room.value_mm if verdict == "stop" or room is way else -room.low_mm
    about: Quantities = (
        ("passage", passage, ""), ("gap", room.value_mm, "mm"), ("over", over, "mm"), ("least", widest, "mm"),
    )  # fmt: skip
    remedy, said = None, room.value_mm  # the gap that the words tell
    measure = "Measure them: terminals = {{ angle, width, radius, depth, start }}"
    if t.radius.assumed:
        title, remedy = "The terminals were not measured: they may hit the {passage}", measure
    elif room is there and verdict == "stop":
        title = "The terminals hit the {passage} by {over} where the speaker sits"
        remedy = "Measure them again; if they are right, take a speaker whose terminals stand closer in"
    elif room is there:
        said = min(said, room.low_mm)
        title = "The terminals may hit the {passage} by {over} where the speaker sits"
        remedy = "Measure how far behind the rim they begin: terminals = {{ start = ... }}"
    elif way.value_mm < 0.0:
        title = "The terminals stand {over} too far out to go straight through the {passage}; in place they are clear"
        remedy = "Tilt the speaker in, terminals first: try the dummy"
        tilted = _tilted_in(m, 1)
        if tilted is not None:
            straight = tilted.most_deg < 0.05
            title += ", and pushed sideways" if straight else ", and tilted by {tilt}"
            title += ", terminals first, it goes in"
            remedy = remedy.replace("Tilt the speaker in", "Push the speaker sideways") if straight else remedy
        elif any(p.notches for p in m.passages) or m.opening.outline_mm is not None or _tilted_in(m, -1) is not None:
            title += "; whether it goes in tilted is not certain"
        else:
            verdict = "stop"
            title += ", but it does not go in tilted either, up to {tilt}"
            remedy = "Measure them again; if they are right, take a speaker whose terminals stand closer in"
            about += (("tilt", float(MAX_TILT_DEG), "deg"),)
    else:
        title = "The terminals clear the {passage} by {gap}: less than they may be out by"
        remedy = "Measure the terminals again, or tilt the speaker in, terminals first: try the dummy"
    if verdict == "ok":
        title, remedy = "The terminals go in: they clear the {passage} by {gap}", None
    value, low, high = (mm if abs(mm) < inf else None for mm in (said, room.low_mm, room.high_mm))
    yield Check(
        "mount.terminals", verdict, Message(title, about), value=value, limit=0.0, unit="mm", low=low, high=high,
        remedy=None if remedy is None else Message(remedy, about),
        working=(
            CalculationLine("R", "farthest corner of the terminals from the axis", _block(m, 0).corner_mm, "mm", "the job"),
            CalculationLine("d0", "where they begin behind the rim", _block(m, 0).start_mm, "mm",
                            "the job" if m.terminal_start is not None else f"taken: {BLOCK_MM[1]:g} mm high; {PRACTICE}"),
            CalculationLine("gap", "wall of the part, or of its notch, less their corner" + (
                "" if said == room.value_mm else ", as wide as they may be"), said, "mm")
            if abs(said) < inf
            else CalculationLine("gap", "nothing of the part is beside them", None, "mm"),
        ),
        sources=("geometry", PRACTICE), key="terminals" if verdict != "ok" else "",
        tries=() if verdict == "ok" or t.radius.assumed else (("notch", "terminals"), _bore(widest)),
        waits=("fit.assumed.terminals",) if t.radius.assumed and verdict == "caution" else (),
    )  # fmt: skip


# -- frame, holes and what holds it --------------------------------------------------------------------------------


def _seat(m: Mounting) -> Iterator[Check]:
    """The frame lies on the part round the bore, and goes into recess and collar."""
    doubt = max(m.frame.bound, FRAME_MM if m.frame.assumed else 0.0) / 2.0
    under = [p for p in m.passages if p.low_mm < m.land_mm - 1e-9]
    if under:
        row = m.lap("frame on its seat")
        lap = m.frame.value / 2.0 - under[-1].high_radius_mm
        held, most = Doubted(lap, lap - doubt, lap + doubt), m.frame.value - 2.0 * (row.lap_mm + doubt)
        about: Quantities = (("lap", lap, "mm"), ("short", -lap, "mm"), ("wanted", row.lap_mm, "mm"))
        title = "The frame lies on {lap} of the part all round; needs {wanted}"
        if lap < 0.0:
            title = "The speaker falls through: the bore is {short} wider all round than its frame"
        remedy = _NO_ROUND if _no_round(m, doubt) else "Measure the frame, or take a speaker with a wider one"
        yield room_check(
            "mount.seat", held, row.lap_mm, title, remedy, about,
            (
                CalculationLine("D/2", "radius of the frame", m.frame.value / 2.0, "mm", "the job"),
                CalculationLine("rb", "radius of the bore under it", under[-1].high_radius_mm, "mm", "the part"),
                CalculationLine("lap", "D/2 - rb", lap, "mm"),
            ),
            (row.cited,), "bore", tries=(("bore", f"{max(floor(2.0 * most - 1e-6) / 2.0, 1.0):g} mm"),),
        )  # fmt: skip
    for passage in m.passages:
        if passage.low_mm < m.land_mm - 1e-9:
            continue
        gap = min(passage.low_radius_mm, passage.high_radius_mm) - _widest_mm(m.frame_edge, m.frame.value)
        room = Doubted(gap, gap - doubt, gap + doubt)
        about = (("passage", passage.name, ""), ("gap", gap, "mm"), ("over", -gap, "mm"))
        title = "The frame goes into the {passage} with {gap} to spare all round"
        if room.verdict() != "ok":
            title = "The frame has {gap} all round in the {passage}: less than it may be out by"
            if gap < 0.0:
                title = "The frame is {over} too wide all round for the {passage}"
        yield room_check(
            "mount.seat", room, 0.0, title, "Measure the frame across: frame = ...", about,
            (CalculationLine("gap", f"radius of the {passage.name} - D/2", gap, "mm", "part and frame"),),
            key="frame", part=passage.name.replace(" ", "-"),
        )  # fmt: skip


def _frame(m: Mounting) -> Iterator[Check]:
    """Holes that do not fit a round frame: the driver is not round, and nothing round may be cut for it."""
    if not m.holes:
        return
    doubt = max(m.frame.bound, FRAME_MM if m.frame.assumed else 0.0) / 2.0
    frame, cut_out = m.frame_edge or circle(m.frame.value / 2.0), m.cutout_edge or circle(m.cutout.value / 2.0)
    # A slot along its length: its ends lie farthest out, its middle may lie farthest in.
    at = [(p, h) for h in m.holes for p in np.linspace(*h.ends_mm, 9 if abs(h.ends_mm[1] - h.ends_mm[0]) else 1)]
    edges = [(frame.inside_mm(p.real, p.imag) - h.diameter_mm / 2.0, h.name) for p, h in at]
    inner = [(-cut_out.inside_mm(p.real, p.imag) - h.diameter_mm / 2.0, h.name) for p, h in at]
    (outside, far), (inside, near) = min(edges), min(inner)
    within = m.cutout.bound / 2.0
    out, cut = Doubted(outside, outside - doubt, outside + doubt), Doubted(inside, inside - within, inside + within)
    verdict: Verdict = "stop" if "stop" in (out.verdict(), cut.verdict()) else "ok"
    worst = out if outside <= inside else cut
    about: Quantities = (
        ("far", far, ""), ("near", near, ""), ("outside", -outside, "mm"), ("inside", -inside, "mm"),
        ("rim", outside, "mm"), ("land", inside, "mm"),
    )  # fmt: skip
    title = "The speaker's holes lie within its frame, {rim} from its edge, and {land} outside its cutout"
    remedy = None
    if verdict == "ok" and (outside < 0.0 or inside < 0.0):
        verdict = "caution"
    if verdict != "ok":
        title = "{near} lies {inside} within the cutout"
        if worst is out:
            title = "{far} lies {outside} outside the frame"
        if m.frame_edge is None:
            title += ", as if this speaker were not round"
        title = title[0].upper() + title[1:]
        remedy = (
            "Check frame, cutout and holes; where the frame is not round, enter its edge and the cutout's: "
            "frame_outline and cutout_outline = [[x, y], ...]"
        )
    yield Check(
        "mount.frame", verdict, Message(title, about), value=worst.value_mm, limit=0.0, unit="mm", low=worst.low_mm,
        high=worst.high_mm, remedy=None if remedy is None else Message(remedy),
        working=(
            CalculationLine("D/2", "radius of the frame, at its narrowest", m.frame.value / 2.0, "mm", "the job"),
            CalculationLine("rc", "radius of the cutout, at its widest", m.cutout.value / 2.0, "mm", "the job"),
            CalculationLine("e1", f"frame's edge less {far}'s outer edge", outside, "mm"),
            CalculationLine("e2", f"{near}'s inner edge less the cutout", inside, "mm"),
        ),
        sources=("geometry",), key="holes" if verdict != "ok" else "",
    )  # fmt: skip


def _held(m: Mounting) -> Iterator[Check]:
    """A tweeter without screw holes is held by its cup, clips or glue; which one decides what has to be made."""
    if m.held_by == "cup":
        yield check_of(
            "mount.held", "stop", "A part for a speaker in its own cup is not built yet, only a flat one",
            "Leave this [[adapter]] out if the cup goes straight into the vehicle; else enter the speaker's holes, or held_by "
            'without the cup: "clips", "glue" or "ring"', sources=(), key="held_by", part="cup",
        )  # fmt: skip
        return
    if m.holes or (m.kind != "tweeter" and not m.held_by):
        return
    if m.held_by and m.held_by != "screws":
        words = {"clips": "clips", "glue": "glue", "ring": "a retaining ring"}[m.held_by]
        yield Check(
            "mount.held", "ok", Message("The speaker is held by {how}", (("how", words, ""),)), sources=("the job",)
        )
        if m.kind != "tweeter" or (m.mass_kg or 0.0) > LIGHT_KG:
            yield _unproven(m, words)
        return
    asked = "No screw holes are entered for this tweeter: nothing says what holds it"
    if m.held_by:
        asked = "The speaker is held by screws, but no screw holes are entered"
    enter = 'Enter held_by = "cup", "clips", "glue" or "ring" at the opening, or the speaker\'s holes'
    yield check_of("mount.held", "caution", asked, enter, key="held_by")


def _unproven(m: Mounting, words: str) -> Check:
    """Clips, glue and a ring are in no table: nothing says that they hold a heavy driver at a slam."""
    pull = None if m.mass_kg is None else m.mass_kg * SLAM_G * GRAVITY
    about: Quantities = (
        ("how", words, ""), ("slam", f"{SLAM_G:g} g", ""), ("pull", pull or 0.0, "N"),
    )  # fmt: skip
    of = "" if pull is None else " of {pull}"
    ask = "the speaker" if pull is not None else "the speaker, weigh it and enter mass,"
    return check_of(
        "fit.hold", "caution",
        f"Nothing here proves that {{how}} will hold the speaker against the pull{of} at a slam of {{slam}}",
        f"Screw {ask} down and enter its holes; or hang it up by {{how}} and pull with that force", about,
        (pull, None, "N" if pull is not None else ""),
        () if pull is None else (
            CalculationLine("m", "driver", m.mass_kg, "kg", "the job"),
            CalculationLine("F", f"m at {SLAM_G:g} g", pull, "N", PRACTICE),
        ),
        key="held_by",
    )  # fmt: skip
