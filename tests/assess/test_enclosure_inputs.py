"""What a driver is mounted in: a job's lengths and areas in, a door, box or baffle in SI units out."""

from __future__ import annotations

from math import inf, pi, sqrt
from types import SimpleNamespace
from typing import Any

import pytest
from assess.tables import ring, sized, table_job, the_places

from backwave.assess.inputs.enclosures import Mounts, WhatIf, box_mount
from backwave.finding import Finding, Ledger
from backwave.job.signal_chain import BoxTable, PathTable
from backwave.sound.cabin import BoxCabin
from backwave.sound.enclosures import DOOR_KINDS, GIVEN_SPREAD, Baffle, Door, InDoor

CONE_M = 0.065
UNIT: Any = SimpleNamespace(driver=SimpleNamespace(radius=CONE_M))
PATH = PathTable.model_validate({"source": "amp", "channel": "1", "opening": "door", "speaker": "it"})
MEASURED: dict[str, Any] = {
    "id": "door", "zone": "door", "door": "open", "skin": "1 mm",
    "cavity": {"volume": "30 L u 3 L", "leak": "12 cm2 ± 6 cm2", "outside": "10 cm2"},
    "gap": {"volume": "5 L", "leak": "20 cm2"},
    "trim": {
        "clear": "45 mm", "grille": "150 mm", "open_area": "30 %", "grille_hole": "3 mm", "grille_thickness": "1.5 mm",
        "panel": {"area": "0.5 m2", "mass": "3 kg/m2", "resonance": "40 Hz"},
    },
}  # fmt: skip


def mounts(opening: dict[str, Any], fit: Any = None, space: BoxCabin | None = None) -> Mounts:
    job = table_job(opening=[opening])
    here = the_places(job)
    fits = {} if fit is None else {(subject, "it"): fit for subject in here}
    return Mounts(job, here, fits, Ledger(), space, list[Finding]())


def in_door(opening: dict[str, Any], fit: Any = None, what_if: WhatIf | None = None) -> tuple[InDoor, Ledger]:
    maker = mounts(opening, fit)
    found = maker.of(PATH, "door", UNIT, what_if or WhatIf())
    assert found is not None
    assert isinstance(found[0], InDoor)
    return found[0], maker.ledger


def test_what_was_measured_is_what_the_door_is_made_of() -> None:
    mount, ledger = in_door(MEASURED, sized(20.0))
    door = mount.door
    si = {
        "cavity_volume": 30e-3, "holes_area": 12e-4, "outside_area": 10e-4, "gap_volume": 5e-3, "trim_leak": 20e-4,
        "trim_area": 0.5, "trim_mass": 3.0, "trim_hz": 40.0, "skin": 1e-3, "grille_open": 0.30, "grille_hole": 1.5e-3,
        "grille_thickness": 1.5e-3, "bore_length": 18e-3, "bore_radius": 70e-3,
    }  # fmt: skip
    assert {name: getattr(door, name) for name in si} == pytest.approx(si)
    assert door.grille_area == pytest.approx(pi * 0.075**2)
    assert door.chamber_depth == pytest.approx(0.025)  # 45 mm to the grille, the rim 20 mm off the metal
    assert door.chamber_volume == pytest.approx(0.025 * pi * 0.075**2)
    assert door.ring_gap == 0.0
    # all that is noted is what no key sets
    assert {key for key in ledger.assumed if ": " not in key} == set()


def test_how_sure_somebody_was_outranks_what_is_usual() -> None:
    mount, _ = in_door(MEASURED, sized())
    spread = mount.spread()
    assert spread["cavity"] == pytest.approx(3 / 30)  # u
    assert spread["holes"] == pytest.approx(6 / 12 / sqrt(3))  # half-width of a uniform distribution (GUM 4.3.7)
    assert spread["outside"] == GIVEN_SPREAD["outside"]  # measured, and nobody said how surely
    assert "cover" not in spread  # an open door has none
    usual = dict(DOOR_KINDS["sheet"].spread)
    unsure, _ = in_door({"id": "door", "zone": "door"})
    assert {name: unsure.spread()[name] for name in ("cover", "cavity", "holes")} == {
        name: usual[name] for name in ("cover", "cavity", "holes")
    }


def test_what_nobody_measured_is_the_kind_of_doors_and_noted() -> None:
    mount, ledger = in_door({"id": "door", "zone": "door"})
    kind, door, plain = DOOR_KINDS["sheet"], mount.door, Door(0.02, 1e-4, 1e-2)
    assert (door.cavity_volume, door.holes_area, door.trim_leak) == (kind.cavity_volume, kind.holes_area, kind.trim_leak)  # fmt: skip
    assert (door.trim_area, door.trim_mass, door.trim_hz) == (plain.trim_area, plain.trim_mass, plain.trim_hz)
    taken = {key: (one.value, one.unit) for key, one in ledger.assumed.items()}
    assert taken["opening.door.door"] == ("sheet", "")
    assert taken["opening.door.skin"] == (0.8, "mm")
    assert taken["opening.door.trim.open_area"] == (pytest.approx(40), "%")
    assert taken["opening.door.cavity.volume"] == (pytest.approx(kind.cavity_volume * 1e3), "L")
    assert door.grille_area == pytest.approx(pi * (1.1 * CONE_M) ** 2)  # a little more than the cone
    assert door.chamber_depth == 0.02


