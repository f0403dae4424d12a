"""Of a harness: leads of the supply against their fuses, what turns a source on, colors that mean danger, the hinge's boot.

A boot's fill, (D_loom^2 + n d^2) / D_bore^2, stands against 40 %, what the National Electrical Code, chapter 9, table 1,
lets more than two conductors fill of a conduit.  A boot is no conduit: it flexes at every opening of the door, and what
chafes there breaks, so the figure is taken as the most, and a try with the wires themselves outranks it.  Vehicle maker's
information first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from backwave.errors import InputError, check_number
from backwave.finding import PRACTICE, CalculationLine, Check, Verdict, check_of
from backwave.notation.wires import THEIRS
from backwave.power.cable import AMBIENT_DEGC, INSULATION_DEGC, sizes_of
from backwave.power.harness import Harness, Lead, Wire
from backwave.power.heat import ampacity_a
from backwave.stock import ConductorRow, Stock, shipped

_TURN_ON = ("turn-on", "remote")
_WARNING = {"YE": f"yellow, the color of {THEIRS['YE']}", "OG": f"orange, the color of {THEIRS['OG']}"}


def check_leads(harness: Harness, stock: Stock) -> list[Check]:
    """What is wrong with fuses, sizes and colors of a harness's wires."""
    found = [*_turn_on(harness), *_fuses(harness), *_below_plan(harness)]
    return [*found, *_thin(_as_planned(harness), stock), *_colors(harness)]


def wire_check(code: str, verdict: Verdict, words: str, remedy: str, part: str, **names: str) -> Check:
    """A check of the harness, with names in its words."""
    quantities = tuple((name, value, "") for name, value in names.items())
    return check_of(code, verdict, words, remedy, quantities, key="wire", part=part)


def stands_a(area_mm2: float, stock: Stock | None = None) -> float:
    """What a plain copper wire stands under common insulation: the nearest standard size not above it, A. At 70 degC
    insulation in 60 degC air, alone; 0 below the least standard size."""
    stock = stock or shipped()
    rows = [row for row in sizes_of(stock) if row.area_mm2 <= area_mm2 * 1.01]
    if not rows:
        return 0.0
    row = max(rows, key=lambda r: r.area_mm2)
    copper = stock.named(ConductorRow)["copper"]
    return float(
        ampacity_a(INSULATION_DEGC, row.mohm_m / 1e3, copper.rise_per_k, row.conductor_mm, row.outer_mm, AMBIENT_DEGC)
    )


def _by_lead(harness: Harness) -> list[tuple[Lead, Wire]]:
    """Each lead with the wire that joins its two pins."""
    wires = {frozenset((w.from_pin, w.to_pin)): w for w in harness.wires}
    ends = [(lead, frozenset((f"{lead.from_device}.{lead.from_pin}", f"{lead.to_device}.{lead.to_pin}"))) for lead in harness.leads]  # fmt: skip
    return [(lead, wires[pins]) for lead, pins in ends if pins in wires]


def _as_planned(harness: Harness) -> list[Wire]:
    """Every wire; one thinner than its lead was planned is not rated what that was, and a ground lies behind its device's fuse."""
    feeds = {n.to_device: n for n in harness.leads if n.to_pin == "supply"}
    thinner = {wire.id for _, wire in _thinner(harness)}
    rated: dict[str, Wire] = {}
    for lead, wire in _by_lead(harness):
        stands, behind = None if wire.id in thinner else wire.stands_a, wire.behind_a
        feed = feeds.get(lead.from_device) if lead.from_pin == "ground" else None
        if feed is not None:
            behind = behind or feed.fuse_a
            if stands is None and None not in (wire.area_mm2, feed.area_mm2) and wire.id not in thinner:
                stands = feed.stands_a if wire.area_mm2 >= feed.area_mm2 else None  # type: ignore[operator]  # not None
        rated[wire.id] = replace(wire, stands_a=stands, behind_a=behind)
    return [rated.get(w.id, w) for w in harness.wires]


def _thinner(harness: Harness) -> list[tuple[Lead, Wire]]:
    both = [(lead, wire) for lead, wire in _by_lead(harness) if None not in (lead.area_mm2, wire.area_mm2)]
    return [(lead, wire) for lead, wire in both if (wire.area_mm2 or 0.0) < 0.99 * (lead.area_mm2 or 0.0)]


