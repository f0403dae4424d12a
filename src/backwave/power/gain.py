"""Setting a gain with a voltmeter: the voltage at an output for a test tone, behind its gate.

    U = sqrt(P R) 10^((tone - reach)/20)

with rated power P into the load R (ANSI/CTA-2006: the square of the rms output by the load), the recorded level of the
tone and the level at which rated power is to be reached, both in dB below full scale.  It is a ceiling found once, not
a loudness.  What a voltmeter says of music is no level: it cannot show clipping, and one that measures the mean reads
noise 1.05 dB low (0.886 of its rms).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, log10, sqrt
from typing import Literal

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message, Verdict

__all__ = ["GATE", "METER", "METER_HZ", "GainTarget", "gain_target", "hearing_check"]

METER_HZ = 400.0
"""Highest tone that cheap voltmeters read right (common trade practice)."""
GATE: tuple[Message, ...] = (
    Message("Every speaker of this amplifier is disconnected at the amplifier"),
    Message("Gain all the way down, tone controls and boosts flat, filters open at the tone"),
    Message("The meter is on AC volts, its probes cannot touch each other or the case"),
    Message("Nobody with ears near a speaker; ear protection on"),
)
"""What a person confirms before the voltage is shown."""
METER: tuple[Message, ...] = (
    Message("On a steady tone the meter reads the rms voltage: its square by the load is the power"),
    Message("On music it says nothing about level: it averages, and most meters read noise 1 dB low even then"),
    Message(
        "It cannot show clipping: an output that clips reads higher still; only a scope or a distortion meter shows it"
    ),
)
"""What a voltmeter can and cannot say."""
PRACTICE = "common trade practice"
_TONES = {"bass": 60.0, "full": 315.0}


@dataclass(frozen=True)
class GainTarget:
    """What a gain is set to.

    Parameters
    ----------
    load_ohm : float, ohm
        Load the power is for; it is not connected while setting.
    power_w : float, W
        Rated power into it.
    ceiling_v : float, V
        Rated output, rms.
    test_tone_v : float or None, V
        What the meter shall show, rms; None for a tweeter: match by level.
    tone_hz : float or None, Hz
        Frequency of the tone.
    tone_db, reach_db : float, dB
        Level of the tone and level at which rated power is reached, below full scale.
    gain_db : float or None, dB
        From the source's clean output to the rated one; None where that output is not known.
    confirmed : bool, no unit
        The gate was passed; faces show `test_tone_v` only then.
    gate : tuple of Message, no unit
        What has to be confirmed.
    steps : tuple of Message, no unit
        How it is done, in order.
    notes : tuple of Message, no unit
        What a voltmeter can and cannot say.
    checks : tuple of Check, no unit
        What was found.
    """

    load_ohm: float
    power_w: float
    ceiling_v: float
    test_tone_v: float | None
    tone_hz: float | None
    tone_db: float
    reach_db: float
    gain_db: float | None
    confirmed: bool
    gate: tuple[Message, ...]
    steps: tuple[Message, ...]
    notes: tuple[Message, ...]
    checks: tuple[Check, ...]


def gain_target(
    power_w: float,
    load_ohm: float,
    kind: Literal["bass", "full", "tweeter"] = "full",
    tone_db: float = 0.0,
    reach_db: float = 0.0,
    source_v: float | None = None,
    input_v: tuple[float, float] | None = None,
    tone_hz: float | None = None,
    confirmed: bool = False,
) -> GainTarget:
    """The voltage at an output for a test tone.

    Parameters
    ----------
    power_w : float, W
        Rated power of the channel into the load, or what the driver stands if that is less; above 0.
    load_ohm : float, ohm
        Rated load, above 0.
    kind : "bass", "full" or "tweeter", no unit
        What the channel plays.
    tone_db : float, dB
        Recorded level of the tone, 0 (full scale) or below.
    reach_db : float, dB
        Level at which rated power is reached, 0 or below; -5 plays quiet recordings 5 dB louder and clips full ones.
    source_v : float or None, V
        Clean output of the head unit at its largest clean volume, full scale, rms.
    input_v : (float, float) or None, V
        Least and most input for rated power that the gain covers.
    tone_hz : float or None, Hz
        Frequency of the tone; None takes 60 Hz for bass, 315 Hz for the others.
    confirmed : bool, no unit
        A person confirmed every line of the gate.

    Raises
    ------
    InputError
        A number outside its range, or a tone above the level at which rated power is reached.
    """
    for what, value in (("rated power, W", power_w), ("load, ohm", load_ohm)):
        if not (isfinite(value) and value > 0):
            raise InputError(what, value, "a finite number above 0")
    if kind not in ("bass", "full", "tweeter"):
        raise InputError("kind of channel", kind, "bass, full or tweeter")
    if not reach_db <= 0:
        raise InputError("level at which rated power is reached, dB", reach_db, "0 or below")
    if not tone_db <= reach_db:
        raise InputError(
            "level of the tone, dB", tone_db, f"{reach_db:g} or below: above it the output clips while it is set"
        )
    ceiling = sqrt(power_w * load_ohm)
    tweeter = kind == "tweeter"
    hertz = None if tweeter else (_TONES[kind] if tone_hz is None else tone_hz)
    volts = None if tweeter else ceiling * 10 ** ((tone_db - reach_db) / 20)
    gain_db = None if source_v is None else 20 * log10(ceiling / source_v) - reach_db
    checks = [_check(kind, volts, hertz, power_w, load_ohm, tone_db, reach_db), hearing_check()]
    if source_v is not None and input_v is not None:
        checks.append(_input_check(source_v * 10 ** (reach_db / 20), input_v))
    return GainTarget(
        load_ohm, power_w, ceiling, volts, hertz, tone_db, reach_db, gain_db, confirmed, GATE,
        _steps(volts, hertz, tone_db), METER, tuple(checks),
    )  # fmt: skip


def hearing_check() -> Check:
    """What tones do to ears."""
    return Check(
        "safe.hearing",
        "caution",
        Message("A tone at full power harms hearing within minutes"),
        remedy=Message("Speakers off while setting; first sound at -40 dB; ear protection"),
        sources=("NIOSH 1996: 85 dB(A) for 8 h, half the time for each 3 dB more", PRACTICE),
    )


def _steps(volts: float | None, hertz: float | None, tone_db: float) -> tuple[Message, ...]:
    if volts is None or hertz is None:
        return (
            Message("No full-power tone on a tweeter's channel, not even for a moment"),
            Message(
                "Set the woofer's channel first, then turn the tweeter's gain up from nothing until both are as loud on music"
            ),
        )
    return (
        Message(
            "Find the head unit's largest clean volume and write it down: one or two steps below where a tone turns harsh"
        ),
        Message(
            "Play the tone of {f} at {l} below full scale at that volume",
            (("f", hertz, "Hz"), ("l", -tone_db, "dB")),
        ),
        Message("Turn the gain up until the meter shows {v}, and stop", (("v", volts, "V"),)),
        Message("Everything off; only then connect the speakers"),
    )


def _check(
    kind: str,
    volts: float | None,
    hertz: float | None,
    power: float,
    load: float,
    tone: float,
    reach: float,
) -> Check:
    verdict: Verdict = "ok"
    remedy: Message | None = None
    if volts is None:
        said = Message("No voltage for a tweeter's channel: match it by level")
    else:
        assert hertz is not None
        said = Message(
            "Its gain has a ceiling, found once with a tone of {f} and every speaker disconnected",
            (("f", hertz, "Hz"),),
        )
        span = (50.0, 100.0) if kind == "bass" else (50.0, METER_HZ)
        if not span[0] <= hertz <= span[1]:
            verdict = "caution"
            remedy = Message(
                "A tone between {low} and {high}: meters read others wrong",
                (("low", span[0], "Hz"), ("high", span[1], "Hz")),
            )
    return Check(
        "power.gain",
        verdict,
        said,  # the voltage itself stands behind the gate, in `test_tone_v`
        remedy=remedy,
        working=(
            CalculationLine("P", "rated power", power, "W", "the amplifier's sheet; ANSI/CTA-2006"),
            CalculationLine("R", "rated load, not connected while setting", load, "ohm"),
            CalculationLine(
                "U",
                "sqrt(P R) 10^((L - L0)/20), rms of a sine",
                None,
                "",
                "ANSI/CTA-2006: square of the rms output by the load",
            ),
            CalculationLine("L", "level of the tone", tone, "dB"),
            CalculationLine("L0", "level at which rated power is reached", reach, "dB"),
        ),
        sources=("ANSI/CTA-2006", PRACTICE),
    )


def _input_check(source_v: float, input_v: tuple[float, float]) -> Check:
    low, high = input_v
    weak, strong = source_v < low, source_v > high
    remedy = (
        Message("A source or line driver of more output, or less power asked")
        if weak
        else Message("The high-level input, or a divider before it")
    )
    return Check(
        "power.gain",
        "caution" if weak or strong else "ok",
        Message(
            "The source gives {v}; the gain covers {low} to {high}",
            (("v", source_v, "V"), ("low", low, "V"), ("high", high, "V")),
        ),
        source_v,
        low if weak else high,
        "V",
        remedy=remedy if weak or strong else None,
        sources=("the amplifier's sheet",),
        part="input",
    )
