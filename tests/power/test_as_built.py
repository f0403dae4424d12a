"""The walk over every conductor against a walk of its own that shares nothing with it."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.power.protection import Conductor, FittedFuse, Installation, PowerSource, short_a, through_a
from tests.power.own_walk import Cable, most_a


def cable(name: str, start: str, end: str, fuse: float | None = None, at_end: float | None = None) -> Conductor:
    fitted = [None if amps is None else FittedFuse(amps, "strip", 2000) for amps in (fuse, at_end)]
    return Conductor(name, start, end, "feed", name, "16 mm2", 1.0, fuse=fitted[0], end_fuse=fitted[1])


BATTERY = PowerSource("battery", 12.8, 0.005)


def test_protection_is_the_fuse_that_is_fitted() -> None:
    # battery - 40 A - block - (no fuse) - second block - (no fuse) - processor: all three stand behind the 40 A
    made = Installation(
        (BATTERY,),
        (cable("trunk", "battery", "block", 40), cable("second", "block", "block-2"), cable("dsp", "block-2", "dsp"),
         Conductor("dsp ground", "dsp", "body", "ground", "dsp", "4 mm2", 0.5, returns="dsp")),
    )  # fmt: skip
    assert through_a(made) == {"trunk": 40, "second": 40, "dsp": 40, "dsp ground": 40}


def test_two_sources_add_up_behind_their_junction() -> None:
    second = PowerSource("second", 12.8, 0.006)
    made = Installation(
        (BATTERY, second),
        (cable("link", "battery", "second", 100, 80), cable("amp", "second", "amp"), cable("fused", "second", "f", 60)),
    )
    # The second battery sits at the amplifier's block with nothing in between: no fuse protects that cable.
    assert through_a(made) == {"link": 100, "amp": inf, "fused": 60}
    converter = PowerSource("converter", 14.4, None, 30)
    made = Installation((BATTERY, converter), (cable("a", "battery", "j", 40), cable("b", "converter", "j"), cable("c", "j", "amp")))  # fmt: skip
    assert through_a(made) == {"a": 40, "b": 40, "c": 70}


def test_shorts_add_up_and_limits_count() -> None:
    # 12.8 V over 5 + 3 mohm and 12.8 V over 6 + 1 mohm, and 30 A of a converter whatever the cable
    sources = (BATTERY, PowerSource("second", 12.8, 0.006), PowerSource("converter", 14.4, None, 30))
    made = Installation(sources, (cable("a", "battery", "j"), cable("b", "second", "j"), cable("c", "converter", "j")))  # fmt: skip
    ohm = {"a": 0.003, "b": 0.001, "c": 0.01}
    assert short_a(made, "j", ohm) == pytest.approx(12.8 / 0.008 + 12.8 / 0.007 + 30)
    assert short_a(made, "j", ohm, without="b") == pytest.approx(12.8 / 0.008 + 30)
    assert short_a(made, "nowhere", ohm) == 0


def test_random_installations_against_the_own_walk() -> None:
    rng = np.random.default_rng(14)
    seen = {"finite": 0, "infinite": 0}
    for _ in range(60):
        names = ["battery", *(f"n{k}" for k in range(int(rng.integers(2, 6))))]
        sources = {"battery": inf}
        if rng.random() < 0.5:
            sources[str(rng.choice(names[1:]))] = inf if rng.random() < 0.5 else float(rng.integers(10, 60))
        made, own = [], []
        for k, name in enumerate(names[1:], 1):
            ends = [(str(rng.choice(names[:k])), name)]
            if rng.random() < 0.3:
                ends.append((str(rng.choice(names[:k])), name))  # a second way
            for a, b in ends:
                fuses = [float(rng.integers(5, 200)) if rng.random() < 0.6 else None for _ in range(2)]
                made.append(cable(f"c{len(made)}", a, b, *fuses))
                own.append(Cable(a, b, *(inf if f is None else f for f in fuses)))
        found = through_a(
            Installation(
                tuple(PowerSource(s, 12.8, 0.005, None if limit == inf else limit) for s, limit in sources.items()),
                tuple(made),
            )
        )
        for n, conductor in enumerate(made):
            expected = most_a(own, sources, n)
            seen["finite" if expected < inf else "infinite"] += 1
            assert found[conductor.id] == pytest.approx(expected)
    assert min(seen.values()) > 50, seen


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="resistance"):
        PowerSource("x", 12.8)
    with pytest.raises(InputError, match="twice"):
        Installation((BATTERY, BATTERY), ())
