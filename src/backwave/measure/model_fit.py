"""What a reading teaches a prediction: uncertain quantities fitted to it within their bounds.

The model is handed over as a function of its unknowns; this room does not know what they are.  A reading with an
unknown microphone has no level of its own, so a level offset is fitted too, free of charge.  Each unknown starts as
likely anywhere within its bounds (a rectangular distribution, standard deviation (high - low)/sqrt(12), JCGM
101:2008, 6.4.2); how much narrower the reading makes it says whether the reading moved it at all.

Levels in dB.  Numpy, and `scipy.optimize` inside."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, isfinite, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.finding import Check, Message

Real = NDArray[np.float64]
# values of the unknowns, in their order and units, to levels in dB at the reading's frequencies
Model = Callable[[Real], Real]

MODEL_DB = 2.0  # by how much a model and a reading of a cabin differ at best (common trade practice)
MOVED = 0.8  # an unknown whose standard deviation is still above this part of what it was has not been moved
PRIOR = sqrt(12.0)  # one over the standard deviation of a share that may be anywhere from 0 to 1
STARTS = 4  # beginnings of the search besides the starting values, always the same


@dataclass(frozen=True)
class Unknown:
    """A quantity of the model that nobody measured."""

    name: str
    start: float  # unit of the model, its value so far
    low: float  # unit of the model, its bounds
    high: float  # unit of the model
    ratio: bool = True  # whether it is searched by ratio (areas, volumes) or by difference

    def __post_init__(self) -> None:
        fine = isfinite(self.low) and isfinite(self.high) and self.low < self.high
        if not (fine and self.low <= self.start <= self.high and (not self.ratio or self.low > 0)):
            raise InputError(self.name, (self.low, self.start, self.high), "bounds that rise, the start within them")

    def value(self, share: float) -> float:
        """The value at a share of the way from low to high. `share`, 1."""
        if self.ratio:
            return exp(log(self.low) + share * (log(self.high) - log(self.low)))
        return self.low + share * (self.high - self.low)

    def share(self, value: float) -> float:
        """The share of the way from low to high at which a value stands. `value`, unit of the model."""
        if self.ratio:
            return (log(value) - log(self.low)) / (log(self.high) - log(self.low))
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True)
class ParameterShift:
    """What became of an unknown."""

    unknown: Unknown
    value: float  # unit of the model, best estimate now; the starting value where the reading did not move it
    low: float  # unit of the model, 95 % interval, within the bounds
    high: float  # unit of the model
    narrowed: float  # 1, standard deviation now by what it was: 1 learned nothing
    at_bound: bool  # whether the best estimate stands at one of its bounds

    @property
    def moved(self) -> bool:
        """Whether the reading says anything of it."""
        return self.narrowed < MOVED


@dataclass(frozen=True)
class Learned:
    """What a reading taught."""

    values: tuple[float, ...]  # unit of the model, all unknowns in order, to predict with
    offset_db: float  # reading less model
    unknowns: tuple[ParameterShift, ...]  # what became of each
    # root mean square between model and reading, level free, with the starting values and with the learned ones
    before_db: float
    after_db: float
    shift_db: float  # root mean square by which the prediction itself moved


def learn(
    model: Model, unknowns: Sequence[Unknown], reading_db: ArrayLike, u_db: ArrayLike = MODEL_DB,
    correlated: float = 1.0,
) -> Learned:  # fmt: skip
    """Fit a model's unknowns and a level offset to a reading. `model`: unknowns to levels; called some tens of times;
    `u_db` (n_freq,): standard uncertainty of the difference of model and reading; larger where the model holds less;
    `correlated`, 1: how many neighboring frequencies err together: 8 for 24 points an octave that err by thirds."""
    from scipy.optimize import least_squares

    reading = np.asarray(reading_db, dtype=float)
    weight = 1 / (np.broadcast_to(np.asarray(u_db, dtype=float), reading.shape) * sqrt(correlated))
    if not unknowns or not np.isfinite(weight).all() or correlated < 1 or reading.ndim != 1 or reading.size < 5:
        raise InputError("what is to be learned", len(unknowns), "unknowns, and a reading of five frequencies or more")
    share_of_weight = weight**2 / (weight**2).sum()

    def predict(share: Real) -> Real:
        values = np.array([u.value(float(s)) for u, s in zip(unknowns, share, strict=True)])
        got = np.asarray(model(values), dtype=float)
        if got.shape != reading.shape or not np.isfinite(got).all():
            raise InputError("the model", got.shape, f"{reading.size} finite levels")
        return got

    def left(share: Real) -> Real:
        off = reading - predict(share)
        # the offset is the weighted mean; a rectangular prior is worth sqrt(12) a share about its middle
        return np.concatenate([weight * (off - share_of_weight @ off), PRIOR * (share - 0.5)])

    start = np.array([u.share(u.start) for u in unknowns])
    begin = [np.clip(start, 0.02, 0.98)]
    # further beginnings on a golden-ratio lattice: the same every time
    begin += [np.modf(0.5 + k * 0.6180339887498949 * np.arange(1, start.size + 1))[0] for k in range(1, STARTS + 1)]
    costs = [float((left(b) ** 2).sum()) for b in begin]
    found = min(
        (least_squares(left, np.clip(begin[k], 0.01, 0.99), bounds=(0.0, 1.0), diff_step=0.01, max_nfev=40)
         for k in sorted(range(len(begin)), key=lambda k: costs[k])[:2]),
        key=lambda r: r.cost,
    )  # fmt: skip
    jac = found.jac[: reading.size]
    # the offset is known no better than the rest: its direction is out of the slopes already
    information = jac.T @ jac + PRIOR**2 * np.eye(start.size)
    deviation = np.sqrt(np.diag(np.linalg.inv(information)))
    narrowed = deviation * PRIOR
    share = np.where(narrowed < MOVED, found.x, start)
    off, was = reading - predict(share), reading - predict(start)
    offset = float(share_of_weight @ off)
    rows = tuple(
        ParameterShift(
            u, u.value(float(s)), u.value(float(np.clip(s - 1.96 * d, 0, 1))), u.value(float(np.clip(s + 1.96 * d, 0, 1))),
            float(r), bool(r < MOVED and (s < 0.01 or s > 0.99)),
        )
        for u, s, d, r in zip(unknowns, share, deviation, narrowed, strict=True)
    )  # fmt: skip
    return Learned(
        tuple(m.value for m in rows), offset, rows, _rms(was - share_of_weight @ was, share_of_weight),
        _rms(off - offset, share_of_weight), _rms(off - was - share_of_weight @ (off - was), share_of_weight),
    )  # fmt: skip


def distance_db(predicted_db: ArrayLike, reading_db: ArrayLike, u_db: ArrayLike = MODEL_DB) -> float:
    """Root mean square between a prediction and a reading it has not seen, level free. `u_db` (n_freq,): as for
    `learn`: where it is larger, a difference counts less; returns dB."""
    off = np.asarray(reading_db, dtype=float) - np.asarray(predicted_db, dtype=float)
    share = 1 / np.broadcast_to(np.asarray(u_db, dtype=float), off.shape) ** 2
    share = share / share.sum()
    return _rms(off - share @ off, share)


def check_learned(learned: Learned) -> tuple[Check, ...]:
    """One check for each unknown that the reading did not move, or drove to its bound."""
    out = []
    for m in learned.unknowns:
        if m.moved and not m.at_bound:
            continue
        title, remedy = "the reading says nothing of {name}", "measure it, or keep its wide band"
        if m.moved:
            title = "{name} went to the end of its range"
            remedy = "widen its range if it can be so, or look for what the prediction leaves out"
        out.append(Check(
            "measure.unmoved", "caution", Message(title, (("name", m.unknown.name, ""),)), value=m.narrowed,
            limit=MOVED, remedy=Message(remedy), sources=("JCGM 101:2008, 6.4.2",),
            part=m.unknown.name.replace(" ", "-"),
        ))  # fmt: skip
    return tuple(out)


def _rms(off: Real, share: Real) -> float:
    return float(np.sqrt(share @ off**2))
