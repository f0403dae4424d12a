"""What an amplifier's channel is loaded with: coils in series and parallel, bridged, against the lowest load.

Rated loads are compared with rated loads.  Two channels bridged drive one load with opposite voltages, so each sees
half of it: a bridged pair needs twice the lowest load of a channel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from backwave.errors import InputError
from backwave.finding import CalculationLine, Check, Message


@dataclass(frozen=True)
class ChannelLoad:
    """The load on a channel, or on a bridged pair."""

    load_ohm: float  # across the terminals
    seen_ohm: float  # what each channel sees
    bridged: bool  # two channels on one load
    checks: tuple[Check, ...]  # against the lowest load; empty where nobody gave it


def arrangements(coils: int, ohm: float) -> tuple[tuple[int, int, float], ...]:
    """Every way to wire equal coils as equal strings: coils in series, strings in parallel, what it makes.

    `ohm`, ohm; returns rising in ohm.
    """
    if coils < 1:
        raise InputError("coils", coils, "1 or more")
    return tuple((s, coils // s, ohm * s * s / coils) for s in range(1, coils + 1) if coils % s == 0)


def channel_load(
    strings: Sequence[Sequence[float]], lowest_ohm: float | None = None, bridged: bool = False
) -> ChannelLoad:
    """Load of coils wired as strings in parallel, against the lowest load of a channel.

    `strings`, ohm: each the coils in series; the strings are in parallel: `((4, 4), (4, 4))`; InputError: no coil,
    or one that is not a finite number above 0.
    """
    for string in strings:
        for ohm in string:
            if not (isfinite(ohm) and ohm > 0):
                raise InputError("coil, ohm", ohm, "a finite number above 0")
    if not strings or not all(strings):
        raise InputError("coils on the channel", "none", "one or more in each string")
    load = 1 / sum(1 / sum(string) for string in strings)
    seen = load / 2 if bridged else load
    if lowest_ohm is None:
        return ChannelLoad(load, seen, bridged, ())
    return ChannelLoad(load, seen, bridged, (_check(strings, load, seen, lowest_ohm, bridged),))


def _check(strings: Sequence[Sequence[float]], load: float, seen: float, lowest: float, bridged: bool) -> Check:
    # Ratings are rounded numbers: 3.9 against 4 is the same.
    low = seen < 0.95 * lowest
    coils = [ohm for string in strings for ohm in string]
    limit = lowest * (2 if bridged else 1)
    remedy = (
        Message("Coils of a higher rating, or a channel for each")
        if not bridged
        else Message("Not bridged, or coils of a higher rating")
    )
    if len(set(coils)) == 1:
        better = [a for a in arrangements(len(coils), coils[0]) if a[2] >= 0.95 * limit]
        if better:
            places = (("s", str(better[0][0]), ""), ("p", str(better[0][1]), ""), ("ohm", better[0][2], "ohm"))
            words = (
                "{s} in series, {p} such strings in parallel: {ohm}" if better[0][1] > 1 else "All {s} in series: {ohm}"
            )
            remedy = Message(words, places)
    return Check(
        "power.channel",
        "stop" if low else "ok",
        Message(
            ("Bridged, each channel sees {seen}" if bridged else "The channel sees {seen}")
            + (
                "; it drives {lowest} at the least and may burn or shut down"
                if low
                else "; it drives {lowest} and more"
            ),
            (("seen", seen, "ohm"), ("lowest", lowest, "ohm")),
        ),
        seen,
        lowest,
        "ohm",
        remedy=remedy if low else None,
        working=(
            CalculationLine("R", "across the terminals: strings in parallel", load, "ohm", "Ohm's law"),
            CalculationLine("Rs", "seen by each channel" + (", half of it: bridged" if bridged else ""), seen, "ohm"),
            CalculationLine("R0", "lowest load of a channel", lowest, "ohm", "the amplifier's sheet"),
        ),
        sources=("Ohm's law", "common trade practice: ratings compare with ratings"),
    )
