"""Colors of wires: the letters of IEC 60757 or words, base color first, then the stripe.

    "GY/RD", "gray/red", "gray with a red stripe"      gray with a red stripe
    "GNYE"                                             green-and-yellow, which the standard keeps for protective earth

Table 1 of IEC 60757:2021; the stroke between base and stripe is trade practice: the standard joins letters in the
order of its table and so cannot say which of the two is the stripe.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import get_close_matches

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
    """A color as people write it.

    `text`: letters or words, base first, with a stroke, hyphen or space between base and stripe; InputError: no
    such color, more than two, or a stripe of the base's own color.
    """
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
