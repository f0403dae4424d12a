"""The signal's way: which factory pair it is, from which output through what into which input, and in which polarity.

An igniter of an airbag or belt tensioner reads about 2 ohm, exactly like a speaker, and a meter's own current can fire
it.  So no reading is accepted before all of `GATE` is confirmed for that pair, and a resistance alone says nothing
about what hangs on it: only a cone that was seen to move, on its own plug, names a pair.

Polarity by a 1.5 V cell for half a second, woofers only: the cone moves out when the cell's plus is on the plus
terminal.  Through a capacitor, or on a tweeter, the answer is "cannot tell".  An output's clean voltage lies within what
the input takes for full output.  Both wires of a bridge output swing: an input that grounds one of them shorts it.
Common trade practice throughout; the sheets of vehicle and amplifier come first."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, log10
from typing import Literal

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Quantities, Verdict, check_of
from backwave.notation.wires import (
    CELL_RATED_V,
    PAIR_GATE,
    POP_S,
    WireColor,
    color_of_theirs,
    not_confirmed,
    refuse_unsafe,
)

# what a person confirms, for each pair, before a meter or a cell touches it
GATE: dict[str, Message] = {key: Message(words) for key, words in PAIR_GATE.items()}
# below: a short; between: what coils rated 1.5 to 16 ohm read, about 0.8 of their rating (common trade practice)
SHORT_OHM, MIN_OHM, MAX_OHM = 0.5, 1.0, 20.0
MAKER = "vehicle maker's service information comes first"


@dataclass(frozen=True)
class Confirmed:
    """What a person has confirmed, for one pair and no other."""

    pair: str  # the pair it was confirmed for
    traced: bool = False  # each as in `GATE`
    not_yellow: bool = False
    not_airbag: bool = False
    battery_off: bool = False
    unplugged: bool = False

    def missing(self) -> tuple[str, ...]:
        """Keys of `GATE` that are not confirmed."""
        return not_confirmed({key: getattr(self, key) for key in GATE})


@dataclass(frozen=True)
class PairReading:
    """What was read on one pair. It cannot be made with a reading in it before its gate is passed. InputError: A
    reading before the gate of that very pair, on a yellow wire, with too big a cell or for too long, a cell on a
    tweeter or through a capacitor, or a number that is none."""

    pair: str  # its name
    confirmed: Confirmed
    # colors of its two wires, None where nobody said; the cell's plus goes on the first
    color_a: WireColor | None = None
    color_b: WireColor | None = None
    kind: Literal["woofer", "tweeter", "unknown"] = "unknown"  # the speaker at whose plug it ends, as seen
    capacitor: bool | None = None  # A capacitor in line was seen; None where nobody could look
    ohm: float | None = None  # ohm, what the meter shows; infinity for "open"
    leads_ohm: float = 0.0  # what the meter shows with its leads touching each other
    cone: Literal["out", "in", "still", ""] = ""  # what the cone did at the cell; "" where no cell was put on
    cell_v: float = CELL_RATED_V  # the cell, and how long it was on
    cell_s: float = POP_S
    taken: Literal["a", "b", ""] = ""  # which wire somebody took for plus
    marks: bool = False  # they did by the speaker's own marks, followed by eye
    # A reading stands in the record that no gate vouches for: it is not among these numbers
    set_aside: bool = False

    def __post_init__(self) -> None:
        if self.ohm is None and not self.cone:
            return
        if self.confirmed.pair != self.pair:
            raise InputError(
                f"reading on pair {self.pair}", f"confirmed for pair {self.confirmed.pair}", "its own gate"
            )
        if missing := self.confirmed.missing():
            said = "; ".join(PAIR_GATE[key] for key in missing)
            raise InputError(f"reading on pair {self.pair}", "not confirmed", f"a reading after: {said}")
        refuse_unsafe(
            self.pair, [c for c in (self.color_a, self.color_b) if c is not None], self.kind, self.capacitor,
            self.cell_v if self.cone else None, self.cell_s,
        )  # fmt: skip
        if self.ohm is not None and not self.ohm >= 0:
            raise InputError(f"resistance of pair {self.pair}, ohm", self.ohm, "0 or more; infinity for open")
        if not (isfinite(self.leads_ohm) and 0 <= self.leads_ohm <= 2):
            raise InputError("resistance of the meter's leads, ohm", self.leads_ohm, "0 to 2 ohm: clean the tips")


@dataclass(frozen=True)
class PairSays:
    """What the readings of a pair allow to say."""

    pair: str  # its name
    found: bool  # it is the pair of the speaker it was traced to: its cone moved
    plus: Literal["a", "b", "cannot tell"]  # which wire is plus: what the cone said, else what its marks did
    # what the resistance goes with, on a pair that was traced to its plug
    coil: Literal["plausible", "shorted", "open", "capacitor in line", "odd", "cannot tell"]
    coil_ohm: float | None  # less the meter's leads
    checks: tuple[Check, ...]  # the same for a person, with what to do next


def read_pair(reading: PairReading) -> PairSays:
    """What one pair's readings allow to say, and no more."""
    ohm = None if reading.ohm is None else max(0.0, reading.ohm - reading.leads_ohm)
    coil = _coil(reading, ohm)
    plus: Literal["a", "b", "cannot tell"] = "cannot tell"
    if reading.cone in ("out", "in"):
        plus = "a" if reading.cone == "out" else "b"
    found = plus != "cannot tell"
    if not found and reading.taken and reading.marks and not reading.confirmed.missing():
        plus = reading.taken
    checks = (_said(reading, found, plus, coil, ohm), *_colors(reading))
    return PairSays(reading.pair, found, plus, coil, ohm, checks)


