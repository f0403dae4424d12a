"""What loads draw, and what the vehicle has left for it.

Rated: I = n P/(e U), a sine at full power on all channels.  With music whose crest factor (peak over rms) is c dB, and
peaks that just reach the rated peak, the mean power is c - 3.01 dB below the rated one: class D draws in proportion to
power, class AB to the mean of |u|, which for music (Gaussian) is 0.798 rms against 0.900 of a sine.  12 dB is the
one-eighth of rated power that safety standards test amplifiers at (IEC 62368-1 annex E; from memory).  The amplifier's
idle current is not covered."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, pi, sqrt

from backwave.errors import InputError
from backwave.finding import PRACTICE, Assumed, CalculationLine, Check, Verdict, check_of
from backwave.power.fuse import STARTER_A
from backwave.power.protection import PowerSource
from backwave.power.types import CurrentBudget, LoadCurrent, Supply, SupplyLoad
from backwave.stock import BatteryRow, shipped

EFFICIENCY = {"AB": 0.60, "D": 0.85}  # at rated power (common trade practice; an ideal class B reaches 0.785)
CREST_DB = 12.0
DEPTH = 0.3  # of a starter battery that still has to start the engine (common trade practice)
PEUKERT = 1.15  # exponent of a lead-acid battery's capacity against current; 1.03 for lithium (from memory)
_SINE_DB = 3.0103
_OFF_A = 3.0
_MEAN = sqrt(2 / pi) / (2 * sqrt(2) / pi)  # mean of |u| by rms: Gaussian against sine


def rest_v(supply: Supply) -> tuple[float, tuple[Assumed, ...]]:
    """Battery at rest, V, and whether that was taken."""
    volts, kind = (13.3, "lithium") if supply.battery == "lithium" else (12.6, "lead-acid")
    why = f"a charged {kind} battery at rest"
    return _taken("battery.voltage", supply.battery_v, volts * supply.system / 12, "V", why)


def running_v(supply: Supply) -> tuple[float, tuple[Assumed, ...]]:
    """Supply with the engine running, V, and whether that was taken."""
    why = "what amplifiers are rated at (ANSI/CTA-2006); smart alternators swing between 12.2 and 15 V"
    return _taken("running voltage", supply.running_v, 14.4 * supply.system / 12, "V", why)


def battery_ohm(supply: Supply) -> tuple[float, tuple[Assumed, ...]]:
    """Inner resistance of the battery, ohm, and whether that was taken; on the low side, for it sets what a short draws."""
    default = (0.002 if supply.battery == "lithium" else 0.005) * supply.system / 12
    why = "on the low side, a short draws more; measure it, or take it from the battery's sheet (from memory)"
    return _taken("battery.resistance", supply.resistance_ohm, default, "ohm", why)


def sources_of(supply: Supply) -> tuple[PowerSource, ...]:
    """What drives a short: the battery fully charged over its least resistance, and the alternator's own limit at its post."""
    charged = shipped().named(BatteryRow)[supply.battery]
    advised = None if supply.resistance_ohm is not None else inf if supply.battery == "lithium" else STARTER_A
    volts = max(charged.charged_v * supply.system / 12, supply.battery_v or 0.0)
    found = [PowerSource("battery", volts, battery_ohm(supply)[0], advised_a=advised)]
    if supply.alternator_a is not None:
        # what is advised at a battery nobody measured covers what charges it
        more = None if advised is None else 0.0
        found.append(PowerSource(supply.source, running_v(supply)[0], None, supply.alternator_a, more, node="battery"))
    return tuple(found)


