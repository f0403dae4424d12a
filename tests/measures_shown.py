"""Which measures a text shows that its reader did not ask for: metric ones in a job read in inches, and the reverse.

What is not a measure but a name stays in either: what people typed (names, titles), goods that are sold by the
millimeter everywhere (metric threads, filament, nozzles), sources by volume and page, and the check bar of a paper
template, which is given in both.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable

NUMBER = r"(?<![\w.:])\d[\d.,]*(?: ?(?:to|x|×|…|–|±) ?\d[\d.,]*)? ?"
METRIC = re.compile(
    NUMBER + r"(?:mm²|mm2|mm³|mm3|mm/s|mm|cm²|cm2|cm|m²|m³|kg/m²|kg/m2|kg|°C|degC|N/mm|kPa|µm|m|L|N)(?![\w²³°/])"
)
US = re.compile(
    NUMBER
    + r"(?:in²|in³|in/s|in(?! (?:which|the|an?|all|one|each|this|that|its?|front|parallel|series|of)\b)|ft²|ft³|ft|lbf|lb/ft²|lb|oz|°F|degF|psi)(?![\w²³°/])"
)
NAMES = re.compile(
    r"M\d[\d.]* ?× ?[\d.]+ mm|1\.75 mm|0\.4 mm nozzle|[\d.]+ mm (?:nozzle|filament)|100 mm \(3\.94 in\)|(?:ABYC|RVIA)[^;–\n]*? in\b[^;–\n]*"
)

PINS = re.compile(r"(?:\d (?:in|out)\b ?){2,}")


def strange(text: str, system: str, typed: Iterable[str] = ()) -> list[str]:
    """Every measure of the other system, with what stands round it."""
    text = re.sub(r"[ \u00a0\u202f]+", " ", text)
    for name in sorted(typed, key=len, reverse=True):
        text = text.replace(name, "·")
    text = NAMES.sub("·", PINS.sub("·", text))
    pattern = METRIC if system == "us" else US
    return sorted({text[max(0, m.start() - 50) : m.end() + 20].replace("\n", " ") for m in pattern.finditer(text)})


def typed_in(job: str) -> set[str]:
    """Names and titles that a person wrote."""
    held: set[str] = set()

    def walk(node: object) -> None:
        if isinstance(node, dict):
            for key, value in node.items():
                if key in ("name", "title", "note", "text") and isinstance(value, str):
                    held.add(value)
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(tomllib.loads(job))
    return held
