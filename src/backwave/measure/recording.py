"""One recording, whole: what was played, what was heard of it, and for a slow low sweep what rattled.

Which it is, the description of what was played says: a sweep slow and low enough for its periods to be compared is
one for hunting rattles.  Numpy alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError
from backwave.measure import recording_checks
from backwave.measure.analysis import TakeRead, read_take
from backwave.measure.rattle import PERIODS, Buzz, buzz_index
from backwave.measure.sweep import Take, take_from

Real = NDArray[np.float64]
SLOW_HZ = 1000.0


@dataclass(frozen=True, eq=False)
class Recording:
    """What a recording says."""

    take: Take  # what was played
    read: TakeRead  # responses, arrivals, distortion, and what is to be said of the recording
    buzz: Buzz | None = None  # what did not repeat with the drive; None but for a slow low sweep


def hunts_rattles(take: Take) -> bool:
    """Whether a take is the slow low sweep."""
    sweep = take.sweep
    return sweep.f2_hz <= SLOW_HZ and sweep.L * sweep.f1_hz >= PERIODS


def read_recording(
    samples: ArrayLike, rate_hz: float, description: dict[str, Any],
    microphone: tuple[ArrayLike, ArrayLike] | None = None, channel: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Recording:  # fmt: skip
    """Read a recording of a described take.

    `samples`, (n,) 1: against full scale; `microphone`, (frequencies, levels) Hz and dB: what the microphone reads
    too much; `progress`: called with the share that is done; what it raises ends the work; InputError: A
    recording, a description or a channel that cannot be used, with what to do.
    `progress`, 1 of 1.
    """
    take = take_from(description)
    sound = np.asarray(samples)
    sound = sound[:, None] if sound.ndim == 1 else sound
    if channel is not None:
        if not 1 <= channel <= sound.shape[1]:
            raise InputError("channel of the recording", channel, f"1 to {sound.shape[1]}")
        sound = sound[:, channel - 1 : channel]
    read = read_take(sound, rate_hz, take, microphone, progress)
    if not hunts_rattles(take):
        return Recording(take, read)
    used, _ = recording_checks.usable_channel(sound, rate_hz)
    event = next((e for e in take.sweeps if e.name == "all"), take.sweeps[0])
    return Recording(take, read, buzz_index(used, read.clock, take, event))
