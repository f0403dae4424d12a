"""The window of seat heights, the thickness chosen in it, the verdicts and the advice."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from fit.shop import POINTS, driver, obstacle, opening, rd, stack, terminals
from hypothesis import given, settings
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.finding import VERDICTS, Verdict, words, worst
from backwave.fit import (
    DepthReading,
    Fit,
    GaugeTrial,
    Instrument,
    Margins,
    Opening,
    advise,
    choose_thickness,
    judge,
    layer_heights,
    sheet_sums,
)
from backwave.uncertainty import Error, Reading
from backwave.units import parse

DRAWS = 20_000


def test_layers_too_thin_to_count_are_refused() -> None:
    assert len(layer_heights(10.0, 0.003)) < 20_000
    with pytest.raises(InputError, match="too many layers"):
        layer_heights(10.0, 1e-9)


def test_a_reading_beyond_reach_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="driver: profile"):
        driver([(60.0, 10.0), (40.0, 1e300)])


def check(fit: Fit, code: str) -> tuple[str, str]:
    found = next(c for c in fit.checks if c.code == code)
    return found.verdict, found.title.template


def test_ends_of_the_window_are_where_the_verdict_turns() -> None:
    o = opening(half=1.0, trim=38.0)
    window = judge(o, driver(), stack(), draws=DRAWS).window
    assert window is not None
    assert window.open
    assert window.low_mm is not None
    assert window.high_mm is not None
    for height, name in ((window.low_mm, "glass"), (window.high_mm, "grille")):
        found = judge(o, driver(), stack(height - 1.5), draws=DRAWS).clearance(name)
        assert found is not None
        assert found.estimate.low == pytest.approx(found.margin_mm, abs=1e-9)


def test_window_without_doubt_by_hand() -> None:
    # Glass: h + 55.7 - 64 >= 5 gives 13.3; grille: 37 - (h + 18) >= 3 gives 16.
    window = judge(opening(), driver(), stack(), draws=DRAWS).window
    assert window is not None
    assert (window.low_mm, window.high_mm) == pytest.approx((13.3, 16.0))
    assert (window.low_by, window.high_by) == ("glass", "grille")
    assert window.gap_mm == pytest.approx(-2.7)


def test_no_window_says_what_opens_it_and_that_opens_it() -> None:
    o = opening(half=0.5, trim=33.0)
    fit = judge(o, driver(), stack(), draws=DRAWS)
    assert fit.window is not None
    assert not fit.window.open
    shut = next(c for c in fit.checks if c.code == "fit.window")
    gap = {n: v for n, v, _ in shut.title.quantities}["gap"]
    assert isinstance(gap, float)
    assert gap == pytest.approx(fit.window.gap_mm)
    assert shut.verdict in ("caution", "stop")
    assert shut.remedy is not None
    shallower = driver([(r, max(d - gap - 1e-6, 0.0)) for r, d in POINTS])
    spaced = opening(half=0.5, trim=33.0 + gap + 1e-6)
    for once_more in (judge(o, shallower, stack(), draws=DRAWS), judge(spaced, driver(), stack(), draws=DRAWS)):
        assert once_more.window is not None
        assert once_more.window.open
        assert once_more.window.gap_mm == pytest.approx(0.0, abs=1e-3)


def test_rough_readings_that_close_the_window_are_named() -> None:
    o = opening(half=1.5, trim=36.2)
    fit = judge(o, driver(), stack(), draws=DRAWS)
    _, title = check(fit, "fit.window")
    assert "too rough" in title
    found = next(c for c in fit.checks if c.code == "fit.window")
    assert found.remedy is not None
    assert ("reading", "trim.clear", "") in found.remedy.quantities


def test_dimension_that_closes_the_window_is_not_blamed_on_readings() -> None:
    _, title = check(judge(opening(half=0.5, trim=33.0), driver(), stack(), draws=DRAWS), "fit.window")
    assert "too rough" not in title


def test_far_too_deep_a_driver_is_a_stop_with_its_reason() -> None:
    fit = judge(opening(trim=20.0), driver(), stack(), draws=DRAWS)
    stops = {c.code for c in fit.checks if c.verdict == "stop"}
    assert {"fit.grille", "fit.window"} <= stops
    assert all(c.remedy is not None for c in fit.checks if c.verdict == "stop")


def test_one_sided_window_is_unbounded_and_asks_for_the_rest() -> None:
    fit = judge(opening(trim=None), driver(), stack(), draws=DRAWS)
    assert fit.window is not None
    assert fit.window.high_mm is None
    assert fit.window.open
    assert any(c.code == "job.missing" and c.key == "trim.clear" for c in fit.checks)


# ---- thickness ----


def test_layers_and_sheets_by_hand() -> None:
    assert layer_heights(6.05, 0.2, 6.9) == (6.2, 6.4, 6.6, 6.8)
    assert layer_heights(0.6, 0.2, 0.6) == (0.6,)
    assert sheet_sums([6.0, 9.0], 11.0, 19.0) == (12.0, 15.0, 18.0)
    with pytest.raises(InputError, match="sheet stock"):
        sheet_sums([18.0], 20.0, 30.0)
    with pytest.raises(InputError, match="layer height"):
        layer_heights(6.0, 0.0)


@settings(max_examples=8, deadline=None)
@given(st.floats(31, 40), st.floats(0.2, 2.0), st.floats(135, 150), st.sampled_from([0.2, 0.3, 1.0]))
def test_no_other_thickness_beats_the_chosen_one(trim: float, half: float, hole: float, layer: float) -> None:
    o = replace(opening(half=half, trim=trim), hole=rd("hole", hole, 0.3))
    d = driver(half=0.5, terminals=terminals(0.5))
    reach = layer_heights(8.0, layer, 20.0)
    choice = choose_thickness(o, d, stack(half=0.3), reach)
    judged = [judge(o, d, stack(t, half=0.3), draws=50_000) for t in reach[:: max(1, len(reach) // 8)]]
    here = judge(o, d, stack(choice.thickness_mm, half=0.3), draws=50_000)
    assert here.seat_height_mm == pytest.approx(choice.seat_height_mm)
    assert here.chance_margin == pytest.approx(choice.chance_margin, abs=1e-9)  # the same draws, worked the other way
    assert here.chance_clear == pytest.approx(choice.chance_clear, abs=1e-9)
    assert here.chance_margin is not None
    for other in judged:  # first the worst clearance decides, as its verdict has it, then the chance
        worse = VERDICTS.index(_worst_of(here)), VERDICTS.index(_worst_of(other))
        assert worse[0] <= worse[1]
        if worse[0] == worse[1] and _worst_of(here) != "stop":
            assert other.chance_margin is not None
            assert here.chance_margin >= other.chance_margin - 2e-4


def _worst_of(fit: Fit) -> Verdict:
    return worst([c.verdict for c in fit.clearances])


def test_what_nobody_measured_pins_no_thickness() -> None:
    """Terminals assumed wider than the hole would lift the driver until they stand in front of the metal."""
    wide = terminals(0.5)
    o = replace(opening(half=0.5, trim=34.0), hole=rd("hole", 143.5, 0.3))
    held = replace(wide, radius=replace(wide.radius, value=80.0, assumed=True))
    free = choose_thickness(o, driver(half=0.2), stack(), layer_heights(4.0, 0.2))
    taken = choose_thickness(o, driver(half=0.2, terminals=held), stack(), layer_heights(4.0, 0.2))
    read = replace(held, radius=replace(held.radius, assumed=False))
    pinned = choose_thickness(o, driver(half=0.2, terminals=read), stack(), layer_heights(4.0, 0.2))
    assert taken.thickness_mm == free.thickness_mm
    assert pinned.thickness_mm > free.thickness_mm


def test_chosen_in_the_middle_where_several_are_as_good() -> None:
    choice = choose_thickness(opening(), driver(), stack(), layer_heights(6.0, 0.2))
    # Seat heights 13.3 to 16.0 keep both margins for sure: thicknesses 11.8 to 14.4 in layers.
    assert choice.alike_mm == pytest.approx((11.8, 14.4))
    assert choice.thickness_mm == pytest.approx(13.0)
    assert choice.chance_margin == 1.0
    assert choice.held_by == "fit"


def test_material_can_hold_it_thicker_than_the_fit_wants() -> None:
    choice = choose_thickness(opening(half=0.5, trim=34.0), driver(), stack(half=0.2), layer_heights(14.0, 0.2))
    assert choice.held_by == "material"
    assert choice.thickness_mm == 14.0


def test_hopeless_driver_still_gets_the_least_bad_thickness() -> None:
    choice = choose_thickness(opening(trim=20.0), driver(), stack(), layer_heights(1.0, 0.5))
    assert choice.chance_clear == 0.0
    # Glass frees at 64 - 55.7 = 8.3, the grille at 20 - 18 = 2: any height between falls short by the same in all.
    assert 2.0 <= choice.seat_height_mm <= 8.5


def test_with_nothing_read_the_thinnest_is_taken() -> None:
    choice = choose_thickness(Opening(), driver(), stack(), layer_heights(6.0, 0.2))
    assert choice.thickness_mm == 6.0


def test_sheet_stock_is_honored() -> None:
    choice = choose_thickness(opening(), driver(), stack(), sheet_sums([6.0, 9.0], 6.0))
    assert choice.thickness_mm in (12.0, 15.0)


# ---- verdicts ----


def test_verdict_follows_low_against_margin_and_zero() -> None:
    for trim, verdict in ((38.0, "ok"), (34.5, "caution"), (32.0, "stop")):
        found = judge(opening(half=0.5, trim=trim, taken=2), driver(), stack(), draws=DRAWS).clearance("grille")
        assert found is not None
        assert found.verdict == verdict
    barely = judge(opening(half=0.0, trim=35.5), driver(), stack(), draws=DRAWS).clearance("grille")
    assert barely is not None
    assert barely.estimate.low == pytest.approx(3.0)
    assert barely.verdict == "ok"  # at the margin is kept


def test_tightest_is_ok_only_when_read_twice_or_tried() -> None:
    once, twice = opening(half=0.2), opening(half=0.2, taken=2)
    fit = judge(once, driver(), stack(), draws=DRAWS)
    assert check(fit, "fit.glass")[0] == "caution"
    assert check(fit, "fit.read-once")[0] == "caution"
    assert check(fit, "fit.grille")[0] == "ok"  # not the tightest
    fit = judge(twice, driver(), stack(), draws=DRAWS)
    assert (check(fit, "fit.glass")[0], check(fit, "fit.read-once")[0]) == ("ok", "ok")
    fit = judge(once, driver(), stack(), stand_in=GaugeTrial("clear"), draws=DRAWS)
    assert (check(fit, "fit.glass")[0], check(fit, "fit.read-once")[0]) == ("ok", "ok")


@pytest.mark.parametrize(("shared", "verdict"), [("", "ok"), ("gauge", "caution")])
def test_second_row_at_the_same_place_counts_if_its_error_is_its_own(shared: str, verdict: str) -> None:
    glass = obstacle([(0.0, 58.0), (46.0, 55.5), (47.0, 55.6)])
    spots = tuple(DepthReading(s.radius, rd(f"row {i}", s.clear.value, 0.2, shared)) for i, s in enumerate(glass.spots))
    fit = judge(opening(replace(glass, spots=spots), half=0.2), driver(), stack(), draws=DRAWS)
    assert fit.tightest == "glass"
    assert check(fit, "fit.read-once")[0] == verdict


def test_stand_in_with_margin_on_it_lifts_a_caution_behind_but_no_contradiction() -> None:
    doubtful, touching = opening(half=1.5, trim=36.0), opening(obstacle([(0.0, 49.0)], 1.0))
    assert check(judge(doubtful, driver(), stack(), draws=DRAWS), "fit.glass")[0] == "caution"
    clear = GaugeTrial("clear", full_travel=True, glass_mm=5.0, metal_mm=3.0, of="this")
    assert check(judge(doubtful, driver(), stack(), stand_in=clear, draws=DRAWS), "fit.glass")[0] == "ok"
    for less in (
        replace(clear, glass_mm=3.0),  # it showed 3 mm, and 5 are wanted of glass
        replace(clear, full_travel=False),  # the clamp that carries the glass passes half way
        replace(clear, of="other"),  # of another speaker, or another stand-off
    ):
        assert check(judge(doubtful, driver(), stack(), stand_in=less, draws=DRAWS), "fit.glass")[0] == "caution"
    assert check(judge(doubtful, driver(), stack(), stand_in=clear, draws=DRAWS), "fit.grille")[0] == "caution"
    assert check(judge(touching, driver(), stack(), stand_in=clear, draws=DRAWS), "fit.glass")[0] == "stop"


def test_reach_beyond_the_readings_is_a_caution() -> None:
    assert check(judge(opening(), driver(), stack(), draws=DRAWS), "fit.reach")[0] == "caution"  # read to 60 mm
    far = obstacle([(0.0, 58.0), (70.0, 55.0)])
    assert check(judge(opening(far), driver(), stack(), draws=DRAWS), "fit.reach")[0] == "ok"


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("wide", [130.0, 130.9, 130.99, 131.7])
def test_a_reading_as_far_out_as_is_asked_for_is_far_enough(wide: float, system: str) -> None:
    wider = replace(driver(), profile=tuple((replace(r, value=wide / 2.0), depth) for r, depth in driver().profile))
    found = judge(opening(), wider, stack(), draws=0)
    (asks,) = (c for c in found.checks if c.code == "fit.reach")
    told = re.search(r"and at ([0-9.]+ (?:mm|in))", words(asks.remedy, system) or "")
    assert told is not None
    assert parse(told[1], "length").to("mm") >= wide / 2.0


def test_place_that_was_not_read_is_asked_for_first() -> None:
    rail = obstacle([(66.0, 30.0)], 1.0, what="rail", window="", angle=90.0)
    found = next(c for c in judge(opening(rail), driver(), stack(), draws=DRAWS).checks if c.code == "fit.behind")
    assert found.verdict == "stop"
    assert found.remedy is not None
    assert found.remedy.template.startswith("Nothing was measured {radius} from the axis")


def test_every_place_in_a_text_is_filled() -> None:
    o = opening(obstacle([(0.0, 56.0)], 1.0), obstacle([(66.0, 30.0)], 1.0, what="rail", window=""), half=1.0)
    for fit in (
        judge(o, driver(half=0.5, terminals=terminals(0.5)), stack(), draws=DRAWS, stand_in=GaugeTrial("clear")),
        judge(opening(half=1.5, trim=30.0), driver(), stack(), draws=DRAWS, stand_in=GaugeTrial("touched", "rail")),
        judge(opening(half=1.5, trim=36.2), driver(), stack(9.0), draws=DRAWS),
        judge(Opening(), driver(), stack()),
        judge(opening(), driver(), stack(), tilt_deg=5.0),
    ):
        for found in fit.checks:
            for text in (found.title, found.remedy):
                if text is not None:
                    text.template.format(**{name: value for name, value, _ in text.quantities})


# ---- contributions and advice ----


def test_shares_add_to_one_and_name_the_worst() -> None:
    fit = judge(opening(half=1.0), driver(half=0.2), stack(half=0.3), draws=DRAWS)
    assert sum(share for _, share in fit.contributions) == pytest.approx(1.0)
    assert fit.tightest == "glass"
    assert fit.contributions[0][0] == "glass.down.None[1].clear"


def again(reading: Reading, half: float) -> Reading:
    return replace(reading, errors=(Error(reading.name + "'", "rectangular", half),), taken=2)


def test_advised_reading_makes_it_certain_and_a_coarser_one_would_not() -> None:
    o, d, s = opening(half=1.0, trim=36.2, taken=2), driver(half=0.1), stack(13.2)
    fit = judge(o, d, s, draws=DRAWS)
    assert [c.name for c in fit.clearances if c.verdict != "ok"] == ["grille"]
    advice = advise(fit, o, d, s)
    assert advice.kind == "read"
    assert advice.instrument is not None
    assert advice.reading == "trim.clear"
    assert o.trim_clear is not None
    after = judge(replace(o, trim_clear=again(o.trim_clear, advice.instrument.half_mm)), d, s)
    assert all(c.verdict == "ok" for c in after.clearances)
    coarser = Instrument("another stick", 0.9, ("trim", "behind"))
    assert advise(fit, o, d, s, instruments=[coarser]).kind == "none"


def test_no_single_reading_helps() -> None:
    o, d, s = opening(half=1.2, trim=36.0), driver(half=0.5), stack(12.4, half=0.5)
    fit = judge(o, d, s, draws=DRAWS)
    assert sum(c.verdict == "caution" for c in fit.clearances) == 2
    assert advise(fit, o, d, s).kind == "none"


def test_no_reading_makes_room_that_is_not_there() -> None:
    o = opening(half=0.5, trim=34.0)
    fit = judge(o, driver(), stack(), draws=DRAWS)
    assert advise(fit, o, driver(), stack()).kind == "change"


def test_advice_when_all_is_kept() -> None:
    once, twice = opening(half=0.2), opening(half=0.2, taken=2)
    fit = judge(once, driver(), stack(), draws=DRAWS)
    advice = advise(fit, once, driver(), stack())
    assert (advice.kind, advice.reading) == ("read", "glass.down.None[1].clear")
    fit = judge(twice, driver(), stack(), draws=DRAWS)
    assert advise(fit, twice, driver(), stack()).kind == "settled"


def test_only_instruments_that_reach_are_advised() -> None:
    o, d, s = opening(half=1.0, trim=36.2, taken=2), driver(half=0.1), stack(13.2)
    fit = judge(o, d, s, draws=DRAWS)
    caliper = Instrument("caliper", 0.01, ("hole",))
    assert advise(fit, o, d, s, instruments=[caliper]).kind == "none"


def test_margins_are_apart_from_uncertainty() -> None:
    wide = judge(opening(half=0.5), driver(), stack(), Margins(glass_mm=9.0), draws=DRAWS)
    plain = judge(opening(half=0.5), driver(), stack(), draws=DRAWS)
    a, b = wide.clearance("glass"), plain.clearance("glass")
    assert a is not None
    assert b is not None
    assert a.estimate == b.estimate
    assert a.chance_margin < b.chance_margin
    assert np.isclose(wide.chance_clear or 0.0, plain.chance_clear or 1.0)
