"""What the window of seat heights comes to, in words: what closes it, by how much, and what would open it."""

from __future__ import annotations

import numpy as np

from backwave.finding import CalculationLine, Check, Message
from backwave.fit.plausible import ENTRIES, row_of
from backwave.fit.reading_checks import Quantities
from backwave.fit.results import Fit, Window
from backwave.uncertainty import Reading, contributions

MONTE_CARLO = "JCGM 101:2008"


def window_checks(fit: Fit) -> list[Check]:
    """The window, in words; nothing where only one side was read."""
    window = fit.window
    if window is None or window.low_mm is None or window.high_mm is None:
        return []
    chosen = fit.seat_height_mm
    steps = (
        CalculationLine("low", f"minimum stand-off, set by {window.low_by}", window.low_mm, "mm", MONTE_CARLO),
        CalculationLine("high", f"maximum stand-off, set by {window.high_by}", window.high_mm, "mm", MONTE_CARLO),
        CalculationLine("low0", "minimum, without uncertainty", window.bare_mm[0], "mm", "best estimates"),
        CalculationLine("high0", "maximum, without uncertainty", window.bare_mm[1], "mm", "best estimates"),
        CalculationLine("h", "stand-off now", chosen, "mm", "the stack"),
    )
    ends: Quantities = (("low", window.low_mm, "mm"), ("high", window.high_mm, "mm"), ("chosen", chosen, "mm"))
    if window.open:
        title = "Stand-offs from {low} to {high} suit both sides; now {chosen}"
        if window.low_mm <= chosen <= window.high_mm:
            return [
                Check(
                    "fit.window",
                    "ok",
                    Message(title, ends),
                    value=chosen,
                    unit="mm",
                    low=window.low_mm,
                    high=window.high_mm,
                    working=steps,
                    sources=(MONTE_CARLO,),
                )
            ]
        over = chosen - window.high_mm
        remedy = (
            Message(
                "Lower the speaker by {by}: a thinner adapter, a thinner gasket or one in a groove, a deeper recess",
                (("by", over, "mm"),),
            )
            if over > 0.0
            else Message("Raise the speaker by {by}: a thicker adapter", (("by", window.low_mm - chosen, "mm"),))
        )
        return [
            Check(
                "fit.window",
                "caution",
                Message(title, ends),
                value=chosen,
                unit="mm",
                low=window.low_mm,
                high=window.high_mm,
                remedy=remedy,
                working=steps,
                sources=(MONTE_CARLO,),
            )
        ]
    return [_closed(fit, window, steps)]


def _closed(fit: Fit, window: Window, steps: tuple[CalculationLine, ...]) -> Check:
    """No stand-off suits both: what closes the window, by how much, and what would open it."""
    gap = window.gap_mm
    (bare_low, bare_high), (touch_low, touch_high) = window.bare_mm, window.touch_mm
    assert bare_low is not None
    assert bare_high is not None
    assert touch_low is not None
    assert touch_high is not None
    about: Quantities = (("gap", gap, "mm"), ("below", window.low_by, ""), ("above", window.high_by, ""))
    opens = "A speaker shallower by {gap}, or lower at the front by {gap}, or a spacer of {gap} behind the trim"
    assumed = [c for c in map(fit.clearance, (window.low_by, window.high_by)) if c is not None and c.span is not None]
    if assumed and touch_low <= touch_high:
        title = "As assumed, no stand-off suits both {below} and {above}: {gap} too little"
        opens = "Measure {missing} first"
        names = [ENTRIES[row_of(c.span.rests_on[0]).entered] for c in assumed if c.span is not None]
        about += (("missing", " and ".join(dict.fromkeys(names)), ""),)
    elif bare_low <= bare_high:
        reading, half = _doubt(fit, window)
        title = "No stand-off suits both {below} and {above}: the readings are too rough by {gap}"
        opens = "Measure {reading} more closely (now out by up to {half}). Or: " + opens
        about += (("reading", reading, ""), ("half", half, "mm"))
    else:
        title = "No stand-off suits both {below} and {above}: {gap} too little"
        about += (("short", bare_low - bare_high, "mm"),)
        opens += "; measuring again will not help: {short} of it is missing at the best estimates"
    return Check(
        "fit.window",
        "stop" if touch_low > touch_high else "caution",
        Message(title, about),
        value=-gap,
        limit=0.0,
        unit="mm",
        remedy=Message(opens, about),
        working=steps,
        sources=(MONTE_CARLO,),
    )


def _doubt(fit: Fit, window: Window) -> tuple[str, float]:
    """The reading that weighs most in the width lost to uncertainty: name and worst-case half-width."""
    slopes: dict[str, tuple[Reading, float]] = {}
    for name in (window.low_by, window.high_by):
        held = fit.clearance(name)
        for reading, slope in held.slopes if held else ():
            slopes[reading.name] = (reading, slopes.get(reading.name, (reading, 0.0))[1] + slope)
    rows = list(slopes.values())
    shares = contributions([r for r, _ in rows], np.array([s for _, s in rows]))
    name = shares[0][0] if shares else ""
    return name, slopes[name][0].bound if name else 0.0
