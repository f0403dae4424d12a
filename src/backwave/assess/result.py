"""What an assessment is: everything that follows from a job, as frozen values that any face can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backwave.finding import Finding, Verdict

if TYPE_CHECKING:
    from backwave.drawing import FaceView, SectionView
    from backwave.fit import Fit, Window
    from backwave.fit.clocking import Clocking
    from backwave.fit.foam import FoamRing
    from backwave.part import AdapterSpec

__all__ = ["Assessment", "Assumed", "PlacePart", "PlaceFit"]


@dataclass(frozen=True)
class Assumed:
    """A number nobody gave.

    Parameters
    ----------
    key, value, why : str, no unit
        The job key, what stands in, and on what ground.
    """

    key: str
    value: str
    why: str


@dataclass(frozen=True)
class PlaceFit:
    """One driver in one opening on one side: the fit and the numbers that go with it.

    Parameters
    ----------
    opening, side, subject : str, no unit
        The opening's id, "left", "right" or "", and both together ("front-door.left").
    fit : Fit, mm
        Clearances, chances, the window.
    window : Window or None, mm
        Seat heights that work.
    clocking : Clocking or None, deg and mm
        The turn of the driver; None where there is nothing to turn against.
    ring : FoamRing or None, mm
        The foam ring in front; None where it could not be worked out.
    section : SectionView, mm
        The cut.
    face : FaceView, mm
        The view from the front.
    """

    opening: str
    side: str
    subject: str
    fit: Fit
    window: Window | None
    clocking: Clocking | None
    ring: FoamRing | None
    section: SectionView
    face: FaceView


@dataclass(frozen=True)
class PlacePart:
    """The part that one place needs.

    Parameters
    ----------
    id, side, subject : str, no unit
        Name of the part, its side, and the place it is for.
    spec : AdapterSpec, mm
        What to build.
    """

    id: str
    side: str
    subject: str
    spec: AdapterSpec


@dataclass(frozen=True)
class Assessment:
    """Everything that follows from a job.

    Parameters
    ----------
    title, show : str, no unit
        The job's title and the system a person reads in ("metric" or "us").
    verdict : "ok", "caution" or "stop", no unit
        The worst of all.
    findings : tuple of Finding, no unit
        Worst first, then in the order of the job.
    cautions : tuple of Finding, no unit
        What can hurt; stands beside the findings and changes no verdict.
    assumed : tuple of Assumed, no unit
        Every default that was used.
    places : tuple of PlaceFit, mm
        The fits, in the order of the job.
    parts : tuple of PlacePart, mm
        The parts that can be made.
    names : dict of str to str, no unit
        What a person calls each subject: "front-door.left" is "Front door, left".
    digest : str, no unit
        Of the job file as it was read.
    """

    title: str
    show: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    cautions: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]
    places: tuple[PlaceFit, ...]
    parts: tuple[PlacePart, ...]
    names: dict[str, str] = field(default_factory=dict)
    digest: str = ""
