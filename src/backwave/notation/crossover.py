"""Filters as they are written in a job, active and passive.  Ground floor.

Active: "high-pass 80 Hz LR4", "peak 160 Hz -3 dB Q 2": a kind, a frequency, then what that kind has: an alignment
("LR4") or a Q for a high-pass or low-pass, a gain and a Q for a peak, a gain and a Q or slope for a shelf, a Q for an
all-pass.  Settings tables print the same words.

Passive: "series L 0.40 mH 0.15 ohm", "shunt R 3.3 ohm + C 26 uF": where a branch goes, then its parts.  Within a branch
`+` is in series and `|` in parallel; `|` binds tighter, and parentheses say otherwise.  A resistance after an inductor
is the coil's own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from math import pi, sqrt
from typing import Literal

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


_DIMENSIONS = {"R": ("resistance", "ohm"), "L": ("inductance", "H"), "C": ("capacitance", "F")}
_ACCEPTED = '"series" or "shunt" and parts: "series L 0.40 mH 0.15 ohm", "shunt R 3.3 ohm + C 26 uF"'
_BOUNDS = {"R": (1e-3, 1e5), "L": (1e-9, 1.0), "C": (1e-12, 1.0)}  # ohm, H, F: beyond, a slipped unit
_DEEPEST = 20
_TOKEN = re.compile(r"\s*([+|()]|[^\s+|()][^+|()]*)")


@dataclass(frozen=True)
class CrossoverPart:
    """A resistor, coil or capacitor."""

    kind: Literal["R", "L", "C"]
    value: float  # H or F, above 0
    ohm: float = 0.0  # ohm, A coil's own resistance


@dataclass(frozen=True)
class Group:
    """Parts in series or in parallel."""

    how: Literal["series", "parallel"]
    parts: tuple[CrossoverPart | Group, ...]  # two or more


@dataclass(frozen=True)
class Branch:
    """One branch of the network."""

    place: Literal["series", "shunt"]  # in the line, or across it
    what: CrossoverPart | Group
    # as a person typed it, "" for one that was made here; branches are equal whatever they were typed as
    text: str = field(default="", compare=False, repr=False)

    def __str__(self) -> str:
        return self.text or write_branch(self)

    @property
    def words(self) -> str:
        """Its parts alone, without where they go, as typed: "C 4.7 uF"."""
        return self.text.strip().partition(" ")[2].strip() or _words(self.what)


@lru_cache(maxsize=2048)  # the same few branches are asked for at every edit
def parse_branch(text: str) -> Branch:
    """A branch from its words. InputError: what is no branch, or no part."""
    place, _, rest = text.strip().partition(" ")
    if place not in ("series", "shunt") or not rest.strip():
        raise InputError("not a branch of a network", text, _ACCEPTED)
    if rest.count("(") > _DEEPEST:
        raise InputError("a branch of a network", f"{rest.count('(')} parentheses", f"{_DEEPEST} or fewer")
    tokens = [m[1].strip() for m in _TOKEN.finditer(rest)]
    if "".join(re.split(r"\s+", rest)) != "".join("".join(t.split()) for t in tokens):
        raise InputError("not a branch of a network", text, _ACCEPTED)
    what, left = _sum(tokens, text)
    if left:
        raise InputError("not a branch of a network", " ".join(left), _ACCEPTED)
    return Branch(place, what, text)  # type: ignore[arg-type]  # one of two words


def _sum(tokens: list[str], text: str) -> tuple[CrossoverPart | Group, list[str]]:
    return _joined(tokens, "+", "series", lambda rest: _joined(rest, "|", "parallel", lambda r: _one(r, text)))


_Read = Callable[[list[str]], "tuple[CrossoverPart | Group, list[str]]"]


def _joined(
    tokens: list[str], sign: str, how: Literal["series", "parallel"], inner: _Read
) -> tuple[CrossoverPart | Group, list[str]]:
    first, rest = inner(tokens)
    parts = [first]
    while rest and rest[0] == sign:
        part, rest = inner(rest[1:])
        parts.append(part)
    return (parts[0] if len(parts) == 1 else Group(how, tuple(parts))), rest


def _one(tokens: list[str], text: str) -> tuple[CrossoverPart | Group, list[str]]:
    if not tokens:
        raise InputError("not a branch of a network", text, _ACCEPTED)
    if tokens[0] == "(":
        what, rest = _sum(tokens[1:], text)
        if not rest or rest[0] != ")":
            raise InputError("a parenthesis that is not closed", text, _ACCEPTED)
        return what, rest[1:]
    return _part(tokens[0]), tokens[1:]


def _part(text: str) -> CrossoverPart:
    words = text.split()
    if len(words) not in (3, 5) or words[0] not in _DIMENSIONS or (len(words) == 5 and words[0] != "L"):
        raise InputError("not a part of a network", text, _ACCEPTED)
    dimension, unit = _DIMENSIONS[words[0]]
    value = parse(f"{words[1]} {words[2]}", dimension).to(unit)
    ohm = parse(f"{words[3]} {words[4]}", "resistance").to("ohm") if len(words) == 5 else 0.0
    if not value > 0 or ohm < 0:
        raise InputError("not a part of a network", text, "a value above 0")
    low, high = _BOUNDS[words[0]]
    if not (low <= value <= high and ohm <= _BOUNDS["R"][1]):
        accepted = f"{low:g} to {high:g} {unit}, a coil's own resistance up to {_BOUNDS['R'][1]:g} ohm"
        raise InputError("a part of a network too small or too large", text, accepted)
    return CrossoverPart(words[0], value, ohm)  # type: ignore[arg-type]  # one of three letters


def write_branch(branch: Branch) -> str:
    """A branch in words that `parse_branch` reads."""
    return f"{branch.place} {_words(branch.what)}"


def _words(what: CrossoverPart | Group, within: str = "") -> str:
    if isinstance(what, CrossoverPart):
        unit = {"R": "ohm", "L": "mH", "C": "uF"}[what.kind]
        scale = {"R": 1.0, "L": 1e3, "C": 1e6}[what.kind]
        own = f" {what.ohm:.6g} ohm" if what.ohm else ""
        return f"{what.kind} {what.value * scale:.10g} {unit}{own}"
    text = (" + " if what.how == "series" else " | ").join(_words(p, what.how) for p in what.parts)
    return f"({text})" if within == "parallel" and what.how == "series" else text


def parts_of(what: CrossoverPart | Group) -> tuple[CrossoverPart, ...]:
    """Every part of a branch, in the order written."""
    return (what,) if isinstance(what, CrossoverPart) else tuple(p for one in what.parts for p in parts_of(one))


def impedance(what: CrossoverPart | Group, f_hz: ArrayLike) -> NDArray[np.complex128]:
    """Impedance of a branch. Returns (n_freq,) ohm."""
    jw = 2j * pi * np.asarray(f_hz, dtype=float)
    if isinstance(what, CrossoverPart):
        if what.kind == "C":
            return np.asarray(1 / (jw * what.value))
        return np.asarray(what.ohm + jw * what.value if what.kind == "L" else what.value + 0 * jw)
    z = [impedance(p, f_hz) for p in what.parts]
    if what.how == "series":
        return np.asarray(sum(z))
    return np.asarray(1 / sum(1 / one for one in z))
