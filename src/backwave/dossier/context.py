"""What the pages are told: a job with everything that follows from it, and what stands on every page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from backwave.dossier.photos import Photos
from backwave.drawing.styles import LEAST_SCALE
from backwave.files.pdf import svg_size_mm
from backwave.finding import figures, verdict_line, words
from backwave.units import show

if TYPE_CHECKING:
    from backwave.assess import Assessment
    from backwave.assess.work.work_plan import Working
    from backwave.finding import Check, Message
    from backwave.job import Job

TEMPLATE = "dossier/templates/dossier.typ"


@dataclass(frozen=True)
class PageContext:
    """Everything the pages are told."""

    job: Job  # Assessment, what was measured, what follows from it, what is to be done
    result: Assessment  # Working
    working: Working
    revision: str = "1"  # what stands on every page; the date may be ""
    date: str = ""
    paper: str = "A4"
    # parts that were made from these very numbers
    entries: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    photos: Photos = field(default_factory=Photos)  # photographs that the record names

    @property
    def system(self) -> str:
        """What a person reads in."""
        return self.result.show

    @property
    def digest(self) -> str:
        """The job file's digest, as long as a page needs it."""
        return self.result.digest[:12]

    def say(self, text: Message | None) -> str:
        """A template filled in."""
        return words(text, self.system) or ""

    def name(self, subject: str) -> str:
        """What a person calls a subject; an id that has no name is spoken as it is."""
        spoken = subject.replace("-", " ").capitalize() if "." not in subject else subject
        return self.result.names.get(subject, spoken)

    def show(self, value: float | None, unit: str, places: int | None = None) -> str:
        """A number in the job's units; "" for none."""
        return "" if value is None else show(value, unit, self.system, places)

    def line(self, check: Check) -> str:
        """What a check found, as verdicts are read."""
        return verdict_line(check, self.system)

    def figures(self, check: Check) -> tuple[str, str, str]:
        """Value, 95 % ends and limit of a verdict line."""
        return figures(check, self.system)

    @property
    def text_mm(self) -> tuple[float, float]:
        """Width and height of a page's text, as the template leaves it."""
        return (173.0, 258.0) if self.paper == "A4" else (178.9, 240.4)

    @property
    def wide_mm(self) -> tuple[float, float]:
        """The same of a page that lies on its side."""
        wide, high = self.text_mm
        return (high + 2.0, wide - 2.0)  # margins: 37 mm on the sides, 39 mm above and below

    def share(self, svg: str, height: float) -> float:
        """So much of the text's width that a drawing takes no more than a part of the text's height, if it can be read so."""
        wide, high = self.text_mm
        least = LEAST_SCALE * float(svg.partition('viewBox="0 0 ')[2].split()[0]) / wide
        return min(1.0, max(least, height * high / svg_size_mm(svg, wide)[1]))

    def data(self, kind: str, *, private: bool = True) -> dict[str, Any]:
        """What stands on every page of a document; one that is shown to others names neither job nor date."""
        return {"title": self.result.title, "kind": kind, "paper": self.paper, "private": private}

    @property
    def stamp(self) -> dict[str, str]:
        """What stands on every page and changes with every edit: the typesetter reads it where it stands."""
        return {
            "revision": self.revision, "date": self.date, "digest": self.digest, "whole": self.result.digest,
        }  # fmt: skip
