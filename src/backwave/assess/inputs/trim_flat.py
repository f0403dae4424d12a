"""From a sized place to what its trim's flat is judged against."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot, inf, pi, sqrt

import numpy as np

from backwave.assess.inputs.opening import bench_of, cutout_of
from backwave.assess.place_result import Dimensions
from backwave.finding import Check
from backwave.fit.stack import FRONT_WORDS
from backwave.fit.trim_flat import Before, TrimFlat, flat_checks
from backwave.job import Job, Place, best_mm
from backwave.job.speaker import SpeakerTable
from backwave.shape import Outline, polygon
from backwave.uncertainty import Reading, exact

# Shares of a cutout's radius that a piston's may be where Sd is not entered; from memory, no published source.
PISTON = (0.7, 1.0)
# The cone's highest point, cap or edge, lies at least so far out of the piston's radius; from memory.
HIGHEST = 0.5


def trim_checks(job: Job, place: Place, speaker: SpeakerTable, sized: Dimensions) -> tuple[Check, ...]:
    """What stands before the metal against the flat of this side's own trim; () where no `land` was read."""
    trim = place.opening.trim
    if trim is None or trim.land is None:
        return ()
    land = bench_of(job, place.opening.id).read(place.key("trim") + ".land", trim.land, "trim", trim.by)
    cutout = best_mm(cutout_of(speaker)) / 2.0
    far = inf if trim.outer is None else trim.outer.to("mm") / 2.0
    # What the foam presses on lies over the rim; where neither grille nor flat is given, nowhere nearer to the axis.
    near, ask, sure = max(cutout, _piston(speaker, cutout)[1]), "trim.inner", (cutout, sized.frame_mm / 2.0)
    if trim.inner is not None:
        near, ask = trim.inner.to("mm") / 2.0, ""
        sure = (near, inf)
    elif trim.grille is not None:
        near = trim.grille.to("mm") / 2.0
        sure = (max(near, cutout), inf)
    if trim.outer is not None:
        sure = (min(sure[0], far), far)
    flat = TrimFlat(land, sure, (near, far), ask)
    return flat_checks(flat, (*_still(speaker, sized, cutout), *_moving(speaker, sized, cutout)))


def _still(speaker: SpeakerTable, sized: Dimensions, cutout: float) -> Iterator[Before]:
    """Rim, screw heads, part and collar."""
    spec, screws, seat = sized.spec, sized.screws, _seat(sized)
    rim = sized.driver.rim or exact("no rim", 0.0)
    edge = sized.frame_mm / 2.0
    wide = edge if speaker.frame_outline is None else _reach(polygon(list(speaker.frame_outline)))
    yield Before("rim", "rim", (*seat, (rim, 1.0)), (cutout, edge), (cutout, wide))
    if screws.driver is not None and spec.threads:
        tall = screws.driver.head_height_mm + (0.0 if screws.washer is None else screws.washer.height_mm)
        span = _ring([(t.x_mm, t.y_mm, screws.over_rim_mm / 2.0) for t in spec.threads])
        head = exact("head of the driver's screws", tall)
        yield Before("heads of the speaker's screws", "driver-heads", (*seat, (rim, 1.0), (head, 1.0)), span, span)
    base = ((sized.stack.gasket, 1.0), (sized.stack.lift, 1.0), (sized.stack.thickness, 1.0))
    inner = max(spec.bore_mm, spec.seat_mm if spec.recess_mm > 0.0 else 0.0)
    yield Before("part", "part", base, (inner, spec.outline.inside_mm(0.0, 0.0)), (inner, _reach(spec.outline)))
    proud = [(m, m.height_mm - m.depth_mm + m.over_mm) for m in screws.metal if m.head_mm]
    if proud and (most := max(over for _, over in proud)) > 0.0:
        span = _ring([(m.x_mm, m.y_mm, m.head_mm / 2.0) for m, _ in proud])
        head = exact("heads over the part", most)
        yield Before("heads of the fixings", "fixing-heads", (*base, (head, 1.0)), span, span)
    if spec.collar is not None:
        span = (spec.collar.inner_mm, spec.collar.outer_mm)
        yield Before("collar", "collar", (*base, (exact("collar", spec.collar.height_mm), 1.0)), span, span)


def _moving(speaker: SpeakerTable, sized: Dimensions, cutout: float) -> Iterator[Before]:
    """Cone, crest of the surround and what stands before them, with the room that a cone keeps to the grille."""
    driver, seat, margin = sized.driver, _seat(sized), sized.margins.grille_mm
    low, high = _piston(speaker, cutout)
    for part, height, travel, sure in (
        ("moving", driver.front.moving, 1.0, (0.0, HIGHEST * low)),
        ("crest", driver.front.crest, 0.5, (HIGHEST * low, low)),
        ("fixed", driver.front.fixed, 0.0, (0.0, 0.0)),
    ):
        if height is not None:
            heights = (*seat, (height, 1.0), (driver.xmech, travel))
            yield Before(FRONT_WORDS[part], part, heights, sure, (0.0, high), margin)  # type: ignore[index]


def _piston(speaker: SpeakerTable, cutout: float) -> tuple[float, float]:
    """The least and the greatest radius its piston may have."""
    motor = speaker.motor
    if motor is None or motor.Sd is None:
        return PISTON[0] * cutout, PISTON[1] * cutout
    radius = sqrt(motor.Sd.to("mm2") / pi)
    return radius, radius


def _seat(sized: Dimensions) -> tuple[tuple[Reading, float], ...]:
    stack = sized.stack
    return (
        (stack.gasket, 1.0), (stack.lift, 1.0), (stack.thickness, 1.0), (stack.recess, -1.0),
        (stack.driver_gasket, 1.0),
    )  # fmt: skip


def _ring(round_mm: list[tuple[float, float, float]]) -> tuple[float, float]:
    """The ring that round things at x, y of these radii lie in."""
    away = [(hypot(x, y), r) for x, y, r in round_mm]
    return min(a - r for a, r in away), max(a + r for a, r in away)


def _reach(outline: Outline) -> float:
    return float(np.hypot(*outline.points().T).max())
