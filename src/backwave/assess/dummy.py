"""The dummy of a place: what it is given of each direction, and what a trial of one says of the job as it is now."""

from __future__ import annotations

import re
from math import ceil, hypot

import numpy as np

from backwave.assess.inputs.opening import lean_of
from backwave.assess.place_result import Dimensions
from backwave.fit import GaugeTrial, Margins, Opening
from backwave.fit.types import MOVES, edge_mm
from backwave.job import Place
from backwave.part.fit_gauge import coded, split_code
from backwave.part.types import StandInSpec

# so much less than the hole's margin it is grown by: it is printed, and has to go in; common trade practice
PLAY_MM = 0.3
BEHIND_MM = 2.0  # the passage through the metal reaches so far behind it
PLATE_MM = 6.0  # of the plate lie on the metal round the hole, or more
STEP_DEG = 5
POST = 0.6  # of a screw's diameter: its stand-in goes through the nut's thread; common trade practice


def dummy_of(place: Place, sized: Dimensions) -> StandInSpec | None:
    """The dummy of a place with its code; None where nothing comes behind the metal, or the seat is not flat."""
    driver, opening = sized.driver, sized.opening
    profile = tuple((r.value, d.value) for r, d in driver.profile)
    if profile[-1][1] <= sized.seat_height_mm or any(lean_of(place)):
        return None
    margins = sized.margins
    margin, deeper = _margins(opening, margins, place.opening.zone == "door")
    growth = max(0.0, margins.hole_mm - PLAY_MM)
    near, far = _hole(opening)
    block: tuple[float | None, float, float, float] | None = None
    held = driver.terminals
    if held is not None:
        turned = None if held.angle_deg is None else round(held.angle_deg + sized.turn_deg, 1) % 360.0
        reach = held.radius.value
        if turned is None and near is not None:  # all round it goes in only as far as the hole lets it
            reach = min(reach, near - margins.hole_mm)
        block = (turned, held.width.value, reach, held.depth.value)
    skin = opening.skin.value if opening.skin is not None else 0.0
    tails = tuple(
        (m.x_mm, m.y_mm, POST * float(re.sub(r"[^\d.]", "", m.screw.size) or 5.0), float(ceil(skin + m.screw.tail_mm + margin)))
        for m in sized.screws.metal
        if m.screw is not None and m.screw.tail_mm > 0.0
    )  # fmt: skip
    return coded(StandInSpec(
        profile_mm=profile, seat_height_mm=round(sized.seat_height_mm, 1),
        rim_mm=max(sized.frame_mm / 2.0, (far or 0.0) + PLATE_MM), margin_mm=margin, deeper=deeper, growth_mm=growth,
        passage_mm=skin + BEHIND_MM, terminals_mm=block, tails_mm=tails, name=place.name,
    ))  # fmt: skip


def trial_of(place: Place, spec: StandInSpec | None, sized: Dimensions) -> GaugeTrial | None:
    """What the dummy did at a place; a pair's second side does not inherit the first one's."""
    held = place.opening.stand_in
    if held is None or (place.mirrored and "stand_in" not in place.own):
        return None
    metal, wanted = sized.margins.metal_mm, "" if spec is None else spec.code
    shown = _shows_spigot(spec, sized)
    trial = GaugeTrial(held.outcome, held.where, held.travel, held.code or "", wanted, metal, metal, spigot=shown)
    if spec is None or held.code is None:
        return trial  # an older one had the margin to metal all round
    given, now = split_code(held.code), split_code(spec.code)
    assert now is not None  # our own
    # one that hung deeper and went clear, or hung less deep and touched, says the same of this one
    says = given is not None and (given[1] <= now[1] if held.outcome == "clear" else given[1] >= now[1])
    same = given is not None and given[0] == now[0] and says
    held_at = sized.driver.terminals
    reaches = spec.terminals_mm is None or held_at is None or spec.terminals_mm[2] >= held_at.radius.value - 1e-9
    return GaugeTrial(
        held.outcome, held.where, held.travel, held.code, wanted,
        max([spec.margin_mm, *(m for *_, m in spec.deeper)]), min([spec.margin_mm, *(m for *_, m in spec.deeper)]),
        reaches, shown, "this" if same else "other",
    )  # fmt: skip


def _shows_spigot(spec: StandInSpec | None, sized: Dimensions) -> bool:
    """Whether the part's spigot lies within the driver that the dummy stands for; it has none of its own."""
    made = sized.spec
    if made.spigot is None or not made.keeps_spigot or made.spigot.length_mm <= sized.back_closed_mm:
        return True
    radii, depths = zip(*((0.0, 0.0),) if spec is None else spec.profile_mm)
    at = np.linspace(0.0, depths[-1], 200)
    wide = at[np.interp(at, depths, radii) >= made.spigot.radius_mm]
    reach = float(wide.max(initial=0.0)) - sized.seat_height_mm
    return reach >= made.spigot.length_mm - sized.back_closed_mm


def _hole(opening: Opening) -> tuple[float | None, float | None]:
    """Least and largest distance from the axis to the hole's edge."""
    if opening.outline_mm is not None:
        far = max(hypot(float(x), float(y)) for x, y in opening.outline_mm)
        return edge_mm(opening.outline_mm), far
    return (None, None) if opening.hole is None else (opening.hole.value / 2.0, opening.hole.value / 2.0)


def _margins(opening: Opening, margins: Margins, door: bool) -> tuple[float, tuple[tuple[float, float, float], ...]]:
    """The least depth margin, and the directions in which it is larger. In each direction counts what is there and has
    least to spare; where nothing was measured glass is taken to be there, if there is any, or in a door nobody has said
    so."""
    moves = any(o.what in MOVES for o in opening.behind)

    def margin(angle: float) -> float:
        found = [
            (min(spot.clear.value for spot in o.spots) - m, m)
            for o in opening.behind
            for m in [margins.glass_mm if o.what in MOVES else margins.metal_mm]
            if o.angle_deg is None or abs((angle - o.angle_deg + 180.0) % 360.0 - 180.0) <= o.half_deg
        ]
        unread = margins.glass_mm if moves or (door and not opening.behind) else margins.metal_mm
        return min(found)[1] if found else unread

    around = [margin(float(angle)) for angle in range(0, 360, STEP_DEG)]
    least, most = min(around), max(around)
    if least == most:
        return least, ()
    starts = [k for k, m in enumerate(around) if m == most and around[k - 1] == least]
    sectors = []
    for k in starts:
        long = next(n for n in range(1, len(around)) if around[(k + n) % len(around)] == least)
        sectors.append((float(k * STEP_DEG), float((k + long - 1) * STEP_DEG) % 360.0, most))
    return least, tuple(sectors)
