"""Which one reading to take again, and with what, to make the answer certain.  Millimeters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from backwave.finding import Message
from backwave.fit.clearance import Model
from backwave.fit.reading_checks import governing, measure_first
from backwave.fit.results import Advice, Clearance, Fit
from backwave.fit.types import DriverShape, Instrument, Margins, Opening, Stack
from backwave.uncertainty import Error, Evaluator, Reading, estimates, first_order, monte_carlo

# what each may be out by, either way: common trade practice, from coarse to fine
INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("stick or putty", 1.0, ("behind", "trim")),
    Instrument("straightedge across the metal and a caliper's depth rod", 0.3, ("behind", "trim")),
    Instrument("caliper on pressed, painted metal", 0.3, ("hole",)),
    Instrument("caliper on the part itself", 0.05, ("driver", "stack")),
)

_SETTLING_DRAWS = 25_000


def advise(
    fit: Fit,
    opening: Opening,
    driver: DriverShape,
    stack: Stack,
    margins: Margins | None = None,
    *,
    turn_deg: float | None = 0.0,
    instruments: Sequence[Instrument] = INSTRUMENTS,
) -> Advice:
    """The one reading that would make the answer certain, if it comes out as it did before.

    Certain means that every clearance has its 2.5 % point at or above its margin, and the tightest rests on two
    readings.  What was never entered comes first.  First order ranks the candidates; the one given is confirmed by
    Monte Carlo.  Of several that would do, the coarsest tool is named, then the reading that is most of the doubt.
    """
    open_ones = [c for c in fit.clearances if c.verdict != "ok"]
    if not open_ones:
        return _second_reading(fit, opening)
    short = [c for c in open_ones if c.estimate.value < c.margin_mm and c.kindest_mm < c.margin_mm]
    if short:
        worst = min(short, key=lambda c: c.estimate.value - c.margin_mm)
        by = worst.margin_mm - worst.estimate.value
        return Advice(
            "change",
            Message(
                "Measuring again won't help: {name} is {by} too tight", (("name", worst.name, ""), ("by", by, "mm"))
            ),
            low_mm=worst.estimate.low,
        )
    unknown = [c for c in open_ones if c.span is not None and c.span.best_mm >= c.margin_mm]
    if unknown:
        first = min(unknown, key=lambda c: c.span.worst_mm - c.margin_mm if c.span else 0.0)
        assert first.span is not None
        text, quantities = measure_first(first.span)
        name = first.name.replace(".", " and ")
        return Advice(
            "read",
            Message("{name}: " + text[0].lower() + text[1:], (("name", name, ""), *quantities)),
            first.span.rests_on[0],
        )
    model = Model(opening, driver, stack, margins or Margins(), turn_deg)
    roles = _roles(opening, driver, stack)
    ranked = _ranked(open_ones, roles, instruments)
    for reading, instrument in ranked:
        low = _settles(model, fit, reading, instrument)
        if low is not None:
            words = Message(
                "Measure {reading} again with a {instrument}, good to {half}: if it reads {value} again, all is ok",
                (
                    ("reading", reading.name, ""),
                    ("instrument", instrument.name, ""),
                    ("half", instrument.half_mm, "mm"),
                    ("value", reading.value, "mm"),
                ),
            )
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
        "trim": [opening.trim_clear],
        "hole": [opening.hole],
        "driver": [
            *(r for pair in driver.profile for r in pair),
            driver.front.moving,
            driver.front.crest,
            driver.front.fixed,
            driver.rim,
        ],
        "stack": [stack.driver_gasket, stack.thickness, stack.recess],
    }
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
    after = first_order(readings, np.array([s for _, s in c.slopes]))
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
