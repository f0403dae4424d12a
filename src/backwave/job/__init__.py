"""The job file: read with every fault named, edited with comments kept, saved whole; and where a place comes from.

    load, loads      a folder or a text becomes a `Job`, or a `JobError` with everything wrong with it
    places           every opening on every side, mirrored and with its own readings
    Bench            quantities as written become readings with their error terms, in millimeters
    disk, new        change keys of the file on disk; start a job from six readings
    toml_edit        change keys of its text, letter by letter
    session          one open job: edits with undo, saves, what happens outside; its history in log.toml
    shelf            openings and drivers measured on earlier jobs, kept and taken again
    schema           the JSON Schema and the reference page, from the model

From: text.  Units: as people write them; `Bench` and `Place` hand on millimeters and degrees.  Meeting floor:
knows the ground alone, no room and no face.
"""

from __future__ import annotations

from backwave.job import disk, schema, starter, toml_edit
from backwave.job.fields import best_mm
from backwave.job.load import FILE, Job, load, loads
from backwave.job.model import FORMAT, JobFile
from backwave.job.place import DEFAULTS, Bench, Place, Written, places
from backwave.job.session import Session

__all__ = [
    "DEFAULTS", "FILE", "FORMAT", "Bench", "Job", "JobFile", "Place", "Session", "Written", "best_mm", "disk",
    "load", "loads", "places", "schema", "starter", "toml_edit",
]  # fmt: skip
