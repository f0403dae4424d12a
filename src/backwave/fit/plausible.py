"""What a number that nobody entered may plausibly be, and what a clearance comes to over all of that.  Millimeters.

A check is `stop` only if it fails at every plausible value of what was not entered, and `ok` only if it holds at
every one; between the two it is `caution`, and says what to measure.  A reading that stands in for a missing one is
`assumed` and carries its range (`Reading.plausible`).

The ranges are from memory, of round drivers of 100 to 250 mm; no published source is known.  They are wide on
purpose: a number outside them is a driver to look at by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.uncertainty import Evaluator, Reading, at_estimates, exact, monte_carlo, quantile

Array = NDArray[np.float64]
Model = Callable[[Evaluator], Array]  # clearances, mm, a row each
MEMORY = "range from memory; common trade practice"
_DRAWS = 8_000  # for a 2.5 % point at one corner, to a few hundredths of its doubt
_STEPS = 240  # of a range, in search of the value that suffices
_MAX_CORNERS = 12  # readings taken at both ends together: 4096 corners; further ones stay at their estimate


@dataclass(frozen=True)
class PlausibleRange:
    """What a number may be where nobody measured it."""

    low: float  # in what `of` names
    high: float  # likewise
    of: Literal[
        "mm",
        "mm over the basket",
        "share of the mounting depth",
        "share of the cutout",
        "times Xmax",
        "mm over the frame",
        "times the frame",
    ]
    entered: str  # the key of the job that answers it, after its owner
    what: str  # in a sentence: "measure ..."
    standing: str = MEMORY


# by what is missing; readings that stand in for it are named by these keys, after their owner
RANGES: dict[str, PlausibleRange] = {
    "front": PlausibleRange(2.0, 16.0, "mm", "front", "the cone's highest point above the rim's mounting side"),
    "rim": PlausibleRange(2.0, 9.0, "mm", "rim", "how thick the rim of the frame is"),
    "motor.Xmech": PlausibleRange(3.0, 16.0, "mm", "motor.Xmech", "how far the cone can go (Xmech)"),
    "motor.Xmech of Xmax": PlausibleRange(1.2, 3.0, "times Xmax", "motor.Xmech", "how far the cone can go (Xmech)"),
    "terminals.radius": PlausibleRange(0.0, 16.0, "mm over the basket", "terminals", "how far the terminals reach from the axis"),
    "terminals.width": PlausibleRange(15.0, 50.0, "mm", "terminals", "how wide the terminals are"),
    "terminals.depth": PlausibleRange(0.15, 0.75, "share of the mounting depth", "terminals", "how far back the terminals reach"),
    "gasket": PlausibleRange(0.0, 1.5, "mm", "gasket", "how thick the speaker's own gasket is, closed"),
    # the profile between cutout, magnet and mounting depth; a cutout leaves a few mm of play
    "profile.basket.radius": PlausibleRange(0.96, 1.0, "share of the cutout", "profile", "how wide the basket is behind the rim"),
    "profile.basket.depth": PlausibleRange(0.03, 0.45, "share of the mounting depth", "profile", "how far back the basket stays that wide"),
    "profile.plate.depth": PlausibleRange(0.45, 0.8, "share of the mounting depth", "profile", "from which depth it is as narrow as its magnet"),
    # a tweeter's dome and leads
    "front of a tweeter": PlausibleRange(0.0, 8.0, "mm", "front", "the dome's or grille's highest point above the rim"),
    "rim of a tweeter": PlausibleRange(1.0, 5.0, "mm", "rim", "how thick the rim of the frame is"),
    "motor.Xmech of a tweeter": PlausibleRange(0.2, 2.0, "mm", "motor.Xmech", "how far the dome can go (Xmech)"),
    "terminals.radius of a tweeter": PlausibleRange(0.0, 6.0, "mm over the basket", "terminals", "how far the terminals reach from the axis"),
    "terminals.width of a tweeter": PlausibleRange(4.0, 25.0, "mm", "terminals", "how wide the terminals are"),
    "skin": PlausibleRange(0.6, 1.5, "mm", "skin", "how thick the metal is"),
    # diameters: of a flange that nobody entered, and of where the flat of the trim begins
    "flange": PlausibleRange(6.0, 60.0, "mm over the frame", "flange", "where the flange's edge may be"),
    "trim.inner": PlausibleRange(0.0, 1.5, "times the frame", "trim.inner", "how far in the flat of the trim reaches"),
}  # fmt: skip


# what a person calls each entry, to stand behind "measure"
ENTRIES = {
    "front": "the height of its front", "rim": "the rim", "motor.Xmech": "Xmech",
    "terminals": "the terminals (how far out, how wide, how far back)", "gasket": "the speaker's own gasket",
    "profile": "the profile of its basket", "skin": "the thickness of the metal",
}  # fmt: skip


def row_of(name: str) -> PlausibleRange:
    """The row of a reading that stands in for something, by its name."""
    return next(row for key, row in RANGES.items() if name.endswith("." + key))


def range_of(name: str, base_mm: float = 1.0) -> tuple[float, float]:
    """Least and greatest in millimeters of what is missing; `base_mm` is what its range is a share of, or over."""
    row = RANGES[name]
    if row.of.startswith("mm over"):
        return base_mm + row.low, base_mm + row.high
    return (row.low, row.high) if row.of == "mm" else (base_mm * row.low, base_mm * row.high)


@dataclass(frozen=True, eq=False)
class Corners:
    """Assumed readings at the ends of their ranges, all combinations at once, and each at its own ends alone."""

    readings: tuple[Reading, ...]
    values: Array  # mm, a row a reading, a column a trial

    @property
    def look(self) -> Evaluator:
        """Every trial at once; what was measured stays at its estimate."""
        held = {r.name: row for r, row in zip(self.readings, self.values)}
        return lambda reading: held[reading.name] if reading.name in held else at_estimates(reading)

    def at(self, trial: int) -> dict[str, float]:
        """The values of one trial, mm, by the readings' names."""
        return {r.name: float(row[trial]) for r, row in zip(self.readings, self.values)}


