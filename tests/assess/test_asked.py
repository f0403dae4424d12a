"""A number that cannot be right is asked for, and nothing that nobody entered stops a part by itself."""

from __future__ import annotations

import pytest
from assess.unmountable import Edit, edited, glass, hole, profile, trim

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
    assert not [word for word in ("narrower", "shallower", "widen", "spacer of", "space the") if word in said]
