"""What no plan can compute: ground, noise and cautions, and what is read on the finished installation before it goes back.

Bare strand on a scale tells its copper: 8.89 g a meter and mm2 (IEC 60028); a known current through the whole run and the
drop along it tell its resistance, which a multimeter cannot.  Resistance and mass of a meter together tell the metal,
whatever its area: resistivity times density.  What is found takes the place of the table in all that is judged.

The commonest comeback is a battery that is flat on Monday: an amplifier that stays on, or a control unit that the work
keeps awake.  Common trade practice; the vehicle maker's own limit comes first."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import Literal

from backwave.finding import PRACTICE, CalculationLine, Check, Verdict, check_of
from backwave.power.cable import BODY_OHM, sizes_of
from backwave.power.distribution import JOINT_OHM
from backwave.power.types import Supply
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
    metals = stock.named(ConductorRow)
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
        own = {m: log(r.resistivity_ohm_mm2_m * r.density_kg_m3 * 1e-6) for m, r in metals.items()}
        return min(metals, key=lambda m: abs(own[m] - product))
    by_size = {m: kg_m / (r.density_kg_m3 * 1e-6 * area_mm2) for m, r in metals.items()}
    return next((m for m in (said, *metals) if 0.85 <= by_size[m] <= 1.15), "")


def _mass_check(reading: CableReading, kg_m: float, least_kg_m: float, light: bool, metal: str) -> Check:
    numbers = (
        ("size", reading.size, "size"), ("m", 1e3 * kg_m, "g"), ("least", 1e3 * least_kg_m, "g"), ("metal", metal, ""),
    )  # fmt: skip
    said = "A meter of bare strand weighs {m}; {size} weighs {least} or more"
    if light:
        other = metal and metal != reading.material
        said += ": as {metal} does" if other else ": it holds less metal than its size says"
    given = "IEC 60228 class 5; 8.89 g/cm3, IEC 60028 (from memory)"
    return check_of(
        "power.cable-test", "caution" if light else "ok", said,
        "Do not fit it as {size}; give it back, or size it by what was measured" if light else "", numbers,
        (1e3 * kg_m, 1e3 * least_kg_m, "g"),
        (
            CalculationLine("m", "mass of a meter of bare strand", 1e3 * kg_m, "g"),
            CalculationLine("mc", "section of the largest resistance of its size, times density", 1e3 * least_kg_m, "g", given),
        ),
        ("IEC 60028 (density from memory)", "IEC 60228 class 5"), "strand_mass", f"{reading.part}-mass",
    )  # fmt: skip


def _drop_check(reading: CableReading, ohm: float, allowed: float, bad: bool, metal: str) -> Check:
    numbers = (
        ("size", reading.size, "size"), ("i", reading.current_a or 0.0, "A"), ("u", reading.drop_v or 0.0, "V"),
        ("want", allowed * (reading.current_a or 0.0), "V"), ("part", reading.part, ""), ("metal", metal, ""),
    )  # fmt: skip
    said = "{i} drop {u} along the {part}; {size} of this length with two joints drops {want}"
    if bad and metal and metal != reading.material:
        said += ": its metal is {metal}"
    return check_of(
        "power.cable-test", "caution" if bad else "ok", said,
        "Read it again at the lugs: where the cable itself drops it, it is thin or clad; else do that joint over" if bad else "",
        numbers, (reading.drop_v, allowed * (reading.current_a or 0.0), "V"),
        (
            CalculationLine("R", "measured, joints included", ohm, "ohm"),
            CalculationLine("R0", "of its size at 35 degC and two joints", allowed, "ohm", "IEC 60228 class 5; joints: " + PRACTICE),
        ),
        ("IEC 60228 class 5", PRACTICE), "drop", f"{reading.part}-drop",
    )  # fmt: skip


def _path_check(reading: CableReading, ohm: float, mohm: float) -> Check:
    allowed = mohm * 1e-3 * reading.length_m * _WARM + BODY_OHM + 4 * JOINT_OHM
    bad = ohm > 1.5 * allowed
    remedy = "Clean the ground point to bare metal and tighten it; measure across each joint to find the one that drops"
    return check_of(
        "power.cable-test", "caution" if bad else "ok",
        "From the device's ground terminal to the battery's minus there is {r}; {want} is usual", remedy if bad else "",
        (("r", ohm, "ohm"), ("want", allowed, "ohm")), (ohm, 1.5 * allowed, "ohm"),
        (CalculationLine("R0", "ground lead, a sound body, four joints", allowed, "ohm", PRACTICE),), key="drop", part="path",
    )  # fmt: skip


def supply_checks(
    supply: Supply, rest_v: float | None, running_v: float | None, main_fuse_last: bool | None
) -> tuple[Check, ...]:
    """What the finished supply reads: at rest, running, and that the main fuse went in last."""
    scale, found = supply.system / 12, []
    for part, state, value, low, high, do in (
        ("rest", "at rest", rest_v, _CHARGED_V[supply.battery], 14.0, "Charge it with its own charger, let it rest an hour, measure again"),
        ("running", "with the engine running", running_v, *_RUNNING_V, "Measure at the battery's posts; below, the alternator or its cable is weak; above, its regulator"),
    ):  # fmt: skip
        if value is not None:
            bad = not low * scale <= value <= high * scale
            numbers = (("v", value, "V"), ("low", low * scale, "V"), ("high", high * scale, "V"), ("what", state, ""))
            found.append(check_of(
                "power.supply-test", "caution" if bad else "ok", "The battery reads {v} {what}; {low} to {high} is usual",
                do if bad else "", numbers, (value, low * scale, "V"), sources=("from memory", PRACTICE), key=part, part=part,
            ))  # fmt: skip
    last = main_fuse_last is True
    said = "The main fuse went in last" if last else "That the main fuse went in last is not confirmed yet"
    do = "Main fuse out until every joint is made, insulated and pulled at; then it goes in, last of all"
    verdict: Verdict = "ok" if last else "caution"
    found.append(
        check_of("power.supply-test", verdict, said, "" if last else do, key="main_fuse_last", part="main-fuse")
    )
    return tuple(found)


MAKER = "the vehicle maker's own limit comes first"
ASLEEP_A = 0.05  # the most that a vehicle draws asleep (common trade practice: 20 to 50 mA)
MORE_A = 0.01  # what the work may add to it (common trade practice)
ASLEEP_MIN = 20.0  # until the last control unit sleeps (common trade practice: 20 to 40 min)
_HOW = (
    "Meter in the negative lead before it is parted (bridge it, so that nothing wakes), doors and hood latched by hand, key away, "
    "wait 20 to 40 min, read; then pull the new main fuse and read again"
)


@dataclass(frozen=True)
class Sleep:
    """What was read; None is "nobody looked"."""

    before_a: float | None = None
    after_a: float | None = None
    waited_min: float | None = None
    latched: bool | None = None
    turn_on_off: bool | None = None  # the turn-on lead was dead with the ignition off


def sleep_checks(read: Sleep) -> tuple[Check, ...]:
    """Whether the vehicle sleeps as it did before, and whether the reading can be believed."""
    before, after = read.before_a, read.after_a
    lacking = {
        "left alone for 20 to 40 min": read.waited_min is None or read.waited_min < ASLEEP_MIN,
        "latched, doors and hood, with the key away": read.latched is not True,
    }
    awake = [words for words, wrong in lacking.items() if wrong]
    pull = "Pull the new main fuse while it sleeps: if the current falls, look for the amplifier that stays on (turn-on lead, signal sensing); if not, for a control unit that is kept awake"
    verdict: Verdict = "caution"
    key, limit = "asleep_after", None
    if after is None:
        said, remedy = "What the vehicle draws asleep after the work is not measured yet", _HOW
    elif awake:
        said, remedy, key = (
            "The vehicle drew {after}; not entered yet that it was " + " and ".join(awake),
            _HOW,
            "waited",
        )
    elif before is not None and after > before + MORE_A:
        said, remedy, limit = (
            "Asleep the vehicle draws {more} more than before the work: {after}",
            pull,
            before + MORE_A,
        )
    elif after > ASLEEP_A:
        said, remedy, limit = "Asleep the vehicle draws {after}; up to {most} is usual", pull, ASLEEP_A
    elif before is None:
        said, key = "Asleep the vehicle draws {after}; not measured before the work", "asleep_before"
        remedy = "Read it again with the new main fuse pulled, and compare"
    else:
        verdict, said, remedy, limit = "ok", "Asleep the vehicle draws {after}, {before} before the work", "", ASLEEP_A
    numbers = (
        ("after", after or 0.0, "A"), ("most", ASLEEP_A, "A"), ("before", before or 0.0, "A"), ("more", (after or 0.0) - (before or 0.0), "A"),
    )  # fmt: skip
    read_a = (("I0", "asleep before the work", before), ("I1", "asleep after it", after)) if after is not None else ()
    working = tuple(CalculationLine(s, what, amps, "A", "reading") for s, what, amps in read_a if amps is not None)
    value = (after, limit, "" if limit is None else "A")
    sources = (PRACTICE, MAKER)
    asleep = check_of("power.sleep", verdict, said, remedy, numbers, value, working, sources, f"hand_over.{key}")
    return _lead(read.turn_on_off), asleep


def _lead(off: bool | None) -> Check:
    said = "The turn-on lead is dead with the ignition off"
    do = "" if off else "Measure it: ignition off, key away, doors latched"
    if off is None:
        said = "That the turn-on lead is dead with the ignition off is not entered yet"
    elif not off:
        said = "The turn-on lead stays live with the ignition off"
        do = "Find a switched output of the maker's, fused; or an amplifier that senses the signal and goes off again"
    verdict: Verdict = "ok" if off else "caution"
    return check_of(
        "power.sleep", verdict, said, do, sources=(PRACTICE, MAKER), key="hand_over.turn_on_off", part="turn-on"
    )


def whine_check(heard: bool | None) -> Check:
    """Noise with the engine running."""
    if heard:
        said = "A whine or hum is heard with the engine running"
        do = (
            "With the signal leads off at the amplifier: still there, its supply or ground is it (one ground point, bare metal); gone, the "
            "signal's way is (both ends grounded: a line transformer or a differential input; signal away from power; gain lower)"
        )
    elif heard is False:
        said, do = "No whine with the engine running", ""
    else:
        said = "Not listened to with the engine running yet"
        do = "Engine at 2000 rpm, volume low, lamps, fan and rear window heating on: listen for a whine that follows the engine"
    return check_of("power.whine", "caution" if do else "ok", said, do, key="hand_over.whine")


GROUND_M = 0.5  # longest ground lead to the body (common trade practice)
_BOLTS = "Never on a seat-belt, airbag or brake bolt. Ground first and signal leads last; in reverse when taken out."
MAKER_FIRST = "vehicle maker's service information, local codes and licensed practice come first"


def ground_check(
    ground_m: float,
    ground_mm2: float,
    feed_mm2: float,
    body: Literal["steel", "aluminum", "plastic"] = "steel",
    battery_sensor: bool | None = None,
    ends_short: bool = False,
) -> Check:
    """The ground lead of one device. `battery_sensor`: on the battery's negative post, None where nobody looked;
    `ends_short`: it is shorter than the way back, where the body is no ground."""
    thin = ground_mm2 < 0.99 * feed_mm2
    asked = (
        (ends_short, "as long as the feed: a plastic body is no ground, it runs back to the maker's ground point"),
        (ground_m > GROUND_M and body != "plastic", "shorter"),
        (thin, "as thick as the feed"),
        (body == "aluminum", "on the maker's own ground studs: steel bolted to aluminum corrodes"),
    )
    faults = [words for wrong, words in asked if wrong]
    sensor = "" if battery_sensor is False else " On the body's side of a battery sensor, never on the post."
    where = "; back to the maker's ground point." if body == "plastic" else "; bare metal, toothed washer, sealed over."
    value = (ground_m, GROUND_M, "m")
    if thin and ground_m <= GROUND_M:
        value = (ground_mm2, feed_mm2, "mm2")
    return check_of(
        "power.ground", "caution" if faults else "ok",
        "Ground lead {l}, {g} against {f} of the feed" + where + sensor + " " + _BOLTS,
        "It should be: " + "; ".join(faults) if faults else "",
        (("l", ground_m, "m"), ("g", ground_mm2, "size"), ("f", feed_mm2, "size")), value,
        (CalculationLine("G", "longest ground lead to a body", GROUND_M, "m", PRACTICE),), (PRACTICE, MAKER_FIRST), "ground",
    )  # fmt: skip


def noise_check(
    grounds: int | None = None, apart: bool | None = None, turn_on: Literal["lead", "signal", ""] = "lead"
) -> Check:
    """What keeps whine and pops out. `grounds`: points at which the devices are grounded; `apart`: signal and power on
    different sides; None where nobody said; `turn_on`: a lead from the head unit, sensing of the signal, or nothing."""
    asked = (
        (grounds is None or grounds > 1, "one ground point for all devices that share a signal: two make a loop that whines with the engine"),
        (not apart, "signal on one side of the vehicle, power on the other; where they must cross, at a right angle"),
        (turn_on == "", "a turn-on lead, fused small: without it the amplifier stays on and empties the battery"),
        (turn_on == "signal", "a look that sensing the signal turns it off again: chimes and the phone come over the same wires"),
    )  # fmt: skip
    faults = [words for wrong, words in asked if wrong]
    if not faults:
        return check_of("power.noise", "ok", "One ground point, signal and power apart, a turn-on lead")
    said = "Against noise, see to: " if grounds is None or apart is None else "Against noise it still needs: "
    return check_of("power.noise", "caution", said + "; ".join(faults), "As said, before the trim goes back on")


def cautions(supply: Supply) -> tuple[Check, ...]:
    """What can hurt when the supply is worked on."""
    battery = "A lead-acid battery gives off hydrogen while charged: no sparks near it, negative off first and on last"
    if supply.battery == "lithium":
        battery = "A lithium starter battery gives thousands of amperes into a short: fuse at its post that breaks them, its own charger only"
    orange, away = (
        "Orange cable, where the vehicle has any, is high voltage and not ours to touch",
        "Route well clear of it",
    )
    if supply.source == "converter":
        orange = (
            "Orange cable is high voltage and not ours to touch; 12 V comes from a converter with a limit of its own"
        )
        away = "Keep away from orange; ask the maker how much the converter spares"
    rows = (
        ("safe.battery", battery, "Negative off, wait as long as the maker says, insulate the lead; radio code and window stops noted before"),
        ("safe.airbag", "Yellow connectors are airbags and belt tensioners; a meter on one can fire it", "Ignition off, battery off, waiting time done; never measure there"),
        ("safe.tapping", "A screw into a floor finds tanks, lines and looms", "Look at the other side first; use the vehicle's own ground studs, never a seat-belt, airbag or brake bolt; paint bare edges"),
        ("safe.high-voltage", orange, away),
    )  # fmt: skip
    return tuple(check_of(code, "caution", said, do, sources=(PRACTICE, MAKER_FIRST)) for code, said, do in rows)
