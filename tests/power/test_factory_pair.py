"""Finding the factory wires: nothing before the gate, nothing from a resistance alone.

The gate and the pop test are common trade practice (the igniter's 2 ohm likewise); no formula stands here.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import inf
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.notation.wires import parse_color
from backwave.power.signal_way import GATE, Confirmed, PairReading, read_pair

ALL = Confirmed("a", True, True, True, True, True)


@pytest.mark.parametrize("ticks", [t for t in product((False, True), repeat=5) if not all(t)])
def test_no_reading_is_accepted_before_the_whole_gate(ticks: tuple[bool, ...]) -> None:
    confirmed = Confirmed("a", *ticks)
    assert len(confirmed.missing()) == ticks.count(False)
    for reading in ({"ohm": 2.0}, {"cone": "out", "kind": "woofer"}):
        with pytest.raises(InputError, match="not confirmed") as error:
            PairReading("a", confirmed, **reading)  # type: ignore[arg-type]
        assert all(GATE[key].template in str(error.value) for key in confirmed.missing())


def test_a_tick_is_a_tick_and_nothing_that_looks_like_one() -> None:
    # A form that hands over "no" or 1 has not had a person say yes.
    loose: Any = "no"
    with pytest.raises(InputError):
        PairReading("a", Confirmed("a", loose, True, True, True, True), ohm=4.0)


def test_what_was_confirmed_for_one_pair_opens_no_other() -> None:
    with pytest.raises(InputError, match="its own gate"):
        PairReading("b", ALL, ohm=4.0)


def test_an_igniter_and_a_speaker_read_the_same() -> None:
    # 2 ohm: a coil rated 2 to 2.7 ohm, and an igniter.  Neither pair nor polarity follows.
    says = read_pair(PairReading("a", ALL, kind="woofer", ohm=2.2, leads_ohm=0.2))
    assert (says.found, says.plus, says.coil) == (False, "cannot tell", "plausible")
    assert says.coil_ohm == pytest.approx(2.0)
    assert says.checks[0].verdict == "caution"
    assert says.checks[0].remedy is not None
    assert "igniter" in says.checks[0].remedy.template


@given(st.floats(0, 1e4) | st.just(inf), st.sampled_from(["woofer", "tweeter", "unknown"]), st.none() | st.booleans())
def test_nothing_is_found_by_a_resistance_alone(ohm: float, kind: Any, capacitor: bool | None) -> None:
    says = read_pair(PairReading("a", ALL, kind=kind, capacitor=capacitor, ohm=ohm))
    assert not says.found
    assert says.plus == "cannot tell"
    assert says.checks[0].verdict == "caution"


@pytest.mark.parametrize(("cone", "plus"), [("out", "a"), ("in", "b")])
def test_the_cone_that_moved_names_pair_and_polarity(cone: Any, plus: str) -> None:
    says = read_pair(PairReading("a", ALL, parse_color("GY/RD"), parse_color("GY/BK"), "woofer", False, 3.4, 0.2, cone))
    assert (says.found, says.plus, says.coil) == (True, plus, "plausible")
    assert says.checks[0].verdict == "ok"


def test_a_cone_that_stayed_says_nothing() -> None:
    says = read_pair(PairReading("a", ALL, kind="woofer", cone="still"))
    assert (says.found, says.plus) == (False, "cannot tell")


@pytest.mark.parametrize(
    ("ohm", "capacitor", "coil"),
    [(0.1, None, "shorted"), (0.7, None, "odd"), (80.0, None, "odd"), (inf, None, "open"), (inf, True, "capacitor in line")],
)  # fmt: skip
def test_coils(ohm: float, capacitor: bool | None, coil: str) -> None:
    assert read_pair(PairReading("a", ALL, capacitor=capacitor, ohm=ohm)).coil == coil


@pytest.mark.parametrize(
    "reading",
    [
        {"kind": "tweeter", "cone": "out"},
        {"kind": "woofer", "cone": "out", "capacitor": True},
        {"kind": "woofer", "cone": "out", "cell_v": 9.0},
        {"kind": "woofer", "cone": "out", "cell_s": 2.0},
        {"ohm": 4.0, "color_a": parse_color("yellow/black")},
        {"ohm": 4.0, "color_b": parse_color("OG")},
        {"ohm": 4.0, "color_b": parse_color("YE")},
        {"ohm": -1.0},
        {"ohm": float("nan")},
        {"ohm": 4.0, "leads_ohm": 5.0},
    ],
)
def test_what_can_hurt_or_mislead_is_refused(reading: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        PairReading("a", ALL, **reading)


def test_what_is_not_ours_and_what_cannot_be_told_apart_is_said() -> None:
    with pytest.raises(InputError, match="restraint"):
        PairReading("Gurtstraffer-links", replace(ALL, pair="Gurtstraffer-links"), ohm=2.1)
    for a, b, found in (
        ("OG", "OG", True),
        ("GY/YE", "GY/BK", True),
        ("GY/RD", "GY/RD", True),
        ("GY/RD", "GY/BK", False),
    ):
        checks = read_pair(PairReading("a", ALL, parse_color(a), parse_color(b))).checks
        assert [c.verdict for c in checks if c.part == "a-color"] == ["caution"] * found


def test_before_anything_is_read_the_gate_is_what_is_asked_for() -> None:
    check = read_pair(PairReading("a", Confirmed("a"))).checks[0]
    assert check.verdict == "caution"
    assert check.remedy is not None
    assert check.remedy.template.startswith("Confirm the lines of its gate first, the meter put away: 5 of 5")
    assert {text.template for text in GATE.values()} <= {line.meaning for line in check.working}
