"""Words and colors of wires that are not ours: airbags, belt tensioners, crash sensors, high voltage.

No list is complete and not every such wire is yellow or orange: a word that is missing here proves nothing.  Common
trade practice; the vehicle maker's service information comes first.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Literal

from backwave.notation.wire_color import LETTERS, WireColor

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
