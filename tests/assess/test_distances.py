"""Fixings that distances place, on both sides of a job; what cannot place them, and what does not agree, is said."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from backwave.assess.job_findings import job_findings
from backwave.errors import JobError
from backwave.finding import verdict_line
from backwave.job import Job, loads, places

APART = f"{sqrt(3.0) * 80.5:.2f} mm"  # three fixings a third of a turn apart on a radius of 80.5 mm
AGREE = (
    ("fixing 1", "fixing 2", "centre", APART), ("fixing 2", "fixing 3", "centre", APART), ("fixing 1", "fixing 3", "centre", APART),
    ("fixing 1", "hole edge", "edge", "6 mm"), ("fixing 2", "hole edge", "edge", "6 mm"), ("fixing 3", "hole edge", "edge", "6 mm"),
    ("fixing 1", "fixing 2", "across", f"{sqrt(3.0) * 80.5 + 5.5:.2f} mm"),
    ("fixing 2", "axis", "centre", "80.5 mm"),
)  # fmt: skip


def job(
    rows: tuple[tuple[str, str, str, str], ...], first: str = "12 o'clock", second: str = "7 o'clock", third: str = ""
) -> Job:
    fixings = [f'{{ {hour and f"""angle = "{hour}", """}hole = "5.5 mm" }}' for hour in (first, second, third)]
    told = ", ".join(f'{{ from = "{a}", to = "{b}", {key} = "{value}" }}' for a, b, key, value in rows)
    return loads(
        'format = 1\n[[opening]]\nid = "door"\nsides = ["left", "right"]\nhole = { diameter = "143.5 mm" }\n'
        f"fixings = [{', '.join(fixings)}]\ndistances = [{told}]\n", Path("/"),
    )  # fmt: skip


def said(one: Job) -> list[tuple[str, str, str]]:
    found = [f for f in job_findings(one, places(one)) if f.check.code == "job.distances"]
    return [(f.check.verdict, f.subject, verdict_line(f.check)) for f in found]


def test_distances_place_the_fixings_of_both_sides() -> None:
    one = job(AGREE)
    left, right = places(one)
    for place, sign in ((left, 1.0), (right, -1.0)):
        at = [(place.x("fixings", f.center_mm[0]), f.center_mm[1]) for f in place.opening.fixings or ()]
        wanted = [(0.0, 80.5), (sign * -69.715, -40.25), (sign * 69.715, -40.25)]
        assert at == [pytest.approx(one, abs=0.05) for one in wanted]
        u = [f.x.u_to("mm") for f in place.opening.fixings or () if f.x is not None]
        assert max(v or 0.0 for v in u) < 0.5
    (found,) = said(one)
    assert found[:2] == ("ok", "door.left")


def test_one_that_was_mistyped_is_named() -> None:
    slip = (("fixing 1", "fixing 2", "centre", "193.4 mm"), *AGREE[1:])  # 139.4 mm
    ((verdict, _, words),) = said(job(slip))
    assert verdict == "caution"
    assert "The distance fixing 1 to fixing 2 does not fit the others" in words
    beside = (*AGREE[:1], ("fixing 2", "fixing 3", "centre", "193.4 mm"), *AGREE[2:])
    ((_, _, words),) = said(job(beside))
    assert words.startswith("One of these distances is wrong: "), "nothing tells them apart"
    assert "fixing 2 to fixing 3" in words


def test_distances_that_nothing_checks_are_no_ok() -> None:
    ((verdict, _, words),) = said(job((*AGREE[:4], AGREE[7])))
    assert (verdict, words.rpartition("; ")[2]) == ("caution", "nothing checks them")
    one = job((*AGREE[:4], AGREE[5], ("fixing 2", "axis", "centre", "80.5 mm"), AGREE[6]))
    assert said(one)[0][0] == "ok"


def test_a_direction_that_the_distances_contradict_is_named() -> None:
    """Fixing 2 is at 7 o'clock; as said at 1 o'clock the distances, each right, fit no place near it."""
    ((verdict, _, words),) = said(job(AGREE, second="1 o'clock", third="5 o'clock"))
    assert (verdict, "7 o'clock" in words or "8 o'clock" in words) == ("caution", True), words
    assert "fixing 2 is at about" in words
    assert "not 1 o'clock" in words


@pytest.mark.parametrize("hours", [("", ""), ("12 o'clock", ""), ("12 o'clock", "6 o'clock")])
def test_too_few_directions_are_asked_for(hours: tuple[str, str]) -> None:
    """Nothing tells the picture from its mirror image: no place is made up."""
    one = job(AGREE, *hours)
    assert places(one)[0].opening.fixings is None
    ((verdict, _, words),) = said(one)
    assert (verdict, "too few directions" in words) == ("caution", True)


@pytest.mark.parametrize("few", [(), AGREE[:2]])
def test_fixings_without_a_place_are_asked_for(few: tuple[tuple[str, str, str, str], ...]) -> None:
    one = job(few)
    assert places(one)[0].opening.fixings is None
    ((verdict, _, words),) = said(one)
    assert verdict == "caution"
    assert "fixing 3" in words


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        (("fixing 1", "fixing 9", "centre", "9 mm"), "no such fixing"),
        (("fixing 1", "somewhere", "centre", "9 mm"), "a distance"),
        (("fixing 1", "fixing 1", "centre", "9 mm"), "a distance"),
    ],
)
def test_a_distance_to_nowhere_is_refused(row: tuple[str, str, str, str], wrong: str) -> None:
    with pytest.raises(JobError, match=wrong):
        job((row,))