def _below_plan(harness: Harness) -> list[Check]:
    """Said of a lead thinner than planned, whatever its fuse: its drop was worked out with the planned one."""
    found = []
    for lead, wire in _thinner(harness):
        numbers = (("wire", wire.id, ""), ("is", wire.area_mm2 or 0.0, "size"), ("plan", lead.area_mm2 or 0.0, "size"))
        found.append(check_of(
            "wire.plan", "caution", "Wire {wire} is {is}, thinner than the {plan} of the plan",
            "Take {plan}, or enter what is there as its size", numbers, (wire.area_mm2, lead.area_mm2, "mm2"),
            key="wire", part=wire.id,
        ))  # fmt: skip
    return found


def _fuses(harness: Harness) -> list[Check]:
    """A fuse that the plan has at the head of a lead, and that its wire has not."""
    return [
        wire_check(
            "wire.fuse", "stop", "The plan has a fuse at the head of {wire}; the wire has none", "Fit it before anything is switched on",
            wire.id, wire=wire.id,
        )
        for lead, wire in _by_lead(harness)
        if lead.fuse_a is not None and (wire.fuse_a is None or wire.fuse_a > lead.fuse_a * 1.001)
    ]  # fmt: skip


def _turn_on(harness: Harness) -> list[Check]:
    """A source that is fed and that nothing turns on."""
    sources = {d.id for d in harness.devices if d.kind == "source"}
    turned = {lead.to_device for lead in harness.leads if lead.to_pin in _TURN_ON}
    fed = {lead.to_device for lead in harness.leads if lead.to_pin == "supply" and lead.turn_on == "lead"}
    return [
        wire_check(
            "wire.turn-on", "caution", "Nothing turns {name} on: it stays silent, or on until the battery is empty",
            "A turn-on lead from what plays, fused small", f"{name} turn-on", name=name,
        )
        for name in sorted((fed & sources) - turned)
    ]  # fmt: skip


def _colors(harness: Harness) -> list[Check]:
    """Colors that mean danger, and two contacts of one plug or speaker that nobody can tell apart."""
    found = [
        wire_check(
            "wire.color", "caution", "Wire {wire} is {color}", "Make sure that it is not one of those; take another color for a new wire",
            wire.id, wire=wire.id, color=_WARNING[wire.color.base],
        )
        for wire in harness.wires
        if wire.color is not None and wire.color.base in _WARNING
    ]  # fmt: skip
    ends: dict[tuple[str, str], list[Wire]] = {}
    pairs = {d.id for d in harness.devices if d.kind in ("connector", "speaker")}
    for wire in harness.wires:
        for pin in (wire.from_pin, wire.to_pin):
            device, _, contact = pin.rpartition(".")
            if wire.color is not None and device in pairs:
                ends.setdefault((device, f"{contact.partition(' ')[2]} {wire.color.code}"), []).append(wire)
    for (device, what), wires in sorted(ends.items()):
        color = what.rpartition(" ")[2]
        if len(wires) > 1 and _one_pair(harness, device, wires):
            found.append(
                wire_check(
                    "wire.color", "caution", "Two wires at {device} are {color}: {wires}; they do not tell plus from minus",
                    "Read both colors again, base and stripe; mark the two", f"{device} {color}", device=device, color=color,
                    wires=", ".join(w.id for w in wires),
                )
            )  # fmt: skip
    return found


def _one_pair(harness: Harness, device: str, wires: Sequence[Wire]) -> bool:
    """Two of them are the two poles of one route, or of one speaker."""
    pins = {p for w in wires for p in (w.from_pin, w.to_pin) if p.rpartition(".")[0] == device}
    for route in harness.routes:
        ends = [{f"{device}.{pole}"} for pole in "+-"] if route.speaker == device else []
        for plug in (route.path.first_plug, route.path.last_plug):
            if plug is not None and plug.id == device:
                ends = [{f"{device}.{c} {end}" for end in ("in", "out")} for c in (plug.plus, plug.minus)]
        if len(ends) == 2 and all(end & pins for end in ends):
            return True
    return False


