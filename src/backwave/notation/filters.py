"""Active filters as they are written in a job: "high-pass 80 Hz LR4", "peak 160 Hz -3 dB Q 2".  Ground floor.

A kind, a frequency, then what that kind has: an alignment ("LR4") or a Q for a high-pass or low-pass, a gain and a Q
for a peak, a gain and a Q or slope for a shelf, a Q for an all-pass.  Settings tables print the same words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from backwave.acoustics import CROSSOVERS, Kind, biquad, crossover, shelf_q
from backwave.errors import InputError
from backwave.units import parse

_SHAPE = re.compile(
    r"(?P<kind>high-pass|low-pass|all-pass|peak|low-shelf|high-shelf)\s+(?P<f>[^\s]+\s*k?Hz)"
    r"(?:\s+(?P<gain>[+\-\u2212]?[\d.,]+)\s*dB)?"
    r"(?:\s+(?:(?P<name>[A-Z]{2}\d)|Q\s*(?P<q>[\d.,]+)|S\s*(?P<s>[\d.,]+)))?"
)
_MAX_DB = 60.0
_NEEDS = {
    "high-pass": 'an alignment or a Q: "high-pass 80 Hz LR4", "high-pass 80 Hz Q 0.7"',
    "low-pass": 'an alignment or a Q: "low-pass 80 Hz LR4", "low-pass 80 Hz Q 0.7"',
    "all-pass": 'a Q: "all-pass 120 Hz Q 0.7"',
    "peak": 'a gain and a Q: "peak 160 Hz -3 dB Q 2"',
    "low-shelf": 'a gain, and a Q or a slope: "low-shelf 100 Hz +3 dB S 1"',
    "high-shelf": 'a gain, and a Q or a slope: "high-shelf 6 kHz -2 dB S 1"',
}
_KINDS: dict[str, Kind] = {
    "high-pass": "high-pass", "low-pass": "low-pass", "all-pass": "all-pass", "peak": "peak",
    "low-shelf": "low shelf", "high-shelf": "high shelf",
}  # fmt: skip


@dataclass(frozen=True)
class Filter:
    """One active filter."""

    kind: str  # "high-pass", "low-pass", "all-pass", "peak", "low-shelf" or "high-shelf"
    f0_hz: float  # corner or center
    # of a high-pass or low-pass, one of `filters.CROSSOVERS`; "" for a second-order one with `q`
    alignment: str = ""
    gain_db: float = 0.0  # of a peak or shelf
    q: float = sqrt(0.5)  # 1, quality where there is no alignment
    # as a person typed it, "" for one that was made here; filters are equal whatever they were typed as
    text: str = field(default="", compare=False, repr=False)

    def __str__(self) -> str:
        return self.text or write_filter(self)

    def response(self, f_hz: ArrayLike) -> NDArray[np.complex128]:
        """Complex response."""
        if self.alignment:
            side = "high-pass" if self.kind == "high-pass" else "low-pass"
            return crossover(f_hz, side, self.alignment, self.f0_hz)  # type: ignore[arg-type]  # one of two words
        return biquad(_KINDS[self.kind], self.f0_hz, self.gain_db, self.q).response(f_hz)


def parse_filter(text: str) -> Filter:
    """A filter from its words. InputError: no such filter, or something that its kind needs or does not have."""
    match = _SHAPE.fullmatch(text.strip())
    if match is None:
        kinds = "high-pass, low-pass, all-pass, peak, low-shelf or high-shelf, and a frequency"
        raise InputError("not a filter", text, f'{kinds}: "high-pass 80 Hz LR4"')
    kind, gain, name = match["kind"], match["gain"], match["name"] or ""
    q, slope = _number(match["q"]), _number(match["s"])
    f0 = parse(match["f"], "frequency").to("Hz")
    passes, shelf = kind in ("high-pass", "low-pass"), kind.endswith("shelf")
    fits = {
        "gain": (gain is not None) == (shelf or kind == "peak"),
        "name": not name or passes,
        "S": slope is None or shelf,
        "shape": bool(name) or q is not None or slope is not None,
    }
    if not all(fits.values()):
        raise InputError(f"not a {kind}", text, _NEEDS[kind])
    if name and name not in CROSSOVERS:
        raise InputError("no such alignment", name, ", ".join(CROSSOVERS))
    gain_db = _number((gain or "0").replace("\u2212", "-")) or 0.0
    if slope is not None:
        q = shelf_q(slope, gain_db)
    made = Filter(kind, f0, name, gain_db, sqrt(0.5) if q is None else q, text)
    too_far = f0 > 0 and not 1 <= f0 <= 1e5
    if not too_far:
        made.response([f0])  # refuses what cannot be
    if too_far or not (abs(gain_db) <= _MAX_DB and 0.01 <= made.q <= 1000):
        accepted = f"1 Hz to 100 kHz, up to {_MAX_DB:g} dB either way, Q 0.01 to 1000"
        raise InputError("a filter too far out", text, accepted)
    return made


def corner_hz(filters: Iterable[Filter]) -> float | None:
    """The highest high-pass of a chain, Hz; None where it has none."""
    return max((one.f0_hz for one in filters if one.kind == "high-pass"), default=None)


def write_filter(made: Filter) -> str:
    """A filter in words that `parse_filter` reads, to a tenth of a hertz and a hundredth of a decibel."""
    gain = f" {made.gain_db:+.2f} dB" if made.kind == "peak" or made.kind.endswith("shelf") else ""
    f0 = f"{made.f0_hz:.1f}".removesuffix(".0")
    return f"{made.kind} {f0} Hz{gain} {made.alignment or f'Q {made.q:.4g}'}"


def _number(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError("not a number in a filter", text, "such as 0.7") from None
