"""What an assessment is: everything that follows from a job, as frozen values that any face can show.

As JSON, lengths are in millimeters whatever the job shows; no NaN.  `above` is the vehicle as its drawing wants it told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from functools import cached_property
from math import isfinite
from typing import TYPE_CHECKING, Any

from backwave.assess.next_steps import FindingGroup, NextStep, grouped, next_steps, step_json, tally
from backwave.finding import Assumed, Finding, Verdict, capped, value_words, verdict_line, words, worst
from backwave.job import Job, places

if TYPE_CHECKING:
    from backwave.assess.inputs.factory import FactoryRecord
    from backwave.assess.place_result import PlaceResult
    from backwave.assess.power.results import Harnessed, Wires
    from backwave.assess.proof.before_after import Proof
    from backwave.assess.sound.results import Prediction
    from backwave.drawing.plan_view import PlanView
    from backwave.part.order import PartOrder
    from backwave.plan import Standing
    from backwave.uncertainty import Estimate


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
    # what the readings say beside what was predicted; None until they are heard (`pipeline.with_proof`)
    proof: Proof | None = None

    @property
    def preliminary(self) -> bool:
        """Whether something was judged by first order alone, so far: no verdict of it is said to be ok."""
        return any(place.preliminary for place in self.places)

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        """What is not ok and waits for no other answer."""
        return tuple(f for f in self.findings if f.check.verdict != "ok" and not f.check.waits)

    @cached_property
    def groups(self) -> tuple[FindingGroup, ...]:
        """Every finding, twins in one line: what blocks first, what is ok last."""
        return grouped(self.findings, self.names)

    @property
    def open_groups(self) -> tuple[FindingGroup, ...]:
        """Lines of what is open: what a person sees first."""
        return tuple(group for group in self.groups if group.is_open)

    @property
    def waiting(self) -> tuple[FindingGroup, ...]:
        """Lines of cautions that an open question settles."""
        return tuple(group for group in self.groups if group.check.waits)

    def next_steps(self, tasks: Sequence[Standing] = ()) -> tuple[NextStep, ...]:
        """What to do next over the whole job. `tasks`: the plan's."""
        dummies = {place.subject: place.part.id for place in self.places if place.part.stand_in is not None}
        return next_steps(self.findings, self.names, dummies, tasks)

    @property
    def parts(self) -> tuple[PartOrder, ...]:
        """The parts that can be made, in the order of their places."""
        return tuple(place.part for place in self.places)


def check_json(result: Assessment, tasks: Sequence[Standing] = ()) -> dict[str, Any]:
    """The document of `check --json`."""
    return {
        "next": [step_json(step) for step in result.next_steps(tasks)],
        "title": result.title, "verdict": result.verdict, "findings": [finding_json(f) for f in result.findings],
        "cautions": [finding_json(f) for f in result.cautions],
        "assumed": [{"key": a.key, "value": value_words(a), "why": a.why} for a in result.assumed],
        "fit": _fits(result.places), "digest": result.digest,
    }  # fmt: skip


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding with its working."""
    check = finding.check
    return {
        "id": finding.id, "subject": finding.subject, "topic": finding.topic, "verdict": check.verdict,
        "title": words(check.title), "value": _number(check.value), "low": _number(check.low),
        "high": _number(check.high), "limit": _number(check.limit), "unit": check.unit, "chance": _chance(check.chance),
        "remedy": words(check.remedy), "key": check.key,
        "working": [asdict(step) | {"value": _number(step.value)} for step in check.working],
        "sources": list(check.sources), "waits_for": list(check.waits),
    }  # fmt: skip


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)


def _chance(value: float | None) -> float | None:
    return None if value is None else capped(value)


def _uncertain(estimate: Estimate | None) -> dict[str, float | None] | None:
    return None if estimate is None else {k: _number(v) for k, v in asdict(estimate).items()}


def _fits(places: tuple[PlaceResult, ...]) -> dict[str, Any]:
    sides: dict[str, dict[str, Any]] = {}
    worst: dict[str, tuple[float, str]] = {}
    for place in places:
        side = place.side or "only"
        sides.setdefault(place.opening_id, {})[side] = _fit(place)
        rank = (_room(place), side)
        worst[place.opening_id] = min(worst.get(place.opening_id, rank), rank)
    return {opening: held[worst[opening][1]] | {"sides": held} for opening, held in sides.items()}


def _room(place: PlaceResult) -> float:
    """How a side ranks: the chance to keep its margins, then how far the tightest is from its margin."""
    fit = place.fit
    chance = -1.0 if fit.chance_margin is None else fit.chance_margin
    spare = min((c.estimate.low - c.margin_mm for c in fit.clearances), default=0.0)
    return chance + 1e-6 * spare


def _fit(place: PlaceResult) -> dict[str, Any]:
    fit, window, ring, turn = place.fit, place.fit.window, place.foam.front, place.clocking
    ends = (window.low_mm, window.high_mm) if window is not None and window.open else (None, None)
    low, high = map(_number, ends)
    named = {name: fit.clearance(name) for name in ("glass", "grille", "hole")}
    return {
        "seat_height_mm": {"low": low, "high": high, "chosen": fit.seat_height_mm},
        **{f"{name}_clearance_mm": _uncertain(c.estimate if c else None) for name, c in named.items()},
        "worst_case_mm": {name: _number(c.worst_mm) if c else None for name, c in named.items()},
        "chance_clear": _chance(fit.chance_clear),
        "chance_margin": _chance(fit.chance_margin),
        "contributions": [{"reading": name, "share": share} for name, share in fit.contributions],
        "clocking": turn and {"angle_deg": turn.angle_deg, "gap_mm": _number(turn.gap_mm)},
        # of the force the upper end of the grade's band is judged
        "foam_ring": ring and {
            "free_mm": ring.free_mm, "closed_mm": ring.closed_mm, "compression": ring.compression,
            "force_n": ring.force_n[1], "force_band_n": list(ring.force_n),
        },
    }  # fmt: skip


_FACING = {"left": (0.0, 1.0), "right": (0.0, -1.0)}


def above(job: Job, result: Assessment) -> PlanView:
    """The vehicle from above."""
    from backwave.drawing.plan_view import PlanEar, PlanPlace, PlanView

    file, cabin = job.file, job.file.vehicle.cabin
    spots = []
    for place in places(job):
        at = place.position_m
        found = [f for f in result.findings if f.subject == place.subject]
        first = next((g for g in result.open_groups if any(f.subject == place.subject for f in g.findings)), None)
        spots.append(PlanPlace(
            place.name, None if at is None else (1000 * at[0], 1000 * at[1]),
            worst([f.check.verdict for f in found]) if found else None,
            verdict_line(first.check, result.show) if first is not None else "", facing=_FACING.get(place.side),
        ))  # fmt: skip
    for box in file.box:
        spot = None if box.at is None else (box.at[0].to("mm"), box.at[1].to("mm"))
        spots.append(PlanPlace(result.names.get(box.id, box.id), spot, kind="box"))
    return PlanView(
        title=file.title, subtitle=file.vehicle.name or "the vehicle has no name yet", verdict=result.verdict,
        verdict_text="", verdict_note=tally(result.groups),
        length_mm=None if cabin is None else cabin.length.to("mm"),
        width_mm=None if cabin is None else cabin.width.to("mm"),
        ears=tuple(PlanEar(s.id, (s.ear[0].to("mm"), s.ear[1].to("mm"))) for s in file.seat), places=tuple(spots),
    )  # fmt: skip
