"""What the readings do not settle: read once, not read at all, tried with a stand-in."""

from __future__ import annotations

from math import isfinite

import numpy as np

from backwave.finding import Check, Message
from backwave.fit.clearance import Model, driver_line, widest
from backwave.fit.results import Clearance, Fit
from backwave.fit.types import GaugeTrial, Opening
from backwave.uncertainty import Reading, at_estimates

__all__ = ["governing", "reach_checks", "read_once_checks", "read_twice", "stand_in_checks"]

PRACTICE = "common trade practice"
Quantities = tuple[tuple[str, float | str, str], ...]
SAME_PLACE_MM = 3.0  # two readings this near to each other are of one place


def governing(clearance: Clearance, opening: Opening) -> Reading | None:
    """The reading of the opening that moves a clearance most, or None.

    Parameters
    ----------
    clearance : Clearance, mm
        The clearance.
    opening : Opening, mm
        The opening.
    """
    own = {spot.clear.name for o in opening.behind for spot in o.spots}
    own |= {r.name for r in (opening.hole, opening.trim_clear, opening.outline_error) if r is not None}
    moved = [(abs(slope), reading) for reading, slope in clearance.slopes if reading.name in own]
    return max(moved, key=lambda pair: pair[0])[1] if moved else None


def read_twice(fit: Fit, opening: Opening) -> bool:
    """Whether the tightest clearance rests on two independent readings of the opening.

    One that was taken twice, or a second one of the same thing at the same place that shares no error with it.

    Parameters
    ----------
    fit : Fit, mm
        The fit.
    opening : Opening, mm
        The opening.
    """
    tightest = fit.clearance(fit.tightest)
    reading = governing(tightest, opening) if tightest else None
    if reading is None:
        return True
    if reading.taken >= 2:
        return True
    errors = {error.name for error in reading.errors}
    for obstacle in opening.behind:
        for spot in obstacle.spots:
            if spot.clear.name == reading.name:
                twins = [
                    other.clear
                    for other in obstacle.spots
                    if other is not spot and abs(other.radius.value - spot.radius.value) <= SAME_PLACE_MM
                ]
                return any(errors.isdisjoint(e.name for e in twin.errors) for twin in twins)
    return False


def reach_checks(model: Model, height_mm: float) -> list[Check]:
    """Where the driver goes and no reading does.

    Parameters
    ----------
    model : Model, mm
        What was judged.
    height_mm : float, mm
        Seat height.
    """
    if not model.opening.behind:
        return []
    line = driver_line(model.driver, at_estimates)
    radii = [radius for values in widest(line, np.asarray(height_mm)) if isfinite(radius := float(values))]
    outer = max(radii, default=0.0)
    unread, key = [], ""
    for obstacle in model.opening.behind:
        first, last = obstacle.spots[0].radius.value, obstacle.spots[-1].radius.value
        if last < outer - 1e-9 or first > 1e-9:
            unread.append(f"{obstacle.what}, window {obstacle.window}" if obstacle.window else obstacle.what)
            key = key or obstacle.spots[-1 if last < outer - 1e-9 else 0].clear.name
    if not unread:
        return [
            Check(
                "fit.reach",
                "ok",
                Message("Readings behind the face go as far as the driver, {outer}", (("outer", outer, "mm"),)),
                value=outer,
                unit="mm",
            )
        ]
    return [
        Check(
            "fit.reach",
            "caution",
            Message(
                "The driver reaches from the axis to {outer} behind the face; readings of {which} do not: "
                "the last value is taken to hold",
                (("outer", outer, "mm"), ("which", "; ".join(dict.fromkeys(unread)), "")),
            ),
            value=outer,
            unit="mm",
            remedy=Message("Read at the axis and at {outer}", (("outer", outer, "mm"),)),
            sources=(PRACTICE,),
            key=key,
        )
    ]


def read_once_checks(fit: Fit, model: Model, twice: bool, tried: bool) -> list[Check]:
    """Whether the tightest clearance rests on more than one reading.

    Parameters
    ----------
    fit : Fit, mm
        As computed.
    model : Model, mm
        What was judged.
    twice, tried : bool, no unit
        It was read twice; a stand-in went clear.
    """
    tightest = fit.clearance(fit.tightest)
    if tightest is None:
        return []
    reading = governing(tightest, model.opening)
    if reading is None:
        return []
    about: Quantities = (("reading", reading.name, ""), ("what", tightest.nearest.name, ""))
    if twice or tried:
        on = "two readings" if twice else "a stand-in that went clear"
        if not twice and tightest.code == "fit.grille":
            on += ", which speaks for the grille only if the trim was held over it"
        return [Check("fit.read-once", "ok", Message("The tightest place ({what}) rests on " + on, about))]
    return [
        Check(
            "fit.read-once",
            "caution",
            Message("The tightest place ({what}) rests on one reading: {reading}", about),
            remedy=Message(
                "Read {reading} again from the start, with another instrument; or try a stand-in", about
            ),
            sources=(PRACTICE,),
            key=reading.name,
        )
    ]


def stand_in_checks(stand_in: GaugeTrial | None) -> list[Check]:
    """What the stand-in did: a touch outranks every reading.

    Parameters
    ----------
    stand_in : GaugeTrial or None, no unit
        Its outcome; None: not tried.
    """
    if stand_in is None:
        return []
    if stand_in.outcome == "clear":
        return [Check("fit.stand-in", "ok", Message("The stand-in went clear"), sources=(PRACTICE,))]
    where = f": {stand_in.where}" if stand_in.where else ""
    return [
        Check(
            "fit.stand-in",
            "stop",
            Message("The stand-in touched{where}. That outranks every reading", (("where", where, ""),)),
            remedy=Message("Find what it touched, read there; raise, turn or change the driver; then try again"),
            sources=(PRACTICE,),
        )
    ]
