"""What an assessment is: everything that follows from a job, as frozen values that any face can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backwave.finding import Finding, Verdict

if TYPE_CHECKING:
    from backwave.drawing import FaceView, SectionView
    from backwave.fit import Fit
    from backwave.fit.clocking import Clocking
    from backwave.fit.foam import FoamRing
    from backwave.part.process import Material, Printer, Sheet, Zone
    from backwave.part.types import AdapterSpec, RingSpec, StandInSpec

__all__ = ["Assessment", "Assumed", "PlaceFit", "PlacePart"]


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
    clocking: Clocking | None
    ring: FoamRing | None
    section: SectionView
    face: FaceView


@dataclass(frozen=True)
class PlacePart:
    """The part that one place needs, and what is made with it.

    Parameters
    ----------
    id, side, subject, label : str, no unit
        Name of the part with its side, the side, the place it is for, and what a person calls it.
    spec : AdapterSpec, mm
        What to build.
    material : Material, no unit
        What it is made of.
    how : Printer or Sheet, no unit
        How it is made.
    zone : Zone, degC
        Where it lives.
    ring : RingSpec or None, mm
        The foam ring, at its free height.
    stand_in : StandInSpec or None, mm
        The gauge to try first.
    check_ring : RingSpec, mm
        Outline and holes, a few layers thick.
    """

    id: str
    side: str
    subject: str
    label: str
    spec: AdapterSpec
    material: Material
    how: Printer | Sheet
    zone: Zone
    ring: RingSpec | None
    stand_in: StandInSpec | None
    check_ring: RingSpec


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