def test_counted_holes_are_an_area_with_its_doubt() -> None:
    opening = MEASURED | {"cavity": {"holes": {"finger": 4, "fist": 1}}}
    mount, _ = in_door(opening, sized())
    assert mount.door.holes_area == pytest.approx((4 * 3 + 60) * 1e-4)
    assert mount.spread()["holes"] == 0.4


def test_a_ring_closes_the_gap_and_without_it_the_gap_is_as_wide_as_it_was_closed() -> None:
    fit = sized(foam_ring=ring(closed_mm=4.0, width_mm=12.0, inner_mm=150.0, outer_mm=170.0))
    closed, _ = in_door(MEASURED, fit)
    assert closed.door.ring_gap == 0.0
    bare, _ = in_door(MEASURED, fit, WhatIf(ring=False))
    assert (bare.door.ring_gap, bare.door.ring_width) == (pytest.approx(4e-3), pytest.approx(12e-3))
    assert bare.door.ring_length == pytest.approx(pi * 0.160)  # round the middle of the flat
    never, _ = in_door(MEASURED, sized(foam_ring=ring(free_mm=0.0)))
    assert never.door.ring_gap > 0
    maker = mounts(MEASURED, fit)
    assert maker.has_ring("door", "it")
    assert not maker.has_ring("door", "another")
    assert not mounts(MEASURED, sized(foam_ring=ring(free_mm=0.0))).has_ring("door", "it")


def test_covered_holes_are_no_larger_and_their_cover_is_heavy() -> None:
    sealed = DOOR_KINDS["sealed"]
    covered, _ = in_door(MEASURED, sized(), WhatIf(holes_covered=True))
    assert covered.door.holes_area == min(12e-4, sealed.holes_area)
    assert covered.door.cover_mass == sealed.cover_mass
    small = MEASURED | {"cavity": {"leak": "1 cm2"}}
    assert in_door(small, sized(), WhatIf(holes_covered=True))[0].door.holes_area == pytest.approx(1e-4)


def test_what_is_no_door_is_a_baffle() -> None:
    found = mounts({"id": "door", "zone": "pillar"}).of(PATH, "door", UNIT, WhatIf())
    assert found is not None
    assert isinstance(found[0], Baffle)
    by_cavity = mounts({"id": "door", "zone": "dash", "cavity": {"volume": "4 L"}}).of(PATH, "door", UNIT, WhatIf())
    assert by_cavity is not None
    assert isinstance(by_cavity[0], InDoor)


def test_a_place_outside_the_cabin_or_nowhere_is_asked_for_once() -> None:
    space = BoxCabin(2.0, 1.4, 1.1)
    for at, words in ((None, "entered yet"), (["0.5 m", "1.6 m", "0.3 m"], "outside")):
        maker = mounts({"id": "door", "zone": "door"} | ({} if at is None else {"at": at}), None, space)
        assert maker.of(PATH, "door", UNIT, WhatIf()) is None
        assert maker.of(PATH, "door", UNIT, WhatIf(ring=False)) is None
        (finding,) = maker.findings
        assert (finding.check.code, finding.subject) == ("sound.place", "door")
        assert words in finding.check.title.template


def test_the_trims_leak_sounds_where_the_trim_is_mirrored_with_its_side() -> None:
    panel = {"area": "0.5 m2", "at": ["0.9 m", "0.1 m", "0.5 m"]}
    opening = {"id": "door", "zone": "door", "sides": ["left", "right"], "at": ["0.6 m", "0.05 m", "0.3 m"], "trim": {"panel": panel}}  # fmt: skip
    job = table_job(opening=[opening], vehicle={"cabin": {"length": "2 m", "width": "1.4 m", "height": "1.1 m"}})
    maker = Mounts(job, the_places(job), {}, Ledger(), BoxCabin(2.0, 1.4, 1.1), [])
    points = {}
    for side in ("left", "right"):
        found = maker.of(PATH, f"door.{side}", UNIT, WhatIf())
        assert found is not None
        points[side] = found[1]
    assert points["left"] == ((0.6, 0.05, 0.3), (0.9, 0.1, 0.5))
    assert points["right"] == (pytest.approx((0.6, 1.35, 0.3)), pytest.approx((0.9, 1.3, 0.5)))


def test_a_box_by_its_numbers() -> None:
    ledger = Ledger()
    closed = box_mount(BoxTable.model_validate({"id": "b", "kind": "closed", "volume": "25 L", "leak_q": 12.0}), ledger)
    assert (closed.volume, closed.tuning_hz, closed.port, closed.leak_q, closed.absorption_q) == (
        pytest.approx(25e-3), None, None, 12.0, inf,
    )  # fmt: skip
    assert not ledger.assumed
    port = {"diameter": "80 mm", "count": 2}
    vented = box_mount(
        BoxTable.model_validate({"id": "b", "kind": "vented", "volume": "40 L", "tuning": "32 Hz", "port": port}),
        ledger,
    )
    assert vented.port is not None
    assert vented.port.area == pytest.approx(2 * pi * 0.04**2)
    assert (vented.tuning_hz, vented.port.count, vented.port.length, vented.leak_q) == (32.0, 2, None, 7.0)
    assert {key: one.value for key, one in ledger.assumed.items()} == {"box.b.leak_q": 7.0}
