"""What a reading taught the prediction: each unknown with its bounds, and how well it does on a reading it has not seen."""

from __future__ import annotations

from dataclasses import dataclass

from backwave.assess.proof.before_after import Expected
from backwave.finding import Finding
from backwave.measure.model_fit import Learned

__all__ = ["Lesson", "Taught"]


@dataclass(frozen=True)
class Taught:
    """One unknown, in the units of its key.

    Parameters
    ----------
    key, words : str, no unit
        The job's key, and what a person calls it.
    unit : str, no unit
        Of what follows; "" for none.
    was, value, low, high, least, most : float, `unit`
        Value so far; best estimate now with its 95 % interval; the bounds within which it was sought.
    moved, at_bound : bool, no unit
        Whether the reading says anything of it, and whether it ran into a bound.
    narrowed : float, no unit
        How wide its doubt is now, against before.
    """

    key: str
    words: str
    unit: str
    was: float
    value: float
    low: float
    high: float
    least: float
    most: float
    moved: bool
    at_bound: bool
    narrowed: float

    @property
    def written(self) -> str | float:
        """As it goes into the job: with its standard uncertainty where the key takes one."""
        if not self.unit:
            return float(f"{self.value:.2g}")
        return f"{self.value:.3g} {self.unit} u {max((self.high - self.low) / 3.92, 1e-3 * self.value):.2g} {self.unit}"


@dataclass(frozen=True, eq=False)
class Lesson:
    """What a reading taught, and how well it does on one it has not seen.

    Parameters
    ----------
    seat, stage : str, no unit
        Whose reading.
    taught : tuple of Taught, no unit
        One for each unknown.
    learned : Learned, no unit
        The fit.
    before_db, after_db : float, dB
        Root mean square between prediction and this reading, level free, 30 to 400 Hz, before and after learning.
    shift_db : float, dB
        By how much the prediction itself moved.
    unseen : (stage, before, after) or None, dB
        The same distances for the later stage's reading, which the fit has not seen.
    expected : Expected or None, dB
        The prediction of the later stage (or of this one) with what was learned.
    findings : tuple of Finding, no unit
        What the reading did not move, or drove to its bound.
    """

    seat: str
    stage: str
    taught: tuple[Taught, ...]
    learned: Learned
    before_db: float
    after_db: float
    shift_db: float
    unseen: tuple[str, float, float] | None
    expected: Expected | None
    findings: tuple[Finding, ...]

    @property
    def changes(self) -> dict[str, str | float]:
        """What goes into the job to keep it: keys and values of what the reading moved."""
        return {one.key: one.written for one in self.taught if one.moved}
