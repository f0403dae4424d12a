"""What is measured on bought cable and on the finished supply, against what it should be.

Bare strand on a scale tells its copper: 8.89 g a meter and mm2 (IEC 60028); a known current through the whole run and the
drop along it tell its resistance, which a multimeter cannot.  Resistance and mass of a meter together tell the metal,
whatever its area: resistivity times density.  What is found takes the place of the table in all that is judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

from backwave.finding import PRACTICE, CalculationLine, Check, Message
from backwave.power.cable import BODY_OHM, sizes_of
from backwave.power.inputs import Supply
from backwave.power.voltage_sag import JOINT_OHM
from backwave.stock import ConductorRow, Stock, shipped

_WARM = 1.06  # a conductor of 35 degC by one of 20 (IEC 60028, 0.00393 1/K)
_READ = 1.10  # what ammeter, meter and tape may be out by together (common trade practice)
_LIGHT = 0.97  # scale and tape likewise
# V at rest, by 12 V: below it the battery is not charged (from memory)
_CHARGED_V = {"lead-acid": 12.4, "agm": 12.6, "lithium": 13.0}
_RUNNING_V = (12.2, 15.0)  # of smart alternators (from memory)


@dataclass(frozen=True)
class CableReading:
    """What was read on one run of cable."""

    size: str  # a row of the cable table, as planned or bought
    length_m: float
    material: str = "copper"
    part: Literal["feed", "ground", "path"] = "feed"  # "path": from the device's ground terminal to the battery's minus
    strand_m: float | None = None  # m of bare strand on the scale
    strand_kg: float | None = None
    current_a: float | None = None  # A through it, while its drop was read
    drop_v: float | None = None


@dataclass(frozen=True)
class CableTest:
    """What the readings say."""

    copper_mm2: float | None  # as much copper as it weighs
    mohm_m: float | None  # of a meter at 20 degC, where it is worse than its size allows; None: as the table has it
    metal: str  # "" where that cannot be told
    checks: tuple[Check, ...]


def judge_cable(reading: CableReading, stock: Stock | None = None) -> CableTest:
    """Strand and drop of one run against its size: clad aluminum and undersized cable show."""
    stock = stock or shipped()
    row = next(r for r in sizes_of(stock) if r.name == reading.size)
    metals = {r.name: r for r in stock.rows("conductor") if isinstance(r, ConductorRow)}
    own, copper = metals[reading.material], metals["copper"]
    mohm = row.mohm_m * own.resistivity_ohm_mm2_m / copper.resistivity_ohm_mm2_m
    least_mm2 = copper.resistivity_ohm_mm2_m / row.mohm_m * 1e3  # section of the largest resistance its size may have
    kg_m = None if None in (reading.strand_m, reading.strand_kg) else reading.strand_kg / reading.strand_m  # type: ignore[operator]
    ohm = None if None in (reading.current_a, reading.drop_v) else reading.drop_v / reading.current_a  # type: ignore[operator]
    checks: list[Check] = []
    if reading.part == "path":
        return CableTest(None, None, "", () if ohm is None else (_path_check(reading, ohm, mohm),))
    joints = 2 * JOINT_OHM
    read = None if ohm is None else max(ohm - joints, 0.0) / reading.length_m * 1e3 / _WARM
    # below some milliohm its joints decide what is read, not the cable
    tells = read is not None and mohm * reading.length_m > 2e3 * joints
    metal = _metal(kg_m, read if tells else None, row.area_mm2, metals, reading.material)
    found = None
    if kg_m is not None:
        light = kg_m < _LIGHT * least_mm2 * own.density_kg_m3 * 1e-6
        checks.append(_mass_check(reading, kg_m, least_mm2 * own.density_kg_m3 * 1e-6, light, metal))
        if light:
            clad = metals[metal].resistivity_ohm_mm2_m / copper.resistivity_ohm_mm2_m if metal else 1.0
            area = kg_m / (metals[metal].density_kg_m3 * 1e-6) if metal else kg_m / (own.density_kg_m3 * 1e-6)
            found = row.mohm_m * clad * max(least_mm2 / area, 1.0)
    if ohm is not None:
        bad = ohm > _READ * _WARM * mohm * 1e-3 * reading.length_m + 2 * joints
        checks.append(_drop_check(reading, ohm, mohm * 1e-3 * reading.length_m * _WARM + joints, bad, metal))
        if bad and tells:
            found = max(read or 0.0, mohm)
    copper_mm2 = None if kg_m is None else kg_m / (copper.density_kg_m3 * 1e-6)
    return CableTest(copper_mm2, found, metal, tuple(checks))


def _metal(
    kg_m: float | None, mohm_m: float | None, area_mm2: float, metals: dict[str, ConductorRow], said: str
) -> str:
    """Of all conductors the one whose resistivity times density is nearest; by mass alone only where it fits the size."""
    if kg_m is None:
        return ""
    if mohm_m is not None:
        product = log(kg_m * mohm_m * 1e-3)
        return min(
            metals, key=lambda m: abs(log(metals[m].resistivity_ohm_mm2_m * metals[m].density_kg_m3 * 1e-6) - product)
        )
    by_size = {m: kg_m / (r.density_kg_m3 * 1e-6 * area_mm2) for m, r in metals.items()}
    return next((m for m in (said, *metals) if 0.85 <= by_size[m] <= 1.15), "")


def _mass_check(reading: CableReading, kg_m: float, least_kg_m: float, light: bool, metal: str) -> Check:
    numbers = (
        ("size", reading.size, "size"),
        ("m", 1e3 * kg_m, "g"),
        ("least", 1e3 * least_kg_m, "g"),
        ("metal", metal, ""),
    )
    said = "A meter of bare strand weighs {m}; {size} weighs {least} or more"
    if light:
        said += (
            ": as {metal} does" if metal and metal != reading.material else ": it holds less metal than its size says"
        )
    return Check(
        "power.cable-test", "caution" if light else "ok", Message(said, numbers), 1e3 * kg_m, 1e3 * least_kg_m, "g",
        remedy=Message("Do not fit it as {size}; give it back, or size it by what was measured", numbers) if light else None,
        working=(
            CalculationLine("m", "mass of a meter of bare strand", 1e3 * kg_m, "g"),
            CalculationLine("mc", "section of the largest resistance of its size, times density", 1e3 * least_kg_m, "g", "IEC 60228 class 5; 8.89 g/cm3, IEC 60028 (from memory)"),
        ),
        sources=("IEC 60028 (density from memory)", "IEC 60228 class 5"), key="strand_mass", part=f"{reading.part}-mass",
    )  # fmt: skip


def _drop_check(reading: CableReading, ohm: float, allowed: float, bad: bool, metal: str) -> Check:
    numbers = (
        ("size", reading.size, "size"), ("i", reading.current_a or 0.0, "A"), ("u", reading.drop_v or 0.0, "V"),
        ("want", allowed * (reading.current_a or 0.0), "V"), ("part", reading.part, ""), ("metal", metal, ""),
    )  # fmt: skip
    said = "{i} drop {u} along the {part}; {size} of this length with two joints drops {want}"
    if bad and metal and metal != reading.material:
        said += ": its metal is {metal}"
    return Check(
        "power.cable-test", "caution" if bad else "ok", Message(said, numbers), reading.drop_v, allowed * (reading.current_a or 0.0), "V",
        remedy=Message("Read it again at the lugs: where the cable itself drops it, it is thin or clad; else do that joint over", numbers) if bad else None,
        working=(
            CalculationLine("R", "measured, joints included", ohm, "ohm"),
            CalculationLine("R0", "of its size at 35 degC and two joints", allowed, "ohm", "IEC 60228 class 5; joints: " + PRACTICE),
        ),
        sources=("IEC 60228 class 5", PRACTICE), key="drop", part=f"{reading.part}-drop",
    )  # fmt: skip


def _path_check(reading: CableReading, ohm: float, mohm: float) -> Check:
    allowed = mohm * 1e-3 * reading.length_m * _WARM + BODY_OHM + 4 * JOINT_OHM
    bad = ohm > 1.5 * allowed
    numbers = (("r", ohm, "ohm"), ("want", allowed, "ohm"))
    return Check(
        "power.cable-test", "caution" if bad else "ok",
        Message("From the device's ground terminal to the battery's minus there is {r}; {want} is usual", numbers),
        ohm, 1.5 * allowed, "ohm",
        remedy=Message("Clean the ground point to bare metal and tighten it; measure across each joint to find the one that drops") if bad else None,
        working=(CalculationLine("R0", "ground lead, a sound body, four joints", allowed, "ohm", PRACTICE),),
        sources=(PRACTICE,), key="drop", part="path",
    )  # fmt: skip


def supply_checks(
    supply: Supply, rest_v: float | None, running_v: float | None, main_fuse_last: bool | None
) -> tuple[Check, ...]:
    """What the finished supply reads: at rest, running, and that the main fuse went in last."""
    scale, found = supply.system / 12, []
    for part, value, low, high, do in (
        ("rest", rest_v, _CHARGED_V[supply.battery], 14.0, "Charge it with its own charger, let it rest an hour, measure again"),
        ("running", running_v, *_RUNNING_V, "Measure at the battery's posts; below, the alternator or its cable is weak; above, its regulator"),
    ):  # fmt: skip
        if value is None:
            continue
        bad = not low * scale <= value <= high * scale
        numbers = (("v", value, "V"), ("low", low * scale, "V"), ("high", high * scale, "V"), ("what", {"rest": "at rest", "running": "with the engine running"}[part], ""))  # fmt: skip
        found.append(
            Check(
                "power.supply-test", "caution" if bad else "ok", Message("The battery reads {v} {what}; {low} to {high} is usual", numbers),
                value, low * scale, "V", remedy=Message(do) if bad else None, sources=("from memory", PRACTICE), key=part, part=part,
            )
        )  # fmt: skip
    last = main_fuse_last is True
    said = "The main fuse went in last" if last else "Nobody confirmed that the main fuse went in last"
    found.append(
        Check(
            "power.supply-test", "ok" if last else "caution", Message(said),
            remedy=None if last else Message("Main fuse out until every joint is made, insulated and pulled at; then it goes in, last of all"),
            sources=(PRACTICE,), key="main_fuse_last", part="main-fuse",
        )
    )  # fmt: skip
    return tuple(found)
