"""What drives a channel: an output with its clipping voltage and resistance, and the active chain before it.

Voltages are rms and at open terminals; frequencies in Hz.  A bridge-tied output straight off the vehicle's supply
swings to the supply less what its transistors keep; an amplifier is taken at its rating.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics.filters import delay
from backwave.errors import InputError
from backwave.notation.filters import Filter

# volts of the supply that a bridge-tied output cannot swing to (common trade practice: 0.5 to 2)
BRIDGE_LOSS = 1.0
# ohms of a head unit's output and its loom, where nobody measured them (common trade practice)
BRIDGE_RESISTANCE = 0.3
# ohms of an amplifier's output and its speaker cable, where nobody said (common trade practice)
AMPLIFIER_RESISTANCE = 0.05


@dataclass(frozen=True)
class Output:
    """One output of a source."""

    clip_v: float  # greatest sine at open terminals
    resistance: float  # ohm
    lowest_load: float | None = None  # ohm, the least rated load it may drive; None where nobody said
    # Hz and dB, what it does to the signal, as measured; empty is flat.  Level between by log frequency, beyond as
    # at the end.
    levels: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for name, value, least in (
            ("clipping voltage", self.clip_v, 0.0),
            ("output resistance", self.resistance, -1e-9),
        ):
            if not (isfinite(value) and value > least):
                raise InputError(name, value, "a finite number above 0")
        if any(b[0] <= a[0] for a, b in zip(self.levels, self.levels[1:])) or any(f <= 0 for f, _ in self.levels):
            raise InputError("levels of a source", self.levels, "rising frequencies above 0 Hz")

    def response(self, f_hz: ArrayLike) -> NDArray[np.float64]:
        """What it does to the signal, as a factor on the voltage."""
        f = np.asarray(f_hz, dtype=float)
        if not self.levels:
            return np.ones_like(f)
        at, db = np.array(self.levels).T
        return np.asarray(10 ** (np.interp(np.log(f), np.log(at), db) / 20))


def bridge(
    supply_v: float,
    resistance: float = BRIDGE_RESISTANCE,
    lowest_load: float | None = None,
    loss_v: float = BRIDGE_LOSS,
) -> Output:
    """A bridge-tied output straight off the supply: it clips where its peak meets supply less loss.

    `resistance`, ohm; `lowest_load`, ohm; InputError: A supply at or below the loss.
    """
    if not supply_v > loss_v:
        raise InputError("supply of a bridge-tied output", f"{supply_v:g} V", f"more than the {loss_v:g} V it keeps")
    return Output((supply_v - loss_v) / sqrt(2), resistance, lowest_load)


def amplifier(
    power_w: float, into_ohm: float, resistance: float = AMPLIFIER_RESISTANCE, lowest_load: float | None = None
) -> Output:
    """An amplifier by its rating: it clips at the rated power into the rated load.

    `resistance`, ohm: of the output and its cable; `lowest_load`, ohm.
    """
    return Output(sqrt(power_w * into_ohm) * (1 + resistance / into_ohm), resistance, lowest_load)


def factory(
    clip_v: float, resistance: float, levels: tuple[tuple[float, float], ...], lowest_load: float | None = None
) -> Output:
    """A factory output as it was measured. `resistance`, ohm; `levels`, Hz and dB; `lowest_load`, ohm."""
    return Output(clip_v, resistance, lowest_load, levels)


@dataclass(frozen=True)
class Chain:
    """What happens to the signal before the output: filters, delay, gain."""

    filters: tuple[Filter, ...] = ()  # in any order
    delay_s: float = 0.0  # how much later
    gain_db: float = 0.0

    def response(self, f_hz: ArrayLike) -> NDArray[np.complex128]:
        """Complex response of the whole chain."""
        h = delay(f_hz, self.delay_s) * 10 ** (self.gain_db / 20)
        for one in self.filters:
            h = h * one.response(f_hz)
        return np.asarray(h)
