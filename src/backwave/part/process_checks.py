"""What material, process and place say about a part: the printer's bed, sheet layers, heat, water, laser.

Limits that are common trade practice say so.  What a print takes is estimated as solid all through (walls and 100 %
filling), as a ring that shall not ring is printed; its time knows no travel, no acceleration, no supports.
Millimeters, degrees Celsius."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, hypot, pi

from backwave.errors import BuildError, InputError
from backwave.finding import PRACTICE, CalculationLine, Check, Message, Verdict, check_of
from backwave.part.features import marks
from backwave.part.flat_patterns import sheet_layers
from backwave.part.types import AdapterSpec, Material, Printer, SheetStock, Zone

SOLID_WALLS = 6
CREEP_MARGIN_K = 15.0  # K; a deflection temperature is a short test and says nothing about creep
HEAT_SOURCES = (
    "ISO 75-2, method B (0.45 MPa): deflection temperature, a short-term bending test",
    "Vanos, Middel, Poletti, Selover 2018, Temperature 5(3):276-292: dashboard 69 degC after an hour of sun",
    "Grundstein, Meentemeyer, Dowd 2009, Int J Biometeorol 53:255-261: cabin air up to 76 degC",
)


def making_checks(spec: AdapterSpec, material: Material, how: Printer | SheetStock, zone: Zone) -> tuple[Check, ...]:
    """Every check of how and of what the part is made, and of where it lives. `spec`, mm; `zone`, degC."""
    if isinstance(how, Printer):
        made = [_bed(spec, how), _overhang(spec), *_layers(spec, how), _walls(spec, how)]
    else:
        made = [*_sheet(spec, how), *_laser(material, how)]
    return (*made, *_lettering(spec), *_heat(material, zone), *_water(material, how, zone))


def _layers(spec: AdapterSpec, printer: Printer) -> list[Check]:
    """Faces that matter stand at whole layers; a slicer rounds the others, and the seat height with them."""
    found = []
    for words, z in (("front face", spec.thickness_mm), ("seat", spec.seat_z_mm))[: 1 + (spec.recess_mm > 0.0)]:
        count = (z - printer.first_layer_mm) / printer.layer_mm
        off = abs(count - round(count)) * printer.layer_mm
        if off < 1e-6:
            continue
        about = (("face", words, ""), ("off", off, "mm"), ("layer", printer.layer_mm, "mm"), ("z", z, "mm"))
        found.append(check_of(
            "part.print", "caution", "The {face}, at {z}, will come out {off} off: it is not at a whole layer",
            "Choose a height of whole layers of {layer}", about, (off, 0.0, "mm"),
            (
                CalculationLine("z", f"{words} above the back face", z, "mm"),
                CalculationLine("t0", "first layer", printer.first_layer_mm, "mm"),
                CalculationLine("t", "layer", printer.layer_mm, "mm"),
                CalculationLine("n", "layers = 1 + (z - t0) / t", 1.0 + count, ""),
            ),
            (), part="layers" if words == "front face" else "layers-seat",
        ))  # fmt: skip
    return found


def _walls(spec: AdapterSpec, printer: Printer) -> Check:
    """Six solid walls make a ring that does not ring (common trade practice); what they leave is filled."""
    widest = max(hypot(x, y) for x, y in spec.outline.points(0.1)) - spec.bore_mm
    solid = ceil(widest / (2.0 * printer.line_mm) - 1e-9)
    wanted = min(SOLID_WALLS, solid)
    about = (("walls", f"{printer.walls}", ""), ("solid", f"{solid}", ""), ("widest", widest, "mm"))
    verdict: Verdict = "caution" if printer.walls < wanted else "ok"
    title = "{walls} walls and 100 % filling make it solid; {solid} walls would do alone"
    if printer.walls >= solid:
        title = "{walls} walls make it solid all through"
    elif verdict != "ok":
        title = "A ring of {walls} walls is hollow and resonates"
    remedy = "" if verdict == "ok" else "Print it with 6 walls or more, and 100 % filling"
    return check_of(
        "part.print", verdict, title, remedy, about, (float(printer.walls), float(wanted), ""),
        (
            CalculationLine("w", "widest wall in plan", widest, "mm"),
            CalculationLine("b", "width of a line", printer.line_mm, "mm"),
            CalculationLine("n", "walls that alone fill it = w / 2 b, rounded up", float(solid), ""),
        ),
        part="walls",
    )  # fmt: skip


def _bed(spec: AdapterSpec, printer: Printer) -> Check:
    """Square to the bed, as drawn or a quarter turn round; askew is not tried."""
    x0, y0, x1, y1 = spec.outline.bounds_mm
    grow = 1.0 + printer.shrinkage
    low = -spec.spigot.length_mm if spec.spigot is not None and spec.keeps_spigot else 0.0
    wide, high, tall = (x1 - x0) * grow, (y1 - y0) * grow, (spec.top_mm - low) * grow
    size, bed = sorted((wide, high)), sorted(printer.bed_mm[:2])
    # The dimension that has least to spare is the one that is judged.
    value, limit = min(((size[0], bed[0]), (size[1], bed[1]), (tall, printer.bed_mm[2])), key=lambda p: p[1] - p[0])
    about = tuple(
        (name, mm, "mm") for name, mm in zip(("x", "y", "z", "bx", "by", "bz"), (wide, high, tall, *printer.bed_mm))
    )
    fits = value <= limit + 0.05  # as the two are shown: a bed is not known by less
    title = "The part is {x} by {y} by {z}; the printer takes {bx} by {by} by {bz}"
    remedy = "Use a larger printer, or cut it from sheet; a part is not split yet"
    if not printer.bed_entered:
        title = "The part is {x} by {y} by {z}; no printer is entered, and a common one takes {bx} by {by} by {bz}"
        remedy = "Enter what your printer takes: printer.bed = [width, depth, height]; or cut the part from sheet"
    working = (
        CalculationLine("x", "width as printed", wide, "mm"),
        CalculationLine("y", "height in the cabin's view, as printed", high, "mm"),
        CalculationLine("z", "thickness over all, as printed", tall, "mm"),
        CalculationLine("s", "shrinkage made up for", printer.shrinkage, ""),
    )
    return Check(
        "part.bed", "ok" if fits else "stop" if printer.bed_entered else "caution",
        Message("The part, {x} by {y} by {z}, fits the printer's bed" if fits else title, about),
        value, limit, "mm", remedy=None if fits else Message(remedy), working=working,
        key="" if fits or printer.bed_entered else "printer.bed",
    )  # fmt: skip


def _overhang(spec: AdapterSpec) -> Check:
    """Which face goes down; the relief leans 45 degrees, which prints without support (common trade practice)."""
    behind, remedy = spec.keeps_spigot, None
    verdict: Verdict = "ok"
    title = "Print it front face down" if behind else "Print it back face down"
    if behind and spec.collar is not None:
        verdict, title = "caution", "The flange hangs over whichever face goes down: spigot behind, collar in front"
        remedy = Message("Print it with supports, or leave one of the two out")
    elif behind and spec.recess_mm > 0.0:
        title += "; the recessed seat bridges: support it"
    elif not behind and any(t.kind == "nut" for t in spec.threads):
        title += "; the ceilings of the nut pockets bridge"
    return Check("part.print", verdict, Message(title), remedy=remedy, sources=(PRACTICE,), part="overhang")


def _lettering(spec: AdapterSpec) -> list[Check]:
    try:
        left = marks(spec).left_out
    except BuildError:
        return []  # said by the checks of the shape
    if not left:
        return []
    what, remedy = (("what", ", ".join(left), ""),), "Write it on with a paint pen: left and right are easily mixed up"
    return [check_of("part.print", "caution", "No room to engrave: {what}", remedy, what, sources=(), part="lettering")]


def _sheet(spec: AdapterSpec, sheet: SheetStock) -> list[Check]:
    total = sum(sheet.layers_mm)
    layers = " + ".join(f"{t:g}" for t in sheet.layers_mm) + " mm" if sheet.layers_mm else "none"
    quantities = (("layers", layers, ""), ("total", total, "mm"), ("wanted", spec.thickness_mm, "mm"))
    working = tuple(
        CalculationLine(f"t{k}", "a layer, from the back", t, "mm") for k, t in enumerate(sheet.layers_mm, 1)
    )
    verdict: Verdict = "stop"
    title = Message("The layers, {layers}, make {total}; the part is to be {wanted}", quantities)
    remedy: Message | None = Message("Choose layers that add up, or let the thickness follow the sheet on hand")
    if abs(total - spec.thickness_mm) <= 1e-6:
        try:
            sheet_layers(spec, sheet)
        except InputError as fault:
            title = Message("It cannot be cut in layers of {layers}: {why}", (*quantities, ("why", str(fault), "")))
            remedy = Message("Choose other layers, or move the cut to one of their faces")
        except BuildError:
            return []  # said by the checks of the shape
        else:
            verdict, title, remedy = "ok", Message("Layers of {layers} make {total}", quantities), None
    return [Check("part.sheet", verdict, title, total, spec.thickness_mm, "mm", remedy=remedy, working=working)]


def _laser(material: Material, sheet: SheetStock) -> list[Check]:
    if not material.laser_unsafe:
        return []
    about = (("material", material.name, ""), ("why", material.laser_unsafe, ""))
    remedy = "Saw or mill it, and write that on the drawing if somebody else cuts it"
    verdict: Verdict = "stop" if sheet.cutter == "laser" else "caution"
    sources = (material.source,) if material.source else ()
    return [check_of("part.laser", verdict, "{material} must not be laser cut: {why}", remedy, about, sources=sources)]


def _heat(material: Material, zone: Zone) -> list[Check]:
    if material.hdt_degc is None:
        return []
    wanted, spare = zone.service_degc + CREEP_MARGIN_K, material.hdt_degc - zone.service_degc
    quantities = (
        ("material", material.name, ""), ("hdt", material.hdt_degc, "degC"), ("zone", zone.name, ""),
        ("service", zone.service_degc, "degC"), ("wanted", wanted, "degC"),
    )  # fmt: skip
    verdict: Verdict = "stop" if spare < 0.0 else "caution" if spare < CREEP_MARGIN_K else "ok"
    remedy = {
        "stop": "Use a material that holds {wanted}", "ok": "",
        "caution": "Use metal inserts and washers, or a material that holds {wanted}",
    }[verdict]  # fmt: skip
    return [check_of(
        "part.heat", verdict, "{material} softens at {hdt}; {zone} reaches {service}", remedy, quantities,
        (material.hdt_degc, wanted, "degC"),
        (
            CalculationLine("T_d", f"{material.name} deflects at, low end", material.hdt_degc, "degC", material.source),
            CalculationLine("T_s", f"how hot it gets: {zone.name}", zone.service_degc, "degC", zone.source),
            CalculationLine("dT", "to spare = T_d - T_s", spare, "K"),
            CalculationLine("dT_want", "wanted against creep under screws", CREEP_MARGIN_K, "K", PRACTICE),
        ),
        HEAT_SOURCES,
    )]  # fmt: skip


def _water(material: Material, how: Printer | SheetStock, zone: Zone) -> list[Check]:
    if not zone.wet:
        return []
    verdict: Verdict = "ok"
    remedy = ""
    if isinstance(how, Printer):
        title = "A print's layers draw water: keep a gasket on both faces"
    elif not material.swells:
        title = "{material} may get wet"
    elif how.sealed:
        verdict, title = "caution", "{material} swells wherever its seal is broken"
        remedy = "Seal every hole after drilling, and look at it when the trim is next off"
    else:
        verdict, title = "stop", "{material} swells on the wet side of the door"
        remedy = "Seal it all over, holes included, or use another material"
    return [check_of("part.water", verdict, title, remedy, (("material", material.name, ""),))]


MODEL = "time = start + layers x time per layer + volume / flow; an estimate"


@dataclass(frozen=True)
class PrintEstimate:
    """What a print takes."""

    layers: int  # how many
    mass_kg: float
    filament_m: float
    time_s: float
    solid_walls: int  # lines side by side, all round, that alone fill the widest wall
    working: tuple[CalculationLine, ...]  # every number that went in


def layer_count(height_mm: float, printer: Printer) -> int:
    """Layers to a height, the last one counted whole."""
    if not height_mm > 0.0:
        raise InputError("height of a print", height_mm, "more than 0 mm")
    return 1 + max(0, ceil((height_mm - printer.first_layer_mm) / printer.layer_mm - 1e-6))


def print_estimate(
    volume_mm3: float, height_mm: float, material: Material, printer: Printer, widest_mm: float = 0.0
) -> PrintEstimate:
    """Layers, mass, filament and time of a print. `volume_mm3`: volume of the solid as drawn; shrinkage is made up for
    in what is laid down, not in what it weighs cold; `widest_mm`: widest wall of the part in plan; 0: not known."""
    mass = volume_mm3 * 1e-9 * material.density_kg_m3
    layers = layer_count(height_mm * (1.0 + printer.shrinkage), printer)
    area = pi * printer.filament_mm**2 / 4.0
    # What is weighed cold was laid down: the same plastic, whatever it shrank by.
    filament = volume_mm3 / area / 1e3
    seconds = printer.start_s + layers * printer.layer_s + volume_mm3 / printer.flow_mm3_s
    walls = max(printer.walls, ceil(widest_mm / (2.0 * printer.line_mm) - 1e-9))
    working = (
        CalculationLine("V", "volume of the solid", volume_mm3, "mm3"),
        CalculationLine("rho", f"density of {material.name}", material.density_kg_m3, "kg/m3", material.source),
        CalculationLine("m", "mass = V rho", mass, "kg"),
        CalculationLine("d", "diameter of the filament", printer.filament_mm, "mm"),
        CalculationLine("L", "length of filament = V / (pi d^2 / 4)", filament, "m"),
        CalculationLine("n", "layers", float(layers), ""),
        CalculationLine("t0", "before the first layer", printer.start_s, "s", PRACTICE),
        CalculationLine("t1", "lost at each layer", printer.layer_s, "s", PRACTICE),
        CalculationLine("q", "plastic laid down, on average", printer.flow_mm3_s, "mm3/s", PRACTICE),
        CalculationLine("t", "time, an estimate = t0 + n t1 + V / q", seconds, "s", MODEL),
    )
    return PrintEstimate(layers, mass, filament, seconds, walls, working)
