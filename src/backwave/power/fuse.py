"""Fuses: a rating of the standard series, above the load with margin, that breaks what a short draws where it sits.

A fuse carries its rating at room temperature only, so it is loaded to 80 % (ISO 8820-2; from memory).  A short draws
source voltage over source resistance, cable up to the fuse included, cold.  Operating times of blade fuses by ISO 8820-3
(from memory); strip and other fuses are slower, so a peak that a blade stands they stand too."""

from __future__ import annotations

from math import isfinite

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, Assumed, CalculationLine, Check, Quantities, Verdict, check_of
from backwave.power.types import FuseChoice
from backwave.stock import FuseRow, Stock, shipped

LOADED = 0.8  # of its rating that a fuse carries for good
PLACE_M = 0.45  # from the battery's post to the main fuse: 18 in (ANSI/RVIA low-voltage standard; from memory)
# the same with the cable bare, and sheathed all the way: 7 in and 72 in (ABYC E-11, 2004, 11.12)
BARE_M, SLEEVED_M = 0.175, 1.83
STARTER_A = 2000.0  # what a fuse at a starter battery of unknown resistance should break (common trade practice)
_PEAK_S = 0.025  # half a period of 20 Hz: the longest crest of a bass tone
# Current by rating, least and most seconds to open: ISO 8820-3, type C (from memory).
_TIMES = ((1.10, 360e3, float("inf")), (1.35, 0.75, 600.0), (2.0, 0.15, 5.0), (3.5, 0.04, 0.5), (6.0, 0.02, 0.1))


def prospective_a(source_v: float, resistance_ohm: float) -> float:
    """What a source drives into a short, A: its voltage over all the resistance before it (InputError: not above 0)."""
    check_number("resistance of the source, ohm", resistance_ohm)
    return source_v / resistance_ohm


def operating_s(by_rating: float) -> tuple[float, float]:
    """Least and most seconds until a blade fuse opens at a current over its rating (`by_rating`, 1). Between the tabled
    currents on the safe side of both."""
    if by_rating <= _TIMES[0][0]:
        return _TIMES[0][1:]
    least = next((t[1] for t in _TIMES if t[0] >= by_rating), 0.0)
    most = [t[2] for t in _TIMES if t[0] <= by_rating][-1]
    return least, most


def fuses_of(stock: Stock | None = None) -> tuple[FuseRow, ...]:
    """Styles of fuses, in the order they are tried."""
    return (stock or shipped()).of(FuseRow)


def choose_fuse(
    continuous_a: float,
    prospective: float,
    own_a: float = 0.0,
    peak_a: float | None = None,
    supply_v: float = 14.4,
    style: str = "",
    rating_a: float | None = None,
    advised_a: float | None = None,
    stock: Stock | None = None,
) -> FuseChoice:
    """One fuse: its style by what it must break, its rating by what it must carry. `prospective`, A: what a short
    draws; `own_a`: sum of the loads' own fuses, which it carries too so that they open first; `peak_a`: None is twice
    the rated current, a bass tone at full power; `rating_a`: one that is already there; `advised_a`: where the source's
    figures were only taken, the breaking capacity that is advised: nothing is stopped by it. InputError: a number
    outside its range, an unknown style, or a rating that the style does not have."""
    check_number("current of a fuse, A", continuous_a)
    check_number("current of a short, A", prospective)
    styles = fuses_of(stock)
    need = rating_a if rating_a is not None else max(continuous_a / LOADED, own_a)
    breaks = prospective if advised_a is None else min(prospective, advised_a)
    able = [f for f in styles if f.breaking_a >= breaks and f.limit_v >= supply_v]
    fitting = [f for f in able if f.ratings_a[-1] >= need]
    if style:
        named = [f for f in styles if f.name == style]
        if not named:
            raise InputError("style of fuse", style, ", ".join(f.name for f in styles))
        fuse = named[0]
    else:
        has = [f for f in styles if rating_a is None or rating_a in f.ratings_a] or list(styles)
        strongest = max(has, key=lambda f: f.breaking_a)
        fuse = next((f for f in has if f in fitting), next((f for f in has if f in able), strongest))
    if rating_a is not None and rating_a not in fuse.ratings_a:
        raise InputError(f"rating of a {fuse.name} fuse, A", rating_a, ", ".join(f"{r:g}" for r in fuse.ratings_a))
    rating = next((r for r in fuse.ratings_a if r >= need * (1 - 1e-9)), None)
    peak = 2 * continuous_a if peak_a is None else peak_a
    checks = [
        _rating_check(fuse, rating, continuous_a, own_a),
        breaking_check(fuse, prospective, supply_v, need, advised_a, stock),
    ]
    if rating is not None:
        checks.append(_peak_check(rating, continuous_a, peak))
    why = "twice the rated current: the crest of a bass tone at full power"
    assumed = (Assumed("peak", peak, "A", why),) if peak_a is None else ()
    color = "" if rating is None else fuse.color(rating)
    return FuseChoice(
        rating, fuse.name, color, fuse.breaking_a, prospective, continuous_a, peak, fuse.cited, assumed, tuple(checks)
    )


