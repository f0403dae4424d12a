"""What the factory system does: a record of each output pair, and what follows from it for the new parts.

    sum of two bands at their crossover, each at the same level there:  20 lg |1 + exp(j phi)| - 20 lg 2
    load resistor:  P = U^2 / R at the loudest that was recorded
    another rated load on the same voltage:  10 lg (R_old / R_new)

Recorded, not guessed: a sweep at two volumes with the volume's own number written down, polarity and offset by meter
or scope.  What was not recorded is asked for.  Not covered: how a processor's delay and all-pass filters are undone
(only an electrical sum and an equalizer can), data buses, head units that pair with one amplifier alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, isfinite, log2, log10, radians

import numpy as np

from backwave.errors import InputError

E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)  # IEC 60063, from 1 to 10
# ratings of wire-wound resistors in a metal case (common trade practice)
RATINGS_W = (5.0, 10.0, 25.0, 50.0, 100.0, 200.0)

Levels = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class FactoryPair:
    """What was recorded of one factory output.  None is "nobody has looked".

    InputError: A number outside its range, or frequencies that do not rise.
    """

    id: str  # its name
    group: str = ""  # what it is part of: pairs of one group are bands of one signal ("front left")
    low_hz: float | None = None  # where its band begins and ends
    high_hz: float | None = None
    # A sweep at a low and a high volume, frequencies rising; each against its own reference
    quiet_db: Levels = ()
    loud_db: Levels = ()
    loud_v: float | None = None  # the loudest that comes out, rms, between its two wires
    polarity: int | None = None  # against the group's first pair
    # against the next higher band of its group, at their crossover, both in one take
    phase_deg: float | None = None
    offset_v: float | None = None  # direct current between its two wires
    bridge_tied: bool | None = None  # both wires swing; neither may be grounded
    rated_ohm: float | None = None  # rated load of the factory driver, and of the new one on it
    new_ohm: float | None = None
    detects_load: bool | None = None  # it mutes or sets a fault when the speaker is missing
    keeps_speaker: bool = False  # nothing takes its signal: a speaker stays on it
    # (float, float), least and most that the input it drives takes for full output, rms
    input_v: tuple[float, float] | None = None
    differential: bool | None = None  # that input is differential, or a transformer stands before it

    def __post_init__(self) -> None:
        for name in ("low_hz", "high_hz", "loud_v", "rated_ohm", "new_ohm"):
            value = getattr(self, name)
            if value is not None and not (isfinite(value) and value > 0):
                raise InputError(f"{name} of factory output {self.id}", value, "a finite number above 0")
        for name in ("phase_deg", "offset_v"):
            value = getattr(self, name)
            if value is not None and not isfinite(value):
                raise InputError(f"{name} of factory output {self.id}", value, "a finite number")
        if self.input_v is not None and not 0 < self.input_v[0] < self.input_v[1] < float("inf"):
            found = f"{self.input_v[0]:g} to {self.input_v[1]:g}"
            raise InputError(f"input that factory output {self.id} drives, V", found, "above 0, the least first")
        if self.polarity not in (1, -1, None):
            raise InputError(f"polarity of factory output {self.id}", self.polarity, "1 or -1")
        if self.low_hz is not None and self.high_hz is not None and not self.low_hz < self.high_hz:
            raise InputError(f"band of factory output {self.id}, Hz", f"{self.low_hz:g} to {self.high_hz:g}", "rising")
        for levels in (self.quiet_db, self.loud_db):
            f = [hz for hz, _ in levels]
            if not np.isfinite(levels).all() or any(b <= a for a, b in zip((0.0, *f), f)):
                raise InputError(f"levels of factory output {self.id}", f, "finite, at rising frequencies above 0")


@dataclass(frozen=True)
class FactorySystem:
    """The factory system as a whole.

    InputError: A pair twice, or something that sounds from a pair that is none.
    """

    pairs: tuple[FactoryPair, ...]  # its outputs
    accessory: bool | None = None  # there is a line that is live only while the system plays
    microphones: bool | None = None  # it cancels noise, or makes engine sound, with microphones in the cabin
    # what has to sound at hand-over (chimes, parking tones, the phone), and the pair it comes from, "" where
    # nobody knows
    must_sound: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        names = [pair.id for pair in self.pairs]
        if len(set(names)) != len(names):
            raise InputError("factory outputs", names, "names used once")
        for what, pair in self.must_sound:
            if pair and pair not in names:
                raise InputError(f"factory output of {what}", pair, ", ".join(names))


@dataclass(frozen=True)
class LoadResistor:
    """A resistor in place of a factory speaker."""

    ohm: float  # ohm, of the E6 series, at or above the rated load
    heat_w: float  # what it turns to heat at the loudest steady tone
    rating_w: float | None  # twice that, of those that are sold; None where none is


def summed_db(phase_deg: float) -> float:
    """What two bands of one level make together at their crossover, against both in phase.

    Returns dB: 0 in phase, -6.02 dB at 120 degrees, minus infinity opposed.
    """
    share = (1 + cos(radians(phase_deg))) / 2  # |1 + exp(j phi)|^2 / 4
    return 10 * log10(share) if share > 1e-15 else float("-inf")


def load_resistor(rated_ohm: float, loud_v: float) -> LoadResistor:
    """The resistor that keeps load detection quiet.

    `loud_v`: the loudest that comes out, rms, above 0; InputError: A number that is not finite and above 0.
    """
    for name, value in (("rated load, ohm", rated_ohm), ("loudest output, V", loud_v)):
        if not (isfinite(value) and value > 0):
            raise InputError(name, value, "a finite number above 0")
    decade = 10.0 ** np.floor(np.log10(rated_ohm))
    ohm = float(next(v * decade for v in (*E6, 10.0) if v * decade >= rated_ohm * (1 - 1e-9)))
    heat = loud_v**2 / ohm
    return LoadResistor(ohm, heat, next((w for w in RATINGS_W if w >= 2 * heat), None))


def bass_cut(pair: FactoryPair) -> tuple[float, float] | None:
    """By how much more the lowest octave rises less than the rest when the volume goes up.

    Returns (Hz, dB): top of the octave and what it lacks at the high volume (negative where it gains); None
    without both sweeps over a band of two octaves.
    """
    if not (pair.quiet_db and pair.loud_db):
        return None
    (fq, q), (fl, loud) = (np.array(levels).T for levels in (pair.quiet_db, pair.loud_db))
    low, high = max(fq[0], fl[0]), min(fq[-1], fl[-1])
    if high < 4 * low:
        return None
    f = np.geomspace(low, high, int(24 * log2(high / low)) + 1)
    rise = np.interp(np.log(f), np.log(fl), loud) - np.interp(np.log(f), np.log(fq), q)
    edge = 2 * low
    return float(edge), float(np.median(rise[f > edge]) - np.mean(rise[f <= edge]))
