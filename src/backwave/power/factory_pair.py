"""Finding the factory wires: what may be read on a pair, and what the readings allow to say.

An igniter of an airbag or belt tensioner reads about 2 ohm, exactly like a speaker, and a meter's own current can fire
it.  So no reading is accepted before all of `GATE` is confirmed for that pair, and a resistance alone says nothing
about what hangs on it: only a cone that was seen to move, on its own plug, names a pair.

Polarity by a 1.5 V cell for half a second, woofers only: the cone moves out when the cell's plus is on the plus
terminal.  Through a capacitor, or on a tweeter, the answer is "cannot tell".  Common trade practice throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from backwave.errors import InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.notation.leave_alone import color_of_theirs
from backwave.notation.wire_color import WireColor
from backwave.notation.wire_gate import CELL_RATED_V, PAIR_GATE, POP_S, not_confirmed, refuse_unsafe

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
    """What was read on one pair.  It cannot be made with a reading in it before its gate is passed.

    InputError: A reading before the gate of that very pair, on a yellow wire, with too big a cell or for too long,
    a cell on a tweeter or through a capacitor, or a number that is none.
    """

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
            self.pair,
            [c for c in (self.color_a, self.color_b) if c is not None],
            self.kind,
            self.capacitor,
            self.cell_v if self.cone else None,
            self.cell_s,
        )
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
    numbers: tuple[tuple[str, float | str, str], ...] = (("pair", reading.pair, ""),)
    theirs, said, remedy = color_of_theirs((reading.color_a, reading.color_b), stripes=True), "", ""
    if theirs is not None:
        said = f"Pair {{pair}} has {theirs[0]} in its color: so have lines of {theirs[1]}"
        remedy = "Measure and connect nothing on it; the vehicle maker's service information says what it is"
    elif reading.color_a is not None and reading.color_a == reading.color_b:
        said = "Both wires of pair {pair} have the same color: it does not tell plus from minus"
        remedy = "Read both again; mark the plus wire at once, by the speaker's own marks"
    if not said:
        return []
    return [
        Check(
            "wire.pair", "caution", Message(said, numbers), remedy=Message(remedy, numbers), sources=(PRACTICE, MAKER),
            key=f"pair.{reading.pair}.colors", part=f"{reading.pair}-color",
        )
    ]  # fmt: skip


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
    numbers: tuple[tuple[str, float | str, str], ...] = (("pair", reading.pair, ""), ("coil", coil, ""))
    verdict: Verdict = "caution"
    called = {
        "a": str(reading.color_a or "the first wire"),
        "b": str(reading.color_b or "the second wire"),
        "cannot tell": "",
    }
    numbers += (("wire", called[plus], ""), ("taken", called[reading.taken or "cannot tell"], ""))
    if reading.set_aside:
        words = "Pair {pair}: what was read on it is not confirmed and not used"
        remedy = Message(
            "Confirm the lines of its gate (backwave pair, or Factory wires), then read it again or say that it was read so"
        )
    elif found and reading.taken not in ("", plus):
        words = "Pair {pair}: the cone says that plus is {wire}, and {taken} was taken for it"
        remedy = Message("Turn one of them over: this door would be out of phase", numbers)
    elif found:
        words = "Pair {pair} is this speaker's: its cone moved; plus is {wire}"
        remedy = Message("Mark it now; coil: {coil}", numbers)
        verdict = "ok" if coil in ("plausible", "cannot tell") else "caution"
    elif reading.cone == "still":
        words = "The cone on pair {pair} did not move: cannot tell whose it is, nor which is plus"
        remedy = Message("Try once more with clean contacts; then follow the wire again. Coil: {coil}", numbers)
    elif reading.confirmed.missing():  # nothing else is said before
        words = "Pair {pair}: nothing may be read on it yet"
        remedy = Message("First: " + "; ".join(GATE[key].template for key in reading.confirmed.missing()))
    elif plus != "cannot tell":
        words = "Pair {pair}: plus is {wire} by the speaker's own marks; nothing read says otherwise"
        remedy = Message("Mark it now; coil: {coil}", numbers)
        verdict = "ok" if coil in ("plausible", "capacitor in line", "cannot tell") else "caution"
    elif reading.taken:
        words = "Pair {pair}: {taken} was taken for plus, and no reading says so"
        remedy = Message(_NEXT[coil])
    else:
        words = "Pair {pair}: cannot tell which is plus; coil: {coil}"
        remedy = Message(_NEXT[coil])
    finite = None if ohm is None or not isfinite(ohm) else ohm
    return Check(
        "wire.pair",
        verdict,
        Message(words, numbers),
        finite,
        unit="ohm" if finite is not None else "",
        remedy=None if verdict == "ok" and coil == "plausible" else remedy,
        working=(
            CalculationLine("R", "shown by the meter", reading.ohm if finite is not None else None, "ohm", "reading"),
            CalculationLine("R0", "leads of the meter touching each other", reading.leads_ohm, "ohm", "reading"),
        ),
        sources=(PRACTICE, MAKER),
        key=f"pair.{reading.pair}.resistance",
        part=reading.pair,
    )
