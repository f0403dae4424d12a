"""What the pages are told: a job with everything that follows from it, and what stands on every page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from backwave.assess.words import words
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.working import Working
    from backwave.finding import Check, Text
    from backwave.job import Job

__all__ = ["TEMPLATE", "Told"]

TEMPLATE = "dossier/templates/dossier.typ"


@dataclass(frozen=True)
class Told:
    """Everything the pages are told.

    Parameters
    ----------
    job, result, working : Job, Assessment and Working, no unit
        What was measured, what follows from it, what is to be done.
    revision, date : str, no unit
        What stands on every page; the date may be "".
    paper : str, no unit
        "A4" or "Letter".
    entries : mapping of part id to its entry in the manifest, no unit
        Parts that were made from these very numbers.
    speakers_off : bool, no unit
        The gate before setting gains was confirmed: voltages are shown.
    """

    job: Job
    result: Assessment
    working: Working
    revision: str = "1"
    date: str = ""
    paper: str = "A4"
    entries: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    speakers_off: bool = False

    @property
    def system(self) -> str:
        """What a person reads in."""
        return self.result.show

    @property
    def digest(self) -> str:
        """The job file's digest, as long as a page needs it."""
        return self.result.digest[:12]

    def say(self, text: Text | None) -> str:
        """A template filled in."""
        return words(text, self.system) or ""

    def name(self, subject: str) -> str:
        """What a person calls a subject; an id that has no name is spoken as it is."""
        spoken = subject.replace("-", " ").capitalize() if "." not in subject else subject
        return self.result.names.get(subject, spoken)

    def show(self, value: float | None, unit: str, places: int | None = None) -> str:
        """A number in the job's units; "" for none."""
        return "" if value is None else show(value, unit, self.system, places)

    def value(self, check: Check) -> str:
        """The number a check judged."""
        return self.show(check.value, check.unit)

    def spread(self, check: Check) -> str:
        """Its 95 % ends, or ""."""
        if check.low is None or check.high is None:
            return ""
        return " … ".join(show(v, check.unit, self.system, bare=True) for v in (check.low, check.high))

    def data(self, kind: str) -> dict[str, Any]:
        """What stands on every page of a document."""
        return {
            "title": self.result.title, "kind": kind, "revision": self.revision, "date": self.date,
            "digest": self.digest, "paper": self.paper,
        }  # fmt: skip
