"""More than one source: second batteries, converters, banks of capacitors; and what a device stands of its supply.

    precharge: a resistor R charges C to V: peak V/R, 5 R C to 99 %, and R itself takes C V^2/2

A cable between two sources is fed from both, so it has a fuse at each end.  Common trade practice where no source is
named; the vehicle maker's service information, local codes and licensed practice come first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backwave.finding import PRACTICE, CalculationLine, Check, Quantities, Verdict, check_of

MAKER = "vehicle maker's service information, local codes and licensed practice come first"
USUAL_SPAN_V = (10.5, 16.0)  # what a 12 V amplifier usually stands (common trade practice)
PEAK_W = 25.0  # of a resistor or a test lamp in the hand (common trade practice)
E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)  # IEC 60063
Kind = Literal["lead-acid", "AGM", "lithium", "capacitors"]


@dataclass(frozen=True)
class Chemistry:
    """A 12 V battery of a kind where nobody read its own figures (common trade practice)."""

    rest_v: float  # charged and at rest
    cut_v: float  # where its own electronics, or sense, end a discharge
    ohm: float  # ohm, the least it may have: on the safe side for a fuse


CHEMISTRIES: dict[str, Chemistry] = {
    "lead-acid": Chemistry(12.6, 10.5, 5e-3),
    "AGM": Chemistry(12.8, 10.5, 4e-3),
    "lithium": Chemistry(13.3, 10.0, 2e-3),
    "capacitors": Chemistry(14.4, 0.0, 1e-3),
}


@dataclass(frozen=True)
class ExtraBattery:
    """A battery beside the starter battery; None is "nobody looked"."""

    id: str
    kind: Kind
    volts: float  # V, at rest
    ohm: float  # ohm
    place: Literal["hood", "cabin", "cargo", "outside"]
    joined: str  # "converter", "isolator", "cable", "own charger", "" where nobody said
    near_a: float | None  # A, fuse at the start of the cable to it
    far_a: float | None  # A, fuse at its own end
    capacitance_f: float | None = None
    precharge_ohm: float | None = None
    cut_v: float | None = None  # V, where its own electronics end a discharge; None: by its kind
    most_a: float | None = None  # A, the most they let through
    asked_a: float = 0.0  # A, rated, of what hangs on it
    sealed: bool | None = None
    vented: bool | None = None
    strapped: bool | None = None
    boxed: bool | None = None
    hood_allowed: bool | None = None
    cold_stop: bool | None = None
    lithium_charger: bool | None = None

    @property
    def short_a(self) -> float:
        """Into a short at its own posts, A."""
        return self.volts / self.ohm


@dataclass(frozen=True)
class ExtraConverter:
    """A converter: its output is held by its own limit."""

    id: str
    fed_v: float  # V, of what feeds it
    input_v: float  # V, nominal, it takes
    output_v: float
    limit_a: float
    asked_a: float | None  # A, rated, of what hangs on it; None where a load is not known
    input_fuse_a: float | None
    output_fuse_a: float | None
    charges: tuple[str, ...] = ()  # batteries at its output


@dataclass(frozen=True)
class Precharge:
    """Charging or discharging a bank through a resistor."""

    ohm: float  # ohm
    peak_a: float
    peak_w: float  # in the resistor, at the first moment
    seconds: float  # to 99 %: five time constants
    energy_j: float  # in the bank; the resistor takes as much


def precharge(bank_f: float, charged_v: float, own_ohm: float | None = None) -> Precharge:
    """What a resistor does to a bank; None chooses one of E6 whose first moment stays within a lamp of 25 W."""
    decade, least = 0.1, charged_v**2 / PEAK_W
    while 6.8 * decade < least:
        decade *= 10
    ohm = next(step * decade for step in E6 if step * decade >= least) if own_ohm is None else own_ohm
    return Precharge(ohm, charged_v / ohm, charged_v**2 / ohm, 5 * ohm * bank_f, bank_f * charged_v**2 / 2)


def _check(
    code: str, verdict: Verdict, words: str, remedy: str, part: str, *numbers: tuple[str, float | str, str], key: str = "",
    working: tuple[CalculationLine, ...] = (), value: tuple[float | None, float | None, str] = (None, None, ""),
) -> Check:  # fmt: skip
    return check_of(code, verdict, words, remedy, numbers, value, working, (PRACTICE, MAKER), key, part)


def battery_checks(one: ExtraBattery) -> tuple[Check, ...]:
    """Everything about one battery: fuses at both ends, its charge, where it sits."""
    if one.kind == "capacitors":
        return _fuses(one), _bank(one)
    return _fuses(one), _charge(one), _place(one), _cut_out(one)


def _fuses(one: ExtraBattery) -> Check:
    name = (("who", one.id, ""), ("amps", one.short_a, "A"), ("near", one.near_a or 0.0, "A"))
    working = (
        CalculationLine("U", "charged, at rest", one.volts, "V", PRACTICE),
        CalculationLine("R", "its inner resistance, the least", one.ohm, "ohm", PRACTICE),
        CalculationLine("U/R", "into a short at its posts", one.short_a, "A", "Ohm's law"),
    )
    if one.joined == "own charger":
        return _check("power.source", "ok", "{who} is joined to no other source", "", f"{one.id}-fuses", *name, working=working)  # fmt: skip
    if one.far_a is None:
        fuse = "a fuse of {near}" if one.near_a else "a fuse"
        return _check(
            "power.source", "stop", "No fuse at {who}'s own end of its cable: it drives up to {amps} into a short there",
            f"Fit {fuse} within reach of its post as well: a cable between two sources has one at each end", f"{one.id}-fuses",
            *name, key=f"battery.{one.id}.fuse", working=working,
        )  # fmt: skip
    return _check("power.source", "ok", "The cable to {who} has a fuse at each end", "", f"{one.id}-fuses", *name, working=working)  # fmt: skip


def _bank(one: ExtraBattery) -> Check:
    name: Quantities = (("who", one.id, ""),)
    after = "Join it only when it is charged; before work discharge it through the same resistor and measure its posts"
    if one.capacitance_f is None:
        return _check(
            "power.precharge", "caution", "No capacitance entered for {who}: what charging it takes cannot be told",
            f"Read it off its label; charge it through a resistor, never by touching the cable to it. {after}", one.id,
            *name, key=f"battery.{one.id}.capacitance",
        )  # fmt: skip
    made = precharge(one.capacitance_f, one.volts, one.precharge_ohm)
    numbers = (
        *name, ("ohm", made.ohm, "ohm"), ("amps", made.peak_a, "A"), ("w", made.peak_w, "W"), ("s", made.seconds, "s"),
        ("joule", f"{made.energy_j:.0f} J", ""),
    )  # fmt: skip
    working = (
        CalculationLine("C", "the bank", one.capacitance_f, "F", "its label"),
        CalculationLine("U", "charged", one.volts, "V"),
        CalculationLine("R", "the resistor", made.ohm, "ohm", "the job" if one.precharge_ohm else "IEC 60063 E6, at most 25 W at first"),
        CalculationLine("U/R", "at the first moment", made.peak_a, "A", "Ohm's law"),
        CalculationLine("5 R C", "to 99 %", made.seconds, "s", "exp(-5) = 0.7 %"),
    )  # fmt: skip
    said = "{who} holds {joule}: through {ohm} it takes {amps} at first and {s} to charge"
    if one.precharge_ohm is None:
        return _check("power.precharge", "caution", said, f"Charge it through {{ohm}} (or a test lamp), {{w}} at first. {after}", one.id, *numbers, key=f"battery.{one.id}.precharge", working=working)  # fmt: skip
    hot = made.peak_w > PEAK_W
    remedy = "A larger resistor, or a lamp: this one takes {w} at first" if hot else after
    return _check("power.precharge", "caution" if hot else "ok", said, remedy, one.id, *numbers, working=working)


def _cut_out(one: ExtraBattery) -> Check:
    """Whether its own electronics (of lead-acid: sense) end the music at rated power."""
    cut = CHEMISTRIES[one.kind].cut_v if one.cut_v is None else one.cut_v
    under = one.volts - one.asked_a * one.ohm
    names: Quantities = (
        ("who", one.id, ""), ("asked", one.asked_a, "A"), ("under", under, "V"), ("cut", cut, "V"), ("most", one.most_a or 0.0, "A"),
    )  # fmt: skip
    working = (
        CalculationLine("U", "at rest", one.volts, "V"),
        CalculationLine("R", "inner resistance", one.ohm, "ohm"),
        CalculationLine("I", "rated, of what hangs on it", one.asked_a, "A"),
        CalculationLine("U - I R", "at its posts then", under, "V", "Ohm's law"),
    )
    verdict: Verdict = "caution"
    key, value = f"battery.{one.id}.cut_out", (under, cut, "V")
    if one.most_a is not None and one.asked_a > one.most_a:
        said = "What hangs on {who} draws {asked} at rated power; its own electronics cut out at {most}"
        remedy = "A battery of more current: when it cuts out everything on it goes dark at once"
        key, value = f"battery.{one.id}.most", (one.asked_a, one.most_a, "A")
    elif under < cut:
        said = "At rated power {who} falls to {under} and cuts out at {cut}"
        remedy = "A battery of less resistance, or less power"
    else:
        verdict, said, remedy, key = "ok", "At rated power {who} keeps {under} and cuts out at {cut}", "", ""
    return _check(
        "power.source", verdict, said, remedy, f"{one.id}-cut-out", *names, working=working, value=value, key=key
    )


def _charge(one: ExtraBattery) -> Check:
    verdict: Verdict = "ok"
    remedy, key = "", f"battery.{one.id}.charged_through"
    if not one.joined:
        verdict, said = "caution", "Not entered yet: what charges {who}, and what joins it to the starter battery"
        remedy = "An isolator or a charger between them (charged_through)"
    elif one.kind == "lithium" and one.joined in ("cable", "isolator"):
        verdict, said = (
            "stop",
            "{who} is lithium and hangs on the alternator with no charger of its own: nothing limits its current",
        )
        remedy = "A charger with a profile for lithium between them ([[converter]], charged_through)"
    elif one.kind == "lithium":
        key = f"battery.{one.id}.cold_stop"
        profile = one.lithium_charger is True or one.joined == "own charger"
        lacking = [] if profile else ["that its charger has a profile for lithium"]
        lacking += [] if one.cold_stop else ["that it is not charged below 0 degC"]
        if one.cold_stop is False:
            verdict, said = (
                "stop",
                "{who} is lithium and would be charged below 0 degC: that ruins it and can set it on fire later",
            )
            remedy = "A charger or electronics that stop below 0 degC (cold_stop)"
        elif one.lithium_charger is False or lacking:
            verdict = "stop" if one.lithium_charger is False else "caution"
            said = "{who} is lithium; not entered yet: " + (" nor ".join(lacking) or "which charger it has")
            remedy = "Read both in the sheets of battery and charger"
        else:
            said = "{who} has a charger for lithium that stops in the cold"
    elif one.joined == "cable":
        verdict, said = "caution", "{who} is joined to the starter battery for good: music empties both"
        remedy = "An isolator, a relay that opens with the ignition, or a charger between them"
    else:
        said = "Music on {who} leaves the starter battery charged"
    return _check(
        "power.source", verdict, said, remedy, f"{one.id}-charge", ("who", one.id, ""), key=key if remedy else ""
    )


def _place(one: ExtraBattery) -> Check:
    inside = one.place in ("cabin", "cargo")
    gas = inside and one.kind != "lithium"
    wanted = {"strapped": one.strapped}
    if gas:
        wanted |= {"vented outside": one.vented, "boxed": one.boxed}
        wanted |= {"sealed": one.sealed} if one.kind == "lead-acid" else {}
    wrong = [words for words, so in wanted.items() if so is False]
    unsaid = [words for words, so in wanted.items() if so is None]
    verdict: Verdict = "stop"
    if one.kind == "lithium" and one.place == "hood" and not one.hood_allowed:
        said = "{who} is lithium and sits under the hood; that its maker allows it is not entered yet"
        remedy = "Move it out of the heat, or enter hood_allowed once its sheet says so"
    elif wrong:
        said = "{who} is not " + " and not ".join(wrong)
        said += ": it gives off hydrogen into the cabin when it is charged" if gas else ": it flies in a crash"
        remedy = (
            "A sealed one in a closed box that is vented outside, strapped to the body"
            if gas
            else "Strap it to the body"
        )
    elif unsaid:
        verdict, said = "caution", "Not entered yet whether {who} is " + ", ".join(unsaid)
        remedy = "Look at it, and enter it"
    else:
        verdict, said, remedy = "ok", "{who} sits as it should", ""
    key = f"battery.{one.id}.place" if remedy else ""
    return _check("power.source", verdict, said, remedy, f"{one.id}-place", ("who", one.id, ""), key=key)


def converter_checks(one: ExtraConverter) -> tuple[Check, ...]:
    """A converter: what it is fed, what it is asked for, its fuses."""
    name: Quantities = (
        ("who", one.id, ""), ("fed", one.fed_v, "V"), ("takes", one.input_v, "V"), ("limit", one.limit_a, "A"), ("asked", one.asked_a or 0.0, "A"),
    )  # fmt: skip
    key = f"converter.{one.id}"
    found = []
    if not 0.75 * one.input_v <= one.fed_v <= 1.4 * one.input_v:
        found.append(_check(
            "power.voltage", "stop", "{who} takes {takes} and is fed {fed}", "A converter for what feeds it", one.id,
            *name, key=f"{key}.input",
        ))  # fmt: skip
    if one.asked_a is not None and one.asked_a > one.limit_a:
        found.append(
            _check(
                "power.source", "caution", "{who} gives {limit} at the most, and what hangs on it draws {asked} at rated power: it shuts down",
                "A converter of more current, or a battery at its output that gives the peaks", f"{one.id}-limit", *name,
                key=f"{key}.current", value=(one.asked_a, one.limit_a, "A"),
            )
        )  # fmt: skip
    lacking = [words for words, amps in (("input", one.input_fuse_a), ("output", one.output_fuse_a)) if amps is None]
    if lacking:
        # a battery at its output drives a short in the cable between them, whatever the converter's own limit
        burns = one.output_fuse_a is None and bool(one.charges)
        found.append(_check(
            "power.source", "stop" if burns else "caution", "No fuse entered at {who}'s " + " and ".join(lacking),
            "Fit one at its input and one at its output", f"{one.id}-fuses", *name, key=f"{key}.fuse",
        ))  # fmt: skip
    if not found:
        found.append(_check("power.source", "ok", "{who} is fused at both ends and gives up to {limit}", "", one.id, *name))  # fmt: skip
    return tuple(found)


def voltage_check(
    load: str, most_v: float, rest_v: float, span_v: tuple[float, float] | None, converter: str = ""
) -> Check:
    """What a device stands against what feeds it: the most of it, and the source at rest. `converter`: what feeds it
    has that id, "" for a battery."""
    low, high = span_v or USUAL_SPAN_V
    numbers: Quantities = (
        ("load", load, ""), ("most", most_v, "V"), ("rest", rest_v, "V"), ("low", low, "V"), ("high", high, "V"),
    )  # fmt: skip
    taken = "" if span_v is not None else " (usual; its own is not entered)"
    working = (
        CalculationLine("U", "the most that feeds it", most_v, "V"),
        CalculationLine("U0", "the source at rest", rest_v, "V"),
        CalculationLine("U1, U2", f"it stands {low:g} to {high:g} V", None, "V", PRACTICE if span_v is None else "its sheet"),
    )  # fmt: skip
    verdict: Verdict = "ok"
    value = (most_v, high, "V")
    said, remedy = "{load} stands {low} to {high}" + taken + " and gets {rest} to {most}", ""
    if most_v > high:
        verdict, said = "stop", "{load} gets up to {most} and stands {high}" + taken + ": it is destroyed at once"
        remedy = (
            "A converter to its own voltage in its feed, fused at its input and at its output ([[converter]]); never 12 V from one of "
            "two batteries. If its sheet says that it stands more, enter `voltage`"
        )
    elif rest_v < low:
        verdict, value = "caution", (rest_v, low, "V")
        said = "{load} needs {low}" + taken + ", and its source rests at {rest}: it shuts down"
        remedy = "A source of its own voltage"
    return _check("power.voltage", verdict, said, remedy, "", *numbers, key="voltage", working=working, value=value)


def joined_check(battery: str, rest_v: float, main_v: float) -> Check | None:
    """Two batteries joined by a cable or an isolator have one voltage; None where they have."""
    if 0.75 * main_v <= rest_v <= 1.33 * main_v:
        return None
    return _check(
        "power.voltage", "stop", "{who} rests at {own} and is joined to a supply of {main} with nothing that converts between them",
        "A charger from {main} to its voltage between them ([[converter]], charged_through), fused at both ends", battery,
        ("who", battery, ""), ("own", rest_v, "V"), ("main", main_v, "V"), key=f"battery.{battery}.charged_through",
    )  # fmt: skip


def half_check(load: str) -> Check:
    """12 V taken from one of the two batteries of a 24 V vehicle."""
    return _check(
        "power.voltage", "stop", "{load} takes 12 V from one of two batteries in series: the one boils while the other starves",
        "A converter from 24 V to 12 V across both, fused at its input and at its output ([[converter]])", "half", ("load", load, ""),
        key="half",
    )  # fmt: skip


def hinge_check(
    cable: str, hinge: Literal["door", "tailgate"], fine_strand: bool | None, guarded: bool | None, fused: bool
) -> Check:
    """A supply cable through a hinge: through no door's; a tailgate's bends it at every opening."""
    states = (("of fine strands", fine_strand), ("in a gaiter with slack", guarded))
    wrong = [words for words, so in states if so is False] + ([] if fused else ["behind a fuse of its own"])
    unsaid = [words for words, so in states if so is None]
    verdict: Verdict = "stop"
    if hinge == "door":
        said = (
            "The supply cable to {cable} runs through a door's hinge: it will chafe through beside the airbag's wires"
        )
        remedy = "Put the device into the body; only signal and speaker wires go into a door"
    elif wrong:
        said = "The supply cable to {cable} runs through the tailgate's hinge and is not " + " and not ".join(wrong)
        remedy = "Fine strands (IEC 60228 class 6 or finer), a gaiter or sleeve with slack, and a fuse of its own before the hinge"
    elif unsaid:
        verdict, remedy = "caution", "Look at it, and enter fine_strand and guarded of its feed"
        said = (
            "The supply cable to {cable} runs through the tailgate's hinge; not entered yet that it is "
            + " and ".join(unsaid)
        )
    else:
        verdict, said, remedy = "ok", "The supply cable to {cable} is made for the tailgate's hinge", ""
    return _check("power.hinge", verdict, said, remedy, "", ("cable", cable, ""), key="feed.hinge" if remedy else "")
