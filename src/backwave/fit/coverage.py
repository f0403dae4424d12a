"""Directions and window states read behind the face, what was not, and how far a surface may bow between two readings.

A row without a direction is the minimum found all round.  One with a direction holds 30 degrees either way; between
two neighbors up to 90 degrees apart what lies behind is interpolated, so that four rows a quarter turn apart cover
all.  Where a window moves, each of up, half and down is wanted everywhere: the clamp that carries the glass passes in
between, and curved glass is nearest part-way.  Degrees, from +x toward +y.  Common trade practice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from backwave.finding import PRACTICE, Check, Message, Quantities, check_of
from backwave.fit.types import MOVES, DepthReading, GaugeTrial, Obstacle, Opening
from backwave.uncertainty import Error, Reading
from backwave.units import clock

STATES = ("up", "half", "down")
NEIGHBORS_DEG = 90.0
_EDGE_DEG = 1e-6
_NEAR_DEG = NEIGHBORS_DEG + _EDGE_DEG

Arc = tuple[float, float]  # degrees, from the first round to the second, counterclockwise
AROUND: Arc = (0.0, 360.0)


@dataclass(frozen=True)
class Unread:
    """Directions in which nothing was read, in one state of the window."""

    window: Literal["up", "half", "down", ""]  # "" where no window moves
    arcs_deg: tuple[Arc, ...]  # counterclockwise; (0, 360) for all round


@dataclass(frozen=True)
class Surface:
    """What lies behind in one direction: an obstacle as read, or between two neighbors."""

    obstacle: Obstacle
    other: Obstacle | None = None
    share: float = 0.0  # of the other, 0 to 1


def window_moves(opening: Opening) -> bool:
    """Whether a window moves behind the opening: as said, else where anything that moves was read."""
    if opening.window in ("moves", "none"):
        return opening.window == "moves"
    return any(o.what in MOVES for o in opening.behind)


def unread_behind(opening: Opening) -> tuple[Unread, ...]:
    """What was not read behind the face: by state where a window moves, else whatever the state."""
    if not window_moves(opening):
        arcs = _unread(opening.behind)
        return (Unread("", arcs),) if arcs else ()
    missing = ((s, _unread([o for o in opening.behind if o.window == s])) for s in STATES)
    return tuple(Unread(s, arcs) for s, arcs in missing if arcs)  # type: ignore[arg-type]


def _unread(rows: Sequence[Obstacle]) -> tuple[Arc, ...]:
    """Arcs that none of these rows covers.  Rows of one window state are neighbors of each other."""
    if any(o.angle_deg is None for o in rows):
        return ()
    states = {o.window for o in rows}
    read = sorted(arc for state in states for arc in _covered([o for o in rows if o.window == state]))
    if not read:
        return (AROUND,)
    start, gaps = read[0][0], []
    reach = max(read[0][1], max(end for _, end in read) - 360.0)  # one that goes on over where it begins
    for begin, end in [*read[1:], (start + 360.0, start + 360.0)]:
        if begin > reach + _EDGE_DEG:
            gaps.append((reach % 360.0, reach % 360.0 + begin - reach))
        reach = max(reach, end)
    return tuple(gaps)


def _covered(rows: Sequence[Obstacle]) -> list[Arc]:
    """What rows with a direction cover: each its own sector, and the way to a neighbor."""
    half = {o.angle_deg % 360.0: o.half_deg for o in rows if o.angle_deg is not None}
    angles = sorted(half)
    around = pairwise([*angles, angles[0] + 360.0])
    return [(a - half[a], a + half[a]) for a in angles] + [(a, b) for a, b in around if b - a <= _NEAR_DEG]


def surfaces_toward(behind: Sequence[Obstacle], angle_deg: float | None, half_deg: float) -> tuple[Surface, ...]:
    """What something meets that spans a sector: rows in it, and at its two edges what lies between two neighbors."""
    if angle_deg is None:
        return tuple(Surface(o) for o in behind)
    within = half_deg + _EDGE_DEG
    found = [Surface(o) for o in behind if o.angle_deg is None or _apart(o.angle_deg, angle_deg) <= within]
    for state in dict.fromkeys(o.window for o in behind):
        rows = [(o.angle_deg, o) for o in behind if o.window == state and o.angle_deg is not None]
        for edge in {angle_deg - half_deg, angle_deg + half_deg} if rows else ():
            found += _at(rows, edge)
    return tuple(dict.fromkeys(found))


def _at(rows: Sequence[tuple[float, Obstacle]], angle_deg: float) -> list[Surface]:
    """What rows of one window state say of one direction."""
    after = min((angle - angle_deg) % 360.0 for angle, _ in rows)
    before = min((angle_deg - angle) % 360.0 for angle, _ in rows)
    if min(after, before) > _EDGE_DEG and after + before > _NEAR_DEG:
        return [Surface(o) for angle, o in rows if _apart(angle, angle_deg) <= o.half_deg + _EDGE_DEG]
    nexts = [o for angle, o in rows if (angle - angle_deg) % 360.0 <= after + _EDGE_DEG]
    lasts = [o for angle, o in rows if (angle_deg - angle) % 360.0 <= before + _EDGE_DEG]
    if min(after, before) <= _EDGE_DEG:
        return [Surface(o) for o in dict.fromkeys((*nexts, *lasts)) if o.angle_deg is not None]
    pairs = [(a, b) for a in lasts for b in nexts if a.what == b.what]
    met = {id(o) for pair in pairs for o in pair}
    blended = [Surface(a, b, before / (after + before)) for a, b in pairs]
    return blended + [Surface(o) for o in (*lasts, *nexts) if id(o) not in met]  # unlike: either may go on so far


def _apart(a_deg: float, b_deg: float) -> float:
    return abs((a_deg - b_deg + 180.0) % 360.0 - 180.0)


def coverage_checks(opening: Opening, trial: GaugeTrial | None) -> list[Check]:
    """Where behind the face, and with the window how far, nothing was measured; a dummy's full travel covers all."""
    if not opening.behind:
        return []
    moves = window_moves(opening)
    clear = trial is not None and trial.clear
    if clear and trial is not None and (trial.full_travel or not moves):
        said = "The dummy stayed clear" + (" over one slow full travel of the window" if moves else "")
        return [Check("fit.coverage", "ok", Message(said), sources=(PRACTICE,))]
    checks = [_asked()] if opening.window == "unsaid" and not moves else []
    groups: dict[tuple[Arc, ...], list[str]] = {}
    for one in unread_behind(opening):
        groups.setdefault(one.arcs_deg, []).append(one.window)
    checks += [_unread_check(arcs, states, clear) for arcs, states in groups.items()]
    if not checks:
        said = "Measured behind the face all round" + (", with the window up, half and down" if moves else "")
        checks = [Check("fit.coverage", "ok", Message(said), sources=(PRACTICE,))]
    return checks


