"""What the readings do not settle: measured once, not entered at all, tried with a dummy."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import isfinite

import numpy as np

from backwave.finding import PRACTICE, Check, Message
from backwave.fit.clearance import Model, driver_line, widest
from backwave.fit.plausible import ENTRIES, PlausibleSpan, row_of
from backwave.fit.results import Clearance, Fit
from backwave.fit.types import GaugeTrial, Opening
from backwave.uncertainty import Reading, at_estimates

Quantities = tuple[tuple[str, float | str, str], ...]
SAME_PLACE_MM = 3.0  # two readings this near to each other are of one place


def governing(clearance: Clearance, opening: Opening) -> Reading | None:
    """The reading of the opening that moves a clearance most, or None."""
    own = {spot.clear.name for o in opening.behind for spot in o.spots}
    own |= {r.name for r in (opening.hole, opening.trim_clear, opening.outline_error) if r is not None}
    moved = [(abs(slope), reading) for reading, slope in clearance.slopes if reading.name in own]
    return max(moved, key=lambda pair: pair[0])[1] if moved else None


def least_certain(clearance: Clearance) -> Reading | None:
    """The reading that most of a clearance's doubt comes from; None where all of it is in a step, as at a shoulder."""
    doubts = [(abs(slope) * reading.u, reading) for reading, slope in clearance.slopes if reading.u]
    return max(doubts, key=lambda pair: pair[0])[1] if doubts else None


def measure_first(span: PlausibleSpan) -> tuple[str, Quantities]:
    """What to measure where a clearance is ok or not by what was not entered, and which value would do."""
    row = row_of(span.rests_on[0])
    quantities: Quantities = (("missing", ENTRIES[row.entered], ""),)
    if span.enough_mm is None:
        return "Measure {missing}", quantities
    text = "Measure {missing}: it is ok if {least} is {enough} or " + ("less" if span.at_most else "more")
    text += "" if span.whatever else " and the rest is as assumed"
    return text, (*quantities, ("least", row.what, ""), ("enough", span.enough_mm, "mm"))


def assumed_checks(clearances: Sequence[Clearance]) -> list[Check]:
    """What was not entered, a check each, by the clearance that it matters to most."""
    groups: dict[str, Clearance] = {}
    for c in sorted(clearances, key=lambda c: c.span.worst_mm - c.margin_mm if c.span else 0.0):
        for name in c.span.rests_on if c.span else ():
            groups.setdefault(row_of(name).entered, c)
    asked = {entered for c in clearances if _open(c) and c.span for entered in c.span.asked}
    return [_assumed(entered, c, c.span, asked) for entered, c in groups.items() if c.span is not None]


def waits_for(span: PlausibleSpan) -> tuple[str, ...]:
    """The findings that ask for what a clearance is not known by."""
    return tuple(f"fit.assumed.{entered}" for entered in span.asked)


def _open(c: Clearance) -> bool:
    return c.span is not None and c.verdict == "caution" and c.span.worst_mm < c.margin_mm


def _assumed(entered: str, c: Clearance, span: PlausibleSpan, asked: Collection[str]) -> Check:
    name = next(name for name in span.rests_on if row_of(name).entered == entered)
    helps = _open(c)
    about: Quantities = (
        ("missing", ENTRIES[entered], ""),
        ("place", "grille" if c.code == "fit.grille" else c.nearest.name, ""),
        ("worst", span.worst_mm, "mm"),
        ("best", span.best_mm, "mm"),
        ("margin", c.margin_mm, "mm"),
    )
    title = "Not entered: {missing}; the room to the {place} may be {worst} to {best}, needs {margin}"
    return Check(
        "fit.assumed",
        "caution" if helps else "ok",
        Message(title, about),
        value=span.worst_mm,
        limit=c.margin_mm,
        unit="mm",
        low=span.worst_mm,
        high=span.best_mm,
        remedy=Message("Measure {missing}", about) if helps else None,
        sources=(row_of(name).standing,),
        key=name,
        part=entered,
        waits=waits_for(span) if helps and entered not in asked else (),
    )