def corners_of(readings: Sequence[Reading]) -> Corners | None:
    """The trials over what was assumed among these readings; None where nothing was. A clearance is the least of terms
    that rise or fall with each reading, so its extremes are at corners."""
    open_ones = tuple(r for r in readings if r.assumed and r.plausible is not None)
    if not open_ones:
        return None
    both, single = open_ones[:_MAX_CORNERS], open_ones[_MAX_CORNERS:]
    estimate = [r.value for r in single]
    trials = [(*corner, *estimate) for corner in product(*(r.plausible or () for r in both))]
    middle = [r.value for r in open_ones]
    trials.append(tuple(middle))
    for i, reading in enumerate(open_ones):
        trials += [(*middle[:i], end, *middle[i + 1 :]) for end in reading.plausible or ()]
    return Corners(open_ones, np.array(trials).T)


@dataclass(frozen=True)
class PlausibleSpan:
    """What a clearance comes to over all plausible values of what was not entered."""

    best_mm: float  # 2.5 % point where all of it is as kind as it may be
    worst_mm: float  # 2.5 % point where all of it is as unkind as it may be
    rests_on: tuple[str, ...]  # the readings not entered that move it, the heaviest first
    enough_mm: float | None = None  # the first of them at this value or better: the margin is kept
    at_most: bool = True  # ... at this value or less; else or more
    whatever: bool = True  # ... whatever the others are; else if those are as assumed
    fails_mm: float | None = None  # beyond this value of it: a stop whatever the others are
    asks: tuple[str, ...] = ()  # those of them that alone take it below its margin; else the heaviest alone

    @property
    def asked(self) -> tuple[str, ...]:
        """Entries of the job to ask for first."""
        return tuple(dict.fromkeys(row_of(name).entered for name in self.asks))


def spans_of(
    model: Model, margins_mm: Sequence[float], readings: Sequence[Reading], doubts_mm: Sequence[float] | None = None
) -> list[PlausibleSpan | None]:
    """For each clearance of a model its span; None for those that rest on nothing assumed. `doubts_mm`: how far the low
    end of each is below its value, where that was found by first order; None: it is drawn."""
    corners = corners_of(readings)
    if corners is None:
        return [None] * len(margins_mm)
    found = np.broadcast_to(model(corners.look), (len(margins_mm), corners.values.shape[1]))
    doubts = [None] * len(margins_mm) if doubts_mm is None else doubts_mm
    return [_span(model, k, margin, found[k], corners, doubts[k]) for k, margin in enumerate(margins_mm)]


def _span(
    model: Model, k: int, margin_mm: float, values: Array, corners: Corners, doubt_mm: float | None
) -> PlausibleSpan | None:
    single = values[-2 * len(corners.readings) :].reshape(-1, 2)  # each reading alone at its two ends
    middle = values[-2 * len(corners.readings) - 1]
    moved = np.abs(single - middle).max(axis=1)
    if values.max() - values.min() < 1e-6:
        return None
    order = [i for i in np.argsort(-moved, kind="stable") if moved[i] > 1e-6]
    best, worst = corners.at(int(values.argmax())), corners.at(int(values.argmin()))
    low = _low(model, k, worst) if doubt_mm is None else float(values.min()) - doubt_mm
    high = _low(model, k, best) if doubt_mm is None else float(values.max()) - doubt_mm
    reading = corners.readings[order[0]] if order else None
    needed = margin_mm + float(values.min()) - low
    enough, at_most = _enough(model, k, needed, worst, reading)
    whatever = enough is not None
    if not whatever:
        enough, at_most = _enough(model, k, needed, {}, reading)
    names = tuple(corners.readings[i].name for i in order) or tuple(r.name for r in corners.readings)
    doubt = low - float(values.min())
    fails = None if enough is None else _enough(model, k, float(values.max()) - high, best, reading)[0]
    alone = tuple(corners.readings[i].name for i in order if single[i].min() + doubt < margin_mm)
    return PlausibleSpan(high, low, names, enough, at_most, whatever, fails, alone or names[:1])


def _low(model: Model, k: int, values: dict[str, float]) -> float:
    """The 2.5 % point of one clearance with what was not entered at these values."""
    return float(quantile(monte_carlo(lambda look: model(_settled(look, values))[k : k + 1], _DRAWS), 0.025)[0])


def _enough(
    model: Model, k: int, needed_mm: float, worst: dict[str, float], reading: Reading | None
) -> tuple[float | None, bool]:
    """How far one reading may go for the clearance to reach what is needed, others at these values or as assumed."""
    if reading is None or reading.plausible is None:
        return None, True
    steps = np.linspace(*reading.plausible, _STEPS)
    trial = {name: np.full(_STEPS, value) for name, value in worst.items()} | {reading.name: steps}
    values = model(lambda r: trial[r.name] if r.name in trial else at_estimates(r))[k]
    kept = np.broadcast_to(values, _STEPS) >= needed_mm
    if kept.all() or not (kept[0] or kept[-1]):
        return None, True
    if kept[0]:
        return float(steps[np.argmin(kept) - 1]), True
    return float(steps[_STEPS - np.argmin(kept[::-1])]), False


def _settled(look: Evaluator, values: dict[str, float]) -> Evaluator:
    """A look in which some readings were measured after all, at these values and exactly."""
    return lambda reading: (
        at_estimates(exact(reading.name, values[reading.name])) if reading.name in values else look(reading)
    )
