"""What a prediction finds: each check at, above and below what it judges."""

from __future__ import annotations

import numpy as np
import pytest

from backwave.sound.box import closed_box
from backwave.sound.checks import (
    AtClip,
    box_check,
    capacitor_most,
    clip_check,
    excursion_check,
    filter_holds,
    load_check,
    polarity_check,
    port_check,
    tweeter_check,
)
from backwave.sound.driver import from_parameters
from backwave.sound.stage import BandDifference

F = np.geomspace(10.0, 25_000.0, 200)
FLAT = np.ones(len(F))
DRIVER = from_parameters({"fs": 60.0, "Qes": 0.60, "Qms": 3.5, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})


@pytest.mark.parametrize(
    ("ohm", "rated", "lowest", "verdict"),
    [  # ratings with ratings, the least impedance with 0.8 of it (PRACTICE): every "4 ohm" driver dips to 3.2
        (3.2, 4.0, 4.0, "ok"), (3.1, 4.0, 4.0, "caution"), (3.3, 2.0, 4.0, "caution"), (1.6, 2.0, 4.0, "stop"),
        (1.6, 2.0, 2.0, "ok"), (3.0, None, 4.0, "caution"), (3.2, 3.9, 4.0, "ok"),
    ],
)  # fmt: skip
def test_load(ohm: float, rated: float | None, lowest: float, verdict: str) -> None:
    check = load_check(F, ohm * FLAT, rated, lowest)
    assert check is not None
    assert check.verdict == verdict
    assert (check.remedy is None) == (verdict == "ok")


def test_a_load_nobody_rated_is_not_judged_and_only_what_is_heard_counts() -> None:
    assert load_check(F, FLAT, 4.0, None) is None
    dips = np.where(F > 21_000, 0.5, 8.0)
    check = load_check(F, dips, 8.0, 4.0)
    assert check is not None
    assert check.value == 8.0


def test_a_tweeter_wants_a_capacitor() -> None:
    assert tweeter_check(1000.0, 4.0, 10e-6, None).verdict == "ok"
    active = tweeter_check(1000.0, 4.0, None, 3000.0)
    assert active.verdict == "caution"
    bare = tweeter_check(1000.0, 4.0, None, None)
    assert bare.verdict == "stop"
    assert bare.remedy is not None
    # 1/(2 pi 2000 Hz 4 ohm) = 19.9 uF, first order
    assert {n: v for n, v, _ in bare.remedy.quantities}["c"] == pytest.approx(19.894, rel=1e-4)


@pytest.mark.parametrize(
    ("micro", "at_clip", "verdict"),
    [  # 1/(2 pi 4 ohm C): 85 Hz, 8 Hz; 1750 Hz lies between 1.5 and 2 times 1150 Hz; 3.98 kHz above
        (470.0, None, "stop"), (4700.0, None, "stop"), (23.5, None, "stop"), (22.7, None, "caution"), (17.2, None, "ok"), (10.0, None, "ok"),
        (470.0, AtClip(0.2, 0.3, 5.0, 15.0), "caution"), (22.7, AtClip(0.2, 0.3, 5.0, 15.0), "ok"),
        (22.7, AtClip(0.4, 0.3, 5.0, 15.0), "stop"), (470.0, AtClip(0.2, 0.3, 20.0, 15.0), "stop"),
    ],
)  # fmt: skip
def test_a_capacitor_is_judged_by_its_corner(micro: float, at_clip: AtClip | None, verdict: str) -> None:
    assert tweeter_check(1150.0, 4.0, micro * 1e-6, None, at_clip).verdict == verdict
    if at_clip is None:
        assert (micro * 1e-6 <= capacitor_most(1150.0, 4.0)) == (verdict != "stop")
    # an active high-pass beside a capacitor that holds nothing is still the only thing there is
    assert tweeter_check(1150.0, 4.0, 470e-6, 3000.0).verdict == "caution"
    assert tweeter_check(1150.0, 4.0, 470e-6, 80.0).verdict == "stop"