def place_check(distance_m: float | None, sleeved: bool | None = None) -> Check:
    """How far along the cable the main fuse sits from the battery: before it only length and cover save the cable."""
    far = distance_m is not None and distance_m > PLACE_M
    worst = distance_m is not None and distance_m > SLEEVED_M
    rubs = distance_m is not None and distance_m > BARE_M and sleeved is False
    said = "The main fuse sits {d} from the battery; {limit} is the maximum"
    if distance_m is None:
        said = "The main fuse belongs within {limit} of the battery: before it nothing protects the cable"
    if rubs and not far:
        said += ", and the cable before it runs bare"
    verdict: Verdict = "stop" if worst else "caution" if far or rubs or distance_m is None else "ok"
    remedy = (
        "" if verdict == "ok" else "Move it to the battery; sleeve the cable before it and keep that off every edge"
    )
    numbers = (("d", distance_m or 0.0, "m"), ("limit", PLACE_M, "m"))
    sources = (
        "ANSI/RVIA low-voltage standard, 18 in (from memory)",
        "ABYC E-11 (2004) 11.12: 7 in, 72 in where sheathed",
    )
    return check_of(
        "power.fuse-place", verdict, said, remedy, numbers, (distance_m, PLACE_M, "m"), sources=sources,
        key="fuse.distance",
    )  # fmt: skip


def _rating_check(fuse: FuseRow, rating: float | None, continuous: float, own: float) -> Check:
    working = (
        CalculationLine("I", "rated current behind it", continuous, "A"),
        CalculationLine("I/0.8", "so that it is loaded to 80 %", continuous / LOADED, "A", "ISO 8820-2 (from memory)"),
        CalculationLine("F", "the loads' own fuses together", own, "A"),
    )
    sources = (fuse.cited, "ISO 8820-2 (from memory)", PRACTICE)
    most = fuse.ratings_a[-1]
    numbers: Quantities = (
        ("need", max(continuous, own), "A"), ("style", fuse.name, ""), ("most", most, "A"), ("i", continuous, "A"),
        ("r", rating or 0.0, "A"), ("more", max(continuous / LOADED, own), "A"),
    )  # fmt: skip
    if rating is None:
        said, remedy = "{need} are behind this fuse; a {style} ends at {most}", "Two runs with a fuse each"
        return check_of("power.fuse", "stop", said, remedy, numbers, (None, most, "A"), working, sources)
    # 5 % below the margin is still the margin; a fuse below its loads' own opens first, where it is worse to reach.
    tight = continuous > LOADED * rating * 1.0001 or own > rating
    remedy = "{more} or more, if the cable stands it" if tight else ""
    value = (continuous, LOADED * rating, "A")
    return check_of(
        "power.fuse", "caution" if tight else "ok", "{r} {style} fuse for {i}", remedy, numbers, value, working, sources
    )


def breaking_check(
    fuse: FuseRow,
    prospective_a: float,
    supply_v: float,
    rating_a: float = 0.0,
    advised_a: float | None = None,
    stock: Stock | None = None,
) -> Check:
    """What a fuse breaks against what a short draws where it sits; arguments as of `choose_fuse`."""
    need = prospective_a if advised_a is None else min(prospective_a, advised_a)
    able = (f for f in fuses_of(stock) if f.breaking_a >= need and f.limit_v >= supply_v)
    better = next((f for f in able if f.ratings_a[-1] >= rating_a), None)
    bad = need > fuse.breaking_a or supply_v > fuse.limit_v
    sure = advised_a is None or supply_v > fuse.limit_v
    said = "A short here draws {short}; this fuse breaks {breaks}"
    if not sure:
        said = "This fuse breaks {breaks}, as is advised here: what a short draws is not known, as no resistance of the battery is entered"
    if bad:
        said = "A short here draws {short}; this fuse cannot break more than {breaks} and may burn on"
    if bad and not sure:
        said = "No short-circuit current of this battery entered yet, perhaps {short}; a fuse that breaks {need} is advised, this one breaks {breaks}"
    numbers: Quantities = (("short", prospective_a, "A"), ("breaks", fuse.breaking_a, "A"), ("need", need, "A"))
    remedy = "Have the battery's maker name a fuse that breaks this current"
    if better is not None:
        remedy = (
            "A {style} fuse ({enough}) at the battery; this one may stay farther on, where the cable lowers the current"
        )
        numbers += (("style", better.name, ""), ("enough", better.breaking_a, "A"))
    return check_of(
        "power.fuse-breaking", ("stop" if sure else "caution") if bad else "ok", said, remedy if bad else "", numbers,
        (prospective_a, fuse.breaking_a, "A"),
        (
            CalculationLine(
                "Ik", "every source: highest rest voltage over its own and the cable's nominal resistance, cold; or its limit",
                prospective_a, "A",
            ),
            CalculationLine("Ib", f"what a {fuse.name} fuse breaks", fuse.breaking_a, "A", fuse.cited),
            CalculationLine("U", "highest supply; the fuse breaks at most", supply_v, "V", f"{fuse.limit_v:g} V: {fuse.cited}"),
        ),
        (fuse.cited,),
    )  # fmt: skip


def _peak_check(rating: float, continuous: float, peak: float) -> Check:
    least, _ = operating_s(peak / rating)
    steady, most = operating_s(continuous / rating)
    opens = continuous > 1.1 * rating
    bad = opens or least < _PEAK_S
    said = "Crests of {peak} may open this fuse" if bad else "Crests of {peak} are too short to open it"
    if opens:
        said = "{i} for long opens this fuse, after {t} at the earliest"
    remedy = "The next rating up, if the cable stands it; or less gain" if bad else ""
    memory = "ISO 8820-3 (from memory)"
    return check_of(
        "power.fuse-peak", "caution" if bad else "ok", said, remedy,
        (("i", continuous, "A"), ("t", steady, "s"), ("peak", peak, "A")), (peak, None, "A"),
        (
            CalculationLine("t", "a crest lasts, half a period of 20 Hz", _PEAK_S, "s"),
            CalculationLine("t1", "least time to open at the crest", least, "s", memory),
            CalculationLine("t2", "most time to open at the rated current", most if isfinite(most) else None, "s", memory),
        ),
        ("ISO 8820-3 operating times (from memory)",),
    )  # fmt: skip
