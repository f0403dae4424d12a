"""What a person calls each thing of a job."""

from __future__ import annotations

from collections.abc import Mapping

from backwave.job import Job, Place


def names_of(job: Job, here: Mapping[str, Place]) -> dict[str, str]:
    """What a person calls each subject of a finding: "front-door.left" is "Front door, left"."""
    names = {speaker.id: speaker.name or speaker.id for speaker in job.file.speaker}
    ids = [source.id for source in job.file.source] + [box.id for box in job.file.box]
    names |= {one: one.replace("-", " ").capitalize() for one in ids}
    names |= {stage.id: stage.title or stage.id for stage in job.file.stage}
    names |= {place.opening.id: (place.opening.name or place.opening.id).replace("-", " ") for place in here.values()}
    names |= {subject: place.name for subject, place in here.items()}
    return {
        **names,
        "job": job.file.title,
        "vehicle": "The vehicle",
        "harness": "The harness",
        "factory": "The factory system",
    }
