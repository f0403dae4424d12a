"""What was not read behind the face is never ok: directions, window states, and what lies between two readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.fit import Fit, GaugeTrial, Obstacle, judge
from backwave.fit.coverage import Unread, unread_behind
from backwave.units import clock
from tests.fit.shop import driver, obstacle, opening, stack, terminals

DRAWS = 4_000
DEEP = [(0.0, 66.0), (75.0, 66.0)]


def glass(window: str, *angles: float | None, spots: list[tuple[float, float]] = DEEP) -> tuple[Obstacle, ...]:
    return tuple(obstacle(spots, 0.2, window=window, angle=a, taken=2) for a in angles or (None,))


def fit_of(*rows: Obstacle, window: str = "", trial: GaugeTrial | None = None, **changed: object) -> Fit:
    place = replace(opening(*rows, half=0.2, taken=2, trim=41.0), window=window)
    return judge(place, replace(driver(terminals=terminals()), **changed), stack(), stand_in=trial, draws=DRAWS)


def verdicts(fit: Fit, *codes: str) -> list[str]:
    return [c.verdict for c in fit.checks if c.code in codes]


def said(fit: Fit) -> str:
    return " | ".join(str(v) for c in fit.checks if c.code == "fit.coverage" for _, v, _ in c.title.quantities)


FULL = (*glass("up"), *glass("half"), *glass("down"))
QUARTERS = tuple(o for w in ("up", "half", "down") for o in glass(w, 0.0, 90.0, 180.0, 270.0))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (glass("up"), "Behind the face nothing was measured with the window half and down"),
        (glass("down", 90.0), "Behind 1 o'clock to 11 o'clock nothing was measured with the window down"),
        ((*glass("up"), *glass("half"), *glass("down", 0.0, 90.0, 180.0)), "Behind 4 o'clock to 8 o'clock"),
        ((*FULL[:2], *glass("", None)), "Behind the face nothing was measured with the window down"),
        ((*FULL[:2], obstacle(DEEP, 0.2, what="metal", window="")), "nothing was measured with the window down"),
    ],
)
def test_an_unread_sector_or_state_is_named_and_glass_is_not_ok(rows: tuple[Obstacle, ...], words: str) -> None:
    """Only "up", or only 90 degrees, was `ok` with 21 mm of room once."""
    fit = fit_of(*rows)
    assert words in said(fit)
    assert "caution" in verdicts(fit, "fit.coverage")
    assert verdicts(fit, "fit.glass") == ["caution"]
    glass_room = fit.clearance("glass")
    assert glass_room is not None
    assert glass_room.verdict == "ok"  # window, value and chance are of the margins alone


@pytest.mark.parametrize("rows", [FULL, QUARTERS])
def test_a_surveyed_opening_is_ok_from_top_to_bottom(rows: tuple[Obstacle, ...]) -> None:
    fit = fit_of(*rows)
    assert fit.verdict == "ok", [c for c in fit.checks if c.verdict != "ok"]
    assert verdicts(fit, "fit.coverage") == ["ok"]


def test_a_dummy_speaks_for_glass_only_over_full_travel() -> None:
    up = glass("up")
    assert verdicts(fit_of(*up, trial=GaugeTrial("clear")), "fit.glass", "fit.coverage") == ["caution", "caution"]
    moved = fit_of(*up, trial=GaugeTrial("clear", full_travel=True, glass_mm=5.0))
    assert verdicts(moved, "fit.glass", "fit.coverage") == ["ok", "ok"]
    assert verdicts(fit_of(*up, trial=GaugeTrial("touched", full_travel=True)), "fit.glass") == ["caution"]


def test_where_no_window_moves_none_is_asked_for() -> None:
    metal = obstacle(DEEP, 0.2, what="metal", window="", taken=2)
    assert verdicts(fit_of(metal), "fit.coverage") == ["ok"]
    assert verdicts(fit_of(*glass("down"), window="none"), "fit.coverage") == ["ok"]  # a pane that is fixed
    assert verdicts(fit_of(metal, window="unsaid"), "fit.coverage") == ["caution"]  # a door, and no glass entered
    assert verdicts(fit_of(metal, window="moves"), "fit.coverage") == ["caution"]
    one_way = fit_of(obstacle(DEEP, 0.2, what="metal", window="", angle=0.0))
    assert said(one_way) == "Behind 4 o'clock to 2 o'clock nothing was measured"


def test_terminals_where_nothing_was_measured_are_not_passed_over() -> None:
    away = fit_of(*(o for w in ("up", "half", "down") for o in glass(w, 45.0)))  # the terminals are at 225
    assert [(c.verdict, c.part) for c in away.checks if c.code == "fit.terminals"] == [("caution", "unread")]


@given(st.lists(st.integers(0, 359), min_size=1, max_size=6, unique=True))
def test_what_is_unread_against_a_walk_round_the_circle(angles: list[int]) -> None:
    """Degree by degree: within 30 of a row, or between two rows that no more than 90 lie between."""
    rows = tuple(obstacle(DEEP, what="metal", window="", angle=float(a)) for a in angles)
    found = unread_behind(opening(*rows))
    arcs = found[0].arcs_deg if found else ()
    for t in (k + 0.5 for k in range(360)):
        ahead = min((a - t) % 360 for a in angles)
        behind = min((t - a) % 360 for a in angles)
        covered = min(ahead, behind) <= 30 or (len(angles) > 1 and ahead + behind <= 90)
        assert covered != any((t - start) % 360 < end - start for start, end in arcs), (t, arcs)


def test_unread_is_given_state_by_state() -> None:
    place = replace(opening(*glass("up", 90.0), *glass("down")), window="moves")
    assert unread_behind(place) == (Unread("up", ((120.0, 420.0),)), Unread("half", ((0.0, 360.0),)))


@pytest.mark.parametrize(("angle", "words"), [(90, "12 o'clock"), (0, "3 o'clock"), (-30, "4 o'clock"), (225, "7:30")])
def test_directions_on_a_clock(angle: float, words: str) -> None:
    assert clock(angle) == words


@pytest.mark.parametrize("turn", [-40.0, -20.0, 0.0, 15.0, 30.0])
def test_between_two_neighbors_terminals_meet_what_is_interpolated(turn: float) -> None:
    """Against numpy's own interpolation over radius and direction, in small steps."""
    at = 225.0
    low, high = [(0.0, 60.0), (50.0, 52.0), (70.0, 44.0)], [(0.0, 58.0), (62.0, 40.0), (80.0, 49.0)]
    rows = (*glass("down", 180.0, spots=low), *glass("down", 270.0, spots=high))
    shape = driver(terminals=terminals(angle=at))
    fit = judge(opening(*rows), shape, stack(13.0), turn_deg=turn, draws=DRAWS)
    found = fit.clearance("terminals.glass")
    assert found is not None
    half = np.degrees(np.arctan2(17.0, 62.0))
    outer, depth, seat = np.hypot(62.0, 17.0), 26.0, 14.5
    inner = np.interp(depth, [0.0, 14.0, 38.0, 64.0], [70.0, 66.0, 46.0, 46.0])
    radii = np.linspace(inner, outer, 4001)
    room = np.inf
    for direction in np.linspace(at + turn - half, at + turn + half, 301):
        share = (np.clip(direction, 180.0, 270.0) - 180.0) / 90.0
        clear = (1 - share) * np.interp(radii, *zip(*low)) + share * np.interp(radii, *zip(*high))
        room = min(room, float(np.min(seat + clear - depth)))
    assert found.estimate.value == pytest.approx(room, abs=0.01)