def _colors(reading: PairReading) -> list[Check]:
    """Colors that are not ours, and two wires of one color."""
    theirs = color_of_theirs((reading.color_a, reading.color_b), stripes=True)
    if theirs is not None:
        said = f"Pair {{pair}} has {theirs[0]} in its color: so have lines of {theirs[1]}"
        remedy = "Measure and connect nothing on it; the vehicle maker's service information says what it is"
    elif reading.color_a is not None and reading.color_a == reading.color_b:
        said = "Both wires of pair {pair} have the same color: it does not tell plus from minus"
        remedy = "Read both again; mark the plus wire at once, by the speaker's own marks"
    else:
        return []
    return [check_of(
        "wire.pair", "caution", said, remedy, (("pair", reading.pair, ""),), sources=(PRACTICE, MAKER),
        key=f"pair.{reading.pair}.colors", part=f"{reading.pair}-color",
    )]  # fmt: skip


def _coil(
    reading: PairReading, ohm: float | None
) -> Literal["plausible", "shorted", "open", "capacitor in line", "odd", "cannot tell"]:
    if ohm is None:
        return "cannot tell"
    if not isfinite(ohm) or ohm > 1e3:
        return "capacitor in line" if reading.capacitor else "open"
    if ohm < SHORT_OHM:
        return "shorted"
    return "plausible" if MIN_OHM <= ohm <= MAX_OHM else "odd"


_NEXT = {
    "plausible": "A resistance alone names no pair: an igniter reads the same. On a woofer's own plug, try the cell",
    "shorted": "Look for a pinched loom or a strand across the plug; nothing is connected to this pair until it is found",
    "open": "A broken wire, a plug not seated, or a capacitor in line: look at the speaker's end",
    "capacitor in line": "As it should be on a tweeter: polarity by the marks on the speaker, or by measuring with the woofer",
    "odd": "Read again with clean tips; if it stays, measure at the speaker's own terminals",
    "cannot tell": "Read its resistance, or try the cell on a woofer",
}


