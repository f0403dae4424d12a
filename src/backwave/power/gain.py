"""Setting a gain with a voltmeter: the voltage at an output for a test tone, behind its gate.

    U = min(sqrt(P R), sqrt(Pd Rd)/h, x/xv) 10^((tone - reach)/20)

with rated power P into the load R (ANSI/CTA-2006: the square of the rms output by the load), what each driver on the
channel is rated for (Pd into Rd) at the share h of the output's volts that reaches it, and its linear excursion x at
xv of it by volt; the recorded level of the tone and the level at which that is to be reached, both in dB below full
scale.  It is a ceiling found once, not a loudness and no limiter.  What a voltmeter says of music is no level: it
cannot show clipping, and one that measures the mean reads noise 1.05 dB low (0.886 of its rms)."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict, check_of
from backwave.notation.wires import GAIN_GATE

METER_HZ = 400.0  # highest tone that cheap voltmeters read right (common trade practice)
# what a person confirms before the voltage is shown
GATE: tuple[Message, ...] = tuple(map(Message, GAIN_GATE.values()))
# what a voltmeter can and cannot say
METER: tuple[Message, ...] = (
    Message("The gain is no limiter: a louder source, a bass boost or a filter changed later passes this voltage"),
    Message("On a steady tone the meter reads the rms voltage: its square by the load is the power"),
    Message("On music it says nothing about level: it averages, and most meters read noise 1 dB low even then"),
    Message(
        "It cannot show clipping: an output that clips reads higher still; only a scope or a distortion meter shows it"
    ),
)
_TONES = {"bass": 60.0, "full": 315.0}
# where a meter reads tones right, Hz, by what the channel plays (common trade practice)
TONE_BANDS = {"bass": (50.0, 100.0), "full": (50.0, METER_HZ), "tweeter": (50.0, METER_HZ)}
_CREST = 2.0  # peak over rms of the simulated program signal (IEC 60268-1)
# table II of IEC 60268-1:1985: Hz, and dB of a third of an octave (from a public copy)
PROGRAM = (
    (20.0, -13.5), (25.0, -10.2), (31.5, -7.4), (40.0, -5.2), (50.0, -3.5), (63.0, -2.3), (80.0, -1.4), (100.0, -0.9),
    (125.0, -0.5), (160.0, -0.2), (200.0, -0.1), (250.0, 0.0), (800.0, 0.0), (1000.0, -0.1), (1250.0, -0.3),
    (1600.0, -0.6), (2000.0, -1.0), (2500.0, -1.6), (3150.0, -2.5), (4000.0, -3.7), (5000.0, -5.1), (6300.0, -7.0),
    (8000.0, -9.4), (10000.0, -11.9), (12500.0, -14.8), (16000.0, -18.2), (20000.0, -21.6),
)  # fmt: skip
Kind = Literal["bass", "full", "tweeter"]


@dataclass(frozen=True)
class DriverOnChannel:
    """A driver as a channel meets it, after its network and the channel's filters."""

    name: str
    ohm: float  # ohm, rated
    power_w: float | None = None  # rated; None where no figure was entered
    share: float = 1.0  # no unit, volts at its terminals by the output's: the most of a sine, or the program's
    x_max_mm: float | None = None  # linear excursion, peak, one way
    mm_per_v: float | None = None  # excursion by volt at the output, the most within the tone's band

    @property
    def heat_v(self) -> float | None:
        """Output at which it takes its rated power, V rms."""
        return None if self.power_w is None else sqrt(self.power_w * self.ohm) / max(self.share, 1e-9)

    @property
    def travel_v(self) -> float | None:
        """Output at which its cone reaches its linear excursion, V rms."""
        return None if self.x_max_mm is None or not self.mm_per_v else self.x_max_mm / self.mm_per_v


@dataclass(frozen=True)
class GainTarget:
    """What a gain is set to."""

    load_ohm: float  # what the power is for; it is not connected while setting
    power_w: float  # rated, into that load
    ceiling_v: float  # rms: the amplifier's rated output, or what the weakest driver on it stands
    limited_by: str  # the driver that holds it below the amplifier's rating, "" for none
    test_tone_v: float | None  # what the meter shall show, rms; None for a tweeter: match by level
    tone_hz: float | None
    tone_db: float  # level of the tone, below full scale
    reach_db: float  # level at which the ceiling is reached
    gain_db: float | None  # from the source's clean output to the ceiling; None where that output is not known
    gate: tuple[Message, ...]
    steps: tuple[Message, ...]  # how it is done, in order
    notes: tuple[Message, ...]  # what a voltmeter can and cannot say
    checks: tuple[Check, ...]


