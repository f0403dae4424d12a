"""Screws of a place, from its tables to what is bought: numbers in, numbers out.

Heads by ISO 7380-1:2011 (M5: 9.5 mm across, 2.75 mm high), holes by ISO 273 (medium, M5: 5.5 mm), lengths by ISO 888.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from assess.tables import table_job, the_places

from backwave.assess.inputs.opening import SKIN_MM, opening_of, skin_mm
from backwave.assess.inputs.screws import screws_at, screws_of
from backwave.assess.place_result import Screws
from backwave.assess.work.job_facts import screws_to_buy
from backwave.finding import Ledger
from backwave.stock import shipped
from backwave.uncertainty import exact

STOCK = shipped()
FIXINGS = [
    {"x": f"{x} mm", "y": "10 mm", "hole": "5.5 mm", "holds": "rivet nut"} for x in (80, -60)
]  # not alike on both sides of the axis
TABLES: dict[str, Any] = {
    "opening": [{"id": "door", "hole": {"diameter": "146 mm"}, "sides": ["left", "right"], "fixings": FIXINGS}],
    "speaker": [
        {"id": "s", "cutout": "143 mm", "depth": "66 mm", "magnet": "90 mm", "gasket": ["1.0 mm", "1.4 mm"],
         "mass": "1.6 kg"}
    ],
    "adapter": [{"opening": "door", "speaker": "s", "material": "ASA"}],
}  # fmt: skip


def screws(side: str = "left", ledger: Ledger | None = None, **adapter: Any) -> Screws:
    tables = {**TABLES, "adapter": [TABLES["adapter"][0] | adapter]}
    job = table_job(**tables)
    place = the_places(job)[f"door.{side}"]
    rim = exact("rim", 5.0)
    return screws_of(STOCK, place, job.file.adapter[0], job.file.speaker[0], rim, 165.0, (), 1.5, ledger or Ledger())


def test_holes_and_heads_are_those_of_the_standards() -> None:
    ledger = Ledger()
    first = screws(ledger=ledger).metal[0]
    assert (first.hole_mm, first.head_mm, first.height_mm) == (5.5, 9.5, 2.75)
    # A millimeter of play round the head, and it ends half a millimeter below the land.
    assert (first.counterbore_mm, first.depth_mm) == (10.5, 3.25)
    assert ledger.assumed["opening.door.fixings[0]: screw"].value == "M5"
    given = Ledger()
    screws(ledger=given, screw="M5")
    assert not given.assumed


def test_the_second_side_is_its_mirror_image() -> None:
    assert [m.x_mm for m in screws("left").metal] == [80.0, -60.0]
    assert [m.x_mm for m in screws("right").metal] == [-80.0, 60.0]
    assert [m.y_mm for m in screws("right").metal] == [10.0, 10.0]


def test_several_readings_of_a_gasket_are_their_mean() -> None:
    assert screws().gasket_mm == pytest.approx(1.2)
    assert screws().mass_kg == 1.6


@pytest.mark.parametrize(("thickness", "length"), [(12.0, 16.0), (20.0, 25.0)])
def test_a_screw_into_the_metal_is_as_long_as_what_it_goes_through(thickness: float, length: float) -> None:
    at = screws_at(STOCK, screws(), thickness, 0.0, 0.8, 1.5)
    chosen = at.metal[0].screw
    assert chosen is not None
    # under the head: the part less its counterbore, and the closed gasket
    assert chosen.grip_mm == pytest.approx(thickness - 3.25 + 1.5)
    assert chosen.length_mm == length
    assert chosen.engagement_mm == pytest.approx(length - chosen.grip_mm)
    assert [(t.name, t.angle_deg) for t in at.tails("door")] == [
        ("screw 1", pytest.approx(7.125, abs=1e-3)),
        ("screw 2", pytest.approx(170.538, abs=1e-3)),
    ]


@pytest.mark.parametrize(("recess", "threads"), [(0.0, "insert M4"), (3.0, "insert M4"), (0.0, "nut M4")])
def test_the_drivers_screw_starts_at_the_seat(recess: float, threads: str) -> None:
    at = screws_at(STOCK, screws(threads=threads), 16.0, recess, 0.8, 1.5)
    assert at.driver is not None
    through = 5.0 + 1.2  # rim and gasket
    if threads.startswith("nut"):  # and the part, down to the pocket of the nut (3.2 mm and 4 mm of room: ISO 4032)
        through += 16.0 - recess - (3.2 + 4.0)
    assert at.driver.grip_mm == pytest.approx(through)
    assert at.driver.length_mm is not None
    assert at.driver.length_mm >= at.driver.grip_mm + at.driver.wanted_mm - 1e-9


def bought(at: Screws, threads: int) -> Mapping[tuple[str, float | None], int]:
    place: Any = SimpleNamespace(screws=at, spec=SimpleNamespace(threads=(None,) * threads))
    return {(screw.size, screw.length_mm): count for screw, count in screws_to_buy(place)}


def test_what_is_bought_is_what_was_judged() -> None:
    at = screws_at(STOCK, screws(), 12.0, 0.0, 0.8, 1.5)
    assert at.driver is not None
    assert bought(at, 4) == {("M4", at.driver.length_mm): 4, ("M5", 16.0): 2}
    assert bought(at, 0) == {("M5", 16.0): 2}, "a driver whose holes nobody measured: no screws for it"
    taller = replace(at, metal=(at.metal[0], screws_at(STOCK, screws(), 20.0, 0.0, 0.8, 1.5).metal[1]))
    assert bought(taller, 0) == {("M5", 16.0): 1, ("M5", 25.0): 1}


def test_a_skin_that_was_not_measured_has_one_default_which_is_noted() -> None:
    job, ledger = table_job(**TABLES), Ledger()
    place = the_places(job)["door.left"]
    opening = opening_of(job, place, ledger)
    assert opening.skin is not None
    assert opening.skin.value == SKIN_MM == skin_mm(place.opening, Ledger())
    assert opening.skin.assumed
    assert ledger.assumed["opening.door.skin"].value == SKIN_MM
    measured = table_job(**{**TABLES, "opening": [TABLES["opening"][0] | {"skin": ["0.7 mm", "0.9 mm", "1.1 mm"]}]})
    none = Ledger()
    assert skin_mm(the_places(measured)["door.left"].opening, none) == pytest.approx(0.9)
    assert not none.assumed
