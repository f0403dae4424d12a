"""The vehicle from above, as its drawing wants it told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backwave.assess.result import Assessment
from backwave.finding import verdict_line, worst
from backwave.job import Job, places

if TYPE_CHECKING:
    from backwave.drawing.plan_view import PlanView

_FACING = {"left": (0.0, 1.0), "right": (0.0, -1.0)}


def above(job: Job, result: Assessment) -> PlanView:
    """The vehicle from above."""
    from backwave.drawing.plan_view import PlanEar, PlanPlace, PlanView

    file, cabin = job.file, job.file.vehicle.cabin
    spots = []
    for place in places(job):
        at = place.position_m
        found = [f for f in result.findings if f.subject == place.subject]
        first = next((f for f in result.open_findings if f.subject == place.subject), None)
        spots.append(
            PlanPlace(
                place.name,
                None if at is None else (1000 * at[0], 1000 * at[1]),
                worst([f.check.verdict for f in found]) if found else None,
                verdict_line(first.check, result.show) if first is not None else "",
                facing=_FACING.get(place.side),
            )
        )
    for box in file.box:
        spot = None if box.at is None else (box.at[0].to("mm"), box.at[1].to("mm"))
        spots.append(PlanPlace(result.names.get(box.id, box.id), spot, kind="box"))
    count = len(result.open_findings)
    return PlanView(
        title=file.title,
        subtitle=file.vehicle.name or "the vehicle has no name yet",
        verdict=result.verdict,
        verdict_text=f"{count} to look at" if count else "nothing stands in the way",
        verdict_note=f"{sum(f.check.verdict == 'ok' for f in result.findings)} more are ok",
        length_mm=None if cabin is None else cabin.length.to("mm"),
        width_mm=None if cabin is None else cabin.width.to("mm"),
        ears=tuple(PlanEar(s.id, (s.ear[0].to("mm"), s.ear[1].to("mm"))) for s in file.seat),
        places=tuple(spots),
    )
