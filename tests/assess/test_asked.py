"""A number that cannot be right is asked for, and nothing that nobody entered stops a part by itself."""

from __future__ import annotations

import pytest
from assess.unmountable import FIXINGS, FLANGE, Edit, edited, glass, hole, profile, trim

from backwave.assess import Assessment, Memo, assess
from backwave.finding import Check, words
from backwave.job import loads

MEMO = Memo()


def judged(edits: tuple[Edit, ...]) -> Assessment:
    return assess(loads(edited(edits)), MEMO, draws=2_000)


def found(edits: tuple[Edit, ...], name: str) -> Check:
    return next(f.check for f in judged(edits).findings if f.check.name == name)


@pytest.mark.parametrize(
    ("edits", "name"),
    [
        (hole(60), "fit.hole"),
        (glass(12, 10), "fit.glass"),
        (profile([(70, 0), (66, 14), (46, 38), (46, 140)]), "fit.glass"),
        (trim(6, 'land = "32 mm"'), "fit.grille"),
        (hole(290), "mount.flange"),
    ],
)
def test_a_lack_that_no_change_makes_up_is_asked_for(edits: tuple[Edit, ...], name: str) -> None:
    check = found(edits, name)
    assert check.verdict == "stop"
    assert check.remedy is not None
    said = words(check.remedy).lower()
    assert "measure" in said
    assert "again" in said
    advice = next((f.check for f in judged(edits).findings if f.check.code == "fit.read-again"), None)
    assert advice is None or "won't help" not in words(advice.title)
    assert not [word for word in ("narrower", "shallower", "widen", "spacer of", "space the") if word in said]


NO_FLANGE: tuple[Edit, ...] = ((FLANGE + "\n", ""), (FIXINGS, ""))
NO_FRAME: Edit = ('frame     = "166 mm"\n', "")


def test_a_flange_that_nobody_entered_is_asked_for_and_with_it_the_frame_that_it_follows_from() -> None:
    for edits, asks_frame in ((NO_FLANGE, False), ((*NO_FLANGE, NO_FRAME), True)):
        check = found((*hole(200), *edits), "mount.flange")
        assert (check.verdict, check.key) == ("caution", "flange")
        said = words(check.remedy) or ""
        assert "Enter the flange" in said
        assert ("frame = ..." in said) == asks_frame
        assert not [f.id for f in judged((*hole(200), *edits)).findings if f.check.verdict == "stop"]
    assert found((*hole(260), *NO_FLANGE), "mount.flange").verdict == "stop"  # wider than any flange for this frame
    assert found(hole(200), "mount.flange").verdict == "stop"  # as entered it does not cover the hole


LOW = 'land = "15 mm"'


def test_how_far_in_the_flat_reaches_is_asked_for_before_anything_hits_it() -> None:
    unread = (('land = "32 mm", grille = "150 mm"', LOW),)
    flat = [f.check for f in judged(unread).findings if f.check.code == "fit.flat" and f.check.verdict != "ok"]
    assert [(c.name, c.verdict, c.key) for c in flat] == [("fit.flat.inner", "caution", "trim.inner")]
    assert not [f.id for f in judged(unread).findings if f.check.verdict == "stop"]
    no_ring = ('ring = "auto"', 'ring = "none"')
    wide, near = (
        judged((('land = "32 mm", grille = "150 mm"', f'{LOW}, inner = "{d} mm"'), no_ring)) for d in (230, 150)
    )
    assert not [f.id for f in wide.findings if f.check.verdict != "ok"]
    assert "fit.flat.rim" in {f.check.name for f in near.findings if f.check.verdict == "stop"}
    # with its outer edge at a radius of 75 it lies before a rim from 71 to 83 wherever it begins
    ends = judged((('land = "32 mm", grille = "150 mm"', f'{LOW}, outer = "150 mm"'), no_ring))
    assert "fit.flat.rim" in {f.check.name for f in ends.findings if f.check.verdict == "stop"}


@pytest.mark.parametrize(
    "lean", ['mounting = { tilt = "12 deg" }', 'mounting = { offset = ["4 mm", "0 mm"] }', 'seat = { tilt = "5 deg" }']
)
def test_a_seat_that_leans_has_no_dummy_and_says_so_whatever_one_is_said_to_have_done(lean: str) -> None:
    went = 'stand_in = { outcome = "clear", travel = true, code = "NHCJ-18.1" }'
    for more in ("", "\n" + went):
        result = judged(((FLANGE, f"{FLANGE}\n{lean}{more}"),))
        (place,) = result.places
        said = {f.check.name: f.check for f in result.findings}
        assert place.part.stand_in is None
        assert said["fit.seat"].verdict == "stop"
        assert "dummy" in (words(said["fit.seat"].remedy) or "")
        assert not {"fit.glass", "fit.grille", "fit.hole"} & set(said)  # nothing that was not judged is called ok
