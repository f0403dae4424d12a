"""Fuses against ISO 8820 and the gate on the main fuse."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.errors import InputError
from backwave.finding import Check
from backwave.power import choose_fuse, place_check, prospective_a
from backwave.power.fuse import fuses_of, operating_s
from backwave.power.types import FuseChoice


def check(found: FuseChoice, code: str) -> Check:
    return next(c for c in found.checks if c.code == code)


def test_the_current_of_a_short_is_the_worked_value() -> None:
    assert prospective_a(12.6, 0.008) == pytest.approx(1575)  # source voltage over source resistance
    with pytest.raises(InputError):
        prospective_a(12.6, 0)


def test_a_blade_fuse_at_a_battery_that_breaks_it_is_a_stop() -> None:
    # ISO 8820-3:2015 (scope): blade fuses break 1000 A; ISO 8820-5:2015 (scope): strip fuses 30 to 500 A break 2000 A.
    found = choose_fuse(20, 1575, style="blade")
    breaking = check(found, "power.fuse-breaking")
    assert (breaking.verdict, breaking.value, breaking.limit) == ("stop", 1575, 1000)
    assert breaking.remedy is not None
    assert ("style", "strip", "") in breaking.remedy.quantities
    chosen = choose_fuse(20, 1575)
    assert (chosen.style, chosen.breaking_a) == ("strip", 2000)
    assert {c.verdict for c in chosen.checks} == {"ok"}


def test_a_battery_of_little_resistance_takes_a_fuse_that_breaks_more() -> None:
    found = choose_fuse(50, prospective_a(13.2, 0.002))  # 6600 A
    assert found.style == "class T"
    assert check(found, "power.fuse-breaking").verdict == "ok"
    hopeless = choose_fuse(50, 50_000)
    assert check(hopeless, "power.fuse-breaking").verdict == "stop"


def test_an_amplifiers_own_fuses_count() -> None:
    assert choose_fuse(26, 500, own_a=50).rating_a == 50
    assert choose_fuse(26, 500).rating_a == 35  # 26/0.8 = 32.5; the series has 30 and 35


@pytest.mark.parametrize(
    ("rating", "color"),
    # ISO 8820-3 and SAE J1284: colors of blade fuses.
    [(1, "black"), (2, "gray"), (3, "violet"), (4, "pink"), (5, "tan"), (7.5, "brown"), (10, "red"), (15, "blue"),
     (20, "yellow"), (25, "clear"), (30, "green"), (35, "blue-green"), (40, "orange")],
)  # fmt: skip
def test_blade_colors_are_iso_8820(rating: float, color: str) -> None:
    assert choose_fuse(rating * 0.5, 100, rating_a=rating).color == color


def test_ratings_are_above_the_load_with_margin_and_the_least_that_are() -> None:
    series = {f.name: f.ratings_a for f in fuses_of()}
    assert all(list(r) == sorted(r) for r in series.values())
    rng = np.random.default_rng(3)
    last = 0.0
    for current in np.sort(rng.uniform(0.1, 300, 2000)):
        found = choose_fuse(float(current), 900)
        assert found.rating_a is not None
        assert found.rating_a * 0.8 >= current * (1 - 1e-8)
        below = [r for r in series[found.style] if r < found.rating_a]
        assert not below or below[-1] * 0.8 < current
        assert found.rating_a >= last
        last = found.rating_a


def test_a_fuse_already_there_is_judged_by_what_it_carries() -> None:
    # ISO 8820-3 (from memory): 100 h at 110 %, 0.75 to 600 s at 135 %, 0.15 to 5 s at 200 %.
    assert operating_s(1.1) == (360e3, float("inf"))
    assert operating_s(1.35) == (0.75, 600)
    assert operating_s(2.0) == (0.15, 5)
    assert operating_s(1.2) == (0.75, float("inf"))  # between: the safe side of both
    assert operating_s(10) == (0.0, 0.1)
    small = choose_fuse(28, 500, rating_a=20)
    assert check(small, "power.fuse").verdict == "caution"
    assert check(small, "power.fuse-peak").verdict == "caution"
    crest = choose_fuse(8, 500, rating_a=10, peak_a=70)  # 700 %: opens within a crest
    assert check(crest, "power.fuse-peak").verdict == "caution"
    assert check(choose_fuse(8, 500, rating_a=10), "power.fuse-peak").verdict == "ok"


def test_a_rating_already_there_names_its_style() -> None:
    # 25 A exists as a blade only: at this battery that is the stop of the gate, not an error.
    found = choose_fuse(15, 1575, rating_a=25)
    assert (found.style, check(found, "power.fuse-breaking").verdict) == ("blade", "stop")
    assert choose_fuse(30, 1575, rating_a=100).style == "strip"
    assert choose_fuse(30, 500, rating_a=60).style == "large blade"


def test_what_the_series_does_not_have_is_refused_or_stopped() -> None:
    with pytest.raises(InputError, match="12"):
        choose_fuse(5, 100, rating_a=12)
    with pytest.raises(InputError, match="style"):
        choose_fuse(5, 100, style="glass")
    assert check(choose_fuse(900, 1500), "power.fuse").verdict == "stop"


def test_the_main_fuse_belongs_at_the_battery() -> None:
    # 18 in, ANSI/RVIA (from memory).
    assert place_check(0.3).verdict == "ok"
    assert place_check(0.9).verdict == "caution"
    assert place_check(None).verdict == "caution"
    # bare: 7 in; sheathed all the way: 72 in (ABYC E-11, 2004, 11.12)
    assert [place_check(d, s).verdict for d, s in ((0.1, False), (0.3, False), (0.3, True), (2.0, True))] == ["ok", "caution", "ok", "stop"]  # fmt: skip


def test_a_battery_nobody_measured_stops_no_fuse_that_is_advised() -> None:
    verdicts = [check(choose_fuse(20, 2560, style=style, advised_a=2000), "power.fuse-breaking").verdict for style in ("strip", "blade")]  # fmt: skip
    assert verdicts == ["ok", "caution"]
    assert choose_fuse(20, 2560, advised_a=2000).style == "strip"
    assert choose_fuse(20, 2560).style == "class T"  # by its own figures
