"""Findings that need the job and a fit together: what was not read here, what to read again, what is too thin."""

from __future__ import annotations

from backwave.finding import PRACTICE, Check, Message
from backwave.fit import Advice, Fit, GaugeTrial
from backwave.job import Place
from backwave.job.speaker import AdapterTable, SpeakerTable
from backwave.units import Quantity


def advice_checks(advice: Advice | None) -> list[Check]:
    """Which one reading to take again."""
    if advice is None or advice.kind == "settled":
        return []
    return [Check("fit.read-again", "caution", advice.text, key=advice.reading, sources=("JCGM 100:2008",))]


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
