"""Wires as people write them: colors, which of them are not ours, and what is confirmed before one is read.

    "GY/RD", "gray/red", "gray with a red stripe"      gray with a red stripe
    "GNYE"                                             green-and-yellow, which the standard keeps for protective earth

Letters of IEC 60757:2021, table 1; the stroke between base and stripe is trade practice: the standard joins letters in
the order of its table and so cannot say which of the two is the stripe.

No list of words and colors of airbags, belt tensioners, crash sensors and high voltage is complete, and not every such
wire is yellow or orange: a word that is missing here proves nothing.  An igniter reads about 2 ohm, exactly like a
speaker, and a meter's own current can fire it.  The record, the rooms and every face hold to these gates.  Common trade
practice; the vehicle maker's service information comes first."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal

from backwave.errors import InputError

# letters and words, in the order of IEC 60757 Table 1
LETTERS: dict[str, str] = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green", "BU": "blue",
    "VT": "violet", "GY": "gray", "WH": "white", "PK": "pink", "GD": "gold", "TQ": "turquoise", "SR": "silver",
}  # fmt: skip

_WORDS = {word: code for code, word in LETTERS.items()} | {"grey": "GY", "purple": "VT"}
_FILL = {"with", "a", "an", "and", "stripe", "striped", "tracer", "trace"}
_PROTECTIVE = "GNYE"


@dataclass(frozen=True)
class WireColor:
    """The color of a wire."""

    base: str  # letters of the base color, a key of `LETTERS` (or "GNYE")
    stripe: str = ""  # letters of the stripe, "" for none
    # as a person typed it, "" for one that was made here; colors are equal whatever they were typed as
    text: str = field(default="", compare=False, repr=False)

    def __str__(self) -> str:
        return self.text or self.code

    @property
    def code(self) -> str:
        """As it is written on a schedule: "GY/RD"."""
        return f"{self.base}/{self.stripe}" if self.stripe else self.base

    @property
    def letters(self) -> tuple[str, ...]:
        """Every color in it, base first: ("GN", "YE") for green-and-yellow."""
        base = ("GN", "YE") if self.base == _PROTECTIVE else (self.base,)
        return (*base, self.stripe) if self.stripe else base

    @property
    def joined(self) -> str:
        """As IEC 60757 writes two colors: letters joined in the order of its table, base and stripe no longer told apart."""
        if _PROTECTIVE in (self.base, self.stripe) or not self.stripe:
            return self.base + self.stripe
        both = sorted((self.base, self.stripe), key=list(LETTERS).index)
        return _PROTECTIVE if both == ["YE", "GN"] else "".join(both)

    @property
    def words(self) -> str:
        """For a person: "gray with a red stripe"."""
        if self.base == _PROTECTIVE:
            return "green-and-yellow"
        stripe = f" with a{'n' if self.stripe == 'OG' else ''} {LETTERS[self.stripe]} stripe" if self.stripe else ""
        return LETTERS[self.base] + stripe


def parse_color(text: str) -> WireColor:
    """A color as people write it. `text`: letters or words, base first, with a stroke, hyphen or space between base and
    stripe; InputError: no such color, more than two, or a stripe of the base's own color."""
    tokens = [t for t in re.split(r"[\s/,\-]+", text.strip().lower()) if t and t not in _FILL]
    if [_code(t) for t in tokens] == [_PROTECTIVE]:
        return WireColor(_PROTECTIVE, text=text)
    codes = []
    for token in tokens:
        code = _code(token)
        if code not in LETTERS:
            raise InputError("color of a wire" + (f", {text!r}" if len(text) <= 60 else ""), token, _accepted(token))
        codes.append(code)
    if not 1 <= len(codes) <= 2 or len(set(codes)) != len(codes):
        raise InputError("color of a wire", text, 'a base color and at most one stripe of another: "GY/RD"')
    base, *stripe = codes
    return WireColor(base, stripe[0] if stripe else "", text)


def _code(token: str) -> str:
    return _WORDS.get(token, token.upper())


def _accepted(token: str) -> str:
    near = get_close_matches(token, [*_WORDS, *(c.lower() for c in LETTERS)], 1, 0.6)
    hint = f"; nearest: {_code(near[0])} ({LETTERS[_code(near[0])]})" if near else ""
    return ", ".join(f"{code} {word}" for code, word in LETTERS.items()) + hint


# colors that are kept for what is not ours, by letters
THEIRS = {"YE": "airbags and belt tensioners", "OG": "high voltage"}
_SURE = (
    "airbag", "air bag", "srs", "sir", "cuscino", "occupancy", "restraint", "tensioner", "belt", "igniter", "ignitor", "squib", "inflator", "pyro", "impact", "crash",
    "high voltage", "high-voltage", "hv",
    "gurt", "straffer", "zunder", "zuender", "zundpille", "aufprall", "prallsensor", "hochvolt",
    "coussin gonflable", "pretensionneur", "ceinture", "gonfleur", "haute tension",
    "bolsa de aire", "bolsa de ar", "cinturon", "cinto de seguranca", "pretensor", "alta tension", "alta tensao",
    "pretensionatore", "cintura", "alta tensione", "gordel", "ontsteker", "hoogspanning",
    "poduszka", "napinacz", "pas bezpieczenstwa", "wysokie napiecie", "krockkudde", "balte", "sakerhetsbalte",
)  # fmt: skip
_MAYBE = (
    "buckle", "curtain", "occupant", "rollover", "roll-over", "interlock", "seat sensor", "seat mat", "knee bag", "initiator",
    "schloss", "sitzbelegung", "uberroll", "vorhang", "boucle", "rideau", "choc", "hebilla", "cortina", "fibbia", "tendina", "urto",
    "gesp", "klamra", "kurtyna",
)  # fmt: skip


