"""What lies under the heads that press on the part: washers and sleeves, where its material would creep without."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi

from backwave.assess.place_result import HEAD_PLAY_MM, MAGNET_SHARE, MetalFixing, Screws
from backwave.fit.driver_hold import CLAMP_N, SLEEVE_PLAY_MM, STRAIN, Support, head_support
from backwave.fit.fixing_load import fixing_loads_n
from backwave.fit.gasket import BackGasket
from backwave.job.speaker import AdapterTable
from backwave.shape import Outline
from backwave.stock import Stock

PART_KG = 0.2  # of a part whose thickness is not known yet
PART_Z_MM = 10.0
WALL_MM = 0.9  # round a counterbore, two print lines
NO_CREEP_ROW = 0.25  # of a material's modulus is left, where nobody has said how it creeps


def bears_mpa(stock: Stock, material: str, hot_degc: float) -> float:
    """Pressure that a material bears for years at a temperature."""
    row, creep = stock.material(material), stock.creep(material)
    modulus = row.e_pa * NO_CREEP_ROW if creep is None else min(creep.modulus_pa(hot_degc), row.e_pa)
    return STRAIN * modulus * 1e-6


def clamps_n(screws: Screws, back: BackGasket | None, part_kg: float, z_mm: float) -> tuple[list[float], float]:
    """What each screw into the metal has to clamp with, in their order, and the gasket's share of it."""
    held = [m for m in screws.metal if m.hole_mm > 0.0]
    if not held:
        return [0.0 for _ in screws.metal], 0.0
    steady = 0.0 if back is None or back.force_n is None else back.force_n[1] / len(held)
    loads = fixing_loads_n([(m.x_mm, m.y_mm) for m in held], (screws.mass_kg or 0.0) + part_kg, (0.0, 0.0, z_mm))
    pulls = iter(loads)
    return [max(CLAMP_N, steady + next(pulls)) if m.hole_mm > 0.0 else 0.0 for m in screws.metal], steady


def supported(
    stock: Stock,
    screws: Screws,
    adapter: AdapterTable,
    hot_degc: float,
    back: BackGasket | None,
    outline: Outline,
    bore_mm: float,
    driver_depth_mm: float,
) -> Screws:
    """The same with washers and sleeves where heads need them and there is room."""
    allowed = bears_mpa(stock, adapter.material, hot_degc)
    clamps, steady = clamps_n(screws, back, PART_KG, PART_Z_MM - MAGNET_SHARE * driver_depth_mm)
    metal = []
    for m, clamp in zip(screws.metal, clamps):
        if m.hole_mm == 0.0 or m.head_mm == 0.0:
            metal.append(m)
            continue
        room = min(outline.inside_mm(m.x_mm, m.y_mm), hypot(m.x_mm, m.y_mm) - bore_mm) - WALL_MM
        widest = 2.0 * room - HEAD_PLAY_MM
        under = head_support(stock, m.row.screw, m.head_mm, m.hole_mm, clamp, steady, allowed, widest)
        washer, sleeve = under.washer, under.sleeve
        metal.append(
            replace(
                m,
                washer=washer,
                sleeve=sleeve,
                head_mm=max(m.head_mm, 0.0 if washer is None else washer.outer_mm),
                height_mm=m.height_mm + (0.0 if washer is None else washer.height_mm),
                hole_mm=m.hole_mm if sleeve is None else sleeve.outer_mm + SLEEVE_PLAY_MM,
            )
        )
    return replace(screws, metal=tuple(metal))


def support_of(fixing: MetalFixing, clamp_n: float, steady_n: float) -> Support:
    """What lies under the head of a fixing as it was chosen, with what it has to hold."""
    area = pi / 4.0 * (fixing.head_mm**2 - fixing.hole_mm**2)
    return Support(fixing.washer, fixing.sleeve, clamp_n if fixing.sleeve is None else max(steady_n, 1.0), area)