def _thin(wires: Sequence[Wire], stock: Stock) -> list[Check]:
    """Wires that the least fuse before them would let burn."""
    held = {w.id: min(a for a in (w.fuse_a, w.behind_a) if a is not None) for w in wires if (w.fuse_a, w.behind_a) != (None, None)}  # fmt: skip
    fused = [w for w in wires if w.id in held and not (w.area_mm2 is None and w.stands_a is None)]
    areas = {w.area_mm2: stands_a(w.area_mm2, stock) for w in fused if w.stands_a is None and w.area_mm2 is not None}
    found = []
    for wire in fused:
        stands = wire.stands_a if wire.stands_a is not None else areas[wire.area_mm2]  # type: ignore[index]  # not None
        if stands >= held[wire.id]:
            continue
        numbers = (("wire", wire.id, ""), ("stands", stands, "A"), ("fuse", held[wire.id], "A"))
        found.append(check_of(
            "wire.thin", "stop", "Wire {wire} is rated {stands} behind a fuse of {fuse}: it would burn before the fuse blows",
            "A thicker wire, or a fuse below {stands} at its head", numbers, (stands, held[wire.id], "A"),
            (
                CalculationLine("A", "cross section", wire.area_mm2, "mm2", "size of the wire"),
                CalculationLine("I", "heats it to what its insulation stands", stands, "A", "heat balance of an insulated cable"),
            ),
            ("IEC 60364-4-43: rated current of the fuse at most that of the cable (from memory)",), key="wire", part=wire.id,
        ))  # fmt: skip
    found += [
        wire_check(
            "wire.thin", "caution", "No size entered yet for wire {wire}, and it has a fuse", "Read its size off the jacket",
            w.id, wire=w.id,
        )
        for w in wires if w.id in held and w.area_mm2 is None and w.stands_a is None
    ]  # fmt: skip
    return found


FILL = 0.40  # share of the bore that may be filled (NEC chapter 9, table 1, over two conductors)
_LEAVE = "What is in it stays untouched: lines of airbags and sensors run through it"


def boot_check(
    wires: int, wire_mm: float, bore_mm: float | None = None, loom_mm: float | None = None, room: int | None = None
) -> Check:
    """New wires through one boot. `wires`: how many new ones, 0 or more; `bore_mm`: inner diameter of the boot where it
    is narrowest; None where nobody measured it; `loom_mm`: diameter of what runs through it; None where nobody measured
    it; `room`: how many went through when it was tried; outranks the rest; InputError: A number outside its range, or a
    loom no boot could hold."""
    for what, value in (
        ("wires through the boot", wires),
        ("loom through the boot, mm", loom_mm),
        ("room in the boot", room),
    ):
        check_number(what, value, 0)
    check_number("wire through the boot, mm", wire_mm)
    check_number("bore of the boot, mm", bore_mm)
    if bore_mm is not None and loom_mm is not None and loom_mm > bore_mm:
        raise InputError("loom through the boot, mm", loom_mm, f"at most its bore, {bore_mm:g} mm")
    fill = None if bore_mm is None or loom_mm is None else (loom_mm**2 + wires * wire_mm**2) / bore_mm**2
    numbers = (
        ("n", f"{wires}", ""), ("d", wire_mm, "mm"), ("room", f"{room}", ""), ("fill", 100 * (fill or 0.0), "%"),
        ("most", 100 * FILL, "%"),
    )  # fmt: skip

    def found(right: bool, said: str, remedy: str, value: float | None = None) -> Check:
        working = () if value is None else (
            CalculationLine("D", "bore", bore_mm, "mm", "reading"), CalculationLine("D0", "loom", loom_mm, "mm", "reading"),
            CalculationLine("d", "each new wire", wire_mm, "mm", "size"), CalculationLine("(D0^2 + n d^2)/D^2", "fill", value, ""),
        )  # fmt: skip
        return check_of(
            "wire.boot", "ok" if right else "caution", said, "" if right else f"{remedy}. {_LEAVE}", numbers,
            (value, None if value is None else FILL, ""), working,
            ("NEC chapter 9, table 1: 40 % for more than two conductors", PRACTICE), key="boot",
        )  # fmt: skip

    if not wires:
        return found(True, "No new wire goes through the boot", "")
    if room is not None:
        said = "{n} new wires through the boot; {room} went through when it was tried"
        return found(wires <= room, said, "Feed them by the vehicle's own wires, or thinner pairs")
    if bore_mm is None or loom_mm is None or fill is None:
        lacking = " and ".join(n for n, v in (("bore", bore_mm), ("loom", loom_mm)) if v is None)
        said = "{n} new wires of {d} go through a rubber gaiter that is not measured yet: " + lacking
        return found(False, said, "Pull the boot off one side and measure it, or try the wires")
    fits = loom_mm + wire_mm <= bore_mm
    said = "{n} new wires of {d} fill the boot to {fill}; {most} is what lets it flex"
    if not fits:
        said = "Not one wire of {d} goes through the boot beside its loom"
    return found(
        fits and fill <= FILL, said, "Feed them by the vehicle's own wires, take thinner pairs, or try it", fill
    )
