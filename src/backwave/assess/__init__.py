"""A job becomes an assessment: the only place that knows both the job file and the rooms.

    assess           everything that follows from a job, in one frozen value
    check_json       that value as the JSON others rely on
    finding_json     one finding of it
    with_solids      what `make` measured on the solids, while it was measured on these very parts

From: a `backwave.job.Job`.  Units: as the rooms have them (millimeters, degrees, kilograms, newtons).  Reads no file,
formats nothing for a person, never loads the solid kernel.  Meeting floor.
"""

from __future__ import annotations

from backwave.assess.export import check_json, finding_json, words
from backwave.assess.flow import assess
from backwave.assess.memo import Memo
from backwave.assess.result import Assessment, Assumed, PlaceFit, PlacePart
from backwave.assess.solids import from_plain, part_digest, to_plain, with_solids

__all__ = [
    "Assessment",
    "Assumed",
    "Memo",
    "PlaceFit",
    "PlacePart",
    "assess",
    "check_json",
    "finding_json",
    "from_plain",
    "part_digest",
    "to_plain",
    "with_solids",
    "words",
]
