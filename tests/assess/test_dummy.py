"""The dummy of a place: what it is given, that it goes into every hole that is ok, and what a trial of it is worth."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from backwave.assess import PlaceResult, assess
from backwave.assess.place import _margins
from backwave.fit import DepthReading, Margins, Obstacle, Opening
from backwave.job import loads
from backwave.part.fit_gauge import half_section, split_code
from backwave.uncertainty import exact

DEMO = Path(__file__).resolve().parents[2] / "src/backwave/cli/demo_job/job.toml"
NEAR = ("57.5 ± 1 mm", "53.6 ± 0.6 mm")  # so that the glass keeps 4 mm, which may be 3.4

FIXED = ('thickness = "auto"', 'thickness = "13 mm"')  # or another is taken that the dummy proves


@cache
def place(trial: str = "", more: tuple[tuple[str, str], ...] = ()) -> PlaceResult:
    """The demo's right door, its glass near, with what is entered of a dummy; () of changes to the text."""
    text = DEMO.read_text(encoding="utf-8")
    for old, new in (NEAR, FIXED, *more):
        assert old in text
        text = text.replace(old, new, 1)
    if trial:
        text = re.sub(r"(?m)^(\[opening.right\].*)$", rf"\1\nstand_in = {{ {trial} }}", text, count=1)
    found = assess(loads(text), draws=20_000, whole=False).places
    return next(one for one in found if one.subject == "front-door.right")


def verdict(one: PlaceResult, code: str) -> str:
    return next(check.verdict for check in one.fit_checks if check.code == code)


def code() -> str:
    dummy = place().part.stand_in
    assert dummy is not None
    return dummy.code


def other_height(by: float) -> str:
    letters, height = split_code(code()) or ("", 0.0)
    return f"{letters}-{height + by:.1f}"


def test_it_has_the_margin_of_glass_where_glass_is_nearest_and_of_metal_elsewhere() -> None:
    def thing(what: str, clear: float, angle: float | None) -> Obstacle:
        spot = DepthReading(exact("r", 0.0), exact("c", clear))
        return Obstacle(what, (spot,), "", angle)  # type: ignore[arg-type]

    wanted = Margins()
    assert _margins(Opening(behind=(thing("glass", 55.0, None),)), wanted, True) == (5.0, ())
    assert _margins(Opening(behind=(thing("metal", 55.0, None),)), wanted, True) == (3.0, ())
    assert _margins(Opening(), wanted, True) == (5.0, ())  # a door nobody has measured
    assert _margins(Opening(), wanted, False) == (3.0, ())
    # A rail in front of the glass at 3 o'clock: less margin there, more everywhere else, all of it once.
    least, sectors = _margins(Opening(behind=(thing("glass", 55.0, None), thing("rail", 40.0, 0.0))), wanted, True)
    assert least == 3.0
    ((start, end, margin),) = sectors
    assert margin == 5.0
    half = thing("rail", 40.0, 0.0).half_deg
    assert 0.0 < start - half <= 5.0
    assert 0.0 < 360.0 - half - end <= 5.0
    # Behind the glass the same rail is not met first.
    assert _margins(Opening(behind=(thing("glass", 55.0, None), thing("rail", 70.0, 0.0))), wanted, True) == (5.0, ())


@pytest.mark.parametrize("gap", [1.0, 1.7, 3.0])
def test_it_goes_into_every_hole_that_is_ok(gap: float) -> None:
    """Driver of 68.x mm where it passes the metal; a hole larger all round by the margin or more."""
    edge = place().driver.profile
    height = place().part.stand_in.seat_height_mm  # type: ignore[union-attr]
    widest = float(np.interp(height, [d.value for _, d in edge], [r.value for r, _ in edge]))
    size = f"{2.0 * (widest + gap):.2f} mm"
    one = place("", (('hole    = { diameter = "143.5 mm"', f'hole    = {{ diameter = "{size}"'),))
    dummy = one.part.stand_in
    assert dummy is not None
    assert max(r for r, _ in half_section(dummy)) < float(size[:-3]) / 2.0


def test_a_hole_that_is_not_round_has_its_dummy_too() -> None:
    square = "hole    = { outline = [[72, 72], [-72, 72], [-72, -72], [72, -72]] }"
    text = DEMO.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith('hole    = { diameter = "143.5 mm"'))
    dummy = place("", ((line, square),)).part.stand_in
    assert dummy is not None
    assert dummy.rim_mm >= 72.0 * 2**0.5 + 5.0  # its plate lies on the metal beyond the corners
    assert max(r for r, _ in half_section(dummy)) < 72.0


def test_terminals_of_no_known_direction_go_all_round_as_far_as_the_hole_lets_them() -> None:
    text = DEMO.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("terminals"))
    dummy = place("", ((line, 'terminals = { width = "34 mm", radius = "62 mm", depth = "26 mm" }'),)).part.stand_in
    assert dummy is not None
    assert dummy.terminals_mm is not None
    assert dummy.terminals_mm[0] is None
    assert any(r == pytest.approx(62.0) for r, _ in half_section(dummy))


def test_a_dummy_raises_only_what_it_showed() -> None:
    assert verdict(place(), "fit.glass") == "caution"
    run = f'code = "{code()}", outcome = "clear"'
    assert verdict(place(run), "fit.glass") == "caution"  # the window was not moved
    assert verdict(place(f"{run}, travel = true"), "fit.glass") == "ok"
    assert verdict(place(f"{run}, travel = true"), "fit.stand-in") == "ok"
    # As people type it, and one that hung deeper, prove the same; one that hung less deep, or of another speaker, nothing.
    typed = code().lower().replace("-", " ")
    assert verdict(place(f'code = "{typed}", outcome = "clear", travel = true'), "fit.glass") == "ok"
    deeper = f'code = "{other_height(-1.0)}", outcome = "clear", travel = true'
    assert verdict(place(deeper), "fit.glass") == "ok"
    for wrong in (other_height(0.5), "AAAA-14.0", "my dummy"):
        one = place(f'code = "{wrong}", outcome = "clear", travel = true')
        assert (verdict(one, "fit.glass"), verdict(one, "fit.stand-in")) == ("caution", "caution"), wrong
    # Entered without its code it had the margin of metal: 3 mm, which is not what glass wants.
    one = place('outcome = "clear", travel = true')
    assert (verdict(one, "fit.glass"), verdict(one, "fit.stand-in")) == ("caution", "caution")


def test_one_that_touched_stops_the_place_unless_it_hung_deeper_or_was_another() -> None:
    for touched in (code(), other_height(1.0)):
        assert verdict(place(f'code = "{touched}", outcome = "touched"'), "fit.stand-in") == "stop"
    for touched in (other_height(-1.0), "AAAA-14.0"):
        assert verdict(place(f'code = "{touched}", outcome = "touched"'), "fit.stand-in") == "caution"
    assert verdict(place('outcome = "touched"'), "fit.stand-in") == "stop"  # whichever it was