def read_twice(fit: Fit, opening: Opening) -> bool:
    """Whether the tightest clearance rests on two independent readings of the opening.

    One that was taken twice, or a second one of the same thing at the same place that shares no error with it.
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
    """Where the speaker goes, out from its axis, and no reading does."""
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
                Message("Measured behind the face as far out as the speaker goes, {outer}", (("outer", outer, "mm"),)),
                value=outer,
                unit="mm",
            )
        ]
    return [
        Check(
            "fit.reach",
            "caution",
            Message(
                "Behind the face the speaker goes from the axis out to {outer}; {which} was not measured that far: "
                "assumed the same beyond",
                (("outer", outer, "mm"), ("which", "; ".join(dict.fromkeys(unread)), "")),
            ),
            value=outer,
            unit="mm",
            remedy=Message("Measure at the axis and at {outer}", (("outer", outer, "mm"),)),
            sources=(PRACTICE,),
            key=key,
        )
    ]


def read_once_checks(fit: Fit, model: Model, twice: bool, tried: bool) -> list[Check]:
    """What the tightest clearance rests on: two readings, one, or a number that nobody entered."""
    tightest = fit.clearance(fit.tightest)
    if tightest is None:
        return []
    doubt = least_certain(tightest)
    if doubt is not None and doubt.plausible is not None and not tried and tightest.span is not None:
        about: Quantities = (("reading", row_of(doubt.name).what, ""), ("what", tightest.nearest.name, ""))
        title = Message("The tightest place ({what}) rests on a number nobody entered: {reading}", about)
        remedy = Message("Measure {reading}", about)
        waits = (f"fit.assumed.{row_of(doubt.name).entered}",)
        return [
            Check("fit.read-once", "caution", title, remedy=remedy, sources=(PRACTICE,), key=doubt.name, waits=waits)
        ]
    reading = governing(tightest, model.opening)
    if reading is None:
        return []
    about = (("reading", reading.name, ""), ("what", tightest.nearest.name, ""))
    if twice or tried:
        on = "two readings" if twice else "a dummy that went clear"
        if not twice and tightest.code == "fit.grille":
            on += ", which speaks for the grille only if the trim was held over it"
        return [Check("fit.read-once", "ok", Message("The tightest place ({what}) rests on " + on, about))]
    return [
        Check(
            "fit.read-once",
            "caution",
            Message("The tightest place ({what}) rests on one reading: {reading}", about),
            remedy=Message("Measure {reading} again from the start, with another tool; or try a dummy", about),
            sources=(PRACTICE,),
            key=reading.name,
        )
    ]


def stand_in_checks(stand_in: GaugeTrial | None) -> list[Check]:
    """What the dummy did: where it touched outranks every reading; one of another speaker or stand-off says nothing."""
    if stand_in is None:
        return []
    said: Quantities = (
        ("code", stand_in.code, ""), ("wanted", stand_in.wanted, ""), ("outcome", stand_in.outcome, ""),
        ("where", f": {stand_in.where}" if stand_in.where else "", ""),
    )  # fmt: skip
    if stand_in.of == "other":
        title = "The dummy {code} was tried ({outcome}), but it is not the one of the job as it is now, {wanted}"
        again = Message("Make dummy {wanted}, try it, and enter its code and what it did", said)
        return [Check("fit.stand-in", "caution", Message(title, said), remedy=again, sources=(PRACTICE,))]
    if stand_in.outcome == "touched":
        title = "The dummy touched{where}. That outranks every reading"
        again = Message("Find what it touched, measure there; raise, turn or change the speaker; then try again")
        return [Check("fit.stand-in", "stop", Message(title, said), remedy=again, sources=(PRACTICE,))]
    if stand_in.of == "unknown" and stand_in.wanted:
        title = "A dummy went clear, but its code is not entered: it may have been one of another speaker or stand-off"
        again = Message("Enter the code on it; the job as it is now takes {wanted}, or one deeper", said)
        return [Check("fit.stand-in", "caution", Message(title, said), remedy=again, sources=(PRACTICE,))]
    return [Check("fit.stand-in", "ok", Message("The dummy {code} went clear", said), sources=(PRACTICE,))]
