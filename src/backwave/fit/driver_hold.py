"""What holds the driver on the part, and the part under its screw heads: at a slam, and for years in the heat.

Pull-out is taken as shear over the cylinder that an insert, a thread or a nut sits in.  A head is held to have sunk in
where its pressure, left on for a thousand hours, strains the material by `STRAIN` (creep modulus, ISO 899-1).
Tightening follows from half of what lets go by T = K d F with K = 0.2 (the usual short form of the tightening of a
screw, machine-design textbooks; VDI 2230 has the long one).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict
from backwave.fit.fixing_load import GRAVITY, MODEL, SLAM_G, fixing_loads_n
from backwave.fit.screw import Threads
from backwave.fit.screw_holes import Washer, washers
from backwave.stock import SleeveRow, Stock

SHEAR = "shear over the cylinder that the thread sits in"
STRAIN = 0.005  # under a head after a thousand hours; common trade practice
CLAMP_N = 250.0  # minimum that keeps a screw from working loose; common trade practice
TIGHT_SHARE = 0.5  # of what lets go, for tightening; common trade practice
NUT_FACTOR = 0.2
HOT_SAFETY = 2.0  # what a low strength, on the hottest day, still has over the hardest slam; common trade practice
SLEEVE_PLAY_MM = 0.2  # hole over a sleeve, in diameter; common trade practice


@dataclass(frozen=True)
class Support:
    """What lies under a head that presses on the part."""

    washer: Washer | None
    sleeve: SleeveRow | None
    force_n: float  # that stays on the part
    area_mm2: float

    @property
    def pressure_mpa(self) -> float:
        """Pressure on the part."""
        return self.force_n / self.area_mm2


def head_support(
    stock: Stock,
    size: str,
    head_mm: float,
    hole_mm: float,
    clamp_n: float,
    steady_n: float,
    allowed_mpa: float,
    widest_mm: float,
) -> Support:
    """The least that keeps a head from sinking in: nothing, a washer, a large one, or a sleeve with a washer on it.

    `stock`, mm; `clamp_n`, `steady_n`: what a screw has to clamp with, and what of it pushes the part off the
    metal for ever: with a sleeve only that is left on the part; `allowed_mpa`, MPa: pressure that the material
    bears for years.
    """
    sleeve = stock.named(SleeveRow).get(size)
    found = []
    for tube in (None, sleeve) if sleeve is not None else (None,):
        for washer in (None, *washers(stock, stock.clearance_hole(size).d_mm)):
            outer = max(head_mm, 0.0 if washer is None else washer.outer_mm)
            hole = hole_mm if tube is None else tube.outer_mm + SLEEVE_PLAY_MM
            area = pi / 4.0 * (outer**2 - hole**2)
            if area <= 0.0 or (washer is not None and outer > widest_mm):
                continue
            one = Support(washer, tube, clamp_n if tube is None else max(steady_n, 1.0), area)
            if one.pressure_mpa <= allowed_mpa:
                return one
            found.append(one)
    return min(found, key=lambda one: one.pressure_mpa)


def bearing_check(
    name: str, support: Support, material: str, allowed_mpa: float, hot_degc: float, source: str, others: Sequence[str]
) -> Check:
    """The pressure under a head (of the fixing that has least in hand) against what the part bears in the heat.

    `name`, `material`, `source`: the fixing, what the part is made of, where its creep is from; `support`, mm and
    N; `allowed_mpa`, `hot_degc`, MPa and degC: what the material bears for years as hot as it gets there.
    """
    pressure = support.pressure_mpa
    under = (
        "A bare head"
        if support.washer is None
        else "A washer"
        if "large" not in support.washer.name
        else "A large washer"
    )
    about = (
        ("under", under + (" on a sleeve" if support.sleeve is not None else ""), ""), ("name", name, ""),
        ("material", material, ""), ("pressure", pressure, "MPa"), ("allowed", allowed_mpa, "MPa"),
        ("hot", hot_degc, "degC"), ("others", " or ".join(others), ""),
    )  # fmt: skip
    good = pressure <= allowed_mpa + 1e-9
    remedy = "Make the part of {others}" if others else "Keep the screws tight: check them after every hot spell"
    return Check(
        "fit.bearing",
        "ok" if good else "caution",
        Message(
            "{under} at {name} presses on {material} with {pressure}; at {hot} it bears {allowed} for years", about
        ),
        value=pressure,
        limit=allowed_mpa,
        unit="MPa",
        remedy=None if good else Message(remedy, about),
        working=(
            CalculationLine("F", "force that stays on the part", support.force_n, "N", f"gasket and slam, {CLAMP_N:g} N at least; with a sleeve the gasket alone; {PRACTICE}"),
            CalculationLine("A", "area under head or washer, less the hole", support.area_mm2, "mm2"),
            CalculationLine("p", "F / A", pressure, "MPa"),
            CalculationLine("p_most", f"{100 * STRAIN:g} % of its creep modulus at {hot_degc:g} degC", allowed_mpa, "MPa", source),
        ),
        sources=(source, PRACTICE),
        key="adapter.material",
    )  # fmt: skip


def thread_holds_n(stock: Stock, threads: Threads, engagement_mm: float, over_mm: float, shear_pa: float) -> float:
    """Pull that lets go of one of the driver's threads.

    `stock`, mm; `engagement_mm`, `over_mm`: thread of a self-tapping screw in the part; part over a nut in its
    pocket.
    """
    if threads.kind == "insert":
        insert = stock.insert(threads.name)
        around, deep = insert.hole_mm, insert.length_mm
    elif threads.kind == "nut":
        around, deep = stock.nut(threads.size).flats_mm, over_mm
    else:
        around, deep = stock.tapping_screw(threads.size).d_mm, engagement_mm
    return pi * around * max(deep, 0.0) * shear_pa * 1e-6


def driver_hold_check(
    xy_mm: Sequence[tuple[float, float]],
    mass_kg: float,
    z_mm: float,
    thread: str,
    holds_n: tuple[float, float],
    others: Sequence[tuple[str, float]],
    hot_degc: float,
    source: str,
) -> Check:
    """The pull on the driver's own threads at a slam, against what the part holds them by, cold and hot.

    `mass_kg`, `z_mm`: the driver's mass, and its middle off the seat; `thread`, `source`: what the screws go into,
    where the material's strength is from; `others`, N: what else could be set there, with what holds it hot.
    """
    load = max(fixing_loads_n(xy_mm, mass_kg, (0.0, 0.0, z_mm)))
    cold, hot = holds_n
    allowed = hot / HOT_SAFETY
    verdict: Verdict = "ok" if load <= allowed else "caution" if load <= cold else "stop"
    better = next((name for name, holds in others if load <= holds / HOT_SAFETY), "")
    about = (
        ("load", load, "N"), ("thread", thread, ""), ("allowed", allowed, "N"), ("hot", hot_degc, "degC"),
        ("better", better, ""), ("slam", f"{SLAM_G:g} g", ""),
    )  # fmt: skip
    remedy = (
        "Take threads = {better}"
        if better
        else "Screw the driver through the part into metal behind it: no thread in this part holds it"
    )
    return Check(
        "fit.hold",
        verdict,
        Message("A slam of {slam} pulls with {load} on each {thread}; {allowed} allowed at {hot}", about),
        value=load,
        limit=allowed,
        unit="N",
        remedy=None if verdict == "ok" else Message(remedy, about),
        working=(
            CalculationLine("m", "driver", mass_kg, "kg", "the job"),
            CalculationLine("a", f"{SLAM_G:g} g, in the worst direction", SLAM_G * GRAVITY, "m/s2", PRACTICE),
            CalculationLine("z", "its middle off the seat", z_mm, "mm", PRACTICE),
            CalculationLine("T", "greatest pull on one of its screws", load, "N", MODEL),
            CalculationLine("T_cold", "what lets go of the thread, cold", cold, "N", f"{SHEAR}; {source}"),
            CalculationLine("T_hot", f"at {hot_degc:g} degC", hot, "N", f"{SHEAR}; {source}"),
            CalculationLine("T_most", f"allowed, T_hot / {HOT_SAFETY:g}", allowed, "N", PRACTICE),
        ),
        sources=(PRACTICE, MODEL, source),
        key="threads",
    )


def unknown_hold_check(material: str) -> Check:
    """A material of which nobody has said what a thread holds in it."""
    return Check(
        "fit.hold",
        "caution",
        Message("How hard {material} holds a thread is not known", (("material", material, ""),)),
        remedy=Message("Enter a row for it: [[stock.creep]] with at_degc, e_pa and shear_pa"),
        sources=(PRACTICE,),
        key="adapter.material",
    )


def tightening_check(what: str, down: str, d_mm: float, lets_go_n: float, part: str) -> Check:
    """How tight, in a fitter's words, with the torque beside it."""
    force = TIGHT_SHARE * lets_go_n
    torque = NUT_FACTOR * d_mm * 1e-3 * force
    return Check(
        "fit.tightening",
        "ok",
        Message(
            f"{what}: by hand with a screwdriver, crosswise, and stop when {down} ({{torque}} at most); no impact "
            "driver",
            (("torque", torque, "N m"),),
        ),
        value=torque,
        unit="N m",
        working=(
            CalculationLine("F", f"{100 * TIGHT_SHARE:g} % of what lets go or sinks in", force, "N", PRACTICE),
            CalculationLine("d", "screw", d_mm, "mm"),
            CalculationLine("T", f"{NUT_FACTOR:g} d F", torque, "N m", "T = K d F, machine-design textbooks"),
        ),
        sources=(PRACTICE,),
        part=part,
    )