def terminals_unread(angle_deg: float) -> Check:
    """Terminals that stand where nothing was measured."""
    where: Quantities = (("where", clock(angle_deg), ""),)
    title = "Behind the terminals, at {where}, nothing was measured"
    remedy = "Measure the depth at {where}, or turn the speaker to where it was measured"
    return check_of("fit.terminals", "caution", title, remedy, where, key="behind", part="unread")


def _asked() -> Check:
    title = "This is a door, and no glass is entered: does a window move behind the opening?"
    remedy = 'Measure to the glass with the window up, half and down; or enter window = "none" if none moves there'
    return check_of("fit.coverage", "caution", title, remedy, key="window", part="window")


def _unread_check(arcs: tuple[Arc, ...], states: Sequence[str], clear: bool) -> Check:
    window = f" with the window {' and '.join(states)}" if states != [""] else ""
    if arcs == (AROUND,):
        said = f"Behind the face nothing was measured{window}"
        do = f"Measure the minimum depth all round{window}"
    else:
        sectors = " and ".join(f"{clock(end)} to {clock(start)}" for start, end in arcs)
        middles = " and ".join(clock((start + end) / 2.0) for start, end in arcs)
        said = f"Behind {sectors} nothing was measured{window}"
        do = f"Measure the depth at {middles}{window}, or the minimum all round, entered without a direction"
    if window:
        do += "; or hold the dummy in place and move the window slowly over its full travel, glass pushed toward it by hand"
        do += ", and enter travel = true" if clear else ""
    else:
        do += "; or try a dummy"
    return Check(
        "fit.coverage", "caution", Message("{said}", (("said", said, ""),)), remedy=Message("{do}", (("do", do, ""),)),
        sources=(PRACTICE,), key="behind", part="-".join(states) if window else "",
    )  # fmt: skip


NOT_STRAIGHT = 0.01  # of the distance between two readings, either way; common trade practice (glass of 1.2 m radius)
NEAR_MM = 20.0  # readings nearer than that leave no room for it
_WAYS = ((1.0 / 3.0, "a third of the way"), (2.0 / 3.0, "two thirds of the way"))


def part_way(a: Reading, b: Reading, share: float, words: str, bow_mm: float = 0.0) -> Reading:
    """The reading that a straight line between two puts part of the way, with what it may be out by of its own. `share`, 1:
    0 at the one, 1 at the other."""
    sizes: dict[str, Error] = {}
    for reading, weight in ((a, 1.0 - share), (b, share)):
        for error in reading.errors:
            before = sizes[error.name].size if error.name in sizes else 0.0
            sizes[error.name] = replace(error, size=before + weight * error.size)
    span = f"from {a.name} to {b.name}"
    own = (Error(f"not straight {span}", "rectangular", bow_mm),) if bow_mm > 0.0 else ()
    value = a.value + share * (b.value - a.value)
    return Reading(f"{words} {span}", value, (*sizes.values(), *own), min(a.taken, b.taken), assumed=True)


def with_bow(spots: Sequence[DepthReading]) -> tuple[DepthReading, ...]:
    """Readings of one surface in one direction, with those between two that are far apart."""
    found: list[DepthReading] = list(spots)
    for a, b in pairwise(sorted(spots, key=lambda spot: spot.radius.value)):
        apart = b.radius.value - a.radius.value
        if apart > NEAR_MM:
            found += [
                DepthReading(
                    part_way(a.radius, b.radius, share, words),
                    part_way(a.clear, b.clear, share, words, NOT_STRAIGHT * apart),
                )
                for share, words in _WAYS
            ]
    return tuple(found)


def between_readings(opening: Opening) -> Opening:
    """The opening with every surface behind it known as well as it is: exactly where it was read, less in between. Two
    readings are put in, a third and two thirds of the way, with their share of the errors of their neighbors (under
    their own names, so that one gauge still errs once) and one that both have: how far pressed metal or curved glass
    stands out of the straight line. With straight pieces between them that is a bow, to an eighth of its height."""
    return replace(opening, behind=tuple(replace(o, spots=with_bow(o.spots)) for o in opening.behind))