@pytest.mark.parametrize(
    ("corner", "at_clip", "verdict"),
    [  # resonance 1150 Hz: 1.5 of it is 1725 Hz, twice of it 2300 Hz (trade practice)
        (80.0, None, "stop"), (1720.0, None, "stop"), (1730.0, None, "caution"), (3000.0, None, "caution"),
        (1200.0, AtClip(0.2, 0.3, 5.0, 15.0), "caution"),  # its figures hold: the corner alone does not decide
        (3000.0, AtClip(0.4, 0.3, 5.0, 15.0), "stop"), (3000.0, AtClip(0.2, 0.3, 20.0, 15.0), "stop"),
        (3000.0, AtClip(heat_w=20.0, power_w=15.0), "stop"), (1200.0, AtClip(heat_w=5.0, power_w=15.0), "stop"),
    ],
)  # fmt: skip
def test_an_active_high_pass_protects_by_its_figures_or_its_corner(
    corner: float, at_clip: AtClip | None, verdict: str
) -> None:
    check = tweeter_check(1150.0, 4.0, None, corner, at_clip)
    assert check.verdict == verdict
    assert check.remedy is not None
    assert filter_holds(1150.0, corner, at_clip) == (verdict != "stop")
    # a capacitor of 8 kHz beside it: ok unless the figures, which have it in them, are passed
    over = at_clip is not None and at_clip.over
    assert tweeter_check(1150.0, 4.0, 4.7e-6, corner, at_clip).verdict == ("stop" if over else "ok")
    assert tweeter_check(1150.0, 4.0, 4.7e-6, corner, at_clip, unsolved=True).verdict == "ok"
    near = " is near " in check.title.template
    assert near == (at_clip is None and 1725 < corner < 2300)


def test_excursion_names_where_and_how_much() -> None:
    x = 8e-3 / (1 + (F / 60) ** 2)
    over = excursion_check(F, x, 4e-3, 95.0)
    assert over.verdict == "caution"
    assert over.value == pytest.approx(8 / (1 + (20 / 60) ** 2), rel=0.05)
    assert over.remedy is not None
    at = {n: v for n, v, _ in over.remedy.quantities}
    assert at["f"] == pytest.approx(60, rel=0.05)  # 8 mm/(1 + 1) is 4 mm
    assert excursion_check(F, x / 3, 4e-3, 95.0).verdict == "ok"


def test_clipping() -> None:
    over = clip_check(F, 20 * FLAT, 10.0, 95.0)
    assert over.verdict == "caution"
    assert over.remedy is not None
    assert over.remedy.quantities[0][1] == pytest.approx(6.02, abs=0.01)
    assert clip_check(F, 5 * FLAT, 10.0, 95.0).verdict == "ok"


def test_polarity_is_only_called_wrong_where_that_is_sure() -> None:
    assert polarity_check(BandDifference(60, 120, 6.0, 3.0, 9.0)).verdict == "caution"
    unsure = polarity_check(BandDifference(60, 120, 2.0, -1.0, 5.0))
    assert unsure.verdict == "ok"
    assert unsure.remedy is not None
    right = polarity_check(BandDifference(60, 120, -5.0, -8.0, -2.0))
    assert right.verdict == "ok"
    assert right.remedy is None


def test_a_box_too_small_and_the_one_that_would_do() -> None:
    small = box_check(closed_box(DRIVER, 2e-3))
    assert small.verdict == "caution"
    assert small.remedy is not None
    assert small.remedy.quantities[0][1] == pytest.approx(1e3 * DRIVER.Vas / ((0.9 / DRIVER.Qts) ** 2 - 1))
    assert box_check(closed_box(DRIVER, 12e-3)).verdict == "ok"
    high = from_parameters({"fs": 60.0, "Qes": 1.4, "Qms": 6.0, "Vas": 12e-3, "Re": 3.4, "Sd": 133e-4})
    hopeless = box_check(closed_box(high, 3e-3))
    assert hopeless.remedy is not None
    assert "No box" in hopeless.remedy.template


def test_a_port_that_is_heard() -> None:
    loud = port_check(F, 30 * np.exp(-(np.log(F / 40) ** 2)))
    assert loud.verdict == "caution"
    assert loud.value == pytest.approx(30, rel=0.01)
    assert port_check(F, 10 * FLAT).verdict == "ok"