def _said(reading: PairReading, found: bool, plus: str, coil: str, ohm: float | None) -> Check:
    called = {"a": str(reading.color_a or "the first wire"), "b": str(reading.color_b or "the second wire")}
    numbers = (
        ("pair", reading.pair, ""), ("coil", coil, ""), ("wire", called.get(plus, ""), ""), ("taken", called.get(reading.taken, ""), ""),
    )  # fmt: skip
    verdict: Verdict = "caution"
    if reading.set_aside:
        words = "Pair {pair}: what was read on it is not confirmed and not used"
        remedy = "Confirm the lines of its gate (backwave pair, or Factory wires), then read it again or say that it was read so"
    elif found and reading.taken not in ("", plus):
        words = "Pair {pair}: the cone says that plus is {wire}, and {taken} was taken for it"
        remedy = "Turn one of them over: this door would be out of phase"
    elif found:
        words, remedy = "Pair {pair} is this speaker's: its cone moved; plus is {wire}", "Mark it now; coil: {coil}"
        verdict = "ok" if coil in ("plausible", "cannot tell") else "caution"
    elif reading.cone == "still":
        words = "The cone on pair {pair} did not move: cannot tell whose it is, nor which is plus"
        remedy = "Try once more with clean contacts; then follow the wire again. Coil: {coil}"
    elif reading.confirmed.missing():  # nothing else is said before
        words = "Pair {pair}: nothing may be read on it yet"
        count = f"{len(reading.confirmed.missing())} of {len(GATE)}"
        remedy = f"Confirm the lines of its gate first, the meter put away: {count} are open (backwave pair, or Factory wires)"
    elif plus != "cannot tell":
        words = "Pair {pair}: plus is {wire} by the speaker's own marks; nothing read says otherwise"
        remedy = "Mark it now; coil: {coil}"
        verdict = "ok" if coil in ("plausible", "capacitor in line", "cannot tell") else "caution"
    elif reading.taken:
        words, remedy = "Pair {pair}: {taken} was taken for plus, and no reading says so", _NEXT[coil]
    else:
        words, remedy = "Pair {pair}: cannot tell which is plus; coil: {coil}", _NEXT[coil]
    finite = None if ohm is None or not isfinite(ohm) else ohm
    return check_of(
        "wire.pair", verdict, words, "" if verdict == "ok" and coil == "plausible" else remedy, numbers,
        (finite, None, "" if finite is None else "ohm"),
        (
            CalculationLine("R", "shown by the meter", reading.ohm if finite is not None else None, "ohm", "reading"),
            CalculationLine("R0", "leads of the meter touching each other", reading.leads_ohm, "ohm", "reading"),
            *(CalculationLine("not confirmed", GATE[key].template, None, "") for key in reading.confirmed.missing()),
        ),
        (PRACTICE, MAKER), f"pair.{reading.pair}.resistance", reading.pair,
    )  # fmt: skip


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


_SHEET = (PRACTICE, "the amplifier's sheet")


def way_checks(way: SignalWay) -> tuple[Check, ...]:
    """One way: whether output and input go together, and whether its voltage lies within the input's range."""
    names = (("source", way.source, ""), ("into", way.into, ""), ("output", way.output, ""), ("input", way.input, ""))

    def found(code: str, verdict: Verdict, words: str, remedy: str = "") -> Check:
        return check_of(code, verdict, words, remedy, names, sources=_SHEET, key="signal", part=way.source)

    if (way.output == "digital") != (way.input == "digital"):
        words = "The {output} output of {source} does not fit the {input} input of {into}"
        return (found("power.signal", "stop", words, "A converter between them, or the input that fits"),)
    if way.output == "digital":
        return (found("power.signal", "ok", "{source} feeds {into} digitally"),)
    checks = [_level(way)]
    if way.output == "speaker wires" and way.input == "speaker-level" and way.bridge and not way.isolated:
        if way.isolated is False:
            words = "{source} is bridge-tied: both of its speaker wires swing, and the speaker-level input of {into} grounds one of them"
            remedy = "A differential input, or a line transformer (isolated) before it"
            checks.insert(0, found("wire.input", "stop", words, remedy))
        else:
            words = "{source} is bridge-tied; not entered yet whether the speaker-level input of {into} is differential"
            checks.insert(0, found("wire.input", "caution", words, "Enter differential of {into}, from its sheet"))
    elif way.output == "speaker wires" and way.input == "pre-in" and not way.isolated:
        shorts = way.bridge and way.isolated is False
        words = "The speaker wires of {source} go into the pre-in of {into}"
        words += (
            ": both wires of them swing, and this input grounds one"
            if shorts
            else "; not entered yet that what is between isolates them"
        )
        remedy = "The amplifier's speaker-level input, or a line transformer (isolated)"
        checks.insert(0, found("power.signal", "stop" if shorts else "caution", words, remedy))
    return tuple(checks)