def program_share(f_hz: NDArray[np.float64], transfer: NDArray[np.float64]) -> float:
    """Volts of a program at a driver by the rms of the full sine that its output clips at. The simulated program signal
    of IEC 60268-1, clause 7: the spectrum of its table II at a crest factor of 2. `f_hz`, `transfer`, (n_freq,) Hz and
    no unit: frequencies rising by one factor, and the size of driver over output volts there."""
    at, db = np.array(PROGRAM).T
    heard = (f_hz >= at[0]) & (f_hz <= at[-1])
    power = 10 ** (np.interp(np.log(f_hz[heard]), np.log(at), db) / 10)
    return float(sqrt(np.average(transfer[heard] ** 2, weights=power)) * sqrt(2) / _CREST)


def gain_target(
    power_w: float,
    load_ohm: float,
    kind: Kind = "full",
    tone_db: float = 0.0,
    reach_db: float = 0.0,
    source_v: float | None = None,
    input_v: tuple[float, float] | None = None,
    tone_hz: float | None = None,
    drivers: tuple[DriverOnChannel, ...] = (),
    mutes: tuple[str, ...] = (),
) -> GainTarget:
    """The voltage at an output for a test tone: no more than the amplifier is rated at and every driver stands.
    `tone_db`, `reach_db`: recorded level of the tone, and the level at which the ceiling is reached, both 0 (full
    scale) or below; -5 plays quiet recordings 5 dB louder and clips full ones; `source_v`: clean output of the head
    unit at its largest clean volume, full scale, rms; `input_v` (float, float): least and most input for rated power
    that the gain covers; `mutes`: factory outputs that feed it and mute, or may, without a load; InputError: A number
    outside its range, or a tone above the level at which the ceiling is reached."""
    check_number("rated power, W", power_w)
    check_number("load, ohm", load_ohm)
    if kind not in TONE_BANDS:
        raise InputError("kind of channel", kind, "bass, full or tweeter")
    if not reach_db <= 0:
        raise InputError("level at which rated power is reached, dB", reach_db, "0 or below")
    if not tone_db <= reach_db:
        accepted = f"{reach_db:g} or below: above it the output clips while it is set"
        raise InputError("level of the tone, dB", tone_db, accepted)
    rated = sqrt(power_w * load_ohm)
    limits = [(v, d.name) for d in drivers for v in (d.heat_v, d.travel_v) if v is not None]
    ceiling, weakest = min(limits, default=(rated, ""))
    if ceiling >= rated * (1 - 1e-9):
        ceiling, weakest = rated, ""
    tweeter = kind == "tweeter"
    hertz = None if tweeter else (_TONES[kind] if tone_hz is None else tone_hz)
    volts = None if tweeter else ceiling * 10 ** ((tone_db - reach_db) / 20)
    gain_db = None if source_v is None else 20 * log10(ceiling / source_v) - reach_db
    checks = [_check(kind, hertz, power_w, load_ohm, tone_db, reach_db), hearing_check()]
    checks += [_driver_check(one, rated, power_w, kind) for one in drivers]
    if source_v is not None and input_v is not None:
        checks.append(_input_check(source_v * 10 ** (reach_db / 20), input_v))
    return GainTarget(
        load_ohm, power_w, ceiling, weakest, volts, hertz, tone_db, reach_db, gain_db, GATE,
        _steps(volts, hertz, tone_db, mutes), METER, tuple(checks),
    )  # fmt: skip


def _driver_check(one: DriverOnChannel, rated_v: float, power_w: float, kind: Kind) -> Check:
    """What one driver stands against what the amplifier can give; the voltage itself stays behind the gate."""
    heat, travel = one.heat_v, one.travel_v
    low, high = TONE_BANDS[kind]
    working = [
        CalculationLine("h", "volts at its terminals by volts at the output, at the most", one.share, "", "the network, solved"),
        CalculationLine("sqrt(Pd Rd)/h", "output at its rated power: not shown before the gate", None, "", "ANSI/CTA-2006"),
    ]  # fmt: skip
    if one.power_w is not None:
        working.insert(0, CalculationLine("Pd", "what it is rated for", one.power_w, "W", "its data sheet"))
    if travel is not None:
        words = f"excursion by volt at the output, the most from {low:g} to {high:g} Hz"
        working.append(CalculationLine("xv", words, one.mm_per_v, "mm", "the network, solved"))
        working.append(CalculationLine("x", "linear excursion", one.x_max_mm, "mm", "its data sheet"))
    verdict: Verdict = "caution"
    remedy = "Stop at the lower voltage; a limiter, a high-pass or less power keeps it there: the gain does not"
    value: tuple[float | None, float | None, str] = (None, None, "")
    if travel is not None and travel < min(rated_v, heat or rated_v) * (1 - 1e-9):
        value = (rated_v / travel * (one.x_max_mm or 0.0), one.x_max_mm, "mm")
        said = "At the amplifier's rated {amp} {who} would move {got}; {own} is linear: its gain is found lower"
    elif one.power_w is None or heat is None:
        said = "No power entered for {who}: the ceiling is the amplifier's {amp} alone, whatever {who} stands"
        remedy = "Its rated power, from its data sheet"
    else:
        value = (one.power_w * (rated_v / heat) ** 2, one.power_w, "W")
        said = "At the amplifier's rated {amp} {who} would get {got}; it is rated for {own}: its gain is found lower"
        if heat >= rated_v * (1 - 1e-9):
            verdict, said, remedy = "ok", "{who} gets {got} at the most and is rated for {own}", ""
    names = (
        ("who", one.name, ""),
        ("amp", power_w, "W"),
        ("got", value[0] or 0.0, value[2]),
        ("own", value[1] or 0.0, value[2]),
    )
    return check_of(
        "power.gain", verdict, said, remedy, names, value, tuple(working),
        ("ANSI/CTA-2006", "IEC 60268-1, clause 7: simulated program, crest factor 2, for a tweeter", PRACTICE),
        f"speaker.{one.name}.motor.power", one.name,
    )  # fmt: skip


