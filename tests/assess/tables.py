"""Tables of a job made of numbers, without a file: what the readers of `assess.inputs` are given."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from backwave.job import Job, Place, places
from backwave.job.model import FORMAT, JobFile
from backwave.uncertainty import exact

__all__ = ["ring", "sized", "table_job", "the_places"]


def table_job(**tables: Any) -> Job:
    """A job of these tables."""
    file = JobFile.model_validate({"format": FORMAT, "title": "Tables", **tables})
    return Job(file, None, "", (), (), ())


def the_places(job: Job) -> dict[str, Place]:
    """Its openings on their sides, by subject."""
    return {place.subject: place for place in places(job)}


def ring(**lengths: float) -> Any:
    """A foam ring as the fit works it out, in mm."""
    return SimpleNamespace(**{"free_mm": 8.0, "closed_mm": 3.0, "width_mm": 10.0, "inner_mm": 160.0, "outer_mm": 180.0} | lengths)  # fmt: skip


def sized(
    seat_height_mm: float = 20.0, foam_ring: Any = None, thickness_mm: float = 18.0, bore_mm: float = 70.0,
    clear_mm: float = 45.0,
) -> Any:  # fmt: skip
    """What the predictions read of a fit, in mm."""
    return SimpleNamespace(
        seat_height_mm=seat_height_mm, foam=SimpleNamespace(front=foam_ring),
        opening=SimpleNamespace(trim_clear=exact("clear", clear_mm)),
        spec=SimpleNamespace(thickness_mm=thickness_mm, bore_mm=bore_mm),
    )  # fmt: skip
