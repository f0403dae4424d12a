"""Bed, sheet, heat, water, laser: verdicts on either side of every limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backwave.finding import Check
from backwave.part.process_checks import making_checks
from backwave.part.types import AdapterSpec, Collar, Lettering, Material, Printer, SheetStock, Spigot, Zone
from backwave.shape import circle, ellipse

RING = AdapterSpec(circle(91.0), 18.0, 71.0)
# Deflection temperatures at 0.45 MPa, low ends of suppliers' ranges for printed bars (ISO 75-2, method B).
PLA, ABS = Material("PLA", 1240.0, 55.0, source="ISO 75-2"), Material("ABS", 1050.0, 90.0, source="ISO 75-2")
MDF = Material("MDF", 750.0, swells=True)
PVC = Material("foamed PVC", 550.0, laser_unsafe="its smoke holds hydrogen chloride", source="from memory")
DOOR, DRY = Zone("door", 70.0, wet=True), Zone("floor", 60.0)


def one(code: str, checks: tuple[Check, ...], part: str = "") -> Check:
    (found,) = [c for c in checks if c.code == code and c.part == part]
    return found


def test_pla_on_a_dashboard_in_the_sun_is_stopped() -> None:
    # Vanos, Middel, Poletti, Selover 2018, Temperature 5(3):276-292: dashboard at 69 degC after an hour.
    dash = Zone("dash", 69.0, source="Vanos et al. 2018")
    pla, abs_ = (one("part.heat", making_checks(RING, m, Printer(), dash)) for m in (PLA, ABS))
    assert pla.verdict == "stop"
    assert pla.remedy is not None
    spare = next(s.value for s in pla.working if s.symbol == "dT")
    assert spare == pytest.approx(-14.0)  # 55 against 69
    assert abs_.verdict == "ok"  # 21 K to spare


@pytest.mark.parametrize(
    ("service", "verdict"), [(90.1, "stop"), (90.0, "caution"), (75.1, "caution"), (75.0, "ok"), (60.0, "ok")]
)
def test_heat_on_either_side_of_its_limits(service: float, verdict: str) -> None:
    assert one("part.heat", making_checks(RING, ABS, Printer(), Zone("x", service))).verdict == verdict


def test_heat_does_not_govern_wood() -> None:
    assert not [c for c in making_checks(RING, MDF, SheetStock((18.0,)), DRY) if c.code == "part.heat"]


@pytest.mark.parametrize(
    ("bed", "verdict"),
    [
        ((182.0, 182.0, 18.0), "ok"),
        ((181.98, 300.0, 50.0), "ok"),  # shown as 182.0, as the part is
        ((181.9, 300.0, 50.0), "stop"),
        ((300.0, 181.9, 50.0), "stop"),
        ((300.0, 300.0, 17.9), "stop"),
    ],
)
def test_bed(bed: tuple[float, float, float], verdict: str) -> None:
    found = one("part.bed", making_checks(RING, ABS, Printer(bed_mm=bed), DRY))
    assert found.verdict == verdict
    assert found.value is not None
    assert found.limit is not None
    assert (found.value > found.limit + 0.05) == (verdict == "stop")


def test_bed_takes_a_quarter_turn_but_counts_shrinkage_and_what_stands_out() -> None:
    long = replace(RING, outline=ellipse(120.0, 90.0))
    bed = Printer(bed_mm=(181.0, 241.0, 25.0))
    assert one("part.bed", making_checks(long, ABS, bed, DRY)).verdict == "ok"
    assert one("part.bed", making_checks(long, ABS, replace(bed, shrinkage=0.007), DRY)).verdict == "stop"
    stands = replace(long, spigot=Spigot(75.0, 5.0), collar=Collar(76.0, 80.0, 3.0))  # 18 + 5 + 3
    assert one("part.bed", making_checks(stands, ABS, bed, DRY)).verdict == "stop"


def test_which_face_goes_down() -> None:
    def words(spec: AdapterSpec) -> tuple[str, str]:
        found = one("part.print", making_checks(spec, ABS, Printer(), DRY), "overhang")
        return found.verdict, found.title.template

    spigot, collar = Spigot(75.0, 5.0), Collar(76.0, 80.0, 3.0)
    assert words(RING) == ("ok", "Print it back face down")
    assert words(replace(RING, collar=collar)) == ("ok", "Print it back face down")
    assert words(replace(RING, spigot=spigot)) == ("ok", "Print it front face down")
    assert words(replace(RING, spigot=spigot, collar=collar))[0] == "caution"
    assert words(replace(RING, spigot=Spigot(71.5, 5.0), collar=collar))[0] == "ok"  # a dropped spigot hangs nowhere


@pytest.mark.parametrize(("layers", "verdict"), [((18.0,), "ok"), ((12.0, 6.0), "ok"), ((12.0,), "stop"), ((), "stop")])
def test_layers_add_up(layers: tuple[float, ...], verdict: str) -> None:
    assert one("part.sheet", making_checks(RING, MDF, SheetStock(layers), DRY)).verdict == verdict


def test_mdf_on_the_wet_side() -> None:
    def verdict(material: Material, sheet: SheetStock, zone: Zone) -> str | None:
        found = [c for c in making_checks(RING, material, sheet, zone) if c.code == "part.water"]
        return found[0].verdict if found else None

    assert verdict(MDF, SheetStock((18.0,)), DOOR) == "stop"
    assert verdict(MDF, SheetStock((18.0,), sealed=True), DOOR) == "caution"
    assert verdict(MDF, SheetStock((18.0,)), DRY) is None
    assert verdict(PVC, SheetStock((18.0,)), DOOR) == "ok"


def test_what_must_not_be_laser_cut() -> None:
    assert one("part.laser", making_checks(RING, PVC, SheetStock((18.0,), cutter="laser"), DRY)).verdict == "stop"
    assert one("part.laser", making_checks(RING, PVC, SheetStock((18.0,), cutter="router"), DRY)).verdict == "caution"
    assert not [c for c in making_checks(RING, MDF, SheetStock((18.0,), cutter="laser"), DRY) if c.code == "part.laser"]


def test_lettering_without_room_is_said() -> None:
    narrow = replace(RING, frame_radius_mm=90.0, lettering=Lettering("L", True, "van"))
    found = one("part.print", making_checks(narrow, ABS, Printer(), DRY), "lettering")
    assert found.verdict == "caution"
    assert found.title.quantities[0][1] == "up, L, van"
    assert not [c for c in making_checks(RING, ABS, Printer(), DRY) if c.part == "lettering"]


def test_a_tilted_seat_is_left_to_the_checks_of_the_shape() -> None:
    tilted = replace(RING, tilt_deg=5.0, lettering=Lettering("L"))
    assert one("part.bed", making_checks(tilted, ABS, Printer(), DRY)).verdict == "ok"
    assert not [c for c in making_checks(tilted, ABS, SheetStock((18.0,)), DRY) if c.code == "part.sheet"]


@pytest.mark.parametrize(
    ("thickness", "recess", "off"), [(18.0, 0.0, {}), (18.1, 0.0, {"layers": 0.1}), (18.0, 2.05, {"layers-seat": 0.05})]
)
def test_faces_stand_at_whole_layers(thickness: float, recess: float, off: dict[str, float]) -> None:
    spec = replace(RING, thickness_mm=thickness, recess_mm=recess, seat_mm=80.0)
    found = {c.part: c for c in making_checks(spec, ABS, Printer(), DRY) if c.part.startswith("layers")}
    assert {part: c.value for part, c in found.items()} == pytest.approx(off)
    assert all(c.verdict == "caution" for c in found.values())


@pytest.mark.parametrize(("walls", "verdict"), [(5, "caution"), (6, "ok"), (23, "ok")])
def test_walls_make_it_solid(walls: int, verdict: str) -> None:
    found = one("part.print", making_checks(RING, ABS, Printer(walls=walls), DRY), "walls")
    assert found.verdict == verdict
    # 91 - 71 = 20 mm across at 0.45 mm a line: 23 lines from either side.
    assert next(s.value for s in found.working if s.symbol == "n") == 23.0


def test_a_thin_ring_needs_no_six_walls() -> None:
    thin = replace(RING, bore_mm=89.2)  # 1.8 mm: two lines from either side
    assert one("part.print", making_checks(thin, ABS, Printer(walls=2), DRY), "walls").verdict == "ok"


def test_a_bed_that_nobody_entered_is_asked_for() -> None:
    taken = Printer(bed_mm=(100.0, 100.0, 100.0), bed_entered=False)
    found = one("part.bed", making_checks(RING, ABS, taken, DRY))
    assert (found.verdict, found.key) == ("caution", "printer.bed")
