"""Findings that need the job and a fit together: what was not read here, what to read again, what is too thin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from backwave.assess.place_result import PlaceResult
from backwave.finding import PRACTICE, Check, Message
from backwave.fit import Advice, Fit, GaugeTrial
from backwave.fit.plausible import RANGES, row_of
from backwave.job import Place
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.units import Quantity

ON_RIM = ("fit.foam-ring", "fit.total-height", "fit.flat.rim", "fit.flat.driver-heads", "fit.screw.driver")


def advice_checks(advice: Advice | None) -> list[Check]:
    """Which one reading to take again."""
    if advice is None or advice.kind == "settled":
        return []
    entered = next((row.entered for key, row in RANGES.items() if advice.reading.endswith(f".{key}")), "")
    waits = (f"fit.assumed.{entered}",) if entered else ()
    return [
        Check("fit.read-again", "caution", advice.text, key=advice.reading, sources=("JCGM 100:2008",), waits=waits)
    ]


def mirrored_checks(place: Place, fit: Fit, stand_in: GaugeTrial | None) -> list[Check]:
    """A second side on which nothing was read."""
    tried = stand_in is not None and stand_in.of != "other"
    if not place.mirrored or "behind" in place.own or tried or not fit.clearances:
        return []
    return [
        Check(
            "fit.mirrored",
            "caution",
            Message("Nothing was measured on this side: it is assumed to mirror the other"),
            remedy=Message("Measure once behind the face here, to check: regulator, motor and loom are not mirrored"),
            sources=(PRACTICE,),
            key=f"opening.{place.opening.id}.{place.side}.behind",
        )
    ]


def pattern_checks(speaker: SpeakerTable, place: Place) -> list[Check]:
    """A driver whose holes nobody measured; `mount.held` asks what holds one that has none."""
    if speaker.kind == "tweeter" or place.opening.held_by not in (None, "screws"):
        return []
    return [
        Check(
            "job.missing",
            "caution",
            Message("No holes of the speaker entered yet"),
            remedy=Message("Measure the bolt circle and the holes: holes = {{ count, circle, diameter, first }}"),
            key=f"speaker.{speaker.id}.holes",
            part="holes",
        )
    ]


def with_rim_asked(found: PlaceResult) -> PlaceResult:
    """The same place; where no rim was entered, with the question for it, and what rests on it waiting."""
    rim, name = found.driver.rim, "fit.assumed.rim"
    if rim is None or not rim.assumed or rim.plausible is None:
        return found

    def waiting(checks: Sequence[Check]) -> tuple[Check, ...]:
        return tuple(
            replace(c, waits=(*c.waits, name)) if c.verdict == "caution" and c.name in ON_RIM else c for c in checks
        )

    fit_checks = waiting(found.fit_checks)
    if not any(c.name == name and c.verdict == "caution" for c in fit_checks):
        rests = any(c.name in ON_RIM for c in found.checks)
        low, high = rim.plausible
        about = (("low", low, "mm"), ("high", high, "mm"), ("taken", rim.value, "mm"))
        ask = Check(
            "fit.assumed",
            "caution" if rests else "ok",
            Message("Not entered: the rim; it may be {low} to {high} thick, {taken} is taken", about),
            remedy=Message("Measure how thick the rim of the frame is") if rests else None,
            sources=(row_of(rim.name).standing,),
            key=rim.name,
            part="rim",
        )
        fit_checks = (*(c for c in fit_checks if c.name != name), ask)
    return replace(
        found,
        fit_checks=fit_checks,
        foam=replace(found.foam, checks=waiting(found.foam.checks)),
        part_checks=waiting(found.part_checks),
    )


def notch_checks(adapter: AdapterTable, notch_deg: float | None) -> list[Check]:
    """A notch that should follow terminals of which nobody knows where they are."""
    if adapter.notch != "terminals" or notch_deg is not None:
        return []
    return [
        Check(
            "job.missing",
            "caution",
            Message("The notch is left out: nobody has said where the terminals are"),
            remedy=Message("Enter the angle of the terminals, the speaker seen from its front: terminals.angle"),
            key="adapter.notch",
            part="notch",
        )
    ]


def thickness_checks(adapter: AdapterTable, thickness: float, least: float) -> list[Check]:
    """A fixed thickness that leaves too little material."""
    if isinstance(adapter.thickness, Quantity) and thickness < least - 1e-9:
        return [
            Check(
                "part.engagement",
                "stop",
                Message(
                    "The adapter is {thickness} thick; its threads and heads need {least}",
                    (("thickness", thickness, "mm"), ("least", least, "mm")),
                ),
                value=thickness,
                limit=least,
                unit="mm",
                remedy=Message(
                    "Make it {least} thick, or take shorter inserts and flatter heads", (("least", least, "mm"),)
                ),
                part="thickness",
                key="adapter.thickness",
            )
        ]
    return []