def _level(way: SignalWay) -> Check:
    names: Quantities = (("source", way.source, ""), ("into", way.into, ""))
    part = f"{way.source} level"
    if way.loudest_v is None or way.input_v is None:
        gives = ["what {source} gives at its largest clean volume"] if way.loudest_v is None else []
        takes = ["what the input of {into} takes for full output"] if way.input_v is None else []
        words = "Not entered yet: " + ", ".join(gives + takes)
        remedy = "A 1 kHz tone at that volume, AC volts at the output with the speakers off; the input's range from its sheet"
        return check_of("power.signal", "caution", words, remedy, names, sources=_SHEET, key="signal", part=part)
    low, high = way.input_v
    volts, remedy = way.loudest_v, ""
    if volts > high:
        remedy = "A divider of {db} before it, or the input's higher range: it clips whatever the gain"
    elif volts < low:
        remedy = "A lower range of the input, or a line driver; more gain brings noise"
    return check_of(
        "power.signal", "caution" if remedy else "ok", "{source} gives {v}; the input of {into} takes {low} to {high} for full output",
        remedy, (*names, ("v", volts, "V"), ("low", low, "V"), ("high", high, "V"), ("db", 20 * log10(max(volts, 1e-9) / high), "dB")),
        (volts, low if volts < low else high, "V"),
        (
            CalculationLine("U", "clean output at the largest clean volume, rms", volts, "V", "reading"),
            CalculationLine("U1", "least input for full output", low, "V", "its sheet"),
            CalculationLine("U2", "most input for full output", high, "V", "its sheet"),
        ),
        _SHEET, "signal", part,
    )  # fmt: skip


def no_input_check(amplifier: str, known: bool) -> Check:
    """An amplifier that nothing feeds; `known`: the ways of the signal were entered, and none leads to it."""
    words = "Not entered yet where {amp} gets its signal from"
    if known:
        words = "No signal reaches {amp}: none of the ways entered leads into it"
    remedy = "`into` of a [[factory_output]], or a [[signal]]: from which output, through what, into which input"
    verdict: Verdict = "stop" if known else "caution"
    return check_of(
        "power.signal", verdict, words, remedy, (("amp", amplifier, ""),), sources=_SHEET, key="signal", part="none"
    )


def phase_check(pair: SidePair) -> Check:
    """Both sides against each other; one side turned is an open test until it is heard or measured."""
    remedy = "Play both sides mono, one speaker held near the other, or the balance in the middle: bass is fuller in phase; then turn one over and compare"
    if pair.heard:
        words, remedy = "Both sides of {opening} were heard or measured in phase", ""
    elif pair.left is None or pair.right is None:
        side = "one" if pair.left is pair.right else "left" if pair.left is None else "right"
        words = f"No polarity of the {side} side of {{opening}} against the other entered yet"
    elif pair.left == pair.right:
        words, remedy = "Both sides of {opening} are the same way round, as entered", ""
    else:
        side = "left" if pair.left < pair.right else "right"
        words = f"The {side} side of {{opening}} is turned against the other ({{{side}}}): out of phase, unless the maker turned it on purpose"
        remedy += ". Enter the opening at in_phase once it is right"
    names = (
        ("opening", pair.opening, ""), ("speaker", pair.speaker, ""), ("left", pair.left_way, ""), ("right", pair.right_way, ""),
    )  # fmt: skip
    return check_of(
        "wire.phase", "caution" if remedy else "ok", words, remedy, names, sources=_SHEET, key="hand_over.in_phase", part=pair.opening
    )  # fmt: skip
