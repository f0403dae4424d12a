"""The harness of a job: generated from the paths of its last stage, with what the person said of single wires."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from backwave.errors import InputError
from backwave.finding import Check, Finding, Text, worst
from backwave.job import Job, Place
from backwave.power.harness import Harness, PathSpec, Wire
from backwave.power.harness_build import harness_of
from backwave.power.harness_check import check_harness
from backwave.power.harness_rows import CutRow, LabelRow, ScheduleRow, cut_list, labels, schedule

if TYPE_CHECKING:
    from backwave.drawing import HarnessView

Side = Literal["left", "right", ""]

__all__ = ["Harnessed", "harness_json", "harness_view", "harnessed"]


@dataclass(frozen=True)
class Harnessed:
    """The harness and its lists.

    Parameters
    ----------
    harness : Harness, no unit
        Devices and wires.
    schedule : tuple of ScheduleRow, no unit
        Every wire.
    cuts : tuple of CutRow, no unit
        What to cut, by color and size.
    labels : tuple of LabelRow, no unit
        Two a wire.
    findings : tuple of Finding, no unit
        What was found.
    """

    harness: Harness
    schedule: tuple[ScheduleRow, ...]
    cuts: tuple[CutRow, ...]
    labels: tuple[LabelRow, ...]
    findings: tuple[Finding, ...]


def harnessed(job: Job, here: dict[str, Place]) -> Harnessed | Check | None:
    """The harness of the last stage; a check where the wires a person named do not fit it, None without a stage.

    Parameters
    ----------
    job : Job, no unit
        The job.
    here : dict of str to Place, no unit
        Openings on their sides, by subject.
    """
    if not job.file.stage:
        return None
    kinds = {speaker.id: speaker.kind for speaker in job.file.speaker}
    paths = []
    for path in job.file.stage[-1].path:
        sides: list[tuple[Side, str, bool]] = [(path.side or "", path.box or "", False)]
        if path.opening is not None:
            sides = [
                (_side(place), path.opening, place.opening.zone == "door")
                for place in here.values()
                if place.opening.id == path.opening and path.side in (None, place.side)
            ]
        for side, target, door in sides:
            # without a side a channel has one pair of terminals for each
            channel = path.channel if path.side is not None or not side else f"{path.channel} {side}"
            paths.append(
                PathSpec(
                    path.source, channel, path.speaker, target, side, kinds[path.speaker], path.network,
                    any(text.startswith("high-pass") for text in path.filters), path.polarity, None, door,
                )
            )  # fmt: skip
    try:
        given = [
            Wire(row.id, row.from_, row.to, row.color or "", None if row.length is None else row.length.to("m"))
            for row in job.file.wire
        ]
        made = harness_of(paths, given, ())
        found = check_harness(made)
        return Harnessed(
            made, schedule(made), cut_list(made), labels(made), tuple(Finding(check, "harness") for check in found)
        )
    except InputError as error:
        said = Text("The wires named in the job do not fit its paths: {why}", (("why", str(error), ""),))
        remedy = Text(
            "Name pins as the schedule of `backwave wire` does: {accepted}", (("accepted", error.accepted, ""),)
        )
        return Check("wire.open", "caution", said, remedy=remedy, key="wire", part="given")


def _side(place: Place) -> Side:
    return "left" if place.side == "left" else "right" if place.side == "right" else ""


def harness_json(made: Harnessed) -> dict[str, Any]:
    """The harness as JSON.

    Parameters
    ----------
    made : Harnessed, no unit
        The harness.
    """
    return {
        "devices": [{"id": d.id, "kind": d.kind, "pins": list(d.pins)} for d in made.harness.devices],
        "wires": [
            {
                "id": row.id, "from": row.from_pin, "to": row.to_pin, "color": row.color or None,
                "length_m": round(row.length_m, 3), "guessed": row.guessed, "area_mm2": row.area_mm2, "boot": row.boot,
            }
            for row in made.schedule
        ],
        "cut_list": [
            {
                "color": row.color or None, "area_mm2": row.area_mm2, "total_m": round(row.total_m, 3),
                "guessed": row.guessed, "cuts": [{"wire": w, "length_m": round(n, 3)} for w, n in row.cuts],
            }
            for row in made.cuts
        ],
        "labels": [{"wire": row.wire, "here": row.here, "there": row.there} for row in made.labels],
        "findings": [finding.id for finding in made.findings],
    }  # fmt: skip


def harness_view(made: Harnessed, title: str) -> HarnessView:
    """What the drawing of the harness is told.

    Parameters
    ----------
    made : Harnessed, no unit
        The harness.
    title : str, no unit
        The job's title.
    """
    from backwave.drawing import HarnessBox, HarnessLine, HarnessView

    pins = {f"{d.id}.{pin}": (d.id, pin) for d in made.harness.devices for pin in d.pins}
    faults = [f.check for f in made.findings if f.check.verdict != "ok"]
    wrong = {check.part for check in faults}
    verdict = worst([check.verdict for check in faults])
    return HarnessView(
        "Harness: what goes to what",
        title,
        verdict,
        "every driver on its own output, right way round" if not faults else f"{len(faults)} to look at",
        "",
        tuple(HarnessBox(d.id, d.kind, d.pins) for d in made.harness.devices),
        tuple(HarnessLine(pins[w.from_pin], pins[w.to_pin], w.id, w.id in wrong) for w in made.harness.wires),
    )
