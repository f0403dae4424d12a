"""Boxes to build: the panels enclose what they say, whatever was asked."""

from __future__ import annotations

from math import inf, nan, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backwave.errors import InputError
from backwave.sound.box import Carcass, carcass, driver_volume, fits_inside

size = st.one_of(st.none(), st.floats(0.15, 0.6))


@given(st.floats(5e-3, 60e-3), st.floats(9e-3, 25e-3), st.tuples(size, size, st.none()), st.floats(0, 2e-3))
def test_the_net_volume_is_what_was_asked(
    net: float, panel: float, outer: tuple[float | None, ...], driver: float
) -> None:
    box = carcass(net, panel, outer, driver, 50e-4, 0.2)  # type: ignore[arg-type]
    assert box.net == pytest.approx(net, rel=1e-9)
    w, h, d = box.inner
    assert w * h * d == pytest.approx(box.gross, rel=1e-9)
    assert box.gross - sum(v for _, v in box.taken) == pytest.approx(net, rel=1e-9)
    for given_, made, inside in zip(outer, box.outer, box.inner, strict=True):
        assert made == pytest.approx(inside + 2 * panel)
        if given_ is not None:
            assert made == pytest.approx(given_)


@given(st.floats(5e-3, 60e-3), st.floats(9e-3, 25e-3))
def test_the_panels_close(net: float, panel: float) -> None:
    box = carcass(net, panel)
    volume = sum(2 * cut.long * cut.short * panel for cut in box.cuts)
    w, h, d = box.outer
    # wood and inside together are the whole: panels neither overlap nor leave a gap
    assert volume + box.gross == pytest.approx(w * h * d, rel=1e-9)
    assert {cut.name for cut in box.cuts} == {"top and bottom", "front and back", "sides"}
    for cut in box.cuts:
        assert cut.count == 2


@given(st.floats(5e-3, 60e-3), st.floats(9e-3, 25e-3), st.tuples(size, size, st.none()))
def test_edges_that_meet_are_of_one_length(net: float, panel: float, outer: tuple[float | None, ...]) -> None:
    # Built up from the cuts alone: top on four walls, walls between one another (butt joints as stated).
    box = carcass(net, panel, outer)  # type: ignore[arg-type]
    top, front, side = ((cut.long, cut.short) for cut in box.cuts)
    w, h, d = box.outer
    inside = h - 2 * panel
    assert top == (max(w, d), min(w, d))
    assert front == pytest.approx((max(w, inside), min(w, inside)))
    between = d - 2 * panel  # what front and back leave of the depth
    assert side == pytest.approx((max(between, inside), min(between, inside)))


@pytest.mark.parametrize("wrong", [nan, inf, -1e-3])
def test_what_is_no_size_is_refused(wrong: float) -> None:
    for asked in (
        {"net": wrong}, {"panel": wrong}, {"driver": wrong}, {"port_area": wrong}, {"port_length": wrong},
        {"outer": (wrong, None, None)},
    ):  # fmt: skip
        with pytest.raises(InputError):
            carcass(**({"net": 20e-3, "panel": 18e-3} | asked))


def test_three_sizes_must_hold_it() -> None:
    box = carcass(20e-3, 18e-3, (0.4, 0.3, None))
    assert carcass(20e-3, 18e-3, box.outer).net == pytest.approx(20e-3, rel=1e-3)
    with pytest.raises(InputError, match="leave one size out"):
        carcass(20e-3, 18e-3, (0.4, 0.3, 0.9))
    with pytest.raises(InputError, match="two panels"):
        carcass(20e-3, 18e-3, (0.03, None, None))
    with pytest.raises(InputError):
        carcass(0.0, 18e-3)


def test_a_drivers_room_is_its_profile_turned() -> None:
    assert driver_volume(((0.05, 0.0), (0.05, 0.1))) == pytest.approx(pi * 0.05**2 * 0.1)  # a cylinder
    assert driver_volume(((0.06, 0.0), (0.0, 0.09))) == pytest.approx(pi * 0.06**2 * 0.09 / 3)  # a cone


def flat() -> Carcass:
    return carcass(14e-3, 15e-3, (None, 0.20, None))


def test_a_driver_on_whichever_face_suits() -> None:
    check = fits_inside(flat(), 0.258, 0.104, hole=0.232)
    assert check.verdict == "ok"
    assert check.title.quantities[1][1] == "top"  # 200 mm high: only the top takes a 258 mm frame
    narrow = min(flat().inner[0], flat().inner[2])
    assert check.value == pytest.approx(min(narrow + 2 * 15e-3 - 0.258, narrow - 0.232, 0.17 - 0.124) * 1e3)
    deep = fits_inside(flat(), 0.258, 0.16, hole=0.232)
    assert deep.verdict == "caution"
    assert deep.part == "depth"
    assert fits_inside(flat(), 0.35, 0.05, hole=0.25).part == "frame"
    assert fits_inside(flat(), 0.1, 0.05, port_length=0.6).part == "port"


def test_the_basket_has_to_pass_between_the_walls() -> None:
    wide = min(flat().inner[0], flat().inner[2])
    over = wide + 0.01  # a frame that lies on the edges of the walls
    assert fits_inside(flat(), over, 0.05).part == "basket"
    assert fits_inside(flat(), over, 0.05).verdict == "caution"
    assert fits_inside(flat(), over, 0.05, hole=wide - 0.01).verdict == "ok"
