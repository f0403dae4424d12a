"""What was not entered: a stop only where every plausible value fails, ok only where every one holds."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from backwave.assess import assess
from backwave.assess.place_findings import ON_RIM
from backwave.assess.result import Assessment
from backwave.finding import Check, words, worst
from backwave.fit import Fit, Terminals, advise, judge
from backwave.fit.plausible import RANGES, range_of, row_of
from backwave.job.load import loads
from backwave.job.starter import starter
from backwave.uncertainty import Reading
from tests.fit.shop import driver, opening, rd, stack, terminals

SIX = {
    "hole": "138 mm",
    "behind": "55 mm",
    "trim": "41 mm",
    "cutout": "143.5 mm",
    "magnet": "95 mm",
    "depth": "62.5 mm",
}


def unknown(radius: tuple[float, float], value: float = 68.0) -> Terminals:
    return replace(terminals(), radius=Reading("d.terminals.radius", value, assumed=True, plausible=radius))


def judged(hole: float, block: Terminals) -> Fit:
    place = replace(opening(half=1.0, taken=2), hole=rd("hole", hole, 0.05, taken=2))
    return judge(place, driver(terminals=block), stack(), draws=20_000)


@pytest.mark.parametrize(
    ("hole", "radius", "verdict"),
    [
        (150.0, (58.0, 70.0), "ok"),  # 75 - hypot(70, 17) = 2.97
        (143.5, (58.0, 74.0), "caution"),  # 71.75 - hypot(58, 17) = 11.3 ... 71.75 - hypot(74, 17) = -4.2
        (143.5, (58.0, 66.0), "ok"),  # ... 3.6; the basket, 70 wide only at its rim, clears too
        (138.0, (67.5, 74.0), "stop"),  # 69 - hypot(67.5, 17) = -0.6
    ],
)
def test_terminals_not_entered_by_hand(hole: float, radius: tuple[float, float], verdict: str) -> None:
    found = judged(hole, unknown(radius))
    clearance = found.clearance("hole")
    assert clearance is not None
    assert clearance.span is not None
    assert clearance.verdict == verdict
    best, worst = (hole / 2 - np.hypot(r, 17.0) for r in radius)
    body = hole / 2 - 66.0  # of the basket where it passes the metal, 14 mm back and more
    assert clearance.span.worst_mm == pytest.approx(min(worst, clearance.estimate.value, body), abs=0.1)
    assert clearance.span.best_mm <= best
    check = next(c for c in found.checks if c.code == "fit.hole")
    assert check.verdict == verdict
    if verdict == "caution":
        assert check.remedy is not None
        assert check.remedy.template.startswith("Measure {missing}")


def test_the_value_that_would_do_does() -> None:
    """Entered at the value that is named, the clearance is ok; a millimeter beyond it is not."""
    found = judged(143.5, unknown((58.0, 74.0)))
    clearance = found.clearance("hole")
    assert clearance is not None
    assert clearance.span is not None
    enough = clearance.span.enough_mm
    assert enough is not None
    assert enough == pytest.approx(np.sqrt((71.75 - 1.0) ** 2 - 17.0**2), abs=0.15)
    for beyond, verdict in ((0.0, "ok"), (1.0, "caution")):
        again = judged(143.5, replace(terminals(), radius=rd("d.terminals.radius", enough + beyond)))
        entered = again.clearance("hole")
        assert entered is not None
        assert entered.verdict == verdict


def test_the_values_that_are_named_are_what_judging_says() -> None:
    """Entered at what is said to be ok it is ok, between the two a caution, beyond the other a stop."""
    remedy = next(c for c in judged(143.5, unknown((58.0, 74.0))).checks if c.code == "fit.hole").remedy
    assert remedy is not None
    said = {name: value for name, value, _ in remedy.quantities if isinstance(value, float)}
    assert words(remedy).endswith(
        f"is {said['enough']:.1f} mm or less; with this part a stop above {said['fails']:.1f} mm"
    )
    assert said["fails"] == pytest.approx(np.sqrt(71.75**2 - 17.0**2), abs=0.2)
    for value, verdict in ((said["enough"], "ok"), (said["fails"] - 0.4, "caution"), (said["fails"] + 0.1, "stop")):
        entered = judged(143.5, replace(terminals(), radius=rd("d.terminals.radius", value))).clearance("hole")
        assert entered is not None
        assert entered.verdict == verdict


def test_a_question_names_the_value_that_stops_it() -> None:
    """With a front of that height the grille is hit however short the travel, with the part as it was; with 0.5 mm less it need not be."""
    text = starter(**(SIX | {"trim": "30 mm"})).replace(
        'thickness = "auto"', 'thickness = "13 mm"\nfoam = { grooved = false }'
    )

    def found(front: str) -> dict[str, Check]:
        job = text.replace('# front     = "9 mm"', f'front = "{front}"') if front else text
        return {f.id: f.check for f in assess(loads(job), whole=False).findings}

    ask = found("")["fit.assumed.front@front-door.left"].remedy
    assert ask is not None
    assert "with this part a stop above {fails}" in ask.template
    fails = next(float(value) for name, value, _ in ask.quantities if name == "fails")
    for front, verdict in ((fails - 0.5, "caution"), (fails + 0.1, "stop")):
        assert found(f"{front:.1f} ± 0.01 mm")["fit.grille@front-door.left"].verdict == verdict


def test_the_question_for_the_rim_says_what_judging_says_at_three_of_its_values() -> None:
    text = starter(**SIX)

    def found(rim: str = "") -> dict[str, Check]:
        job = text.replace('# rim       = "5.2 mm"', f'rim = "{rim}"') if rim else text
        return {f.id: f.check for f in assess(loads(job), draws=2_000, whole=not rim).findings}

    ask = found()["fit.assumed.rim@front-door.left"].remedy
    assert ask is not None
    told = re.findall(r"(ok|caution|stop) at (\d+\.\d) mm", words(ask))
    assert len(told) == 3
    for verdict, rim in told:
        on_rim = [c.verdict for i, c in found(f"{rim} mm").items() if i in {f"{n}@front-door.left" for n in ON_RIM}]
        assert worst(on_rim) == verdict


def test_no_value_in_its_range_goes_beyond_the_span() -> None:
    rng = np.random.default_rng(11)
    given = unknown((55.0, 75.0))
    block = replace(given, depth=Reading("d.terminals.depth", 26.0, assumed=True, plausible=(8.0, 48.0)))
    spans = {c.name: c.span for c in judged(143.5, block).clearances}
    for _ in range(40):
        radius, depth = rng.uniform(55.0, 75.0), rng.uniform(8.0, 48.0)
        entered = replace(block, radius=rd("d.terminals.radius", radius), depth=rd("d.terminals.depth", depth))
        for c in judged(143.5, entered).clearances:
            span = spans[c.name]
            if span is not None:
                assert span.worst_mm - 0.05 <= c.estimate.low <= span.best_mm + 0.05


def test_every_range_can_be_read_and_asked_for() -> None:
    for key in RANGES:
        low, high = range_of(key, 60.0)
        assert 0.0 <= low < high
        assert row_of(f"woofer.{key}").what


def six(**changed: str) -> Assessment:
    return assess(loads(starter(**(SIX | changed))), whole=False)


def test_six_readings_of_an_ordinary_door_are_no_stop() -> None:
    """Two stops a side, one of them from terminals nobody had measured, were the answer once."""
    result = six()
    assert not [f.id for f in result.findings if f.check.verdict == "stop" and f.check.code.startswith("fit.")]
    place = result.places[0]
    assert {"terminals", "profile"} <= set(place.not_measured)
    asked = next(c for c in place.fit_checks if c.code == "fit.assumed" and c.part == "terminals")
    assert asked.verdict == "caution"
    assert asked.key.startswith("woofer.terminals.")
    assert not any("won't help" in c.title.template for c in place.fit_checks)


def test_a_hole_too_small_for_any_such_driver_is_a_stop() -> None:
    """A basket 0.96 of the cutout's 143.5 mm is 137.8 wide and narrows to 95: no hole of 90 mm takes the magnet."""
    result = six(hole="90 mm")
    assert any(f.check.code == "fit.hole" and f.check.verdict == "stop" for f in result.findings)


def test_advice_measures_what_was_never_entered_before_it_gives_up() -> None:
    block = unknown((58.0, 74.0))
    place = replace(opening(half=1.0, taken=2), hole=rd("hole", 141.0, 0.05, taken=2))
    shape = driver(terminals=block)
    fit = judge(place, shape, stack(), draws=20_000)
    advice = advise(fit, place, shape, stack())
    assert advice.kind == "read"
    assert advice.reading == "d.terminals.radius"