def hearing_check() -> Check:
    """What tones do to ears."""
    said, remedy = (
        "A tone at full power harms hearing within minutes",
        "Speakers off while setting; first sound at -40 dB; ear protection",
    )
    sources = ("NIOSH 1996: 85 dB(A) for 8 h, half the time for each 3 dB more", PRACTICE)
    return check_of("safe.hearing", "caution", said, remedy, sources=sources)


def _steps(volts: float | None, hertz: float | None, tone_db: float, mutes: tuple[str, ...]) -> tuple[Message, ...]:
    first = Message(
        "A factory output may mute without its speaker ({outputs}): put the load resistors on first; without them "
        "use no tone, match by level instead", (("outputs", ", ".join(mutes), ""),),
    )  # fmt: skip
    steps = [
        Message("No full-power tone on a tweeter's channel, not even for a moment"),
        Message("Set the woofer's channel first, then turn the tweeter's gain up from nothing until both are as loud on music"),
    ]  # fmt: skip
    if volts is not None and hertz is not None:
        steps = [
            Message(
                "Find the head unit's largest clean volume with the meter at its own output and write it down: the last step "
                "at which the volts still rise in proportion (a scope shows the flat tops), one or two steps below it"
            ),
            Message("Play the tone of {f} at {l} below full scale at that volume", (("f", hertz, "Hz"), ("l", -tone_db, "dB"))),
            Message("Turn the gain up until the meter shows {v}, and stop", (("v", volts, "V"),)),
            Message("Everything off; only then connect the speakers"),
        ]  # fmt: skip
    return tuple([first, *steps] if mutes else steps)


def _check(kind: Kind, hertz: float | None, power: float, load: float, tone: float, reach: float) -> Check:
    """Whether a meter reads the tone right; the voltage itself stands behind the gate, in `test_tone_v`."""
    low, high = TONE_BANDS[kind]
    said, remedy = "Its gain has a ceiling, found once with a tone of {f} and every speaker disconnected", ""
    if hertz is None:
        said = "No voltage for a tweeter's channel: match it by level"
    elif not low <= hertz <= high:
        remedy = "A tone between {low} and {high}: meters read others wrong"
    return check_of(
        "power.gain", "caution" if remedy else "ok", said, remedy, (("f", hertz or 0.0, "Hz"), ("low", low, "Hz"), ("high", high, "Hz")),
        working=(
            CalculationLine("P", "rated power", power, "W", "the amplifier's sheet; ANSI/CTA-2006"),
            CalculationLine("R", "rated load, not connected while setting", load, "ohm"),
            CalculationLine(
                "U", "sqrt(P R) 10^((L - L0)/20), rms of a sine; less where a driver stands less", None, "",
                "ANSI/CTA-2006: square of the rms output by the load",
            ),
            CalculationLine("L", "level of the tone", tone, "dB"),
            CalculationLine("L0", "level at which rated power is reached", reach, "dB"),
        ),
        sources=("ANSI/CTA-2006", PRACTICE),
    )  # fmt: skip


def _input_check(source_v: float, input_v: tuple[float, float]) -> Check:
    low, high = input_v
    remedy = "The high-level input, or a divider before it" if source_v > high else ""
    if source_v < low:
        remedy = "A source or line driver of more output, or less power asked"
    return check_of(
        "power.gain", "caution" if remedy else "ok", "The source gives {v}; the gain covers {low} to {high}", remedy,
        (("v", source_v, "V"), ("low", low, "V"), ("high", high, "V")), (source_v, low if source_v < low else high, "V"),
        sources=("the amplifier's sheet",), part="input",
    )  # fmt: skip
