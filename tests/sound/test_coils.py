"""Wirings of equal coils: every one in which each carries the same current, found by trying all there are."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest

from backwave.power.speaker_cable import arrangements

# A wiring by what matters of it: its resistance in coils, and the share of its current that each coil carries.
Wiring = tuple[Fraction, tuple[Fraction, ...]]


@cache
def wirings(coils: int) -> frozenset[Wiring]:
    """Every series and parallel wiring of that many coils of 1 ohm, by Ohm's and Kirchhoff's laws."""
    if coils == 1:
        return frozenset({(Fraction(1), (Fraction(1),))})
    found: set[Wiring] = set()
    for few in range(1, coils // 2 + 1):
        for r, currents in wirings(few):
            for s, others in wirings(coils - few):
                found.add((r + s, tuple(sorted(currents + others))))
                share = s / (r + s)  # the lower resistance takes the more
                parts = [share * i for i in currents] + [(1 - share) * i for i in others]
                found.add((r * s / (r + s), tuple(sorted(parts))))
    return frozenset(found)


@pytest.mark.parametrize("coils", range(1, 8))
def test_every_wiring_with_equal_currents_and_no_other(coils: int) -> None:
    fair = {r for r, currents in wirings(coils) if len(set(currents)) == 1}
    listed = [Fraction(ohm).limit_denominator(1000) for _, _, ohm in arrangements(coils, 1.0)]
    assert set(listed) == fair
    assert listed == sorted(listed)
    for in_series, in_parallel, _ in arrangements(coils, 1.0):
        assert in_series * in_parallel == coils


def test_the_two_coils_of_a_subwoofer() -> None:
    # two of 4 ohm: 2 ohm or 8 ohm; two drivers with two coils of 4 ohm each: 1, 4 or 16 ohm (Ohm's law)
    assert [ohm for _, _, ohm in arrangements(2, 4.0)] == [2.0, 8.0]
    assert [ohm for _, _, ohm in arrangements(4, 4.0)] == [1.0, 4.0, 16.0]
