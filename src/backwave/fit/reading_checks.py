"""What the readings do not settle, and which one to take again, with what, to make the answer certain.  Millimeters."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from math import ceil, floor, isfinite

import numpy as np

from backwave.finding import Check, Message, Quantities, Verdict, check_of
from backwave.fit.clearance import Model, driver_line, widest
from backwave.fit.plausible import ENTRIES, PlausibleSpan, row_of
from backwave.fit.types import Advice, Clearance, DriverShape, Fit, GaugeTrial, Instrument, Margins, Opening, Stack
from backwave.fit.window import asked_instead
from backwave.uncertainty import Error, Evaluator, Reading, at_estimates, estimates, first_order, monte_carlo

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
    """What to measure where a clearance is ok or not by what was not entered, which value would do, and which stops it."""
    row, (inward, outward) = row_of(span.rests_on[0]), (floor, ceil) if span.at_most else (ceil, floor)
    quantities: Quantities = (("missing", ENTRIES[row.entered], ""),)
    if span.enough_mm is None:
        return "Measure {missing}", quantities
    text = "Measure {missing}: it is ok if {least} is {enough} or " + ("less" if span.at_most else "more")
    text += "" if span.whatever else " and the rest is as assumed"
    quantities += (("least", row.what, ""), ("enough", inward(10.0 * span.enough_mm) / 10.0, "mm"))
    if span.fails_mm is None:
        return text, quantities
    text += "; with this part a stop " + ("above" if span.at_most else "below") + " {fails}"
    return text, (*quantities, ("fails", outward(10.0 * span.fails_mm) / 10.0, "mm"))


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
    helps, heaviest = _open(c), row_of(span.rests_on[0]).entered == entered
    about: Quantities = (
        ("missing", ENTRIES[entered], ""), ("place", "grille" if c.code == "fit.grille" else c.nearest.name, ""),
        ("worst", span.worst_mm, "mm"), ("best", span.best_mm, "mm"), ("margin", c.margin_mm, "mm"),
    )  # fmt: skip
    ask = measure_first(span) if heaviest and span.best_mm >= c.margin_mm else ("Measure {missing}", about)
    title = "Not entered: {missing}; the room to the {place} may be {worst} to {best}, needs {margin}"
    return Check(
        "fit.assumed", "caution" if helps else "ok", Message(title, about), value=span.worst_mm, limit=c.margin_mm,
        unit="mm", low=span.worst_mm, high=span.best_mm, remedy=Message(*ask) if helps else None,
        sources=(row_of(name).standing,), key=name, part=entered,
        waits=waits_for(span) if helps and entered not in asked else (),
    )  # fmt: skip


def read_twice(fit: Fit, opening: Opening) -> bool:
    """Whether the tightest clearance rests on two independent readings of the opening. One that was taken twice, or a
    second one of the same thing at the same place that shares no error with it."""
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
    about: Quantities = (("outer", outer, "mm"), ("which", "; ".join(dict.fromkeys(unread)), ""))
    title, value = "Measured behind the face as far out as the speaker goes, {outer}", (outer, None, "mm")
    if not unread:
        return [check_of("fit.reach", "ok", title, "", about[:1], value, sources=())]
    title = (
        "Behind the face the speaker goes from the axis out to {outer}; {which} was not measured that far: "
        "assumed the same beyond"
    )
    about += (
        ("ask", ceil(2.0 * (outer + 0.02)) / 2.0, "mm"),
    )  # a half millimeter: shown rounded, it is far enough still
    return [check_of("fit.reach", "caution", title, "Measure at the axis and at {ask}", about, value, key=key)]


def read_once_checks(fit: Fit, model: Model, twice: bool, tried: bool) -> list[Check]:
    """What the tightest clearance rests on: two readings, one, or a number that nobody entered."""
    tightest = fit.clearance(fit.tightest)
    if tightest is None:
        return []
    doubt = least_certain(tightest)
    if doubt is not None and doubt.plausible is not None and not tried and tightest.span is not None:
        about: Quantities = (("reading", row_of(doubt.name).what, ""), ("what", tightest.nearest.name, ""))
        title = "Tightest ({what}): {reading} is not entered yet"
        found = check_of("fit.read-once", "caution", title, "Measure {reading}", about, key=doubt.name)
        return [replace(found, waits=(f"fit.assumed.{row_of(doubt.name).entered}",))]
    reading = governing(tightest, model.opening)
    if reading is None:
        return []
    about = (("reading", reading.name, ""), ("what", tightest.nearest.name, ""))
    if twice or tried:
        on = "two readings" if twice else "a dummy that went clear"
        if not twice and tightest.code == "fit.grille":
            on += ", which speaks for the grille only if the trim was held over it"
        return [Check("fit.read-once", "ok", Message("The tightest place ({what}) rests on " + on, about))]
    title = "Tightest ({what}): {reading} was measured only once"
    again = "Measure {reading} again with another tool" + ("" if tightest.code == "fit.grille" else "; or try a dummy")
    return [check_of("fit.read-once", "caution", title, again, about, key=reading.name)]


def stand_in_checks(stand_in: GaugeTrial | None) -> list[Check]:
    """What the dummy did: where it touched outranks every reading; one of another speaker or stand-off says nothing."""
    if stand_in is None:
        return []
    said: Quantities = (
        ("code", stand_in.code, ""), ("wanted", stand_in.wanted, ""), ("outcome", stand_in.outcome, ""),
        ("where", f": {stand_in.where}" if stand_in.where else "", ""),
    )  # fmt: skip
    verdict: Verdict = "caution"
    if stand_in.of == "other":
        title = "The dummy {code} was tried ({outcome}), but it is not the one of the job as it is now, {wanted}"
        again = "Make dummy {wanted}, try it, and enter its code and what it did"
    elif stand_in.outcome == "touched":
        verdict, title = "stop", "The dummy touched{where}. That outranks every reading"
        again = "Find what it touched, measure there; raise, turn or change the speaker; then try again"
    elif stand_in.of == "unknown" and stand_in.wanted:
        title = "A dummy went clear, but its code is not entered: it may have been one of another speaker or stand-off"
        again = "Enter the code on it; the job as it is now takes {wanted}, or one deeper"
    else:
        verdict, title, again = "ok", "The dummy {code} went clear", ""
    return [check_of("fit.stand-in", verdict, title, again, said)]


# what each may be out by, either way: common trade practice, from coarse to fine
INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("stick or putty", 1.0, ("behind", "trim")),
    Instrument("straightedge across the metal and a caliper's depth rod", 0.3, ("behind", "trim")),
    Instrument("caliper on pressed, painted metal", 0.3, ("hole",)),
    Instrument("caliper on the part itself", 0.05, ("driver", "stack")),
)

_SETTLING_DRAWS = 25_000


def advise(
    fit: Fit, opening: Opening, driver: DriverShape, stack: Stack, margins: Margins | None = None, *,
    turn_deg: float | None = 0.0, instruments: Sequence[Instrument] = INSTRUMENTS,
) -> Advice:  # fmt: skip
    """The one reading that would make the answer certain, if it comes out as it did before. Certain means that every
    clearance has its 2.5 % point at or above its margin, and the tightest rests on two readings. What was never entered
    comes first. First order ranks the candidates; the one given is confirmed by Monte Carlo. Of several that would do,
    the coarsest tool is named, then the reading that is most of the doubt."""
    open_ones = [c for c in fit.clearances if c.verdict != "ok"]
    if not open_ones:
        return _second_reading(fit, opening)
    short = [c for c in open_ones if c.estimate.value < c.margin_mm and c.kindest_mm < c.margin_mm]
    if short:
        worst = min(short, key=lambda c: c.estimate.value - c.margin_mm)
        name = worst.name.replace(".", " to ").replace("-", " ")
        about = (("name", name, ""), ("by", worst.margin_mm - worst.estimate.value, "mm"))
        said = "Measuring again won't help: {name} is {by} too tight"
        if asked_instead(worst.code, worst.margin_mm - worst.estimate.low):
            said = "A reading is wrong, or the speaker: {name} is {by} too tight"
        words = Message(said, about)
        return Advice("change", words, low_mm=worst.estimate.low, answered=f"fit.{worst.name}")
    unknown = [c for c in open_ones if c.span is not None and c.span.best_mm >= c.margin_mm]
    if unknown:
        first = min(unknown, key=lambda c: c.span.worst_mm - c.margin_mm if c.span else 0.0)
        assert first.span is not None
        text, quantities = measure_first(first.span)
        name = first.name.replace(".", " and ")
        words = Message("{name}: " + text[0].lower() + text[1:], (("name", name, ""), *quantities))
        return Advice("read", words, first.span.rests_on[0])
    model = Model(opening, driver, stack, margins or Margins(), turn_deg)
    roles = _roles(opening, driver, stack)
    ranked = _ranked(open_ones, roles, instruments)
    for reading, instrument in ranked:
        low = _settles(model, fit, reading, instrument)
        if low is not None:
            words = Message(
                "Measure {reading} again with a {instrument}, good to {half}: if it reads {value} again, all is ok",
                (
                    ("reading", reading.name, ""), ("instrument", instrument.name, ""),
                    ("half", instrument.half_mm, "mm"), ("value", reading.value, "mm"),
                ),
            )  # fmt: skip
            return Advice("read", words, reading.name, instrument, low)
    worst = min(open_ones, key=lambda c: c.estimate.low - c.margin_mm)
    return Advice(
        "none",
        Message(
            "No single reading makes it certain: {name} needs {need} more room, or several better readings; "
            "a dummy settles it",
            (("name", worst.name, ""), ("need", worst.margin_mm - worst.estimate.low, "mm")),
        ),
        low_mm=worst.estimate.low,
    )


def _second_reading(fit: Fit, opening: Opening) -> Advice:
    """All keep their margins: at most the tightest wants its second reading."""
    tightest = fit.clearance(fit.tightest)
    once = any(check.code == "fit.read-once" and check.verdict != "ok" for check in fit.checks)
    reading = governing(tightest, opening) if tightest and once else None
    if reading is None:
        return Advice("settled", Message("Nothing needs to be measured again"))
    return Advice(
        "read",
        Message(
            "Measure {reading} a second time: a slip of the hand is all that is left to doubt",
            (("reading", reading.name, ""),),
        ),
        reading.name,
    )


def _roles(opening: Opening, driver: DriverShape, stack: Stack) -> dict[str, str]:
    """What each reading is of, by name."""
    groups: dict[str, list[Reading | None]] = {
        "behind": [r for o in opening.behind for spot in o.spots for r in (spot.radius, spot.clear)],
        "trim": [opening.trim_clear], "hole": [opening.hole],
        "driver": [
            *(r for pair in driver.profile for r in pair), driver.front.moving, driver.front.crest, driver.front.fixed,
            driver.rim,
        ],
        "stack": [stack.driver_gasket, stack.thickness, stack.recess],
    }  # fmt: skip
    return {r.name: role for role, readings in groups.items() for r in readings if r is not None}


def _read_with(reading: Reading, instrument: Instrument) -> Reading:
    error = Error(f"{reading.name} again", "rectangular", instrument.half_mm)
    return replace(reading, errors=(error,), taken=reading.taken + 1, assumed=False)


def _ranked(
    clearances: list[Clearance], roles: dict[str, str], instruments: Sequence[Instrument]
) -> list[tuple[Reading, Instrument]]:
    """Readings with an instrument that by first order settle all of these, the coarsest instrument first."""
    found: list[tuple[float, float, Reading, Instrument]] = []
    readings = {r.name: r for c in clearances for r, _ in c.slopes if r.errors}
    for reading in readings.values():
        for instrument in instruments:
            if roles.get(reading.name) not in instrument.reads or instrument.half_mm >= reading.bound:
                continue
            left = [_low_after(c, reading, instrument) - c.margin_mm for c in clearances]
            if min(left) >= -0.1:  # first order is near enough to try; Monte Carlo decides
                found.append((-instrument.half_mm, -min(left), reading, instrument))
    return [(reading, instrument) for *_, reading, instrument in sorted(found, key=lambda row: row[:2])]


def _low_after(c: Clearance, reading: Reading, instrument: Instrument) -> float:
    """The 2.5 % point to expect: the distance from value to low shrinks as the first-order u does."""
    readings = [_read_with(r, instrument) if r.name == reading.name else r for r, _ in c.slopes]
    after = float(first_order(readings, np.array([s for _, s in c.slopes])))
    if c.first_order_u_mm == 0.0:
        return c.estimate.low
    return c.estimate.value - (c.estimate.value - c.estimate.low) * after / c.first_order_u_mm


def _settles(model: Model, fit: Fit, reading: Reading, instrument: Instrument) -> float | None:
    """The tightest 2.5 % point after reading again, if everything then keeps its margin."""
    again = _read_with(reading, instrument)

    def after(look: Evaluator) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return model(lambda r: look(again) if r.name == reading.name else look(r))

    terms = model.terms()
    found = estimates([0.0] * len(terms), monte_carlo(after, _SETTLING_DRAWS))
    judged = {c.name for c in fit.clearances}
    lows = [(e.low - t.margin_mm, e.low) for e, t in zip(found, terms) if t.name in judged]
    tightest = min(lows)
    return tightest[1] if tightest[0] >= 0.0 else None