def load_current(load: SupplyLoad, supply: Supply) -> LoadCurrent | None:
    """What one load draws; None where neither power, current nor fuses are known. `supply`: it sets the voltage: at
    rest for a regulated load, running for the others."""
    volts, assumed = rest_v(supply) if load.regulated else running_v(supply)
    own = float(sum(load.fuses_a))
    if load.current_a is not None:
        off, running = load.mean_a or (load.current_a, load.current_a)
        return LoadCurrent(load.name, load.current_a, running, volts, 1.0, own, max(load.current_a, own), assumed, off)
    if load.power_w is None and not own:
        return None
    why = f"class {load.klass} at rated power ({PRACTICE})"
    efficiency, more = _taken("efficiency", load.efficiency, EFFICIENCY[load.klass], "", why)
    assumed += more
    if load.power_w is None:
        # Makers fit fuses above what the amplifier draws, so their sum is on the safe side.
        rated, power = own, own * volts * efficiency / load.channels
        assumed += (Assumed("power", power, "W", "no rating: its own fuses are taken for its current"),)
    else:
        rated = load.channels * load.power_w / (efficiency * volts)
    why = "one-eighth of rated power, as safety standards take music"
    crest, more = _taken("crest", load.crest_db, CREST_DB, "dB", why)
    assumed += more
    below_db = crest - _SINE_DB
    share = 10 ** (-below_db / 10) if load.klass == "D" else min(1.0, 10 ** (-below_db / 20) * _MEAN)
    return LoadCurrent(load.name, rated, rated * share, volts, efficiency, own, max(rated, own), assumed)


def current_budget(loads: Sequence[SupplyLoad], supply: Supply, depth: float = DEPTH) -> CurrentBudget:
    """Currents of all loads, what the alternator has left, and how long one can listen with the engine off. `depth`, 1:
    share of the battery that may be used with the engine off, above 0 to 1; InputError: A depth outside its range."""
    if not 0 < depth <= 1:
        raise InputError("share of the battery used", depth, "above 0, up to 1")
    currents = {load.name: load_current(load, supply) for load in loads}
    known = tuple(c for c in currents.values() if c is not None)
    rated, musical = sum(c.rated_a for c in known), sum(c.musical_a for c in known)
    parked = sum(c.musical_a if c.off_a is None else c.off_a for c in known)
    checks = [unknown_load(name) for name, c in currents.items() if c is None]
    assumed = [*rest_v(supply)[1], *running_v(supply)[1], *battery_ohm(supply)[1]]
    spare: dict[str, float | None] = {"idle": None, "speed": None}
    if supply.vehicle_a is not None:
        for name, gives in (("idle", supply.idle_a), ("speed", supply.alternator_a)):
            spare[name] = None if gives is None else gives - supply.vehicle_a - musical
    wanted = {
        "what the alternator gives at speed": supply.alternator_a, "at idle": supply.idle_a, "what the vehicle draws": supply.vehicle_a,
    }  # fmt: skip
    missing = [name for name, value in wanted.items() if value is None]
    if known:
        checks.append(_budget_check(spare["idle"], spare["speed"], musical, supply, missing))
    minutes = None
    if known and supply.capacity_ah is not None:
        off, more = _taken("off current", supply.off_a, _OFF_A, "A", f"head unit and what stays awake ({PRACTICE})")
        assumed += more
        if parked + off > 0:
            minutes = engine_off_min(supply.capacity_ah, parked + off, depth, supply.battery)
            checks.append(_reserve_check(minutes, parked + off, supply, depth))
    return CurrentBudget(
        known, rated, musical, spare["idle"], spare["speed"], minutes, depth, tuple(assumed), tuple(checks)
    )


def engine_off_min(capacity_ah: float, current_a: float, depth: float, battery: str = "lead-acid") -> float:
    """Minutes until a share of the battery is used: t = depth H (C/(I H))^k with H = 20 h (Peukert 1897). `depth`,
    1."""
    rate = 20.0
    hours = rate * (capacity_ah / (current_a * rate)) ** _exponent(battery)
    # Below the 20 hour rate Peukert would give more than the battery holds.
    return 60 * depth * min(hours, capacity_ah / current_a)


