"""What stands before the metal against the trim's flat: rim, part, heads, and the cone at the limit of its travel.

The flat is a ring at one height, whether foam presses on it or not.  What hits it is in two parts: where a body and
the flat surely share a radius, and where they may.  Millimeters from the axis and from the face of the metal.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import hypot

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.fit.assembly import Doubted
from backwave.uncertainty import Reading

Span = tuple[float, float]


@dataclass(frozen=True)
class TrimFlat:
    """The ring of the trim that stands nearest to the metal beside the grille."""

    height: Reading  # mm from the metal
    sure: Span  # mm, radii where it surely is
    may: Span  # mm, radii where it may be
    ask: str = ""  # what of it nobody entered: "trim.inner"; "": nothing


@dataclass(frozen=True)
class Before:
    """A round body before the metal."""

    name: str  # behind "the": "rim", "cone at the limit of its travel"
    part: str  # of the finding's id
    heights: tuple[tuple[Reading, float], ...]  # what its top is the sum of, and how much of each
    sure: Span  # mm, radii where its top surely is
    may: Span  # mm, radii where its top may be
    margin_mm: float = 0.0  # what moves keeps some room


def flat_checks(flat: TrimFlat, bodies: Iterable[Before]) -> tuple[Check, ...]:
    """One check (`fit.flat`) for each body that may share a radius with the flat; ok only where its top is below."""
    return tuple(_check(flat, body) for body in bodies if _share(flat.may, body.may))


def edge_unread(moving: Iterable[Check]) -> tuple[Check, ...]:
    """One question for all that moves, where nobody entered how far in the flat reaches and some of it may hit."""
    checks = tuple(moving)
    if all(check.verdict == "ok" for check in checks):
        return checks
    tightest = min(checks, key=lambda check: (check.value or 0.0) - (check.limit or 0.0))
    title = "The cone was not compared with the flat of the trim: how far in this reaches is not entered. "
    return (
        replace(
            tightest,
            title=Message(title + tightest.title.template, tightest.title.quantities),
            remedy=Message("Measure the flat's inner diameter (trim: inner = ...), or the open grille's (grille = ...)"),
            key="trim.inner",
            part="inner",
        ),
    )  # fmt: skip


def _share(a: Span, b: Span) -> bool:
    return max(a[0], b[0]) < min(a[1], b[1]) - 1e-9


def _at(reading: Reading, side: float) -> float:
    """As entered; what was not entered at the low or high end of what it may be."""
    if reading.assumed and reading.plausible is not None and side:
        return reading.plausible[side > 0.0]
    return reading.value


def _check(flat: TrimFlat, body: Before) -> Check:
    parts = ((flat.height, 1.0), *((reading, -share) for reading, share in body.heights))
    doubt = 2.0 * hypot(*(share * reading.u for reading, share in parts))  # 95 in 100, as every room of `fit`
    worst, value, best = (sum(share * _at(r, side * share) for r, share in parts) for side in (-1, 0, 1))
    room = Doubted(value, worst - doubt, best + doubt)
    verdict: Verdict = room.verdict(body.margin_mm)
    meets = _share(flat.sure, body.sure)
    if verdict == "stop" and not meets:
        verdict = "caution"
    about = (
        ("room", abs(room.value_mm), "mm"), ("margin", body.margin_mm, "mm"),
        ("need", max(body.margin_mm - room.low_mm, 0.0), "mm"), ("inner", 2.0 * flat.may[0], "mm"),
    )  # fmt: skip
    verb = "hits" if room.value_mm < 0.0 else "clears"
    if body.name.endswith("s"):
        verb = verb[:-1]
    title = f"The {body.name} {verb} the flat of the trim by {{room}}"
    title += "; needs {margin} of room" if body.margin_mm else ""
    remedy = "Lower the speaker by {need} (thinner adapter, deeper recess), or space the trim out by {need}"
    if verdict == "caution" and not meets:
        title += ", if the flat reaches there"
        remedy = "Measure the flat of the trim: inner and outer diameter (inner = ..., outer = ...)"
        if not flat.ask:
            remedy = "Push the cone out by hand with the trim held on and look, or lower the speaker by {need}"
    return Check(
        "fit.flat",
        verdict,
        Message(title, about),
        value=room.value_mm,
        limit=body.margin_mm,
        unit="mm",
        low=room.low_mm,
        high=room.high_mm,
        remedy=None if verdict == "ok" else Message(remedy, about),
        working=(
            CalculationLine("l", "metal to the flat of the trim", flat.height.value, "mm", "the job"),
            *(
                CalculationLine(f"{share:g} x", reading.name, reading.value, "mm", "assumed" if reading.assumed else "")
                for reading, share in body.heights
                if reading.value
            ),
            CalculationLine("x", "l less their sum", room.value_mm, "mm", "geometry"),
            CalculationLine("low", "the least it may be", room.low_mm, "mm", "two standard uncertainties"),
            CalculationLine("ri", "radius from which the flat may begin", flat.may[0], "mm", "the job" if not flat.ask else PRACTICE),
            CalculationLine("r", "radius to which it may reach", body.may[1], "mm", "driver and part"),
        ),
        sources=("geometry", PRACTICE),
        key="" if verdict == "ok" else flat.ask if not meets and flat.ask else "trim.land",
        part=body.part,
    )  # fmt: skip
