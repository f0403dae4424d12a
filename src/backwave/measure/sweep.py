"""What is played: the exponential sweep, and the take that holds sweeps between two pilots, with its description.

The sweep is the synchronized form of Novak, Lotton and Simon 2015 (JAES 63(10):786-798), sin(2 pi f1 L exp(t/L)) with
L = T/ln(f2/f1); Farina 2000 (AES 108th Convention, preprint 5093) has a further -1 in it.  So the m-th harmonic is
exactly the sweep L ln(m) earlier.  A sweep is a formula, not samples: it can be evaluated on any clock, and what was
recorded on another clock is read without moving a sample of it.

Times in s of the player, levels in dB against full scale (peak).  Numpy alone."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields
from math import isfinite, log, pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.errors import InputError

Real = NDArray[np.float64]

# peak of any sweep unless someone asks for more (design choice: hearing, and room for the player's own filters)
LOUDEST_DB = -6.0
RATES_HZ = (44100, 48000)
FORMAT = 1  # of the description
QUIET_S = 1.5  # before the first pilot: the noise is read here
GAP_S = 1.0  # after a pilot
TAIL_S = 1.2  # after a sweep, for its decay
PILOT_HZ = (50.0, 12000.0)
TOP = 0.454  # of the rate: the highest a sweep goes, 20 kHz at 44.1 kHz


def _number(what: str, value: object) -> float:
    """A number of a description, which may hold anything."""
    try:
        if isinstance(value, int | float):
            return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        pass
    raise InputError(f"{what} of the sweep", type(value).__name__, "a number of a usual size")


@dataclass(frozen=True)
class Sweep:
    """A synchronized exponential sweep with raised-cosine fades."""

    f1_hz: float = 20.0
    f2_hz: float = 20000.0
    length_s: float = 10.0  # how long, fades included
    level_db: float = -12.0  # peak against full scale
    fade_in_s: float = 0.1
    fade_out_s: float = 0.02

    def __post_init__(self) -> None:
        for one in fields(self):
            object.__setattr__(self, one.name, _number(one.name, getattr(self, one.name)))
        if not (isfinite(self.f1_hz) and isfinite(self.f2_hz) and 0 < self.f1_hz < self.f2_hz / 2):
            raise InputError("range of the sweep", f"{self.f1_hz:g} to {self.f2_hz:g} Hz", "an octave or more, rising")
        if not (isfinite(self.length_s) and 0.1 <= self.length_s <= 300):
            raise InputError("length of the sweep", f"{self.length_s:g} s", "0.1 to 300 s")
        if not self.level_db <= 0:
            raise InputError("level of the sweep", f"{self.level_db:g} dB", "0 dB (full scale) or less")
        if not (self.fade_in_s >= 0 and self.fade_out_s >= 0 and self.fade_in_s + self.fade_out_s < self.length_s):
            raise InputError("fades of the sweep", f"{self.fade_in_s:g} and {self.fade_out_s:g} s", "less than it")

    @property
    def L(self) -> float:
        """Time in which the frequency rises e-fold, T/ln(f2/f1), s."""
        return self.length_s / log(self.f2_hz / self.f1_hz)

    @property
    def amplitude(self) -> float:
        """Peak against full scale."""
        return float(10 ** (self.level_db / 20))

    def frequency(self, t_s: ArrayLike) -> Real:
        """Instantaneous frequency f1 exp(t/L). Returns (n,) Hz."""
        return np.asarray(self.f1_hz * np.exp(np.asarray(t_s, dtype=float) / self.L))

    def time(self, f_hz: ArrayLike) -> Real:
        """When the sweep passes a frequency, L ln(f/f1). Returns (n,) s."""
        return np.asarray(self.L * np.log(np.asarray(f_hz, dtype=float) / self.f1_hz))

    def phase(self, t_s: ArrayLike) -> Real:
        """Phase 2 pi f1 L exp(t/L). Returns (n,) rad."""
        return np.asarray(2 * pi * self.f1_hz * self.L * np.exp(np.asarray(t_s, dtype=float) / self.L))

    def samples(self, rate_hz: float, count: int, start_s: float = 0.0) -> Real:
        """The sweep as samples on any clock; 0 outside it. `rate_hz`: samples in one second of the player, not
        necessarily a whole number; `start_s`: time of the first sample after the start of the sweep; negative begins
        before it."""
        out = np.zeros(count)
        first = max(0, int(np.ceil(-start_s * rate_hz)))
        last = min(count, int(np.floor((self.length_s - start_s) * rate_hz)) + 1)
        if last <= first:
            return out
        # exp(t/L) of evenly spaced times is the product of a coarse and a fine row: one multiplication a sample
        n, step = last - first, 1024
        coarse = np.exp((start_s + (first + np.arange(0, n, step)) / rate_hz) / self.L)
        fine = np.exp(np.arange(step) / (rate_hz * self.L))
        turns = (self.f1_hz * self.L * coarse[:, None] * fine).ravel()[:n]
        turns -= np.floor(turns)
        inside = out[first:last]
        np.sin(np.multiply(turns, 2 * pi, out=turns), out=inside)
        inside *= self.amplitude
        t = start_s + (first + np.arange(n)) / rate_hz
        for fade, at in ((self.fade_in_s, t), (self.fade_out_s, self.length_s - t)):
            if fade > 0:
                edge = at < fade
                inside[edge] *= 0.5 - 0.5 * np.cos(pi * at[edge] / fade)
        return out


@dataclass(frozen=True)
class Event:
    """One thing in a take."""

    kind: str  # "pilot" or "sweep"
    name: str  # what it is called in results: the output that sounds, or "all"
    outputs: tuple[int, ...]  # which outputs sound, counted from 0
    start: int  # samples, first sample, at the player's rate


@dataclass(frozen=True)
class Take:
    """All that a player plays in one go, between two pilots; it is enough to make the signal again."""

    rate_hz: int  # of the player's file
    outputs: tuple[str, ...]  # names of its channels
    sweep: Sweep  # the sweep, and the short one before and after by which it is found and clocks are compared
    pilot: Sweep
    events: tuple[Event, ...] = field(default=())  # in order; the first and the last are pilots
    count: int = 0  # samples, length of the whole

    def of(self, event: Event) -> Sweep:
        """The sweep that an event plays."""
        return self.pilot if event.kind == "pilot" else self.sweep

    @property
    def sweeps(self) -> tuple[Event, ...]:
        """The events to be read."""
        return tuple(event for event in self.events if event.kind == "sweep")

    @property
    def pilots(self) -> tuple[Event, Event]:
        """The first and the last pilot."""
        found = [event for event in self.events if event.kind == "pilot"]
        return found[0], found[-1]


def plan_take(
    rate_hz: int = 48000, outputs: tuple[str, ...] = ("left", "right"), sounding: tuple[str, ...] | None = None,
    sweep: Sweep | None = None, pilot_hz: tuple[float, float] | None = None,
) -> Take:  # fmt: skip
    """Lay out a take: quiet, pilot, the sweeps with their tails, pilot, quiet. The pilots sound on every output that
    the take uses, so that they are heard whichever band each plays. `outputs`: names of the file's channels, one or
    more; `sounding`: what sweeps there are, in order: names of outputs, or "all" for all at once; None is each alone,
    then all; `sweep`: the sweep; None is 20 Hz to 20 kHz in 10 s at -12 dB. For hunting rattles 20 to 300 Hz in 60 s;
    `pilot_hz` (float, float): range of the pilots; None is 50 Hz to 12 kHz, but never lower than the sweep: a tweeter
    hears no bass."""
    sweep = sweep or Sweep()
    if rate_hz not in RATES_HZ:
        raise InputError("sampling rate", rate_hz, "44100 or 48000 Hz")
    if not outputs or len(set(outputs)) != len(outputs) or "all" in outputs:
        raise InputError("outputs", outputs, 'different names, none of them "all"')
    if sounding is None:
        sounding = (*outputs, "all") if len(outputs) > 1 else outputs
    unknown = [name for name in sounding if name not in (*outputs, "all")]
    if unknown or not sounding:
        raise InputError("what sounds", unknown or "nothing", ", ".join((*outputs, "all")))
    if sweep.level_db > LOUDEST_DB:
        raise InputError("level of the sweep", f"{sweep.level_db:g} dB", f"{LOUDEST_DB:g} dB or less")
    if sweep.f2_hz > TOP * rate_hz:
        raise InputError("top of the sweep", f"{sweep.f2_hz:g} Hz", f"{TOP * rate_hz:.0f} Hz or less at this rate")
    if pilot_hz is None:
        low = max(PILOT_HZ[0], sweep.f1_hz)
        pilot_hz = (low, max(PILOT_HZ[1], 2.5 * low) if 2.5 * low < TOP * rate_hz else TOP * rate_hz)
    pilot = Sweep(pilot_hz[0], pilot_hz[1], 0.5, sweep.level_db, 0.02, 0.02)
    used = tuple(k for k, name in enumerate(outputs) if "all" in sounding or name in sounding)
    at = round(QUIET_S * rate_hz)
    events = [Event("pilot", "all", used, at)]
    at += round((pilot.length_s + GAP_S) * rate_hz)
    for name in sounding:
        events.append(Event("sweep", name, used if name == "all" else (outputs.index(name),), at))
        at += round((sweep.length_s + TAIL_S) * rate_hz)
    events.append(Event("pilot", "all", used, at))
    at += round((pilot.length_s + GAP_S) * rate_hz)
    return Take(rate_hz, outputs, sweep, pilot, tuple(events), at)


def take_signal(take: Take) -> Real:
    """The samples of a take."""
    out = np.zeros((take.count, len(take.outputs)))
    for event in take.events:
        sweep = take.of(event)
        count = int(np.ceil(sweep.length_s * take.rate_hz))
        out[event.start : event.start + count, list(event.outputs)] += sweep.samples(take.rate_hz, count)[:, None]
    return out


def describe(take: Take) -> dict[str, Any]:
    """The take in plain values, to be written beside the sound file."""
    return {"format": FORMAT, "kind": "take", **asdict(take)}


def take_from(record: dict[str, Any]) -> Take:
    """The take that a description describes."""
    if not isinstance(record, dict) or record.get("kind") != "take":
        raise InputError("description of the sweep", "something else", "the file written beside the sweep")
    if record.get("format") != FORMAT:
        raise InputError("format of the sweep's description", record.get("format"), f"{FORMAT}")
    try:
        take = Take(
            int(record["rate_hz"]), tuple(map(str, record["outputs"])), Sweep(**record["sweep"]),
            Sweep(**record["pilot"]),
            tuple(Event(str(e["kind"]), str(e["name"]), tuple(map(int, e["outputs"])), int(e["start"]))
                  for e in record["events"]),
            int(record["count"]),
        )  # fmt: skip
    except InputError:
        raise
    except (KeyError, TypeError, AttributeError, ValueError, OverflowError) as error:
        raise InputError("description of the sweep", str(error), "the file written beside the sweep") from None
    wrong = InputError("description of the sweep", "events that do not fit in it", "the file written beside the sweep")
    if take.rate_hz not in RATES_HZ or not 0 <= take.count <= 1200 * take.rate_hz:
        raise wrong
    kinds = [e.kind for e in take.events]
    inside = all(
        e.kind in ("pilot", "sweep")
        and set(e.outputs) <= set(range(len(take.outputs)))
        and 0 <= e.start <= take.count - take.of(e).length_s * take.rate_hz
        for e in take.events
    )
    ordered = all(a.start < b.start for a, b in zip(take.events, take.events[1:], strict=False))
    if not (inside and ordered and len(kinds) >= 3 and kinds[0] == kinds[-1] == "pilot" and "sweep" in kinds):
        raise wrong
    return take
