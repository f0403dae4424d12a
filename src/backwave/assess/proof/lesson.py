"""What a reading taught the prediction: each unknown with its bounds, and how well it does on a reading it has not seen."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.assess.proof.before_after import Expected
from backwave.finding import Finding
from backwave.measure.model_fit import Learned


@dataclass(frozen=True)
class Taught:
    """One unknown, in the units of its key."""

    key: str  # the job's key, and what a person calls it
    words: str
    unit: str
    # `unit`, value so far; best estimate now with its 95 % interval; the bounds within which it was sought
    was: float
    value: float  # `unit`
    low: float  # `unit`
    high: float  # `unit`
    least: float  # `unit`
    most: float  # `unit`
    moved: bool  # whether the reading says anything of it, and whether it ran into a bound
    at_bound: bool
    narrowed: float  # how wide its doubt is now, against before

    @property
    def written(self) -> str | float:
        """As it goes into the job: with its standard uncertainty where the key takes one."""
        if not self.unit:
            return float(f"{self.value:.2g}")
        return f"{self.value:.3g} {self.unit} u {max((self.high - self.low) / 3.92, 1e-3 * self.value):.2g} {self.unit}"


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a reading taught, and how well it does on one it has not seen."""

    seat: str
    stage: str
    taught: tuple[Taught, ...]  # one for each unknown
    learned: Learned
    # root mean square between prediction and this reading, level free, 30 to 400 Hz, before and after learning
    before_db: float
    after_db: float
    shift_db: float  # by how much the prediction itself moved
    # (stage, before, after) dB, the same distances for the later stage's reading, which the fit has not seen
    unseen: tuple[str, float, float] | None
    expected: Expected | None  # dB, the prediction of the later stage (or of this one) with what was learned
    findings: tuple[Finding, ...]  # what the reading did not move, or drove to its bound

    @property
    def changes(self) -> dict[str, str | float]:
        """What goes into the job to keep it: keys and values of what the reading moved."""
        return {one.key: one.written for one in self.taught if one.moved}
