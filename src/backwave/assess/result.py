"""What an assessment is: everything that follows from a job, as frozen values that any face can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backwave.assumptions import Assumed
from backwave.finding import Finding, Verdict

if TYPE_CHECKING:
    from backwave.assess.inputs.factory import FactoryRecord
    from backwave.assess.place_result import PlaceResult
    from backwave.assess.power.results import Harnessed, Wires
    from backwave.assess.proof.before_after import Proof
    from backwave.assess.sound.results import Prediction
    from backwave.part.order import PartOrder


@dataclass(frozen=True)
class Assessment:
    """Everything that follows from a job."""

    title: str  # the job's title and the system a person reads in ("metric" or "us")
    show: str
    verdict: Verdict
    findings: tuple[Finding, ...]  # worst first, then in the order of the job
    cautions: tuple[Finding, ...]  # what can hurt; stands beside the findings and changes no verdict
    assumed: tuple[Assumed, ...]  # every default that was used
    places: tuple[PlaceResult, ...]  # mm, each place's dimensions, fit and part, in the order of the job
    # what a person calls each subject: "front-door.left" is "Front door, left"
    names: dict[str, str] = field(default_factory=dict)
    digest: str = ""  # of the job file as it was read
    prediction: Prediction | None = None  # what each stage will bring; None where no stage can be predicted
    wires: Wires | None = None  # supply, cables, fuses, gains; None where nothing draws current
    harness: Harnessed | None = None  # what goes to what in the last stage; None without one
    # pairs of factory wires and what the factory system does; None where nobody recorded any
    factory: FactoryRecord | None = None
    # what the readings say beside what was predicted; None until they are heard (`proving.with_proof`)
    proof: Proof | None = None

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        """What is not ok and waits for no other answer: what a person sees first."""
        return tuple(f for f in self.findings if f.check.verdict != "ok" and not f.check.waits)

    @property
    def waiting(self) -> tuple[Finding, ...]:
        """Cautions that an open question settles."""
        return tuple(f for f in self.findings if f.check.waits)

    @property
    def parts(self) -> tuple[PartOrder, ...]:
        """The parts that can be made, in the order of their places."""
        return tuple(place.part for place in self.places)
