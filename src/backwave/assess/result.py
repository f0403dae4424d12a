"""What an assessment is: everything that follows from a job, as frozen values that any face can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backwave.assumptions import Assumed
from backwave.finding import Finding, Verdict

if TYPE_CHECKING:
    from backwave.assess.inputs.factory import FactoryRecord
    from backwave.assess.place_result import PlaceResult
    from backwave.assess.power.harness_result import Harnessed
    from backwave.assess.power.supply import Wires
    from backwave.assess.proof.before_after import Proof
    from backwave.assess.sound.results import Prediction
    from backwave.part.order import PartOrder

__all__ = ["Assessment"]


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
    places : tuple of PlaceResult, mm
        Each place's dimensions, fit and part, in the order of the job.
    names : dict of str to str, no unit
        What a person calls each subject: "front-door.left" is "Front door, left".
    digest : str, no unit
        Of the job file as it was read.
    prediction : Prediction or None, no unit
        What each stage will bring; None where no stage can be predicted.
    wires : Wires or None, no unit
        Supply, cables, fuses, gains; None where nothing draws current.
    harness : Harnessed or None, no unit
        What goes to what in the last stage; None without one.
    factory : FactoryRecord or None, no unit
        Pairs of factory wires and what the factory system does; None where nobody recorded any.
    proof : Proof or None, no unit
        What the readings say beside what was predicted; None until they are heard (`proving.with_proof`).
    """

    title: str
    show: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    cautions: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]
    places: tuple[PlaceResult, ...]
    names: dict[str, str] = field(default_factory=dict)
    digest: str = ""
    prediction: Prediction | None = None
    wires: Wires | None = None
    harness: Harnessed | None = None
    factory: FactoryRecord | None = None
    proof: Proof | None = None

    @property
    def parts(self) -> tuple[PartOrder, ...]:
        """The parts that can be made, in the order of their places."""
        return tuple(place.part for place in self.places)