def names_theirs(text: str) -> Literal["", "maybe", "sure"]:
    """Whether words about a wire name a restraint or high voltage, in any of eight languages; accents do not matter."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c))
    spaced = " ".join(re.findall(r"[a-z0-9]+", plain))
    joined = re.sub(r"\b(?:[a-z] )+[a-z]\b", lambda m: m[0].replace(" ", ""), spaced)  # "A-I-R-B-A-G", "S.R.S."
    texts = (plain, spaced, joined)
    if any(_has(flat, word) for word in _SURE for flat in texts):
        return "sure"
    return "maybe" if any(_has(flat, word) for word in _MAYBE for flat in texts) else ""


def _has(text: str, word: str) -> bool:
    """Short words stand alone; longer ones may be part of another, as in "Seitenairbag"."""
    return word in text if len(word) > 4 else re.search(rf"(?<![a-z]){re.escape(word)}(?![a-z])", text) is not None


def color_of_theirs(colors: Iterable[WireColor | None], stripes: bool = False) -> tuple[str, str] | None:
    """The first base color (or stripe) kept for what is not ours, with what it is kept for; None for none."""
    for color in colors:
        for code in () if color is None else color.letters if stripes else (color.base,):
            if code in THEIRS:
                return LETTERS[code], THEIRS[code]
    return None


# before a meter or a cell touches a pair of factory wires: key, and what is confirmed
PAIR_GATE: dict[str, str] = {
    "traced": "Traced by eye, all the way, to the speaker's own unplugged plug",
    "not_yellow": "Neither the wires, nor their sleeve, nor the connector are yellow or orange",
    "not_airbag": "It is no connector of an airbag, belt tensioner, seat or side-impact sensor (not every one of them is yellow)",
    "battery_off": "Every battery is disconnected, a capacitor bank is discharged, and the waiting time of the vehicle's maker is over",
    "unplugged": "At the speaker, its plug is off; anywhere along the loom, both ends of the loom are unplugged",
}
# before anything is read on a factory output while it plays
OUTPUT_GATE: dict[str, str] = {
    "closed": "Every airbag, belt and seat connector is closed, and nobody sits before an airbag",
    "live": "The battery is on and the system plays on purpose: this is a reading on live wires",
    "clear": "Trim, tools and hands are clear of the contacts, and the probes cannot touch each other or the body",
    "meter": "The meter is on volts, AC for a level and DC for an offset, and none of its probes is grounded",
}
# before a gain is found with a tone
GAIN_GATE: dict[str, str] = {
    "speakers_off": "Every speaker of this amplifier is disconnected at the amplifier",
    "gain_down": "Gain all the way down, tone controls and boosts flat, filters open at the tone",
    "meter": "The meter is on AC volts, its probes cannot touch each other or the case",
    "ears": "Nobody with ears near a speaker; ear protection on",
}
GATES: dict[str, dict[str, str]] = {"pair": PAIR_GATE, "output": OUTPUT_GATE, "gain": GAIN_GATE}
OF_THE_VEHICLE = frozenset({"battery_off"})  # lines said once for the whole vehicle, not for one pair
HOLDS_S = 12 * 3600.0  # how long a line holds: one visit (common trade practice)
CELL_RATED_V = 1.5  # A single dry cell, where nobody said which
CELL_V, POP_S = 1.6, 0.5  # most of a fresh 1.5 V cell, and how long it may stay on (common trade practice)


def not_confirmed(ticked: Mapping[str, object]) -> tuple[str, ...]:
    """Keys of `PAIR_GATE` that nobody confirmed; only True counts."""
    return tuple(key for key in PAIR_GATE if ticked.get(key) is not True)


def refuse_unsafe(
    pair: str,
    colors: Sequence[WireColor] = (),
    kind: str = "unknown",
    capacitor: bool | None = None,
    cell_v: float | None = None,
    cell_s: float = POP_S,
) -> None:
    """Refuse a reading that must not be taken, whatever was confirmed; call it only where there is a reading. `kind` is
    the speaker at whose plug the pair ends; `cell_v` (V) and `cell_s` (s) are the cell's, None for no cell. InputError:
    A wire is yellow or orange, its name is of a restraint, or the cell is too big, too long on, or not on a woofer."""
    theirs = color_of_theirs(colors)
    if theirs is not None:
        raise InputError(
            f"reading on pair {pair}", theirs[0], f"none on a {theirs[0]} wire ({theirs[1]}), whatever was confirmed"
        )
    if names_theirs(pair) == "sure":
        raise InputError(f"reading on pair {pair}", pair, "none on what its name calls a restraint or high voltage")
    if cell_v is None:
        return
    if not (0 < cell_v <= CELL_V and 0 < cell_s <= POP_S):
        found = f"{cell_v:g} V for {cell_s:g} s"
        raise InputError(f"cell on pair {pair}", found, "one 1.5 V cell for at most half a second")
    if kind != "woofer" or capacitor:
        found = "a capacitor in line" if capacitor else f'ends_at = "{kind}"'
        raise InputError(f"cell on pair {pair}", found, 'woofers only (ends_at = "woofer"), and no capacitor in line')
