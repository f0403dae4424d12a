"""A reading: a value with named error terms, and how several readings of one thing become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

Kind = Literal["rectangular", "normal", "disc"]


@dataclass(frozen=True, slots=True)
class Error:
    """One independent source of error.
    A `disc` is one coordinate of a point that lies anywhere in a circle with equal chance: a bolt in its hole.
    """

    name: str  # the same name in two readings means the same error, drawn once
    kind: Kind  # shape of the distribution (JCGM 101:2008, 6.4)
    size: float  # half-width, standard uncertainty of a normal one, radius of a disc; unit of the reading

    @property
    def u(self) -> float:
        """Standard uncertainty: a/sqrt(3) for a half-width a (JCGM 100:2008, 4.3.7), a/2 for a disc's radius a."""
        return self.size * _U[self.kind]

    @property
    def bound(self) -> float:
        """What a worst case takes: the half-width, 2 u where there is none, a disc's edge in both coordinates."""
        return self.size * _BOUND[self.kind]


_U: dict[Kind, float] = {"rectangular": 1.0 / sqrt(3.0), "normal": 1.0, "disc": 0.5}
_BOUND: dict[Kind, float] = {"rectangular": 1.0, "normal": 2.0, "disc": 1.0 / sqrt(2.0)}


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or stated number."""

    name: str  # the job key it came from ("front-door.behind[0].clear"): what a person would read again
    value: float  # best estimate, unit of the caller
    errors: tuple[Error, ...] = ()  # independent terms that add up; empty for an exact number
    taken: int = 1  # how many independent times it was read (2 or more satisfies "read twice")
    assumed: bool = False  # a default nobody measured
    plausible: tuple[float, float] | None = None  # what it may be where it is assumed, unit of the caller

    @property
    def u(self) -> float:
        """Combined standard uncertainty of the reading (root sum of squares)."""
        return hypot(*(e.u for e in self.errors))

    @property
    def bound(self) -> float:
        """Worst-case half-width: the terms' bounds added."""
        return sum(e.bound for e in self.errors)


def exact(name: str, value: float) -> Reading:
    """A number with no error, such as a dimension we choose. value : float, unit of the caller `value`, any unit."""
    return Reading(name, value)


# Student's t at 97.5 % by degrees of freedom 1..15 (JCGM 100:2008, Table G.2), for `mean_reading`.
_T95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131)
_Z95 = 1.959964


def mean(values: Sequence[float]) -> float:
    """The best estimate of several readings of one thing.
    values : sequence of float, unit of the caller; one reading or more `values`, any unit.
    """
    return sum(values) / len(values)


def mean_reading(name: str, values: Sequence[float], instrument: Error | None) -> Reading:
    """Several readings of one thing: their mean, with s/sqrt(n) widened to Student's 95 %.
    The scatter is drawn as normal, widened so that its normal 95 % equals Student's (t with 2 degrees of freedom has no
    variance); the instrument's error comes once on top. `values`, unit of the caller: two or more readings;
    `instrument`, unit of the caller; ValueError: fewer than two values.
    """
    n = len(values)
    if n < 2:
        raise ValueError("a list of readings needs two or more")
    middle = mean(values)
    s = hypot(*(v - middle for v in values)) / sqrt(n - 1)
    t = _T95[n - 2] if n - 2 < len(_T95) else _Z95 * (1 + 1.2 / (n - 1))
    scatter = Error(name, "normal", s / sqrt(n) * t / _Z95)
    errors = (scatter,) if instrument is None else (scatter, instrument)
    return Reading(name, middle, errors, taken=n)
