"""The signal's way: from which output, through what, into which input; and polarity of one side against the other.

An output's clean voltage lies within what the input takes for full output.  Both wires of a bridge output swing: an
input that grounds one of them shorts it.  Common trade practice; the amplifier's sheet comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10
from typing import Literal

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict


@dataclass(frozen=True)
class SignalWay:
    """One way from a source to an amplifier; None is "nobody looked"."""

    source: str
    output: Literal["pre-out", "speaker wires", "digital"]
    bridge: bool  # a head unit's output straight off the supply: both wires of it swing
    loudest_v: float | None  # V rms, at the largest clean volume
    through: str  # what is between, in the person's words
    isolated: bool | None  # a transformer is between, or the input is differential
    into: str
    input: Literal["pre-in", "speaker-level", "digital"]
    input_v: tuple[float, float] | None  # V rms, the input's minimum and maximum for full output


@dataclass(frozen=True)
class SidePair:
    """The two sides of one opening, each from the factory output (or source) to the driver."""

    opening: str
    speaker: str
    left: int | None  # 1, or -1 for turned; None where something on its way was not read
    right: int | None
    left_way: str  # what turns it, in words; "" for nothing
    right_way: str
    heard: bool  # heard or measured in phase


def _said(
    code: str, verdict: Verdict, words: str, remedy: str, part: str, numbers: tuple[tuple[str, float | str, str], ...],
    value: tuple[float, float, str] | None = None, key: str = "signal", working: tuple[CalculationLine, ...] = (),
) -> Check:  # fmt: skip
    number, limit, unit = value or (None, None, "")
    return Check(
        code, verdict, Message(words, numbers), number, limit, unit, remedy=Message(remedy, numbers) if remedy else None,
        working=working, sources=(PRACTICE, "the amplifier's sheet"), key=key, part=part,
    )  # fmt: skip


def way_checks(way: SignalWay) -> tuple[Check, ...]:
    """One way: whether output and input go together, and whether its voltage lies within the input's range."""
    names = (("source", way.source, ""), ("into", way.into, ""), ("output", way.output, ""), ("input", way.input, ""))
    if (way.output == "digital") != (way.input == "digital"):
        return (
            _said("power.signal", "stop", "The {output} output of {source} does not fit the {input} input of {into}",
                  "A converter between them, or the input that fits", way.source, names),
        )  # fmt: skip
    if way.output == "digital":
        return (_said("power.signal", "ok", "{source} feeds {into} digitally", "", way.source, names),)
    found = []
    if way.output == "speaker wires" and way.input == "speaker-level" and way.bridge and way.isolated is False:
        words = "{source} is bridge-tied: both of its speaker wires swing, and the speaker-level input of {into} grounds one of them"
        remedy = "A differential input, or a line transformer (isolated) before it"
        found.append(_said("wire.input", "stop", words, remedy, way.source, names))
    if way.output == "speaker wires" and way.input == "speaker-level" and way.bridge and way.isolated is None:
        words = "{source} is bridge-tied, and nobody has said whether the speaker-level input of {into} is differential"
        found.append(
            _said("wire.input", "caution", words, "Enter differential of {into}, from its sheet", way.source, names)
        )
    if way.output == "speaker wires" and way.input == "pre-in" and not way.isolated:
        shorts = way.bridge and way.isolated is False
        found.append(
            _said(
                "power.signal", "stop" if shorts else "caution",
                "The speaker wires of {source} go into the pre-in of {into}"
                + (": both wires of them swing, and this input grounds one" if shorts else "; nobody has said that what is between isolates them"),
                "The amplifier's speaker-level input, or a line transformer (isolated)", way.source, names,
            )
        )  # fmt: skip
    return (*found, _level(way))


def _level(way: SignalWay) -> Check:
    names: tuple[tuple[str, float | str, str], ...] = (("source", way.source, ""), ("into", way.into, ""))
    part = f"{way.source} level"
    lacking = [
        words
        for value, words in (
            (way.loudest_v, "what {source} gives at its largest clean volume"),
            (way.input_v, "what the input of {into} takes for full output"),
        )
        if value is None
    ]
    if way.loudest_v is None or way.input_v is None:
        return _said(
            "power.signal", "caution", "Nobody has entered " + " nor ".join(lacking),
            "A 1 kHz tone at that volume, AC volts at the output with the speakers off; the input's range from its sheet", part, names,
        )  # fmt: skip
    low, high = way.input_v
    names += (("v", way.loudest_v, "V"), ("low", low, "V"), ("high", high, "V"))
    working = (
        CalculationLine("U", "clean output at the largest clean volume, rms", way.loudest_v, "V", "reading"),
        CalculationLine("U1", "least input for full output", low, "V", "its sheet"),
        CalculationLine("U2", "most input for full output", high, "V", "its sheet"),
    )
    span = "{source} gives {v}; the input of {into} takes {low} to {high} for full output"
    if way.loudest_v > high:
        names += (("db", 20 * log10(way.loudest_v / high), "dB"),)
        remedy = "A divider of {db} before it, or the input's higher range: it clips whatever the gain"
        return _said("power.signal", "caution", span, remedy, part, names, (way.loudest_v, high, "V"), working=working)
    if way.loudest_v < low:
        remedy = "A lower range of the input, or a line driver; more gain brings noise"
        return _said("power.signal", "caution", span, remedy, part, names, (way.loudest_v, low, "V"), working=working)
    return _said("power.signal", "ok", span, "", part, names, (way.loudest_v, high, "V"), working=working)


def no_input_check(amplifier: str, known: bool) -> Check:
    """An amplifier that nothing feeds; `known`: the ways of the signal were entered, and none leads to it."""
    names = (("amp", amplifier, ""),)
    words = (
        "No signal reaches {amp}: none of the ways entered leads into it"
        if known
        else "Nobody has entered where {amp} gets its signal from"
    )
    remedy = "`into` of a [[factory_output]], or a [[signal]]: from which output, through what, into which input"
    return _said("power.signal", "stop" if known else "caution", words, remedy, "none", names)


def phase_check(pair: SidePair) -> Check:
    """Both sides against each other; one side turned is an open test until it is heard or measured."""
    names = (
        ("opening", pair.opening, ""), ("speaker", pair.speaker, ""), ("left", pair.left_way, ""), ("right", pair.right_way, ""),
    )  # fmt: skip
    test = "Play both sides mono, one speaker held near the other, or the balance in the middle: bass is fuller in phase; then turn one over and compare"
    key = "hand_over.in_phase"
    if pair.heard:
        return _said("wire.phase", "ok", "Both sides of {opening} were heard or measured in phase", "", pair.opening, names, key=key)  # fmt: skip
    if pair.left is None or pair.right is None:
        both = pair.left is None and pair.right is None
        side = "one" if both else "left" if pair.left is None else "right"
        return _said(
            "wire.phase", "caution", f"Nobody has read the polarity of the {side} side of {{opening}} against the other", test,
            pair.opening, names, key=key,
        )  # fmt: skip
    if pair.left == pair.right:
        return _said("wire.phase", "ok", "Both sides of {opening} are the same way round, as entered", "", pair.opening, names, key=key)  # fmt: skip
    side = "left" if pair.left < pair.right else "right"
    return _said(
        "wire.phase", "caution",
        f"The {side} side of {{opening}} is turned against the other ({{{side}}}): out of phase, unless the maker turned it on purpose",
        test + ". Enter the opening at in_phase once it is right", pair.opening, names, key=key,
    )  # fmt: skip
