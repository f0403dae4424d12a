"""What a print takes."""

from __future__ import annotations

from math import pi

import pytest

from backwave.errors import InputError
from backwave.part.process_checks import layer_count, print_estimate
from backwave.part.types import Material, Printer

RING = pi / 4.0 * (165.0**2 - 140.0**2) * 18.0  # mm3: outer 165, inner 140, 18 mm thick
PETG = Material("PETG", 1270.0, 70.0)


def test_mass_of_a_plain_ring() -> None:
    # 107795.898 mm3 and 136.9008 g at 1.27 g/cm3: pi/4 (D^2 - d^2) h, worked by hand beforehand.
    assert pytest.approx(107795.898, abs=1e-3) == RING
    assert print_estimate(RING, 18.0, PETG, Printer()).mass_kg == pytest.approx(0.1369008, abs=1e-7)


def test_filament_is_the_same_plastic_drawn_out() -> None:
    found = print_estimate(RING, 18.0, PETG, Printer())
    # A kilogram of 1.75 mm filament at 1.27 g/cm3 is 1 / (1270 pi (0.00175 / 2)^2) = 327.4 m long.
    assert found.filament_m == pytest.approx(327.37 * found.mass_kg, rel=1e-4)
    assert found.filament_m > print_estimate(RING, 18.0, PETG, Printer(filament_mm=2.85)).filament_m


@pytest.mark.parametrize(
    ("height", "printer", "layers"),
    [
        (18.0, Printer(), 90),
        (18.0, Printer(layer_mm=0.3, first_layer_mm=0.3), 60),
        (18.1, Printer(), 91),
        (0.1, Printer(), 1),
        (0.6, Printer(layer_mm=0.2, first_layer_mm=0.2), 3),
    ],
)
def test_layers(height: float, printer: Printer, layers: int) -> None:
    assert layer_count(height, printer) == layers


def test_no_height_is_an_error() -> None:
    with pytest.raises(InputError, match="height"):
        layer_count(0.0, Printer())


def test_time_is_what_its_model_says_and_called_an_estimate() -> None:
    slow, quick = (print_estimate(RING, 18.0, PETG, Printer(flow_mm3_s=f)) for f in (4.0, 8.0))
    assert slow.time_s - quick.time_s == pytest.approx(RING / 8.0)
    assert any("estimate" in step.meaning for step in slow.working)


def test_walls_that_alone_fill_the_widest() -> None:
    # 12.5 mm across at 0.45 mm a line: 14 lines from either side.
    assert print_estimate(RING, 18.0, PETG, Printer(), 12.5).solid_walls == 14
    assert print_estimate(RING, 18.0, PETG, Printer(), 2.0).solid_walls == 6