def _exponent(battery: str) -> float:
    return 1.03 if battery == "lithium" else PEUKERT


def rating_check(current: LoadCurrent) -> Check | None:
    """Said where a load's rating asks for more than its own fuses carry; None where it does not."""
    if not current.fuses_a or current.rated_a <= current.fuses_a:
        return None
    numbers = (("load", current.name, ""), ("i", current.rated_a, "A"), ("own", current.fuses_a, "A"))
    return check_of(
        "power.rating", "caution", "{load}: its rating asks for {i}, its own fuses carry {own}: it cannot give that power for long",
        "Count on the power its fuses let through; never fit larger fuses in the device", numbers,
        (current.rated_a, current.fuses_a, "A"),
        (CalculationLine("I", "power by efficiency and voltage", current.rated_a, "A"),), key="power", part=current.name,
    )  # fmt: skip


def _taken(key: str, given: float | None, default: float, unit: str, why: str) -> tuple[float, tuple[Assumed, ...]]:
    return (given, ()) if given is not None else (default, (Assumed(key, default, unit, why),))


def unknown_load(name: str) -> Check:
    """Says that nobody can tell what a load draws, and what would."""
    remedy = "Enter its power (for example 4 x 75 W into 4 ohm), its current, or its own fuses"
    said, names = "{load}: no current entered yet", (("load", name, ""),)
    return check_of("power.load", "caution", said, remedy, names, sources=(), key="power", part=name)


def _budget_check(
    idle: float | None, speed: float | None, musical: float, supply: Supply, missing: Sequence[str]
) -> Check:
    least = min((s for s in (idle, speed) if s is not None), default=None)
    working = (
        CalculationLine("Im", "music, all loads", musical, "A"),
        CalculationLine("Iv", "the vehicle itself", supply.vehicle_a, "A"),
        CalculationLine("Ia", f"{supply.source} at speed", supply.alternator_a, "A"),
        CalculationLine("Ii", f"{supply.source} at idle", supply.idle_a, "A"),
    )
    verdict: Verdict = "caution"
    enter = "Enter " + ", ".join(missing) if missing else ""
    if least is None:
        said, remedy = "Music draws {m} on average; whether the vehicle has that to spare is not known", enter
    elif speed is not None and speed < 0:
        said = "Even at speed {short} are missing: the battery empties while driving"
        remedy = "Less power, or a stronger alternator; a second battery alone does not fill the gap"
    elif idle is not None and idle < 0:
        said = "At idle {short} are missing: standing with music empties the battery"
        remedy = "Turn it down at idle, or less power"
    else:
        verdict = "caution" if missing else "ok"
        said, remedy = "Music draws {m} on average; {spare} are to spare", enter
    short = idle if speed is None or speed >= 0 else speed
    numbers = (("m", musical, "A"), ("short", -(short or 0.0), "A"), ("spare", least or 0.0, "A"))
    return check_of("power.budget", verdict, said, remedy, numbers, (least, 0.0, "A"), working, key="supply")


def _reserve_check(minutes: float, current: float, supply: Supply, depth: float) -> Check:
    short = minutes < 30
    remedy = "Run the engine while listening, or turn it down" if short else ""
    return check_of(
        "power.reserve", "caution" if short else "ok", "Engine off, music for {t} until {share} of the battery are used", remedy,
        (("t", minutes, "min"), ("share", 100 * depth, "%")), (minutes, None, "min"),
        (
            CalculationLine("C", "battery, 20 hours", supply.capacity_ah, "Ah"),
            CalculationLine("I", "music and what the vehicle draws with the engine off", current, "A"),
            CalculationLine("k", "Peukert's exponent", _exponent(supply.battery), "", "from memory"),
            CalculationLine("d", "share that may be used", depth, "", PRACTICE),
        ),
        ("Peukert 1897 (from memory)", PRACTICE), key="supply",
    )  # fmt: skip
